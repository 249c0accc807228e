using System;
using System.Collections.Generic;
using System.Linq;
using Faultodds;

/// <summary>Many cases of one model at once.</summary>
public sealed class Batches
{
    private static readonly string[] Outcomes = { "none", "slow", "fast" };

    private static List<Case> Cases(Model model, int count)
    {
        var cases = new List<Case>();
        for (int i = 0; i < count; ++i)
        {
            Case work = model.OpenCase();
            work.Observe("drift/cylinder/retract", Outcomes[i % 3]);
            if (i % 2 == 1) work.Observe("static/section.a", i % 4 == 1 ? "held" : "would_not_build");
            cases.Add(work);
        }
        return cases;
    }

    [Behaviour]
    public void TogetherAsOneByOneToTheBit()
    {
        using (var model = new Model(Documents.Lift))
        {
            foreach (int threads in new[] { 1, 3 })
            {
                List<Case> together = Cases(model, 30), alone = Cases(model, 30);
                Case.AssessAll(together, threads);
                for (int i = 0; i < alone.Count; ++i)
                {
                    alone[i].Assess();
                    Check.Same(alone[i].LogEvidence(), together[i].LogEvidence(), "log evidence");
                    var expected = alone[i].Posteriors();
                    var got = together[i].Posteriors();
                    foreach (string mode in model.Modes)
                        Check.That(expected[mode].SequenceEqual(got[mode]), mode);
                    Check.Same(alone[i].Answer().Json, together[i].Answer().Json, "answer");
                }
            }
            Case.AssessAll(new List<Case>());
        }
    }

    [Behaviour]
    public void TheFirstThatCannotBeAssessedIsToldAndTheOthersAreAssessed()
    {
        using (var model = new Model(Documents.Lift))
        {
            List<Case> cases = Cases(model, 3);
            cases[1].ObserveLikelihood("static/section.a", 0, 0, 1);
            cases[1].ObserveLikelihood("static/section.a", 1, 0, 0);
            var told = Check.Throws<FaultoddsException>(() => Case.AssessAll(cases), "conflict");
            Check.Same("conflicting_evidence", told.Code, "code");
            Check.That(told.Pointer.StartsWith("/cases/1", StringComparison.Ordinal), told.Pointer);
            Check.That(cases[2].LogEvidence() <= 0, "the third is assessed");
            Check.Throws<FaultoddsException>(() => cases[1].LogEvidence(), "the second is not");
        }
    }

    [Behaviour]
    public void OneCaseTwiceAndADisposedOneAreRefused()
    {
        using (var model = new Model(Documents.Lift))
        {
            List<Case> cases = Cases(model, 2);
            var told = Check.Throws<FaultoddsException>(() => Case.AssessAll(new[] { cases[0], cases[0] }), "twice");
            Check.Same("invalid_argument", told.Code, "code");
            Check.Throws<ArgumentOutOfRangeException>(() => Case.AssessAll(cases, 0), "threads");
            cases[1].Dispose();
            Check.Throws<ObjectDisposedException>(() => Case.AssessAll(cases), "disposed");
            cases[0].Assess();
        }
    }
}

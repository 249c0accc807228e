using System;
using System.Collections.Generic;
using System.Globalization;
using System.IO;
using System.Linq;
using System.Threading;
using Faultodds;

public sealed class Models
{
    [Behaviour]
    public void TheLibraryTellsItsVersion()
    {
        Check.Same(Environment.GetEnvironmentVariable("FAULTODDS_VERSION"), Engine.Version, "version");
    }

    [Behaviour]
    public void AModelNamesItsModesObservationsAndOutcomes()
    {
        using (var model = new Model(Documents.Lift))
        {
            Check.That(model.Modes.Contains("cap_relief.seat_leak"), "modes");
            Check.That(model.Observations.Contains("static/section.a"), "observations");
            Check.Same("none slow fast", string.Join(" ", model.Outcomes("drift/cylinder/retract")), "outcomes");
            Check.That(model.Describe().Contains("faultodds-model/1"), "describe");
            var told = Check.Throws<FaultoddsException>(() => model.Outcomes("drift/nowhere"), "outcomes");
            Check.Same("invalid_argument", told.Code, "code");
        }
    }

    [Behaviour]
    public void ANoteSaysTheCautionsBeforeTheTest()
    {
        using (var model = new Model(Documents.Lift))
        {
            string note = model.Note(Documents.Drifts);
            Check.That(
                note.IndexOf("Lock out and tag out", StringComparison.Ordinal)
                    < note.IndexOf("Next test", StringComparison.Ordinal),
                note);
            Check.That(model.NoteHtml(Documents.Drifts).StartsWith("<!DOCTYPE html>"), "page");
        }
    }

    [Behaviour]
    public void WordsOfAComplaintProposeSymptomsThatTheCircuitHas()
    {
        using (var model = new Model(File.ReadAllText(Path.Combine(Documents.Root, "examples/refuse_truck/circuit.json"))))
        {
            Proposal first = model.Propose("the arm comes down by itself between houses")[0];
            Check.Same("drift/arm_cylinder/retract slow", first.Observation + " " + first.Outcome, "first");
            Check.That(first.Because.Contains("by itself"), "because");
            Check.Same("drift/arm_cylinder/retract", model.Propose("der Arm sinkt", "de")[0].Observation, "German");
            Check.That(model.Propose("radio dead").Count == 0, "nothing fits");
            var told = Check.Throws<FaultoddsException>(() => model.Propose("arm", "tlh"), "no such language");
            Check.Same("invalid_argument", told.Code, "code");
        }
    }

    [Behaviour]
    public void WhatAScreenNeedsIsTypedAndHasTheCautionsOfTheWholeAnswer()
    {
        using (var model = new Model(Documents.Lift))
        {
            Assessment whole = model.Assess(Documents.Drifts);
            Assessment screen = model.Assess(Documents.Drifts.Replace("\"detail\":\"full\",", ""));
            Check.That(screen.Json.Contains("\"detail\":\"screen\""), screen.Json);
            for (int i = 0; i < screen.Tests.Count; ++i)
            {
                Test test = screen.Tests[i], same = whole.Tests[i];
                Check.Same(same.Title, test.Title, "title");
                Check.Same(string.Join("|", same.Cautions), string.Join("|", test.Cautions), test.Title);
                Check.Same(same.Because, test.Because, test.Title);
                Check.That(test.InformationBits == null && same.InformationBits != null, "bits");
            }
            Check.Same(whole.Tests[screen.Tests.Count].Title, screen.FurtherTests[0].Title, "further");
            Check.Same(whole.Advice.Reason, screen.Advice.Reason, "reason");
            Check.That(screen.Faults.Count < whole.Faults.Count, "faults");
            Check.That(screen.LogEvidence == null && screen.Withheld.Count == 0, "only in the whole");
        }
    }

    [Behaviour]
    public void APlanBeginsWithTheTestOfTheAdviceAndItsCardWithTheCautions()
    {
        using (var model = new Model(Documents.Lift))
        {
            Plan plan = model.Plan(Documents.Drifts);
            PlanNode first = plan.Tree;
            Check.Same(model.Assess(Documents.Drifts).Advice.Test, first.Test, "first test");
            Check.That(first.Cautions.Count >= 6, "cautions");
            Check.That(first.Branches.Any(branch => branch.Then != null), "branches");
            string card = model.PlanCard(Documents.Drifts);
            Check.That(
                card.IndexOf("Lock out and tag out", StringComparison.Ordinal)
                    < card.IndexOf("<svg", StringComparison.Ordinal),
                card);
        }
    }

    [Behaviour]
    public void AClosedWorkOrderIsARecordAndRowsToLearnFrom()
    {
        using (var model = new Model(Documents.Lift))
        {
            Check.That(model.Record(Documents.Drifts, Documents.Closed).Contains("faultodds-record/1"), "record");
            string rows = model.RecordRows(Documents.Drifts, Documents.Closed);
            Check.That(rows.Contains("cap_relief") && rows.Contains("seat_leak"), rows);
            string headed = model.RecordRows(Documents.Drifts, Documents.Closed, header: true);
            Check.That(headed.Length > rows.Length && headed.EndsWith(rows), headed);
            var told = Check.Throws<FaultoddsException>(
                () => model.Record(Documents.Drifts, Documents.Closed.Replace("cap_relief", "teapot")), "component");
            Check.Same("/found/0/component", told.Pointer, "pointer");
        }
    }

    [Behaviour]
    public void ADisposedModelRefusesAndMayBeDisposedOfAgain()
    {
        var model = new Model(Documents.Lift);
        model.Dispose();
        model.Dispose();
        Check.Throws<ObjectDisposedException>(() => model.Assess(Documents.Drifts), "assess");
        Check.Throws<ObjectDisposedException>(() => model.OpenCase(), "open a case");
        Check.Throws<ObjectDisposedException>(() => Check.That(model.Modes.Count > 0, "modes"), "modes");
    }

    [Behaviour]
    public void ARefusedCircuitThrowsFromTheConstructor()
    {
        var told = Check.Throws<FaultoddsException>(() => new Model("{\"format\":\"faultodds-circuit/1\"}"), "circuit");
        Check.Same("invalid_document", told.Code, "code");
        Check.That(told.Message.StartsWith("invalid_document: "), told.Message);
        Check.Throws<ArgumentNullException>(() => new Model(null), "no circuit");
    }

    [Behaviour]
    public void AMemoryBudgetThatIsTooSmallIsAnnounced()
    {
        var told = Check.Throws<FaultoddsException>(
            () =>
            {
                using (var model = new Model(Documents.Lift, memoryBudget: 1)) model.Assess(Documents.Drifts);
            },
            "budget");
        Check.Same("limit_exceeded", told.Code, "code");
    }

    [Behaviour]
    public void AnAssetClassChoosesAmongThePriors()
    {
        const string priors = "{\"format\":\"faultodds-priors/1\",\"id\":\"p\",\"title\":\"p\",\"modes\":["
            + "{\"type\":\"port_relief\",\"mode\":\"seat_leak\",\"asset_class\":\"old\","
            + "\"grades\":[0.5,0.3,0.2],\"method\":\"judgement\"}]}";
        using (var old = new Model(Documents.Lift, priors, "old"))
        using (var any = new Model(Documents.Lift, priors))
        {
            Check.That(Math.Abs(SeatLeakSound(old) - 0.5) < 1e-12, "of the class");
            Check.That(SeatLeakSound(any) > 0.8, "of no class");
        }
    }

    private static double SeatLeakSound(Model model)
    {
        return model.Assess(Documents.Case()).Faults.Single(fault => fault.Mode == "cap_relief.seat_leak").Grades.Sound;
    }

    [Behaviour]
    public void TextOfAnyLanguageComesThroughAndWhatIsNoUnicodeIsRefused()
    {
        const string title = "Hubzylinder – 缸 🛢";
        string titled = Documents.Lift.Replace("\"id\": \"cylinder\"", "\"id\": \"cylinder\", \"title\": \"" + title + "\"");
        using (var model = new Model(titled))
        {
            Check.That(model.Describe().Contains(title), "title");
            Check.Throws<ArgumentException>(() => model.Assess("\ud800"), "surrogate");
        }
    }

    [Behaviour]
    public void NumbersAreReadUnderAnyCulture()
    {
        var before = Thread.CurrentThread.CurrentCulture;
        try
        {
            Thread.CurrentThread.CurrentCulture = new CultureInfo("de-DE");
            Check.That(Engine.Assess(Documents.Lift, Documents.Drifts).LogEvidence > -10, "log evidence");
        }
        finally
        {
            Thread.CurrentThread.CurrentCulture = before;
        }
    }

    [Behaviour]
    public void ManyThreadsShareOneModel()
    {
        using (var model = new Model(Documents.Lift))
        {
            string expected = model.Assess(Documents.Drifts).Json;
            int same = 0;
            Together(4, () =>
            {
                for (int i = 0; i < 50; ++i)
                    if (model.Assess(Documents.Drifts).Json == expected) Interlocked.Increment(ref same);
            });
            Check.Same(200, same, "answers");
        }
    }

    [Behaviour]
    public void DisposingLeavesCallsOfOtherThreadsToFinish()
    {
        var model = new Model(Documents.Lift);
        int started = 0, stopped = 0;
        var threads = Enumerable.Range(0, 3).Select(_ => new Thread(() =>
        {
            try
            {
                for (int i = 0; i < 10000; ++i)
                {
                    if (model.Assess(Documents.Drifts).LogEvidence > 0) return;
                    Interlocked.Increment(ref started);
                }
            }
            catch (ObjectDisposedException)
            {
                Interlocked.Increment(ref stopped);
            }
        })).ToList();
        threads.ForEach(thread => thread.Start());
        while (Volatile.Read(ref started) == 0) Thread.Sleep(1);
        model.Dispose();
        threads.ForEach(thread => thread.Join());
        Check.Same(3, stopped, "threads that were told");
    }

    internal static void Together(int count, Action work)
    {
        Exception problem = null;
        var threads = Enumerable.Range(0, count).Select(_ => new Thread(() =>
        {
            try
            {
                work();
            }
            catch (Exception thrown)
            {
                problem = thrown;
            }
        })).ToList();
        threads.ForEach(thread => thread.Start());
        threads.ForEach(thread => thread.Join());
        if (problem != null) throw problem;
    }
}

public sealed class Cases
{
    [Behaviour]
    public void ACaseOutlivesItsModel()
    {
        var model = new Model(Documents.Lift);
        using (var theCase = model.OpenCase())
        {
            model.Dispose();
            theCase.Observe("drift/cylinder/retract", "fast");
            theCase.Assess();
            Check.That(theCase.LogEvidence() < 0, "log evidence");
            Check.That(theCase.ErrorBound() == 0, "exact");
        }
    }

    [Behaviour]
    public void ADisposedCaseRefusesAndMayBeDisposedOfAgain()
    {
        using (var model = new Model(Documents.Lift))
        {
            var theCase = model.OpenCase();
            theCase.Dispose();
            theCase.Dispose();
            Check.Throws<ObjectDisposedException>(theCase.Assess, "assess");
        }
    }

    [Behaviour]
    public void ResultsAreRefusedUntilTheCaseIsAssessed()
    {
        using (var model = new Model(Documents.Lift))
        using (var theCase = model.OpenCase())
        {
            var told = Check.Throws<FaultoddsException>(() => theCase.Posteriors(), "posteriors");
            Check.Same("invalid_argument", told.Code, "code");
            theCase.Assess();
            theCase.Observe("drift/cylinder/retract", "fast");
            Check.Throws<FaultoddsException>(() => theCase.Answer(), "answer");
        }
    }

    [Behaviour]
    public void NamesAreQuotedAndNotTakenAsJson()
    {
        using (var model = new Model(Documents.Lift))
        using (var theCase = model.OpenCase())
        {
            var told = Check.Throws<FaultoddsException>(
                () => theCase.Observe("drift/cylinder/retract", "fast\",\"note\":\"\\\u0001"), "outcome");
            Check.Same("invalid_case", told.Code, "code");
        }
    }

    [Behaviour]
    public void ThreadsThatShareACaseTakeTurns()
    {
        using (var model = new Model(Documents.Lift))
        using (var theCase = model.OpenCase())
        {
            theCase.Observe("drift/cylinder/retract", "fast");
            theCase.Assess();
            double expected = theCase.Posteriors()["cap_relief.seat_leak"][0];
            int same = 0;
            Models.Together(4, () =>
            {
                for (int i = 0; i < 100; ++i)
                {
                    theCase.Assess();
                    if (theCase.Posteriors()["cap_relief.seat_leak"][0] == expected) Interlocked.Increment(ref same);
                }
            });
            Check.Same(400, same, "answers");
        }
    }
}

public sealed class Lifetime
{
    private const string Held = "{\"format\":\"faultodds-case/1\",\"advice\":false,\"observations\":"
        + "[{\"observation\":\"static/ram.cap\",\"outcome\":\"held\"}]}";

    // Bytes of memory this process has now.
    private static long Resident()
    {
        GC.Collect();
        GC.WaitForPendingFinalizers();
        GC.Collect();
        return 4096 * long.Parse(File.ReadAllText("/proc/self/statm").Split(' ')[1]);
    }

    private static void FiveCalls(Model model)
    {
        model.Assess(Held);
        try
        {
            model.Assess("{}");
        }
        catch (FaultoddsException)
        {
            // As it must be; its error object is what is tested here.
        }
        using (var theCase = model.OpenCase())
        {
            theCase.Observe("static/ram.cap", "bled_down");
            theCase.Assess();
            theCase.Posteriors();
        }
    }

    [Behaviour]
    public void AHundredThousandCallsLeaveNothingBehind()
    {
        using (var model = new Model(Documents.Ram))
        {
            for (int i = 0; i < 2000; ++i) FiveCalls(model);
            long before = Resident();
            for (int i = 0; i < 20000; ++i) FiveCalls(model);
            long grown = Resident() - before;
            Check.That(grown < 4 << 20, "grew by " + grown + " bytes");
        }
    }

    [Behaviour]
    public void ModelsAreFreedWithAndWithoutDispose()
    {
        for (int i = 0; i < 100; ++i) Forget();
        long before = Resident();
        for (int i = 0; i < 1000; ++i)
        {
            Forget();
            if (i % 100 == 99) Resident(); // the collector does not see how large a model is
        }
        long grown = Resident() - before;
        Check.That(grown < 4 << 20, "grew by " + grown + " bytes");
    }

    private static void Forget()
    {
        new Model(Documents.Lift).Dispose();
        new Model(Documents.Lift).OpenCase();
    }
}

using System;
using System.Collections.Generic;
using System.Linq;
using Faultodds;

/// <summary>The binding answers tests/vectors/assessments.json and refuses the bad documents.</summary>
public sealed class Vectors
{
    private static readonly Dictionary<string, object> Table =
        Json.Object(Json.Parse(Documents.Read("tests/vectors/assessments.json")));

    private static readonly double Tolerance = (double)Table["tolerance"];

    private static List<Dictionary<string, object>> With(params string[] keys)
    {
        var vectors = Json.List(Table["vectors"]).Select(Json.Object)
            .Where(vector => keys.All(vector.ContainsKey)).ToList();
        Check.That(vectors.Count > 5, "vectors were found");
        return vectors;
    }

    private static string Name(Dictionary<string, object> vector)
    {
        return (string)vector["name"];
    }

    private static string Circuit(Dictionary<string, object> vector)
    {
        return Documents.Read((string)vector["circuit"]);
    }

    private static string CaseOf(Dictionary<string, object> vector)
    {
        return Documents.Write(vector["case"]);
    }

    private static void Agree(string place, object expected, object actual)
    {
        if (expected is Dictionary<string, object>)
        {
            var got = Json.Object(actual);
            foreach (var member in Json.Object(expected))
            {
                if (member.Key == "among")
                {
                    foreach (var list in Json.Object(member.Value))
                        EachFound(place + "/" + list.Key, Json.List(list.Value), Json.List(got[list.Key]));
                    continue;
                }
                Check.That(got.ContainsKey(member.Key), place + "/" + member.Key + " is missing");
                Agree(place + "/" + member.Key, member.Value, got[member.Key]);
            }
        }
        else if (expected is List<object>)
        {
            var wanted = Json.List(expected);
            var got = Json.List(actual);
            Check.Same(wanted.Count, got.Count, place);
            if (wanted.All(item => NameOf(item) != null) && wanted.Select(NameOf).Distinct().Count() == wanted.Count)
            {
                EachFound(place, wanted, got);
                return;
            }
            for (int i = 0; i < wanted.Count; ++i) Agree(place + "/" + i, wanted[i], got[i]);
        }
        else if (expected is double)
        {
            double wanted = (double)expected;
            Check.That(
                actual is double && Math.Abs(wanted - (double)actual) <= Tolerance * Math.Max(1, Math.Abs(wanted)),
                place + ": expected " + wanted + ", got " + actual);
        }
        else
        {
            Check.Same(expected, actual, place);
        }
    }

    // What an item of a list is found by, whatever its place; null if it has no name.
    private static object NameOf(object item)
    {
        var members = item as Dictionary<string, object>;
        object name = null;
        if (members == null || members.TryGetValue("mode", out name) || members.TryGetValue("observation", out name))
            return name;
        return members.TryGetValue("components", out name) ? string.Join(" ", Json.List(name)) : null;
    }

    private static void EachFound(string place, List<object> expected, List<object> actual)
    {
        foreach (var item in expected)
        {
            object name = NameOf(item), found = actual.FirstOrDefault(other => name.Equals(NameOf(other)));
            Check.That(found != null, place + "/" + name + " is missing");
            Agree(place + "/" + name, item, found);
        }
    }

    private static void AgreeOnCauses(string place, Dictionary<string, object> expected, IReadOnlyList<Causes> actual)
    {
        var wanted = Json.List(expected["causes"]);
        Check.Same(wanted.Count, actual.Count, place);
        for (int i = 0; i < wanted.Count; ++i) Agree(place + "/causes/" + i, wanted[i], Written(actual[i]));
    }

    // In the document's form.
    private static Dictionary<string, object> Written(Causes of)
    {
        var shares = of.Shares.Select(share => (object)new Dictionary<string, object>
        {
            { "components", share.Components.Cast<object>().ToList() },
            { "probability", share.Probability },
        });
        return new Dictionary<string, object>
        {
            { "observation", of.Observation },
            { "shares", shares.ToList() },
            { "by_design", of.ByDesign },
            { "elsewhere", of.Elsewhere },
            { "nothing", of.Nothing },
        };
    }

    private static void Tell(Case theCase, object happened)
    {
        var told = Json.Object(happened);
        if (told.ContainsKey("retract")) { theCase.Retract((string)told["retract"]); return; }
        if (told.ContainsKey("setup_done")) { theCase.SetupDone((string)told["setup_done"]); return; }
        var entry = Json.Object(told["observe"]);
        if (entry.ContainsKey("outcome"))
        {
            theCase.Observe((string)entry["observation"], (string)entry["outcome"]);
        }
        else if (entry.ContainsKey("likelihood"))
        {
            var grades = Json.List(entry["likelihood"]).Cast<double>().ToArray();
            theCase.ObserveLikelihood((string)entry["observation"], grades[0], grades[1], grades[2]);
        }
        else if (entry.ContainsKey("repaired"))
        {
            theCase.Repaired(Json.List(entry["repaired"]).Cast<string>().ToArray());
        }
        else
        {
            theCase.ObserveEntry(Documents.Write(entry));
        }
    }

    [Behaviour]
    public void TheOneCallAndAModelGiveWhatIsExpected()
    {
        foreach (var vector in With("expected"))
        {
            using (var model = new Model(Circuit(vector)))
            {
                Agree(Name(vector), vector["expected"], Json.Parse(Engine.Assess(Circuit(vector), CaseOf(vector)).Json));
                Agree(Name(vector), vector["expected"], Json.Parse(model.Assess(CaseOf(vector)).Json));
            }
        }
    }

    [Behaviour]
    public void TheTypedAnswerSaysWhatTheDocumentSays()
    {
        foreach (var vector in With("expected"))
        {
            var expected = Json.Object(vector["expected"]);
            if (!expected.ContainsKey("faults")) continue; // a large one, of which only a part is given
            var answer = Engine.Assess(Circuit(vector), CaseOf(vector));
            Agree(Name(vector), expected["log_evidence"], answer.LogEvidence);
            Agree(Name(vector), expected["complaint"], answer.Complaint.Cast<object>().ToList());
            AgreeOnCauses(Name(vector), expected, answer.Causes);
            var faults = Json.List(expected["faults"]).Select(Json.Object).ToList();
            Check.Same(faults.Count, answer.Faults.Count, Name(vector));
            foreach (var wanted in faults)
            {
                var fault = answer.Faults.Single(f => f.Mode == (string)wanted["mode"]);
                Agree(fault.Mode, wanted["grades"], new List<object> { fault.Grades.Sound, fault.Grades.Worn, fault.Grades.Failed });
                Agree(fault.Mode, wanted["posterior_odds"], fault.PosteriorOdds);
            }
            var tests = Json.List(expected["tests"]).Select(Json.Object).ToList();
            Check.Same(tests.Count, answer.Tests.Count, Name(vector));
            foreach (var wanted in tests)
            {
                var test = answer.Tests.Single(t => t.Observation == (string)wanted["observation"]);
                Agree(test.Observation, wanted["probability"],
                    test.Probability.ToDictionary(pair => pair.Key, pair => (object)pair.Value));
                Agree(test.Observation, wanted["minutes"], test.Minutes);
                Agree(test.Observation, wanted["suspects"], test.Suspects.Cast<object>().ToList());
                Check.Same(wanted["test_pressure"], test.TestPressure, test.Observation);
                Check.That(test.Cautions.Count >= 6, test.Observation + " has its cautions");
            }
            Check.Same(expected.ContainsKey("advice"), answer.Advice != null, Name(vector));
            if (answer.Advice == null) continue;
            var advice = Json.Object(expected["advice"]);
            if (advice.Count == 0) continue;
            Check.Same(advice["stop"], answer.Advice.Stop, Name(vector));
            Agree(Name(vector), Json.Object(advice["repair"])["components"],
                answer.Advice.Repair.Components.Cast<object>().ToList());
        }
    }

    // In the document's form.
    private static List<object> Written(IEnumerable<Step> steps)
    {
        return steps.Select(step =>
        {
            var written = new Dictionary<string, object>
            {
                { "id", step.Id },
                { "title", step.Title },
                { "minutes", step.Minutes },
            };
            if (step.At.Count > 0) written.Add("at", step.At.Cast<object>().ToList());
            if (step.PastLeak.Count > 0) written.Add("past_leak", step.PastLeak.Cast<object>().ToList());
            return (object)written;
        }).ToList();
    }

    // Without what is not there.
    private static Dictionary<string, object> Written(params object[] members)
    {
        var written = new Dictionary<string, object>();
        for (int i = 0; i < members.Length; i += 2)
        {
            if (members[i + 1] != null) written.Add((string)members[i], members[i + 1]);
        }
        return written;
    }

    [Behaviour]
    public void TheTypedAnswerSaysWhatMayBePressedAndWhatNotAndWhy()
    {
        int limits = 0, unknown = 0, withheld = 0, ends = 0, rated = 0;
        foreach (string machine in new[]
            { "examples/refuse_truck/circuit.json", "examples/veneer_press/circuit.json", "tests/bindings/lift.json" })
        {
            var answer = Engine.Assess(
                Documents.Read(machine),
                "{\"format\": \"faultodds-case/1\", \"detail\": \"full\", \"observations\": []}");
            var document = Json.Object(Json.Parse(answer.Json));
            var tests = Json.List(document["tests"]).Select(Json.Object).ToList();
            Check.Same(tests.Count, answer.Tests.Count, machine);
            for (int i = 0; i < tests.Count; ++i)
            {
                var wanted = tests[i];
                var test = answer.Tests[i];
                string place = machine + " " + test.Observation;
                Agree(place, wanted["setup"], Written(test.Setup));
                Agree(place, wanted["steps"], Written(test.Steps));
                Agree(place, wanted["afterwards"], Written(test.Afterwards));
                ends += test.Afterwards.Count;
                Check.Same(wanted["pressure_limit"] == null, test.PressureLimit == null, place);
                if (test.PressureLimit != null)
                {
                    ++limits;
                    Agree(place, wanted["pressure_limit"], Written(
                        "volume", test.PressureLimit.Volume, "by", test.PressureLimit.By,
                        "part", test.PressureLimit.Part, "stands", test.PressureLimit.Stands,
                        "factor", test.PressureLimit.Factor, "suspect", test.PressureLimit.Suspect,
                        "why", test.PressureLimit.Why));
                }
                Check.Same(wanted["no_pressure"] == null, test.NoPressure == null, place);
                if (test.NoPressure != null)
                {
                    ++unknown;
                    Agree(place, wanted["no_pressure"], Written(
                        "reason", test.NoPressure.Reason, "volume", test.NoPressure.Volume,
                        "part", test.NoPressure.Part, "why", test.NoPressure.Why));
                }
                var bring = Json.List(wanted["bring"]).Select(Json.Object).ToList();
                for (int k = 0; k < bring.Count; ++k)
                {
                    Check.Same(
                        bring[k].ContainsKey("rated_for") ? bring[k]["rated_for"] : null, test.Bring[k].RatedFor,
                        place);
                    if (test.Bring[k].RatedFor != null) ++rated;
                }
            }
            var holds = Json.List(document["withheld"]);
            Check.Same(holds.Count, answer.Withheld.Count, machine);
            for (int i = 0; i < holds.Count; ++i)
            {
                ++withheld;
                var hold = answer.Withheld[i];
                Agree(machine, holds[i], Written(
                    "observation", hold.Observation, "reason", hold.Reason, "volume", hold.Volume,
                    "part", hold.Part, "why", hold.Why));
            }
        }
        Check.That(
            limits > 0 && unknown > 0 && withheld > 0 && ends > 0 && rated > 0,
            "of each there are some: " + string.Join(", ", limits, unknown, withheld, ends, rated));
    }

    [Behaviour]
    public void AnOpenCaseGivesTheSameFromItsEvents()
    {
        foreach (var vector in With("expected", "events"))
        {
            var expected = Json.Object(vector["expected"]);
            using (var model = new Model(Circuit(vector)))
            using (var theCase = model.OpenCase())
            {
                foreach (var happened in Json.List(vector["events"])) Tell(theCase, happened);
                theCase.Assess();
                Agree(Name(vector), expected, Json.Parse(theCase.Answer().Json));
                Agree(Name(vector), expected["log_evidence"], theCase.LogEvidence());
                var grades = theCase.Posteriors();
                foreach (var fault in Json.List(expected["faults"]).Select(Json.Object))
                    Agree((string)fault["mode"], fault["grades"],
                        grades[(string)fault["mode"]].Cast<object>().ToList());
                // A second look at the complaint is advice; the ranking is of what was not made yet.
                var tests = Json.List(expected["tests"]).Select(Json.Object)
                    .Where(test => !test.ContainsKey("again")).ToList();
                var ranking = theCase.Tests();
                Check.Same(tests.Count, ranking.Count, Name(vector));
                var answer = theCase.Answer();
                string first = answer.Advice == null ? null : answer.Advice.Test;
                Check.Same(
                    string.Join(" ", answer.Tests.Select(test => test.Observation)
                        .Where(id => ranking.Any(test => test.Observation == id))),
                    string.Join(" ", ranking.Select(test => test.Observation).OrderBy(id => id != first)), Name(vector));
                AgreeOnCauses(Name(vector), expected, theCase.Causes());
                foreach (var wanted in tests)
                {
                    var test = ranking.Single(t => t.Observation == (string)wanted["observation"]);
                    Check.Same(wanted["energised"], test.Energised, Name(vector));
                    Agree("bits", wanted["information_bits"], test.InformationBits);
                    Agree("bits", wanted["cause_bits"], test.CauseBits);
                    Agree("minutes", wanted["minutes"], test.Minutes);
                    Agree("rate", wanted["bits_per_minute"], test.BitsPerMinute);
                }
            }
        }
    }

    [Behaviour]
    public void WhatIsRefusedIsRefusedWithCodePlaceAndWords()
    {
        foreach (var vector in With("refusal"))
        {
            var refusal = Json.Object(vector["refusal"]);
            using (var model = new Model(Circuit(vector)))
            {
                var told = Check.Throws<FaultoddsException>(() => model.Assess(CaseOf(vector)), Name(vector));
                Check.Same(refusal["code"], told.Code, Name(vector));
                Check.Same(refusal["pointer"], told.Pointer, Name(vector));
                Check.That(told.Sentence.Contains((string)refusal["message"]), told.Sentence);
                told = Check.Throws<FaultoddsException>(
                    () => Engine.Assess(Circuit(vector), CaseOf(vector)), Name(vector));
                Check.Same("/case" + refusal["pointer"], told.Pointer, Name(vector));
                if (!refusal.ContainsKey("event_code")) continue;
                using (var theCase = model.OpenCase())
                {
                    told = Check.Throws<FaultoddsException>(
                        () =>
                        {
                            foreach (var happened in Json.List(vector["events"])) Tell(theCase, happened);
                            theCase.Assess();
                        },
                        Name(vector));
                    Check.Same(refusal["event_code"], told.Code, Name(vector));
                }
            }
        }
    }

    [Behaviour]
    public void EveryBadDocumentIsRefusedWithItsCodeItsPlaceAndItsWords()
    {
        string table = System.IO.File.ReadAllText(Environment.GetEnvironmentVariable("FAULTODDS_BAD_DOCUMENTS"));
        var entries = Json.List(Json.Parse(table)).Select(Json.Object).ToList();
        Check.That(entries.Count > 50, "bad documents were found");
        foreach (var entry in entries)
        {
            string name = (string)entry["name"];
            var told = Check.Throws<FaultoddsException>(
                () => Engine.Assess((string)entry["circuit"], (string)entry["case"], (string)entry["priors"]), name);
            Check.Same(entry["code"], told.Code, name);
            if (entry["pointer"] != null) Check.Same(entry["pointer"], told.Pointer, name);
            foreach (string words in Json.List(entry["message"]))
                Check.That(told.Sentence.Contains(words), name + ": " + told.Sentence);
        }
    }
}

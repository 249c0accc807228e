using System;
using System.Collections.Generic;
using System.Linq;

namespace Faultodds
{
    /// <summary>An assessment document, "faultodds-assessment/1". What most screens show is typed;
    /// <see cref="Json"/> is the whole of it. A case is answered with what a screen needs: the likeliest causes,
    /// the next tests, others by name; where it says "detail": "full", with everything. What only the whole answer
    /// has is NaN, empty or null in the other.</summary>
    public sealed class Assessment
    {
        internal Assessment(string json)
        {
            var document = new Members(Faultodds.Json.Parse(json));
            Json = json;
            Causes = document.Each("causes", of => new Causes(of));
            LogEvidence = document.NumberIfAny("log_evidence");
            Complaint = document.Texts("complaint");
            Faults = document.Each("faults", fault => new Fault(fault));
            Warnings = document.Texts("warnings");
            Cautions = document.Texts("cautions");
            Tests = document.Each("tests", test => new Test(test, AllCautions(document, test)));
            FurtherTests = document.EachIfAny("further_tests", test => new FurtherTest(test));
            Withheld = document.EachIfAny("withheld", hold => new Withheld(hold));
            NotPossible = document.EachIfAny("not_possible", one => new NotPossible(one));
            Advice = document.Has("advice") ? new Advice(document.Object("advice")) : null;
        }

        // Tests refer to them by id, where they do not bring their own.
        private IReadOnlyList<string> AllCautions(Members document, Members test)
        {
            if (test.Has("cautions"))
            {
                return test.Texts("cautions");
            }
            var further = document.Object("further_cautions");
            return Cautions.Concat(test.Texts("caution_ids").Select(further.Text)).ToList().AsReadOnly();
        }

        /// <summary>The document as the library wrote it.</summary>
        public string Json { get; }

        /// <summary>What is probably behind each abnormal symptom, the complaint first; empty where nothing
        /// abnormal was seen.</summary>
        public IReadOnlyList<Causes> Causes { get; }

        /// <summary>Natural logarithm of the probability (density, for readings) of what was seen; NaN but in the
        /// whole answer.</summary>
        public double LogEvidence { get; }

        /// <summary>The abnormal symptoms, ids of observations.</summary>
        public IReadOnlyList<string> Complaint { get; }

        /// <summary>The likeliest failure modes; in the whole answer every one.</summary>
        public IReadOnlyList<Fault> Faults { get; }

        /// <summary>The tests that can be made next, best first; the one that the advice names comes before all
        /// others. In the whole answer all of them.</summary>
        public IReadOnlyList<Test> Tests { get; }

        /// <summary>What comes after Tests, by name; none in the whole answer.</summary>
        public IReadOnlyList<FurtherTest> FurtherTests { get; }

        /// <summary>The holds that are not among the tests because they may not be made as the circuit stands;
        /// none but in the whole answer.</summary>
        public IReadOnlyList<Withheld> Withheld { get; }

        /// <summary>The tests that the case says cannot be made on this machine.</summary>
        public IReadOnlyList<NotPossible> NotPossible { get; }

        /// <summary>Whether to stop and what to repair; null without a complaint, or where the case asked for
        /// none.</summary>
        public Advice Advice { get; }

        /// <summary>What to know about the readings.</summary>
        public IReadOnlyList<string> Warnings { get; }

        /// <summary>The cautions for all work. Those of a test are in <see cref="Test.Cautions"/>.</summary>
        public IReadOnlyList<string> Cautions { get; }
    }

    /// <summary>Why an observation is as it is. The probabilities of the shares, ByDesign, Elsewhere and Nothing
    /// sum to 1.</summary>
    public sealed class Causes
    {
        internal Causes(Members of)
            : this(
                of.Text("observation"), of.Each("shares", share => new Share(share)), of.Number("by_design"),
                of.Number("elsewhere"), of.Number("nothing"))
        {
        }

        internal Causes(
            string observation, IReadOnlyList<Share> shares, double byDesign, double elsewhere, double nothing)
        {
            Observation = observation;
            Shares = shares;
            ByDesign = byDesign;
            Elsewhere = elsewhere;
            Nothing = nothing;
        }

        /// <summary>Id of the symptom, or of the test that stands for one.</summary>
        public string Observation { get; }

        /// <summary>What can cause it, most probable first.</summary>
        public IReadOnlyList<Share> Shares { get; }

        /// <summary>What leaks although all is sound.</summary>
        public double ByDesign { get; }

        /// <summary>Something that the circuit document does not describe.</summary>
        public double Elsewhere { get; }

        /// <summary>Nothing wrong: a false report.</summary>
        public double Nothing { get; }
    }

    /// <summary>Components that together may be the cause.</summary>
    public sealed class Share
    {
        internal Share(Members share) : this(share.Texts("components"), share.Number("probability"))
        {
        }

        internal Share(IReadOnlyList<string> components, double probability)
        {
            Components = components;
            Probability = probability;
        }

        /// <summary>Ids.</summary>
        public IReadOnlyList<string> Components { get; }

        /// <summary>That they are the cause.</summary>
        public double Probability { get; }
    }

    /// <summary>One failure mode of one component.</summary>
    public sealed class Fault
    {
        internal Fault(Members fault)
        {
            Mode = fault.Text("mode");
            Component = fault.Text("component");
            Code = fault.Text("code") ?? "";
            Title = fault.Text("title");
            var grades = fault.Numbers("grades");
            Sound = grades[0];
            Worn = grades[1];
            Failed = grades[2];
            PriorOdds = fault.Maybe("prior_odds");
            PosteriorOdds = fault.Maybe("posterior_odds");
            Decibans = fault.Maybe("decibans");
        }

        /// <summary>Id, "component.mode".</summary>
        public string Mode { get; }

        /// <summary>Id of the component.</summary>
        public string Component { get; }

        /// <summary>Failure-mode code of ISO 14224; empty but in the whole answer.</summary>
        public string Code { get; }

        /// <summary>What is wrong.</summary>
        public string Title { get; }

        /// <summary>Probability of grade 0.</summary>
        public double Sound { get; }

        /// <summary>Probability of grade 1.</summary>
        public double Worn { get; }

        /// <summary>Probability of grade 2.</summary>
        public double Failed { get; }

        /// <summary>Of not sound, before anything was seen; null where infinite and but in the whole answer.
        /// </summary>
        public double? PriorOdds { get; }

        /// <summary>Of not sound; null where infinite.</summary>
        public double? PosteriorOdds { get; }

        /// <summary>Weight of the evidence; null where infinite or undefined and but in the whole answer.</summary>
        public double? Decibans { get; }
    }

    /// <summary>One test of the ranking. Show its cautions before it.</summary>
    public sealed class Test
    {
        internal Test(Members test, IReadOnlyList<string> cautions)
        {
            Observation = test.Text("observation");
            Title = test.Text("title");
            Kind = test.Text("kind");
            Probability = test.NumbersByName("probability");
            InformationBits = test.NumberIfAny("information_bits");
            CauseBits = test.Number("cause_bits");
            Minutes = test.Number("minutes");
            BitsPerMinute = test.NumberIfAny("bits_per_minute");
            Setup = test.EachIfAny("setup", step => new Step(step));
            Steps = test.Each("steps", step => new Step(step));
            Afterwards = test.Each("afterwards", step => new Step(step));
            TestPressure = test.Text("test_pressure");
            PressureLimit = test.Maybe("pressure_limit", limit => new PressureLimit(limit));
            NoPressure = test.Maybe("no_pressure", why => new NoPressure(why));
            Bring = test.Each("bring", fitting => new Fitting(fitting));
            Energised = test.Flag("energised");
            Cautions = cautions;
            Because = test.Text("because");
            Suspects = test.Texts("suspects");
        }

        /// <summary>Id, under which its result is entered.</summary>
        public string Observation { get; }

        /// <summary>What to do.</summary>
        public string Title { get; }

        /// <summary>static, drift, delivery, flow, symptom or test.</summary>
        public string Kind { get; }

        /// <summary>Of each outcome.</summary>
        public IReadOnlyDictionary<string, double> Probability { get; }

        /// <summary>About all failure modes; NaN but in the whole answer.</summary>
        public double InformationBits { get; }

        /// <summary>About the cause of the complaint.</summary>
        public double CauseBits { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>What the order within a safety class rests on; NaN but in the whole answer.</summary>
        public double BitsPerMinute { get; }

        /// <summary>Steps not yet done that other tests share; none but in the whole answer.</summary>
        public IReadOnlyList<Step> Setup { get; }

        /// <summary>Everything left to do before the test, in order.</summary>
        public IReadOnlyList<Step> Steps { get; }

        /// <summary>What ends the test, in order.</summary>
        public IReadOnlyList<Step> Afterwards { get; }

        /// <summary>Such as "140 bar"; null where it comes from the maker's documents.</summary>
        public string TestPressure { get; }

        /// <summary>What limits the test pressure; null where nothing but the question does.</summary>
        public PressureLimit PressureLimit { get; }

        /// <summary>Why the test pressure is to be had from the maker's documents; null where it is given.
        /// </summary>
        public NoPressure NoPressure { get; }

        /// <summary>Adapters and plugs.</summary>
        public IReadOnlyList<Fitting> Bring { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>All that are to be shown before the test, those for all work first.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>Which suspects it tells apart.</summary>
        public string Because { get; }

        /// <summary>The failure modes that it looks at.</summary>
        public IReadOnlyList<string> Suspects { get; }
    }

    /// <summary>A test by name only.</summary>
    public sealed class FurtherTest
    {
        internal FurtherTest(Members test)
        {
            Observation = test.Text("observation");
            Title = test.Text("title");
            Kind = test.Text("kind");
            Minutes = test.Number("minutes");
            Energised = test.Flag("energised");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>What to do.</summary>
        public string Title { get; }

        /// <summary>As of Test.</summary>
        public string Kind { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }
    }

    /// <summary>What limits the pressure of a hold.</summary>
    public sealed class PressureLimit
    {
        internal PressureLimit(Members limit)
        {
            Volume = limit.Text("volume");
            By = limit.Text("by");
            Part = limit.Text("part");
            Stands = limit.Text("stands");
            Factor = limit.Maybe("factor");
            Suspect = limit.Text("suspect");
            Why = limit.Text("why");
        }

        /// <summary>The volume that stands least.</summary>
        public string Volume { get; }

        /// <summary>What of it: a rating, a relief, ...</summary>
        public string By { get; }

        /// <summary>Component, port, line or function whose limit it is; null where the volume says it.</summary>
        public string Part { get; }

        /// <summary>Such as "140 bar", before any share of it.</summary>
        public string Stands { get; }

        /// <summary>Pressure there per pressure at the port tested; null where it is the same.</summary>
        public double? Factor { get; }

        /// <summary>The failure mode past which it is reached, or null.</summary>
        public string Suspect { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>Why no pressure can be given for a hold.</summary>
    public sealed class NoPressure
    {
        internal NoPressure(Members why)
        {
            Reason = why.Text("reason");
            Volume = why.Text("volume");
            Part = why.Text("part");
            Why = why.Text("why");
        }

        /// <summary>By name.</summary>
        public string Reason { get; }

        /// <summary>The volume of which something is not known.</summary>
        public string Volume { get; }

        /// <summary>The component of which it is not known, if it is another than the volume's, or null.</summary>
        public string Part { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>A hold that is not proposed.</summary>
    public sealed class Withheld
    {
        internal Withheld(Members hold)
        {
            Observation = hold.Text("observation");
            Reason = hold.Text("reason");
            Volume = hold.Text("volume");
            Part = hold.Text("part");
            Why = hold.Text("why");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>By name.</summary>
        public string Reason { get; }

        /// <summary>The volume that it concerns.</summary>
        public string Volume { get; }

        /// <summary>The component that it concerns, if it is another than the volume's, or null.</summary>
        public string Part { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>A test that cannot be made on this machine.</summary>
    public sealed class NotPossible
    {
        internal NotPossible(Members one)
        {
            Observation = one.Text("observation");
            Title = one.Text("title");
            Reason = one.Text("reason");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>What it would be.</summary>
        public string Title { get; }

        /// <summary>As the case says it.</summary>
        public string Reason { get; }
    }

    /// <summary>A step of a test.</summary>
    public sealed class Step
    {
        internal Step(Members step)
        {
            Id = step.Text("id");
            Title = step.Text("title");
            Minutes = step.Has("minutes") ? step.Number("minutes") : 0;
            At = step.Has("at") ? step.Texts("at") : new string[0];
            PastLeak = step.Has("past_leak") ? step.Texts("past_leak") : new string[0];
        }

        /// <summary>For Case.SetupDone.</summary>
        public string Id { get; }

        /// <summary>What to do.</summary>
        public string Title { get; }

        /// <summary>What it takes; 0 where it is of this test alone.</summary>
        public double Minutes { get; }

        /// <summary>The volumes it is about.</summary>
        public IReadOnlyList<string> At { get; }

        /// <summary>Those that are reached only past a leak.</summary>
        public IReadOnlyList<string> PastLeak { get; }
    }

    /// <summary>Something to bring. What the circuit does not say is null.</summary>
    public sealed class Fitting
    {
        internal Fitting(Members fitting)
        {
            What = fitting.Text("what");
            Port = fitting.Text("port");
            Standard = fitting.Text("standard");
            Size = fitting.Text("size");
            RatedFor = fitting.Text("rated_for");
        }

        /// <summary>Adapter, plug, ...</summary>
        public string What { get; }

        /// <summary>Where it goes.</summary>
        public string Port { get; }

        /// <summary>Standard of the port.</summary>
        public string Standard { get; }

        /// <summary>Size of the port.</summary>
        public string Size { get; }

        /// <summary>The least pressure it must be rated for.</summary>
        public string RatedFor { get; }
    }

    /// <summary>Whether to stop testing, and what to repair. The rest of the advice is in Assessment.Json.
    /// </summary>
    public sealed class Advice
    {
        internal Advice(Members advice)
        {
            var repair = advice.Object("repair");
            Stop = advice.Flag("stop");
            Reason = advice.Text("reason");
            Test = advice.Text("test");
            Currency = advice.Text("currency");
            Repair = repair.Texts("components");
            Cost = repair.Number("cost");
            ResidualRisk = repair.Number("residual_risk");
            ExpectedCost = repair.Number("expected_cost");
            Contradiction = advice.Maybe("contradiction", one => new Contradiction(one));
            OwnOrder = advice.Maybe("own_order", own => new OwnOrder(own));
            Later = advice.Maybe("in_time", inTime => inTime.Maybe("later", later => later.Texts("components")));
        }

        /// <summary>Whether no test is worth its cost.</summary>
        public bool Stop { get; }

        /// <summary>Why, in a sentence.</summary>
        public string Reason { get; }

        /// <summary>The test to make; null if none is.</summary>
        public string Test { get; }

        /// <summary>Of the amounts; XXX is none in particular.</summary>
        public string Currency { get; }

        /// <summary>The components to exchange and check, in that order.</summary>
        public IReadOnlyList<string> Repair { get; }

        /// <summary>Of exchanging all of them.</summary>
        public double Cost { get; }

        /// <summary>Probability that the cause of the complaint is elsewhere.</summary>
        public double ResidualRisk { get; }

        /// <summary>Cost, and the risk times that of coming back.</summary>
        public double ExpectedCost { get; }

        /// <summary>The most doubtful finding where what was seen contradicts itself, or null: nothing is ordered
        /// before it was looked at again.</summary>
        public Contradiction Contradiction { get; }

        /// <summary>The technician's own next test where the case says an order, or null.</summary>
        public OwnOrder OwnOrder { get; }

        /// <summary>The best repair without the time limit of the case, where that is another, or null.</summary>
        public IReadOnlyList<string> Later { get; }
    }

    /// <summary>The technician's own next test.</summary>
    public sealed class OwnOrder
    {
        internal OwnOrder(Members own)
        {
            Test = own.Text("test");
            InsteadOf = own.Text("instead_of");
            ExtraCost = own.Number("extra_cost");
        }

        /// <summary>Id.</summary>
        public string Test { get; }

        /// <summary>What would be advised; null: to stop.</summary>
        public string InsteadOf { get; }

        /// <summary>Expected, above that.</summary>
        public double ExtraCost { get; }
    }

    /// <summary>What was seen contradicts itself.</summary>
    public sealed class Contradiction
    {
        internal Contradiction(Members one)
        {
            Observation = one.Text("observation");
            Wrong = one.Number("wrong");
            AnyWrong = one.Number("any_wrong");
        }

        /// <summary>The most doubtful of it, by id.</summary>
        public string Observation { get; }

        /// <summary>Probability that what was seen there is wrong.</summary>
        public double Wrong { get; }

        /// <summary>Probability that some of what was seen is.</summary>
        public double AnyWrong { get; }
    }

    /// <summary>The members of a JSON object, by type.</summary>
    internal sealed class Members
    {
        private readonly Dictionary<string, object> members;

        internal Members(object json)
        {
            members = Json.Object(json);
        }

        internal bool Has(string key)
        {
            return members.ContainsKey(key);
        }

        internal string Text(string key)
        {
            object value;
            return members.TryGetValue(key, out value) ? (string)value : null;
        }

        internal bool Flag(string key)
        {
            return (bool)members[key];
        }

        internal double Number(string key)
        {
            return (double)members[key];
        }

        internal double NumberIfAny(string key)
        {
            return Has(key) ? Number(key) : double.NaN;
        }

        internal double? Maybe(string key)
        {
            object value;
            return members.TryGetValue(key, out value) ? (double?)value : null;
        }

        // Null where the member is.
        internal T Maybe<T>(string key, Func<Members, T> read) where T : class
        {
            object value;
            return members.TryGetValue(key, out value) && value != null ? read(new Members(value)) : null;
        }

        internal Members Object(string key)
        {
            return new Members(members[key]);
        }

        internal IReadOnlyList<double> Numbers(string key)
        {
            return Json.List(members[key]).Cast<double>().ToList().AsReadOnly();
        }

        internal IReadOnlyDictionary<string, double> NumbersByName(string key)
        {
            return Json.Object(members[key]).ToDictionary(pair => pair.Key, pair => (double)pair.Value);
        }

        internal IReadOnlyList<string> Texts(string key)
        {
            return Json.List(members[key]).Cast<string>().ToList().AsReadOnly();
        }

        // None where the member is not there.
        internal IReadOnlyList<T> EachIfAny<T>(string key, Func<Members, T> read)
        {
            return Has(key) ? Each(key, read) : new List<T>().AsReadOnly();
        }

        internal IReadOnlyList<T> Each<T>(string key, Func<Members, T> read)
        {
            return Json.List(members[key]).Select(item => read(new Members(item))).ToList().AsReadOnly();
        }
    }
}

// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.

using System.Collections.Generic;

namespace Faultodds
{
    /// <summary>A sentence as what it is made of: a message of the catalogues (capi/words) and its values.</summary>
    public sealed class Said
    {
        internal Said(Members of)
        {
            Id = of.Text("id");
            Values = of.ByName<object>("values");
        }

        /// <summary>By which it is called.</summary>
        public string Id { get; }

        /// <summary>By the names that the message has for them.</summary>
        public IReadOnlyDictionary<string, object> Values { get; }
    }

    /// <summary>The machine, as the case says it.</summary>
    public sealed class AnsweredAsset
    {
        internal AnsweredAsset(Members of)
        {
            Id = of.Text("id");
            Class = of.Text("class");
            MeterHours = of.NumberIfAny("meter_hours");
            ComponentHours = of.ByName<double>("component_hours");
            SoundAt = of.ByName<double>("sound_at");
        }

        /// <summary>By which it is called; null where there is none.</summary>
        public string Id { get; }

        /// <summary>Class of assets, for priors; null where there is none.</summary>
        public string Class { get; }

        /// <summary>Hours in service; null where there is none.</summary>
        public double? MeterHours { get; }

        /// <summary>By component.</summary>
        public IReadOnlyDictionary<string, double> ComponentHours { get; }

        /// <summary>By component: hours at which it was last seen sound.</summary>
        public IReadOnlyDictionary<string, double> SoundAt { get; }
    }

    /// <summary>Components that together may be the cause.</summary>
    public sealed class Share
    {
        internal Share(Members of)
        {
            Components = of.Texts("components");
            Probability = of.Number("probability");
        }

        /// <summary>Ids.</summary>
        public IReadOnlyList<string> Components { get; }

        /// <summary>Of it.</summary>
        public double Probability { get; }
    }

    /// <summary>Why an observation is as it is; the shares and the numbers beside them sum to 1.</summary>
    public sealed class Causes
    {
        internal Causes(Members of)
        {
            Observation = of.Text("observation");
            Shares = of.Each("shares", one => new Share(one));
            ByDesign = of.Number("by_design");
            Elsewhere = of.Number("elsewhere");
            Nothing = of.Number("nothing");
            Rest = of.NumberIfAny("rest");
        }

        /// <summary>The symptom, or the test that stands for one.</summary>
        public string Observation { get; }

        /// <summary>Most probable first.</summary>
        public IReadOnlyList<Share> Shares { get; }

        /// <summary>What leaks although all is sound.</summary>
        public double ByDesign { get; }

        /// <summary>Something that the circuit document does not describe.</summary>
        public double Elsewhere { get; }

        /// <summary>Nothing wrong: a false report.</summary>
        public double Nothing { get; }

        /// <summary>Those that are not listed; null where there is none.</summary>
        public double? Rest { get; }
    }

    /// <summary>One failure mode of one component.</summary>
    public sealed class Fault
    {
        internal Fault(Members of)
        {
            Mode = of.Text("mode");
            Component = of.Text("component");
            Title = of.Text("title");
            Grades = of.Grades("grades");
            PosteriorOdds = of.NumberIfAny("posterior_odds");
            Code = of.Text("code");
            PriorOdds = of.NumberIfAny("prior_odds");
            Decibans = of.NumberIfAny("decibans");
        }

        /// <summary>Component.mode.</summary>
        public string Mode { get; }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>Probabilities of sound, worn and failed.</summary>
        public Grades Grades { get; }

        /// <summary>Odds of not sound; null where infinite.</summary>
        public double? PosteriorOdds { get; }

        /// <summary>Of ISO 14224; null where there is none.</summary>
        public string Code { get; }

        /// <summary>Odds of not sound before anything was seen; null where infinite.</summary>
        public double? PriorOdds { get; }

        /// <summary>Weight of the evidence; null where infinite or undefined.</summary>
        public double? Decibans { get; }
    }

    /// <summary>A step of a test.</summary>
    public sealed class Step
    {
        internal Step(Members of)
        {
            Id = of.Text("id");
            Title = of.Text("title");
            Minutes = of.NumberIfAny("minutes");
            At = of.Texts("at");
            PastLeak = of.Texts("past_leak");
        }

        /// <summary>By which it is called.</summary>
        public string Id { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>Where other tests share it; null where there is none.</summary>
        public double? Minutes { get; }

        /// <summary>The volumes that it is about.</summary>
        public IReadOnlyList<string> At { get; }

        /// <summary>Those of them that are reached only past a leak.</summary>
        public IReadOnlyList<string> PastLeak { get; }
    }

    /// <summary>What a test is made with.</summary>
    public sealed class FittingToBring
    {
        internal FittingToBring(Members of)
        {
            What = of.Text("what");
            Port = of.Text("port");
            Standard = of.Text("standard");
            Size = of.Text("size");
            RatedFor = of.Text("rated_for");
        }

        /// <summary>Adapter, plug, ....</summary>
        public string What { get; }

        /// <summary>Where it goes; null where there is none.</summary>
        public string Port { get; }

        /// <summary>Of the port; null where there is none.</summary>
        public string Standard { get; }

        /// <summary>Of the port; null where there is none.</summary>
        public string Size { get; }

        /// <summary>The least pressure, such as "140 bar"; null where there is none.</summary>
        public string RatedFor { get; }
    }

    /// <summary>Which volume limits the pressure of a hold, and why.</summary>
    public sealed class PressureLimit
    {
        internal PressureLimit(Members of)
        {
            Volume = of.Text("volume");
            By = of.Text("by");
            Part = of.Text("part");
            Stands = of.Text("stands");
            Factor = of.NumberIfAny("factor");
            Suspect = of.Text("suspect");
            Why = of.Text("why");
        }

        /// <summary>The volume that it concerns.</summary>
        public string Volume { get; }

        /// <summary>A rating, a relief, ....</summary>
        public string By { get; }

        /// <summary>Whose it is, where the volume does not say so; null where there is none.</summary>
        public string Part { get; }

        /// <summary>Such as "140 bar", before any share of it.</summary>
        public string Stands { get; }

        /// <summary>Pressure there per pressure at the port, where that is another; null where there is
        /// none.</summary>
        public double? Factor { get; }

        /// <summary>The failure mode past which it is reached; null where there is none.</summary>
        public string Suspect { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>Why a hold has no figure.</summary>
    public sealed class NoPressure
    {
        internal NoPressure(Members of)
        {
            Reason = of.Text("reason");
            Volume = of.Text("volume");
            Part = of.Text("part");
            Why = of.Text("why");
        }

        /// <summary>By name.</summary>
        public string Reason { get; }

        /// <summary>The volume that it concerns.</summary>
        public string Volume { get; }

        /// <summary>Whose it is, where the volume does not say so; null where there is none.</summary>
        public string Part { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>Between which effects the outcomes lie, where that was solved.</summary>
    public sealed class EffectLimits
    {
        internal EffectLimits(Members of)
        {
            Unit = of.Text("unit");
            First = of.Number("first");
            Second = of.Number("second");
            Floor = of.Number("floor");
            Resolution = of.Number("resolution");
            Seconds = of.NumberIfAny("seconds");
        }

        /// <summary>Of the effects.</summary>
        public string Unit { get; }

        /// <summary>From here the second outcome.</summary>
        public double First { get; }

        /// <summary>From here the third.</summary>
        public double Second { get; }

        /// <summary>What the instrument cannot tell from nothing.</summary>
        public double Floor { get; }

        /// <summary>Of the instrument.</summary>
        public double Resolution { get; }

        /// <summary>Of a hold: in which its pressure falls to half; null where there is none.</summary>
        public double? Seconds { get; }
    }

    /// <summary>A test by its name.</summary>
    public sealed class NamedTest
    {
        internal NamedTest(Members of)
        {
            Observation = of.Text("observation");
            Title = of.Text("title");
            Kind = of.Text("kind");
            Minutes = of.Number("minutes");
            Energised = of.Flag("energised");
        }

        /// <summary>Under which its result is entered.</summary>
        public string Observation { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>What kind of test.</summary>
        public string Kind { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }
    }

    /// <summary>A test that can be made next; its cautions stand before it.</summary>
    public sealed class Test
    {
        internal Test(Members of)
        {
            Observation = of.Text("observation");
            Title = of.Text("title");
            Kind = of.Text("kind");
            Minutes = of.Number("minutes");
            Energised = of.Flag("energised");
            Again = of.Flag("again");
            People = of.CountIfAny("people");
            Probability = of.ByName<double>("probability");
            CauseBits = of.Number("cause_bits");
            SetupIds = of.Texts("setup_ids");
            CautionIds = of.Texts("caution_ids");
            Steps = of.Each("steps", one => new Step(one));
            Afterwards = of.Each("afterwards", one => new Step(one));
            TestPressure = of.Text("test_pressure");
            PressureLimit = of.Maybe("pressure_limit", one => new PressureLimit(one));
            NoPressure = of.Maybe("no_pressure", one => new NoPressure(one));
            Limits = of.Maybe("limits", one => new EffectLimits(one));
            Bring = of.Each("bring", one => new FittingToBring(one));
            Because = of.Text("because");
            BecauseSaid = of.Each("because_said", one => new Said(one));
            Suspects = of.Texts("suspects");
            InformationBits = of.NumberIfAny("information_bits");
            BitsPerMinute = of.NumberIfAny("bits_per_minute");
            Setup = of.Each("setup", one => new Step(one));
            Cautions = of.Texts("cautions");
        }

        /// <summary>Under which its result is entered.</summary>
        public string Observation { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>What kind of test.</summary>
        public string Kind { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>It is made once more: what was seen of it is doubtful.</summary>
        public bool Again { get; }

        /// <summary>Where one is not enough; null where there is none.</summary>
        public int? People { get; }

        /// <summary>Of each outcome, the normal one first.</summary>
        public IReadOnlyDictionary<string, double> Probability { get; }

        /// <summary>About the cause of the complaint.</summary>
        public double CauseBits { get; }

        /// <summary>All steps that it shares with others, done or not.</summary>
        public IReadOnlyList<string> SetupIds { get; }

        /// <summary>Besides those for all work; texts in further_cautions.</summary>
        public IReadOnlyList<string> CautionIds { get; }

        /// <summary>Everything left to do before the test, in order.</summary>
        public IReadOnlyList<Step> Steps { get; }

        /// <summary>What ends it, in order.</summary>
        public IReadOnlyList<Step> Afterwards { get; }

        /// <summary>Such as "140 bar"; null or null where it comes from the maker's documents.</summary>
        public string TestPressure { get; }

        /// <summary>What limits the test pressure; null where there is none.</summary>
        public PressureLimit PressureLimit { get; }

        /// <summary>Why the test pressure is to be had from the maker's documents; null where there is
        /// none.</summary>
        public NoPressure NoPressure { get; }

        /// <summary>Between which effects the outcomes lie; null where they were not solved.</summary>
        public EffectLimits Limits { get; }

        /// <summary>Adapters, plugs and meters.</summary>
        public IReadOnlyList<FittingToBring> Bring { get; }

        /// <summary>Which suspects it tells apart.</summary>
        public string Because { get; }

        /// <summary>Of what that sentence is made.</summary>
        public IReadOnlyList<Said> BecauseSaid { get; }

        /// <summary>The failure modes that it looks at.</summary>
        public IReadOnlyList<string> Suspects { get; }

        /// <summary>About all failure modes; null where there is none.</summary>
        public double? InformationBits { get; }

        /// <summary>What the order within a safety class rests on; null where there is none.</summary>
        public double? BitsPerMinute { get; }

        /// <summary>Of steps, what other tests share.</summary>
        public IReadOnlyList<Step> Setup { get; }

        /// <summary>To be shown before it.</summary>
        public IReadOnlyList<string> Cautions { get; }
    }

    /// <summary>A hold that is not proposed.</summary>
    public sealed class Withheld
    {
        internal Withheld(Members of)
        {
            Observation = of.Text("observation");
            Reason = of.Text("reason");
            Volume = of.Text("volume");
            Part = of.Text("part");
            Why = of.Text("why");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>By name.</summary>
        public string Reason { get; }

        /// <summary>The volume that it concerns.</summary>
        public string Volume { get; }

        /// <summary>Whose it is, where the volume does not say so; null where there is none.</summary>
        public string Part { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }
    }

    /// <summary>A test that the case says cannot be made.</summary>
    public sealed class ImpossibleTest
    {
        internal ImpossibleTest(Members of)
        {
            Observation = of.Text("observation");
            Title = of.Text("title");
            Reason = of.Text("reason");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>As the case says it.</summary>
        public string Reason { get; }
    }

    /// <summary>A test left out because of the work there is.</summary>
    public sealed class NotProposed
    {
        internal NotProposed(Members of)
        {
            Observation = of.Text("observation");
            Reason = of.Text("reason");
            Why = of.Text("why");
            WhySaid = of.Each("why_said", one => new Said(one));
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>By name.</summary>
        public string Reason { get; }

        /// <summary>In a sentence.</summary>
        public string Why { get; }

        /// <summary>Of what that sentence is made.</summary>
        public IReadOnlyList<Said> WhySaid { get; }
    }

    /// <summary>Components to exchange and check, in that order.</summary>
    public sealed class RepairSet
    {
        internal RepairSet(Members of)
        {
            Components = of.Texts("components");
            Cost = of.Number("cost");
            ResidualRisk = of.Number("residual_risk");
            ExpectedCost = of.Number("expected_cost");
        }

        /// <summary>Ids.</summary>
        public IReadOnlyList<string> Components { get; }

        /// <summary>Of exchanging all of them.</summary>
        public double Cost { get; }

        /// <summary>That the complaint stays.</summary>
        public double ResidualRisk { get; }

        /// <summary>With what follows then.</summary>
        public double ExpectedCost { get; }
    }

    /// <summary>What was seen contradicts itself.</summary>
    public sealed class Contradiction
    {
        internal Contradiction(Members of)
        {
            Observation = of.Text("observation");
            Wrong = of.Number("wrong");
            AnyWrong = of.Number("any_wrong");
        }

        /// <summary>The most doubtful of it.</summary>
        public string Observation { get; }

        /// <summary>That what was seen there is wrong.</summary>
        public double Wrong { get; }

        /// <summary>That some of what was seen is.</summary>
        public double AnyWrong { get; }
    }

    /// <summary>The technician's own next test.</summary>
    public sealed class OwnOrder
    {
        internal OwnOrder(Members of)
        {
            Test = of.Text("test");
            InsteadOf = of.Text("instead_of");
            ExtraCost = of.Number("extra_cost");
        }

        /// <summary>Id of the test.</summary>
        public string Test { get; }

        /// <summary>What would be advised; null: to stop.</summary>
        public string InsteadOf { get; }

        /// <summary>Expected, above that.</summary>
        public double ExtraCost { get; }
    }

    /// <summary>A part that cannot be in by then.</summary>
    public sealed class LatePart
    {
        internal LatePart(Members of)
        {
            Component = of.Text("component");
            Minutes = of.Number("minutes");
            LeadDays = of.Number("lead_days");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>Until it is here.</summary>
        public double LeadDays { get; }
    }

    /// <summary>What the time in which the machine must run allows.</summary>
    public sealed class InTime
    {
        internal InTime(Members of)
        {
            ReadyWithin = of.Number("ready_within");
            Minutes = of.Number("minutes");
            TooLong = of.Each("too_long", one => new LatePart(one));
            Later = of.Maybe("later", one => new RepairSet(one));
        }

        /// <summary>Minutes.</summary>
        public double ReadyWithin { get; }

        /// <summary>That the repair takes.</summary>
        public double Minutes { get; }

        /// <summary>Too long.</summary>
        public IReadOnlyList<LatePart> TooLong { get; }

        /// <summary>The best repair without the limit, where it is another; null where there is none.</summary>
        public RepairSet Later { get; }
    }

    /// <summary>Adapters and plugs of one kind.</summary>
    public sealed class BringItem
    {
        internal BringItem(Members of)
        {
            What = of.Text("what");
            Standard = of.Text("standard");
            Size = of.Text("size");
            Count = of.Count("count");
            Ports = of.Texts("ports");
        }

        /// <summary>Adapter, plug, ....</summary>
        public string What { get; }

        /// <summary>Of the port.</summary>
        public string Standard { get; }

        /// <summary>Of the port.</summary>
        public string Size { get; }

        /// <summary>How many.</summary>
        public int Count { get; }

        /// <summary>Where they go.</summary>
        public IReadOnlyList<string> Ports { get; }
    }

    /// <summary>What to bring for all that is named.</summary>
    public sealed class BringList
    {
        internal BringList(Members of)
        {
            Items = of.Each("items", one => new BringItem(one));
            GaugeFor = of.Text("gauge_for");
        }

        /// <summary>By kind.</summary>
        public IReadOnlyList<BringItem> Items { get; }

        /// <summary>The highest pressure, such as "180 bar"; null where there is none.</summary>
        public string GaugeFor { get; }
    }

    /// <summary>A test that proves the repair; its cautions stand before it.</summary>
    public sealed class Verify
    {
        internal Verify(Members of)
        {
            Observation = of.Text("observation");
            Title = of.Text("title");
            Kind = of.Text("kind");
            Minutes = of.Number("minutes");
            Energised = of.Flag("energised");
            IsComplaint = of.Flag("is_complaint");
            RiskIfNormal = of.Number("risk_if_normal");
            CautionIds = of.Texts("caution_ids");
            Normal = of.NumberIfAny("normal");
            Cautions = of.Texts("cautions");
        }

        /// <summary>Under which its result is entered; in the whole answer id.</summary>
        public string Observation { get; }

        /// <summary>In words.</summary>
        public string Title { get; }

        /// <summary>What kind of test; null where there is none.</summary>
        public string Kind { get; }

        /// <summary>Setup not yet done included; in the whole answer it takes.</summary>
        public double Minutes { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>Whether it is the complaint itself.</summary>
        public bool IsComplaint { get; }

        /// <summary>That the complaint stays, then.</summary>
        public double RiskIfNormal { get; }

        /// <summary>Keys of the cautions.</summary>
        public IReadOnlyList<string> CautionIds { get; }

        /// <summary>Probability of the normal outcome; null where there is none.</summary>
        public double? Normal { get; }

        /// <summary>To be shown before it.</summary>
        public IReadOnlyList<string> Cautions { get; }
    }

    /// <summary>What else leaks before the order goes out.</summary>
    public sealed class SecondFault
    {
        internal SecondFault(Members of)
        {
            Probability = of.Number("probability");
            Target = of.Number("target");
            Reached = of.Flag("reached");
            Checks = of.Each("checks", one => new SecondFaultCheck(one));
        }

        /// <summary>That the complaint stays once what is advised is replaced.</summary>
        public double Probability { get; }

        /// <summary>Of that probability.</summary>
        public double Target { get; }

        /// <summary>Whether the checks come to the target.</summary>
        public bool Reached { get; }

        /// <summary>In order.</summary>
        public IReadOnlyList<SecondFaultCheck> Checks { get; }
    }

    /// <summary>Whether to stop testing, the next test, and what to repair.</summary>
    public sealed class Advice
    {
        internal Advice(Members of)
        {
            Stop = of.Flag("stop");
            Reason = of.Text("reason");
            ReasonSaid = of.Each("reason_said", one => new Said(one));
            Test = of.Text("test");
            Error = of.NumberIfAny("error");
            Elsewhere = of.NumberIfAny("elsewhere");
            RenewedShows = of.Flag("renewed_shows");
            Unfounded = of.NumberIfAny("unfounded");
            Contradiction = of.Maybe("contradiction", one => new Contradiction(one));
            OwnOrder = of.Maybe("own_order", one => new OwnOrder(one));
            InTime = of.Maybe("in_time", one => new InTime(one));
            Currency = of.Text("currency");
            ComeBack = of.Number("come_back");
            Repair = new RepairSet(of.Object("repair"));
            TestCost = of.NumberIfAny("test_cost");
            TestSaving = of.NumberIfAny("test_saving");
            SecondFault = new SecondFault(of.Object("second_fault"));
            Bring = new BringList(of.Object("bring"));
            Verify = of.Each("verify", one => new Verify(one));
            Alternatives = of.Each("alternatives", one => new RepairSet(one));
            Tests = of.Each("tests", one => new TestValue(one));
            TwoTests = of.Maybe("two_tests", one => new TwoTests(one));
            PerfectInformation = of.NumberIfAny("perfect_information");
            Replaced = of.Each("replaced", one => new ReplacedPart(one));
            Evidence = of.Maybe("evidence", one => new EvidenceTrail(one));
            WouldChange = of.Maybe("would_change", one => new WouldChange(one));
            Visit = of.Maybe("visit", one => new Visit(one));
        }

        /// <summary>No test is worth its cost.</summary>
        public bool Stop { get; }

        /// <summary>Why, in a sentence.</summary>
        public string Reason { get; }

        /// <summary>Of what that sentence is made.</summary>
        public IReadOnlyList<Said> ReasonSaid { get; }

        /// <summary>The test to make; null where there is none.</summary>
        public string Test { get; }

        /// <summary>About how far any probability may be off; null where exact.</summary>
        public double? Error { get; }

        /// <summary>That the cause is none that the circuit describes, where that is likeliest: no part is ordered;
        /// null where there is none.</summary>
        public double? Elsewhere { get; }

        /// <summary>All that is worth ordering is new already.</summary>
        public bool RenewedShows { get; }

        /// <summary>That nothing is wrong, where that is likelier than not: no part is ordered; null where there is
        /// none.</summary>
        public double? Unfounded { get; }

        /// <summary>What was seen contradicts itself; nothing is ordered before it was looked at again; null where
        /// there is none.</summary>
        public Contradiction Contradiction { get; }

        /// <summary>The technician's own next test, where the case says an order; null where there is none.</summary>
        public OwnOrder OwnOrder { get; }

        /// <summary>What the time in which the machine must run allows, where the case says it; null where there is
        /// none.</summary>
        public InTime InTime { get; }

        /// <summary>Of the amounts; XXX is none in particular.</summary>
        public string Currency { get; }

        /// <summary>What coming once more costs.</summary>
        public double ComeBack { get; }

        /// <summary>What to exchange.</summary>
        public RepairSet Repair { get; }

        /// <summary>Of the test to make; null where there is none.</summary>
        public double? TestCost { get; }

        /// <summary>Expected; null where there is none.</summary>
        public double? TestSaving { get; }

        /// <summary>What else leaks before the order goes out.</summary>
        public SecondFault SecondFault { get; }

        /// <summary>Adapters, plugs and meters.</summary>
        public BringList Bring { get; }

        /// <summary>What proves the repair.</summary>
        public IReadOnlyList<Verify> Verify { get; }

        /// <summary>Other repairs.</summary>
        public IReadOnlyList<RepairSet> Alternatives { get; }

        /// <summary>Those that save anything.</summary>
        public IReadOnlyList<TestValue> Tests { get; }

        /// <summary>Two in a row that pay where none does alone; null where there is none.</summary>
        public TwoTests TwoTests { get; }

        /// <summary>No tests whatever can save more; null where there is none.</summary>
        public double? PerfectInformation { get; }

        /// <summary>Parts taken out in the course of the case.</summary>
        public IReadOnlyList<ReplacedPart> Replaced { get; }

        /// <summary>What weighed for and against; null where there is none.</summary>
        public EvidenceTrail Evidence { get; }

        /// <summary>What would change the repair; null where there is none.</summary>
        public WouldChange WouldChange { get; }

        /// <summary>Tests that fit in the visit of the case; null where there is none.</summary>
        public Visit Visit { get; }
    }

    /// <summary>What a test saves.</summary>
    public sealed class TestValue
    {
        internal TestValue(Members of)
        {
            Observation = of.Text("observation");
            Minutes = of.Number("minutes");
            Cost = of.Number("cost");
            ExpectedSaving = of.Number("expected_saving");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>Of it.</summary>
        public double Cost { get; }

        /// <summary>In money.</summary>
        public double ExpectedSaving { get; }
    }

    /// <summary>Two in a row that pay where none does alone.</summary>
    public sealed class TwoTests
    {
        internal TwoTests(Members of)
        {
            First = of.Text("first");
            Then = of.Texts("then");
            Cost = of.Number("cost");
            ExpectedSaving = of.Number("expected_saving");
        }

        /// <summary>Id of the first.</summary>
        public string First { get; }

        /// <summary>By outcome of the first.</summary>
        public IReadOnlyList<string> Then { get; }

        /// <summary>Of it.</summary>
        public double Cost { get; }

        /// <summary>At least.</summary>
        public double ExpectedSaving { get; }
    }

    /// <summary>A test that does not look at what is replaced.</summary>
    public sealed class SecondFaultCheck
    {
        internal SecondFaultCheck(Members of)
        {
            Observation = of.Text("observation");
            Minutes = of.Number("minutes");
            Probability = of.Number("probability");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>That the complaint stays once this and all before it were normal.</summary>
        public double Probability { get; }
    }

    /// <summary>A part taken out in the course of the case.</summary>
    public sealed class ReplacedPart
    {
        internal ReplacedPart(Members of)
        {
            Component = of.Text("component");
            Faulty = of.Number("faulty");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>That it was, in hindsight.</summary>
        public double Faulty { get; }
    }

    /// <summary>What an observation weighs for a suspect.</summary>
    public sealed class Weight
    {
        internal Weight(Members of)
        {
            Observation = of.Text("observation");
            Decibans = of.NumberIfAny("decibans");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>Null where infinite.</summary>
        public double? Decibans { get; }
    }

    /// <summary>How the weight of a suspect came about; the numbers add up.</summary>
    public sealed class SuspectTrail
    {
        internal SuspectTrail(Members of)
        {
            Mode = of.Text("mode");
            PriorDecibans = of.NumberIfAny("prior_decibans");
            Decibans = of.NumberIfAny("decibans");
            Weights = of.Each("weights", one => new Weight(one));
        }

        /// <summary>Component.mode.</summary>
        public string Mode { get; }

        /// <summary>Null where infinite.</summary>
        public double? PriorDecibans { get; }

        /// <summary>Null where infinite.</summary>
        public double? Decibans { get; }

        /// <summary>In the order made.</summary>
        public IReadOnlyList<Weight> Weights { get; }
    }

    /// <summary>What is abnormal though no modelled fault shows there.</summary>
    public sealed class Unexplained
    {
        internal Unexplained(Members of)
        {
            Observation = of.Text("observation");
            Probability = of.Number("probability");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>Of it.</summary>
        public double Probability { get; }
    }

    /// <summary>What weighed for and against.</summary>
    public sealed class EvidenceTrail
    {
        internal EvidenceTrail(Members of)
        {
            Sentence = of.Text("sentence");
            SentenceSaid = of.Each("sentence_said", one => new Said(one));
            Faults = of.Each("faults", one => new SuspectTrail(one));
            ConflictBits = of.Number("conflict_bits");
            MostAtOdds = of.Text("most_at_odds");
            Unexplained = of.Each("unexplained", one => new Unexplained(one));
        }

        /// <summary>In words.</summary>
        public string Sentence { get; }

        /// <summary>Of what that is made.</summary>
        public IReadOnlyList<Said> SentenceSaid { get; }

        /// <summary>The leading suspects.</summary>
        public IReadOnlyList<SuspectTrail> Faults { get; }

        /// <summary>Above 0 the observations contradict each other.</summary>
        public double ConflictBits { get; }

        /// <summary>The observation that agrees least; null where there is none.</summary>
        public string MostAtOdds { get; }

        /// <summary>What no modelled fault explains.</summary>
        public IReadOnlyList<Unexplained> Unexplained { get; }
    }

    /// <summary>What would change the repair.</summary>
    public sealed class Turn
    {
        internal Turn(Members of)
        {
            Observation = of.Text("observation");
            Factor = of.Number("factor");
            Components = of.Texts("components");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>Were what was seen that many times as probable with nothing leaking there.</summary>
        public double Factor { get; }

        /// <summary>Would be the repair.</summary>
        public IReadOnlyList<string> Components { get; }
    }

    /// <summary>The price of coming again from which the repair is another.</summary>
    public sealed class ComeBackTurn
    {
        internal ComeBackTurn(Members of)
        {
            ComeBack = of.Number("come_back");
            Components = of.Texts("components");
        }

        /// <summary>What coming once more costs.</summary>
        public double ComeBack { get; }

        /// <summary>Ids.</summary>
        public IReadOnlyList<string> Components { get; }
    }

    /// <summary>What would change the repair.</summary>
    public sealed class WouldChange
    {
        internal WouldChange(Members of)
        {
            Observations = of.Each("observations", one => new Turn(one));
            ComeBackBelow = of.Maybe("come_back_below", one => new ComeBackTurn(one));
            ComeBackAbove = of.Maybe("come_back_above", one => new ComeBackTurn(one));
        }

        /// <summary>Each by itself.</summary>
        public IReadOnlyList<Turn> Observations { get; }

        /// <summary>Price below which the repair is another; null where there is none.</summary>
        public ComeBackTurn ComeBackBelow { get; }

        /// <summary>Price above which the repair is another; null where there is none.</summary>
        public ComeBackTurn ComeBackAbove { get; }
    }

    /// <summary>A test of a visit.</summary>
    public sealed class VisitTest
    {
        internal VisitTest(Members of)
        {
            Observation = of.Text("observation");
            Minutes = of.Number("minutes");
            Bits = of.Number("bits");
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>Of information.</summary>
        public double Bits { get; }
    }

    /// <summary>The tests to make within the minutes there are.</summary>
    public sealed class Visit
    {
        internal Visit(Members of)
        {
            Available = of.Number("available");
            Minutes = of.Number("minutes");
            InformationBits = of.Number("information_bits");
            Guarantee = of.Number("guarantee");
            Tests = of.Each("tests", one => new VisitTest(one));
        }

        /// <summary>Minutes.</summary>
        public double Available { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>That they tell.</summary>
        public double InformationBits { get; }

        /// <summary>The share of the most informative choice that they surely reach.</summary>
        public double Guarantee { get; }

        /// <summary>Tests.</summary>
        public IReadOnlyList<VisitTest> Tests { get; }
    }

    /// <summary>A part that a test before service may find.</summary>
    public sealed class ServiceFind
    {
        internal ServiceFind(Members of)
        {
            Component = of.Text("component");
            Probability = of.Number("probability");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>That it would fail in service and the outcome has it replaced.</summary>
        public double Probability { get; }
    }

    /// <summary>A test worth making before service.</summary>
    public sealed class ServiceTest
    {
        internal ServiceTest(Members of)
        {
            Observation = of.Text("observation");
            Minutes = of.Number("minutes");
            Cost = of.Number("cost");
            ExpectedSaving = of.Number("expected_saving");
            Net = of.Number("net");
            Finds = of.Each("finds", one => new ServiceFind(one));
        }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>It takes.</summary>
        public double Minutes { get; }

        /// <summary>Of it.</summary>
        public double Cost { get; }

        /// <summary>In money.</summary>
        public double ExpectedSaving { get; }

        /// <summary>Expected saving less cost.</summary>
        public double Net { get; }

        /// <summary>Finds.</summary>
        public IReadOnlyList<ServiceFind> Finds { get; }
    }

    /// <summary>A part worth replacing as it is.</summary>
    public sealed class ServicePart
    {
        internal ServicePart(Members of)
        {
            Component = of.Text("component");
            Fails = of.Number("fails");
            Saving = of.Number("saving");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>Probability that it fails.</summary>
        public double Fails { get; }

        /// <summary>In money.</summary>
        public double Saving { get; }
    }

    /// <summary>What is worth checking on a machine that nobody complains of.</summary>
    public sealed class BeforeService
    {
        internal BeforeService(Members of)
        {
            Currency = of.Text("currency");
            Tests = of.Each("tests", one => new ServiceTest(one));
            Replace = of.Each("replace", one => new ServicePart(one));
            NotReckoned = of.Texts("not_reckoned");
        }

        /// <summary>Of the amounts; XXX is none in particular.</summary>
        public string Currency { get; }

        /// <summary>Most net saving a minute first.</summary>
        public IReadOnlyList<ServiceTest> Tests { get; }

        /// <summary>Parts to exchange.</summary>
        public IReadOnlyList<ServicePart> Replace { get; }

        /// <summary>Tests too large to be reckoned.</summary>
        public IReadOnlyList<string> NotReckoned { get; }
    }

    /// <summary>An answer that is not exact.</summary>
    public sealed class ApproximateMethod
    {
        internal ApproximateMethod(Members of)
        {
            Name = of.Text("name");
            ErrorBound = of.Number("error_bound");
        }

        /// <summary>Of the method.</summary>
        public string Name { get; }

        /// <summary>On every probability in it.</summary>
        public double ErrorBound { get; }
    }

    /// <summary>The whole of an assessment: "faultodds-assessment/1".</summary>
    public sealed class Assessment
    {
        internal Assessment(string json) : this(Members.OfDocument(json))
        {
            Json = json;
        }

        private Assessment(Members of)
        {
            Format = of.Text("format");
            Detail = of.Text("detail");
            Circuit = of.Text("circuit");
            Asset = of.Maybe("asset", one => new AnsweredAsset(one));
            Causes = of.Each("causes", one => new Causes(one));
            Method = of.Maybe("method", one => new ApproximateMethod(one));
            Complaint = of.Texts("complaint");
            Faults = of.Each("faults", one => new Fault(one));
            Tests = of.Each("tests", one => new Test(one));
            FurtherTests = of.Each("further_tests", one => new NamedTest(one));
            TestCount = of.CountIfAny("test_count");
            NotPossible = of.Each("not_possible", one => new ImpossibleTest(one));
            NotProposed = of.Each("not_proposed", one => new NotProposed(one));
            NotProposedCount = of.CountIfAny("not_proposed_count");
            Advice = of.Maybe("advice", one => new Advice(one));
            BeforeService = of.Maybe("before_service", one => new BeforeService(one));
            Warnings = of.Texts("warnings");
            WarningsSaid = of.Each("warnings_said", one => new Said(one));
            Cautions = of.Texts("cautions");
            FurtherCautions = of.ByName<string>("further_cautions");
            LogEvidence = of.NumberIfAny("log_evidence");
            Withheld = of.Each("withheld", one => new Withheld(one));
            AmbiguityGroups = of.Groups("ambiguity_groups");
        }

        /// <summary>The document as the library wrote it.</summary>
        public string Json { get; }

        /// <summary>Names the format.</summary>
        public string Format { get; }

        /// <summary>That it is what a screen needs; null where there is none.</summary>
        public string Detail { get; }

        /// <summary>Id of the circuit.</summary>
        public string Circuit { get; }

        /// <summary>The machine; null where there is none.</summary>
        public AnsweredAsset Asset { get; }

        /// <summary>Of the complaint first, then of every other abnormal symptom; those seen before a repair are in
        /// the whole answer only; in the whole answer of the complaint first, then of every other abnormal
        /// symptom.</summary>
        public IReadOnlyList<Causes> Causes { get; }

        /// <summary>Exact, or the approximation; null where there is none.</summary>
        public ApproximateMethod Method { get; }

        /// <summary>The abnormal symptoms.</summary>
        public IReadOnlyList<string> Complaint { get; }

        /// <summary>The likeliest; in the whole answer every one, in the order of the circuit.</summary>
        public IReadOnlyList<Fault> Faults { get; }

        /// <summary>The next ones, best first; the one that the advice names before all others; in the whole answer
        /// best first; the one that the advice names before all others.</summary>
        public IReadOnlyList<Test> Tests { get; }

        /// <summary>What comes after them.</summary>
        public IReadOnlyList<NamedTest> FurtherTests { get; }

        /// <summary>Of all that can be made; null where there is none.</summary>
        public int? TestCount { get; }

        /// <summary>Tests that the case says cannot be made; null where there are none.</summary>
        public IReadOnlyList<ImpossibleTest> NotPossible { get; }

        /// <summary>The first 5; in the whole answer tests left out for want of people or time; null where there are
        /// none.</summary>
        public IReadOnlyList<NotProposed> NotProposed { get; }

        /// <summary>Of all that are left out; null where none are.</summary>
        public int? NotProposedCount { get; }

        /// <summary>Absent without a complaint, or where the case asked for none.</summary>
        public Advice Advice { get; }

        /// <summary>What is worth checking; null where that is not asked.</summary>
        public BeforeService BeforeService { get; }

        /// <summary>What to know about the readings.</summary>
        public IReadOnlyList<string> Warnings { get; }

        /// <summary>Of what those sentences are made.</summary>
        public IReadOnlyList<Said> WarningsSaid { get; }

        /// <summary>For all work.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>Of what caution_ids refer to, by id.</summary>
        public IReadOnlyDictionary<string, string> FurtherCautions { get; }

        /// <summary>Natural logarithm of the probability (density, for readings) of what was seen; null where there
        /// is none.</summary>
        public double? LogEvidence { get; }

        /// <summary>Holds that may not be made as the circuit stands.</summary>
        public IReadOnlyList<Withheld> Withheld { get; }

        /// <summary>Failure modes that no observation of this circuit can tell apart.</summary>
        public IReadOnlyList<IReadOnlyList<string>> AmbiguityGroups { get; }
    }

    /// <summary>What follows an outcome.</summary>
    public sealed class PlanBranch
    {
        internal PlanBranch(Members of)
        {
            Outcome = of.Text("outcome");
            Probability = of.Number("probability");
            Then = of.Maybe("then", one => new PlanNode(one));
        }

        /// <summary>By name.</summary>
        public string Outcome { get; }

        /// <summary>Of it, once the test is made.</summary>
        public double Probability { get; }

        /// <summary>Null where the branch is not followed.</summary>
        public PlanNode Then { get; }
    }

    /// <summary>A test to make (test and what belongs to it), an end (replace, verify), or neither where it was
    /// cut.</summary>
    public sealed class PlanNode
    {
        internal PlanNode(Members of)
        {
            Reached = of.Number("reached");
            Cut = of.Text("cut");
            Cautions = of.Texts("cautions");
            CautionIds = of.Texts("caution_ids");
            Test = of.Text("test");
            Title = of.Text("title");
            Kind = of.Text("kind");
            Energised = of.Flag("energised");
            Again = of.Flag("again");
            Contradicts = of.Flag("contradicts");
            Minutes = of.NumberIfAny("minutes");
            TestPressure = of.Text("test_pressure");
            Bring = of.Each("bring", one => new FittingToBring(one));
            Limits = of.Maybe("limits", one => new EffectLimits(one));
            Branches = of.Each("branches", one => new PlanBranch(one));
            Replace = of.Maybe("replace", one => new RepairSet(one));
            Verify = of.Each("verify", one => new Verify(one));
        }

        /// <summary>Probability of coming here.</summary>
        public double Reached { get; }

        /// <summary>Why it goes no further; null where there is none.</summary>
        public string Cut { get; }

        /// <summary>To be shown before the test.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>Keys of the cautions.</summary>
        public IReadOnlyList<string> CautionIds { get; }

        /// <summary>Id of the test; null where there is none.</summary>
        public string Test { get; }

        /// <summary>In words; null where there is none.</summary>
        public string Title { get; }

        /// <summary>What kind of test; null where there is none.</summary>
        public string Kind { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>It was made before, and is looked at once more.</summary>
        public bool Again { get; }

        /// <summary>Because what was seen contradicts itself.</summary>
        public bool Contradicts { get; }

        /// <summary>Setup not yet done included; null where there is none.</summary>
        public double? Minutes { get; }

        /// <summary>Such as "140 bar"; null where there is none.</summary>
        public string TestPressure { get; }

        /// <summary>Adapters, plugs and meters.</summary>
        public IReadOnlyList<FittingToBring> Bring { get; }

        /// <summary>Between which effects the outcomes lie; null where they were not solved.</summary>
        public EffectLimits Limits { get; }

        /// <summary>One for each outcome.</summary>
        public IReadOnlyList<PlanBranch> Branches { get; }

        /// <summary>Parts to exchange; null where there is none.</summary>
        public RepairSet Replace { get; }

        /// <summary>What proves it.</summary>
        public IReadOnlyList<Verify> Verify { get; }
    }

    /// <summary>A part that is probably needed.</summary>
    public sealed class NeededPart
    {
        internal NeededPart(Members of)
        {
            Component = of.Text("component");
            Probability = of.Number("probability");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>That the plan ends with replacing it.</summary>
        public double Probability { get; }
    }

    /// <summary>The tests to make one after the other, by outcome; without a complaint complaint and tree are null
    /// and the rest is null: "faultodds-plan/1".</summary>
    public sealed class Plan
    {
        internal Plan(string json) : this(Members.OfDocument(json))
        {
            Json = json;
        }

        private Plan(Members of)
        {
            Format = of.Text("format");
            Circuit = of.Text("circuit");
            Cautions = of.Texts("cautions");
            Asset = of.Maybe("asset", one => new AnsweredAsset(one));
            Complaint = of.Text("complaint");
            Currency = of.Text("currency");
            ComeBack = of.NumberIfAny("come_back");
            Approximate = of.NumberIfAny("approximate");
            LeftOut = of.NumberIfAny("left_out");
            Bring = of.Maybe("bring", one => new BringList(one));
            Parts = of.Each("parts", one => new NeededPart(one));
            NotPossible = of.Each("not_possible", one => new ImpossibleTest(one));
            Warnings = of.Texts("warnings");
            WarningsSaid = of.Each("warnings_said", one => new Said(one));
            Tree = of.Maybe("tree", one => new PlanNode(one));
        }

        /// <summary>The document as the library wrote it.</summary>
        public string Json { get; }

        /// <summary>Names the format.</summary>
        public string Format { get; }

        /// <summary>Id of the circuit.</summary>
        public string Circuit { get; }

        /// <summary>To be shown before everything.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>The machine; null where there is none.</summary>
        public AnsweredAsset Asset { get; }

        /// <summary>The abnormal symptom; null where there is none.</summary>
        public string Complaint { get; }

        /// <summary>Of the amounts; XXX is none in particular; null where there is none.</summary>
        public string Currency { get; }

        /// <summary>What coming once more costs; null where there is none.</summary>
        public double? ComeBack { get; }

        /// <summary>Estimate of the share of what is probable that the answer leaves out; null where it is
        /// exact.</summary>
        public double? Approximate { get; }

        /// <summary>Probability of all branches that are not followed; null where there is none.</summary>
        public double? LeftOut { get; }

        /// <summary>Adapters, plugs and meters; null where there is none.</summary>
        public BringList Bring { get; }

        /// <summary>Most probable first.</summary>
        public IReadOnlyList<NeededPart> Parts { get; }

        /// <summary>Tests that the case says cannot be made; null where there are none.</summary>
        public IReadOnlyList<ImpossibleTest> NotPossible { get; }

        /// <summary>What to know about the readings.</summary>
        public IReadOnlyList<string> Warnings { get; }

        /// <summary>Of what those sentences are made.</summary>
        public IReadOnlyList<Said> WarningsSaid { get; }

        /// <summary>Where it begins; null where there is none.</summary>
        public PlanNode Tree { get; }
    }

    /// <summary>Probabilities of the grades of a failure mode.</summary>
    public sealed class Grades
    {
        internal Grades(IReadOnlyList<double> of)
        {
            Sound = of[0];
            Worn = of[1];
            Failed = of[2];
        }

        /// <summary>Of grade 0.</summary>
        public double Sound { get; }

        /// <summary>Of grade 1.</summary>
        public double Worn { get; }

        /// <summary>Of grade 2.</summary>
        public double Failed { get; }
    }
}

using System.Collections.Generic;

namespace Faultodds
{
    /// <summary>A plan, "faultodds-plan/1": the tests to make one after the other, by outcome. What most screens
    /// show is typed; <see cref="Json"/> is the whole of it.</summary>
    public sealed class Plan
    {
        internal Plan(string json)
        {
            var document = new Members(Faultodds.Json.Parse(json));
            Json = json;
            Cautions = document.Texts("cautions");
            Complaint = document.Text("complaint");
            Tree = document.Maybe("tree", node => new PlanNode(node));
            LeftOut = Tree == null ? 0 : document.Number("left_out");
            Parts = document.EachIfAny("parts", part => new PlanPart(part));
            NotPossible = document.EachIfAny("not_possible", one => new NotPossible(one));
        }

        /// <summary>The document as the library wrote it.</summary>
        public string Json { get; }

        /// <summary>The cautions for all work, to be shown before everything.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>What is complained of, id of an observation; null where nothing abnormal is recorded, as is
        /// the tree.</summary>
        public string Complaint { get; }

        /// <summary>Probability of all branches that are not followed.</summary>
        public double LeftOut { get; }

        /// <summary>Which parts are probably needed, most probable first.</summary>
        public IReadOnlyList<PlanPart> Parts { get; }

        /// <summary>The tests that the case says cannot be made on this machine.</summary>
        public IReadOnlyList<NotPossible> NotPossible { get; }

        /// <summary>Where it begins.</summary>
        public PlanNode Tree { get; }
    }

    /// <summary>A part that is probably needed.</summary>
    public sealed class PlanPart
    {
        internal PlanPart(Members part)
        {
            Component = part.Text("component");
            Probability = part.Number("probability");
        }

        /// <summary>Id.</summary>
        public string Component { get; }

        /// <summary>That the plan ends with replacing it.</summary>
        public double Probability { get; }
    }

    /// <summary>A test to make, an end, or neither where the plan was cut.</summary>
    public sealed class PlanNode
    {
        internal PlanNode(Members node)
        {
            Reached = node.Number("reached");
            Cut = node.Text("cut");
            Test = node.Has("test") ? new PlanTest(node) : null;
            End = node.Has("replace") ? new PlanEnd(node) : null;
        }

        /// <summary>Probability of coming here.</summary>
        public double Reached { get; }

        /// <summary>Why it goes no further: depth, time or limit; null where it does.</summary>
        public string Cut { get; }

        /// <summary>Null at an end.</summary>
        public PlanTest Test { get; }

        /// <summary>Null at a test.</summary>
        public PlanEnd End { get; }
    }

    /// <summary>A test. Show its cautions before it.</summary>
    public sealed class PlanTest
    {
        internal PlanTest(Members node)
        {
            Cautions = node.Texts("cautions");
            Observation = node.Text("test");
            Title = node.Text("title");
            Energised = node.Flag("energised");
            Again = node.Has("again");
            Minutes = node.Number("minutes");
            Bring = node.Each("bring", fitting => new Fitting(fitting));
            Branches = node.Each("branches", branch => new PlanBranch(branch));
        }

        /// <summary>To be shown before the test.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>Id, under which its result is entered.</summary>
        public string Observation { get; }

        /// <summary>What to do.</summary>
        public string Title { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>It was made before, and is looked at once more.</summary>
        public bool Again { get; }

        /// <summary>Setup not yet done included.</summary>
        public double Minutes { get; }

        /// <summary>Adapters and plugs.</summary>
        public IReadOnlyList<Fitting> Bring { get; }

        /// <summary>One for each outcome.</summary>
        public IReadOnlyList<PlanBranch> Branches { get; }
    }

    /// <summary>What follows an outcome.</summary>
    public sealed class PlanBranch
    {
        internal PlanBranch(Members branch)
        {
            Outcome = branch.Text("outcome");
            Probability = branch.Number("probability");
            Then = branch.Maybe("then", node => new PlanNode(node));
        }

        /// <summary>The outcome.</summary>
        public string Outcome { get; }

        /// <summary>Of it, once the test is made.</summary>
        public double Probability { get; }

        /// <summary>Null where the branch is not followed.</summary>
        public PlanNode Then { get; }
    }

    /// <summary>What to do at the end.</summary>
    public sealed class PlanEnd
    {
        internal PlanEnd(Members node)
        {
            var repair = node.Object("replace");
            Replace = repair.Texts("components");
            Cost = repair.Number("cost");
            ResidualRisk = repair.Number("residual_risk");
            ExpectedCost = repair.Number("expected_cost");
            Verify = node.Each("verify", one => new PlanVerification(one));
        }

        /// <summary>The components to exchange and check, in that order.</summary>
        public IReadOnlyList<string> Replace { get; }

        /// <summary>Of exchanging all of them.</summary>
        public double Cost { get; }

        /// <summary>Probability that the complaint stays.</summary>
        public double ResidualRisk { get; }

        /// <summary>With what follows then.</summary>
        public double ExpectedCost { get; }

        /// <summary>What proves it.</summary>
        public IReadOnlyList<PlanVerification> Verify { get; }
    }

    /// <summary>A test that proves the repair. Show its cautions before it.</summary>
    public sealed class PlanVerification
    {
        internal PlanVerification(Members one)
        {
            Cautions = one.Texts("cautions");
            Observation = one.Text("observation");
            Title = one.Text("title");
            Energised = one.Flag("energised");
            Minutes = one.Number("minutes");
            Normal = one.Number("normal");
            RiskIfNormal = one.Number("risk_if_normal");
        }

        /// <summary>To be shown before the test.</summary>
        public IReadOnlyList<string> Cautions { get; }

        /// <summary>Id.</summary>
        public string Observation { get; }

        /// <summary>What to do.</summary>
        public string Title { get; }

        /// <summary>Needs power on or a load left up.</summary>
        public bool Energised { get; }

        /// <summary>What it takes.</summary>
        public double Minutes { get; }

        /// <summary>Probability of the normal outcome.</summary>
        public double Normal { get; }

        /// <summary>That the complaint stays, then.</summary>
        public double RiskIfNormal { get; }
    }
}

using System;
using System.Text;
using System.Threading;
using Faultodds;

/// <summary>Calls that are ended from outside.</summary>
public sealed class Cancelling
{
    private const string Bif =
        "variable a { type discrete [ 2 ] { x, y }; } probability ( a ) { table 0.25 0.75; }";

    private const string Header = "work_order,closed,component,finding\n";
    private const string OneOrder = Header + "1,2024-03-05,port_relief,none\n";

    private static OperationCanceledException Ended(Action call, string where)
    {
        var thrown = Check.Throws<OperationCanceledException>(call, where);
        var told = thrown.InnerException as FaultoddsException;
        Check.That(told != null && told.Code == "cancelled", where + ": the library's refusal is kept");
        return thrown;
    }

    // A network of which even the size of its tables takes long to find out.
    private static string Grid(int side)
    {
        var text = new StringBuilder();
        for (int i = 0; i < side * side; ++i)
        {
            string left = i % side > 0 ? "v" + (i - 1) : "", above = i >= side ? "v" + (i - side) : "";
            string parents = left + (left == "" || above == "" ? "" : ", ") + above;
            text.Append("variable v" + i + " { type discrete [ 2 ] { x, y }; }\n");
            text.Append("probability ( v" + i + (parents == "" ? "" : " | " + parents) + " ) { ");
            text.Append(parents == "" ? "table 0.4 0.6; }\n" : "default 0.3 0.7; }\n");
        }
        return text.ToString();
    }

    [Behaviour]
    public void ATokenCancelledBeforeEndsEveryCallItIsGivenTo()
    {
        using (var source = new CancellationTokenSource())
        using (var model = new Model(Documents.Lift))
        using (Case work = model.OpenCase())
        using (var network = new Network(Bif))
        {
            source.Cancel();
            CancellationToken token = source.Token;
            Ended(() => Engine.Assess(Documents.Lift, Documents.Drifts, null, token), "the one call");
            Ended(() => new Model(Documents.Lift, cancellationToken: token), "loading");
            Ended(() => model.Assess(Documents.Drifts, token), "assessing");
            Ended(() => model.Note(Documents.Drifts, token), "a note");
            Ended(() => model.NoteHtml(Documents.Drifts, token), "a page");
            Ended(() => model.Plan(Documents.Drifts, token), "a plan");
            Ended(() => work.Assess(token), "assessing a case");
            Ended(() => Case.AssessAll(new[] { work }, 2, token), "assessing several");
            work.Assess();
            Ended(() => work.Answer(token), "an answer");
            Ended(() => new Network(Bif, cancellationToken: token), "loading a network");
            Ended(() => network.Query(new NetworkEvidence(), token), "a query");
            Ended(() => Priors.Learn(Records.OfText(OneOrder), new LearnOptions("depot"), token), "learning");
            var ended = Ended(
                () => Priors.Backtest(Documents.Lift, Records.OfText(OneOrder), new BacktestOptions(), token),
                "replaying");
            Check.That(ended.CancellationToken == token, "the exception says which token");
        }
    }

    [Behaviour]
    public void TimeThatIsOverEndsACallThatRuns()
    {
        string text = Grid(25);
        using (var source = new CancellationTokenSource(TimeSpan.FromMilliseconds(100)))
            Ended(() => new Network(text, memoryBudget: 1UL << 40, cancellationToken: source.Token), "100 ms");
    }

    [Behaviour]
    public void AnotherThreadEndsACallThatRuns()
    {
        string text = Grid(25);
        using (var source = new CancellationTokenSource())
        {
            var other = new Thread(() =>
            {
                Thread.Sleep(100);
                source.Cancel();
            });
            other.Start();
            Ended(() => new Network(text, memoryBudget: 1UL << 40, cancellationToken: source.Token), "a thread");
            other.Join();
        }
    }

    [Behaviour]
    public void NotEndedACallAnswersAsWithoutAToken()
    {
        using (var source = new CancellationTokenSource(TimeSpan.FromHours(1)))
        using (var model = new Model(Documents.Lift, cancellationToken: source.Token))
        using (Case work = model.OpenCase())
        using (var network = new Network(Bif, cancellationToken: source.Token))
        {
            CancellationToken token = source.Token;
            string expected = model.Assess(Documents.Drifts).Json;
            Check.Same(expected, model.Assess(Documents.Drifts, token).Json, "assessing");
            Check.Same(
                expected, Engine.Assess(Documents.Lift, Documents.Drifts, null, token).Json, "the one call");
            Check.Same(model.Note(Documents.Drifts), model.Note(Documents.Drifts, token), "a note");
            Check.Same(model.NoteHtml(Documents.Drifts), model.NoteHtml(Documents.Drifts, token), "a page");
            work.Observe("drift/cylinder/retract", "fast");
            work.Assess(token);
            Check.Same(model.Assess(Documents.Drifts).LogEvidence, work.Answer(token).LogEvidence, "a case");
            Case.AssessAll(new[] { work }, 1, token);
            Check.Same(0.25, network.Query(new NetworkEvidence(), token).Posteriors["a"][0], "a query");
            Check.Same(
                Priors.Learn(Records.OfText(OneOrder), new LearnOptions("depot")).Pack,
                Priors.Learn(Records.OfText(OneOrder), new LearnOptions("depot"), token).Pack, "learning");
        }
    }

    [Behaviour]
    public void WhatACallWasEndedOnCanBeUsedOn()
    {
        using (var source = new CancellationTokenSource())
        using (var model = new Model(Documents.Lift))
        {
            source.Cancel();
            Ended(() => model.Assess(Documents.Drifts, source.Token), "ended");
            Check.That(model.Assess(Documents.Drifts).LogEvidence < 0, "answers");
        }
    }

    [Behaviour]
    public void ACallbackThatEndsLearningIsNoTokenThatDid()
    {
        using (var source = new CancellationTokenSource())
        {
            string orders = Header + "1,2024-03-05,haunted,none\n";
            var how = new LearnOptions("depot") { Reject = row => false };
            var told = Check.Throws<FaultoddsException>(
                () => Priors.Learn(Records.OfText(orders), how, source.Token), "a callback");
            Check.Same("cancelled", told.Code, "code");
        }
    }
}

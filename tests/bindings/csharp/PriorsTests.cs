using System;
using System.Collections.Generic;
using System.IO;
using System.Linq;
using Faultodds;

/// <summary>Prior packs. The records are invented.</summary>
public sealed class PriorPacks
{
    private const string Header =
        "work_order,opened,closed,asset_class,component,position,finding,grade,complaint,tests\n";

    private static readonly string Rows = Header + string.Concat(
        Enumerable.Range(0, 30).Select(i => Order(i, i % 3 == 0 ? "seat_leak,failed" : "none,")));

    private static string Order(int number, string finding, string closed = "2024-03-05", string tests = "")
    {
        return "W-" + number + ",2024-03-01," + closed + ",loader,port_relief,cap_relief," + finding
            + ",drift/cylinder/retract=fast," + tests + "\n";
    }

    private static LearnedPriors Learned(string rows, string source)
    {
        return Priors.Learn(Records.OfText(rows), new LearnOptions(source));
    }

    // Of the class where there is such an entry, else of every class.
    private static Dictionary<string, object> SeatLeak(string pack)
    {
        return Json.List(Json.Object(Json.Parse(pack))["modes"]).Select(Json.Object)
            .Where(mode => (string)mode["type"] == "port_relief" && (string)mode["mode"] == "seat_leak")
            .OrderBy(mode => mode.ContainsKey("asset_class") ? 0 : 1).First();
    }

    private static double NotSound(string pack)
    {
        return 1 - (double)Json.List(SeatLeak(pack)["grades"])[0];
    }

    [Behaviour]
    public void TheAuditNamesTheLatestOrdersOfEachModeAndCountsTheOthers()
    {
        string records = Rows + Order(100, "seat_leak,worn", "2024-04-01");
        LearnedPriors learned = Priors.Learn(Records.OfText(records), new LearnOptions("depot") { AuditOrders = 2 });
        var audit = Json.Object(Json.Object(Json.Parse(learned.Summary))["audit"]);
        var mode = Json.List(audit["modes"]).Select(Json.Object).First(one => (string)one["mode"] == "seat_leak");
        Check.Same("11 9", mode["found"] + " " + mode["left_out"], "orders");
        Check.Same("W-100", Json.Object(Json.List(mode["orders"])[0])["work_order"], "the latest");
    }

    [Behaviour]
    public void WhatIsLearnedIsAPackThatAModelTakes()
    {
        LearnedPriors learned = Priors.Learn(Records.OfText(Rows), new LearnOptions("depot") { Title = "Dépôt" });
        Check.Same(30.0, Json.Object(Json.Object(Json.Parse(learned.Summary))["work_orders"])["used"], "used");
        var counts = Json.Object(SeatLeak(learned.Pack)["counts"]);
        Check.Same("20 0 10", counts["sound"] + " " + counts["worn"] + " " + counts["failed"], "counts");
        using (var model = new Model(Documents.Lift, learned.Pack, "loader"))
        {
            Fault fault = model.Assess(Documents.Case()).Faults.Single(one => one.Mode == "cap_relief.seat_leak");
            Check.That(Math.Abs(1 - fault.Grades.Sound - NotSound(learned.Pack)) < 1e-9, "prior");
        }
    }

    [Behaviour]
    public void APathIsAFileAndOneThatIsNotThereIsToldByItsName()
    {
        string path = Path.GetTempFileName();
        File.WriteAllText(path, Rows);
        LearnedPriors of = Priors.Learn(Records.OfFile(path), new LearnOptions("depot"));
        File.Delete(path);
        Check.Same(Learned(Rows, "depot").Pack, of.Pack, "pack");
        var told = Check.Throws<FaultoddsException>(
            () => Priors.Learn(Records.OfFile(path), new LearnOptions("depot")), "no file");
        Check.That(told.Sentence.Contains(Path.GetFileName(path)), told.Sentence);
    }

    [Behaviour]
    public void AFileWithoutARowThatCanBeUsedIsRefused()
    {
        var told = Check.Throws<FaultoddsException>(() => Learned(Header + Order(1, "haunted,"), "depot"), "no row");
        Check.Same("invalid_argument", told.Code, "code");
        Check.That(told.Sentence.Contains("no row of `orders` was used"), told.Sentence);
    }

    [Behaviour]
    public void RowsThatCannotBeUsedAreHandedOverWithTheirReason()
    {
        var reasons = new List<string>();
        Func<string, bool> reject = row =>
        {
            reasons.Add(row.Split(',')[2]);
            return true;
        };
        Priors.Learn(
            Records.OfText(Rows + Order(99, "none,", "2024-02-30") + Order(1, "none,")),
            new LearnOptions("depot") { Reject = reject });
        Check.Same("impossible_date duplicate", string.Join(" ", reasons), "reasons");
    }

    [Behaviour]
    public void FalseFromACallbackEndsTheCallAndWhatOneThrowsComesThrough()
    {
        var told = Check.Throws<FaultoddsException>(
            () => Priors.Learn(Records.OfText(Rows), new LearnOptions("depot") { Progress = rows => false }), "false");
        Check.Same("cancelled", told.Code, "code");
        Func<string, bool> refuse = row => { throw new TimeoutException("no more"); };
        Check.Throws<TimeoutException>(
            () => Priors.Learn(
                Records.OfText(Header + Order(1, "haunted,")), new LearnOptions("depot") { Reject = refuse }),
            "thrown");
    }

    [Behaviour]
    public void ExposureGivesRates()
    {
        var exposure = Records.OfText("component,asset_class,in_service,hours\nport_relief,loader,12,60000\n");
        LearnedPriors learned = Priors.Learn(Records.OfText(Rows), new LearnOptions("depot") { Exposure = exposure });
        var rate = Json.Object(Json.Object(SeatLeak(learned.Pack)["posterior"])["rate_per_hour"]);
        Check.Same(10.5, rate["alpha"], "alpha");
        Check.Same(60000.0, rate["beta"], "beta");
    }

    [Behaviour]
    public void ThroughTheCircuitComplaintsAreCorrectedForAndThreadsChangeNothing()
    {
        string opened = Header + string.Concat(Enumerable.Range(0, 30).Select(i => i % 3 == 0
            ? Order(i, "seat_leak,failed", tests: "static/section.a=would_not_build")
            : Order(i, "none,", tests: "static/section.a=held")));
        var packs = new[] { 1, 2 }.Select(threads => Priors.Learn(
            Records.OfText(opened),
            new LearnOptions("depot") { Circuit = Documents.Lift, ThroughCircuit = true, Threads = threads }).Pack).ToList();
        Check.Same(packs[0], packs[1], "packs");
        Check.That(NotSound(packs[0]) < 0.75 * NotSound(Learned(opened, "depot").Pack), "corrected for");
    }

    [Behaviour]
    public void MergingIsPoolingAndTheDifferenceSaysOnHowManyJobs()
    {
        string two = Order(1, "none,") + Order(2, "none,"), third = Order(3, "seat_leak,");
        string north = Learned(Header + two, "north").Pack;
        string merged = Priors.Merge(north, Learned(Header + third, "south").Pack);
        Check.Same(NotSound(Learned(Header + two + third, "all").Pack), NotSound(merged), "pooled");
        var change = Json.Object(Json.List(Json.Object(Json.Parse(Priors.Diff(north, merged)))["changes"])[0]);
        Check.Same(2.0, Json.Object(change["before"])["jobs"], "before");
        Check.Same(3.0, Json.Object(change["after"])["jobs"], "after");
        Check.That(Json.List(Json.Object(Json.Parse(Priors.Diff(null, merged)))["changes"]).Count > 0, "shipped");
        Check.Throws<FaultoddsException>(() => Priors.Merge(north, north), "one source twice");
    }

    [Behaviour]
    public void ANumberThatCHasNoRoomForIsRefused()
    {
        Records rows = Records.OfText(Rows);
        Check.Throws<ArgumentOutOfRangeException>(
            () => Priors.Learn(rows, new LearnOptions("depot") { Threads = 0 }), "threads of learning");
        foreach (var how in new[] { new BacktestOptions { Threads = -1 }, new BacktestOptions { MostJobs = -1 } })
            Check.Throws<ArgumentOutOfRangeException>(
                () => Priors.Backtest(Documents.Lift, rows, how), "a negative number");
    }

    [Behaviour]
    public void JobsAreReplayedWithBothPacks()
    {
        Records closed = Records.OfText(Header + string.Concat(Enumerable.Range(0, 16).Select(i => i % 4 == 0
            ? Order(i, "none,", "2024-03-" + (2 + i).ToString("00"), "static/section.a=held")
            : Order(i, "seat_leak,failed", "2024-03-" + (2 + i).ToString("00"), "static/section.a=would_not_build"))));
        var told = new List<long>();
        Func<long, bool> progress = done =>
        {
            told.Add(done);
            return true;
        };
        var answer = Json.Object(Json.Parse(
            Priors.Backtest(Documents.Lift, closed, new BacktestOptions { Progress = progress })));
        Check.Same(16.0, answer["jobs"], "jobs");
        Check.Same(32, told.Count, "told");
        string pack = Learned(Header + Order(1, "none,"), "one").Pack;
        var itself = Json.Object(Json.Parse(Priors.Backtest(
            Documents.Lift, closed, new BacktestOptions { Before = pack, After = pack, Threads = 2 })));
        Check.Same("cannot_tell", itself["verdict"], "verdict");
        var few = Check.Throws<FaultoddsException>(
            () => Priors.Backtest(Documents.Lift, closed, new BacktestOptions { MostJobs = 4 }), "few jobs");
        Check.That(few.Sentence.Contains("10 at least"), few.Sentence);
    }
}

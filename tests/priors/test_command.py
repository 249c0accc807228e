"""test_command.py FAULTODDS-PRIORS EXAMPLES: the command's arguments, exit codes, files and answers, on
invented records."""

import csv
import datetime
import io
import json
import re
import resource
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

csv.field_size_limit(1 << 24)
COMMAND, EXAMPLES = sys.argv[1], Path(sys.argv[2])
CIRCUIT = EXAMPLES / "refuse_truck" / "circuit.json"
SHIPPED = EXAMPLES.parent / "priors" / "packs" / "shipped.json"
HEADER = "work_order,closed,asset_class,component,finding,grade,hours\r\n"
SOUND = "W-{},2024-03-0{},loader,port_relief,none,,120\r\n"


class CommandTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)

    def path(self, name):
        return str(self.folder / name)

    def write(self, name, content):
        data = content if isinstance(content, bytes) else content.encode()
        (self.folder / name).write_bytes(data)
        return self.path(name)

    def run_command(self, *arguments, expect=0):
        done = subprocess.run([COMMAND, *map(str, arguments)], capture_output=True, text=True,
                              timeout=300)
        if expect is not None:
            self.assertEqual(done.returncode, expect, done.stderr + done.stdout)
        return done

    def learn(self, content, *more, source="depot", out="pack.json", expect=0):
        """What was printed, the pack, and the rejects as lists of cells."""
        orders = self.write("orders.csv", content)
        done = self.run_command("learn", "--quiet", "--orders", orders, "--source", source, "--out",
                                self.path(out), "--rejects", self.path("rejects.csv"), *more,
                                expect=expect)
        if expect != 0:
            return done
        with open(self.path("rejects.csv"), newline="", encoding="utf-8") as file:
            rejects = list(csv.reader(file))
        self.assertEqual(rejects[0], ["line", "offset", "reason", "detail", "record"])
        return done.stdout, json.loads((self.folder / out).read_text()), rejects[1:]

    def reasons(self, content):
        printed, pack, rejects = self.learn(content)
        rows, used, rejected = map(int, re.findall(r"(\d+) (?:rows|used|rejected)", printed)[:3])
        self.assertEqual(rows, used + rejected)
        self.assertEqual(rejected, len(rejects))
        counts = pack["learning"]["sources"][0].get("rejected", {})
        self.assertEqual(sum(counts.values()), rejected)
        for reason, rows in counts.items():
            self.assertIn(f"  {reason}: {rows}\n", printed)
        return used, [reject[2] for reject in rejects], rejects


class Arguments(CommandTest):
    def test_without_a_subcommand_it_says_what_there_is(self):
        done = self.run_command(expect=106)
        self.assertIn("subcommand is required", done.stderr + done.stdout)
        for name in ("learn", "merge", "diff", "backtest", "report", "demo"):
            self.assertIn(name, self.run_command("--help").stdout)

    def test_what_is_missing_is_named(self):
        done = self.run_command("learn", "--out", self.path("p.json"), expect=106)
        self.assertIn("--orders", done.stderr + done.stdout)

    def test_a_file_that_is_not_there_is_named_and_nothing_is_written(self):
        done = self.run_command("learn", "--quiet", "--orders", self.path("no.csv"), "--source", "d",
                                "--out", self.path("p.json"), expect=1)
        self.assertIn("no.csv cannot be opened", done.stderr)
        self.assertFalse((self.folder / "p.json").exists())
        done = self.run_command("report", "--after", self.path("no.json"), "--html",
                                self.path("r.html"), expect=1)
        self.assertIn("no.json cannot be opened", done.stderr)
        self.assertFalse((self.folder / "r.html").exists())

    def test_progress_goes_to_stderr_unless_told_to_be_quiet(self):
        row = "W-{},2024-03-01,loader,port_relief,none,," + "9" * 4000 + "\r\n"
        orders = self.write("orders.csv", HEADER + SOUND.format(1, 1) + "".join(map(row.format, range(6000))))
        learn = ["learn", "--orders", orders, "--source", "d", "--out", self.path("p.json")]
        done = self.run_command(*learn)
        self.assertRegex(done.stderr, r"\d+ rows, \d+ MiB")
        self.assertNotIn("MiB", done.stdout)
        self.assertEqual(self.run_command(*learn, "--quiet").stderr, "")

    def test_orders_that_the_circuit_cannot_hold_are_counted_and_the_first_is_named(self):
        orders = self.write("orders.csv", HEADER.replace("hours", "tests") +
                            "W-2,2024-03-01,loader,port_relief,seat_leak,failed,\r\n"
                            "W-1,2024-03-01,loader,port_relief,seat_leak,failed,static/nowhere=held\r\n")
        done = self.run_command("learn", "--quiet", "--orders", orders, "--source", "d", "--circuit",
                                CIRCUIT, "--through-circuit", "--out", self.path("p.json"))
        self.assertRegex(done.stdout, r"not understood on the circuit: 1, the first: .*static/nowhere")

    def test_a_place_that_cannot_be_written_is_named(self):
        orders = self.write("orders.csv", HEADER + SOUND.format(1, 1))
        for option in ("--out", "--rejects"):
            out = ["--out", self.path("p.json")] if option != "--out" else []
            done = self.run_command("learn", "--quiet", "--orders", orders, "--source", "d", *out,
                                    option, self.path("nowhere/file"), expect=1)
            self.assertIn("nowhere/file cannot be written", done.stderr)

    def test_a_column_that_must_be_there_is_named(self):
        done = self.learn("work_order,closed,component\r\n", expect=1)
        self.assertIn("finding", done.stderr)

    def test_a_mistake_in_the_mapping_has_its_place(self):
        mapping = self.write("m.json", '{"format": "faultodds-records/1", "delimiter": 7}')
        done = self.learn(HEADER, "--mapping", mapping, expect=1)
        self.assertIn("at /delimiter", done.stderr)
        mapping = self.write("m.json", '{"format": "faultodds-records/1", "columns": {"closd": "d"}}')
        self.assertIn("closd", self.learn(HEADER, "--mapping", mapping, expect=1).stderr)


class Packs(CommandTest):
    def test_merging_gives_what_learning_from_all_records_gives(self):
        rows = [SOUND.format(i, 1 + i % 9) for i in range(40)]
        rows += [f"X-{i},2024-05-01,loader,port_relief,seat_leak,failed,{900 + 13 * i}\r\n"
                 for i in range(12)]
        self.learn(HEADER + "".join(rows[::2]), source="north", out="north.json")
        self.learn(HEADER + "".join(rows[1::2]), source="south", out="south.json")
        _, pooled, _ = self.learn(HEADER + "".join(rows), out="pooled.json")
        self.run_command("merge", self.path("north.json"), self.path("south.json"), "--id", "both",
                         "--out", self.path("both.json"))
        merged = json.loads((self.folder / "both.json").read_text())
        self.assertEqual(merged["id"], "both")
        self.assertEqual(merged["learning"]["statistics"], pooled["learning"]["statistics"])

        def numbers(pack):
            return [[entry[key] for key in ("type", "mode", "grades", "interval", "counts")]
                    for entry in pack["modes"]]

        self.assertEqual(numbers(merged), numbers(pooled))
        done = self.run_command("merge", self.path("north.json"), self.path("north.json"), "--out",
                                self.path("twice.json"), expect=1)
        self.assertIn("north", done.stderr)

    def test_the_difference_names_the_mode_and_its_jobs(self):
        rows = [f"X-{i},2024-05-01,loader,port_relief,seat_leak,failed,\r\n" for i in range(30)]
        self.learn(HEADER + "".join(rows))
        lines = self.run_command("diff", SHIPPED, self.path("pack.json")).stdout.splitlines()
        self.assertRegex(lines[1], r"^port_relief\.seat_leak \[loader\] .* 30$")


class HostileRecords(CommandTest):
    def test_a_quote_never_closed_costs_one_line(self):
        used, reasons, rejects = self.reasons(
            HEADER + SOUND.format(1, 1) + 'W-2,2024-03-02,"loader,port_relief,none,,\r\n' +
            SOUND.format(3, 3))
        self.assertEqual((used, reasons), (2, ["quote_not_closed"]))
        self.assertEqual(rejects[0][0], "3")

    def test_quotes_that_nest_like_a_bomb_are_read_in_linear_time(self):
        bomb = 'W-2,"' + '""' * 200_000 + "x\r\n"
        used, reasons, _ = self.reasons(HEADER + SOUND.format(1, 1) + bomb * 20 + SOUND.format(3, 3))
        self.assertEqual(used, 2)
        self.assertLessEqual(set(reasons), {"quote_not_closed", "text_after_quote"})

    def test_a_line_of_a_gigabyte_is_skipped_at_constant_memory(self):
        orders = self.folder / "long.csv"
        with open(orders, "wb") as file:
            file.write((HEADER + SOUND.format(1, 1) + "W-2,").encode())
            file.seek(1 << 30, io.SEEK_CUR)  # a hole: bytes of 0, no room on the disk
            file.write(("\r\n" + SOUND.format(3, 3)).encode())

        def limit():
            resource.setrlimit(resource.RLIMIT_AS, (512 << 20, 512 << 20))

        done = subprocess.run([COMMAND, "learn", "--quiet", "--orders", orders, "--source", "d",
                               "--out", self.path("p.json")], capture_output=True, text=True,
                              preexec_fn=limit, timeout=300)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("3 rows, 2 used, 1 rejected\n  row_too_long: 1\n", done.stdout)

    def test_more_fields_than_any_table_has_are_refused(self):
        used, reasons, _ = self.reasons(HEADER + "," * 5000 + "\r\n" + SOUND.format(1, 1))
        self.assertEqual((used, reasons), (1, ["too_many_fields"]))

    def test_line_ends_may_be_mixed_and_a_byte_order_mark_may_come_first(self):
        rows = "\ufeff" + HEADER + (SOUND.format(1, 1) + SOUND.format(2, 2).replace("\r\n", "\n") +
                                    SOUND.format(3, 3).replace("\r\n", "\r") + SOUND.format(4, 4))
        self.assertEqual(self.reasons(rows)[:2], (4, []))

    def test_bytes_that_are_not_utf8_and_control_characters_are_named(self):
        used, reasons, _ = self.reasons(
            (HEADER + SOUND.format(1, 1).replace("loader", "l\u00e4der")).encode() +
            b"W-2,2024-03-02,l\xe4der,port_relief,none,,\r\n" +
            b"W-3,2024-03-02,l\x00der,port_relief,none,,\r\n")
        self.assertEqual((used, reasons), (1, ["not_utf8", "control_character"]))

    def test_utf16_and_windows_1252_are_read_and_other_files_are_named(self):
        rows = HEADER + SOUND.format(1, 1).replace("loader", "l\u00e4der")
        self.assertEqual(self.reasons(rows.encode("utf-16"))[:2], (1, []))
        self.assertEqual(self.reasons(rows.encode("cp1252"))[:2], (1, []))
        self.assertIn("xlsx", self.learn(b"PK\x03\x04" + bytes(30), expect=1).stderr)

    def test_what_is_wrong_with_a_row_is_told_apart(self):
        rows = [
            SOUND.format(1, 1), SOUND.format(1, 1),
            "W-2,2024-02-30,loader,port_relief,none,,\r\n",
            "W-3,2024-03-01,loader,flux_valve,none,,\r\n",
            "W-4,2024-03-01,loader,port_relief,haunted,,\r\n",
            "W-5,2024-03-01,loader,port_relief,seat_leak,awful,\r\n",
            "W-6,2024-03-01,loader,port_relief,none,,-5\r\n",
            "W-7,2024-03-01,loader,port_relief,none,,many\r\n",
            ",2024-03-01,loader,port_relief,none,,\r\n",
            "W-8,2024-03-01\r\n"]
        self.assertEqual(self.reasons(HEADER + "".join(rows))[:2], (1, [
            "duplicate", "impossible_date", "unknown_component", "unknown_finding", "unknown_grade",
            "negative_hours", "not_a_number", "missing_value", "wrong_field_count"]))

    def test_formulas_stay_text_in_the_rejects_and_in_the_report(self):
        formula = "=HYPERLINK(1)<script>alert(1)</script>"
        rows = f"{formula},2024-02-30,{formula},port_relief,none,,\r\n"
        rows += f"W-2,2024-03-01,{formula},port_relief,none,,\r\n"
        _, _, rejects = self.learn(HEADER + rows, "--title", formula, source="depot")
        self.assertEqual(rejects[0][2], "impossible_date")
        self.assertTrue(rejects[0][4].startswith("'="), rejects[0])
        self.run_command("report", "--after", self.path("pack.json"), "--html", self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        self.assertNotIn("<script", page)
        self.assertIn("&lt;script&gt;", page)
        self.assertIn("impossible_date 1", page)


class Reports(CommandTest):
    def test_the_report_draws_wear_out_with_its_numbers(self):
        # The failures of NIST/SEMATECH 8.4.1.3, ten more running at 500 h: shape 1.7208, scale 606.5 h
        # where they alone decide; the shipped judgement of the shape draws it a little.
        hours = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
        rows = "".join(f"X-{i},2024-05-01,,port_relief,seat_leak,failed,{h}\r\n"
                       for i, h in enumerate(hours))
        exposure = self.write("exposure.csv",
                              "component,in_service,hours,age\r\nport_relief,10,7771,500\r\n")
        self.learn(HEADER + rows, "--exposure", exposure)
        self.run_command("report", "--after", self.path("pack.json"), "--html", self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        found = re.search(r"<h3>port_relief\.seat_leak</h3><p>shape ([\d.]+) \(([\d.]+) to ([\d.]+)\), "
                          r"scale ([\d.]+) h \(([\d.]+) to ([\d.]+)\), 10 not sound of 20 lives", page)
        self.assertIsNotNone(found, page[-3000:])
        shape, shape_low, shape_high, scale, scale_low, scale_high = map(float, found.groups())
        self.assertAlmostEqual(shape / 1.7208, 1, delta=0.05)
        self.assertAlmostEqual(scale / 606.5, 1, delta=0.03)
        self.assertTrue(shape_low < 1.7208 < shape_high and scale_low < 606.5 < scale_high)
        plot = page[found.end():]
        self.assertIn("Weibull plot: share no longer sound by hours", plot)
        # The line of the lives alone is the handbook's, and fits.
        self.assertIn("Line: shape 1.721, scale 606.5 h", plot)
        self.assertRegex(plot, r"Goodness of fit: Anderson-Darling 70\.7\d, p [\d.]+: a Weibull line fits")
        # A dot for each age at which one failed, the band, its line and that of the pack.
        plot = plot[:plot.index("</svg>")]
        self.assertEqual(plot.count("<circle"), len(set(hours)))
        self.assertEqual(plot.count("<polygon"), 1)
        self.assertEqual(plot.count("<path"), 2)
        self.assertNotIn("nan", plot)
        self.assertNotIn("inf", plot)

    def test_the_report_says_what_fails_most_with_its_share(self):
        rows = [("seat_leak", 3), ("none", 7)]
        content = HEADER + "".join(f"W-{mode}{i},2024-03-01,loader,port_relief,{mode},,\r\n"
                                   for mode, count in rows for i in range(count))
        content += "W-x,2024-03-02,loader,main_relief,seat_leak,,\r\n"
        self.learn(content)
        self.run_command("report", "--after", self.path("pack.json"), "--html", self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        self.assertRegex(page, r"What fails most(?s:.)*port_relief\.seat_leak, 3<(?s:.)*75 % so far(?s:.)*main_relief\.seat_leak, 1<(?s:.)*100 % so far")

    def test_a_report_on_no_records_says_what_it_has_none_of(self):
        self.run_command("report", "--after", SHIPPED, "--html", self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        self.assertIn("No mode has enough failures with hours.", page)
        self.assertIn("No asset class has records of its own.", page)


    MACHINES = "work_order,closed,asset,asset_class,component,finding,grade,hours\r\n"

    def machines(self, days, exposure=True):
        """The report on machines L0, L1... of class loader whose faults were on these days of 2024; L9 had none."""
        rows = [f"W-{number}-{day},{datetime.date(2024, 1, 1) + datetime.timedelta(day)},L{number},loader,"
                "port_relief,seat_leak,failed,\r\n" for number, of_machine in enumerate(days) for day in of_machine]
        self.learn(self.MACHINES + "".join(rows))
        watched = "asset,asset_class,component,in_service,from,to\r\n" + "".join(
            f"L{number},loader,port_relief,1,2024-01-01,2024-12-31\r\n" for number in [*range(len(days)), 9])
        more = ["--exposure", self.write("exposure.csv", watched)] if exposure else []
        self.run_command("report", "--after", self.path("pack.json"), "--orders", self.path("orders.csv"), *more,
                         "--html", self.path("r.html"))
        return (self.folder / "r.html").read_text(encoding="utf-8")

    def test_faults_that_come_ever_faster_are_told(self):
        page = self.machines([[200, 280, 320, 340, 350, 355, 360]] * 3)
        self.assertIn("4 machines, 21 faults.", page)
        self.assertRegex(page, r"<b>Faults come faster</b>: Laplace [\d.]+, p [\de.-]+; Military Handbook "
                               r"[\d.]+ of 42 degrees")
        self.assertIn("Mean cumulative function: faults per machine", page)
        self.assertNotIn("curves lie too high", page)

    def test_faults_that_come_evenly_have_no_trend(self):
        page = self.machines([[30, 90, 150, 210, 270, 330], [60, 120, 180, 240, 300, 355]])
        self.assertIn("No trend can be told: Laplace", page)

    def test_without_exposure_it_says_whom_the_curves_leave_out(self):
        page = self.machines([[30, 200], [77]], exposure=False)
        self.assertIn("those that never failed are not among these, so that the curves lie too high", page)

    def test_orders_that_name_no_machine_are_counted(self):
        self.learn(HEADER + "W-1,2024-05-01,loader,port_relief,seat_leak,failed,9\r\n")
        self.run_command("report", "--after", self.path("pack.json"), "--orders", self.path("orders.csv"), "--html",
                         self.path("r.html"))
        self.assertIn("No order names a machine", (self.folder / "r.html").read_text(encoding="utf-8"))

    def test_rows_that_were_refused_stand_with_examples(self):
        rows = [SOUND.format(1, 1), "W-2,2024-02-30,loader,port_relief,none,,\r\n",
                "W-3,2024-03-01,loader,warp_drive,none,,\r\n"]
        self.learn(HEADER + "".join(rows))
        self.run_command("report", "--after", self.path("pack.json"), "--orders", self.path("orders.csv"), "--html",
                         self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        self.assertRegex(page, r"<td>impossible_date</td><td>1</td><td>line 3: .*2024-02-30")
        self.assertRegex(page, r"<td>unknown_component</td><td>1</td><td>line 4: .*warp_drive")

    def test_orders_of_a_circuit_are_replayed(self):
        self.run_command("demo", "--circuit", CIRCUIT, "--out", self.path("demo.csv"), "--jobs", 60,
                         "--fewest-tests", 2, "--most-tests", 4)
        self.run_command("report", "--after", SHIPPED, "--orders", self.path("demo.csv"), "--circuit", CIRCUIT,
                         "--sample", 12, "--quiet", "--html", self.path("r.html"))
        page = (self.folder / "r.html").read_text(encoding="utf-8")
        self.assertIn("<h2>Backtest</h2><p>12 jobs replayed", page)
        for plot in ("Share of the faults isolated", "Log score, offered less present, added up",
                     "Share found not sound against the odds given"):
            self.assertIn(plot, page)

    def test_exposure_needs_orders(self):
        done = self.run_command("report", "--after", SHIPPED, "--exposure", SHIPPED, "--html", self.path("r.html"),
                                expect=None)
        self.assertNotEqual(done.returncode, 0)
        self.assertIn("--orders", done.stderr + done.stdout)


class Backtests(CommandTest):
    def demo(self, *more):
        self.run_command("demo", "--circuit", CIRCUIT, "--out", self.path("demo.csv"), "--jobs", 70,
                         "--replace", *more)
        return self.path("demo.csv")

    def test_demo_records_are_the_same_for_the_same_seed(self):
        first = Path(self.demo("--seed", 5)).read_bytes()
        self.assertEqual(Path(self.demo("--seed", 5)).read_bytes(), first)
        self.assertNotEqual(Path(self.demo("--seed", 6)).read_bytes(), first)

    def test_the_table_has_both_packs_and_a_verdict_and_the_report_its_plots(self):
        orders = self.demo("--fewest-tests", 3, "--most-tests", 6)
        done = self.run_command("backtest", "--quiet", "--circuit", CIRCUIT, "--orders", orders,
                                "--sample", 20, "--html", self.path("r.html"))
        self.assertIn("0 rejected", done.stdout)
        for row in ("present", "offered", "recorded order", "log score", "tests", "minutes"):
            self.assertRegex(done.stdout, rf"(?m)^{row}")
        self.assertRegex(done.stdout, r"(?m)^(better|cannot tell|worse): .* on 20 jobs$")
        self.assertIn("<svg", (self.folder / "r.html").read_text(encoding="utf-8"))

    def test_a_worse_pack_is_refused_with_an_exit_code_of_its_own(self):
        orders = self.demo("--fewest-tests", 3, "--most-tests", 6)
        pack = json.loads(SHIPPED.read_text())  # and somebody who takes everything for worn out
        for mode in pack["modes"]:
            for key in set(mode) - {"type", "mode", "asset_class", "grades"}:
                del mode[key]
            mode["grades"] = [0.4, 0.3, 0.3]
        worse = self.write("worse.json", json.dumps(pack))
        done = self.run_command("backtest", "--quiet", "--circuit", CIRCUIT, "--orders", orders,
                                "--after", worse, "--sample", 60, expect=2)
        self.assertRegex(done.stdout, r"(?m)^worse: its odds were worse")

    def test_too_few_jobs_are_no_backtest(self):
        orders = self.demo()
        done = self.run_command("backtest", "--quiet", "--circuit", CIRCUIT, "--orders", orders,
                                "--sample", 5, expect=1)
        self.assertIn("10 at least", done.stderr)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])

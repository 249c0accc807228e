"""test_files.py FAULTODDS-PRIORS EXAMPLES: no output of the command can destroy a file that it reads, nor leave a
part of one: what is refused, what a full disk leaves, what an output keeps of the file it replaces."""

import json
import os
import resource
import stat
import subprocess
import sys
import threading
import time
import unittest
from pathlib import Path

from test_command import CIRCUIT, COMMAND, HEADER, SOUND, CommandTest

ROWS = HEADER + "".join(SOUND.format(i, 1 + i % 9) for i in range(40))
REJECTED = "W-9,2024-02-30,loader,port_relief,none,,\r\n"
OLD = "what was there before\n"
# Small records as a big file: with a row too long, the rejects do not fit where the pack does.
LONG = "W-8,2024-02-30,loader,port_relief,none,," + "9" * 3000 + "\r\n"


class FilesTest(CommandTest):
    def setUp(self):
        super().setUp()
        self.orders = self.write("orders.csv", ROWS + REJECTED)
        self.pack = self.path("north.json")
        self.learn_command = ["learn", "--quiet", "--orders", self.orders, "--source", "north"]

    def learn_packs(self):
        self.run_command(*self.learn_command, "--out", self.pack)
        self.south = self.path("south.json")
        self.run_command("learn", "--quiet", "--orders", self.orders, "--source", "south", "--out", self.south)

    def nothing_changes(self, *arguments, naming, expect=1):
        """The run is refused in words that name both options; every file is as it was and there is no other."""
        before = self.everything()
        done = self.run_command(*arguments, expect=expect)
        self.assertEqual(self.everything(), before)
        for option in naming:
            self.assertIn(option, done.stderr)
        return done

    def everything(self):
        files = {}
        for path in sorted(self.folder.rglob("*")):
            kept = os.lstat(path)
            content = path.read_bytes() if path.is_file() else b""
            files[str(path)] = (kept.st_ino, kept.st_mode, content)
        return files

    def names(self):
        return sorted(os.listdir(self.folder))


class AnOutputThatIsAnInput(FilesTest):
    def test_rejects_naming_the_orders_are_refused(self):
        self.nothing_changes(*self.learn_command, "--out", self.pack, "--rejects", self.orders,
                             naming=["--rejects", "--orders", "orders.csv"])

    def test_a_pack_naming_the_orders_is_refused(self):
        self.nothing_changes(*self.learn_command, "--out", self.orders, naming=["--out", "--orders"])

    def test_the_same_file_by_another_spelling_is_refused(self):
        self.nothing_changes(*self.learn_command, "--out", f"{self.folder}//./orders.csv",
                             naming=["--out", "--orders"])
        (self.folder / "sub").mkdir()
        self.nothing_changes(*self.learn_command, "--out", self.path("sub/../orders.csv"),
                             naming=["--out", "--orders"])

    def test_a_symbolic_link_to_an_input_is_refused(self):
        os.symlink(self.orders, self.path("link.csv"))
        os.symlink("link.csv", self.path("link2.csv"))
        for name in ("link.csv", "link2.csv"):
            self.nothing_changes(*self.learn_command, "--out", self.path(name), naming=["--out", "--orders"])
        self.nothing_changes("learn", "--quiet", "--source", "n", "--orders", self.path("link.csv"), "--out",
                             self.orders, naming=["--out", "--orders"])

    def test_a_hard_link_to_an_input_is_refused(self):
        os.link(self.orders, self.path("hard.csv"))
        self.nothing_changes(*self.learn_command, "--out", self.pack, "--rejects", self.path("hard.csv"),
                             naming=["--rejects", "--orders"])

    def test_every_document_that_learning_reads_is_kept_from_both_outputs(self):
        self.learn_packs()
        inputs = {
            "--mapping": self.write("m.json", '{"format": "faultodds-records/1"}'),
            "--exposure": self.write("e.csv", "component,in_service,hours\r\nport_relief,10,7771\r\n"),
            "--circuit": self.write("c.json", CIRCUIT.read_bytes()),
            "--judgement": self.south}
        given = [word for pair in inputs.items() for word in pair]
        for option, path in inputs.items():
            self.nothing_changes(*self.learn_command, *given, "--out", path, naming=["--out", option])
            self.nothing_changes(*self.learn_command, *given, "--out", self.path("p.json"), "--rejects", path,
                                 naming=["--rejects", option])

    def test_merging_into_a_pack_that_is_merged_is_refused(self):
        self.learn_packs()
        os.link(self.south, self.path("hard.json"))
        for out in (self.pack, self.path("hard.json")):
            self.nothing_changes("merge", self.pack, self.south, "--out", out, naming=["--out", "packs"])

    def test_a_report_naming_its_pack_is_refused(self):
        self.learn_packs()
        self.nothing_changes("report", "--after", self.pack, "--html", self.pack, naming=["--html", "--after"])
        self.nothing_changes("report", "--before", self.south, "--after", self.pack, "--html", self.south,
                             naming=["--html", "--before"])

    def test_a_backtest_whose_report_names_what_it_reads_is_refused(self):
        self.learn_packs()
        circuit = self.write("c.json", CIRCUIT.read_bytes())
        mapping = self.write("m.json", '{"format": "faultodds-records/1"}')
        inputs = {"--orders": self.orders, "--circuit": circuit, "--before": self.pack, "--after": self.south,
                  "--mapping": mapping}
        given = [word for pair in inputs.items() for word in pair]
        for option, path in inputs.items():
            self.nothing_changes("backtest", "--quiet", *given, "--html", path, naming=["--html", option])

    def test_invented_orders_naming_the_circuit_are_refused_even_if_they_may_replace(self):
        circuit = self.write("c.json", CIRCUIT.read_bytes())
        for more in ([], ["--replace"]):
            self.nothing_changes("demo", "--circuit", circuit, "--jobs", 1, "--out", circuit, *more,
                                 naming=["--out", "--circuit"])

    def test_records_on_standard_input_are_known_by_their_file_too(self):
        before = self.everything()
        with open(self.orders, "rb") as standard_input:
            done = subprocess.run([COMMAND, "learn", "--quiet", "--orders", "/dev/stdin", "--source", "n", "--out",
                                   self.orders], stdin=standard_input, capture_output=True, text=True, timeout=60)
        self.assertEqual(done.returncode, 1)
        self.assertEqual(self.everything(), before)
        self.assertIn("--orders", done.stderr)


class TwoOutputsThatAreOneFile(FilesTest):
    def test_by_one_name_are_refused_whether_the_file_is_there_or_not(self):
        naming = ["--out", "--rejects"]
        one = self.path("one")
        self.nothing_changes(*self.learn_command, "--out", one, "--rejects", one, naming=naming)
        (self.folder / "sub").mkdir()
        self.nothing_changes(*self.learn_command, "--out", one, "--rejects", self.path("sub/../one"), naming=naming)
        self.write("one", OLD)
        self.nothing_changes(*self.learn_command, "--out", one, "--rejects", one, naming=naming)

    def test_by_links_are_refused_even_where_the_links_lead_nowhere_yet(self):
        naming = ["--out", "--rejects"]
        os.symlink("one", self.path("link"))
        self.nothing_changes(*self.learn_command, "--out", self.path("one"), "--rejects", self.path("link"),
                             naming=naming)
        self.write("two", OLD)
        os.link(self.path("two"), self.path("hard"))
        self.nothing_changes(*self.learn_command, "--out", self.path("two"), "--rejects", self.path("hard"),
                             naming=naming)


class AFullDisk(FilesTest):
    """A limit on the size of files is met as a full disk is: a write that is not taken."""

    def run_limited(self, size, *arguments):
        def limit():
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

        return subprocess.run([COMMAND, *map(str, arguments)], capture_output=True, text=True,
                              preexec_fn=limit, timeout=60)

    def stays(self, size, *arguments, naming):
        before = self.everything()
        done = self.run_limited(size, *arguments)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertEqual(self.everything(), before)
        self.assertIn(naming, done.stderr)
        self.assertIn("cannot be written", done.stderr)

    def test_leaves_the_old_pack_and_no_part_of_a_new_one(self):
        self.learn_packs()
        pack = self.write("pack.json", OLD)
        self.stays(1024, *self.learn_command, "--out", pack, naming="pack.json")
        self.stays(1024, "merge", self.pack, self.south, "--out", pack, naming="pack.json")
        self.stays(1024, *self.learn_command, "--out", self.path("new.json"), naming="new.json")

    def test_leaves_the_old_report(self):
        self.learn_packs()
        page = self.write("r.html", OLD)
        self.stays(1024, "report", "--after", self.pack, "--html", page, naming="r.html")

    def test_leaves_the_old_invented_orders(self):
        out = self.write("demo.csv", OLD)
        self.stays(1024, "demo", "--circuit", CIRCUIT, "--jobs", 200, "--replace", "--out", out, naming="demo.csv")

    def test_met_by_one_of_two_outputs_leaves_both_as_they_were(self):
        self.write("orders.csv", ROWS + LONG * 300)
        pack, rejects = self.write("pack.json", OLD), self.write("rejects.csv", OLD)
        self.stays(600_000, *self.learn_command, "--out", pack, "--rejects", rejects, naming="rejects.csv")
        self.write("orders.csv", ROWS)
        self.stays(4096, *self.learn_command, "--out", pack, "--rejects", rejects, naming="pack.json")

    def test_a_disk_that_is_really_full_leaves_the_old_pack(self):
        disk = self.folder / "disk"
        disk.mkdir()
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", disk], capture_output=True,
                                 text=True)
        if mounted.returncode != 0:
            self.skipTest(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
        self.addCleanup(subprocess.run, ["umount", disk], check=True)
        pack = disk / "pack.json"
        pack.write_text(OLD)
        (disk / "ballast").write_bytes(b"x" * (56 << 10))
        done = self.run_command(*self.learn_command, "--out", pack, expect=1)
        self.assertIn("No space left", done.stderr)
        self.assertEqual(pack.read_text(), OLD)
        self.assertEqual(sorted(os.listdir(disk)), ["ballast", "pack.json"])

    def test_an_output_that_takes_nothing_is_no_success(self):
        done = self.run_command(*self.learn_command, "--out", "/dev/full", expect=1)
        self.assertIn("/dev/full cannot be written", done.stderr)
        self.assertTrue(stat.S_ISCHR(os.stat("/dev/full").st_mode))
        self.learn_packs()
        with open("/dev/full", "wb") as full:
            done = subprocess.run([COMMAND, "diff", self.pack, self.south], stdout=full, stderr=subprocess.PIPE,
                                  text=True, timeout=60)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertIn("standard output", done.stderr)


class ARunThatUsesNoRow(FilesTest):
    def refused(self, content, *more, leaves=()):
        self.write("orders.csv", content)
        before = set(self.names())
        done = self.run_command(*self.learn_command, "--out", self.pack, *more, expect=1)
        self.assertEqual(set(self.names()) - before, set(leaves))
        self.assertIn("no row", done.stderr)
        return done

    def test_fails_and_writes_no_pack(self):
        done = self.refused(HEADER)
        self.assertIn("orders.csv", done.stderr)
        self.refused(HEADER + REJECTED * 3)

    def test_leaves_the_old_pack(self):
        self.write("north.json", OLD)
        self.refused(HEADER + REJECTED)
        self.assertEqual(Path(self.pack).read_text(), OLD)

    def test_writes_the_rows_that_it_rejected_and_no_empty_list_of_them(self):
        rejects = self.path("rejects.csv")
        done = self.refused(HEADER + REJECTED, "--rejects", rejects, leaves=["rejects.csv"])
        self.assertIn("impossible_date: 1", done.stdout)
        self.assertIn("impossible_date", Path(rejects).read_text())
        Path(rejects).write_text(OLD)
        self.refused(HEADER, "--rejects", rejects)
        self.assertEqual(Path(rejects).read_text(), OLD)

    def test_fails_where_the_circuit_understands_none_of_the_orders(self):
        self.refused(HEADER.replace("hours", "tests") +
                     "W-1,2024-03-01,loader,port_relief,seat_leak,failed,static/nowhere=held\r\n",
                     "--circuit", CIRCUIT, "--through-circuit")

    def test_fails_where_the_exposure_has_none_though_the_orders_do(self):
        exposure = self.write("exposure.csv", "component,in_service,hours\r\nflux_valve,10,7771\r\n")
        done = self.refused(ROWS, "--exposure", exposure)
        self.assertIn("exposure.csv", done.stderr)


class InventedOrders(FilesTest):
    def test_do_not_replace_a_file_unless_told_to(self):
        demo = ["demo", "--circuit", CIRCUIT, "--jobs", 3, "--out", self.orders]
        self.nothing_changes(*demo, naming=["--out", "orders.csv", "--replace"])
        self.run_command(*demo, "--replace")
        self.assertNotEqual(Path(self.orders).read_text(), ROWS + REJECTED)

    def test_do_not_replace_what_a_link_leads_to(self):
        os.symlink(self.orders, self.path("link.csv"))
        self.nothing_changes("demo", "--circuit", CIRCUIT, "--jobs", 3, "--out", self.path("link.csv"),
                             naming=["--replace"])


class AnOutputThatReplaces(FilesTest):
    def test_is_another_file_whole_at_once_under_the_old_name(self):
        pack = self.write("north.json", OLD)
        with open(pack) as held:
            self.run_command(*self.learn_command, "--out", pack)
            self.assertEqual(held.read(), OLD)
        self.assertEqual(json.loads(Path(pack).read_text())["id"], "north")
        self.assertEqual(self.names(), ["north.json", "orders.csv"])

    def test_has_the_permissions_of_the_old_one_and_those_of_any_new_file_where_there_was_none(self):
        pack = self.write("north.json", OLD)
        for mode in (0o640, 0o600, 0o664):
            os.chmod(pack, mode)
            self.run_command(*self.learn_command, "--out", pack)
            self.assertEqual(stat.S_IMODE(os.stat(pack).st_mode), mode)
        old = os.umask(0o027)
        self.addCleanup(os.umask, old)
        self.run_command(*self.learn_command, "--out", self.path("new.json"))
        self.assertEqual(stat.S_IMODE(os.stat(self.path("new.json")).st_mode), 0o640)

    @unittest.skipUnless(os.geteuid() == 0, "only root gives files away")
    def test_stays_its_owners(self):
        pack = self.write("north.json", OLD)
        os.chown(pack, 12345, 23456)
        self.run_command(*self.learn_command, "--out", pack)
        self.assertEqual((os.stat(pack).st_uid, os.stat(pack).st_gid), (12345, 23456))

    @unittest.skipIf(os.geteuid() == 0, "root may write every file")
    def test_does_not_replace_a_file_that_is_not_to_be_written(self):
        pack = self.write("north.json", OLD)
        os.chmod(pack, 0o444)
        self.nothing_changes(*self.learn_command, "--out", pack, naming=["north.json cannot be written"])

    def test_under_a_link_replaces_what_the_link_leads_to(self):
        (self.folder / "sub").mkdir()
        self.write("sub/real.json", OLD)
        os.symlink("sub/real.json", self.path("link.json"))
        self.run_command(*self.learn_command, "--out", self.path("link.json"))
        self.assertTrue(os.path.islink(self.path("link.json")))
        self.assertEqual(json.loads((self.folder / "sub" / "real.json").read_text())["id"], "north")
        self.assertEqual(os.listdir(self.folder / "sub"), ["real.json"])

    def test_may_have_the_longest_name_there_is(self):
        name = "n" * 250 + ".json"
        self.run_command(*self.learn_command, "--out", self.path(name))
        self.assertEqual(self.names(), [name, "orders.csv"])

    def test_is_written_by_many_at_once_and_is_one_of_theirs(self):
        runs = [subprocess.Popen([COMMAND, "learn", "--quiet", "--orders", self.orders, "--source", f"s{i}", "--out",
                                  self.pack], stdout=subprocess.DEVNULL) for i in range(8)]
        self.assertEqual([run.wait(60) for run in runs], [0] * 8)
        self.assertRegex(json.loads(Path(self.pack).read_text())["id"], r"^s\d$")
        self.assertEqual(self.names(), ["north.json", "orders.csv"])

    def test_leaves_nothing_beside_when_it_is_interrupted(self):
        self.write("north.json", OLD)
        rejects = self.path("rejects.csv")
        os.mkfifo(self.path("endless"))
        run = subprocess.Popen([COMMAND, "learn", "--quiet", "--orders", self.path("endless"), "--source", "n",
                                "--out", self.pack, "--rejects", rejects], stderr=subprocess.DEVNULL)
        with open(self.path("endless"), "wb") as endless:
            endless.write((ROWS + REJECTED).encode())
            endless.flush()
            deadline = time.monotonic() + 30
            while len(self.names()) < 5 and time.monotonic() < deadline:
                time.sleep(0.02)
            self.assertEqual(len(self.names()), 5, "both are being written beside")
            run.terminate()
            self.assertEqual(run.wait(30), -15)
        self.assertEqual(self.names(), ["endless", "north.json", "orders.csv"])
        self.assertEqual(Path(self.pack).read_text(), OLD)

    def test_cannot_be_a_folder(self):
        self.nothing_changes(*self.learn_command, "--out", str(self.folder), naming=["cannot be written"])


class AnOutputThatIsNoFile(FilesTest):
    def test_standard_output_has_the_pack_alone_through_a_pipe(self):
        for name in ("/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"):
            done = self.run_command(*self.learn_command, "--out", name)
            self.assertEqual(json.loads(done.stdout)["id"], "north")
            self.assertIn("41 rows, 40 used", done.stderr)

    def test_standard_output_has_the_report_of_a_backtest_alone(self):
        self.run_command("demo", "--circuit", CIRCUIT, "--jobs", 30, "--out", self.path("demo.csv"))
        done = self.run_command("backtest", "--quiet", "--circuit", CIRCUIT, "--orders", self.path("demo.csv"),
                                "--sample", 10, "--html", "/dev/stdout")
        self.assertTrue(done.stdout.startswith("<!doctype html>"), done.stdout[:80])
        self.assertIn("log score", done.stderr)

    def test_standard_output_that_is_a_file_is_written_on_and_not_replaced(self):
        log = self.path("log")
        Path(log).write_text(OLD)
        number = os.stat(log).st_ino
        with open(log, "ab") as end:
            subprocess.run([COMMAND, *self.learn_command, "--out", "/dev/stdout"], stdout=end, check=True,
                           stderr=subprocess.DEVNULL, timeout=60)
        self.assertEqual(os.stat(log).st_ino, number)
        text = Path(log).read_text()
        self.assertTrue(text.startswith(OLD))
        self.assertEqual(json.loads(text[len(OLD):])["id"], "north")

    def test_standard_output_that_is_the_orders_is_refused(self):
        before = self.everything()
        with open(self.orders, "ab") as end:
            done = subprocess.run([COMMAND, *self.learn_command, "--out", "/dev/stdout"], stdout=end, text=True,
                                  stderr=subprocess.PIPE, timeout=60)
        self.assertEqual(done.returncode, 1)
        self.assertEqual(self.everything(), before)

    def test_a_named_pipe_is_written_into_and_stays_one(self):
        pipe = self.path("pipe")
        os.mkfifo(pipe)
        heard = []
        reader = threading.Thread(target=lambda: heard.append(Path(pipe).read_text()), daemon=True)
        reader.start()
        self.run_command(*self.learn_command, "--out", pipe)
        reader.join(30)
        self.assertEqual(json.loads(heard[0])["id"], "north")
        self.assertTrue(stat.S_ISFIFO(os.stat(pipe).st_mode))

    def test_two_outputs_may_both_be_thrown_away(self):
        self.run_command(*self.learn_command, "--out", "/dev/null", "--rejects", "/dev/null")
        self.assertTrue(stat.S_ISCHR(os.stat("/dev/null").st_mode))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])

#!/usr/bin/env python3
"""How the processor time of a call grows with its documents, for every kind of growing.py: at 25, 50,
100 and 400 kB, and how long a call goes on after it was told to end.

usage: growth.py LIBRARY [--http PROGRAM] [--only WORDS] [--once] [--count PROGRAM]

A kind fails where twice the bytes cost more than 2.3 times the processor time, unless the larger one is
refused by a named limit; where a call goes on for more than 50 ms of processor time after it was told to
end; and where the library reports a defect of its own. Times are processor time, the least
mean of three rounds of calls of a tenth of a second each; what takes less than JUDGED seconds is not
judged, for whatever else the machine does then weighs as much as the document.

--count says by what of a busy machine's figures is decided: a kind whose time is over has its instructions counted, of
100 and 400 kB, by PROGRAM (call_once.c) under valgrind; `counted` stands behind its line then, and they are judged.

--once calls everything once at 25 kB and judges only what becomes of it: for ctest.
"""
import argparse
import contextlib
import ctypes
import http.client
import json
import os
import pathlib
import re
import resource
import subprocess
import sys
import tempfile
import threading
import time

import growing
import growing_answers  # noqa: F401: adds its kinds

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "bindings" / "python"))
from faultodds._declarations import CallOptions, LearnOptions, ModelOptions, NetworkOptions, Records  # noqa: E402

SIZES = (25_000, 50_000, 100_000, 400_000)
MOST_PER_DOUBLING = 2.3
JUDGED = 0.005
ROUND = 0.1
LONG = 1.0
MOST_AFTER_CANCEL = 0.050
TELLINGS, MOST_TELLING = 5, 0.002
MOST_SECONDS = 20

# Calls of documents alone, and how many of the last are left out; calls of a loaded circuit with the documents after it,
# and what else they take.
OF_DOCUMENTS = {"check": ("faultodds_circuit_check_json", 0), "explain": ("faultodds_circuit_explain_json", 1),
                "compare": ("faultodds_circuit_diff_json", 1), "new": ("faultodds_circuit_new_json", 0),
                "draw": ("faultodds_circuit_draw_svg", 0), "draw alone": ("faultodds_circuit_draw_svg", 1),
                "expand": ("faultodds_circuit_expand_json", 0)}
NO_LANGUAGE = (None, ctypes.c_size_t(0))
OF_MODEL = {"describe": ("faultodds_model_describe_json", ()), "screen": ("faultodds_model_describe_screen_json", ()),
            "propose": ("faultodds_model_propose_json", NO_LANGUAGE), "note": ("faultodds_model_note", (2,)),
            "card": ("faultodds_model_plan", (2,)), "case drawing": ("faultodds_model_draw_svg", (360, *NO_LANGUAGE))}


class Library:
    def __init__(self, path):
        self.lib = ctypes.CDLL(path)
        self.lib.faultodds_error_message.restype = ctypes.c_char_p
        self.lib.faultodds_status_name.restype = ctypes.c_char_p
        self.lib.faultodds_free.argtypes = [ctypes.c_void_p]
        self.cancel = ctypes.c_void_p()
        assert self.lib.faultodds_cancel_new(ctypes.byref(self.cancel), None) == 0
        self.until = CallOptions(ctypes.sizeof(CallOptions), self.cancel)

    def call(self, kind, documents):
        """Status and message of one call, and the processor time it took."""
        lib, size, null = self.lib, ctypes.c_size_t, None
        out, error, message = ctypes.c_void_p(), ctypes.c_void_p(), ctypes.c_char_p()
        arguments = [x for d in documents for x in (d, size(len(d)))]
        if kind == "assess":
            if len(documents) == 2:
                arguments += [null, size(0)]
            begun = time.process_time()
            status = lib.faultodds_assess_json(*arguments, ctypes.byref(self.until), ctypes.byref(out),
                                               ctypes.byref(message))
            used = time.process_time() - begun
            lib.faultodds_free(out)
            return self.name(status), (message.value or b"").decode(), used
        if kind == "close":
            model = ctypes.c_void_p()
            begun = time.process_time()
            status = lib.faultodds_model_load(documents[0], size(len(documents[0])), null, size(0),
                                              self.options(), ctypes.byref(model), ctypes.byref(error))
            if status == 0:
                status = lib.faultodds_model_close(model, *arguments[2:], 1, ctypes.byref(self.until),
                                                   ctypes.byref(out), ctypes.byref(error))
            used = time.process_time() - begun
            lib.faultodds_model_free(model)
        elif kind == "diff":
            begun = time.process_time()
            status = lib.faultodds_priors_diff_json(*arguments, ctypes.byref(self.until),
                                                    ctypes.byref(out), ctypes.byref(error))
            used = time.process_time() - begun
        elif kind == "learn":
            records = Records(ctypes.sizeof(Records), null, 0, documents[0], len(documents[0]))
            mapping = documents[1] if len(documents) > 1 else None
            options = LearnOptions(ctypes.sizeof(LearnOptions), b"hostile", 7, mapping=mapping,
                                   mapping_len=len(mapping or b""), cancel=self.cancel)
            begun = time.process_time()
            status = lib.faultodds_priors_learn(ctypes.byref(records), null, ctypes.byref(options),
                                                ctypes.byref(out), null, ctypes.byref(error))
            used = time.process_time() - begun
        elif kind in OF_DOCUMENTS or kind in OF_MODEL:
            begun = time.process_time()
            status = self.document_call(kind, arguments, out, error)
            used = time.process_time() - begun
        else:
            options = NetworkOptions(ctypes.sizeof(NetworkOptions), 0, self.cancel)
            begun = time.process_time()
            status = lib.faultodds_network_load(*arguments, 1 if kind == "bif" else 2,
                                                ctypes.byref(options), ctypes.byref(out),
                                                ctypes.byref(error))
            used = time.process_time() - begun
            lib.faultodds_network_free(out)
            out = ctypes.c_void_p()
        words = lib.faultodds_error_message(error).decode()
        lib.faultodds_error_free(error)
        lib.faultodds_free(out)
        return self.name(status), words, used

    def document_call(self, kind, arguments, out, error):
        until, to = ctypes.byref(self.until), (ctypes.byref(out), ctypes.byref(error))
        if kind in OF_DOCUMENTS:
            name, missing = OF_DOCUMENTS[kind]
            return getattr(self.lib, name)(*arguments, *[None, ctypes.c_size_t(0)] * missing, until, *to)
        name, more = OF_MODEL[kind]
        model = ctypes.c_void_p()
        status = self.lib.faultodds_model_load(*arguments[:2], None, ctypes.c_size_t(0), self.options(),
                                               ctypes.byref(model), to[1])
        if status == 0:
            status = getattr(self.lib, name)(model, *arguments[2:], *more, until, *to)
        self.lib.faultodds_model_free(model)
        return status

    def options(self):
        return ctypes.byref(ModelOptions(ctypes.sizeof(ModelOptions), cancel=self.cancel))

    def name(self, status):
        return self.lib.faultodds_status_name(status).decode()

    def after_cancel(self, kind, documents, at):
        """Processor time from the moment it is told to end, `at` into the call, until it ends. Told again in another call
        where a busy machine held up the telling, while the call went on."""
        for _ in range(TELLINGS):
            late, telling = self.after_one_cancel(kind, documents, at)
            if telling < MOST_TELLING:
                break
        return late

    def after_one_cancel(self, kind, documents, at):
        told = []

        def tell():
            begun = time.process_time()
            while time.process_time() - begun < at and not done.is_set():
                time.sleep(0.0005)
            told.append(time.process_time())
            self.lib.faultodds_cancel_now(self.cancel)
            told.append(time.process_time())

        done = threading.Event()
        watcher = threading.Thread(target=tell)
        watcher.start()
        status, _, _ = self.call(kind, documents)
        ended = time.process_time()
        done.set()
        watcher.join()
        self.lib.faultodds_cancel_reset(self.cancel)
        return max(0.0, ended - told[0]) if status == "cancelled" else 0.0, told[1] - told[0]


class Adapter:
    """The HTTP adapter on loopback, and the processor time it has used."""

    def __init__(self, program):
        self.process = subprocess.Popen([program, "--port", "0"], stdout=subprocess.PIPE, text=True)
        self.port = int(re.search(r":(\d+)$", self.process.stdout.readline().strip()).group(1))

    def used(self):
        tasks = pathlib.Path(f"/proc/{self.process.pid}/task")
        return sum(int((t / "schedstat").read_text().split()[0]) for t in tasks.iterdir()) / 1e9

    def call(self, _, documents):
        begun = self.used()
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=MOST_SECONDS)
        connection.request("POST", "/v1/assess", documents[0], {"Content-Type": "application/json"})
        answer = connection.getresponse()
        body = answer.read().decode()
        connection.close()
        return str(answer.status), body, self.used() - begun

    def close(self):
        self.process.terminate()
        self.process.wait(MOST_SECONDS)


def least(caller, kind, documents):
    """The least mean of three rounds, each so long that a clock of coarse ticks measures it too; of calls that last, one
    round, or none, is enough beside the first."""
    status, words, used = caller.call(kind, documents)
    best = used
    for _ in range(3 if used < LONG else 1 if used < 5 * LONG else 0):
        total, runs = 0.0, 0
        began = time.monotonic()
        while total < ROUND and runs < 300 and time.monotonic() - began < 4 * ROUND:
            total += caller.call(kind, documents)[2]
            runs += 1
        best = min(best, total / runs)
    return status, words, best


def sentence(words):
    """The message of an error; its pointer repeats the document's keys whole, and has to."""
    if not words.startswith("{"):
        return words
    error = json.loads(words)
    return error.get("message") or error.get("detail") or ""


def of_limit(status, words):
    return status in ("limit_exceeded", "413", "422") or "nested deeper" in words or "expected at most" in words


def counted(program, name):
    """Instructions per doubling from 100 to 400 kB, whatever else the machine does; None where they cannot be counted."""
    found = []
    for size in SIZES[2:]:
        kind, texts = growing.of_size(name, size)
        if len(texts) > 2 or kind not in {"assess", *OF_DOCUMENTS, *OF_MODEL}:
            return None
        with tempfile.TemporaryDirectory() as folder:
            files = [pathlib.Path(folder, str(i)) for i in range(len(texts))]
            for file, text in zip(files, texts):
                file.write_text(text, encoding="utf-8")
            done = subprocess.run(["valgrind", "--tool=callgrind", f"--callgrind-out-file={folder}/out", program, kind, *files],
                                  capture_output=True, text=True, check=False)
            told = re.search(r"Collected : (\d+)", done.stderr)
            if told is None:
                return None
            found.append(int(told[1]))
    return (found[1] / found[0]) ** 0.5


def judged(name, caller, once, program=None):
    """A line of the table, and whether it is as it should be."""
    times, states, wrong = [], [], []
    for size in SIZES[:1] if once else SIZES:
        kind, texts = growing.of_size(name, size)
        documents = [t.encode() for t in texts]
        status, words, used = caller.call(kind, documents) if once else least(caller, kind, documents)
        times.append(used)
        states.append("limit" if of_limit(status, words) else status)
        if status in ("internal", "500"):
            wrong.append(words[:80])
        if states[-1] not in ("200", "ok") and len(sentence(words)) > 4000:
            wrong.append(f"a message of {len(sentence(words))} characters")
    worst = 0.0
    for i in range(1, len(times)):
        doublings = SIZES[i] // SIZES[i - 1] // 2
        if times[i] < JUDGED or states[i] == "limit":
            continue
        each = (times[i] / max(times[i - 1], JUDGED / 3)) ** (1 / doublings)
        worst = max(worst, each)
        if each > MOST_PER_DOUBLING:
            wrong.append(f"{SIZES[i] // 1000} kB")
    said = ""
    if wrong and program is not None and worst > MOST_PER_DOUBLING:
        by_count = counted(program, name)
        if by_count is not None:
            said = f"   counted {by_count:.1f}"
        if by_count is not None and by_count <= MOST_PER_DOUBLING:
            wrong = [one for one in wrong if not one.endswith(" kB")]
    late = 0.0
    if not once and isinstance(caller, Library):
        for share in (0.2, 0.5, 0.8):
            late = max(late, caller.after_cancel(kind, documents, share * times[-1]))
        if late > MOST_AFTER_CANCEL:
            wrong.append("after cancel")
    figures = " ".join(f"{1000 * t:8.1f}" for t in times)
    ends = " ".join(sorted(set(states), key=states.index))
    return (f"{name:32s} {figures}   {worst:4.1f}   {1000 * late:5.0f}   {ends}"
            + said + (f"   WRONG: {', '.join(wrong)}" if wrong else ""), not wrong)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("library")
    arguments.add_argument("--http", help="the adapter; its kinds are left out without it")
    arguments.add_argument("--only", default="", help="words of the name")
    arguments.add_argument("--once", action="store_true")
    arguments.add_argument("--count", help="call_once, built")
    arguments.add_argument("--child", help=argparse.SUPPRESS)
    given = arguments.parse_args()
    names = [name for name in growing.GROWING if given.only in name]
    if given.child is not None:
        resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
        names = [given.child]
    if given.child is not None or given.once:
        good = True
        for name in names:
            if name.startswith("http") and not given.http:
                continue
            caller = Adapter(given.http) if name.startswith("http") else Library(given.library)
            with contextlib.closing(caller) if isinstance(caller, Adapter) else contextlib.nullcontext():
                line, right = judged(name, caller, given.once, given.count)
            print(line, flush=True)
            good = good and right
        return 0 if good else 1
    print(f"{'processor time in ms of':32s} " + " ".join(f"{s // 1000:5d} kB" for s in SIZES) +
          "   x2     after cancel")
    bad = 0
    for name in names:
        if name.startswith("http") and not given.http:
            continue
        command = [sys.executable, __file__, given.library, "--child", name]
        more = (["--http", given.http] if given.http else []) + (["--count", given.count] if given.count else [])
        done = subprocess.run(command + more, capture_output=True,
                              text=True, check=False,
                              preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (90, 90)))
        print(done.stdout.rstrip() or f"{name:32s} ended by {done.returncode} {done.stderr[-300:]}", flush=True)
        bad += done.returncode != 0
    print(f"{bad} of {len(names)} are not as they should be")
    return 1 if bad else 0


if __name__ == "__main__":
    os.chdir(pathlib.Path(__file__).resolve().parent)
    sys.exit(main())

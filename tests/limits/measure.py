#!/usr/bin/env python3
"""Calls the library with documents made to cost much, each in a process of its own, and prints the
processor time and memory each took and what became of it.

usage: measure.py LIBRARY [--seconds S] [--only WORDS]
"""
import argparse
import ctypes
import pathlib
import resource
import subprocess
import sys
import time

import hostile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "bindings" / "python"))
from faultodds._declarations import CallOptions, LearnOptions, NetworkOptions, Records  # noqa: E402


def call(library, kind, texts, seconds):
    """Status and message of one call, ended after `seconds`."""
    lib = ctypes.CDLL(library)
    lib.faultodds_error_message.restype = ctypes.c_char_p
    lib.faultodds_status_name.restype = ctypes.c_char_p
    size, null = ctypes.c_size_t, None
    error, out, cancel = ctypes.c_void_p(), ctypes.c_void_p(), ctypes.c_void_p()
    assert lib.faultodds_cancel_new(ctypes.byref(cancel), null) == 0
    lib.faultodds_cancel_after_ms(cancel, ctypes.c_uint64(int(1000 * seconds)))
    until = CallOptions(ctypes.sizeof(CallOptions), cancel)
    documents = [t.encode() for t in texts]
    arguments = [x for d in documents for x in (d, size(len(d)))]
    if kind == "assess":
        message = ctypes.c_char_p()
        if len(documents) == 2:
            arguments += [null, size(0)]
        status = lib.faultodds_assess_json(*arguments, ctypes.byref(until), ctypes.byref(out),
                                           ctypes.byref(message))
        return lib.faultodds_status_name(status).decode(), (message.value or b"").decode()
    if kind == "network":
        options = NetworkOptions(ctypes.sizeof(NetworkOptions), 0, cancel)
        status = lib.faultodds_network_load(*arguments, 1, ctypes.byref(options),
                                            ctypes.byref(out), ctypes.byref(error))
        if status == 0:
            written, log_evidence = size(), ctypes.c_double()
            lib.faultodds_network_posterior_count.restype = size
            count = lib.faultodds_network_posterior_count(out)
            posteriors = (ctypes.c_double * count)()
            status = lib.faultodds_network_query(
                out, null, size(0), ctypes.byref(until), posteriors, size(count), ctypes.byref(written),
                ctypes.byref(log_evidence), ctypes.byref(error))
    else:
        records = Records(ctypes.sizeof(Records), null, 0, documents[0], len(documents[0]))
        options = LearnOptions(ctypes.sizeof(LearnOptions), b"hostile", 7, cancel=cancel)
        status = lib.faultodds_priors_learn(ctypes.byref(records), null, ctypes.byref(options),
                                            ctypes.byref(out), null, ctypes.byref(error))
    words = lib.faultodds_error_message(error).decode()
    return lib.faultodds_status_name(status).decode(), words


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("library")
    arguments.add_argument("--seconds", type=float, default=60, help="a call is ended after")
    arguments.add_argument("--only", default="", help="words of the name")
    arguments.add_argument("--child", help=argparse.SUPPRESS)
    given = arguments.parse_args()
    if given.child is not None:
        kind, texts = hostile.documents(given.child)
        resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
        before = resource.getrusage(resource.RUSAGE_SELF)
        begun = time.process_time()
        status, words = call(given.library, kind, texts, given.seconds)
        used = time.process_time() - begun
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before.ru_maxrss
        print(f"{sum(map(len, texts)) / 1000:7.0f} kB {used:7.2f} s {peak // 1024:5d} MiB  "
              f"{status}  {words[:100]}")
        return 0
    bad = 0
    for name in hostile.HOSTILE:
        if given.only not in name:
            continue
        done = subprocess.run([sys.executable, __file__, given.library, "--seconds",
                               str(given.seconds), "--child", name],
                              capture_output=True, text=True, check=False,
                              preexec_fn=lambda: resource.setrlimit(
                                  resource.RLIMIT_CPU, (int(3 * given.seconds) + 10,) * 2))
        ended = f"ended by signal {-done.returncode}" if done.returncode < 0 else done.stderr[-200:]
        print(f"{name:42s} {done.stdout.strip() or ended}", flush=True)
        bad += done.returncode != 0 or " internal " in done.stdout or " cancelled " in done.stdout
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

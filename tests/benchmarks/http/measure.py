"""The adapter against a bare HTTP library that sends a constant, by wrk on loopback, in turn, and against what the
engine takes for the same questions without HTTP."""

import argparse
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

HERE = Path(__file__).resolve().parent


def start(command, pattern):
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    found = re.search(pattern, process.stdout.readline())
    if not found:
        process.kill()
        raise SystemExit(f"{command[0]} did not start")
    return process, int(found.group(1))


def processor_seconds(process):
    """Of the process so far, in user and system mode."""
    fields = Path(f"/proc/{process.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def send(method, port, path, body):
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", body.encode(), method=method)
    request.add_header("Content-Type", "application/json")
    with urllib.request.urlopen(request) as response:
        return response.read()


def question(circuit, complaint):
    """A case with one reading, marked by @, and for a complaint what the operator saw."""
    seen = [{"observation": "static/valve0.a",
             "reading": {"pressure_drop": "@ bar", "time": "60 s", "volume": "0.4 L"}}]
    if complaint:
        seen.insert(0, {"observation": "drift/cylinder0/retract", "outcome": "slow"})
    return json.dumps({"circuit": circuit, "case": {"format": "faultodds-case/1", "observations": seen}})


def wrk(port, threads, seconds, body, distinct):
    environment = {**os.environ, "QUESTION": body}
    if distinct is not None:
        environment["DISTINCT"] = str(distinct)
    done = subprocess.run(
        ["wrk", "-t", "1", "-c", str(threads), "-d", f"{seconds}s", "-s", str(HERE / "question.lua"),
         f"http://127.0.0.1:{port}"],
        capture_output=True, text=True, env=environment, check=True)
    found = re.search(r"RESULT (\S+) (\S+) (\S+) (\S+) (\S+)", done.stdout)
    rate, median, late, errors, requests = map(float, found.groups())
    if errors:
        raise SystemExit(f"{errors:.0f} requests failed:\n{done.stdout}")
    return rate, median, late, requests


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--adapter", required=True)
    parser.add_argument("--bare", required=True)
    parser.add_argument("--section", required=True)
    parser.add_argument("--alone", required=True)
    parser.add_argument("--threads", type=int, default=4)
    parser.add_argument("--seconds", type=int, default=3)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()

    circuit = subprocess.run([options.section], capture_output=True, text=True, check=True).stdout
    name = json.loads(circuit)["id"]
    running = []
    with tempfile.TemporaryDirectory() as folder:
        try:
            adapter, port = start(
                [options.adapter, "--port", "0", "--threads", str(options.threads),
                 "--connection-requests", "1000000000"], r":(\d+)$")
            running.append(adapter)
            send("PUT", port, "/v1/circuits/" + name, circuit)
            complaint, none = question(name, True), question(name, False)
            answer = send("POST", port, "/v1/assess", complaint.replace("@", "12.5"))
            constant = Path(folder) / "answer.json"
            constant.write_bytes(answer)
            bare, bare_port = start([options.bare, str(constant), str(options.threads)], r"^(\d+)$")
            running.append(bare)
            rows = {
                "the library alone, a constant": (bare, bare_port, complaint, False),
                "the same case again": (adapter, port, complaint, False),
                "each case another, with a complaint": (adapter, port, complaint, True),
                "each case another, without": (adapter, port, none, True),
            }
            document = Path(folder) / "circuit.json"
            document.write_text(circuit, encoding="utf-8")
            asked = {"each case another, with a complaint": complaint, "each case another, without": none}
            for row, body in asked.items():
                (Path(folder) / row).write_text(json.dumps(json.loads(body)["case"]), encoding="utf-8")
            alone = {row: [] for row in asked}
            results = {row: [] for row in rows}
            for turn in range(options.rounds):
                for row in asked:
                    done = subprocess.run([options.alone, str(document), str(Path(folder) / row), "500"],
                                          capture_output=True, text=True, check=True)
                    alone[row].append(float(done.stdout))
                for row, (process, to, body, distinct) in rows.items():
                    before = processor_seconds(process)
                    *measured, requests = wrk(to, options.threads, options.seconds, body, turn if distinct else None)
                    used = (processor_seconds(process) - before) / requests
                    results[row].append((*measured, 1e6 * used))
        finally:
            for process in running:
                process.terminate()
                process.wait()

    print(f"answer {len(answer)} bytes, {options.threads} threads and connections, "
          f"medians of {options.rounds} rounds of {options.seconds} s in turn")
    print(f"{'':38}{'requests/s':>12}{'of bare':>9}{'p50 ms':>9}{'p99 ms':>9}{'us of processor':>17}{'of bare':>9}")
    base = None
    for row, measured in results.items():
        rate, median, late, used = (statistics.median(column) for column in zip(*measured))
        base = base or (rate, used)
        print(f"{row:38}{rate:12.0f}{100 * rate / base[0]:8.0f}%{median:9.3f}{late:9.3f}"
              f"{used:17.1f}{100 * base[1] / used:8.0f}%")
    for row, measured in alone.items():
        engine = statistics.median(measured)
        used = statistics.median(column[3] for column in results[row])
        print(f"{row}: the engine alone {engine:.1f} us; the adapter {used / (engine + base[1]):.2f} times it and the constant")


if __name__ == "__main__":
    sys.exit(main())

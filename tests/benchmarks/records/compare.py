"""Seconds and peak memory of faultodds-priors learn on work orders, beside engines that merely scan and
group the same CSV. Every run is a process of its own, on one thread, the file read once before."""

import argparse
import os
import statistics
import subprocess
import sys
import time

GROUPS = ["asset_class", "circuit", "component", "position", "finding", "grade"]

DUCKDB = """
import duckdb, sys
database = duckdb.connect(config={"threads": 1})
groups = ", ".join(sys.argv[2:])
rows = database.execute(
    f"SELECT {groups}, count(*), avg(minutes), min(closed), max(closed) "
    f"FROM read_csv(?) GROUP BY ALL", [sys.argv[1]]).fetchall()
print(sum(row[len(sys.argv) - 2] for row in rows), len(rows))
"""

POLARS = """
import polars, sys
table = polars.scan_csv(sys.argv[1], try_parse_dates=True).group_by(sys.argv[2:]).agg(
    polars.len().alias("rows"), polars.col("minutes").mean(),
    polars.col("closed").min().alias("first"), polars.col("closed").max().alias("last"),
).collect(engine="streaming")
print(table["rows"].sum(), table.height)
"""


def run(command):
    """Seconds (elapsed, of processor), MiB at the peak, and what it printed."""
    environment = dict(os.environ, POLARS_MAX_THREADS="1")
    began = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, env=environment, text=True)
    printed = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit(f"{command[0]} ended with {child.returncode}")
    elapsed = time.monotonic() - began
    return elapsed, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, printed


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--command", required=True, help="faultodds-priors")
    parser.add_argument("--python", required=True, help="a Python with duckdb and polars")
    parser.add_argument("--orders", required=True, help="CSV of work orders")
    parser.add_argument("--out", required=True, help="where the pack goes")
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()

    with open(options.orders, "rb") as orders:  # into the page cache, and counted
        rows = sum(block.count(b"\n") for block in iter(lambda: orders.read(1 << 24), b"")) - 1
    print(f"{rows} rows, {os.path.getsize(options.orders) / 2**20:.0f} MiB")
    commands = {
        "faultodds-priors learn": [options.command, "learn", "--quiet", "--orders", options.orders,
                                   "--source", "benchmark", "--out", options.out],
        "DuckDB scan and group": [options.python, "-c", DUCKDB, options.orders, *GROUPS],
        "Polars scan and group": [options.python, "-c", POLARS, options.orders, *GROUPS],
    }
    medians = {}
    print(f"{'':24} {'elapsed s':>10} {'CPU s':>8} {'peak MiB':>9}")
    for name, command in commands.items():
        runs = [run(command) for _ in range(options.runs)]
        for *_, printed in runs:
            if f"{rows} " not in printed or " rejected" in printed and " 0 rejected" not in printed:
                sys.exit(f"{name} did not use all {rows} rows but: {printed}")
        elapsed, processor, memory = (statistics.median(column) for column in list(zip(*runs))[:3])
        medians[name] = processor
        print(f"{name:24} {elapsed:10.2f} {processor:8.2f} {memory:9.0f}")
    ours, *others = medians.values()
    print(f"CPU time of learning over that of the faster scan: {ours / min(others):.2f}")


main()

"""engines.py ORDERS [WORKERS]: learning from a work-order file in one process, on Dask and on Spark, each with so many
workers (2): processor seconds of all that took part, seconds on the clock, and whether the pack is the same, bit for bit.
With the environment that tests/run makes in build/engines:

    PYTHONPATH=bindings/python FAULTODDS_LIBRARY=... build/engines/bin/python tests/benchmarks/records/engines.py orders.csv
"""

import json
import multiprocessing
import os
import resource
import sys
import time
import warnings
from pathlib import Path

import faultodds
from faultodds import distributed

ORDERS, WORKERS = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 2


def alone():
    return faultodds.learn_priors(Path(ORDERS), source="fleet").pack


def on_dask():
    import dask
    import dask.dataframe

    with dask.config.set(scheduler="processes", num_workers=WORKERS):
        table = dask.dataframe.read_csv(ORDERS, dtype=str, keep_default_na=False, blocksize="64MB")
        return distributed.learn(table, source="fleet").pack


def on_spark():
    from pyspark.sql import SparkSession

    os.environ["PYSPARK_PYTHON"] = sys.executable
    os.environ["SPARK_LOCAL_IP"] = "127.0.0.1"
    session = (SparkSession.builder.master(f"local[{WORKERS}]").config("spark.ui.enabled", "false")
               .config("spark.ui.showConsoleProgress", "false").config("spark.driver.memory", "3g")
               .config("spark.driver.bindAddress", "127.0.0.1").getOrCreate())
    session.sparkContext.setLogLevel("ERROR")
    table = session.read.option("header", True).option("escape", '"').csv(ORDERS)
    pack = distributed.learn(table, source="fleet", partitions=4 * WORKERS).pack
    session.stop()
    gateway = session.sparkContext._gateway
    gateway.shutdown()
    gateway.proc.stdin.close()
    gateway.proc.wait()  # whose processor time counts only then
    return pack


def run(way, pipe):
    warnings.simplefilter("ignore")
    began = time.monotonic()
    pack = way()
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    pipe.send((sum(of.ru_utime + of.ru_stime for of in used), time.monotonic() - began, json.dumps(pack)))


if __name__ == "__main__":
    first = None
    print(f"{'':12} {'processor s':>12} {'clock s':>9}  same pack")
    for way in (alone, on_dask, on_spark):
        here, there = multiprocessing.get_context("spawn").Pipe()
        child = multiprocessing.get_context("spawn").Process(target=run, args=(way, there))
        child.start()
        while not here.poll(1):
            if not child.is_alive():
                sys.exit(f"{way.__name__} failed")
        processor, clock, pack = here.recv()
        child.join()
        first = first or pack
        print(f"{way.__name__:12} {processor:12.1f} {clock:9.1f}  {pack == first}", flush=True)

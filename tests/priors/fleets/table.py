"""table.py [--circuit FILE] [--jobs N] [--fleets N] [--first SEED] [--rows A;B] [--by-counting] [--lives] [--loop]: how near packs learned from imperfect
records are to invented truths, and how many of their 90 % intervals hold them. FAULTODDS_LIBRARY is the library."""

import argparse
import json
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[3]
sys.path.insert(0, str(ROOT / "bindings" / "python"))
import faultodds  # noqa: E402

import fleets  # noqa: E402
import lives  # noqa: E402

ROWS = {
    "as the model has it": {},
    "misbooking 15 %": {"misbooked": 0.15},
    "two faults 20 %": {"second": 0.2},
    "sites, sigma 0.8": {"sites": 8, "site_spread": 0.8},
    "sites not told": {"sites": 8, "site_spread": 0.8, "name_sites": False},
    "blunt tests": {"blunt": 0.3},
    "change of habits": {"change": True},
    "faults alone": {"faults_only": True},
    "all of these": {"misbooked": 0.15, "second": 0.2, "sites": 8, "site_spread": 0.8, "blunt": 0.3, "change": True},
}

REPAIRS = ("repairs with exposure", "repairs with exposure, misbooked 15 %")


def circuit_of(path):
    document = json.loads(Path(path).read_text())
    document["effects"] = "grades"  # records say worn or failed
    return document, fleets.Circuit(faultodds.Model(document).describe())


def learned(orders, document, counting):
    return faultodds.learn_priors(orders, source="fleet", circuit=document, through_circuit=not counting)


def score(row, document, circuit, jobs, count, counting, first_seed=1):
    """Of each fleet: errors of the shipped and the learned pack, what its intervals hold, seconds."""
    scores = []
    for seed in range(first_seed, first_seed + count):
        fleet = fleets.Fleet(circuit, fleets.Habits(jobs=jobs, seed=seed, **ROWS[row]))
        orders = fleet.orders()
        start = time.process_time()
        pack = learned(orders, document, counting).pack
        seconds = time.process_time() - start
        p, interval = fleets.judged_by(pack, circuit.names)
        before = fleets.errors(fleet.truth, fleet.judged, interval)[0]
        after, held, off = fleets.errors(fleet.truth, p, interval)
        scores.append((before, after, held, seconds, off))
    return scores


def score_repairs(circuit, count, first_seed=1, **habits):
    """The same of repairs alone with exposure, counted."""
    scores = []
    for seed in range(first_seed, first_seed + count):
        of = fleets.Repairs(circuit, seed, **habits)
        orders, exposure = of.orders(), of.exposure()
        start = time.process_time()
        pack = faultodds.learn_priors(orders, source="repairs", exposure=exposure).pack
        seconds = time.process_time() - start
        p, interval = fleets.judged_by(pack, circuit.names)
        after, held, off = fleets.errors(of.truth, p, interval)
        scores.append((fleets.errors(of.truth, of.judged, interval)[0], after, held, seconds, off))
    return scores


def loop(document, circuit, rounds=5, jobs=400, proposed=0.3, seed=1):
    """The factor, root mean square of its logarithm, between the truth and what each round's pack says of the ten commonest
    modes, where a share of the orders books the likeliest mode of that pack unlooked at."""
    factors, orders = [], []
    pack = json.loads(fleets.SHIPPED.read_text())
    fleet = fleets.Fleet(circuit, fleets.Habits(jobs=jobs, seed=seed, confirmed=True, proposed=proposed))
    common = np.argsort(-fleet.truth)[:10]
    for turn in range(rounds):
        p = fleets.judged_by(pack, circuit.names)[0]

        def proposal(symptom, complained, made):
            suspects = [m for s, _ in symptom["sets"] for m in s]
            return max(suspects, key=lambda m: p[circuit.parameter[m]])
        for number in range(turn * jobs + 1, (turn + 1) * jobs + 1):
            orders += fleet.order(number, proposal)
        pack = learned(fleets.table(orders), document, False).pack
        off = fleets.logit(fleets.judged_by(pack, circuit.names)[0]) - fleets.logit(fleet.truth)
        factors.append(float(np.exp(np.sqrt(np.mean(off[common] ** 2)))))
    return factors


def line(name, scores):
    before, after, held, seconds = (np.array([s[i] for s in scores]) for i in range(4))
    return (f"| {name} | {np.sqrt(np.mean(before ** 2)):.2f} | {np.sqrt(np.mean(after ** 2)):.2f} | "
            f"{100 * held.mean():.0f} % | {seconds.mean():.1f} |")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--circuit", default=ROOT / "examples" / "refuse_truck" / "circuit.json")
    parser.add_argument("--jobs", type=int, default=2000)
    parser.add_argument("--fleets", type=int, default=4)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--rows", default=";".join([*ROWS, *REPAIRS]))
    parser.add_argument("--lives", action="store_true")
    parser.add_argument("--loop", action="store_true")
    parser.add_argument("--by-counting", action="store_true")
    options = parser.parse_args()
    document, circuit = circuit_of(options.circuit)
    if options.lives:
        print("shape, scale, of:", *lives.held(lambda o: faultodds.learn_priors(o, source="lives").pack, range(options.first, options.first + 40)))
        return
    if options.loop:
        for seed in range(options.first, options.first + options.fleets):
            print(f"fleet {seed}:", *(f"{f:.2f}" for f in loop(document, circuit, seed=seed)), flush=True)
        return
    print("| records | rms, shipped | rms, learned | 90 % intervals hold | seconds |\n| --- | --- | --- | --- | --- |")
    for row in options.rows.split(";"):
        if row.startswith("repairs"):
            habits = {"misbooked": 0.15} if "misbooked" in row else {}
            scores = score_repairs(circuit, options.fleets, options.first, **habits)
        else:
            scores = score(row, document, circuit, options.jobs, options.fleets, options.by_counting, options.first)
        print(line(row, scores), flush=True)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""What the advice orders over many jobs: machines drawn from each circuit's own network, as `describe` lists it, a complaint
of each, and the advice followed until the machine is cured, nothing is ordered or five visits are over.

usage: jobs.py [--jobs N] [--seed S] [CIRCUIT...]

Counts the jobs on which a part was ordered twice, and on which no test between the two orders showed anything of it; and the
jobs whose complaint nothing caused (a false report) on which something was ordered. Asked of 10,000 jobs: no part twice without a
test between that shows it; nothing ordered on 95 % of false reports. CIRCUIT is a document's path or the name of a circuit of
machines/circuits.py; without one, all of those. Expects FAULTODDS_LIBRARY where the library is not installed."""
import argparse
import json
import pathlib
import random
import sys
import time

HERE = pathlib.Path(__file__).resolve().parent
sys.path[:0] = [str(HERE / "machines"), str(HERE.parents[1] / "bindings" / "python")]
import circuits  # noqa: E402
from faultodds import Model, _policies as policies  # noqa: E402


class Drawn:
    """Machines with a complaint. What the sets of the symptoms show is drawn at once for each of them; whatever else is asked of
    a machine, it draws by itself."""

    def __init__(self, network, prices, seed):
        self.network, self.prices, self.seed, self.tries = network, prices, seed, 0
        self.chance = {}  # by symptom, set and its modes' states: of showing something, and much

    def chances(self, symptom, k, machine):
        one = self.network.observations[symptom]["sets"][k]
        key = (symptom, k, *[machine.state[m] for m in one["modes"]])
        if key not in self.chance:
            self.chance[key] = machine.chances(one)
        return self.chance[key]

    def next(self):
        """A machine, its complaint and how it was reported."""
        while True:
            self.tries += 1
            self.name = f"{self.seed}/{self.tries}"
            machine = policies._Machine(self.network, self.name, self.prices.e["bad_new_part"])
            draw = random.Random(f"{self.name}/symptoms")
            shown = []
            for symptom in self.network.symptoms:
                of = self.network.observations[symptom]
                for k, one in enumerate(of["sets"]):
                    u = draw.random()
                    machine.shown[symptom, k, (0,) * len(one["modes"])] = sum(u < p for p in self.chances(symptom, k, machine))
                outcome = machine.look(symptom)
                if outcome != of["outcomes"][0]:
                    shown.append((symptom, outcome))
            if shown:
                complaint, outcome = draw.choice(shown)
                machine.looks = {complaint: 1}
                return machine, complaint, outcome


def play(network, decide, machine, complaint, outcome):
    """Whether anything was ordered, a part twice, and a part twice with nothing between that showed anything of it; and the
    job as it ended."""
    job = policies.Job(complaint, (("seen", (complaint, outcome)),), frozenset())
    shown_since = {}  # of a part ordered: a test of it showed something since
    tests, twice, untested = 0, False, False
    while True:
        kind, what = decide(job)
        if kind == "test" and tests < policies.MOST_TESTS:
            tests += 1
            of, seen = network.observations[what], machine.look(what)
            job = job._replace(events=job.events + (("seen", (what, seen)),), setup_done=job.setup_done | set(of["setup"]))
            if seen != of["outcomes"][0]:
                shown_since.update((part, True) for part in network.looked_at(what) if part in shown_since)
            continue
        parts = tuple(what) if kind == "repair" else ()
        for part in parts:
            twice = twice or part in shown_since
            untested = untested or shown_since.get(part) is False
            shown_since[part] = False
            machine.renew(part)
        if not parts or machine.effect(complaint) == 0 or job.visits() == policies.MOST_VISITS:
            return bool(shown_since), twice, untested, job
        outcomes = network.observations[complaint]["outcomes"]
        seen = machine.look(complaint)
        again = outcomes[1] if seen == outcomes[0] else seen  # whoever comes again has seen it
        job = job._replace(events=job.events + (("repaired", parts), ("seen", (complaint, again))), setup_done=frozenset())


class Advice:
    """What the advice decides, each case asked once. Where it orders nothing, the job ends."""

    def __init__(self, model):
        self.model, self.known = model, {}

    def __call__(self, job):
        if job not in self.known:
            advice = self.model.assess({**job.case({}), "detail": "screen"}).get("advice")
            if advice and advice["test"]:
                self.known[job] = "test", advice["test"]
            else:
                self.known[job] = "repair", tuple(advice["repair"]["components"]) if advice else ()
        return self.known[job]


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("circuits", nargs="*")
    arguments.add_argument("--jobs", type=int, default=2500, help="on each circuit")
    arguments.add_argument("--seed", type=int, default=1)
    given = arguments.parse_args()
    known = {subject.name: subject.document for subject in circuits.all_subjects()}
    bad = 0
    for name in given.circuits or known:
        document = known[name] if name in known else json.loads(pathlib.Path(name).read_text(encoding="utf-8"))
        began, jobs = time.process_time(), 0
        count = {"twice": 0, "untested": 0, "false": 0, "false ordered": 0}
        with Model(document) as model:
            network = policies._Network(model.describe())
            prices = policies._Prices(document, network, {})
            decide, drawn = Advice(model), Drawn(network, prices, given.seed)
            while jobs < given.jobs:
                machine, complaint, outcome = drawn.next()
                jobs += 1
                false = machine.effect(complaint) == 0
                any_part, twice, untested, job = play(network, decide, machine, complaint, outcome)
                count["twice"] += twice
                count["untested"] += untested
                count["false"] += false
                count["false ordered"] += false and any_part
                if untested:
                    print(f"{name}, machine {drawn.name}: ordered again untested: {job.events}", flush=True)
                if jobs % 250 == 0:
                    print(f"{name}: {jobs} jobs, {len(decide.known)} histories, {count}, "
                          f"{time.process_time() - began:.0f} s", file=sys.stderr, flush=True)
        print(f"{name}: {jobs} jobs, {len(decide.known)} histories: a part twice on {count['twice']}, untested on "
              f"{count['untested']}; of {count['false']} false reports parts on {count['false ordered']}", flush=True)
        bad += count["untested"] > 0 or count["false ordered"] > 0.05 * count["false"]
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

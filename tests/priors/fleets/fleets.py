"""Invented fleets whose truth is known, and the work orders of workshops that are not perfect. It shares no code with
the engine: of `describe` it takes the minimal sets, outcomes and matrices; what a machine shows, who complains, what
is tested, opened and written down is drawn here (NumPy, from a seed).

A fleet's truth is the share of machines in which a mode is not sound, complaint or not; a workshop sees those only that
complain. Nothing here is taken from any fleet: spreads and shares are working judgement."""

import csv
import io
import json
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

SHIPPED = Path(__file__).parents[3] / "priors" / "packs" / "shipped.json"


def logit(p):
    p = np.asarray(p, float)
    return np.log(p / (1 - p))


def logistic(x):
    return 1 / (1 + np.exp(-np.asarray(x, float)))


@dataclass
class Habits:
    """What is wrong with a workshop's records."""

    jobs: int = 2000
    spread: float = 1.0  # of the truth around judgement, in log odds
    misbooked: float = 0.0  # share of jobs where a part is booked faulty unopened, and the fault is not recorded
    second: float = 0.0  # share of faulty machines with a second fault
    sites: int = 1
    site_spread: float = 0.0  # in log odds, of each mode by itself
    name_sites: bool = True  # as asset classes
    blunt: float = 0.0  # share of tests whose outcome says nothing
    change: bool = False  # half way, other tests are made, and fewer parts are opened and described
    whole: float = 0.4  # share of parts with several modes that are replaced whole
    confirmed: bool = False  # whether the orders say who looked
    proposed: float = 0.0  # share of jobs booked as proposed by `proposal` and not looked at
    faults_only: bool = False  # nothing is written of sound parts
    seed: int = 1


@dataclass
class Circuit:
    """The network of a circuit, as its description lists it, in arrays."""

    described: dict
    types: list = field(init=False)

    def __post_init__(self):
        d = self.described
        self.modes = [m["mode"] for m in d["modes"]]
        place = {m: i for i, m in enumerate(self.modes)}
        self.component = [m["component"] for m in d["modes"]]
        self.type_of = {c["id"]: c["type"] for c in d["components"]}
        self.name = [(self.type_of[c], m.rsplit(".", 1)[1]) for c, m in zip(self.component, self.modes)]
        self.names = sorted(set(self.name))
        self.parameter = np.array([self.names.index(n) for n in self.name])
        self.of_component = {}
        for i, c in enumerate(self.component):
            self.of_component.setdefault(c, []).append(i)
        self.observations = []
        for o in d["observations"]:
            sets = [(np.array([place[m] for m in s["modes"]]), s.get("probability", 1.0)) for s in o["sets"]]
            if not sets:
                continue
            self.observations.append({
                "id": o["observation"], "symptom": o["symptom"], "kind": o["kind"], "sets": sets,
                "outcomes": o["outcomes"], "matrix": np.array(o["matrix"]),
                "background": np.array(o["background"]),
                "components": sorted({self.component[m] for s, _ in sets for m in s}),
            })
        self.symptoms = [i for i, o in enumerate(self.observations) if o["symptom"]]


class Fleet:
    """Machines with a truth, and a workshop that writes orders."""

    def __init__(self, circuit, habits):
        self.circuit, self.habits = circuit, habits
        self.draw = draw = np.random.default_rng(habits.seed)
        shipped = {(m["type"], m["mode"]): m["grades"] for m in json.loads(SHIPPED.read_text())["modes"]}
        self.judged = np.array([1 - shipped[n][0] for n in circuit.names])
        failed = np.array([shipped[n][2] / (1 - shipped[n][0]) for n in circuit.names])
        self.base = np.clip(logit(self.judged) + draw.normal(0, habits.spread, len(circuit.names)), -6.5, -0.5)
        self.failed = np.clip(failed + draw.uniform(-0.15, 0.15, len(failed)), 0.1, 0.9)
        self.at_site = self.base + habits.site_spread * draw.normal(size=(habits.sites, len(self.base)))
        self.matrix = [(1 - habits.blunt) * o["matrix"] + habits.blunt * o["matrix"].mean(axis=0)
                       if not o["symptom"] else o["matrix"] for o in circuit.observations]
        self.favourites = draw.permutation(len(circuit.observations))
        self.truth = self._shares()

    def _shares(self):
        """P(not sound) of each mode of a type: the middle of the sites, second faults included."""
        p = logistic(self.base)
        if not self.habits.second:
            return p
        each = p[self.circuit.parameter]
        none = np.prod(1 - each)
        return p + (1 - p) * self.habits.second * (1 - none) * (each.sum() and p / each.sum())

    def machine(self, site):
        p = logistic(self.at_site[site])[self.circuit.parameter]
        bad = self.draw.random(len(p)) < p
        if self.habits.second and bad.any() and self.draw.random() < self.habits.second:
            bad[self.draw.choice(len(p), p=p / p.sum())] = True
        return np.where(bad, np.where(self.draw.random(len(p)) < self.failed[self.circuit.parameter], 2, 1), 0)

    def look(self, o, grades):
        of = self.circuit.observations[o]
        shown = 0
        for modes, probability in of["sets"]:
            least = grades[modes].min()
            if least > shown and (probability >= 1 or self.draw.random() < probability):
                shown = least
        seen = max(shown, self.draw.choice(3, p=of["background"]))
        return self.draw.choice(len(of["outcomes"]), p=self.matrix[o][seen])

    def order(self, number, proposal=None):
        """One work order: its rows, and the mode that was at fault."""
        h, circuit, draw = self.habits, self.circuit, self.draw
        site = int(draw.integers(h.sites))
        symptom = int(draw.choice(circuit.symptoms))
        while True:
            grades = self.machine(site)
            complained = self.look(symptom, grades)
            if complained > 0:
                break
        suspects = circuit.observations[symptom]["components"]
        late = h.change and number > h.jobs // 2
        tests = [o for o, of in enumerate(circuit.observations)
                 if o != symptom and set(of["components"]) & set(suspects)]
        wanted = int(draw.integers(1, 5))
        if late:
            tests.sort(key=lambda o: self.favourites[o])
            tests = tests[:max(1, wanted - 1)]
        else:
            tests = [tests[i] for i in draw.permutation(len(tests))[:wanted]]
        suspicion = {c: draw.random() * 0.1 for c in suspects}
        made = []
        for o in tests:
            outcome = self.look(o, grades)
            made.append((o, outcome))
            for c in circuit.observations[o]["components"]:
                if c in suspicion:
                    suspicion[c] += (1 if outcome else -1) / len(circuit.observations[o]["components"])
        opened = sorted(suspects, key=lambda c: -suspicion[c])
        rows, found = [], None
        whole = 0.7 if late else h.whole
        for c in opened:
            modes = circuit.of_component[c]
            bad = [m for m in modes if grades[m]]
            if not bad:
                if not late or draw.random() < 0.3:
                    rows.append((c, "none", ""))
                continue
            found = c
            if len(modes) > 1 and draw.random() < whole:
                rows.append((c, "UNK", ""))
            else:
                rows += [(c, circuit.name[m][1], ("", "worn", "failed")[grades[m]]) for m in bad]
            break
        looked = "yes"
        if draw.random() < h.misbooked:
            c = opened[0]
            m = int(draw.choice(circuit.of_component[c]))
            rows = [r for r in rows if r[1] == "none" and r[0] != c] + [(c, circuit.name[m][1], "failed")]
        elif proposal and draw.random() < h.proposed:
            m = proposal(circuit.observations[symptom], complained, made)
            c, looked = circuit.component[m], "no"
            rows = [(c, circuit.name[m][1], "failed")]
        if h.faults_only:
            rows = [r for r in rows if r[1] != "none"]
        day = np.datetime64("2022-01-01") + number // 3
        return [{
            "work_order": f"W{number}", "line": i + 1, "opened": day, "closed": day + 1,
            "asset": f"S{site}-{draw.integers(40)}", "asset_class": f"site{site}" if h.name_sites and h.sites > 1 else "",
            "component": circuit.type_of[c], "position": c, "finding": finding, "grade": grade,
            "confirmed": looked if h.confirmed else "",
            "complaint": self.said(symptom, complained), "tests": "; ".join(self.said(o, k) for o, k in made),
        } for i, (c, finding, grade) in enumerate(rows)]

    def said(self, o, outcome):
        of = self.circuit.observations[o]
        return f"{of['id']}={of['outcomes'][outcome]}"

    def orders(self, proposal=None):
        rows = [row for number in range(1, self.habits.jobs + 1) for row in self.order(number, proposal)]
        return table(rows)


class Repairs:
    """Machines that run, fail and are repaired; only repairs are written, and how long all parts of a type ran. A fault
    is there for `unnoticed` hours before it is repaired, the same for all modes: the truth is the share of that time."""

    def __init__(self, circuit, seed, machines=150, hours=4000, unnoticed=400, spread=1.0, misbooked=0.0):
        self.circuit, self.draw = circuit, np.random.default_rng(seed)
        self.machines, self.hours, self.misbooked = machines, hours, misbooked
        fleet = Fleet(circuit, Habits(spread=spread, seed=seed))
        self.judged, self.truth, self.failed = fleet.judged, fleet.truth, fleet.failed
        self.rate = self.truth / (1 - self.truth) / unnoticed
        self.parts = {}
        for of in circuit.type_of.values():
            self.parts[of] = self.parts.get(of, 0) + 1

    def orders(self):
        rows = []
        for (of, mode), rate, failed in zip(self.circuit.names, self.rate, self.failed):
            for _ in range(self.draw.poisson(rate * self.parts[of] * self.machines * self.hours)):
                booked = (of, mode)
                if self.draw.random() < self.misbooked:
                    booked = self.circuit.names[self.draw.integers(len(self.circuit.names))]
                rows.append({"work_order": f"R{len(rows) + 1}", "closed": "2024-05-01", "component": booked[0],
                             "finding": booked[1], "grade": "failed" if self.draw.random() < failed else "worn"})
        return table(rows)

    def exposure(self):
        types = sorted({of for of, _ in self.circuit.names})
        return table([{"component": of, "in_service": self.parts[of] * self.machines,
                       "hours": self.parts[of] * self.machines * self.hours} for of in types])


def table(rows):
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def judged_by(pack, names):
    """P(not sound) of each mode of a type, and its interval, as a pack says."""
    modes = {(m["type"], m["mode"]): m for m in pack["modes"] if not m.get("asset_class")}
    p = np.array([1 - modes[n]["grades"][0] for n in names])
    interval = np.array([modes[n].get("interval", {}).get("not_sound", [np.nan, np.nan]) for n in names])
    return p, interval


def errors(truth, p, interval):
    """Root mean square of the error in log odds, and the share of intervals that hold the truth."""
    off = logit(np.clip(p, 1e-9, 1 - 1e-9)) - logit(truth)
    held = (interval[:, 0] <= truth) & (truth <= interval[:, 1])
    return float(np.sqrt(np.mean(off ** 2))), float(np.mean(held)), off

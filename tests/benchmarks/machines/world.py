"""Worlds: how large leaks are, what the oil, the load, the instruments and the people do; machines
drawn from them, and what each test of each machine shows. Sizes are continuous and have no grades:
a part is sound (log-normal) or it also leaks, log-uniform from 10 to 3,000 mL/min at 100 bar; a
choked passage or weak pump takes a log-normal share of the flow. Working judgement throughout."""

import json
from pathlib import Path

import numpy as np
from scipy.stats import norm

from hydraulics import ELSEWHERE, Circuit, Setup, number

CATALOGUE = json.loads((Path(__file__).resolve().parents[3] / "core/circuit/catalogue.json").read_text("utf-8"))
CATALOGUE = CATALOGUE.get("types", CATALOGUE)

BLUNDER = 0.02          # another outcome is written down than was seen
LEAK = (10.0, 3000.0)   # mL/min, of what is not sound
SOUND_SEAT, SEAT_SPREAD = 0.3, 1.0
SPOOL_SPREAD = 0.6
HAND_PUMP = 150.0       # mL/min that a hand pump keeps up
VOLUME, STIFFNESS = 150.0, 1.0e4  # mL trapped by a hold, bar
BAD_NEW_PART = 0.01
OUTSIDE = 0.01          # a leak that the circuit document does not describe, per load
SEARCH = 780.0          # looking for it: two hours, and what mends it
LABOUR, DOWNTIME, DOWNTIME_PER_DAY, SECOND_VISIT, ABANDONED = 80.0, 60.0, 2.0, 600.0, 3000.0
ECONOMICS = {"labour_per_hour": LABOUR, "downtime_per_hour": DOWNTIME,
             "downtime_hours_per_day": DOWNTIME_PER_DAY, "second_visit": SECOND_VISIT}
PER_MINUTE = (LABOUR + DOWNTIME) / 60
OUTCOMES = {"static": ["held", "bled_down", "would_not_build"], "drift": ["none", "slow", "fast"],
            "delivery": ["normal", "slow", "stalled"], "flow": ["normal", "low", "very_low"],
            "look": ["dry", "wet", "drips"], "temperature": ["normal", "warm", "hot"]}


def complaints_of(subject):
    """Symptoms with which its machines are reported: each load sinks, each actuator's first function is slow."""
    first = {}
    for f in subject.document["functions"]:
        first.setdefault(f["actuator"], f["id"])
    return [f"drift/{a}/{d}" for a, (d, _) in subject.loads.items()] + [f"delivery/{f}" for f in first.values()]


class Machines:
    """Many machines of one circuit: sound[mode], leak[mode] (0: sound), lands, oil and loads."""

    def __init__(self, bench, n, rng):
        circuit = bench.circuit
        self.n = n
        self.sound = np.zeros((n, len(circuit.mode_ids)))
        self.leak = np.zeros_like(self.sound)
        for k in range(self.sound.shape[1]):
            self._draw(bench, k, np.arange(n), rng, bench.odds[k])
        self.lands = np.exp(0.3 * rng.standard_normal((n, len(circuit.elements), 1)))[..., 0]
        self.nu_hot = 30 * np.exp(0.2 * rng.standard_normal(n))
        # The shop's oil: warm or cold.
        self.nu_shop = np.where(rng.random(n) < 0.5, 46, 140) * np.exp(0.25 * rng.standard_normal(n))
        self.load = {a: bar * np.minimum(np.exp(0.3 * rng.standard_normal(n)), 1.6)
                     for a, (_, bar) in bench.subject.loads.items()}

    def _draw(self, bench, k, rows, rng, odds):
        n, law = len(rows), bench.circuit.mode_law[k]
        faulty = rng.random(n) < odds
        if law == "loss":
            self.sound[rows, k] = 0
            share = np.minimum(0.25 * np.exp(0.8 * rng.standard_normal(n)), 1)
            self.leak[rows, k] = np.where(faulty, share, 0)
            return
        median, spread = (bench.world_spool, SPOOL_SPREAD) if law == "gap" else (SOUND_SEAT, SEAT_SPREAD)
        self.sound[rows, k] = median * np.exp(spread * rng.standard_normal(n))
        self.leak[rows, k] = np.where(faulty, LEAK[0] * (LEAK[1] / LEAK[0]) ** rng.random(n), 0)

    def take(self, rows):
        other = object.__new__(Machines)
        other.n = len(np.arange(self.n)[rows])
        for name in ("sound", "leak", "lands", "nu_hot", "nu_shop"):
            setattr(other, name, getattr(self, name)[rows].copy())
        other.load = {a: v[rows].copy() for a, v in self.load.items()}
        return other

    def renewed(self, bench, components, rng):
        other = self.take(np.arange(self.n))
        for k, component in enumerate(bench.circuit.mode_component):
            if component in components:
                other._draw(bench, k, np.arange(self.n), rng, BAD_NEW_PART)
        return other

    def only(self, bench, components):
        """With nothing leaking but these components."""
        other = self.take(np.arange(self.n))
        for k, component in enumerate(bench.circuit.mode_component):
            if component not in components:
                other.leak[:, k] = 0
        return other


class Bench:
    """A circuit in a world: its tests (as the vendor's menu has them), their minutes and limits."""

    def __init__(self, subject, world_spool, menu, seed=1):
        self.subject, self.world_spool = subject, world_spool
        holding = {"retract": "cap", "extend": "rod"}
        self.circuit = Circuit(subject.document, [f"{a}.{holding[d]}" for a, (d, _) in subject.loads.items()])
        types = {c["id"]: c["type"] for c in subject.document["components"]}
        self.odds = []
        for mode, component in zip(self.circuit.mode_ids, self.circuit.mode_component):
            if component == ELSEWHERE:
                self.odds.append(OUTSIDE)
                continue
            data = CATALOGUE[types[component]]["failure_modes"][mode.split(".")[1]]
            self.odds.append(1 - data["prior"][0])
        self.menu = menu  # observation -> {minutes, setup: {id: minutes}, pressure}
        self.complaints = complaints_of(subject)
        self._setups, self.limits = {}, {}
        sound = Machines(self, 1500, np.random.default_rng(seed))
        sound.leak[:] = 0
        for o in list(self.menu) + self.complaints:
            self.limits[o] = self._limits(o, sound)
        # A circuit has one limit of the maker's, for its cylinders alike.
        drift = max(self.limits[o][0] for o in self.limits if o.startswith("drift/") and o in self.complaints)
        self.limits.update({o: (drift, 10 * drift) for o in self.limits if o.startswith("drift/")})

    def _limits(self, o, sound):
        kind = o.split("/")[0]
        if kind == "static":  # where a sound valve of this kind still holds
            usual = np.quantile(self.effect(sound, o), 0.95)
            return min(max(2.0, 1.3 * usual), 0.6 * HAND_PUMP), HAND_PUMP
        if kind == "drift":   # the maker's, who knows what a sound valve does
            usual = np.quantile(self.effect(sound, o), 0.95)
            limit = max(4.0, float(np.ceil(1.3 * usual)))
            return limit, 10 * limit
        return {"delivery": (0.10, 0.60), "flow": (0.10, 0.30), "look": (1.0, 15.0),
                "temperature": (15.0, 80.0)}[kind]

    def component_ids(self):
        return sorted(set(self.circuit.mode_component) - {ELSEWHERE})

    def conductance(self, m):
        size = m.sound + m.leak
        g = np.full((m.n, len(self.circuit.elements)), 1e-3)
        for k, leaks in enumerate(self.circuit.leaks):
            for mode, _ in leaks:
                g[:, k] += size[:, mode] * (m.lands[:, k] if len(leaks) else 1)
        return g

    def _setup(self, o):
        if o in self._setups:
            return self._setups[o]
        parts, document = o.split("/"), self.circuit.document
        lines, plugged, positions = set(), set(), None
        if parts[0] == "static":
            port = parts[1]
            component = port.split(".")[0]
            ports = [port]
            if self.circuit.components[component]["type"].endswith("cylinder"):
                ports = [f"{component}.cap", f"{component}.rod"]
            lines = {c["line"] for c in document["connections"] if "line" in c and
                     (c["from"] in ports or c["to"] in ports)}
            plugged = set(parts[3:])
        if parts[0] == "delivery":
            function = next(f for f in document["functions"] if f["id"] == parts[1])
            positions = function["positions"]
        self._setups[o] = Setup(self.circuit, lines, plugged, positions)
        return self._setups[o]

    def effect(self, m, o):
        """What a perfect instrument reads: mL/min of a hold, mm/min of a drift, share of flow lost."""
        parts = o.split("/")
        g = None if parts[0] in ("flow", "look", "temperature") else self.conductance(m)
        if parts[0] == "flow":
            return self._loss(m, lambda c: c == parts[1])
        if parts[0] == "look":  # the largest leak along it, at 20 bar
            along = self._along(parts[1])
            outside = [k for k, i in enumerate(self.circuit.mode_ids)
                       if i.endswith(("external_leak", "rod_seal_leak")) and self.circuit.mode_component[k] in along]
            return np.maximum(0.45 * (m.sound + m.leak)[:, outside].max(1, initial=0), 1e-3)
        if parts[0] == "temperature":  # W that its leaks take from 150 bar; its neighbours' heat is its own 2 W
            q = sum((m.sound + m.leak)[:, k] * (1.5 * 46 / m.nu_hot if self.circuit.mode_law[k] == "gap" else 1.5 ** 0.5)
                    for k, c in enumerate(self.circuit.mode_component) if c == parts[1])
            return 150 * q / 600 + 2
        setup = self._setup(o)
        if parts[0] == "static":
            port = parts[1]
            other = {"cap": "rod", "rod": "cap"}.get(port.split(".")[1]) \
                if self.circuit.components[port.split(".")[0]]["type"].endswith("cylinder") else None
            held = {port: np.full(m.n, 0.75 * self.menu[o]["pressure"])}
            if other:
                held[f'{port.split(".")[0]}.{other}'] = np.zeros(m.n)
            return np.maximum(setup.solve(g, m.nu_shop, held)[2][setup.root(port)], 1e-3)
        if parts[0] == "drift":
            actuator, direction = parts[1], parts[2]
            cap, rod = self.circuit.areas(actuator)
            sides = (f"{actuator}.cap", cap, f"{actuator}.rod", rod)
            if direction == "extend":
                sides = sides[2:] + sides[:2]
            drives = self.subject.loads[actuator][0] == direction
            force = m.load[actuator] * sides[1] if drives else np.zeros(m.n)
            return np.maximum(setup.solve(g, m.nu_hot, {}, sides + (force,))[1], 1e-3)
        function = next(f for f in self.circuit.document["functions"] if f["id"] == parts[1])
        actuator = function["actuator"]
        driven = f'{actuator}.{"cap" if function["direction"] == "extend" else "rod"}'
        p = np.full(m.n, self.subject.functions_pressure)
        _, _, out = setup.solve(g, m.nu_hot, {"pump.out": p, driven: p})
        rated = 1000 * number(self.circuit.components["pump"]["rated_flow"])
        lines = {setup.root(f"{actuator}.cap"), setup.root(f"{actuator}.rod")}

        def on_the_way(c):
            kind = self.circuit.components[c]["type"]
            if kind in ("hose", "tube"):
                return setup.root(f"{c}.a") in lines
            return c in function["positions"] or kind in ("load_check", "fixed_pump", "variable_pump") or \
                kind in ("pilot_operated_check",) and c in function["positions"]
        lost = self._loss(m, on_the_way)
        leaks = np.minimum(sum(out.values()) / rated, 1)
        return np.maximum(1 - (1 - lost) * (1 - leaks), 1e-4)

    def _along(self, component):
        """The component, and the hoses and tubes that end at it."""
        along = {component}
        while True:
            ends = {e.split(".")[0] for c in self.circuit.document["connections"] for e in (c["from"], c["to"])
                    if {c["from"].split(".")[0], c["to"].split(".")[0]} & along}
            lines = {e for e in ends if self.circuit.components.get(e, {}).get("type") in ("hose", "tube")}
            if lines <= along:
                return along
            along |= lines

    def _loss(self, m, wanted):
        left = np.ones(m.n)
        for k, law in enumerate(self.circuit.mode_law):
            if law == "loss" and wanted(self.circuit.mode_component[k]):
                left *= 1 - m.leak[:, k]
        return 1 - left

    def chances(self, o, effect, limits=None):
        """P(each outcome), the instrument's error and people's blunders in it."""
        low, high = limits or self.limits[o]
        if o.split("/")[0] in ("delivery", "flow"):
            under = [norm.cdf((x - effect) / 0.03) for x in (low, high)]
        else:
            under = [norm.cdf(np.log(x / effect) / 0.3) for x in (low, high)]
        p = np.stack([under[0], np.maximum(under[1] - under[0], 0), 1 - under[1]], 1)
        return (1 - BLUNDER) * p + BLUNDER * (1 - p) / 2

    def names(self, o):
        return OUTCOMES[o.split("/")[0]]

    def repair_cost(self, components):
        if not components:
            return 0.0
        parts = [self.circuit.components[c] for c in components]
        return (sum(c.get("part_cost", 150) for c in parts) +
                PER_MINUTE * sum(c.get("minutes", 60) for c in parts) +
                DOWNTIME * DOWNTIME_PER_DAY * max(c.get("lead_days", 0) for c in parts))

    def cause(self, one, complaint):
        """The set of components whose effect is the largest, of one machine: (), the truth's name."""
        if self.effect(one, complaint)[0] <= self.limits[complaint][0]:
            return "nothing"
        leaking = sorted({c for k, c in enumerate(self.circuit.mode_component) if one.leak[0, k] > 0})
        alone = {c: self.effect(one.only(self, {c}), complaint)[0] for c in leaking}
        by_design = self.effect(one.only(self, set()), complaint)[0]
        best = max(alone.values(), default=0)
        pairs = {}
        for i, a in enumerate(leaking):
            for b in leaking[i + 1:]:
                e = self.effect(one.only(self, {a, b}), complaint)[0]
                if e > 1.5 * (max(alone[a], by_design) + max(alone[b], by_design) - by_design):
                    pairs[(a, b)] = e
        if pairs and max(pairs.values()) > 1.5 * best:
            return frozenset(max(pairs, key=pairs.get))
        if not leaking or best <= 1.2 * by_design:
            return "by_design"
        likeliest = max(alone, key=alone.get)
        return ELSEWHERE if likeliest == ELSEWHERE else frozenset([likeliest])

    def least_repair(self, one, complaint):
        """What one who knew the machine would pay: the cheapest parts that bring it within its limit."""
        def cures(components):
            left = one.take([0])
            for k, c in enumerate(self.circuit.mode_component):
                if c in components:
                    left.leak[:, k] = 0
            return self.effect(left, complaint)[0] <= self.limits[complaint][0]
        if cures(()):
            return 0.0
        leaking = sorted({c for k, c in enumerate(self.circuit.mode_component) if one.leak[0, k] > 0})
        price = lambda s: self.repair_cost([c for c in s if c != ELSEWHERE]) + SEARCH * (ELSEWHERE in s)
        sets = [(c,) for c in leaking] + [(a, b) for i, a in enumerate(leaking) for b in leaking[i + 1:]]
        return min((price(s) for s in sets if cures(s)), default=price(leaking))

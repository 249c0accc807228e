"""Steady leakage of many machines of one circuit at once: pressures, speeds and flows.

Written anew for the benchmark: it reads circuit documents but shares neither code nor type tables
with the engine. Units: bar, mL/min, mm2, mm/min. It knows nothing of probability.

Laws. A gap: q = s dp/100 46/nu (annular clearance; Merritt, Hydraulic Control Systems 1967). A seat,
seal or crack: q = s dp / sqrt(100 (|dp| + 0.1)), the orifice law made smooth at nothing. A relief
passes 40 L/min at 5 % over its setting (working judgement), less ratio times pilot. A check passes
2 L/min per bar. A volume that would fall below -1 bar is filled with vapour. A piston balances
p_c A_c - p_e A_e = F and takes A v.
"""

import math

import numpy as np

# Type: passages, blocking elements (name, kind, from, to, positions in which it is open, pilot),
# failure modes (elements that leak, law), modes that take a share of the flow.
VALVE = [("pa", "seal", "p", "a", "a", None), ("pb", "seal", "p", "b", "b", None)]
SPOOL = {"spool_bore_wear": (["pa", "pb", "at", "bt"], "gap")}


def _section(centre, drained):
    neutral = ["neutral"] if drained else []
    elements = VALVE + [("at", "seal", "a", "t", neutral + ["b"], None),
                        ("bt", "seal", "b", "t", neutral + ["a"], None)]
    modes = dict(SPOOL)
    if centre:
        elements = elements + [("gallery", "seal", "in", "out", ["neutral"], None)]
        modes = {"spool_bore_wear": (["pa", "pb", "at", "bt", "gallery"], "gap")}
    return [], elements, modes, ["spool_sticks"]


TYPES = {
    "tank": ([("suction", "tank"), ("return", "tank")], [], {}, []),
    "fixed_pump": ([], [("slip", "check", "in", "out", [], None)], {}, ["internal_wear", "starved"]),
    "variable_pump": ([], [("slip", "check", "in", "out", [], None)], {},
                      ["internal_wear", "control_fault", "starved"]),
    "main_relief": ([], [("seat", "relief", "in", "out", [], None)], {"seat_leak": (["seat"], "seat")}, []),
    "port_relief": ([], [("seat", "relief", "in", "out", [], None)], {"seat_leak": (["seat"], "seat")}, []),
    "load_check": ([], [("seat", "check", "in", "out", [], None)], {"seat_leak": (["seat"], "seat")},
                   ["stuck_closed"]),
    "makeup_check": ([], [("seat", "check", "tank_side", "port_side", [], None)],
                     {"seat_leak": (["seat"], "seat")}, []),
    "relief_makeup": ([], [("relief", "relief", "port_side", "tank_side", [], None),
                           ("makeup", "check", "tank_side", "port_side", [], None)],
                      {"relief_seat_leak": (["relief"], "seat"), "makeup_seat_leak": (["makeup"], "seat")}, []),
    "counterbalance_valve": ([], [("free", "check", "valve", "load", [], None),
                                  ("seat", "relief", "load", "valve", ["piloted"], "pilot")],
                             {"seat_leak": (["seat"], "seat")}, ["does_not_open"]),
    "pilot_operated_check": ([], [("seat", "check", "valve", "load", ["piloted"], "pilot")],
                             {"seat_leak": (["seat"], "seat")}, ["does_not_open"]),
    "single_rod_cylinder": ([], [("piston", "seal", "cap", "rod", [], None),
                                 ("gland", "seal", "rod", "outside", [], None)],
                            {"piston_seal_leak": (["piston"], "seat"), "rod_seal_leak": (["gland"], "seat")}, []),
    "hose": ([("a", "b")], [("wall", "seal", "a", "outside", [], None)],
             {"external_leak": (["wall"], "seat")}, ["collapsed"]),
    "tube": ([("a", "b")], [("wall", "seal", "a", "outside", [], None)],
             {"external_leak": (["wall"], "seat")}, ["crushed"]),
    "open_centre_section": _section(True, False),
    "open_centre_drained_section": _section(True, True),
    "closed_centre_section": _section(False, False),
    "closed_centre_drained_section": _section(False, True),
}


ELSEWHERE = "elsewhere"


def number(quantity):
    return float(str(quantity).split()[0])


class Circuit:
    """A circuit document with its elements, each with the failure modes that make it leak."""

    def __init__(self, document, elsewhere=()):
        self.document = document
        self.components = {c["id"]: c for c in document["components"]}
        self.elements = []  # (name, kind, from, to, open_in, pilot, component)
        self.mode_ids, self.mode_component, self.mode_law = [], [], []
        self.leaks = []  # per element: (mode, index of this land among the mode's)
        for c in document["components"]:
            _, elements, modes, losses = TYPES[c["type"]]
            here = {}
            for name, kind, a, b, open_in, pilot in elements:
                here[name] = len(self.elements)
                at = lambda port: port if port in ("tank", "outside") else f'{c["id"]}.{port}'
                self.elements.append((name, kind, at(a), at(b), open_in, pilot and at(pilot), c["id"]))
                self.leaks.append([])
            for mode, (leaks, law) in modes.items():
                for land, name in enumerate(leaks):
                    self.leaks[here[name]].append((len(self.mode_ids), land))
                self._mode(c["id"], mode, law)
            for mode in losses:
                self._mode(c["id"], mode, "loss")
        # What no document describes: a crack or a wrong joint where the load's oil stands.
        for volume in elsewhere:
            self.leaks.append([(len(self.mode_ids), 0)])
            self.elements.append(("crack", "seal", volume, "tank", [], None, ELSEWHERE))
            self._mode(ELSEWHERE, f"crack_at_{volume}", "seat")

    def _mode(self, component, mode, law):
        self.mode_ids.append(f"{component}.{mode}")
        self.mode_component.append(component)
        self.mode_law.append(law)

    def areas(self, cylinder):
        c = self.components[cylinder]
        bore, rod = number(c["bore"]), number(c["rod"])
        return math.pi / 4 * bore ** 2, math.pi / 4 * (bore ** 2 - rod ** 2)


class Setup:
    """The circuit with lines off, cartridges plugged and valves moved: its volumes and elements."""

    def __init__(self, circuit, lines_off=(), plugged=(), positions=None):
        self.circuit = circuit
        positions = positions or {}
        self._parent = {}
        for connection in circuit.document["connections"]:
            ends = connection["from"], connection["to"]
            if connection.get("line") in lines_off and "line" in connection:
                continue
            self._join(*ends)
        for c in circuit.document["components"]:
            for a, b in TYPES[c["type"]][0]:
                self._join(*(p if p in ("tank", "outside") else f'{c["id"]}.{p}' for p in (a, b)))
        self.joined = []
        self.elements = []
        for k, (_, kind, a, b, open_in, pilot, component) in enumerate(circuit.elements):
            if component in plugged:
                continue
            if positions.get(component, "neutral") in open_in:
                self._join(a, b)
            else:
                self.elements.append(k)

    def root(self, volume):
        while self._parent.get(volume, volume) != volume:
            volume = self._parent[volume]
        return volume

    def _join(self, a, b):
        a, b = self.root(a), self.root(b)
        if a != b:
            if b in ("tank", "outside"):
                a, b = b, a
            self._parent[b] = a

    def solve(self, conductance, nu, held, piston=None):
        """Pressures by volume and the piston's speed. held: volume -> pressure of each machine.
        piston: (contracting volume, its area, expanding volume, its area, force of each machine)."""
        circuit, n = self.circuit, len(nu)
        zero = np.zeros(n)
        fixed = {self.root(v): p for v, p in held.items()}
        for v in ("tank", "outside"):
            fixed.setdefault(self.root(v), zero)
        ends = [(k, self.root(circuit.elements[k][2]), self.root(circuit.elements[k][3])) for k in self.elements]
        seen, grown = {self.root(v) for v in held}, True
        if piston:
            seen |= {self.root(piston[0]), self.root(piston[2])}
        while grown:
            grown = False
            for _, a, b in ends:
                for x, y in ((a, b), (b, a)):
                    if x in seen and (x not in fixed or x in map(self.root, held)) and y not in seen:
                        seen.add(y)
                        grown = True
        unknown = sorted(v for v in seen if v not in fixed)
        index = {v: i for i, v in enumerate(unknown)}
        elements = [(k, a, b) for k, a, b in ends
                    if a != b and (a in index or b in index or a in seen and b in seen)]
        m = len(unknown) + (1 if piston else 0)
        x = np.zeros((n, m))
        if piston:
            c, ac, e, ae, force = piston
            c, e = self.root(c), self.root(e)
            if c in index:
                x[:, index[c]] = force / ac
        law = [circuit.mode_law[circuit.leaks[k][0][0]] if circuit.leaks[k] else "seat" for k, _, _ in elements]

        def pressures(x, rows):
            return lambda v: x[:, index[v]] if v in index else fixed[v][rows]

        def residual(x, rows, want_jacobian):
            p = pressures(x, rows)
            r = np.zeros_like(x)
            j = np.zeros((len(rows), m, m)) if want_jacobian else None

            def add(v, sign, q, slopes):
                if v not in index:
                    return
                r[:, index[v]] += sign * q
                if want_jacobian:
                    for w, d in slopes:
                        if w in index:
                            j[:, index[v], index[w]] += sign * d

            for (k, a, b), how in zip(elements, law):
                q, d, extra = self._flow(k, how, p(a), p(b), conductance[rows, k], nu[rows], p)
                slopes = [(a, d), (b, -d)] + extra
                add(a, 1, q, slopes)
                add(b, -1, q, slopes)
            for v, i in index.items():
                below = np.minimum(x[:, i] + 1, 0) * 1e5
                r[:, i] += below
                if want_jacobian:
                    j[:, i, i] += np.where(x[:, i] < -1, 1e5, 0) + 1e-7
            if piston:
                v = x[:, -1]
                for volume, area, sign in ((c, ac, -1), (e, ae, 1)):
                    if volume in index:  # contracting gives area * v, expanding takes it
                        r[:, index[volume]] += sign * area * v / 1000
                        if want_jacobian:
                            j[:, index[volume], -1] += sign * area / 1000
                r[:, -1] = (p(c) * ac - p(e) * ae - force[rows]) / 1000
                if want_jacobian:
                    if c in index:
                        j[:, -1, index[c]] += ac / 1000
                    if e in index:
                        j[:, -1, index[e]] -= ae / 1000
            return r, j

        active = np.arange(n)
        for _ in range(80 if m else 0):
            r, j = residual(x[active], active, True)
            norm = np.abs(r).sum(1)
            going = norm > 1e-6
            if not going.any():
                break
            active, r, j, norm = active[going], r[going], j[going], norm[going]
            step = np.linalg.solve(j, -r[..., None])[..., 0]
            scale = np.ones(len(active))
            best, at = norm.copy(), x[active].copy()
            done = np.zeros(len(active), bool)
            for _ in range(7):
                trial = x[active] + scale[:, None] * step
                size = np.abs(residual(trial, active, False)[0]).sum(1)
                better = ~done & (size < best)
                at[better] = trial[better]
                done |= better
                if done.all():
                    break
                scale[~done] *= 0.4
            at[~done] = x[active][~done] + 0.3 * step[~done]
            x[active] = at
        every = np.arange(n)
        self.unsolved = float((np.abs(residual(x, every, False)[0]).sum(1) > 1e-2).mean()) if m else 0.0
        p = pressures(x, every)
        out = {}
        for v in map(self.root, held):
            total = np.zeros(n)
            for (k, a, b), how in zip(elements, law):
                if v in (a, b):
                    q, _, _ = self._flow(k, how, p(a), p(b), conductance[:, k], nu, p)
                    total += q if v == a else -q
            out[v] = total
        return p, (x[:, -1] if piston else None), out

    def _flow(self, k, law, pa, pb, size, nu, p):
        _, kind, _, _, _, pilot, component = self.circuit.elements[k]
        d = pa - pb
        if law == "gap":
            slope = size / 100 * 46 / nu
            q = slope * d
        else:
            s = np.sqrt(100 * (np.abs(d) + 0.1))
            q = size * d / s
            slope = size * (1 / s - np.abs(d) * 50 / s ** 3)
        extra = []
        if kind == "check":
            q = q + 2000 * np.maximum(d, 0)
            slope = slope + np.where(d > 0, 2000, 0)
            if pilot and self.root(pilot) not in (self.root(self.circuit.elements[k][2]),):
                c = self.circuit.components[component]
                lift = np.clip((c.get("ratio", 3) * p_or_zero(p, self.root(pilot), pa) - (pb - pa)) / 5, 0, 1)
                q = q + 50 * lift * d
                slope = slope + 50 * lift
        elif kind == "relief":
            c = self.circuit.components[component]
            setting = number(c["setting"])
            over = pa - pb - setting
            if pilot:
                over = over + c.get("ratio", 3) * np.maximum(p_or_zero(p, self.root(pilot), pa), 0)
            k_open = 40000 / (0.05 * setting)
            q = q + k_open * np.maximum(over, 0)
            slope = slope + np.where(over > 0, k_open, 0)
            if pilot:
                extra = [(self.root(pilot), np.where(over > 0, k_open * c.get("ratio", 3), 0))]
        return q, slope, extra


def p_or_zero(p, volume, like):
    try:
        return p(volume)
    except KeyError:
        return np.zeros_like(like)

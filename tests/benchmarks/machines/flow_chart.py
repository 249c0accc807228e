"""What a good mechanic does without figures. Look at the complaint himself. Drift: look for oil outside; the hold at the valve port
of the side that carries the load (opposite to the drift); reliefs and checks there before the spool,
each by a plugged hold; then cylinder and hose, everything else run down before an order goes out.
Slow: look; the hold of the driving side; the pump by flow meter before it is ordered."""


class FlowChart:
    name = "flow chart"

    def __init__(self, bench, populations):
        self.bench = bench
        self.odds = {}
        for k, c in enumerate(bench.circuit.mode_component):
            self.odds[c] = self.odds.get(c, 0) + bench.odds[k]

    def decide(self, job):
        seen = job.results()
        done = {c for kind, what in job.events if kind == "renewed" for c in what}
        kind, what = job.complaint.split("/")[:2]
        steps, suspects = self._drift(job.complaint) if kind == "drift" else self._slow(what)
        if job.looks(job.complaint) < 2:
            return "test", job.complaint
        if job.last(job.complaint) == 0:
            return "repair", []
        bad = lambda o: seen.get(o, 0) > 0
        ordered = []
        for test, needed, if_bad, if_held in steps:
            if any((seen.get(t, -1) > 0) != want for t, want in needed):
                continue
            if test not in self.bench.menu:
                continue
            if test not in seen:
                return "test", test
            named = if_bad if bad(test) else if_held
            ordered += [c for c in named if c not in done and c not in ordered]
        if ordered:
            return "repair", ordered[:2]
        left = [c for c in suspects if c not in done]
        cleared = set()
        for test, needed, if_bad, if_held in steps:
            if test in seen and not bad(test):
                cleared |= set(if_bad)
        left = [c for c in left if c not in cleared] or left
        return "repair", left[:1]

    def _side(self, actuator, port):
        """Of a cylinder's side: the lock or valve section's port, hoses, cartridges at that port."""
        c, at = self.bench.circuit, f"{actuator}.{port}"
        joined = {}
        for connection in c.document["connections"]:
            for a, b in ((connection["from"], connection["to"]), (connection["to"], connection["from"])):
                joined.setdefault(a, []).append(b)
        hoses, cartridges, trail, here = [], [], [at], at
        while True:
            following = [b for b in joined.get(here, []) if b not in trail]
            step = None
            for b in following:
                kind = c.components.get(b.split(".")[0], {}).get("type", "")
                if kind in ("hose", "tube"):
                    hoses.append(b.split(".")[0])
                    step = b[:-1] + ("a" if b.endswith("b") else "b")
                    trail += [b, step]
                elif kind in ("pilot_operated_check", "counterbalance_valve") and b.endswith(".load"):
                    return b, hoses, [b.split(".")[0]] + self._at(joined, b), None
                elif kind.endswith("section"):
                    return b, hoses, self._at(joined, b), b.split(".")[0]
            if step is None:
                return here, hoses, cartridges, None
            here = step

    def _at(self, joined, port):
        kinds = ("port_relief", "relief_makeup", "makeup_check")
        here = [b.split(".")[0] for b in joined.get(port, [])]
        found = [x for x in dict.fromkeys(here) if self.bench.circuit.components.get(x, {}).get("type") in kinds]
        return sorted(found, key=lambda x: -self.odds[x])  # reliefs leak more often than checks

    def _drift(self, complaint):
        _, actuator, direction = complaint.split("/")
        holding, other = ("cap", "rod") if direction == "retract" else ("rod", "cap")
        port, hoses, cartridges, section = self._side(actuator, holding)
        steps = [(f"look/{actuator}", [], [], [])]
        hold = f"static/{port}"
        steps.append((hold, [], [], []))
        for c in cartridges:
            steps.append((f"{hold}/plugged/{c}", [(hold, True)] + [
                (f"{hold}/plugged/{b}", True) for b in cartridges[:cartridges.index(c)]], [], [c]))
        if section:
            last = [(hold, True)] + [(f"{hold}/plugged/{b}", True) for b in cartridges
                                     if f"{hold}/plugged/{b}" in self.bench.menu]
            steps.append((hold, last, [section], []))
        cylinder = f"static/{actuator}.{holding}"
        steps.append((cylinder, [(hold, False)], [actuator], hoses[:1]))
        # Everything else is run down before the order goes out.
        steps.append((cylinder, [(hold, True)], [actuator], []))
        far, _, far_cartridges, far_section = self._side(actuator, other)
        steps.append((f"static/{far}", [(cylinder, True)], [], []))
        for c in far_cartridges[:1]:
            steps.append((f"static/{far}/plugged/{c}", [(f"static/{far}", True)], [], [c]))
        suspects = cartridges[:1] + hoses + [actuator] + cartridges[1:] + far_cartridges + \
            [s for s in (section, far_section) if s]
        return steps, suspects

    def _slow(self, function):
        f = next(f for f in self.bench.circuit.document["functions"] if f["id"] == function)
        side = "cap" if f["direction"] == "extend" else "rod"
        port, hoses, cartridges, section = self._side(f["actuator"], side)
        hold, cylinder = f"static/{port}", f'static/{f["actuator"]}.{side}'
        siblings = [g["id"] for g in self.bench.circuit.document["functions"] if g["id"] != function]
        steps = [(f"look/{f['actuator']}", [], [], []), (f"delivery/{siblings[-1]}", [], [], []), (hold, [], [], [])]
        for c in cartridges:
            steps.append((f"{hold}/plugged/{c}", [(hold, True)], [], [c]))
        steps.append((cylinder, [(hold, False)], [f["actuator"]], []))
        steps.append(("flow/pump", [(hold, False)], ["pump"], []))
        check = [c for c, d in self.bench.circuit.components.items() if d["type"] == "load_check"]
        sections = [c for c in f["positions"] if c.endswith("section")]
        suspects = ["main_relief", "pump"] + check + sections + hoses + [f["actuator"]] + \
            [c for c in f["positions"] if c not in sections]
        return steps, suspects

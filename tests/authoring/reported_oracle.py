"""Which failure modes raise which report, by another way than the engine's: subsets of one and two modes are tried, each by
asking whether oil gets through with exactly those leaking. From the catalogue's and the circuit's JSON; no code of the
engine, no path is searched. What a report is, in words (working judgement of the trade, as core/circuit/reported.h has it):

- no_pressure/<pump>: what takes pressure from every function that lives on the pump; what weakens or starves the pump.
- hot/<pump>: what alone lets its pressure down inside the machine in any function, a pump that leaks as it weakens, and what
  ISO 14224 calls insufficient heat transfer (IHT) or overheating (OHE).
- noisy/<pump>: what chokes its suction or lets air into it; its own noise (NOI) and starving (PDE).
- jerky/<actuator>: what chokes the ways of its functions, air and starving, a control that does not let the pump stroke; not
  what is plugged (PLU), which chokes evenly.
- moves/<actuator>/<direction>: what lets oil from a source that is under pressure, with one of the function's valves in
  neutral, to the side that expands, without going through a return line.
- dip/<function>: what lets the load's oil back to the source with the valves as commanded, unless the load drives that way.
- uneven/<function>: of two equal actuators that the same positions move: what only one of them has, and what they are.
"""

import itertools

TANK, OUTSIDE = "tank", "outside"


class Machine:
    def __init__(self, document, catalogue):
        types = {**catalogue, **document.get("types", {})}
        self.parts = {one["id"]: one for one in document["components"]}
        self.type = {name: types[one["type"]] for name, one in self.parts.items()}
        self.functions = {one["id"]: one for one in document.get("functions", [])}
        gallery = {}

        def root(volume):
            while gallery.get(volume, volume) != volume:
                volume = gallery[volume]
            return volume

        for joint in document["connections"]:
            if "line" not in joint:
                one, other = root(joint["from"]), root(joint["to"])
                if one in (TANK, OUTSIDE):
                    one, other = other, one
                gallery[one] = other
        self.at = root
        self.lines = [(root(j["from"]), root(j["to"])) for j in document["connections"] if "line" in j]
        self.elements = []  # (part, name, element, from, to)
        self.modes = {}
        for part, type in self.type.items():
            for name, element in type["elements"].items():
                ends = [root(end if end in (TANK, OUTSIDE) else f"{part}.{end}") for end in (element["from"], element["to"])]
                self.elements.append((part, name, element, *ends))
            for name, mode in type["failure_modes"].items():
                self.modes[f"{part}.{name}"] = (part, mode)
        self.leaking = {}
        for mode, (part, of) in self.modes.items():
            for name in of.get("leaks", []):
                self.leaking.setdefault((part, name), set()).add(mode)

    def arcs(self, positions, modes=frozenset(), without=()):
        """Where oil gets from each volume, with exactly these modes leaking."""
        out = {}
        for one, other in self.lines:
            out.setdefault(one, set()).add(other)
            out.setdefault(other, set()).add(one)
        for part, name, element, one, other in self.elements:
            if (part, name) in without or part in without:
                continue
            kind = element["kind"]
            forth = kind in ("passage", "check") or (
                kind == "seal" and positions.get(part, "neutral") in element.get("open_in", []))
            back = forth and kind != "check"
            if self.leaking.get((part, name), set()) & modes:
                forth = back = True
            if forth:
                out.setdefault(one, set()).add(other)
            if back:
                out.setdefault(other, set()).add(one)
        return out

    @staticmethod
    def reached(arcs, source, shut=(TANK, OUTSIDE)):
        """Nothing comes out of what is shut."""
        seen, left = {source}, [source]
        while left:
            here = left.pop()
            if here in shut and here != source:
                continue
            for there in arcs.get(here, ()):
                if there not in seen:
                    seen.add(there)
                    left.append(there)
        return seen

    def drained(self, positions):
        """What stands open to the tank: return lines."""
        back = {}
        for one, ends in self.arcs(positions).items():
            for other in ends:
                back.setdefault(other, set()).add(one)
        return self.reached(back, TANK, shut=())

    def leaks(self, source, sinks, positions, shut=()):
        """Least sets of one and two modes that let oil through; nothing where it flows with none."""
        sinks = set(sinks)

        def through(modes):
            arcs = self.arcs(positions, frozenset(modes))
            return bool(self.reached(arcs, source, {TANK, OUTSIDE, *shut}) & sinks)

        if through(()):
            return None
        names = sorted(mode for mode, (_, of) in self.modes.items() if of.get("leaks"))
        found = [frozenset([mode]) for mode in names if through([mode])]
        alone = {mode for one in found for mode in one}
        rest = [mode for mode in names if mode not in alone]
        return found + [frozenset(two) for two in itertools.combinations(rest, 2) if through(two)]

    def choking(self, source, sink, positions, without=()):
        """Modes that restrict an element without which no way is left; one with a relief of its own past it is no hindrance."""
        if sink not in self.reached(self.arcs(positions, without=without), source):
            return set()
        found = set()
        for part, name, element, one, other in self.elements:
            modes = {mode for mode, (of, what) in self.modes.items() if of == part and name in what.get("restricts", [])}
            if not modes or part in without:
                continue
            past = any(p == part and e["kind"] == "relief" and (a, b) == (one, other) for p, _, e, a, b in self.elements)
            if element["kind"] == "passage" and past:
                continue
            if sink not in self.reached(self.arcs(positions, without={(part, name), *without}), source):
                found |= modes
        return found

    def inlets(self, pump):
        return {one for part, _, element, one, _ in self.elements if part == pump and element["kind"] == "check"}

    def starving(self, pump):
        if not self.type[pump].get("flow_test"):
            return set()
        return set().union(*(self.choking(one, TANK, {}, without={pump}) for one in self.inlets(pump)))

    def air(self, pump):
        """What leaks to the outside from what lines and passages join to the inlet."""
        joined = set()
        for inlet in self.inlets(pump) - {TANK}:
            arcs = {}
            for one, other in self.lines + [(a, b) for _, _, e, a, b in self.elements if e["kind"] == "passage"]:
                arcs.setdefault(one, set()).add(other)
                arcs.setdefault(other, set()).add(one)
            joined |= self.reached(arcs, inlet)
        if TANK not in joined:
            return set()  # a closed loop stands under pressure
        joined -= {TANK, OUTSIDE}
        return set().union(*(self.leaking.get((part, name), set()) for part, name, _, one, other in self.elements
                             if (one in joined and other == OUTSIDE) or (other in joined and one == OUTSIDE)))

    def weakening(self, source):
        part, port = source.split(".")
        return {mode for mode, (of, what) in self.modes.items() if of == part and port in what.get("weakens", [])}

    def code(self, mode):
        return self.modes[mode][1]["code"]

    def starved(self, pump):
        own = {mode for mode, (of, what) in self.modes.items() if of == pump
               and (what["code"] == "NOI" or (what.get("weakens") and what["code"] == "PDE"))}
        return self.starving(pump) | self.air(pump) | own

    def goes_outside(self, mode):
        part, of = self.modes[mode]
        return all(OUTSIDE in (one, other) for p, name, _, one, other in self.elements
                   if p == part and name in of.get("leaks", []))


def ways(machine, function):
    """The function's source, its sides, whether its load lowers it, its leaks (None: it has no delivery), what chokes it."""
    actuator = function["actuator"]
    contracting, expanding = (f"{actuator}.{v}" for v in
                              machine.type[actuator]["actuator"]["directions"][function["direction"]])
    positions, source = function.get("positions", {}), function["source"]
    if "." not in source:
        source += "." + machine.type[source]["ports"][-1]
    lowered = source == contracting
    at = machine.at
    if lowered:
        return source, contracting, expanding, True, [], machine.choking(at(contracting), TANK, positions)
    back = machine.reached(machine.arcs(positions), at(contracting))
    past_pump = machine.reached(machine.arcs(positions, without={source.split(".")[0]}), at(contracting))
    regenerates = TANK not in back and at(expanding) in past_pump
    sinks = {TANK, OUTSIDE} if regenerates else {TANK, OUTSIDE, at(contracting)}
    leaks = machine.leaks(at(source), sinks, positions)
    if leaks is None:
        return source, contracting, expanding, False, None, set()
    if regenerates:  # what is lost of what comes back is lost, too
        leaks = least(leaks + (machine.leaks(at(contracting), sinks, positions) or []))
    end = TANK if TANK in back else at(expanding)
    choked = machine.choking(at(source), at(expanding), positions) | machine.choking(at(contracting), end, positions)
    return source, contracting, expanding, False, leaks, choked


def least(sets):
    sets = set(sets)
    return {one for one in sets if not any(other < one for other in sets)}


def singles(modes):
    return {frozenset([mode]) for mode in modes}


def reports(document, catalogue):
    """Report -> its least sets of modes, those of one and two."""
    machine = Machine(document, catalogue)
    at = machine.at
    found = {}
    of = {name: ways(machine, function) for name, function in sorted(machine.functions.items())}
    sources = {}
    for name, (source, _, _, lowered, leaks, _) in of.items():
        if not lowered:
            sources.setdefault(source.split(".")[0], []).append(name)
    for pump, names in sources.items():
        weak = set().union(*(machine.weakening(of[name][0]) for name in names))
        all_leaks = [of[name][4] for name in names if of[name][4] is not None]
        of_all = {one for one in set().union(*all_leaks) if all(any(less <= one for less in each) for each in all_leaks)}
        found["no_pressure/" + pump] = of_all | singles(weak | machine.starving(pump))
        inside = {mode for each in all_leaks for one in each if len(one) == 1 for mode in one if not machine.goes_outside(mode)}
        inside |= {mode for mode in weak if machine.modes[mode][1].get("leaks")}
        inside |= {mode for mode in machine.modes if machine.code(mode) in ("IHT", "OHE")}
        found["hot/" + pump] = singles(inside)
    for part, type in machine.type.items():
        if type.get("flow_test") and "actuator" not in type:
            found["noisy/" + part] = singles(machine.starved(part))
        modes = set()
        for name, function in machine.functions.items():
            if function["actuator"] != part:
                continue
            source, _, _, lowered, _, choked = of[name]
            modes |= choked
            if not lowered:
                modes |= machine.starved(source.split(".")[0])
                modes |= {mode for mode in machine.weakening(source) if not machine.modes[mode][1].get("leaks")}
        found["jerky/" + part] = singles(mode for mode in modes if machine.code(mode) != "PLU")
    for name, function in sorted(machine.functions.items()):
        source, contracting, expanding, lowered, _, _ = of[name]
        if lowered:
            continue
        positions = function.get("positions", {})
        sets = set()
        for valve in positions:
            stands = {other: position for other, position in positions.items() if other != valve}
            if TANK in machine.reached(machine.arcs(stands), at(source)):
                continue
            sets |= set(machine.leaks(at(source), {at(expanding)}, stands, shut=machine.drained(stands)) or ())
        report = f"moves/{function['actuator']}/{function['direction']}"
        if not found.get(report):
            found[report] = least(sets)
        load = machine.parts[function["actuator"]].get("load", {})
        if load.get("direction") != function["direction"]:
            back = machine.leaks(at(expanding), {at(source)}, positions, shut=machine.drained(positions))
            found["dip/" + name] = set(back or ())
    names = sorted(machine.functions)
    for i, name in enumerate(names):
        one = machine.functions[name]
        for other_name in names[i + 1:]:
            other = machine.functions[other_name]
            alike = (other["actuator"] != one["actuator"] and other["direction"] == one["direction"]
                     and other.get("positions", {}) == one.get("positions", {})
                     and machine.parts[one["actuator"]]["type"] == machine.parts[other["actuator"]]["type"]
                     and (of[name][0] == of[other_name][0] or (of[name][3] and of[other_name][3])))
            if not alike:
                continue
            own = [of[n][5] | {m for s in of[n][4] or () if len(s) == 1 for m in s} for n in (name, other_name)]
            alone = own[0] ^ own[1]
            alone |= {mode for mode in own[0] if machine.modes[mode][0] in (one["actuator"], other["actuator"])}
            found["uneven/" + name] = singles(alone)
            break
    return {report: least(sets) for report, sets in found.items() if sets}

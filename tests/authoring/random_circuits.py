"""Circuits that nobody would build, from a seed, so that every type of the catalogue stands in some: a pump with its suction, a
relief, what is drawn of the catalogue in the pressure, work and return lines and beside them, actuators and functions in
drawn positions. Many are refused by the engine (a driven side out of reach); those are drawn again."""

import random

PARAMETERS = {"bore": "80 mm", "rod": "45 mm", "displacement": "40 cm3/rev", "rated_flow": "60 L/min", "setting": "180 bar",
              "ratio": 3, "volume": "4 L"}
PUMPS = ["fixed_pump", "variable_pump", "load_sensing_pump"]


def drawn(seed, catalogue, wanted):
    """A circuit with the type `wanted` in it."""
    rng = random.Random(seed)
    doc = {"format": "faultodds-circuit/1", "id": f"drawn_{seed}", "components": [], "connections": [], "functions": []}
    count = {}

    def part(type):
        count[type] = count.get(type, 0) + 1
        name = f"{type}_{count[type]}"
        values = {p: PARAMETERS[p] for p in catalogue[type].get("parameters", []) if p in PARAMETERS}
        doc["components"].append({"id": name, "type": type, **values})
        return name

    lines = 0

    def join(one, other):
        nonlocal lines
        if one == other:
            return
        joint = {"from": one, "to": other}
        if rng.random() < 0.3:
            lines += 1
            joint["line"] = f"line_{lines}"
        doc["connections"].append(joint)

    actuators = [name for name, of in catalogue.items() if "actuator" in of]
    inline = [name for name, of in catalogue.items() if "actuator" not in of and name not in PUMPS + ["tank"]
              and len(of["ports"]) >= 2]
    tank = part("tank") if rng.random() < 0.6 or wanted == "tank" else None
    pump = part(wanted if wanted in PUMPS else rng.choice(PUMPS))
    open_ports = []

    def chain(start, length, choices, want=None):
        """Parts in a row from a port; what ports are left over are kept."""
        types = [rng.choice(choices) for _ in range(length)]
        if want:
            types.insert(rng.randint(0, len(types)), want)
        for type in types:
            name, ports = part(type), list(catalogue[type]["ports"])
            if rng.random() < 0.25:
                rng.shuffle(ports)
            join(start, f"{name}.{ports[0]}")
            start = f"{name}.{ports[1]}"
            open_ports.extend(f"{name}.{p}" for p in ports[2:])
        return start

    sucked = chain(f"{tank}.suction" if tank else "tank", rng.randint(0, 2),
                   ["suction_strainer", "hose", "tube"], wanted if wanted == "suction_strainer" else None)
    join(sucked, f"{pump}.in")
    outlet = f"{pump}.out"
    relief = part("main_relief")
    join(outlet, f"{relief}.in")
    join(f"{relief}.out", f"{tank}.return" if tank else "tank")
    want_inline = wanted if wanted in inline and wanted != "suction_strainer" else None
    place = rng.choice(["pressure", "work"])
    supply = chain(outlet, rng.randint(0, 2), inline, want_inline if place == "pressure" else None)
    back = f"{tank}.return" if tank else "tank"
    ends = []
    for n in range(rng.randint(1, 2)):
        section = part(rng.choice([t for t in catalogue if {"p", "t", "a", "b"} <= set(catalogue[t]["ports"])]))
        join(supply, f"{section}.p")
        join(f"{section}.t", back)
        open_ports.extend(f"{section}.{p}" for p in catalogue[doc["components"][-1]["type"]]["ports"] if p not in "ptab")
        if "in" in catalogue[doc["components"][-1]["type"]]["ports"] and rng.random() < 0.5:
            join(supply, f"{section}.in")
        type = wanted if wanted in actuators and n == 0 else rng.choice(actuators)
        actuator, ports = part(type), catalogue[type]["ports"]
        for side, port in zip("ab", ports):
            end = chain(f"{section}.{side}", rng.randint(0, 1), inline,
                        want_inline if place == "work" and side == "a" and n == 0 else None)
            join(end, f"{actuator}.{port}")
            ends.append(f"{actuator}.{port}")
        open_ports.extend(f"{actuator}.{p}" for p in ports[2:])
        for direction in catalogue[type]["actuator"]["directions"]:
            if rng.random() < 0.8:
                doc["functions"].append({"id": f"{direction}_{n}", "actuator": actuator, "direction": direction,
                                         "positions": {}, "source": outlet})
    twin = None
    if rng.random() < 0.4:  # another of the last, at the same ends
        twin = part(type)
        for end, port in zip(ends[-2:], ports):
            join(chain(end, rng.randint(0, 1), ["hose", "tube", "flow_restrictor"]), f"{twin}.{port}")
        open_ports.extend(f"{twin}.{p}" for p in ports[2:])
    known = [f"{one['id']}.{p}" for one in doc["components"] for p in catalogue[one["type"]]["ports"]]
    if wanted not in {one["type"] for one in doc["components"]}:
        name = part(wanted)
        open_ports.extend(f"{name}.{p}" for p in catalogue[wanted]["ports"])
    for port in open_ports:
        draw = rng.random()
        join(port, back if draw < 0.3 else rng.choice(known) if draw < 0.8 else outlet)
    valves = {}
    for one in doc["components"]:
        positions = sorted({p for e in catalogue[one["type"]]["elements"].values() for p in e.get("open_in", [])} - {"neutral"})
        if positions:
            valves[one["id"]] = positions, "flow_test" in catalogue[one["type"]]
    for function in doc["functions"]:
        for valve, (positions, pump) in valves.items():
            if pump and not function["source"].startswith(valve + "."):
                continue  # another pump's stroke is none of this function's
            if rng.random() < 0.75:
                function["positions"][valve] = rng.choice(positions)
    if twin:
        doc["functions"] += [{**one, "id": one["id"] + "_twin", "actuator": twin, "positions": dict(one["positions"])}
                             for one in doc["functions"] if one["actuator"] == actuator]
    return doc

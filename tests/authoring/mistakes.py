"""Mistakes that authors make, put into one good circuit by a script: 60 of authoring and 131 of unit and scale.
Each says which fields would tell its author where to look."""

import copy
import random


def find(doc, component):
    return next(i for i, one in enumerate(doc["components"]) if one["id"] == component)


def connection(doc, one, other):
    for i, c in enumerate(doc["connections"]):
        if {c["from"], c["to"]} == {one, other}:
            return i
    raise KeyError((one, other))


def good(truck):
    """The refuse truck with what it leaves out: loads, volumes, working pressures."""
    doc = copy.deepcopy(truck)
    for name, values in {
        "arm_cylinder": {"load": {"force": "60 kN"}, "volume": "4 L"},
        "packer_cylinder": {"load": {"pressure": "80 bar"}},
        "pressure_hose": {"rating": "350 bar"},
        "arm_lift_hose": {"rating": "350 bar"},
    }.items():
        doc["components"][find(doc, name)].update(values)
    doc["functions"][0]["working_pressure"] = "160 bar"
    doc["functions"][4]["working_pressure"] = "170 bar"
    doc["drift_limit"] = "4 mm/min"
    return doc


def authoring(doc):
    """(name, changed document, pointers of which one must be found), sixty of them."""
    out = []

    def add(name, change, *places):
        changed = copy.deepcopy(doc)
        extra = change(changed)
        out.append((name, changed, list(places) + list(extra or [])))

    def component(name):
        return f"/components/{find(doc, name)}"

    def drop_connection(one, other, *places):
        def change(d):
            i = connection(d, one, other)
            del d["connections"][i]

        add(f"connection {one} - {other} left out", change, *places)

    def exchange(name, first, second, *places):
        def change(d):
            touched = []
            for i, c in enumerate(d["connections"]):
                for end in ("from", "to"):
                    if c[end] == f"{name}.{first}":
                        c[end] = f"{name}.{second}"
                    elif c[end] == f"{name}.{second}":
                        c[end] = f"{name}.{first}"
                    else:
                        continue
                    touched.append(f"/connections/{i}")
            return touched

        add(f"{name}: {first} and {second} exchanged", change, component(name), *places)

    def rejoin(one, other, wrong, *places):
        i = connection(doc, one, other)

        def change(d):
            c = d["connections"][i]
            c["from" if c["from"] == other else "to"] = wrong

        add(f"{one} joined to {wrong}, not to {other}", change, f"/connections/{i}", *places)

    def put(pointer, value, *places):
        def change(d):
            at = d
            tokens = pointer.strip("/").split("/")
            for token in tokens[:-1]:
                at = at[int(token)] if isinstance(at, list) else at[token]
            key = int(tokens[-1]) if isinstance(at, list) else tokens[-1]
            if value is None:
                del at[key]
            else:
                at[key] = value

        add(f"{pointer} = {value!r}", change, pointer, *places)

    # connections left out, 7
    drop_connection("pump.in", "suction_hose.b", component("pump"), component("suction_hose"))
    drop_connection("arm_section.in", "main_relief.in", component("main_relief"))
    drop_connection("tailgate_lock.pilot", "tailgate_lower_hose.b", component("tailgate_lock"))
    drop_connection("gripper_section.out", "packer_section.in", component("gripper_section"), component("packer_section"))
    drop_connection("return_filter.out", "reservoir.return", component("return_filter"), component("reservoir"))
    drop_connection("arm_lift_hose.b", "arm_cylinder.cap", component("arm_lift_hose"), component("arm_cylinder"))
    drop_connection("arm_load_check.out", "arm_section.p", component("arm_load_check"), component("arm_section"))
    # the wrong way round, 11
    exchange("arm_lift_makeup", "tank_side", "port_side")
    exchange("gripper_open_makeup", "tank_side", "port_side")
    exchange("arm_lift_relief", "in", "out")
    exchange("main_relief", "in", "out")
    exchange("arm_lower_valve", "port_side", "tank_side")
    exchange("arm_load_check", "in", "out", "/functions/0/positions")
    exchange("return_filter", "in", "out")
    exchange("strainer", "in", "out")
    exchange("pump", "in", "out", "/functions/0/positions")
    exchange("tailgate_lock", "valve", "load", "/functions/6/positions")
    exchange("reservoir", "suction", "return")
    # to the wrong port or part, 11
    rejoin("arm_lift_hose.b", "arm_cylinder.cap", "arm_cylinder.rod", component("arm_cylinder"), "/functions/0")
    rejoin("arm_lift_hose.b", "arm_cylinder.cap", "gripper_cylinder.cap", component("arm_cylinder"), component("gripper_cylinder"))
    rejoin("tailgate_lock.pilot", "tailgate_lower_hose.b", "tailgate_raise_hose.b", component("tailgate_lock"))
    rejoin("tailgate_lock.pilot", "tailgate_lower_hose.b", "reservoir.return", component("tailgate_lock"))
    rejoin("gripper_section.t", "tailgate_section.t", "tailgate_section.a", component("gripper_section"))
    rejoin("arm_section.a", "arm_lift_relief.in", "arm_section.p", component("arm_lift_relief"))
    rejoin("packer_section.b", "packer_return_hose.a", "packer_section.a", component("packer_section"), component("packer_return_hose"))
    rejoin("pump.out", "pressure_hose.a", "reservoir.return", component("pump"), component("pressure_hose"))
    rejoin("pressure_hose.b", "arm_section.in", "pressure_hose.a", component("pressure_hose"))
    rejoin("arm_lower_valve.tank_side", "tailgate_section.t", "outside", component("arm_lower_valve"))
    rejoin("gripper_close_hose.b", "gripper_cylinder.cap", "packer_cylinder.cap", component("gripper_cylinder"), component("packer_cylinder"))
    # names, 8
    put("/connections/3/from", "pmup.out")
    put("/connections/9/to", "arm_section.inn")
    put(f"{component('pump')}/type", "fixed_pumpe")
    put("/functions/0/actuator", "arm_cylnder")
    put("/functions/0/direction", "extent")
    put("/functions/0/positions", {"arm_sectoin": "a"}, "/functions/0/positions/arm_sectoin")
    put("/functions/0/positions", {"arm_section": "c"}, "/functions/0/positions/arm_section")
    put("/observations/0/shows/0/modes", ["main_relief.seat_leaks"], "/observations/0/shows/0")
    # functions, 8
    put("/functions/0/positions", {"gripper_section": "a"}, "/functions/0/positions/gripper_section")
    put("/functions/7/positions", {"tailgate_section": "b"})
    put("/functions/3/direction", "extend", "/functions/3")
    put("/functions/0/source", "reservoir.suction")
    put("/functions/0/positions", {"arm_section": "b"}, "/functions/0/positions/arm_section")

    def both(d):
        d["functions"] = [f for f in d["functions"] if f["actuator"] != "packer_cylinder"]

    add("no function of the packer", both, component("packer_cylinder"), component("packer_section"))

    def twice(d):
        d["functions"].append({**d["functions"][0], "id": "lift_again", "title": "Lifting again"})

    add("a function twice", twice, f"/functions/{len(doc['functions'])}")
    put("/functions/2/source", "pump.in")
    # copies and things left out, 9

    def same_id(d):
        d["components"][find(d, "gripper_load_check")]["id"] = "arm_load_check"

    add("an id twice", same_id, f"{component('gripper_load_check')}/id", component("gripper_load_check"))
    put(f"{component('packer_cylinder')}/title", "gripper cylinder", component("gripper_cylinder") + "/title")

    def again(d):
        d["connections"].append(dict(d["connections"][5]))

    add("a connection twice", again, f"/connections/{len(doc['connections'])}")
    put(f"{component('arm_lift_relief')}/setting", None, component("arm_lift_relief"))
    put(f"{component('arm_cylinder')}/bore", None, component("arm_cylinder"))
    put(f"{component('arm_cylinder')}/rod", None, component("arm_cylinder"))
    put(f"{component('tailgate_lock')}/ratio", None, component("tailgate_lock"))

    def no_lines(d):
        for c in d["connections"]:
            if "gripper" in c.get("line", ""):
                del c["line"]

    add("lines of the gripper forgotten", no_lines, component("gripper_cylinder"),
        *[f"/connections/{i}" for i, c in enumerate(doc["connections"]) if "gripper" in c.get("line", "")])

    def spare(d):
        d["components"].append({"id": "spare_valve", "type": "load_check"})

    add("a part joined to nothing", spare, f"/components/{len(doc['components'])}")
    # what does nothing, or says the opposite, 6
    put(f"{component('arm_lift_hose')}/setting", "210 bar")
    put("/observations/0/matrix", [[0.1, 0.35, 0.55], [0.3, 0.55, 0.15], [0.94, 0.05, 0.01]])
    put(f"{component('pump')}/priors", {"internal_wear": [0.02, 0.08, 0.9]}, f"{component('pump')}/priors/internal_wear")
    put("/conditions/0/raises", {"*": 3}, "/conditions/0/raises/*")
    put("/fittings/arm_section.a/size", "7/8-14 UNF")
    put("/allow_hold", ["static/arm_section.aa"], "/allow_hold/0")
    assert len(out) == 60, len(out)
    return out


PLACES = [
    ("pump", "displacement"), ("pump", "rated_flow"), ("main_relief", "setting"), ("arm_lift_relief", "setting"),
    ("arm_lower_valve", "setting"), ("gripper_close_valve", "setting"), ("packer_push_relief", "setting"),
    ("tailgate_lock", "setting"), ("return_filter", "setting"), ("arm_cylinder", "bore"), ("arm_cylinder", "rod"),
    ("gripper_cylinder", "bore"), ("gripper_cylinder", "rod"), ("packer_cylinder", "bore"), ("packer_cylinder", "rod"),
    ("pressure_hose", "rating"), ("arm_lift_hose", "rating"), ("arm_cylinder", "volume"),
]
OTHERS = {
    "bar": ["psi", "MPa", "kPa", "mbar"], "mm": ["m", "cm", "in", "um"], "L/min": ["mL/min", "gpm", "L/h", "m3/s"],
    "cm3/rev": ["L/rev", "in3/rev", "m3"], "kN": ["N"], "L": ["mL", "m3"], "mm/min": ["m/s", "mm/s", "in/min"],
}
# A gallon is 3.8 litres and a cubic inch 16 cm3: what they make of a usual pump may be usual too.
CLOSE = {("L/min", "gpm")}


def units_and_scale(doc, count=131, seed=131):
    """(name, changed document, pointers): the number kept and the unit changed, or the point moved."""
    places = [(f"/components/{find(doc, c)}/{field}", doc["components"][find(doc, c)][field]) for c, field in PLACES]
    places += [
        (f"/components/{find(doc, 'arm_cylinder')}/load/force", "60 kN"),
        (f"/components/{find(doc, 'packer_cylinder')}/load/pressure", "80 bar"),
        ("/functions/0/working_pressure", "160 bar"),
        ("/drift_limit", "4 mm/min"),
        ("/fittings/arm_section.a/rating", "315 bar"),
        ("/fittings/packer_cylinder.cap/rating", "315 bar"),
        ("/fittings/main_relief/rating", "350 bar"),
    ]
    all_of_them = []
    for pointer, text in places:
        number, unit = text.split()
        for other in OTHERS[unit]:
            if (unit, other) not in CLOSE:
                all_of_them.append((pointer, f"{number} {other}"))
        for factor in (10, 100, 1000, 0.1, 0.01):
            all_of_them.append((pointer, f"{float(number) * factor:.10g} {unit}"))
    for component in ("arm_section", "pump", "arm_lift_hose"):
        at = f"/components/{find(doc, component)}/minutes"
        minutes = doc["components"][find(doc, component)]["minutes"]
        all_of_them += [(at, f"{minutes} h"), (at, f"{minutes} s")]
    for step, minutes in doc["times"].items():
        all_of_them += [(f"/times/{step}", f"{minutes} h"), (f"/times/{step}", f"{minutes} s")]
    random.Random(seed).shuffle(all_of_them)
    out = []
    for pointer, text in all_of_them[:count]:
        changed = copy.deepcopy(doc)
        at = changed
        tokens = pointer.strip("/").split("/")
        for token in tokens[:-1]:
            at = at[int(token)] if isinstance(at, list) else at[token]
        at[tokens[-1]] = text
        out.append((f"{pointer} = {text}", changed, [pointer]))
    assert len(out) == count, len(out)
    return out

"""A small loader in two spellings: with assemblies, and every part by itself, as one would write it by hand. The second
is written without the first and without the library."""

TITLE = "Loader"


def common(components, connections, functions):
    return {"format": "faultodds-circuit/1", "id": "loader", "title": TITLE, "components": components,
            "connections": connections, "functions": functions}


def with_assemblies(sections=2):
    assemblies = {
        "valve_bank": {
            "title": "valve bank",
            "parameters": {"sections": 2, "setting": "180 bar"},
            "ports": [
                {"id": "p", "at": "section_1.p"},
                {"id": "t", "at": "section_1.t"},
                {"id": "a_{i}", "at": "section_{i}.a", "each": {"i": "{sections}"}},
                {"id": "b_{i}", "at": "section_{i}.b", "each": {"i": "{sections}"}},
            ],
            "components": [
                {"id": "section_{i}", "type": "closed_centre_section", "title": "section {i}",
                 "each": {"i": "{sections}"}},
                {"id": "relief_{i}", "type": "port_relief", "title": "section {i}, port relief", "setting": "{setting}",
                 "each": {"i": "{sections}"}},
            ],
            "connections": [
                {"from": "section_{i}.p", "to": "section_{i+1}.p", "each": {"i": [1, "{sections-1}"]}},
                {"from": "section_{i}.t", "to": "section_{i+1}.t", "each": {"i": [1, "{sections-1}"]}},
                {"from": "relief_{i}.in", "to": "section_{i}.a", "each": {"i": "{sections}"}},
                {"from": "relief_{i}.out", "to": "section_{i}.t", "each": {"i": "{sections}"}},
            ],
            "fittings": {"section_{i}.a": {"each": {"i": "{sections}"}, "standard": "ISO 6149-1", "size": "M22 x 1.5",
                                           "rating": "350 bar"}},
        },
        "held_cylinder": {
            "parameters": {"bore": None, "rod": None, "lock": "220 bar", "load": "90 bar"},
            "ports": [{"id": "a", "at": "lock.valve"}, {"id": "b", "at": "cylinder.rod"}],
            "components": [
                {"id": "cylinder", "type": "single_rod_cylinder", "title": "cylinder", "bore": "{bore}", "rod": "{rod}",
                 "rating": "250 bar", "load": {"pressure": "{load}", "direction": "retract"}},
                {"id": "lock", "type": "counterbalance_valve", "title": "load-holding valve", "setting": "{lock}",
                 "ratio": 4},
            ],
            "connections": [
                {"from": "lock.load", "to": "cylinder.cap", "line": "pipe"},
                {"from": "lock.pilot", "to": "cylinder.rod"},
            ],
        },
        # An assembly of others.
        "axis": {
            "parameters": {"bore": None, "rod": None},
            "ports": [{"id": "up", "at": "up_hose.b"}, {"id": "down", "at": "down_hose.b"}],
            "components": [
                {"id": "up_hose", "type": "hose", "title": "lifting hose"},
                {"id": "down_hose", "type": "hose", "title": "lowering hose"},
                {"id": "ram", "type": "held_cylinder", "title": "ram",
                 "parameters": {"bore": "{bore}", "rod": "{rod}"}},
            ],
            "connections": [
                {"from": "ram.a", "to": "up_hose.a", "line": "up"},
                {"from": "ram.b", "to": "down_hose.a", "line": "down"},
            ],
        },
    }
    components = [
        {"id": "reservoir", "type": "tank"},
        {"id": "pump", "type": "variable_pump", "rated_flow": "60 L/min"},
        {"id": "main_relief", "type": "main_relief", "setting": "210 bar"},
        {"id": "bank", "type": "valve_bank", "title": "valve bank", "parameters": {"sections": sections}},
    ]
    connections = [
        {"from": "reservoir.suction", "to": "pump.in"},
        {"from": "pump.out", "to": "main_relief.in"},
        {"from": "main_relief.out", "to": "reservoir.return"},
        {"from": "bank.p", "to": "pump.out"},
        {"from": "bank.t", "to": "reservoir.return"},
    ]
    functions = []
    for i in range(1, sections + 1):
        components.append({"id": f"axis_{i}", "type": "axis", "title": f"axis {i}",
                           "parameters": {"bore": "80 mm", "rod": "45 mm"}})
        connections += [{"from": f"bank.a_{i}", "to": f"axis_{i}.up", "line": f"a_{i}"},
                        {"from": f"bank.b_{i}", "to": f"axis_{i}.down", "line": f"b_{i}"}]
        functions.append({"id": f"lift_{i}", "title": f"Lift {i}", "actuator": f"axis_{i}.ram.cylinder",
                          "direction": "extend", "positions": {f"bank.section_{i}": "a"}, "source": "pump"})
    document = common(components, connections, functions)
    document["assemblies"] = assemblies
    return document


def by_hand(sections=2):
    components = [
        {"id": "reservoir", "type": "tank"},
        {"id": "pump", "type": "variable_pump", "rated_flow": "60 L/min"},
        {"id": "main_relief", "type": "main_relief", "setting": "210 bar"},
    ]
    of = range(1, sections + 1)
    for i in of:
        components.append({"id": f"bank.section_{i}", "type": "closed_centre_section", "title": f"valve bank, section {i}"})
    for i in of:
        components.append({"id": f"bank.relief_{i}", "type": "port_relief",
                           "title": f"valve bank, section {i}, port relief", "setting": "180 bar"})
    for i in of:
        components += [
            {"id": f"axis_{i}.up_hose", "type": "hose", "title": f"axis {i}, lifting hose"},
            {"id": f"axis_{i}.down_hose", "type": "hose", "title": f"axis {i}, lowering hose"},
            {"id": f"axis_{i}.ram.cylinder", "type": "single_rod_cylinder", "title": f"axis {i}, ram, cylinder",
             "bore": "80 mm", "rod": "45 mm", "rating": "250 bar", "load": {"pressure": "90 bar", "direction": "retract"}},
            {"id": f"axis_{i}.ram.lock", "type": "counterbalance_valve", "title": f"axis {i}, ram, load-holding valve",
             "setting": "220 bar", "ratio": 4},
        ]
    connections = [
        {"from": "reservoir.suction", "to": "pump.in"},
        {"from": "pump.out", "to": "main_relief.in"},
        {"from": "main_relief.out", "to": "reservoir.return"},
        {"from": "bank.section_1.p", "to": "pump.out"},
        {"from": "bank.section_1.t", "to": "reservoir.return"},
    ]
    for i in of:
        connections += [{"from": f"bank.section_{i}.a", "to": f"axis_{i}.up_hose.b", "line": f"a_{i}"},
                        {"from": f"bank.section_{i}.b", "to": f"axis_{i}.down_hose.b", "line": f"b_{i}"}]
    for port in "pt":
        for i in range(1, sections):
            connections.append({"from": f"bank.section_{i}.{port}", "to": f"bank.section_{i + 1}.{port}"})
    for i in of:
        connections.append({"from": f"bank.relief_{i}.in", "to": f"bank.section_{i}.a"})
    for i in of:
        connections.append({"from": f"bank.relief_{i}.out", "to": f"bank.section_{i}.t"})
    for i in of:
        connections += [
            {"from": f"axis_{i}.ram.lock.valve", "to": f"axis_{i}.up_hose.a", "line": f"axis_{i}.up"},
            {"from": f"axis_{i}.ram.cylinder.rod", "to": f"axis_{i}.down_hose.a", "line": f"axis_{i}.down"},
            {"from": f"axis_{i}.ram.lock.load", "to": f"axis_{i}.ram.cylinder.cap", "line": f"axis_{i}.ram.pipe"},
            {"from": f"axis_{i}.ram.lock.pilot", "to": f"axis_{i}.ram.cylinder.rod"},
        ]
    functions = [{"id": f"lift_{i}", "title": f"Lift {i}", "actuator": f"axis_{i}.ram.cylinder", "direction": "extend",
                  "positions": {f"bank.section_{i}": "a"}, "source": "pump"} for i in of]
    document = common(components, connections, functions)
    document["fittings"] = {f"bank.section_{i}.a": {"standard": "ISO 6149-1", "size": "M22 x 1.5", "rating": "350 bar"}
                            for i in of}
    return document


def case(of=1):
    return {"format": "faultodds-case/1", "circuit": "loader",
            "observations": [{"observation": f"drift/axis_{of}.ram.cylinder/retract", "outcome": "slow"}]}


def variant():
    """The loader with a larger first axis, a part out, another port relief, and an accumulator more."""
    return {
        "format": "faultodds-circuit/1", "id": "loader_long", "title": "Loader, long arm", "extends": with_assemblies(),
        "components": [{"id": "store", "type": "accumulator", "title": "store", "volume": "2 L"}],
        "connections": [{"from": "store.port", "to": "pump.out", "line": "store_line"}],
        "overrides": {
            "components": {
                "main_relief": {"setting": "230 bar"},
                "axis_1": {"parameters": {"bore": "90 mm"}},
                "bank": {"parts": {"relief_2": {"setting": "150 bar", "minutes": 20}, "relief_1": None}},
            },
            "connections": {"a_2": {"rating": "300 bar"}},
            "functions": {"lift_2": {"title": "Lift the fork"}},
            "assemblies": {"held_cylinder": {"parameters": {"lock": "240 bar"}}},
        },
    }


def variant_by_hand():
    document = by_hand()
    document.update(id="loader_long", title="Loader, long arm")
    parts = {one["id"]: one for one in document["components"]}
    parts["main_relief"]["setting"] = "230 bar"
    parts["axis_1.ram.cylinder"]["bore"] = "90 mm"
    parts["bank.relief_2"].update(setting="150 bar", minutes=20)
    for i in (1, 2):
        parts[f"axis_{i}.ram.lock"]["setting"] = "240 bar"
    del parts["bank.relief_1"]
    parts["store"] = {"id": "store", "type": "accumulator", "title": "store", "volume": "2 L"}
    document["components"] = list(parts.values())
    document["connections"] = [one for one in document["connections"] if "relief_1" not in one["from"]]
    at = next(i for i, one in enumerate(document["connections"]) if one.get("line") == "b_2") + 1
    document["connections"].insert(at, {"from": "store.port", "to": "pump.out", "line": "store_line"})
    next(one for one in document["connections"] if one.get("line") == "a_2")["rating"] = "300 bar"
    document["functions"][1]["title"] = "Lift the fork"
    return document

"""The four circuits: a section of each demo circuit, and two of the benchmark's own in the same
scenarios. Each is a plain circuit document as a vendor would write it, with what the documents do
not say yet (the loads) beside it. Prices and minutes are invented."""

import json
from pathlib import Path

EXAMPLES = Path(__file__).resolve().parents[3] / "examples"
TIMES = {"lockout": 12, "open_line": 5, "remove_cartridge": 8, "install_meter": 25}


class Subject:
    """A circuit and what its machines do: loads are the pressure on the side that holds them."""

    def __init__(self, name, document, loads, functions_pressure=120.0):
        self.name, self.document, self.loads = name, document, loads
        self.functions_pressure = functions_pressure  # bar, while a function works


def _part_of(demo, keep, joined, functions, renamed=()):
    whole = json.loads((EXAMPLES / demo / "circuit.json").read_text(encoding="utf-8"))
    renamed = dict(renamed)
    named = lambda port: renamed.get(port, port)
    inside = lambda port: port in ("tank", "outside") or port.split(".")[0] in keep
    components = [c for c in whole["components"] if c["id"] in keep]
    connections = [dict(c, **{"from": named(c["from"]), "to": named(c["to"])}) for c in whole["connections"]]
    connections = [c for c in connections if inside(c["from"]) and inside(c["to"]) and c["from"] != c["to"]]
    return {"format": whole["format"], "id": demo + "_section", "title": whole["title"],
            "components": components,
            "connections": connections + [{"from": a, "to": b} for a, b in joined],
            "fittings": {p: f for p, f in whole["fittings"].items() if inside(p)},
            "functions": [f for f in whole["functions"] if f["id"] in functions],
            "times": TIMES}


def truck_arm():
    keep = {"reservoir", "pump", "main_relief", "arm_section", "arm_load_check", "arm_lift_relief",
            "arm_lift_makeup", "arm_lower_valve", "arm_lift_hose", "arm_lower_hose", "arm_cylinder"}
    document = _part_of("refuse_truck", keep,
                        [("reservoir.suction", "pump.in"), ("pump.out", "arm_section.in"),
                         ("arm_section.out", "arm_section.t"), ("arm_section.t", "reservoir.return")],
                        {"lift_arm", "lower_arm"}, {"tailgate_section.t": "arm_section.t"})
    return Subject("truck arm, 80 mm, spool holds", document, {"arm_cylinder": ("retract", 110.0)})


def press():
    keep = {"reservoir", "pump", "pump_check", "main_relief", "press_section", "press_check", "press_relief",
            "press_close_tube", "press_open_tube", "press_cylinder"}
    document = _part_of("veneer_press", keep,
                        [("reservoir.suction", "pump.in"), ("pump_check.out", "press_section.p"),
                         ("press_section.t", "reservoir.return")], {"close_press", "open_press"})
    return Subject("press, 200 mm, pilot-operated check holds", document, {"press_cylinder": ("retract", 150.0)})


def _component(id, type, title, minutes, cost, days, **more):
    return dict({"id": id, "type": type, "title": title, "minutes": minutes, "part_cost": cost,
                 "lead_days": days}, **more)


def _supply(section, closed):
    kind = "variable_pump" if closed else "fixed_pump"
    components = [
        {"id": "reservoir", "type": "tank", "title": "reservoir"},
        _component("pump", kind, "pump", 120, 620, 3, displacement="45 cm3/rev", rated_flow="65 L/min"),
        _component("main_relief", "main_relief", "main relief valve", 20, 85, 2, setting="190 bar")]
    connections = [("reservoir.suction", "pump.in"), ("main_relief.out", "tank")]
    if closed:
        components.append(_component("pump_check", "load_check", "pump check valve", 25, 75, 3))
        connections += [("pump.out", "pump_check.in"), ("pump_check.out", "main_relief.in"),
                        ("pump_check.out", f"{section}.p")]
    else:
        components.append(_component("load_check", "load_check", "load check", 15, 28, 2))
        connections += [("pump.out", f"{section}.in"), (f"{section}.in", "main_relief.in"),
                        (f"{section}.in", "load_check.in"), ("load_check.out", f"{section}.p"),
                        (f"{section}.out", f"{section}.t")]
    return components, connections


def _cylinder_lines(name, section, a, b, bore, rod, cost, minutes):
    components = [_component(f"{name}_hose_a", "hose", f"{name} hose A", 30, 55, 1),
                  _component(f"{name}_hose_b", "hose", f"{name} hose B", 30, 50, 1),
                  _component(f"{name}_cylinder", "single_rod_cylinder", f"{name} cylinder", minutes, cost, 5,
                             bore=f"{bore} mm", rod=f"{rod} mm")]
    lines = [(a, f"{name}_hose_a.a", f"{name}_a_at_valve"), (b, f"{name}_hose_b.a", f"{name}_b_at_valve"),
             (f"{name}_hose_a.b", f"{name}_cylinder.cap", f"{name}_a_at_cylinder"),
             (f"{name}_hose_b.b", f"{name}_cylinder.rod", f"{name}_b_at_cylinder")]
    functions = [{"id": f"push_{name}", "title": f"Pushing the {name}", "actuator": f"{name}_cylinder",
                  "direction": "extend", "positions": {section: "a"}, "source": "pump.out"},
                 {"id": f"pull_{name}", "title": f"Pulling the {name}", "actuator": f"{name}_cylinder",
                  "direction": "retract", "positions": {section: "b"}, "source": "pump.out"}]
    return components, lines, functions


def _document(id, title, components, connections, lines, functions):
    fittings = {}
    for component in components:
        ports = {"hose": "ab", "tube": "ab"}.get(component["type"], ())
        for port in ports:
            fittings[f'{component["id"]}.{port}'] = {"standard": "ISO 8434-2", "size": "7/8-14 UNF", "rating": "275 bar"}
        if component["type"].endswith("section"):
            for port in "ab":
                fittings[f'{component["id"]}.{port}'] = {"standard": "ISO 6149-1", "size": "M22x1.5", "rating": "315 bar"}
        if component["type"] == "single_rod_cylinder":
            for port in ("cap", "rod"):
                fittings[f'{component["id"]}.{port}'] = {"standard": "ISO 1179-1", "size": "G 1/2", "rating": "315 bar"}
        if component["type"] in ("main_relief", "load_check", "relief_makeup", "port_relief", "makeup_check",
                                 "counterbalance_valve"):
            fittings[component["id"]] = {"standard": "ISO 7789", "size": "M22x1.5", "rating": "350 bar"}
    return {"format": "faultodds-circuit/1", "id": id, "title": title, "components": components,
            "connections": [{"from": a, "to": b} for a, b in connections] +
                           [{"from": a, "to": b, "line": line} for a, b, line in lines],
            "fittings": fittings, "functions": functions,
            "times": TIMES}


def kicker_and_flipper():
    """Veneer line: a log kicker of 200 mm and a flipper of 50 mm on one closed-centre bank."""
    components, connections = _supply("kicker_section", True)
    lines, functions = [], []
    connections += [("kicker_section.t", "reservoir.return"), ("kicker_section.p", "flipper_section.p"),
                    ("kicker_section.t", "flipper_section.t")]
    for name, bore, rod, cost in (("kicker", 200, 110, 1900), ("flipper", 50, 28, 210)):
        section = f"{name}_section"
        components.append(_component(section, "closed_centre_section", f"{name} valve section", 110, 560, 6))
        for port in "ab":
            valve = f"{name}_valve_{port}"
            components.append(_component(valve, "relief_makeup", f"{name} port {port.upper()} relief and make-up",
                                         15, 90, 2, setting="210 bar"))
            connections += [(f"{section}.{port}", f"{valve}.port_side"), (f"{valve}.tank_side", "kicker_section.t")]
        more = _cylinder_lines(name, section, f"{section}.a", f"{section}.b", bore, rod, cost, 200)
        components += more[0]
        lines += more[1]
        functions += more[2]
    return Subject("kicker 200 mm and flipper 50 mm",
                   _document("kicker_and_flipper", "Log kicker and flipper", components, connections, lines, functions),
                   {"kicker_cylinder": ("retract", 100.0), "flipper_cylinder": ("retract", 100.0)})


def hanging_fork():
    """Refuse truck: a container fork hangs on the rod side of its cylinder, held by a counterbalance valve."""
    components, connections = _supply("fork_section", False)
    section = "fork_section"
    components += [
        _component(section, "open_centre_drained_section", "fork valve section", 150, 540, 8),
        _component("fork_lower_valve", "relief_makeup", "fork lower port relief and make-up", 15, 90, 2,
                   setting="140 bar"),
        _component("fork_lock", "counterbalance_valve", "fork counterbalance valve", 25, 140, 3,
                   setting="240 bar", ratio=4)]
    more = _cylinder_lines("fork", section, f"{section}.a", f"{section}.b", 63, 36, 290, 140)
    components += more[0]
    lines = [line for line in more[1] if line[2] != "fork_b_at_cylinder"]
    lines += [("fork_hose_b.b", "fork_lock.valve", "fork_b_at_lock"),
              ("fork_lock.load", "fork_cylinder.rod", "fork_lock_tube")]
    connections += [(f"{section}.t", "reservoir.return"), (f"{section}.a", "fork_lower_valve.port_side"),
                    ("fork_lower_valve.tank_side", f"{section}.t"), ("fork_lock.pilot", "fork_hose_a.b")]
    functions = more[2]
    functions[0]["positions"] = {section: "a", "fork_lock": "piloted"}
    document = _document("hanging_fork", "Container fork", components, connections, lines, functions)
    for port in ("valve", "load"):
        document["fittings"][f"fork_lock.{port}"] = {"standard": "ISO 1179-1", "size": "G 1/2", "rating": "350 bar"}
    return Subject("hanging fork, 63 mm, counterbalance holds", document, {"fork_cylinder": ("extend", 120.0)})


def all_subjects():
    return [truck_arm(), press(), kicker_and_flipper(), hanging_fork()]

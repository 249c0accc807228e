"""Circuits for the judgements: a load held by a valve section, as small as each judgement allows. Effects are
solved from sizes in each, and said so."""


def circuit(name, components, connections, **more):
    return {
        "format": "faultodds-circuit/1",
        "id": name,
        "effects": "solved",
        "components": components,
        "connections": [dict(zip(("from", "to", "line"), joined)) for joined in connections],
        **more,
    }


def part(name, kind, **parameters):
    return {"id": name, "type": kind, **parameters}


def cylinder(bore=80, rod=45, load="100 bar", direction="retract", **more):
    """A single-rod cylinder; its load drives `direction`."""
    return part("cylinder", "single_rod_cylinder", bore=f"{bore} mm", rod=f"{rod} mm",
                load={"pressure": load, "direction": direction}, **more)


# A spool of which it is known that it hardly leaks. What is not told of one may be anything from 0.4 to 40 mL/min,
# and then a lapped spool by itself may let a small cylinder down: that is a judgement of its own.
TIGHT = {"sizes": {"spool_bore_wear": {"law": "laminar", "sound": {"median": "1 mL/min", "spread": 0.5}, "worn": {
    "median": "30 mL/min", "spread": 1}, "failed": {"median": "1 L/min", "spread": 1}}}}


# One that leaks next to nothing, as poppets do.
POPPET = {"sizes": {"spool_bore_wear": {**TIGHT["sizes"]["spool_bore_wear"], "sound": {"median": "0.01 mL/min", "spread": 0.5}}}}


def held(*, cap=210, rod=None, actuator=None, ports=("cap", "rod"), section=TIGHT, kind="closed_centre_section", cap_more=None,
         rod_more=None, **more):
    """A load on a cylinder behind a valve section, closed-centre if not said, with a relief of `cap` bar at the port to the cap
    side and one of `rod` bar at the other; None: no relief there."""
    components = [part("section", kind, **section), actuator or cylinder()]
    connections = [
        ("section.t", "tank"),
        ("section.a", f"cylinder.{ports[0]}", "cap_hose"),
        ("section.b", f"cylinder.{ports[1]}", "rod_hose"),
    ]
    for name, port, setting, own in (("cap_relief", "a", cap, cap_more), ("rod_relief", "b", rod, rod_more)):
        if setting is not None:
            components.append(part(name, "port_relief", setting=f"{setting} bar", **(own or {})))
            connections += [(f"section.{port}", f"{name}.in"), (f"{name}.out", "tank")]
    return circuit("held", components, connections, **more)


def lifting(*, between=(), filtered=False, checked=False, **more):
    """A pump that lifts the load; `between` are parts on the suction side, as (name, type, in, out)."""
    it = held(**more)
    it["id"] = "lifting"
    it["components"] += [
        part("reservoir", "tank"),
        part("pump", "fixed_pump", rated_flow="65 L/min", displacement="45 cm3/rev"),
        part("main_relief", "main_relief", setting="180 bar"),
    ]
    joined = it["connections"]

    def join(one, other):
        joined.append({"from": one, "to": other})

    at = "reservoir.suction"
    for name, kind, into, out in between:
        it["components"].append(part(name, kind))
        join(at, f"{name}.{into}")
        at = f"{name}.{out}"
    join(at, "pump.in")
    join("pump.out", "main_relief.in")
    join("main_relief.out", "tank")
    if checked:
        it["components"].append(part("load_check", "load_check"))
        join("pump.out", "load_check.in")
        join("load_check.out", "section.p")
    else:
        join("pump.out", "section.p")
    if filtered:
        it["components"].append(part("filter", "return_filter", setting="1.7 bar"))
        joined[0] = {"from": "section.t", "to": "filter.in"}
        join("filter.out", "tank")
    it["functions"] = [{"id": "raise", "actuator": "cylinder", "direction": "extend",
                        "positions": {"section": "a"}, "source": "pump.out"}]
    return it


# A valve of its own for regeneration: extending, the rod side's oil joins the pump's into the cap side.
REGENERATION = {
    "title": "section that regenerates",
    "ports": ["p", "t", "a", "b"],
    "elements": {
        "land_pa": {"kind": "seal", "from": "p", "to": "a", "open_in": ["a"]},
        "land_at": {"kind": "seal", "from": "a", "to": "t", "open_in": ["b"]},
        "land_pb": {"kind": "seal", "from": "p", "to": "b", "open_in": ["b"]},
        "regeneration": {"kind": "check", "from": "b", "to": "a"},
    },
    "failure_modes": {
        "check_stuck": {"code": "FTO", "title": "regeneration check sticks closed", "restricts": ["regeneration"],
                        "prior": [0.98, 0.013, 0.007]},
    },
}


def regenerating():
    it = lifting(cap=None)
    it["types"] = {"regenerating_section": REGENERATION}
    it["components"][0] = part("section", "regenerating_section")
    return it

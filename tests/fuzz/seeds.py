#!/usr/bin/env python3
"""Makes the seed corpora of the fuzz targets from the repository's own documents.

usage: seeds.py DIRECTORY    a folder per target is made in it
"""
import copy
import json
import pathlib
import random
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]


def read(path):
    return (ROOT / path).read_text(encoding="utf-8")


def said_again(case):
    """The case with its last observation said three times: the same, at a time, looked at again."""
    case = copy.deepcopy(case)
    last = case["observations"][-1]
    case["observations"] += [last, dict(last, at="2026-03-31"), dict(last, again=True)]
    return compact(case).encode()


PARAMETERS = {"displacement": "32 cm3/rev", "rated_flow": "40 L/min", "setting": "200 bar", "ratio": 4,
              "volume": "4 L", "bore": "80 mm", "rod": "45 mm"}


def around_each_type():
    """A small machine for each type of the catalogue: it stands between a pump with its relief and a
    cylinder, with all that says what a hold may press: ratings, uses, plugs, and holds allowed."""
    types = json.loads(read("core/circuit/catalogue.json"))["types"]
    for number, (name, kind) in enumerate(types.items()):
        it = {"id": "it", "type": name, "rating": "250 bar",
              "use": ("work", "brake", "steering")[number % 3 if number % 5 == 0 else 0]}
        it.update({key: PARAMETERS[key] for key in kind.get("parameters", []) if key in PARAMETERS})
        ports = kind["ports"]
        lines = [("pump.out", "it." + ports[0])]
        if len(ports) > 1:
            lines.append(("it." + ports[1], "ram.cap"))
        lines += [("it." + port, "ram.rod" if port == "pilot" else "tank") for port in ports[2:]]
        lines.append(("ram.rod", "tank"))
        yield {
            "format": "faultodds-circuit/1", "id": "around", "title": name,
            "components": [
                {"id": "pump", "type": "fixed_pump", "displacement": "32 cm3/rev"},
                {"id": "relief", "type": "main_relief", "setting": "180 bar"},
                {"id": "ram", "type": "single_rod_cylinder", "bore": "80 mm", "rod": "45 mm",
                 "rated": {"rod": "300 bar"}}, it],
            "connections": [
                {"from": "pump.in", "to": "tank"}, {"from": "pump.out", "to": "relief.in"},
                {"from": "relief.out", "to": "tank"}] + [
                {"from": a, "to": b, "line": f"l{i}", "rating": "280 bar"}
                for i, (a, b) in enumerate(lines)],
            "fittings": {"ram.cap": {"standard": "ISO 6149-1", "size": "M22 x 1.5", "rating": "250 bar",
                                     "plug": True},
                         "relief": {"standard": "ISO 7789", "size": "22-01-0", "rating": "350 bar"}},
            "allow_hold": ["static/ram.cap"]}


# Every form of a reading, of the small circuit's hold and drift.
HOLD_READINGS = [
    {"pressure_drop": "20 bar", "time": "60 s", "volume": "0.5 L", "bulk_modulus": "1 GPa",
     "pressure": "140 bar", "exponent": 0.5},
    {"pressure_drop": "20 bar", "time": "60 s", "volume": "0.5 L", "pressure": "140 bar",
     "line_stiffness": "3 GPa", "temperature_start": "60 degC", "temperature_end": "58 degC",
     "back_pressure": "2 bar"},
    {"pressure_drop": "90 bar", "time": "10 min", "volume": "0.5 L", "pressure": "140 bar",
     "gas_volume": "1 L", "gas_pressure": "80 bar"},
    {"pressures": [{"time": "0 s", "pressure": "140 bar"}, {"time": "30 s", "pressure": "120 bar"},
                   {"time": "60 s", "pressure": "112 bar"}, {"time": "2 min", "pressure": "110 bar"}],
     "volume": "0.5 L"},
    {"pressures": [{"time": "0 s", "pressure": "140 bar"}, {"time": "1 min", "pressure": "95 bar"},
                   {"time": "2 min", "pressure": "60 bar"}, {"time": "3 min", "pressure": "0 bar"}],
     "volume": "0.5 L", "gas_volume": "0.2 L", "gas_pressure": "90 bar", "back_pressure": "1 bar",
     "exponent": 0.5},
    {"supply_flow": "0.5 L/min", "pressure": "60 bar"},
    {"strokes_per_minute": 12, "stroke_volume": "25 mL", "pressure": "60 bar"},
    {"below": "5 mL/min"}, {"leak_rate": "0.5 gpm", "pressure": "100 bar", "exponent": 0.7}]
DRIFT_READINGS = [
    {"distance": "3 mm", "time": "1 min"}, {"speed": "5 mm/min"},
    {"distances": [{"time": "0 s", "distance": "0 mm"}, {"time": "1 min", "distance": "9 mm"},
                   {"time": "2 min", "distance": "11 mm"}, {"time": "4 min", "distance": "12 mm"}]}]
SIZES = {
    "spool": {"bore_wear": {"law": "laminar", "sound": {"diameter": "20 mm", "clearance": "5 um", "overlap": "4 mm"},
                            "worn": {"median": "50 mL/min"}, "failed": {"spread": 0.5}, "source": "its sheet"}},
    "relief": {"seat_leak": {"law": "orifice", "sound": {"median": "0.2 mL/min", "spread": 1}}},
    "ram": {"rod_leak": {"law": "laminar", "worn": {"median": "20 mL/min"}}}}


def readings(table):
    for reading in HOLD_READINGS:
        yield b"o" + compact({"observation": "static/valve.a", "reading": reading}).encode()
    for reading in DRIFT_READINGS:
        yield b"o" + compact({"observation": "drift/ram/retract", "reading": reading}).encode()
    flow = {"flow": "30 L/min", "pressure": "150 bar", "revolutions_per_minute": 1500,
            "displacement": "32 cm3/rev", "oil_temperature": "45 degC"}
    machine = next(around_each_type())
    machine["functions"] = [{"id": "lift", "title": "t", "actuator": "ram", "direction": "extend", "positions": {},
                             "source": "pump"}]
    for reading in (flow, {"flow": "30 L/min", "rated_flow": "40 L/min"}):
        yield b"m" + compact(machine).encode() + b"\0" + compact({
            "format": "faultodds-case/1", "advice": False,
            "observations": [{"observation": "flow/pump", "reading": reading}]}).encode()


def made_of_parts():
    """Assemblies, a variant, one of it, and what is refused of them."""
    sys.path.insert(0, str(ROOT / "tests" / "authoring"))
    import assemblies

    loader = assemblies.with_assemblies()
    yield loader
    yield assemblies.variant()
    yield {"format": "faultodds-circuit/1", "id": "outer", "extends": assemblies.variant(),
           "overrides": {"components": {"store": None}, "connections": {"a_1": None, "store.port pump.out": {}}}}
    itself = copy.deepcopy(loader)
    itself["assemblies"]["axis"]["components"].append({"id": "again", "type": "axis"})
    yield itself
    counted = copy.deepcopy(loader)
    counted["components"][3]["parameters"]["sections"] = 9_999_999
    yield counted


def wide(observations, per_set, sets):
    """Thirty seals of which symptoms show sets drawn at random: a network too wide for the little memory of `h`."""
    draw = random.Random(1)
    return {
        "format": "faultodds-circuit/1", "id": "wide", "title": "wide",
        "types": {"v": {"ports": ["a", "b"], "elements": {"e": {"kind": "seal", "from": "a", "to": "b"}},
                        "failure_modes": {"m": {"code": "INL", "title": "leaks", "leaks": ["e"],
                                                "prior": [0.9, 0.06, 0.04]}}}},
        "components": [{"id": f"c{i}", "type": "v"} for i in range(30)], "connections": [],
        "observations": [{"id": f"o{k}", "kind": "drift" if k < 4 else "static",
                          "shows": [{"modes": [f"c{m}.m" for m in draw.sample(range(30), per_set)]}
                                    for _ in range(sets)]} for k in range(observations)]}


def sized(table):
    """The small circuit with sizes, a load and a limit of its own, and by grades."""
    circuit = copy.deepcopy(table["circuit"])
    for component in circuit["components"]:
        component["sizes"] = SIZES[component["type"]]
    circuit["drift_limit"] = "8 mm/min"
    for load in ({"force": "60 kN"}, {"pressure": "90 bar", "spread": 0.5, "direction": "retract"}):
        circuit["components"][0]["load"] = load
        yield compact(circuit).encode()
    yield compact(dict(table["circuit"], effects="grades")).encode()


def compact(document):
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"))


def at(document, pointer):
    """The container a JSON pointer leads into, and the key there."""
    *way, last = [p.replace("~1", "/").replace("~0", "~") for p in pointer.split("/")[1:]]
    for step in way:
        document = document[int(step)] if isinstance(document, list) else document[step]
    return document, last


def changed(table, entry):
    """The text of a bad document, or None where it is too large to be a seed."""
    if "text" in entry:
        return entry["text"].encode()
    if "hex" in entry:
        return bytes.fromhex(entry["hex"])
    if "prefix" in entry or "repeat" in entry:
        return None
    document = json.loads(json.dumps(table[entry["document"]]))
    for pointer, value in entry.get("set", {}).items():
        if pointer == "":
            document = value
            continue
        container, key = at(document, pointer)
        if isinstance(container, list):
            if key == "-" or int(key) == len(container):
                container.append(value)
            else:
                container[int(key)] = value
        else:
            container[key] = value
    gone = entry.get("remove", [])
    for pointer in [gone] if isinstance(gone, str) else gone:
        container, key = at(document, pointer)
        del container[int(key) if isinstance(container, list) else key]
    return compact(document).encode()


def documents(table):
    small = {name: compact(table[name]).encode() for name in ("circuit", "case", "priors")}
    whole = [small["circuit"], small["case"], small["priors"]]
    yield b"a" + b"\0".join(whole)
    yield b"m" + b"\0".join(whole)
    yield b"c" + small["case"]
    yield b"c" + said_again(table["case"])
    yield b"n" + small["case"]
    yield b"p" + small["priors"] + b"\0" + small["priors"].replace(b'"yard"', b'"other"')
    for entry in table["entries"]:
        text = changed(table, entry)
        if text is None:
            continue
        kind = entry["document"]
        if kind == "circuit":
            yield b"m" + text + b"\0" + small["case"]
        elif kind == "case":
            yield b"c" + text
        else:
            yield b"p" + text
    # Whole machines without advice: with it one takes a second under sanitizers.
    for circuit, case in (("refuse_truck/circuit.json", "refuse_truck/arm_sinks_2_valve_port.json"),
                          ("veneer_press/circuit.json", "veneer_press/press_loses_pressure.json")):
        case = json.loads(read("examples/" + case))
        case["advice"] = False
        yield (b"m" + compact(json.loads(read("examples/" + circuit))).encode() + b"\0" +
               compact(case).encode())
    nothing_seen = b'{"format":"faultodds-case/1","observations":[],"advice":false}'
    for circuit in around_each_type():
        yield b"m" + compact(circuit).encode() + b"\0" + nothing_seen
    yield (b"m" + compact(json.loads(read("tests/statics/bin_lift.json"))).encode() + b"\0" +
           nothing_seen)
    for circuit in made_of_parts():
        yield b"m" + compact(circuit).encode() + b"\0" + nothing_seen
    for entry in ('{"observation":"wet_rod","outcome":"wet"}', '{"repaired":["port_relief"]}',
                  '{"not_possible":"static/valve.b","reason":"the plug is seized"}'):
        yield b"o" + entry.encode()
    yield from readings(table)
    for circuit in sized(table):
        yield b"m" + circuit + b"\0" + small["case"]
        yield b"h" + circuit + b"\0" + small["case"]
    for circuit, seen in ((wide(24, 2, 5), 1), (wide(24, 2, 5), 2), (wide(12, 3, 4), 2), (wide(12, 3, 4), 1)):
        yield b"h" + compact(circuit).encode() + b"\0" + compact({
            "format": "faultodds-case/1", "advice": {"steps": 1},
            "observations": [{"observation": "o0", "outcome": "slow"}] +
                            [{"observation": f"o{i}", "outcome": "held"} for i in range(4, 3 + seen)]}).encode()
    # What a decision costs, what cannot be tested, and one symptom after a repair.
    priced = copy.deepcopy(table["case"])
    priced["economics"] = {"currency": "EUR", "labour_per_hour": 70, "downtime_per_hour": 100, "come_back": 900,
                           "second_visit": 300, "second_fault_target": 0.02, "bad_new_part": 0.02,
                           "components": {"ram": {"part_cost": 900, "minutes": 120, "lead_days": 2}}}
    priced["not_possible"] = [{"observation": "static/valve.b", "reason": "seized"}]
    priced["advice"] = {"visit": 60, "steps": 1}
    for focus in ("complaint", "circuit", "static/valve.a"):
        yield b"c" + compact(dict(priced, focus=focus)).encode()
    repaired = copy.deepcopy(priced)
    repaired["observations"] += [{"repaired": ["ram"], "at": "2024-03-06"},
                                 {"observation": "drift/ram/retract", "outcome": "slow", "at": "2024-03-07"}]
    for what in (b"c", b"n", b"h" + small["circuit"] + b"\0"):
        yield what + compact(repaired).encode()
    yield b"l" + compact({
        "format": "faultodds-closing/1", "work_order": "7", "opened": "2026-03-30",
        "closed": "2026-03-31",
        "found": [{"component": "port_relief", "mode": "seat_leak", "grade": "failed"},
                  {"component": "ram"}],
        "sound": ["valve"], "minutes": 90, "note": "spool clean",
        "parts": [{"component": "port_relief", "part": "R-1", "quantity": 1, "cost": 80}],
    }).encode() + b"\0" + small["case"]
    # What was looked at again, before and after a repair.
    seen = copy.deepcopy(table["case"])
    last = seen["observations"][-1]
    seen["observations"] += [last, dict(last, again=True), {"repaired": ["port_relief"]}, last]
    yield b"l" + compact({
        "format": "faultodds-closing/1", "work_order": "8", "closed": "2026-03-31",
        "sound": ["ram"]}).encode() + b"\0" + compact(seen).encode()
    yield from for_authors(table)
    yield from reported()
    for case in work_of(table["case"]):
        yield b"c" + text_of(case)
        yield b"n" + text_of(case)
    yield b"c" + text_of(dict(table["case"], detail="full"))
    yield b"r" + compact({
        "format": "faultodds-records/1", "columns": {"finding": "finding"},
        "types": {"*relief*": "relief"}, "findings": {"*leak*": {"mode": "seat_leak"}},
        "grades": {"bad": "failed"}, "delimiter": ";"}).encode()
    yield b"r{}"


def text_of(document):
    return compact(document).encode()


def for_authors(table):
    """What authors of circuits ask: checks, explanations, differences, beginnings and drawings; of small circuits."""
    small, case = text_of(table["circuit"]), text_of(table["case"])
    odd = copy.deepcopy(table["circuit"])
    odd["components"][0].update(bore="100 m", rating="2 bar", title="<script>&\"'\u0001\u202e" + "l" * 300)
    odd["titles"] = {"de": {"ram": "<b>Kolben</b>", "baler-ram": "Presse", "line/cap_hose": "Schlauch"}}
    odd["components"][2]["setting"] = "1e308 bar"
    odd["functions"] = [{"id": "push", "title": "Push", "actuator": "ram", "direction": "extend",
                         "positions": {"valve": "out"}, "source": "valve.p"}]
    for circuit in (table["circuit"], odd, *made_of_parts()):
        yield b"k" + text_of(circuit)
        for how in (b"360de", b"0", b"700fr"):
            yield b"d" + text_of(circuit) + b"\0" + case + b"\0" + how
    yield b"d" + small
    made = list(made_of_parts())
    yield b"f" + text_of(made[0]) + b"\0" + text_of(made[1])
    yield b"f" + small + b"\0" + text_of(odd) + b"\0" + case
    yield b"f" + text_of(odd) + b"\0" + small
    for observation, size in (("static/valve.a", "300 mL/min"), ("drift/ram/retract", ""), ("wet_rod", ""),
                              ("static/valve.a/plugged/port_relief", "0 L/min"), ("no_pressure/pump", "1e308 L/min"),
                              ("static/valve.b", "5 bar"), ("x", "1")):
        yield b"e" + small + b"\0" + observation.encode() + b"\0" + size.encode()
    for circuit in list(around_each_type())[::7]:
        circuit["functions"] = [{"id": "lift", "title": "Lift", "actuator": "ram", "direction": "extend",
                                 "positions": {}, "source": "pump.out"}]
        yield b"k" + text_of(circuit)
        for observation in ("delivery/lift", "no_pressure/pump", "noisy/pump", "jerky/ram", "hot/pump", "static/ram.cap",
                            "moves/ram/extend", "dip/lift", "look/ram"):
            yield b"e" + text_of(circuit) + b"\0" + observation.encode() + b"\0"
    parts = [{"id": "strainer", "type": "suction_strainer"}, {"id": "pump", "type": "fixed_pump", "displacement": "16 cm3/rev"},
             {"id": "relief", "type": "main_relief", "setting": "200 bar"}, {"id": "valve", "type": "closed_centre_section"},
             {"id": "lock", "type": "counterbalance_valve"}, {"id": "ram", "type": "single_rod_cylinder", "bore": "80 mm"},
             {"id": "second", "type": "open_centre_section"}, {"id": "motor", "type": "rotary_motor", "title": "M"}]
    for few in (parts, parts[1:], parts[3:], parts[:1], parts[:2] * 2, []):
        yield b"b" + text_of({"format": "faultodds-parts/1", "id": "begun", "title": "t", "parts": few})


WORDS = (("The ram sinks when the lever is let go, oil on the rod", "en"),
         ("Der Kolben der Presse sackt ab, tropft nicht, wird heiss", "de"),
         ("Le vérin descend tout seul, pas de pression à la pompe", "fr"), ("el pistón baja solo; no sube", "es"),
         ("x" * 500 + "\u0301\ud7ff", ""), ("", "en"), ("sinks", "xx"))


def reported():
    """A small machine with functions, on which people report what they see, and cases about that."""
    yield from ((b"w" + words.encode() + b"\0" + language.encode()) for words, language in WORDS)
    machine = list(around_each_type())[0]
    machine["effects"] = "grades"
    machine["functions"] = [{"id": "lift", "title": "Lift", "actuator": "ram", "direction": "extend", "positions": {},
                             "source": "pump.out"}]
    for observation, outcome in (("no_pressure/pump", "low"), ("hot/pump", "hot"), ("noisy/pump", "loud"),
                                 ("jerky/ram", "jerky"), ("delivery/lift", "slow"), ("look/ram", "wet")):
        for detail in ("full", "screen"):
            yield b"m" + text_of(machine) + b"\0" + text_of({
                "format": "faultodds-case/1", "detail": detail, "language": "de", "advice": {"steps": 1},
                "observations": [{"observation": observation, "outcome": outcome}]})


def work_of(case):
    """What there is to work with, in every key, and where nothing is to be had."""
    whole = dict(case, detail="full", language="fr", work={
        "at_hand": {"parts": ["ram", "relief"], "fittings": [{"what": "plug", "standard": "ISO 6149-1", "size": "M27x2"},
                                                             {}]},
        "fetch": 20, "second_person": "15 min", "block_load": 10, "people": 1, "ready_within": "2 h",
        "order": ["static/valve.b", "static/valve.a"]},
        not_possible=[{"observation": "static/valve.b", "reason": "no room"}, {"observation": "static/valve.a"}])
    yield whole
    yield dict(whole, language="ar", work={"at_hand": {}, "people": 2, "ready_within": 1, "order": []})
    yield dict(whole, work={"order": ["static/valve.a"] * 3, "people": 1}, not_possible=[])
    yield dict(case, language="es", observations=case["observations"][::-1] + [
        dict(case["observations"][0], at="1"), {"repaired": ["ram"], "at": "0"}])


def networks():
    bif = ('network n { property p; } variable a { type discrete [ 2 ] { x, y }; } '
           'variable b { type discrete [ 3 ] { p, q, r }; } variable c { type discrete [ 2 ] { n, m }; }'
           'probability ( a ) { table 0.5, 0.5; } probability ( b | a ) { (x) 1 0 0; (y) .2 .3 .5; }'
           'probability ( c | a, b ) { default 0.1 0.9; (x, q) 1 0; }')
    yield b"b" + bif.encode()
    yield b"b" + bif.encode() + b"\0" + bytes([0, 0, 1, 1, 2, 130, 2, 200])
    xml = ('<?xml version="1.0" encoding="US-ASCII"?><!DOCTYPE BIF [<!ELEMENT BIF (NETWORK)*>]>'
           '<BIF VERSION="0.3"><NETWORK><NAME>n</NAME><VARIABLE TYPE="nature"><NAME>a</NAME>'
           '<OUTCOME>x</OUTCOME><OUTCOME>y</OUTCOME><PROPERTY>p = 1</PROPERTY></VARIABLE>'
           '<VARIABLE TYPE="nature"><NAME>b</NAME><OUTCOME>x</OUTCOME><OUTCOME>y</OUTCOME></VARIABLE>'
           '<DEFINITION><FOR>a</FOR><TABLE>0.4 0.6 <!-- c --></TABLE></DEFINITION>'
           '<DEFINITION><FOR>b</FOR><GIVEN>a</GIVEN><TABLE>1 0 1e-3 0.999</TABLE></DEFINITION>'
           '</NETWORK></BIF>')
    yield b"x" + xml.encode()
    yield b"x" + xml.encode() + b"\0" + bytes([0, 1, 1, 190])


def records():
    head = "work_order,closed,asset_class,component,finding,grade,tests,complaint\r\n"
    rows = head + "".join(
        f"{i},2024-03-{i % 28 + 1:02d},loader,{'port_relief' if i % 2 else 'ram'},"
        f"{('seat_leak' if i % 2 else 'rod_leak') if i % 3 else 'none'},"
        f"{('failed' if i % 5 else 'worn') if i % 3 else ''},"
        f"\"static/valve.a={'bled_down' if i % 2 else 'held'}\",drift/ram/retract=slow\r\n"
        for i in range(1, 16))
    exposure = "asset_class,component,in_service,hours\r\nloader,port_relief,10,12000\r\n"
    # Every column, leak rates, and tests that were made again or only said twice.
    whole = ("work_order,line,opened,closed,asset,asset_class,circuit,component,position,finding,grade,"
             "hours,sound_at,minutes,complaint,tests\r\n") + "".join(
        f"{i // 2},{i % 2},2024-03-01,2024-03-{i % 28 + 1:02d},truck {i},loader,baler-ram,relief,"
        f"port_relief,{'seat_leak' if i % 3 else 'UNK'},{'worn' if i % 4 else ''},{100 * i},{90 * i},45,"
        f"drift/ram/retract,\"static/valve.a=held; static/valve.a=held again; static/valve.b="
        f"{i} mL/min; static/valve.b={i} mL/min; drift/ram/retract=fast\"\r\n" for i in range(2, 12))
    for choices in (0, 1, 4, 8, 12, 24, 40):
        yield bytes([choices]) + whole.encode()
    # No row that can be used.
    yield b"\x20" + head.encode() + b"1,2024-02-30,loader,ram,none,,,\r\n"
    yield b"\0" + rows.encode() + b"\0\0component,in_service\r\nram,-1\r\n"
    exposure_mapping = compact({"format": "faultodds-records/1",
                                "columns": {"finding": "finding", "closed": "closed"}})
    for choices in (0, 1, 2, 3, 4, 8, 12, 16, 32):
        yield bytes([choices]) + rows.encode()
    yield b"\0" + rows.encode() + b"\0\0" + exposure.encode()
    yield b"\0" + rows.encode() + b"\0" + exposure_mapping.encode() + b"\0" + exposure.encode()
    yield b"\x20work_order,closed\n1,2024-02-30\n\"a\"\"b\n\",x\r\n"


def calls():
    yield bytes([0, 0, 1, 0, 0, 1, 0, 0, 1, 11, 0, 1, 0, 1, 36, 0, 1, 2, 0, 1, 27, 0, 1, 5, 1, 0])
    # Whose effects are solved, with a plan.
    yield bytes([0, 0, 1, 0, 129, 35, 0, 1, 0, 35, 0, 1, 1, 25, 0, 1, 1, 0, 1, 0, 36, 0, 1, 32, 0, 1])
    yield bytes([3, 0, 1, 0, 4, 0, 1, 0, 14, 0, 1, 0, 1, 1, 24, 0, 1, 0, 34, 0, 1, 5])
    # A small model shown: its screen, a proposal, a drawing, its counters; and every call for authors.
    begin = [0, 0, 1, 0, 0]
    for more in ([45, 0, 1], [50, 0, 1, 0, 2], [55, 0, 1, 45], [60, 0, 1, 0],
                 *([65, 1, which, odd] for which in range(6) for odd in (1, 2, 130, 16))):
        yield bytes(begin + more)
    yield bytes(range(256)) * 2


def about_circuits(request, small):
    """What is asked of a circuit over HTTP besides cases, of the stored one and of one in the body."""
    both = '{"circuit":"baler-ram","case":' + small["case"]
    for of in ('"baler-ram"', small["circuit"], '"other"', '{"format":"faultodds-circuit/1","id":"v","extends":"baler-ram",'
               '"overrides":{"components":{"ram":{"bore":"90 mm"}}}}'):
        yield request("POST /v1/check", '{"circuit":' + of + "}")
        yield request("POST /v1/expand", '{"circuit":' + of + "}")
        yield request("POST /v1/propose", '{"circuit":' + of + ',"text":"the ram sinks","language":"en"}')
        yield request("POST /v1/draw", '{"circuit":' + of + "}")
    yield request("POST /v1/explain", '{"circuit":"baler-ram","observation":"static/valve.a","size":"9 mL/min"}')
    yield request("POST /v1/explain", '{"circuit":"baler-ram","observation":"nowhere"}')
    yield request("POST /v1/diff", '{"before":"baler-ram","after":' + small["circuit"].replace("210 bar", "180 bar") +
                  ',"case":' + small["case"] + "}")
    yield request("POST /v1/draw", both + "}")
    yield request("POST /v1/drawing", both + ',"width":360,"language":"de"}')
    yield request("POST /v1/drawing", both + ',"width":1e9}')
    yield request("POST /v1/new", '{"parts":{"format":"faultodds-parts/1","id":"n","parts":'
                  '[{"id":"pump","type":"fixed_pump"},{"id":"r","type":"main_relief","setting":"9 bar"}]}}')
    yield request("GET /v1/circuits/baler-ram/model?detail=screen")
    yield request("GET /v1/circuits/baler-ram/model?detail=x")
    for schema in ("faultodds-case", "faultodds-nothing"):
        yield request("GET /v1/schemas/" + schema)
    yield b"\0\0".join([
        request("PUT /v1/circuits/long", '{"format":"faultodds-circuit/1","id":"long","extends":"baler-ram"}', "If-None-Match: *"),
        request("PUT /v1/circuits/baler-ram", '{"format":"faultodds-circuit/1","id":"baler-ram","extends":"long"}', "If-Match: *"),
        request("GET /v1/circuits/long")])


def around_the_loop(request, stored):
    """Cases that are closed, learned from, compared and put in force."""
    closing = compact({"format": "faultodds-closing/1", "work_order": "7", "opened": "2024-03-05", "closed": "2024-03-06",
                       "found": [{"component": "port_relief", "mode": "seat_leak", "grade": "failed"}],
                       "sound": ["ram"], "minutes": 90})
    kept = [request("PUT /v1/cases/a", stored, "If-None-Match: *"),
            request("POST /v1/cases/a/close", closing, "If-Match: *")]
    pack = json.loads(read("priors/packs/shipped.json"))
    pack["modes"] = pack["modes"][:3]
    yield b"\0\0".join(kept + [
        request("GET /v1/cases/a/record"), request("GET /v1/cases/a/record", None, "Accept: text/csv"),
        request("GET /v1/records?circuit=baler-ram"), request("GET /v1/cases/a/plan"),
        request("POST /v1/cases/a/observations", '{"observation":"wet_rod","outcome":"wet"}', "If-Match: *")])
    for asked in ('{"audit_orders":3}', '{"through_circuit":true,"source":"s"}', '{"learn_outcomes":true,"pool_classes":false}',
                  '{"audit_orders":1e9}', '{"judgement":{}}'):
        for pack_of in ("default", "baler-ram"):
            yield b"\0\0".join(kept + [request(f"POST /v1/priors/{pack_of}/learn", asked)])
    yield b"\0\0".join(kept + [request("POST /v1/priors/baler-ram/compare", compact(pack))])
    yield request("POST /v1/close", stored[:-1] + ',"closing":' + closing + "}", "Accept: text/csv")
    yield request("GET /v1/records") + request("POST /v1/priors/nobody/learn", "{}")


def http(table):
    small = {name: compact(table[name]) for name in ("circuit", "case", "priors")}

    def request(line, body=None, *fields):
        head = [line + " HTTP/1.1", "Host: h", *fields]
        if body is not None:
            head += ["Content-Type: application/json", f"Content-Length: {len(body.encode())}"]
        return ("\r\n".join(head) + "\r\n\r\n" + (body or "")).encode()

    for path in ("/v1/circuits", "/v1/circuits/baler-ram", "/v1/circuits/baler-ram/model", "/healthz",
                 "/readyz", "/openapi.json", "/metrics", "/v1/cases", "/v1/%2e%2e/x?a=b"):
        yield request("GET " + path)
    stored = '{"circuit":"baler-ram","case":' + small["case"] + "}"
    whole = ('{"circuit":' + small["circuit"] + ',"case":' + small["case"] + ',"priors":' +
             small["priors"] + "}")
    yield request("POST /v1/assess", stored)
    yield request("POST /v1/assess", whole)
    yield request("POST /v1/note", stored, "Accept: text/html")
    yield request("POST /v1/plan", stored)
    yield request("PUT /v1/circuits/baler-ram", small["circuit"], "If-Match: *")
    yield request("PUT /v1/circuits/other", small["circuit"].replace("baler-ram", "other"),
                  "If-None-Match: *")
    yield request("GET /v1/circuits/baler-ram", None, 'If-None-Match: "1", W/"2"')
    key = "Idempotency-Key: 1"
    cases = [request("POST /v1/cases", stored, key), request("POST /v1/cases", stored, key),
             request("PUT /v1/cases/a", stored, "If-None-Match: *"),
             request("POST /v1/cases/a/observations", '{"observation":"wet_rod","outcome":"wet"}',
                     "If-Match: *"),
             request("GET /v1/cases?limit=1&after=0"), request("GET /v1/cases/a/assessment"),
             request("DELETE /v1/cases/a", None, "If-Match: *")]
    yield b"\0\0".join(cases)
    # Asked again, until the answer is known; a class that nobody knows; names in their thousands.
    yield b"\0\0".join([request("POST /v1/assess", stored)] * 3)
    yield request("POST /v1/assess", stored.replace("balers", "nobodys"))
    yield request("POST /v1/assess", "{" + ",".join(f'"{i}":0' for i in range(400)) + "}")
    yield request("POST /v1/assess", '{"circuit":{"n":' + "[" * 80 + "]" * 80 + '},"circuit":1}')
    yield request("GET /livez") + request("GET /v1/priors") + request("GET /site/index.html")
    yield b"\0\0".join(cases[:2] + [request("GET /v1/cases/a/note", None, "Accept: text/html"),
                                    request("PUT /v1/cases/a", stored, 'If-Match: "1"', key)])
    yield b"\0\0".join([b"POST /v1/assess HTTP/1.1\r\nHost: h\r\nContent-Length: 9\r\n\r\n{", b'"a"', b":1}GE"])
    yield b"\0\0".join([request("PUT /v1/priors/default", small["priors"], "If-None-Match: *"),
                        request("GET /v1/priors/default"),
                        request("POST /v1/priors/default/rollback", None, "If-Match: *")])
    yield from about_circuits(request, small)
    yield from around_the_loop(request, stored)
    yield request("GET /livez") * 2
    yield b"POST /v1/assess HTTP/1.0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"


def main(directory):
    table = json.loads(read("tests/vectors/bad_documents.json"))
    targets = {"documents": documents(table), "networks": networks(), "records": records(),
               "calls": calls(), "http": http(table)}
    for target, seeds in targets.items():
        folder = pathlib.Path(directory) / target
        folder.mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(seeds):
            (folder / f"{number:03d}").write_bytes(seed)


if __name__ == "__main__":
    main(sys.argv[1])

#!/usr/bin/env python3
"""Writes assessments.json beside it: what every binding must answer, from a built C library.

FAULTODDS_LIBRARY=<libfaultodds.so.2> tests/vectors/make_assessments.py [--check]

--check writes nothing and fails when the file differs. Run it after a change of what an answer says; the
difference of the file is then part of the review. The expected values of small circuits are compared with
the brute-force oracle by tests/bindings/vectors_oracle_test.cpp, which shares no code with the engine.
"""

import json
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "bindings" / "python"))
import faultodds  # noqa: E402

OUTPUT = Path(__file__).resolve().parent / "assessments.json"

ABOUT = [
    "What every binding must answer. A vector is one case on one circuit (a path from the project's root).",
    "`case` is its document, for the one call and for a model. Where there are `events` the same evidence",
    "goes into an open case one by one: {observe: entry}, {retract: observation} or {setup_done: step};",
    "outcomes, likelihoods and repairs by the binding's own calls, readings as JSON.",
    "`expected` is part of the answer: each member given must be there. Texts are equal, lists equal in",
    "length, numbers within tolerance: |difference| <= tolerance * max(1, |expected|). Items that have a",
    "`mode`, an `observation` or `components` are found by it, since the order of equals is nobody's to say; but",
    "for lists in which one occurs twice, as `causes` has a symptom seen before and after a repair: these are in order.",
    "`among` gives some of the items of a longer list.",
    "A vector with `refusal` instead is refused with that code and pointer and a message that contains those",
    "words; where it has `events`, the open case refuses the last, or to assess it, with `event_code`.",
]

LIFT = "tests/bindings/lift.json"
TRUCK = "examples/refuse_truck/circuit.json"
PRESS = "examples/veneer_press/circuit.json"


def seen(observation, outcome):
    return {"observe": {"observation": observation, "outcome": outcome}}


def read(observation, **reading):
    return {"observe": {"observation": observation, "reading": reading}}


DRIFTS = seen("drift/cylinder/retract", "fast")

# name, circuit, events, more members of the case document (these have no calls in an open case)
CASES = [
    ("nothing is known", LIFT, [], {}),
    ("a load drifts", LIFT, [DRIFTS], {}),
    ("the valve holds, so the fault is beyond it", LIFT, None,
     {"observations": [DRIFTS["observe"], seen("static/section.a", "held")["observe"]]}),
    ("a leak at the valve goes when the relief is plugged", LIFT,
     [DRIFTS, seen("static/section.a", "would_not_build"),
      seen("static/section.a/plugged/cap_relief", "held")], {}),
    ("a drift measured at the rod", LIFT,
     [read("drift/cylinder/retract", distance="20 mm", time="5 min")], {}),
    ("leak rates in American units", LIFT,
     [read("drift/cylinder/retract", speed="0.2 in/min"),
      read("static/section.a", leak_rate="0.02 gpm", pressure="1800 psi")], {}),
    ("a hold that bled down, corrected for temperature", LIFT, None,
     {"observations": [DRIFTS["observe"],
                       read("static/section.a", pressure_drop="12 bar", time="2 min", volume="0.3 L", pressure="130 bar",
                            temperature_start="42 degC", temperature_end="41.5 degC")["observe"]]}),
    ("a likelihood of the caller's own instrument", LIFT,
     [DRIFTS, {"observe": {"observation": "static/cylinder.cap", "likelihood": [0.1, 0.7, 0.4]}}], {}),
    ("an outcome taken back", LIFT,
     [DRIFTS, seen("static/section.a", "held"), {"retract": "static/section.a"}], {}),
    ("the same outcome twice", LIFT, [DRIFTS, DRIFTS], {}),
    ("setup that is done costs nothing more", LIFT,
     [DRIFTS, {"setup_done": "lockout"}, {"setup_done": "line/cap_hose"}], {}),
    ("a part was replaced", LIFT,
     [DRIFTS, {"observe": {"repaired": ["cap_relief"]}}, seen("drift/cylinder/retract", "slow")], {}),
    ("a focus on another symptom than the first seen", LIFT, None,
     {"observations": [DRIFTS["observe"], seen("delivery/raise", "slow")["observe"]], "focus": "delivery/raise"}),
    ("an abnormal test in place of a symptom", LIFT, None,
     {"observations": [seen("static/section.a", "bled_down")["observe"]]}),
    ("ranked for the whole circuit", LIFT, None,
     {"observations": [DRIFTS["observe"]], "focus": "circuit"}),
    ("amounts of the caller's own", LIFT, None,
     {"observations": [DRIFTS["observe"], seen("static/section.a", "would_not_build")["observe"]],
      "economics": {"currency": "EUR", "labour_per_hour": 70, "downtime_per_hour": 110, "second_visit": 400,
                    "components": {"cap_relief": {"part_cost": 90, "minutes": "25 min", "lead_days": 1}}}}),
    ("without advice", LIFT, None, {"observations": [DRIFTS["observe"]], "advice": False}),
    ("an arm sinks: the complaint", TRUCK, "examples/refuse_truck/arm_sinks_1_complaint.json",
     {"advice": False}),
    ("an arm sinks: the valve port", TRUCK, "examples/refuse_truck/arm_sinks_2_valve_port.json",
     {"advice": False}),
    ("an arm sinks: the relief out", TRUCK, "examples/refuse_truck/arm_sinks_3_relief_out.json", {}),
    ("a press loses pressure", PRESS, "examples/veneer_press/press_loses_pressure.json", {}),
]

# name, circuit, events of which the last is wrong, more members of the case document
REFUSALS = [
    ("an observation the circuit does not have", LIFT, [seen("drift/cylinder/sideways", "fast")], {}),
    ("an outcome the observation does not have", LIFT, [DRIFTS, seen("static/section.a", "tepid")], {}),
    ("a reading without its time", LIFT, [read("drift/cylinder/retract", distance="20 mm")], {}),
    ("a reading in a unit of something else", LIFT, [read("static/section.a", leak_rate="40 kg")], {}),
    ("a reading that is a bare number", LIFT, [read("static/section.a", leak_rate=40)], {}),
    ("a likelihood of zeros", LIFT,
     [{"observe": {"observation": "static/section.a", "likelihood": [0, 0, 0]}}], {}),
    ("an unknown key with a slash and a tilde", LIFT, None, {"observations": [], "a/b~c": 1}),
    ("text of another language in a name", LIFT, [seen("drift/zylinder/größer-缸", "fast")], {}),
    ("a case of another circuit", LIFT, None, {"observations": [], "circuit": "another"}),
]


def document(circuit, events, more):
    """The case document that says the same as the events."""
    entries, done = [], []
    for event in events or []:
        if "observe" in event:
            entries.append(event["observe"])
        elif "retract" in event:
            entries = [entry for entry in entries if entry.get("observation") != event["retract"]]
        else:
            done.append(event["setup_done"])
    made = {"format": "faultodds-case/1", "circuit": circuit["id"], "detail": "full", "observations": entries}
    if done:
        made["setup_done"] = done
    return {**made, **more}


def rounded(value):
    if isinstance(value, float):
        return float(f"{value:.12g}")
    if isinstance(value, list):
        return [rounded(item) for item in value]
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    return value


def picked(record, *keys):
    return {key: record[key] for key in keys}


def expected(answer):
    """The members that are numbers and decisions; sentences may be improved without notice."""
    part = picked(answer, "format", "circuit", "causes", "log_evidence", "method", "complaint", "ambiguity_groups")
    part["faults"] = [
        picked(fault, "mode", "grades", "prior_odds", "posterior_odds", "decibans")
        for fault in answer["faults"]
    ]
    part["tests"] = [
        {**picked(test, "observation", "probability", "information_bits", "cause_bits", "minutes",
                  "bits_per_minute", "energised", "test_pressure", "suspects"),
         "setup": [picked(step, "id", "minutes") for step in test["setup"]],
         **({"again": True} if "again" in test else {})}
        for test in answer["tests"]
    ]
    if "advice" in answer:
        # That it comes along; what it should say is for the tests of the engine. An object without members
        # asks for none.
        advice = answer["advice"]
        part["advice"] = {} if advice["currency"] == "XXX" else {
            **picked(advice, "stop", "currency"), "repair": picked(advice["repair"], "components")}
    return rounded(part)


def vector(name, path, events, more):
    circuit = json.loads((ROOT / path).read_text(encoding="utf-8"))
    if isinstance(events, str):
        case = {**json.loads((ROOT / events).read_text(encoding="utf-8")), "detail": "full", **more}
        events = None
    else:
        case = document(circuit, events, more)
    made = {"name": name, "circuit": path, "case": case}
    if events is not None:
        made["events"] = events
    return circuit, made


def tell(case, event):
    """One event, by the call that suits it."""
    if "retract" in event:
        case.retract(event["retract"])
    elif "setup_done" in event:
        case.setup_done(event["setup_done"])
    elif "outcome" in event["observe"]:
        case.observe(event["observe"]["observation"], event["observe"]["outcome"])
    elif "likelihood" in event["observe"]:
        case.observe_likelihood(event["observe"]["observation"], event["observe"]["likelihood"])
    elif "repaired" in event["observe"]:
        case.repaired(*event["observe"]["repaired"])
    else:
        case.observe_entry(event["observe"])


def refused_event(model, events):
    with model.open_case() as case:
        for event in events[:-1]:
            tell(case, event)
        try:
            tell(case, events[-1])
            case.assess()
        except faultodds.FaultoddsError as error:
            return error.code
    raise SystemExit(f"{events[-1]}: was taken")


def made():
    vectors = []
    for entry in CASES:
        circuit, made_vector = vector(*entry)
        answer = faultodds.assess(circuit, made_vector["case"])
        if "examples/" in made_vector["circuit"]:  # large: the first of many are enough
            part = expected(answer)
            for member in ("faults", "tests", "ambiguity_groups"):
                del part[member]
            made_vector["expected"] = {
                **part,
                "among": {"faults": expected(answer)["faults"][:5], "tests": expected(answer)["tests"][:5]},
            }
        else:
            made_vector["expected"] = expected(answer)
        vectors.append(made_vector)
    for entry in REFUSALS:
        circuit, made_vector = vector(*entry)
        with faultodds.Model(circuit) as model:
            try:
                model.assess(made_vector["case"])
            except faultodds.FaultoddsError as error:
                refusal = {"code": error.code, "pointer": error.pointer,
                           "message": error.message.split("; ")[0]}
            else:
                raise SystemExit(f"{entry[0]}: was answered")
            if made_vector.get("events"):
                refusal["event_code"] = refused_event(model, made_vector["events"])
        made_vector["refusal"] = refusal
        vectors.append(made_vector)
    return {"about": ABOUT, "tolerance": 1e-9, "vectors": vectors}


def text():
    """One line per vector: a difference of the file shows which changed."""
    table = made()
    lines = [json.dumps(entry, ensure_ascii=False, sort_keys=True) for entry in table["vectors"]]
    head = json.dumps({"about": ABOUT, "tolerance": table["tolerance"]}, ensure_ascii=False, indent=1)
    return head[:-2] + ',\n "vectors": [\n' + ",\n".join(lines) + "\n ]\n}\n"


def name_of(item):
    """What an item of a list is found by, whatever its place; None if it has no name."""
    if not isinstance(item, dict):
        return None
    return item.get("mode") or item.get("observation") or " ".join(item.get("components", [])) or None


def are_named(items):
    """Whether the items of a list can be found by their names."""
    names = [name_of(item) for item in items]
    return all(names) and len(set(names)) == len(names)


def in_order(items):
    """By name where the items have one: equals may change places."""
    return sorted(items, key=lambda item: name_of(item) or "") if items and name_of(items[0]) else items


def agree(old, new, tolerance):
    if isinstance(old, bool) or isinstance(new, bool) or not isinstance(new, (int, float, list, dict)):
        return old == new
    if isinstance(new, list):
        return (isinstance(old, list) and len(old) == len(new)
                and all(agree(a, b, tolerance) for a, b in zip(in_order(old), in_order(new))))
    if isinstance(new, dict):
        return (isinstance(old, dict) and old.keys() == new.keys()
                and all(agree(old[key], new[key], tolerance) for key in new))
    return isinstance(old, (int, float)) and abs(old - new) <= tolerance * max(1, abs(new))


def main():
    if sys.argv[1:] == ["--check"]:
        old = {entry["name"]: entry for entry in json.loads(OUTPUT.read_text(encoding="utf-8"))["vectors"]}
        table = made()
        stale = [entry["name"] for entry in table["vectors"]
                 if not agree(old.get(entry["name"]), entry, table["tolerance"])]
        stale += sorted(old.keys() - {entry["name"] for entry in table["vectors"]})
        if stale:
            raise SystemExit("assessments.json is not what the library answers, in: " + "; ".join(stale)
                             + "\nIf the change is meant, run tests/vectors/make_assessments.py")
        return
    if sys.argv[1:]:
        raise SystemExit(__doc__)
    OUTPUT.write_text(text(), encoding="utf-8")


if __name__ == "__main__":
    main()

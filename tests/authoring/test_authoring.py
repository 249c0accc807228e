"""What the command and the calls for authors promise, each behaviour by itself. Environment: FAULTODDS_CIRCUIT (the
command), FAULTODDS_PROJECT."""

import copy
import json
import os
import pathlib
import random
import re
import subprocess
import tempfile
import time
import unittest

import drawing
import jsonschema
from families import correct_circuits
from measure import check, measure, serious

import faultodds

COMMAND = os.environ["FAULTODDS_CIRCUIT"]
PROJECT = pathlib.Path(os.environ["FAULTODDS_PROJECT"])


def run(*arguments, text=None, code=0):
    done = subprocess.run([COMMAND, *arguments], input=text, capture_output=True, text=True)
    assert done.returncode == code, (done.returncode, done.stderr)
    return done.stdout


def refused(*arguments):
    done = subprocess.run([COMMAND, *arguments], capture_output=True, text=True)
    assert done.returncode not in (0, 2), (done.returncode, done.stdout)
    return done.stderr


def load(path):
    return json.loads((PROJECT / path).read_text(encoding="utf-8"))


TRUCK = load("examples/refuse_truck/circuit.json")
PRESS = load("examples/veneer_press/circuit.json")
CASES = ["arm_sinks_1_complaint", "arm_sinks_2_valve_port", "arm_sinks_3_relief_out"]


class SeededMistakes(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.result = measure(COMMAND, PROJECT)

    def test_ninety_five_of_a_hundred_mistakes_of_authoring_are_found_with_their_field_and_a_likely_cause(self):
        found, of = self.result["found"]["authoring"]
        self.assertEqual(of, 60)
        self.assertGreaterEqual(found, 0.95 * of, self.result["missed"]["authoring"])

    def test_ninety_five_of_a_hundred_mistakes_of_unit_and_scale_are_found(self):
        found, of = self.result["found"]["units and scale"]
        self.assertEqual(of, 131)
        self.assertGreaterEqual(found, 0.95 * of, self.result["missed"]["units and scale"])

    def test_a_good_circuit_is_not_warned_of(self):
        self.assertEqual(self.result["good"], [])

    def test_no_correct_circuit_of_five_families_is_warned_of_more_than_twice(self):
        self.assertEqual(len(self.result["false"]), 40)
        for circuit, findings in self.result["false"].items():
            self.assertLessEqual(len(findings), 2, (circuit, findings))


class Check(unittest.TestCase):
    def test_the_demo_circuits_are_not_warned_of(self):
        for circuit in (TRUCK, PRESS):
            self.assertEqual(serious(check(COMMAND, circuit)), [])

    def test_every_error_is_listed_at_its_place_in_the_document_as_written(self):
        doc = copy.deepcopy(TRUCK)
        doc["components"][3]["displacement"] = "45"
        doc["components"][5]["setting"] = "180 bars"
        doc["functions"][1]["direction"] = "sideways"
        doc["fittings"]["arm_section.a"]["ratting"] = "3 bar"
        pointers = {one["pointer"] for one in check(COMMAND, doc)["findings"] if one["severity"] == "error"}
        self.assertEqual(pointers, {"/components/3/displacement", "/components/5/setting", "/functions/1/direction",
                                    "/fittings/arm_section.a/ratting"})

    def test_places_count_as_the_author_counts_where_items_before_do_not_read(self):
        doc = copy.deepcopy(TRUCK)
        doc["conditions"][0] = 7
        doc["conditions"][1]["probability"] = 0.9
        found = {one["pointer"]: one["severity"] for one in check(COMMAND, doc)["findings"]}
        self.assertEqual(found.get("/conditions/0"), "error")
        self.assertEqual(found.get("/conditions/1/probability"), "warning")

    def test_a_misspelt_name_is_one_error_that_names_the_nearest(self):
        doc = copy.deepcopy(TRUCK)
        doc["connections"][3]["from"] = "pmup.out"
        errors = [one for one in check(COMMAND, doc)["findings"] if one["severity"] == "error"]
        self.assertEqual([one["pointer"] for one in errors], ["/connections/3/from"])
        self.assertIn("`pump`", errors[0]["cause"])

    def test_text_that_is_no_json_is_a_finding_with_its_line(self):
        found = json.loads(run("check", "-", "--json", text='{"format": "faultodds-circuit/1",}', code=2))
        self.assertEqual(found["errors"], 1)
        self.assertIn("line 1", found["findings"][0]["message"])

    def test_a_unit_that_would_fit_is_said(self):
        doc = copy.deepcopy(TRUCK)
        doc["components"][5]["setting"] = "2610 bar"
        (one,) = [one for one in serious(check(COMMAND, doc)) if one["pointer"] == "/components/5/setting"]
        self.assertIn("psi", one["cause"])
        self.assertEqual(one["value"], "2610 bar")
        self.assertTrue(one["expected"] and one["source"])

    def test_an_observation_that_vanishes_is_said_with_the_way_of_the_oil(self):
        doc = copy.deepcopy(TRUCK)
        for connection in doc["connections"]:
            for end in ("from", "to"):
                swap = {"arm_lift_makeup.tank_side": "arm_lift_makeup.port_side",
                        "arm_lift_makeup.port_side": "arm_lift_makeup.tank_side"}
                connection[end] = swap.get(connection[end], connection[end])
        del doc["observations"]
        found = check(COMMAND, doc)["findings"]
        (absent,) = [one for one in found if one["rule"] == "absent" and "drift/arm_cylinder/retract" in one["message"]]
        self.assertIn("arm_lift_makeup.poppet", absent["message"])

    def test_every_numeric_field_of_a_component_has_a_usual_range(self):
        for field, value in {
            "bore": "9999 m", "rod": "1 um", "setting": "99999 bar", "ratio": 900, "rating": "99999 bar",
            "displacement": "9999 m3", "rated_flow": "999999 L/min", "volume": "9999 m3", "minutes": 99999999,
            "part_cost": 1e11, "lead_days": 99999,
        }.items():
            doc = {"format": "faultodds-circuit/1", "id": "x", "components": [{"id": "p", "type": "own", field: value}],
                   "types": {"own": {"ports": ["a"], "elements": {}, "failure_modes": {}}}}
            pointers = {one["pointer"] for one in serious(check(COMMAND, doc))}
            self.assertIn(f"/components/0/{field}", pointers, field)

    def test_holds_that_may_not_be_made_are_noted_with_their_reason(self):
        notes = [one for one in check(COMMAND, PRESS)["findings"] if one["rule"].startswith("hold_")]
        self.assertTrue(notes)
        for note in notes:
            self.assertEqual(note["severity"], "note")
            self.assertTrue(note["pointer"].startswith("/components/"), note)


    def test_a_closed_loop_is_said_not_to_be_represented_and_nothing_else_is_made_of_its_lines(self):
        doc = {
            "format": "faultodds-circuit/1", "id": "loop",
            "components": [
                {"id": "reservoir", "type": "tank"},
                {"id": "charge_pump", "type": "fixed_pump", "displacement": "12 cm3/rev", "rated_flow": "18 L/min"},
                {"id": "charge_relief", "type": "main_relief", "setting": "35 bar"},
                {"id": "pump", "type": "variable_pump", "displacement": "75 cm3/rev", "rated_flow": "110 L/min"},
                {"id": "relief_a", "type": "relief_makeup", "setting": "350 bar"},
                {"id": "relief_b", "type": "relief_makeup", "setting": "350 bar"},
                {"id": "motor", "type": "rotary_motor", "displacement": "75 cm3/rev", "rated_flow": "110 L/min"}],
            "connections": [
                {"from": "reservoir.suction", "to": "charge_pump.in"}, {"from": "charge_pump.out", "to": "charge_relief.in"},
                {"from": "charge_relief.out", "to": "reservoir.return"}, {"from": "charge_pump.out", "to": "relief_a.tank_side"},
                {"from": "charge_pump.out", "to": "relief_b.tank_side"}, {"from": "relief_a.port_side", "to": "pump.out"},
                {"from": "relief_b.port_side", "to": "pump.in"}, {"from": "pump.out", "to": "motor.a", "line": "high"},
                {"from": "motor.b", "to": "pump.in", "line": "low"}],
            "functions": [{"id": "drive", "actuator": "motor", "direction": "forward", "positions": {}, "source": "pump.out"}]}
        found = serious(check(COMMAND, doc))
        said = [one for one in found if "closed loop" in one["message"]]
        self.assertEqual([one["rule"] for one in said], ["closed_loop"])
        self.assertIn("is not represented", said[0]["message"])
        self.assertEqual([one for one in found if "relief_" in one["message"] or one["rule"] == "no_suction"], [])
        # Its return at the tank, it is an open circuit.
        doc["connections"][-1]["to"] = "reservoir.return"
        doc["connections"] += [{"from": "reservoir.suction", "to": "pump.in"}]
        self.assertFalse(any(one["rule"] == "closed_loop" for one in serious(check(COMMAND, doc))))

    def test_regeneration_is_a_position_that_joins_rod_and_cap_and_its_function_has_what_chokes_it(self):
        doc = copy.deepcopy(PRESS)
        doc["types"] = {"regenerative_section": {
            "title": "section with regeneration", "ports": ["p", "t", "a", "b"],
            "elements": {"land_pa": {"kind": "seal", "from": "p", "to": "a", "open_in": ["regeneration"]},
                         "land_ba": {"kind": "seal", "from": "b", "to": "a", "open_in": ["regeneration"]},
                         "land_bt": {"kind": "seal", "from": "b", "to": "t"}},
            "failure_modes": {"sticks": {"code": "FTF", "title": "sticks", "restricts": ["land_ba"], "prior": [0.98, 0.01, 0.01]}}}}
        doc["components"] += [{"id": "regeneration", "type": "regenerative_section"},
                              {"id": "rush_cylinder", "type": "single_rod_cylinder", "bore": "80 mm", "rod": "56 mm"}]
        doc["connections"] += [{"from": "regeneration.p", "to": "press_section.p"}, {"from": "regeneration.t", "to": "press_section.t"},
                               {"from": "regeneration.a", "to": "rush_cylinder.cap", "line": "cap_hose"},
                               {"from": "regeneration.b", "to": "rush_cylinder.rod", "line": "rod_hose"}]
        doc["functions"] += [{"id": "rush", "actuator": "rush_cylinder", "direction": "extend",
                              "positions": {"regeneration": "regeneration"}, "source": "pump.out"}]
        self.assertFalse(any(one["rule"] == "no_return" for one in serious(check(COMMAND, doc))))
        with faultodds.Model(doc) as model:
            rush = next(one for one in model.describe()["observations"] if one["observation"] == "delivery/rush")
        self.assertIn(["regeneration.sticks"], [one["modes"] for one in rush["sets"]])

    def test_a_valve_that_its_pilot_has_to_open_is_asked_for_where_a_function_does_not_say_so(self):
        doc = copy.deepcopy(TRUCK)
        lower = next(one for one in doc["functions"] if one["id"] == "lower_tailgate")
        del lower["positions"]["tailgate_lock"]
        said = [one for one in serious(check(COMMAND, doc)) if one["rule"] == "no_return"]
        self.assertEqual(len(said), 1)
        self.assertIn("`tailgate_lock.", said[0]["message"])

    def test_the_call_says_what_the_command_says(self):
        doc = copy.deepcopy(TRUCK)
        doc["components"][5]["setting"] = "2610 bar"
        self.assertEqual(faultodds.check_circuit(doc), check(COMMAND, doc))

    def test_sides_that_meet_only_in_the_tank_are_not_joined_with_each_other(self):
        found = check(COMMAND, {
            "format": "faultodds-circuit/1", "id": "both", "title": "Both", "functions": [],
            "components": [{"id": "pump", "type": "fixed_pump"}, {"id": "ram", "type": "single_rod_cylinder"}],
            "connections": [{"from": "pump.in", "to": "tank"}, {"from": "ram.cap", "to": "tank", "line": "a"},
                            {"from": "ram.rod", "to": "tank", "line": "b"}]})
        self.assertNotIn("both_sides_joined", [one["rule"] for one in found["findings"]])

    def test_a_valve_that_is_supplied_only_through_itself_is_not_supplied(self):
        joints = [("pump.in", "tank"), ("pump.out", "valve.a"), ("valve.p", "gauge_relief.in"), ("gauge_relief.out", "tank"),
                  ("valve.t", "tank")]
        found = check(COMMAND, {
            "format": "faultodds-circuit/1", "id": "self", "title": "Self", "functions": [],
            "components": [{"id": "pump", "type": "fixed_pump"}, {"id": "valve", "type": "closed_centre_section"},
                           {"id": "gauge_relief", "type": "port_relief", "setting": "200 bar"}],
            "connections": [{"from": one, "to": other} for one, other in joints]})
        self.assertIn(("not_supplied", "/connections/2/from"), [(one["rule"], one["pointer"]) for one in found["findings"]])

    def test_a_machine_too_large_to_solve_its_effects_is_refused_by_a_limit_and_loads_by_grades(self):
        doc = {"format": "faultodds-circuit/1", "id": "large", "title": "Large", "functions": [],
               "components": [{"id": "pump", "type": "fixed_pump"}], "connections": [{"from": "pump.in", "to": "tank"}]}
        for i in range(130):
            doc["components"] += [
                {"id": f"v{i}", "type": "closed_centre_section"}, {"id": f"r{i}", "type": "port_relief", "setting": "220 bar"},
                {"id": f"h{i}", "type": "counterbalance_valve", "setting": "250 bar", "ratio": 4},
                {"id": f"y{i}", "type": "single_rod_cylinder"}]
            doc["connections"] += [{"from": one, "to": other} for one, other in (
                (f"v{i}.p", "pump.out"), (f"v{i}.t", "tank"), (f"h{i}.valve", f"v{i}.a"), (f"h{i}.pilot", f"v{i}.b"),
                (f"r{i}.in", f"v{i}.b"), (f"r{i}.out", "tank"))]
            doc["connections"] += [{"from": f"h{i}.load", "to": f"y{i}.cap", "line": f"a{i}"},
                                   {"from": f"v{i}.b", "to": f"y{i}.rod", "line": f"b{i}"}]
        with self.assertRaises(faultodds.FaultoddsError) as refusal:
            faultodds.Model(json.dumps(doc))
        self.assertEqual((refusal.exception.code, refusal.exception.pointer), ("limit_exceeded", "/effects"))
        faultodds.Model(json.dumps({**doc, "effects": "grades"}))


class New(unittest.TestCase):
    PARTS = {
        "format": "faultodds-parts/1",
        "id": "press",
        "parts": [
            {"id": "reservoir", "type": "tank"},
            {"id": "strainer", "type": "suction_strainer"},
            {"id": "pump", "type": "variable_pump", "rated_flow": "60 L/min"},
            {"id": "main_relief", "type": "main_relief", "setting": "250 bar"},
            {"id": "ram_valve", "type": "closed_centre_section"},
            {"id": "ram_lock", "type": "counterbalance_valve", "setting": "280 bar", "ratio": 4},
            {"id": "ram", "type": "single_rod_cylinder", "bore": "100 mm", "rod": "56 mm"},
            {"id": "turn_valve", "type": "closed_centre_section"},
            {"id": "turn_motor", "type": "rotary_motor", "displacement": "160 cm3/rev"},
        ],
    }

    def test_parts_are_joined_as_such_parts_are_and_load_without_a_warning(self):
        circuit = faultodds.new_circuit(self.PARTS)
        self.assertEqual(serious(check(COMMAND, circuit)), [])
        down = next(one for one in circuit["functions"] if one["id"] == "retract_ram")
        self.assertEqual(down["positions"], {"ram_valve": "b", "ram_lock": "piloted"})
        with faultodds.Model(circuit) as model:
            ids = {one["observation"] for one in model.describe()["observations"]}
        self.assertLessEqual({"drift/ram/retract", "delivery/extend_ram", "delivery/forward_turn_motor"}, ids)

    def test_what_is_wrong_with_a_part_is_refused_at_its_place_in_the_list(self):
        parts = copy.deepcopy(self.PARTS)
        parts["parts"][3]["type"] = "mian_relief"
        with self.assertRaises(faultodds.FaultoddsError) as problem:
            faultodds.new_circuit(parts)
        self.assertEqual(problem.exception.pointer, "/parts/3/type")


class Explain(unittest.TestCase):
    def test_a_drift_is_explained_over_named_parts_with_flows_and_pressures(self):
        of = faultodds.explain_observation(TRUCK, "drift/arm_cylinder/retract", size="300 mL/min")
        (relief,) = [one for one in of["sets"] if one["modes"] == ["arm_lift_relief.seat_leak"]]
        self.assertIn("past arm lift port relief", relief["sentence"])
        (leak,) = [step for step in relief["way"] if step.get("leaks")]
        self.assertEqual((leak["component"], leak["from"], leak["to"]),
                         ("arm_lift_relief", "arm_lift_relief.in", "arm_lift_relief.out"))
        # An orifice of 300 mL/min at 100 bar under the load's pressure, Q ~ sqrt(dp).
        load = float(of["load"].split()[0])
        self.assertAlmostEqual(float(leak["flow"].split()[0]), 300 * (load / 100) ** 0.5, delta=2)
        self.assertTrue(of["cautions"][0].startswith("Lock out"))

    def test_an_observation_that_there_is_not_is_refused_with_the_reason(self):
        with self.assertRaisesRegex(faultodds.FaultoddsError, "oil flows there with nothing leaking"):
            faultodds.explain_observation(TRUCK, "static/tailgate_section.a")


class Diff(unittest.TestCase):
    def test_a_part_taken_out_changes_sets_observations_and_the_answer(self):
        after = copy.deepcopy(TRUCK)
        after["components"] = [one for one in after["components"] if one["id"] != "arm_lift_makeup"]
        after["connections"] = [one for one in after["connections"]
                                if not (one["from"] + one["to"]).count("arm_lift_makeup")]
        after["fittings"].pop("arm_lift_makeup")
        for titles in after["titles"].values():
            for name in [name for name in titles if "arm_lift_makeup" in name]:
                del titles[name]
        of = faultodds.diff_circuits(TRUCK, after, load(f"examples/refuse_truck/{CASES[0]}.json"))
        self.assertEqual(of["components"]["removed"], ["arm_lift_makeup"])
        (drift,) = [one for one in of["observations"]["changed"] if one["observation"] == "drift/arm_cylinder/retract"]
        self.assertIn("arm_lift_makeup.seat_leak", drift["sets_removed"])
        self.assertIn("static/arm_section.a/plugged/arm_lift_makeup",
                      [one["observation"] for one in of["observations"]["removed"]])
        self.assertIn("arm_lift_makeup", of["answer"]["before"]["shares"])
        self.assertNotIn("arm_lift_makeup", of["answer"]["after"]["shares"])

    def test_a_document_does_not_differ_from_itself(self):
        of = faultodds.diff_circuits(TRUCK, TRUCK)
        self.assertEqual(of["observations"], {"added": [], "removed": [], "changed": []})
        self.assertEqual(of["modes"], {"added": [], "removed": [], "changed": []})


class Schemas(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.validators = {}
        for name in ("circuit", "case", "priors", "parts"):
            schema = faultodds.json_schema(f"faultodds-{name}/1")
            jsonschema.Draft202012Validator.check_schema(schema)
            cls.validators[name] = jsonschema.Draft202012Validator(schema)
        vectors = load("tests/vectors/assessments.json")["vectors"]
        circuits = {one["circuit"] for one in vectors}
        cls.circuits = [load(path) for path in sorted(circuits)] + [TRUCK, PRESS] + correct_circuits()
        cls.circuits.append(load("tests/vectors/bad_documents.json")["circuit"])
        cls.cases = [(load(one["circuit"]), one["case"]) for one in vectors]
        cls.cases += [(TRUCK, load(f"examples/refuse_truck/{name}.json")) for name in CASES]
        cls.cases = [one for one in cls.cases if cls.accepted(*one)]

    @staticmethod
    def accepted(circuit, case):
        try:
            faultodds.assess(circuit, case)
        except faultodds.FaultoddsError:
            return False
        return True

    def test_every_document_that_the_readers_accept_is_valid(self):
        self.assertGreater(len(self.cases), 20)
        for circuit in self.circuits:
            faultodds.Model(circuit).close()
            self.validators["circuit"].validate(circuit)
        for _, case in self.cases:
            self.validators["case"].validate(case)
        self.validators["priors"].validate(load("priors/packs/shipped.json"))

    @staticmethod
    def cases_that_say_more():
        """Of the truck: what few cases say, and what their answers alone have."""
        first, valve = load(f"examples/refuse_truck/{CASES[0]}.json"), load(f"examples/refuse_truck/{CASES[1]}.json")
        asset = {"id": "truck 14", "component_hours": {"arm_cylinder": 900}, "sound_at": {"arm_lift_relief": 800}, "meter_hours": 6240}
        yield {**first, "asset": asset, "advice": {"visit": "2 h"}, "work": {"people": 1, "ready_within": "3 h"},
               "economics": {"repair_minutes": "5 h", "lead_days": 2},
               "not_possible": [{"observation": "static/arm_cylinder.cap", "reason": "the port is behind the frame"}]}
        yield {**valve, "work": {"order": ["look/arm_cylinder", "static/arm_cylinder.cap"]}}
        yield {"format": "faultodds-case/1", "focus": "circuit", "asset": {"meter_hours": 9000}, "observations": [],
               "economics": {"second_visit": 4000, "worn_fails": 0.5}}
        yield {**first, "observations": [
            *first["observations"], *({"observation": f"static/arm_cylinder.{port}", "outcome": "held"} for port in ("cap", "rod"))]}

    def test_answers_are_valid_and_all_in_them_is_described(self):
        def closed(schema):
            if isinstance(schema, list):
                return [closed(one) for one in schema]
            if not isinstance(schema, dict):
                return schema
            shut = {"additionalProperties": False} if "properties" in schema else {}
            return {**{key: closed(value) for key, value in schema.items()}, **shut}

        def validators(name):
            schema = faultodds.json_schema(f"faultodds-{name}/1")
            jsonschema.Draft202012Validator.check_schema(schema)
            return [jsonschema.Draft202012Validator(one) for one in (schema, closed(schema))]

        as_it_is, shut = validators("assessment")
        plans = validators("plan")
        for at, (circuit, case) in enumerate([*self.cases, *((TRUCK, case) for case in self.cases_that_say_more())]):
            model = faultodds.Model(circuit)
            for detail in ("full", "screen"):
                answer = model.assess({**case, "detail": detail})
                shut.validate(answer)
                as_it_is.validate({**answer, "added_later": 1})
                self.assertFalse(as_it_is.is_valid({key: value for key, value in answer.items() if key != "cautions"}))
            if at % 6 == 0:
                plan = model.plan(case)
                for one in plans:
                    one.validate(plan)
            model.close()

    def test_an_answer_for_a_screen_says_which_tests_were_left_out(self):
        case = {**load(f"examples/refuse_truck/{CASES[0]}.json"), "work": {"people": 1}, "advice": False}
        screen, whole = (faultodds.assess(TRUCK, {**case, "detail": detail}) for detail in ("screen", "full"))
        self.assertGreater(screen["not_proposed_count"], 0)
        self.assertEqual(screen["not_proposed_count"], len(whole["not_proposed"]))
        self.assertEqual(screen["not_proposed"], whole["not_proposed"][:5])

    def test_what_a_schema_refuses_the_readers_refuse(self):
        rng = random.Random(2020)
        refused = 0
        for kind, document, read in self.readable():
            for _ in range(60):
                changed = copy.deepcopy(document)
                self.change(changed, rng)
                if self.validators[kind].is_valid(changed):
                    continue
                refused += 1
                with self.assertRaises(faultodds.FaultoddsError, msg=json.dumps(changed)[:2000]):
                    read(changed)
        self.assertGreater(refused, 150)

    def readable(self):
        yield "circuit", self.circuits[0], lambda doc: faultodds.Model(doc).close()
        yield "circuit", correct_circuits()[1], lambda doc: faultodds.Model(doc).close()
        yield "circuit", TRUCK, lambda doc: faultodds.Model(doc).close()
        for circuit, case in self.cases[-3:]:
            yield "case", case, lambda doc, of=circuit: faultodds.assess(of, doc)
        pack = load("priors/packs/shipped.json")
        yield "priors", pack, lambda doc: faultodds.Model(TRUCK, priors=doc).close()

    @staticmethod
    def change(document, rng):
        """One member or item left out, renamed, or with a value of another kind."""
        places = []

        def walk(value):
            for key, one in list(value.items() if isinstance(value, dict) else enumerate(value)):
                places.append((value, key))
                if isinstance(one, (dict, list)):
                    walk(one)

        walk(document)
        container, key = rng.choice(places)
        what = rng.randrange(4)
        if what == 0:
            del container[key]
        elif what == 1 and isinstance(container, dict):
            container[str(key) + "x"] = container.pop(key)
        elif what == 2:
            container[key] = rng.choice([7, "seven furlongs", True, None, [], {}, "12 mm", -1])
        else:
            value = container[key]
            container[key] = value.replace(" ", " x") if isinstance(value, str) else str(value)


class Drawings(unittest.TestCase):
    def test_nothing_lies_on_anything_in_42_drawings(self):
        for circuit in [TRUCK, PRESS, *correct_circuits()]:
            drawn = drawing.read(faultodds.draw_circuit(circuit))
            known = {one["id"] for one in circuit["components"]}
            self.assertEqual(len(drawn.parts), len(known))
            self.assertGreater(len(drawn.lines), len(known))
            self.assertEqual(drawing.overlaps(drawn), [], circuit["id"])

    def test_the_measure_finds_what_lies_on_what(self):
        svg = faultodds.draw_circuit(TRUCK)
        drawn = drawing.read(svg)
        one = drawn.parts[0]
        for extra in (drawn._replace(parts=[*drawn.parts, one]), drawn._replace(texts=[*drawn.texts, one]),
                      drawn._replace(lines=[*drawn.lines, ("x", one._replace(bottom=one.top + 9, top=one.top + 9))]),
                      drawn._replace(lines=[*drawn.lines, ("x", drawn.lines[0][1])])):
            self.assertTrue(drawing.overlaps(extra))

    def test_a_case_shades_suspects_draws_the_leak_and_marks_the_port_of_the_test_behind_its_cautions(self):
        case = load(f"examples/refuse_truck/{CASES[1]}.json")
        svg = faultodds.draw_circuit(TRUCK, case)
        answer = faultodds.assess(TRUCK, case)
        first = answer["causes"][0]["shares"][0]
        self.assertEqual(drawing.overlaps(drawing.read(svg)), [])
        for component in first["components"]:
            self.assertIn(f'class="suspect" data-part="{component}"', svg)
            figure = sum(share["probability"] for share in answer["causes"][0]["shares"] if component in share["components"])
            self.assertIn(f">{round(100 * figure)} %<", svg)
            self.assertIn(f'class="leak" data-through="{component}"', svg)
        test = answer["tests"][0]
        port = test["observation"].split("/")[1]
        self.assertIn(f'class="mark" data-port="{port}"', svg)
        self.assertLess(svg.index("Lock out and tag out"), svg.index("Next test"))


class Files(unittest.TestCase):
    """No output destroys a document that is read or was there."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        for name, document in (("base.json", TRUCK), ("case.json", load(f"examples/refuse_truck/{CASES[0]}.json")),
                               ("parts.json", {"format": "faultodds-parts/1", "id": "p", "parts": [
                                   {"id": "pump", "type": "fixed_pump"}]}),
                               ("variant.json", {"format": "faultodds-circuit/1", "id": "v", "extends": "base"})):
            (self.folder / name).write_text(json.dumps(document), encoding="utf-8")
        (self.folder / "link.json").symlink_to("base.json")
        (self.folder / "same.json").hardlink_to(self.folder / "base.json")
        self.before = {one.name: one.read_bytes() for one in self.folder.iterdir()}

    def keeps(self, *arguments):
        said = refused(*(str(self.folder / one) if one.endswith(".json") else one for one in arguments))
        self.assertIn("--out", said, arguments)
        self.assertEqual({one.name: one.read_bytes() for one in self.folder.iterdir()}, self.before, arguments)

    def test_what_is_read_is_not_written_by_whatever_name(self):
        for out in ("base.json", "link.json", "same.json"):
            self.keeps("draw", "base.json", "--out", out)
            self.keeps("expand", "variant.json", "--out", out)
        self.keeps("draw", "base.json", "--case", "case.json", "--out", "case.json")
        self.keeps("expand", "variant.json", "--out", "variant.json")
        self.keeps("new", "parts.json", "--replace", "--out", "parts.json")
        self.keeps("new", "--extends", "base.json", "--replace", "--out", "base.json")

    def test_what_is_read_on_standard_input_is_known_by_its_file(self):
        with (self.folder / "base.json").open("rb") as given:
            done = subprocess.run([COMMAND, "expand", "-", "--out", str(self.folder / "base.json")], stdin=given,
                                  capture_output=True, text=True)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertEqual((self.folder / "base.json").read_bytes(), self.before["base.json"])

    def test_a_document_that_is_there_is_begun_anew_only_if_told_to(self):
        self.keeps("new", "parts.json", "--out", "variant.json")
        self.keeps("new", "--extends", "base.json", "--out", "variant.json")
        run("new", str(self.folder / "parts.json"), "--replace", "--out", str(self.folder / "variant.json"))
        self.assertNotEqual((self.folder / "variant.json").read_bytes(), self.before["variant.json"])

    def test_a_full_disk_leaves_the_old_file(self):
        done = subprocess.run(["bash", "-c", 'ulimit -f 1; exec "$0" "$@"', COMMAND, "expand", str(self.folder / "base.json"),
                               "--out", str(self.folder / "variant.json")], capture_output=True, text=True)
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertEqual({one.name: one.read_bytes() for one in self.folder.iterdir()}, self.before)


class NewcomersPath(unittest.TestCase):
    def test_each_step_of_the_path_in_the_readme_does_what_it_says(self):
        text = (PROJECT / "bindings/circuit/README.md").read_text(encoding="utf-8")
        steps = re.findall(r"```sh\n(.*?)```\n(?:\n```\n(.*?)```\n)?", text, re.S)
        self.assertGreaterEqual(len(steps), 6)
        begun = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            path = f"{pathlib.Path(COMMAND).parent}:{os.environ['PATH']}"
            for step, says in steps:
                done = subprocess.run(["sh", "-c", step], cwd=folder, capture_output=True, text=True,
                                      env={**os.environ, "PATH": path})
                said = done.stdout + done.stderr
                for line in says.splitlines():
                    if line.strip() not in ("", "..."):
                        self.assertIn(line.strip(), said, step)
        self.assertLess(time.monotonic() - begun, 20 * 60)


if __name__ == "__main__":
    unittest.main()

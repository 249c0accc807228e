"""What types made of parts and variants of a circuit promise. Environment: FAULTODDS_CIRCUIT (the command)."""

import copy
import json
import os
import pathlib
import re
import resource
import subprocess
import tempfile
import time
import unittest

import jsonschema
from assemblies import by_hand, case, variant, variant_by_hand, with_assemblies

import faultodds

COMMAND = os.environ["FAULTODDS_CIRCUIT"]


def put(document, path, value):
    """`value` at an RFC 6901 pointer; None takes out."""
    tokens = path.strip("/").split("/")
    for token in tokens[:-1]:
        document = document[int(token)] if isinstance(document, list) else document[token]
    last = int(tokens[-1]) if isinstance(document, list) else tokens[-1]
    if value is None:
        del document[last]
    elif isinstance(document, list) and last == len(document):
        document.append(value)
    else:
        document[last] = value


def refused(document):
    """(code, pointer, message) of what the loader says."""
    try:
        faultodds.Model(document).close()
    except faultodds.FaultoddsError as error:
        return error.code, error.pointer, str(error)
    return "ok", "", ""


class SameAnswers(unittest.TestCase):
    def compared(self, written, by_hand_, of=1):
        question = dict(case(of), circuit=written["id"])
        with faultodds.Model(written) as one, faultodds.Model(by_hand_) as other:
            self.assertEqual(json.dumps(one.describe()), json.dumps(other.describe()))
            for detail in ("full", "screen"):
                asked = dict(question, detail=detail)
                self.assertEqual(json.dumps(one.assess(asked)), json.dumps(other.assess(asked)))
            self.assertEqual(one.note(question), other.note(question))
        self.assertEqual(faultodds.draw_circuit(written, question), faultodds.draw_circuit(by_hand_, question))

    def test_assemblies_answer_byte_for_byte_as_the_same_parts_written_by_hand(self):
        self.compared(with_assemblies(), by_hand())

    def test_a_count_makes_as_many_parts_as_it_says(self):
        self.compared(with_assemblies(4), by_hand(4), of=3)
        with faultodds.Model(with_assemblies(1)) as model:
            self.assertNotIn("bank.section_2", json.dumps(model.describe()))

    def test_a_variant_answers_byte_for_byte_as_the_changed_circuit_written_by_hand(self):
        self.compared(variant(), variant_by_hand(), of=2)

    def test_a_variant_of_a_variant_has_the_changes_of_both(self):
        outer = {"format": "faultodds-circuit/1", "id": "loader_longer", "title": "x", "extends": variant(),
                 "overrides": {"components": {"axis_1": {"parameters": {"bore": "100 mm"}}}}}
        hand = variant_by_hand()
        hand.update(id="loader_longer", title="x")
        next(one for one in hand["components"] if one["id"] == "axis_1.ram.cylinder")["bore"] = "100 mm"
        self.compared(outer, hand)

    def test_what_is_written_out_is_the_document_that_stands_by_hand(self):
        for written, hand in ((with_assemblies(), by_hand()), (variant(), variant_by_hand())):
            expanded = faultodds.expand_circuit(written)
            for key in ("components", "connections", "functions", "fittings"):
                self.assertEqual(expanded[key], hand[key], key)
            self.assertEqual(faultodds.expand_circuit(expanded), expanded)


class Words(unittest.TestCase):
    def test_titles_read_from_the_outside_inwards(self):
        with faultodds.Model(with_assemblies()) as model:
            titles = {one["id"]: one["title"] for one in model.describe()["components"]}
        self.assertEqual(titles["bank.relief_2"], "valve bank, section 2, port relief")
        self.assertEqual(titles["axis_1.ram.lock"], "axis 1, ram, load-holding valve")

    def test_titles_of_other_languages_are_made_the_same_way(self):
        document = with_assemblies()
        document["titles"] = {"de": {"bank": "Ventilblock", "pump": "Pumpe"}}
        document["assemblies"]["valve_bank"]["titles"] = {"de": {"relief_{i}": "Sektion {i}, Druckbegrenzung"}}
        with faultodds.Model(document) as model:
            titles = model.describe()["titles"]["de"]
        self.assertEqual(titles["bank.relief_2"], "Ventilblock, Sektion 2, Druckbegrenzung")
        self.assertEqual(titles["pump"], "Pumpe")


class Places(unittest.TestCase):
    """An error points into what its author wrote, and names the part where that is one of several."""

    def at(self, document, pointer, *words, code=None):
        got, where, message = refused(document)
        self.assertNotEqual(got, "ok")
        self.assertEqual(where, pointer, message)
        for word in words:
            self.assertIn(word, message)
        if code:
            self.assertEqual(got, code)

    def test_of_an_inner_part_it_names_the_assembly_and_the_part(self):
        document = with_assemblies()
        put(document, "/assemblies/held_cylinder/components/1/setting", "220")
        self.at(document, "/assemblies/held_cylinder/components/1/setting", "220", "axis_1.ram.lock")

    def test_of_a_value_given_by_parameter_it_names_where_it_was_given(self):
        document = with_assemblies()
        put(document, "/components/3/parameters/setting", "180 bars")
        self.at(document, "/components/3/parameters/setting", "180 bars", "bank.relief_1")
        document = with_assemblies()
        put(document, "/components/4/parameters/bore", "80")
        self.at(document, "/components/4/parameters/bore", "axis_1.ram.cylinder")

    def test_of_a_default_it_names_the_default(self):
        document = with_assemblies()
        put(document, "/assemblies/valve_bank/parameters/setting", "180 bars")
        self.at(document, "/assemblies/valve_bank/parameters/setting", "bank.relief_1")

    def test_of_an_inner_connection(self):
        document = with_assemblies()
        put(document, "/assemblies/valve_bank/connections/2/to", "section_{i}.aa")
        self.at(document, "/assemblies/valve_bank/connections/2/to", "`aa`", "bank.section_1")

    def test_of_a_change_it_names_the_change(self):
        document = variant()
        put(document, "/overrides/components/main_relief/setting", "230 bars")
        self.at(document, "/overrides/components/main_relief/setting", "230 bars")
        document = variant()
        put(document, "/overrides/components/bank/parts/relief_2/setting", "1")
        self.at(document, "/overrides/components/bank/parts/relief_2/setting", "bank.relief_2")

    def test_of_what_the_base_says_it_names_the_base(self):
        document = variant()
        put(document, "/extends/components/1/rated_flow", "60")
        self.at(document, "/extends/components/1/rated_flow", "60")
        outer = {"format": "faultodds-circuit/1", "id": "outer", "extends": document}
        self.at(outer, "/extends/extends/components/1/rated_flow", "60")

    def test_what_an_assembly_lacks_or_has_not(self):
        for path, value, pointer, words in (
            ("/components/3/parameters/sektions", 3, "/components/3/parameters/sektions", ["did you mean `sections`"]),
            ("/components/4/parameters/bore", None, "/components/4", ["`bore`", "missing"]),
            ("/components/3/setting", "200 bar", "/components/3/setting", ["`valve_bank`", "parameters"]),
            ("/components/1/parameters", {"a": 1}, "/components/1/parameters", ["variable_pump"]),
            ("/connections/3/from", "bank.q", "/connections/3/from", ["has no port `q`", "`a_1`"]),
            ("/connections/5/from", "bank.a_9", "/connections/5/from", ["has no port `a_9`"]),
            ("/components/3/parts", {"relief_3": {"setting": "1 bar"}}, "/components/3/parts/relief_3",
             ["`relief_3`", "has not", "did you mean `relief_"]),
            ("/components/3/parts", {"relief_1": {"id": "x"}}, "/components/3/parts/relief_1/id", ["cannot change"]),
            ("/assemblies/valve_bank/components/1/setting", "{setting", "/assemblies/valve_bank/components/1/setting",
             ["does not close"]),
            ("/assemblies/valve_bank/components/1/setting", "{seting}", "/assemblies/valve_bank/components/1/setting",
             ["did you mean `setting`"]),
            ("/assemblies/valve_bank/ports/0/at", "section_9.p", "/assemblies/valve_bank/ports/0/at",
             ["names no part"]),
            ("/assemblies/valve_bank/ports/1/id", "p", "/assemblies/valve_bank/ports/1/id", ["two ports"]),
            ("/assemblies/valve_bank/components/0/each", {"i": -1}, "/assemblies/valve_bank/components/0/each/i",
             ["whole number"]),
            ("/assemblies/valve_bank/components/0/each", 3, "/assemblies/valve_bank/components/0/each", ["one name"]),
            ("/assemblies/valve_bank/colour", "red", "/assemblies/valve_bank/colour", ["unknown key"]),
            ("/assemblies/valve_bank/titles", {"de": {"relief": "x"}}, "/assemblies/valve_bank/titles/de/relief",
             ["has not"]),
            ("/components/1/each", {"i": 2}, "/components/1/each", ["assembly"]),
        ):
            document = with_assemblies()
            put(document, path, value)
            with self.subTest(path=path, value=value):
                self.at(document, pointer, *words)

    def test_changes_of_nothing_are_refused_where_they_stand(self):
        for path, value, pointer, words in (
            ("/overrides/components/axis_3", {"title": "x"}, "/overrides/components/axis_3", ["did you mean `axis_"]),
            ("/overrides/connections/a_3", None, None, None),
            ("/overrides/connections/c_2", {"rating": "1 bar"}, "/overrides/connections/c_2", ["has not"]),
            ("/overrides/functions/lift_3", {}, "/overrides/functions/lift_3", ["has not"]),
            ("/overrides/assemblies/held_cylindre", {}, "/overrides/assemblies/held_cylindre", ["did you mean"]),
            ("/overrides/components/bank", 7, "/overrides/components/bank", ["null"]),
            ("/overrides/component", {}, "/overrides/component", ["unknown key"]),
            ("/components/1", {"id": "pump", "type": "tank"}, "/components/1/id", ["overrides"]),
            ("/extends", "loader", "/extends", ["the document itself"]),
            ("/extends", 7, "/extends", ["circuit document"]),
            ("/extends", None, "/overrides", ["without `extends`"]),
        ):
            if pointer is None:
                continue
            document = variant()
            put(document, path, value)
            with self.subTest(path=path):
                self.at(document, pointer, *words)

    def test_check_lists_what_is_wrong_once_at_the_authors_place(self):
        document = with_assemblies(4)
        put(document, "/assemblies/valve_bank/components/1/setting", "2610 bar")
        put(document, "/components/1/rated_flow", "60 L/mn")
        found = [one for one in faultodds.check_circuit(document)["findings"] if one["severity"] != "note"]
        self.assertEqual([(one["severity"], one["pointer"]) for one in found][:2],
                         [("error", "/components/1/rated_flow"),
                          ("warning", "/assemblies/valve_bank/components/1/setting")])
        self.assertEqual(len(found), len({(one["rule"], one["pointer"]) for one in found}))
        self.assertIn("bank.relief_", found[1]["message"])

    def test_check_reads_on_behind_what_an_assembly_has_not(self):
        document = with_assemblies()
        put(document, "/components/3/parameters/seting", "1 bar")
        put(document, "/components/2/setting", "210")
        pointers = [one["pointer"] for one in faultodds.check_circuit(document)["findings"] if one["severity"] == "error"]
        self.assertEqual(pointers, ["/components/3/parameters/seting", "/components/2/setting"])

    def test_check_does_not_warn_of_a_good_one_and_warns_of_an_assembly_that_nothing_uses(self):
        serious = lambda doc: [one["pointer"] for one in faultodds.check_circuit(doc)["findings"] if one["severity"] != "note"]
        self.assertEqual(serious(with_assemblies()), [])
        self.assertEqual(serious(variant_by_hand()), serious(variant()))
        document = with_assemblies()
        document["assemblies"]["spare"] = {"components": []}
        self.assertEqual(serious(document), ["/assemblies/spare"])


def nested(levels, each):
    """Assemblies of `each` of the one below, `levels` deep."""
    assemblies = {"level_0": {"components": [{"id": "h", "type": "hose"}]}}
    for level in range(1, levels):
        assemblies[f"level_{level}"] = {"components": [
            {"id": f"x{i}", "type": f"level_{level - 1}"} for i in range(each)]}
    return {"format": "faultodds-circuit/1", "id": "deep", "assemblies": assemblies,
            "components": [{"id": "top", "type": f"level_{levels - 1}"}]}


class Hostile(unittest.TestCase):
    def quickly(self, document):
        began = time.process_time()
        found = refused(document)
        self.assertLess(time.process_time() - began, 5)
        return found

    def test_an_assembly_made_of_itself_is_refused_where_it_comes_back(self):
        document = with_assemblies()
        put(document, "/assemblies/held_cylinder/components/2",
            {"id": "again", "type": "axis", "parameters": {"bore": "1 mm", "rod": "1 mm"}})
        code, pointer, message = refused(document)
        self.assertEqual(pointer, "/assemblies/held_cylinder/components/2/type")
        self.assertIn("made of itself", message)

    def test_nesting_is_limited_in_depth_and_in_what_it_is_written_out_to(self):
        code, pointer, message = self.quickly(nested(12, 1))
        self.assertEqual(code, "limit_exceeded")
        self.assertIn("levels", message)
        code, pointer, message = self.quickly(nested(8, 30))
        self.assertEqual(code, "limit_exceeded")
        self.assertTrue(pointer.startswith("/assemblies/level_"), pointer)
        # Assemblies of nothing cost as much.
        document = nested(8, 30)
        document["assemblies"]["level_0"]["components"] = []
        self.assertEqual(self.quickly(document)[0], "limit_exceeded")

    def test_a_count_is_limited(self):
        document = with_assemblies()
        put(document, "/components/3/parameters/sections", 9_999_999)
        code, pointer, message = self.quickly(document)
        self.assertEqual((code, pointer), ("limit_exceeded", "/assemblies/valve_bank/components/0"))

    def test_texts_that_grow_are_limited(self):
        document = with_assemblies()
        document["assemblies"]["valve_bank"]["components"][0]["title"] = "x" * 60000
        put(document, "/components/3/parameters/sections", 2000)
        self.assertEqual(self.quickly(document)[0], "limit_exceeded")
        document = with_assemblies()
        document["assemblies"]["valve_bank"]["parameters"]["setting"] = "y" * 60000
        document["assemblies"]["valve_bank"]["components"][0]["title"] = "{setting}" * 60
        self.assertEqual(self.quickly(document)[0], "limit_exceeded")

    def test_titles_of_many_languages_are_limited(self):
        document = with_assemblies()
        document["titles"] = {f"l{i}": {"bank": "x"} for i in range(500)}
        put(document, "/components/3/parameters/sections", 900)
        self.assertEqual(self.quickly(document)[0], "limit_exceeded")

    def within(self, mebibytes, document):
        """What the loader says of it, with no more memory than that besides what is there."""
        there = int(pathlib.Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        before = resource.getrlimit(resource.RLIMIT_AS)
        resource.setrlimit(resource.RLIMIT_AS, (there + (mebibytes << 20), before[1]))
        try:
            return self.quickly(document)
        finally:
            resource.setrlimit(resource.RLIMIT_AS, before)

    def uses_of(self, assembly, uses):
        """A document of few bytes: `uses` of an assembly, made by the one around it."""
        return {"format": "faultodds-circuit/1", "id": "few",
                "assemblies": {"it": assembly, "around": {"components": [
                    {"id": "u{i}", "type": "it", "each": {"i": uses}}]}},
                "components": [{"id": "c", "type": "around"}]}

    def test_what_is_kept_of_parts_is_limited_in_bytes(self):
        part, long = {"id": "s", "type": "hose"}, "{x}" * 30
        for what, assembly in (
                ("titles", {"parameters": {"x": "t" * 2000}, "components": [part], "titles": {"de": {"s": long}}}),
                ("ports", {"parameters": {"x": "t" * 2000}, "components": [part],
                           "ports": [{"id": long, "at": "s.a"}]}),
                ("values", {"parameters": {"x": "t" * 60000}, "components": []})):
            with self.subTest(what):
                code, pointer, message = self.within(400, self.uses_of(assembly, 45_000))
                self.assertEqual(code, "limit_exceeded", message)
                self.assertTrue(pointer.startswith("/assemblies/"), pointer)
        ids = self.uses_of({"components": []}, 45_000)
        ids["assemblies"]["around"]["parameters"] = {"x": "t" * 2000}
        ids["assemblies"]["around"]["components"][0]["id"] = long + "{i}"
        self.assertEqual(self.within(400, ids)[0], "limit_exceeded")

    def test_one_part_of_large_values_is_limited_before_it_is_written(self):
        part = {"id": "s", "type": "hose", "sizes": {f"m{i}": {"source": "{x}"} for i in range(20_000)}}
        document = self.uses_of({"parameters": {"x": "t" * 60000}, "components": [part]}, 1)
        self.assertEqual(self.within(400, document)[0], "limit_exceeded")

    def test_places_of_parts_are_limited_in_bytes(self):
        empty = {f"e{i}": "" for i in range(3000)}
        document = self.uses_of({"components": []}, 1)
        document["assemblies"]["it"] = {"parameters": dict(empty, n=10_000), "components": [
            {"id": "s{i}", "type": "hose", "each": {"i": "{n}"}}], "fittings": {
                "s{i}.a" + "".join("{%s}" % name for name in empty): {"each": {"i": "{n}"}, "size": "1"}}}
        self.assertEqual(self.within(400, document)[0], "limit_exceeded")

    def test_parameters_and_entries_count_whatever_comes_of_them(self):
        for assembly in ({"parameters": {f"p{i}": 1 for i in range(5000)}, "components": []},
                         {"components": [{"id": "s", "type": "hose", "each": {"i": 0}}] * 5000}):
            with self.subTest(list(assembly)):
                code, pointer, message = self.quickly(self.uses_of(assembly, 20_000))
                self.assertEqual(code, "limit_exceeded", message)

    def test_one_part_is_changed_once_by_one_use(self):
        document = self.uses_of({"components": [{"id": "s", "type": "hose"}]}, 2)
        around = document["assemblies"]["around"]
        around["parameters"] = {"a": "s", "b": "s"}
        around["components"][0]["parts"] = {"{a}": {"minutes": 5}, "{b}": {"minutes": 6}}
        code, pointer, message = refused(document)
        self.assertEqual((code, pointer), ("invalid_document", "/assemblies/around/components/0/parts/{b}"))
        self.assertIn("changed twice", message)

    def test_bases_within_bases_are_limited(self):
        document = with_assemblies()
        for i in range(30):
            document = {"format": "faultodds-circuit/1", "id": f"v{i}", "extends": document}
        code, pointer, message = self.quickly(document)
        self.assertEqual(code, "limit_exceeded")
        self.assertEqual(pointer, "/extends" * 17)


class Described(unittest.TestCase):
    def test_the_example_in_the_documents_readme_stands_for_what_it_says(self):
        text = (pathlib.Path(os.environ["FAULTODDS_PROJECT"]) / "capi/documents/README.md").read_text(encoding="utf-8")
        (example,) = [one for one in re.findall(r"```json\n(.*?)```", text, re.S) if '"assemblies": {' in one]
        document = json.loads('{"format": "faultodds-circuit/1", "id": "example",' + example + "}")
        document["components"] += [{"id": "pump", "type": "fixed_pump"}, {"id": "lift_hose", "type": "hose"}]
        parts = {one["id"]: one for one in faultodds.expand_circuit(document)["components"]}
        self.assertEqual(parts["bank.relief_2"]["title"], "arm valve bank, section 2, port relief")
        self.assertEqual(parts["bank.relief_2"]["setting"], "150 bar")
        self.assertNotIn("bank.relief_3", parts)
        faultodds.Model(document).close()


class Schema(unittest.TestCase):
    def test_both_spellings_are_valid_and_mistakes_in_an_assembly_are_not(self):
        validator = jsonschema.Draft202012Validator(faultodds.json_schema("faultodds-circuit/1"))
        for document in (with_assemblies(), variant(), by_hand(), dict(variant(), extends="loader")):
            validator.validate(document)
        for path, value in (
            ("/assemblies/valve_bank/components/0/setting_", 1), ("/assemblies/valve_bank/prots", []),
            ("/assemblies/valve_bank/components/0/each", 3), ("/components/3/parameters/x", []),
        ):
            document = with_assemblies()
            put(document, path, value)
            self.assertFalse(validator.is_valid(document), path)
        self.assertFalse(validator.is_valid({"format": "faultodds-circuit/1", "id": "x"}))


class Command(unittest.TestCase):
    def run_command(self, *arguments, code=0):
        done = subprocess.run([COMMAND, *arguments], capture_output=True, text=True)
        self.assertEqual(done.returncode, code, done.stderr)
        return done.stdout if code == 0 else done.stdout + done.stderr

    def test_bases_are_found_by_name_beside_the_variant(self):
        with tempfile.TemporaryDirectory() as folder:
            base, changed = pathlib.Path(folder) / "loader.json", pathlib.Path(folder) / "loader_long.json"
            base.write_text(json.dumps(with_assemblies()), encoding="utf-8")
            changed.write_text(json.dumps(dict(variant(), extends="loader")), encoding="utf-8")
            self.assertIn("0 errors", self.run_command("check", str(changed)))
            self.assertEqual(json.loads(self.run_command("expand", str(changed))), faultodds.expand_circuit(variant()))
            self.assertIn("~ observation", self.run_command("diff", str(base), str(changed)))
            self.assertIn("valve bank, section 2",
                          self.run_command("explain", str(changed), "drift/axis_2.ram.cylinder/retract"))
            self.assertIn("<svg", self.run_command("draw", str(changed)))
            self.assertEqual(faultodds.read_circuit(changed), variant())
            started = pathlib.Path(folder) / "another.json"
            self.run_command("new", "--extends", str(base), "--id", "another", "--out", str(started))
            self.assertIn("another: 0 errors", self.run_command("check", str(started)))

    def test_a_base_that_is_not_there_and_a_circle_are_refused_by_name(self):
        with tempfile.TemporaryDirectory() as folder:
            for name, extends in (("one", "two"), ("two", "one"), ("three", "four")):
                (pathlib.Path(folder) / f"{name}.json").write_text(
                    json.dumps({"format": "faultodds-circuit/1", "id": name, "extends": extends}), encoding="utf-8")
            self.assertIn("circle", self.run_command("check", f"{folder}/one.json", code=1))
            self.assertIn("four", self.run_command("check", f"{folder}/three.json", code=1))
            for name in ("one", "three"):
                with self.assertRaises(ValueError):
                    faultodds.read_circuit(f"{folder}/{name}.json")


if __name__ == "__main__":
    unittest.main()

"""What is said to technicians is in the language that the case asks for: answers, notes, plans and cards."""

import copy
import json
import re
import unittest
from pathlib import Path

import faultodds

ROOT = Path(__file__).resolve().parents[3]
LANGUAGES = ["de", "es", "fr", "ar"]
TOLD = {"title", "because", "reason", "why", "sentence"}
ENGLISH = re.compile(r"\b(the|with|which|and|from|before|this|what|pressure|valve|hose|leaks?|of|is|not|cylinder)\b", re.I)
# What looks English and is not: French "valve", Spanish and French proper words are left to the list above.
ALSO = {"fr": {"valve"}}


def catalogue(language):
    return json.loads((ROOT / f"capi/words/{language}.json").read_text(encoding="utf-8"))


def demos():
    for machine in ("refuse_truck", "veneer_press"):
        folder = ROOT / "examples" / machine
        circuit = json.loads((folder / "circuit.json").read_text(encoding="utf-8"))
        for file in sorted(folder.glob("*.json")):
            if file.name == "circuit.json":
                continue
            case = json.loads(file.read_text(encoding="utf-8"))
            # What people wrote themselves stays as they wrote it.
            for member in ("title", "note", "id"):
                case.pop(member, None)
            case.get("asset", {}).pop("class", None)
            for entry in case["observations"]:
                entry.pop("note", None)
            yield machine, circuit, file.stem, case


def texts_in(document, told=False):
    """What a document says to people."""
    if isinstance(document, str):
        if told:
            yield document
    elif isinstance(document, list):
        for item in document:
            yield from texts_in(item, told)
    elif isinstance(document, dict):
        for key, value in document.items():
            yield from texts_in(value, key in TOLD or key in ("warnings", "cautions", "further_cautions")
                                or (told and isinstance(value, str)))


def said_in(document):
    if isinstance(document, list):
        for item in document:
            yield from said_in(item)
    elif isinstance(document, dict):
        for key, value in document.items():
            if key.endswith("_said"):
                yield from value
            else:
                yield from said_in(value)


class Words(unittest.TestCase):
    def english_in(self, text, language):
        return [word for word in ENGLISH.findall(text) if word.lower() not in ALSO.get(language, ())]

    def test_no_english_is_said_in_another_language(self):
        for machine, circuit, name, case in demos():
            with faultodds.Model(circuit) as model:
                for language in LANGUAGES:
                    asked = {**case, "language": language, "detail": "full"}
                    said = [*texts_in(model.assess(asked)), model.note(asked)]
                    if name in ("arm_sinks_1_complaint", "press_loses_pressure"):  # a plan each takes its time
                        said += texts_in(model.plan(asked))
                        # Its styles are no words.
                        said.append(re.sub(r"<style>.*?</style>|<[^>]*>", " ", model.plan_card(asked), flags=re.S))
                    for text in said:
                        self.assertEqual(self.english_in(text, language), [], f"{machine} {name} {language}: {text}")

    def test_every_message_said_is_in_every_catalogue_and_its_values_are_all_it_names(self):
        catalogues = {language: catalogue(language) for language in ["en", *LANGUAGES]}
        found = set()
        for _, circuit, _, case in demos():
            with faultodds.Model(circuit) as model:
                for message in said_in(model.assess({**case, "detail": "full"})):
                    found.add(message["id"])
                    for language, messages in catalogues.items():
                        named = set(re.findall(r"\{(\w+)[,}]", messages[message["id"]]))
                        named -= {"one", "two", "few", "many", "other", "zero"}
                        self.assertLessEqual(named, set(message.get("values", {})), f"{message} in {language}")
        self.assertGreater(len(found), 3)

    def test_numbers_and_ids_are_the_same_in_every_language(self):
        def bare(document):
            if isinstance(document, dict):
                return {key: bare(value) for key, value in document.items()
                        if key not in TOLD and key not in ("warnings", "cautions", "further_cautions", "language")}
            return [bare(item) for item in document] if isinstance(document, list) else document

        for _, circuit, _, case in demos():
            with faultodds.Model(circuit) as model:
                english = bare(model.assess(copy.deepcopy(case)))
                for language in LANGUAGES:
                    self.assertEqual(bare(model.assess({**case, "language": language})), english)

    def test_an_arabic_page_runs_from_right_to_left(self):
        _, circuit, _, case = next(demos())
        with faultodds.Model(circuit) as model:
            self.assertIn('<html lang="ar" dir="rtl">', model.note({**case, "language": "ar"}, html=True))
            self.assertIn('<html lang="de">', model.plan_card({**case, "language": "de-AT"}))

    def test_a_language_without_messages_is_refused_by_name(self):
        _, circuit, _, case = next(demos())
        with faultodds.Model(circuit) as model, self.assertRaises(faultodds.FaultoddsError) as refused:
            model.assess({**case, "language": "tlh"})
        self.assertIn("expected `en`, `de`, `es`, `fr` or `ar`", str(refused.exception))
        self.assertEqual(refused.exception.pointer, "/language")


if __name__ == "__main__":
    unittest.main()

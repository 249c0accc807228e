"""The same bytes whatever locale the host has, also while it changes it. LOCPATH names the directory of
tests/abi/make_locales.sh."""

import ctypes
import json
import locale
import os
import threading
import unittest

import faultodds
from faultodds import FaultoddsError, Model, diff_priors, learn_priors
from test_vectors import TABLE, circuit_of

LOCALES = {"de_DE.UTF-8": ",", "hi_IN.UTF-8": "."}
RECORDS = "work_order,closed,asset_class,component,finding,grade,hours\n" + "".join(
    f"W-{i},2024-03-0{1 + i % 9},loader,port_relief,{'none,' if i % 3 else 'seat_leak,failed'},{100 + 13.5 * i}\n"
    for i in range(30))


def told(call, *arguments, **options):
    """What a call answers or refuses, as text."""
    try:
        return json.dumps(call(*arguments, **options))
    except FaultoddsError as refused:
        return f"{refused.code} {refused.pointer} {refused.message}"


def answers_to(vectors):
    models = {}
    for vector in vectors:
        circuit, case = circuit_of(vector), vector["case"]
        if circuit["id"] in models:
            yield told(models[circuit["id"]].assess, case)
            continue
        models[circuit["id"]] = model = Model(circuit)
        yield told(faultodds.assess, circuit, case)
        yield told(model.note, case)
        yield told(model.describe)
        yield told(model.describe, detail="screen")
        yield told(model.plan_card, dict(case, language="de"))
        yield told(model.draw, case, width=360)
        yield told(model.propose, "der Arm sinkt in 2,5 Minuten ab", "de")
        yield told(faultodds.check_circuit, circuit)
        yield told(faultodds.draw_circuit, circuit, case)
        yield told(faultodds.expand_circuit, circuit)
    for model in models.values():
        model.close()


def others():
    pack, summary = learn_priors(RECORDS, source="depot", mapping={
        "format": "faultodds-records/1", "most_hours": 1234.5})
    yield json.dumps(pack)
    yield json.dumps(summary)
    yield json.dumps(diff_priors(None, pack))
    comma = RECORDS.replace(".5\n", ",5\n").replace(",", ";", 6)
    yield told(learn_priors, comma, source="depot", mapping={
        "format": "faultodds-records/1", "delimiter": ";", "decimal_comma": True})


def all_answers():
    return [*answers_to(TABLE["vectors"]), *others()]


@unittest.skipUnless(os.path.isdir(os.environ.get("LOCPATH", "") + "/de_DE.UTF-8"), "the package locales is not installed")
class Locales(unittest.TestCase):
    def setUp(self):
        self.addCleanup(locale.setlocale, locale.LC_ALL, "C")
        locale.setlocale(locale.LC_ALL, "C")

    def test_every_vector_is_answered_or_refused_with_the_same_bytes_in_every_locale(self):
        expected = all_answers()
        self.assertGreater(sum(map(len, expected)), 300_000)
        for name, point in LOCALES.items():
            locale.setlocale(locale.LC_ALL, name)
            self.assertEqual(locale.localeconv()["decimal_point"], point)
            answers = all_answers()
            self.assertEqual(len(answers), len(expected))
            for wanted, got in zip(expected, answers):
                if wanted != got:
                    at = next((i for i, (a, b) in enumerate(zip(wanted, got)) if a != b), 0)
                    self.fail(f"in {name}: {got[max(0, at - 40):at + 80]!r}, not {wanted[max(0, at - 40):at + 80]!r}")

    def test_a_host_that_changes_its_locale_in_another_thread_gets_the_same_bytes(self):
        vectors = [vector for vector in TABLE["vectors"] if "lift" in vector["circuit"]]
        expected = list(answers_to(vectors))
        over = threading.Event()
        changes = [0]

        # By C itself, which holds no lock of the interpreter's while it does.
        setlocale = ctypes.CDLL(None).setlocale

        def change():
            while not over.is_set():
                for name in ("C", *LOCALES):
                    setlocale(locale.LC_ALL, name.encode())
                    changes[0] += 1

        changing = threading.Thread(target=change)
        changing.start()
        try:
            for wanted, got in zip(expected, answers_to(vectors)):
                self.assertEqual(got, wanted)
        finally:
            over.set()
            changing.join()
        self.assertGreater(changes[0], 100)

    def test_the_host_keeps_the_locale_that_it_has(self):
        locale.setlocale(locale.LC_ALL, "de_DE.UTF-8")
        list(answers_to(TABLE["vectors"][:3]))
        self.assertEqual(locale.localeconv()["decimal_point"], ",")
        self.assertEqual(locale.setlocale(locale.LC_ALL, None), "de_DE.UTF-8")


if __name__ == "__main__":
    unittest.main()

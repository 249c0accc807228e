"""The same bytes from an adapter whose environment asks for another locale. FAULTODDS_LOCALES is the directory of
tests/abi/make_locales.sh."""

import json
import os
import re
import unittest
from unittest import mock

from adapter import TESTS, Adapter

MADE = os.environ.get("FAULTODDS_LOCALES", "")
VECTORS = json.loads((TESTS / "vectors" / "assessments.json").read_text(encoding="utf-8"))["vectors"]


@unittest.skipUnless(os.path.isdir(f"{MADE}/de_DE.UTF-8"), "the package locales is not installed")
class Locales(unittest.TestCase):
    def answers(self, locale):
        with mock.patch.dict(os.environ, {"LOCPATH": MADE, "LC_ALL": locale, "LANG": locale}):
            adapter = Adapter("--timeout", "60")
        with adapter:
            for vector in VECTORS:
                circuit = json.loads((TESTS.parent / vector["circuit"]).read_text(encoding="utf-8"))
                answer = adapter.assess(circuit, vector["case"])
                yield vector["name"], (answer.status, answer.body)
            # Times differ; that every number has a point does not.
            yield "metrics", re.findall(rb"^\S+ \S*[^0-9.e+\-\nINFa]\S*$", adapter.get("/metrics").body, re.MULTILINE)

    def test_every_vector_is_answered_or_refused_with_the_same_bytes_in_every_locale(self):
        expected = dict(self.answers("C"))
        self.assertGreater(len(expected), 20)
        self.assertEqual(expected["metrics"], [])
        for locale in ("de_DE.UTF-8", "hi_IN.UTF-8"):
            for name, answer in self.answers(locale):
                self.assertEqual(answer, expected[name], f"{name} in {locale}")


if __name__ == "__main__":
    unittest.main()

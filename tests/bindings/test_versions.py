"""The packages carry the version of capi/faultodds.h (FAULTODDS_VERSION)."""

import json
import os
import re
import unittest
from pathlib import Path

BINDINGS = Path(__file__).resolve().parents[2] / "bindings"
VERSION = os.environ["FAULTODDS_VERSION"]


def found(path, pattern):
    return re.search(pattern, (BINDINGS / path).read_text(encoding="utf-8")).group(1)


class Versions(unittest.TestCase):
    def test_every_package_has_the_version_of_the_header(self):
        told = {
            "python": found("python/faultodds/_version.py", r'BINDING_VERSION = "(.*)"'),
            "java": found("java/pom.xml", r"<artifactId>faultodds</artifactId>\s*<version>(.*)</version>"),
            "debian": found("../capi/debian/changelog", r"^faultodds \((.*)\)"),
            "csharp": found("csharp/Faultodds/Faultodds.csproj", r"<Version>(.*)</Version>"),
        }
        for name in ("node", "wasm", "web"):
            for file in ("package.json", "package-lock.json"):
                told[f"{name}/{file}"] = json.loads((BINDINGS / name / file).read_text())["version"]
        for package, version in told.items():
            with self.subTest(package):
                self.assertEqual(version, VERSION)

    def test_lock_files_name_no_host(self):
        for lock in [*BINDINGS.glob("*/package-lock.json"), BINDINGS.parent / "tests/screen/package-lock.json"]:
            with self.subTest(lock):
                self.assertNotIn('"resolved"', lock.read_text(encoding="utf-8"))


if __name__ == "__main__":
    unittest.main()

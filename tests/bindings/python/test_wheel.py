"""A wheel with the library inside, installed into an empty environment, answers the vectors and runs the example."""

import os
import subprocess
import sys
import tempfile
import unittest
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
CLEAN = {
    key: value for key, value in os.environ.items() if key not in ("FAULTODDS_LIBRARY", "PYTHONPATH")
}


def run(*command, **environment):
    done = subprocess.run(
        [str(part) for part in command],
        cwd=Path(__file__).resolve().parent,
        env={**CLEAN, **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    if done.returncode != 0:
        raise AssertionError(done.stdout)
    return done.stdout


class Wheel(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        directory = tempfile.TemporaryDirectory()
        cls.addClassCleanup(directory.cleanup)
        cls.scratch = Path(directory.name)
        cls.builder = cls.scratch / "builder" / "bin" / "python"
        run(sys.executable, "-m", "venv", "--system-site-packages", cls.scratch / "builder")

    def build(self, name, library):
        """A wheel with the library in it, in a folder of that name."""
        folder = self.scratch / name
        # A copy: building leaves files beside the sources.
        run("cp", "-R", ROOT / "bindings" / "python", folder)
        run(self.builder, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index",
            "--no-build-isolation", "--wheel-dir", folder, folder, FAULTODDS_BUNDLE=str(library))
        (wheel,) = folder.glob("*.whl")
        return wheel

    def test_for_windows_carries_the_library_under_its_name_there(self):
        library = self.scratch / "another-name.dll"
        library.write_bytes(b"MZ")
        wheel = self.build("for_windows", library)
        self.assertRegex(wheel.name, r"^faultodds-[0-9.]+-py3-none-win_amd64\.whl$")
        self.assertIn("faultodds/faultodds-2.dll", zipfile.ZipFile(wheel).namelist())

    def test_is_built_installed_and_answers_without_an_installed_library(self):
        wheel = self.build("for_here", os.environ["FAULTODDS_LIBRARY"])
        self.assertRegex(wheel.name, r"^faultodds-[0-9.]+-py3-none-(?!any)")
        names = zipfile.ZipFile(wheel).namelist()
        self.assertIn("faultodds/py.typed", names)
        self.assertTrue(any("libfaultodds" in name for name in names), names)

        run(self.builder, "-m", "venv", "--without-pip", self.scratch / "user")
        user = self.scratch / "user" / "bin" / "python"
        run(self.builder, "-m", "pip", "--python", user, "install", "--quiet", "--no-index", wheel)
        where = run(user, "-c", "import faultodds; print(faultodds.__file__)")
        self.assertTrue(where.startswith(str(self.scratch / "user")), where)
        run(user, "-m", "unittest", "test_vectors")
        truck = ROOT / "examples" / "refuse_truck"
        answer = run(user, ROOT / "examples" / "embed.py",
                     truck / "circuit.json", truck / "arm_sinks_2_valve_port.json")
        self.assertIn("arm_lift_relief", answer)


if __name__ == "__main__":
    unittest.main()

"""A wheel with the library inside, installed into an empty environment, answers the vectors."""

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
    def test_is_built_installed_and_answers_without_an_installed_library(self):
        with tempfile.TemporaryDirectory() as directory:
            scratch = Path(directory)
            builder = scratch / "builder" / "bin" / "python"
            run(sys.executable, "-m", "venv", "--system-site-packages", scratch / "builder")
            # A copy: building leaves files beside the sources.
            run("cp", "-R", ROOT / "bindings" / "python", scratch / "source")
            run(builder, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index",
                "--no-build-isolation", "--wheel-dir", scratch, scratch / "source",
                FAULTODDS_BUNDLE=os.environ["FAULTODDS_LIBRARY"])
            (wheel,) = scratch.glob("*.whl")
            self.assertRegex(wheel.name, r"^faultodds-[0-9.]+-py3-none-(?!any)")
            names = zipfile.ZipFile(wheel).namelist()
            self.assertIn("faultodds/py.typed", names)
            self.assertTrue(any("libfaultodds" in name for name in names), names)

            run(builder, "-m", "venv", "--without-pip", scratch / "user")
            user = scratch / "user" / "bin" / "python"
            run(builder, "-m", "pip", "--python", user, "install", "--quiet", "--no-index", wheel)
            where = run(user, "-c", "import faultodds; print(faultodds.__file__)")
            self.assertTrue(where.startswith(str(scratch / "user")), where)
            run(user, "-m", "unittest", "test_vectors")


if __name__ == "__main__":
    unittest.main()

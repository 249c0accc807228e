"""Puts the shared library into the wheel; everything else is in pyproject.toml.

FAULTODDS_BUNDLE=<path of libfaultodds.so.2> pip wheel --no-deps bindings/python

The wheel then is for this platform, or the one that FAULTODDS_PLATFORM names, and needs no installed library; with
faultodds-2.dll it is for Windows on x86-64, wherever it is made. Without FAULTODDS_BUNDLE it is for any platform and
uses the library that the system's loader finds. What is in the folder FAULTODDS_NOTICES, licenses/ and sboms/, comes along.
"""

import os
import shutil
import sys
from pathlib import Path

from setuptools import Distribution, setup
from setuptools.command.build_py import build_py

try:
    from setuptools.command.bdist_wheel import bdist_wheel
except ImportError:  # setuptools before 70.1
    from wheel.bdist_wheel import bdist_wheel

BUNDLED = os.environ.get("FAULTODDS_BUNDLE")
NOTICES = os.environ.get("FAULTODDS_NOTICES")
FOR_WINDOWS = bool(BUNDLED) and BUNDLED.endswith(".dll")
sys.path.insert(0, str(Path(__file__).resolve().parent))
from faultodds._library import file_name  # noqa: E402


class BuildWithLibrary(build_py):
    def run(self):
        super().run()
        if BUNDLED:
            # Under the name that the binding looks for beside its files, symbolic links resolved.
            name = file_name("win32") if FOR_WINDOWS else file_name()
            shutil.copyfile(BUNDLED, Path(self.build_lib) / "faultodds" / name)


class PlatformWheel(bdist_wheel):
    def egg2dist(self, egginfo_path, distinfo_path):
        super().egg2dist(egginfo_path, distinfo_path)
        if NOTICES:
            shutil.copytree(NOTICES, distinfo_path, dirs_exist_ok=True)

    def get_tag(self):
        python, abi, platform = super().get_tag()
        platform = os.environ.get("FAULTODDS_PLATFORM") or ("win_amd64" if FOR_WINDOWS else platform)
        return ("py3", "none", platform) if BUNDLED else (python, abi, platform)


class WithLibrary(Distribution):
    def has_ext_modules(self):
        return bool(BUNDLED)  # what makes a wheel one of a platform


setup(distclass=WithLibrary, cmdclass={"build_py": BuildWithLibrary, "bdist_wheel": PlatformWheel})

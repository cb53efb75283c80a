"""Takes the demo along into the package, so that `fullbore demo` can write it out where there is no clone."""

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

HERE = Path(__file__).resolve().parent


class WithDemo(build_py):
    """Copies the folder of the demo beside the modules of a wheel; a clone that is installed in place has its own."""

    def run(self) -> None:
        """Build, then copy."""
        super().run()
        if not self.editable_mode:
            shutil.copytree(HERE / "parts_demo", Path(self.build_lib) / "optimizer" / "parts_demo", dirs_exist_ok=True)


setup(cmdclass={"build_py": WithDemo})

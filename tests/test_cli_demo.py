"""The demo, written out where there is no clone."""

import filecmp
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer.cli import main

ROOT = Path(__file__).parents[1]

Capture = pytest.CaptureFixture[str]


def every_file(folder: Path) -> list[str]:
    return sorted(str(each.relative_to(folder)) for each in folder.rglob("*") if each.is_file())


def commands(told: str) -> list[list[str]]:
    """What stands under Next, as arguments."""
    return [line.split()[1:] for line in told.splitlines() if line.startswith("  fullbore")]


@pytest.mark.parametrize("folder", ["parts_demo", "my demo", "."])
def test_the_demo_is_all_there_and_what_is_told_next_works(
    folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Every file, byte for byte, in a new folder or an empty one; then the first command of the list answers."""
    monkeypatch.chdir(tmp_path)
    assert main(["demo", folder]) == 0
    told = capsys.readouterr().out
    names = every_file(ROOT / "parts_demo")
    assert every_file(tmp_path / folder) == names
    assert filecmp.cmpfiles(ROOT / "parts_demo", tmp_path / folder, names, shallow=False)[0] == names
    if folder == "parts_demo":
        best, new = commands(told)
        assert main([*best, "--budget", "0", "--quiet"]) == 0
        assert new == ["new", "tank.toml"]
    assert (" --catalog " in told) == (folder != "parts_demo")


def test_what_is_there_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "pumps.csv").write_text("mine", encoding="utf-8")
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for name in ("full", "file"):
        assert main(["demo", name]) == 1
        assert f"{name} is there already. Name a new folder." in capsys.readouterr().err
    assert main(["demo", "no/such/folder"]) == 1
    assert every_file(tmp_path) == ["file", "full/pumps.csv"]


def test_a_wheel_brings_the_demo_along(tmp_path: Path) -> None:
    """What a wheel is made of, built from a copy and run in a folder that holds nothing."""
    source, packed, home = (tmp_path / name for name in ("source", "packed", "home"))
    for folder in ("optimizer", "parts_demo"):
        shutil.copytree(ROOT / folder, source / folder, ignore=shutil.ignore_patterns("__pycache__"))
    for file in ("pyproject.toml", "setup.py", "README.md"):
        shutil.copy(ROOT / file, source / file)
    build = [sys.executable, "setup.py", "-q", "build_py", "--build-lib", str(packed)]
    subprocess.run(build, cwd=source, check=True, capture_output=True)
    shutil.rmtree(source)
    home.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(packed)}
    for asked in (["demo"], ["best", "parts_demo/rigs/nano_60.toml", "--budget", "0", "--quiet"]):
        run = [sys.executable, "-m", "optimizer", *asked]
        done = subprocess.run(run, cwd=home, env=environment, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert every_file(home / "parts_demo") == every_file(ROOT / "parts_demo")

"""Every example in README.md is run: commands through the program's entry point, Python as a doctest."""

import doctest
import re
import shlex
from pathlib import Path

import pytest

from optimizer.cli import main

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```console\n\$ fullbore (.*?)\n(.*?)```", TEXT, flags=re.DOTALL)
PYTHON = re.findall(r"```python\n(.*?)```", TEXT, flags=re.DOTALL)


@pytest.mark.parametrize(("command", "wanted"), EXAMPLES, ids=[command for command, _ in EXAMPLES])
def test_command(command: str, wanted: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    main(shlex.split(command))
    printed = capsys.readouterr().out
    checker = doctest.OutputChecker()
    assert checker.check_output(wanted, printed, doctest.ELLIPSIS), printed


@pytest.mark.parametrize("source", PYTHON)
def test_python(source: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    test = doctest.DocTestParser().get_doctest(source, {}, "README.md", "README.md", 0)
    runner = doctest.DocTestRunner()
    runner.run(test)
    assert runner.failures == 0
    assert runner.tries > 0


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 5
    assert PYTHON

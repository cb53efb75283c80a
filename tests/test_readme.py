"""Every example in README.md and in the guide is run: commands through the program's entry point, Python as a doctest.

When outputs have changed on purpose, `python tests/worlds/shown_examples.py` writes what is printed now into all of them.
"""

from __future__ import annotations

import doctest
import re
import shlex
import subprocess
from collections.abc import Iterator

import pytest
from shown_examples import PICTURE, ROOT, Block, agrees, alike, blocks, drawn, files, renewed, run

from optimizer.commands.parser import build_parser
from optimizer.commands.table import COMMANDS

EXAMPLES = alike("console")
PYTHON = blocks("python")
SHELL = blocks("sh")
README = (ROOT / "README.md").read_text(encoding="utf-8")
NAMED = re.compile(r"`(fullbore [^`]+)`")


@pytest.mark.usefixtures("answered_once")
@pytest.mark.parametrize("found", EXAMPLES, ids=[found[0].name for found in EXAMPLES])
def test_command(found: tuple[Block, ...]) -> None:
    """What is shown of every command is what it prints; commands of one block run one after the other in one folder.

    What several pages show of the same command is one test, so that it runs once.
    """
    for block in found:
        for (command, shown), printed in zip(block.steps, run(block), strict=True):
            assert agrees(shown, printed), f"{block.path.name}: {command}\n{printed}"


@pytest.mark.parametrize("block", PYTHON, ids=[block.path.name for block in PYTHON])
def test_python(block: Block, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is shown of Python is what it prints."""
    monkeypatch.chdir(ROOT)
    name = block.path.name
    test = doctest.DocTestParser().get_doctest(block.text, {}, name, name, 0)
    runner = doctest.DocTestRunner()
    runner.run(test)
    assert runner.failures == 0
    assert runner.tries > 0


def test_there_are_examples() -> None:
    """The README shows the main job, and all commands that answer stand in an example; the desk is at work until it is ended."""
    shown = {shlex.split(command)[1] for found in EXAMPLES for command, _ in found[0].steps}
    assert set(COMMANDS) - shown <= {"new", "desk", "glossary", "help", "guide"}
    assert PYTHON and any(block.path.name == "README.md" for found in EXAMPLES for block in found)


def _named() -> Iterator[tuple[str, str]]:
    """Commands that are not run: those in sentences, and those of blocks for a shell."""
    for path in files():
        text = re.sub(r"^```.*?^```$", "", path.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
        yield from ((path.name, " ".join(found.split())) for found in NAMED.findall(text))
    for block in SHELL:
        yield from ((block.path.name, found) for found in re.findall(r"^fullbore .*$", block.text, flags=re.MULTILINE))


@pytest.mark.parametrize(("file", "command"), sorted(set(_named())))
def test_commands_in_sentences_can_be_read(file: str, command: str) -> None:
    """Every command that is only named has options that are there."""
    words = shlex.split(re.split(" [<>] ", command)[0], comments=True)[1:]
    assert words[0] in COMMANDS
    assert len(words) == 1 or build_parser().parse_args(words).command == words[0]


def test_the_readme_is_short() -> None:
    """The README is what somebody reads who has never seen the program; the manual is the guide."""
    assert len(README.splitlines()) <= 250
    for command in COMMANDS:
        assert f"fullbore {command}" in README, f"the table of commands has no {command}"


def test_what_the_readme_links_to_is_there() -> None:
    """Pictures and files that the README names are in the repository."""
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert links
    for link in links:
        assert (ROOT / link).exists(), link
    tracked = subprocess.run(["git", "ls-files", "--error-unmatch", *links], cwd=ROOT, capture_output=True, check=False)
    assert tracked.returncode in (0, 128), tracked.stderr  # 128: no repository, as in an unpacked source


def _labels(svg: str) -> list[str]:
    """What a figure says in words and numbers, which does not hang on the fonts and the drawing library at hand."""
    return re.findall(r"<(?:title|desc|text)[^>]*>\s*([^<]*?)\s*<", svg)


def test_the_picture_is_what_the_program_draws() -> None:
    """The README's figure has the title, description, places and numbers of the one that is drawn today, and is small."""
    labels = _labels(PICTURE.read_text(encoding="utf-8"))
    assert len(labels) > 20 and any("canister" in label for label in labels)
    assert labels == _labels(drawn())
    assert PICTURE.stat().st_size < 60_000


# -- examples written anew -----------------------------------------------------------------------------------------

PRINTED = """\
Best for 20.00 EUR: 250 l/h.
Proved.

            l/h
  now       158
  best      250

Mind
  - Unplug.
  - Clamp.

Proof
  decided in 7 rounds
"""


@pytest.mark.parametrize(
    ("shown", "wanted"),
    [
        ("", PRINTED),  # nothing is shown yet
        (PRINTED.replace("250", "240"), PRINTED),
        ("Best for 20.00 EUR: 240 l/h.\n...\n", "Best for 20.00 EUR: 250 l/h.\n...\n"),
        ("...\nMind\n  - Unplug it.\n...\n", "...\nMind\n  - Unplug.\n...\n"),
        ("...\n            l/h\n  now       150\n  best      240\n...\nProof\n  ...\n",
         "...\n            l/h\n  now       158\n  best      250\n...\nProof\n  ...\n"),
        ("...\n            l/h\n  now       150\n\nMind\n  - Clamp it.\n\n...\n", "...\n" + PRINTED[38:-28] + "...\n"),
        ("Best for 20.00 EUR: 240 l/h.\n\n...\n", PRINTED[:38] + "...\n"),  # a whole paragraph, longer now
        ("...\n  now       150\n...\nProof\n  decided in ...\n", "...\n  now       158\n...\nProof\n  decided in ...\n"),
    ],
)  # fmt: skip
def test_an_example_is_written_anew_with_the_same_lines_left_out(shown: str, wanted: str) -> None:
    """Dots stay where the lines on either side of them are found again."""
    assert renewed(shown, PRINTED) == wanted
    assert agrees(wanted, PRINTED)


def test_an_example_whose_lines_are_gone_is_not_guessed() -> None:
    """Where nothing printed looks like what was shown, somebody has to look."""
    assert renewed("...\nWhat the spread is owed to\n  - pump\n...\n", PRINTED) is None

"""The guide: pages that fit a terminal, are in the built package, and answer what keepers ask."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer.cli import main
from optimizer.glossary import GLOSSARY
from optimizer.guide import NAMES, Page, page_of, pages
from optimizer.guide.terminal import in_plain_text

ROOT = Path(__file__).parents[1]
Capture = pytest.CaptureFixture[str]


def test_the_command_lists_the_pages_and_prints_one(capsys: Capture) -> None:
    """A list of names and titles, and a page by its name, upper or lower case."""
    assert main(["guide"]) == 0
    listed = capsys.readouterr().out
    for page in pages():
        assert re.search(rf"^  {page.name} +{re.escape(page.title)}$", listed, flags=re.MULTILINE)
    assert main(["guide", "Fills"]) == 0
    assert capsys.readouterr().out == in_plain_text(page_of("fills"))
    assert main(["guide", "fills", "--markdown"]) == 0
    assert capsys.readouterr().out == f"# {page_of('fills').title}\n\n{page_of('fills').body}"


def test_a_page_that_is_none_gets_near_names(capsys: Capture) -> None:
    """A mistyped page is refused with those that are near, or with how to list them."""
    assert main(["guide", "filsl"]) == 1
    told = '  page: "filsl" is no page of the guide. Near names: "files", "fills", "drill".\n'
    assert capsys.readouterr().err == f"command line: 1 problem, nothing was solved.\n{told}"
    assert main(["guide", "zzz\x1b"]) == 1
    told = capsys.readouterr().err
    assert 'Write "fullbore guide" for a list' in told and "\x1b" not in told


def test_every_file_is_a_page() -> None:
    """No page lies beside the list, and none is without title, text or name."""
    assert sorted(path.stem for path in (ROOT / "optimizer" / "guide" / "pages").iterdir()) == sorted(NAMES)
    assert len({page.title for page in pages()}) == len(NAMES) == len(set(NAMES))
    assert all(page.title and page.body.strip() and not page.title.startswith("#") for page in pages())


@pytest.mark.parametrize("page", pages(), ids=NAMES)
def test_a_page_fits_a_terminal(page: Page) -> None:
    """Sentences and commands have at most 80 columns; no mark of Markdown is left in them."""
    text = in_plain_text(page)
    outside = re.sub(r"^```.*?^```$", "", page.body, flags=re.DOTALL | re.MULTILINE)
    shown = set(re.findall(r"^```\w*\n(.*?)^```$", page.body, flags=re.DOTALL | re.MULTILINE))
    examples = {line for block in shown for line in block.splitlines()}
    for line in text.splitlines():
        assert len(line) <= 80 or (line in examples and not line.startswith("$ ")), line
        assert line in examples or not re.search(r"\*\*|`|^#|<!--", line), line
    words = re.sub(r"[^a-z]+", "", re.sub(r"\W_|\d+\. ", "", outside.casefold()))
    assert len(words) > 100 and all(word in text for word in re.findall("[A-Za-z]{4,}", outside))


def test_pages_refer_to_pages_that_are_there() -> None:
    """Every "fullbore guide X" in a page names a page."""
    for page in pages():
        for name in re.findall(r"fullbore guide ([a-z]+)", page.body):
            assert name in NAMES, f"{page.name} refers to {name}"


def test_the_guide_holds_every_term() -> None:
    """The page of words is the glossary, which is written down once."""
    body = page_of("words").body
    for term in GLOSSARY.values():
        assert f"- **{term.term}**" in body and term.means in body


def test_a_built_wheel_holds_the_pages(tmp_path: Path) -> None:
    """What setuptools puts into a wheel by the project's own settings: all pages are in it, with the same bytes."""
    source = tmp_path / "source"
    source.mkdir()
    for name in ("pyproject.toml", "README.md", "optimizer"):
        (source / name).symlink_to(ROOT / name)
    build = [sys.executable, "-c", "import setuptools; setuptools.setup()", "build_py", "--build-lib", str(tmp_path / "built")]
    done = subprocess.run(build, cwd=source, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for name in NAMES:
        path = f"optimizer/guide/pages/{name}.md"
        assert (tmp_path / "built" / path).read_bytes() == (ROOT / path).read_bytes()

"""The commands report and plot, and --report beside the others: all or nothing is written, and bad files are told."""

import html
import json
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.model.dossiers import Dossier

ROOT = Path(__file__).parent.parent
NANO = str(ROOT / "parts_demo" / "rigs" / "nano_60.toml")
SHOP = ["--catalog", str(ROOT / "parts_demo" / "catalog")]


FEW_DRAWS = 400


def draw_few(patch: pytest.MonkeyPatch) -> None:
    """Pages with hundreds of draws where thousands say the same."""
    real = api.dossier

    def drawn(*args: Any, draws: int = FEW_DRAWS, **more: Any) -> Dossier:
        return real(*args, draws=min(draws, FEW_DRAWS), **more)

    patch.setattr(api, "dossier", drawn)


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a page and the JSON it was made of."""
    folder = tmp_path_factory.mktemp("answered")
    with pytest.MonkeyPatch.context() as patch:
        printed: list[str] = []
        patch.setattr("optimizer.commands.streams.printed", printed.append)
        draw_few(patch)
        assert main(["best", NANO, *SHOP, "--report", str(folder / "tank.html"), "--json", "--csv", str(folder / "b.csv")]) == 0
    (folder / "answer.json").write_text("".join(printed), encoding="utf-8")
    return folder


def test_a_page_rendered_later_is_the_same(answered: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(answered / "answer.json"), "--out", str(answered / "again.html")]) == 0
    assert (answered / "again.html").read_bytes() == (answered / "tank.html").read_bytes()
    assert (answered / "b.csv").stat().st_size
    assert capsys.readouterr().out == "Small tank on the desk: wrote again.html.\n"


def test_nothing_is_solved_for_a_report(answered: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(*_: object) -> None:
        raise AssertionError("solved")

    for name in (
        "optimizer.answers.question.solved",
        "optimizer.search.best.Seeker.most_flow",
        "optimizer.loop.operating.bracketed",
    ):
        monkeypatch.setattr(name, solve)
    assert main(["report", str(answered / "answer.json"), "--out", str(answered / "third.html"), "--units", "us"]) == 0
    assert "gph" in (answered / "third.html").read_text(encoding="utf-8")


def test_the_page_names_its_inputs_and_no_folder(answered: Path) -> None:
    text = (answered / "tank.html").read_text(encoding="utf-8")
    assert "nano_60.toml" in text and "catalog/pumps.csv" in text
    assert str(ROOT) not in text and str(answered) not in text


CORNER = ROOT / "parts_demo" / "rigs" / "reading_corner_130.toml"
LOG = ROOT / "parts_demo" / "logs" / "reading_corner_130.log"
ASKED = {
    "log and units": ["best", "-corner's tank.toml", "--log", "LOG", "--budget", "5", "--units", "us"],
    "unmeasured": ["best", "-corner's tank.toml", "--unmeasured", "--budget", "5", "--prove"],
    "cheapest": ["cheapest", "-corner's tank.toml", "--flow", "380 l/h", "--robust", "P25", "--draws", "40", "--seed", "7"],
    "front": ["front", "-corner's tank.toml", "--log", "LOG", "--budget", "3"],
}


@pytest.fixture
def _few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    draw_few(monkeypatch)


@pytest.mark.usefixtures("answered_once", "_few_draws")
@pytest.mark.parametrize("case", ASKED)
def test_the_command_on_a_page_makes_it_again(
    case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Typed in another folder that holds nothing but the files that the page names, it gives the same bytes."""
    here, there = tmp_path / "here" / "deep", tmp_path / "there"
    here.mkdir(parents=True)
    shutil.copytree(ROOT / "parts_demo" / "catalog", here / "my shop")
    shutil.copy(CORNER, here / "-corner's tank.toml")
    shutil.copy(LOG, here / "my log")
    command, _, *words = ASKED[case]
    words = [str(here / "my log") if word == "LOG" else word for word in words]
    options = [*words, "--catalog", str(here / "my shop"), "--report", str(here / "page.html")]
    assert main([command, str(here / "-corner's tank.toml"), *options]) == 0
    first = (here / "page.html").read_text(encoding="utf-8")
    found = re.search(r"fullbore [^<]*: <code>([^<]*)</code>", first)
    assert found is not None
    for name in re.findall(r"<li>([^<]*)<br><code>[0-9a-f]{64}</code></li>", first):
        (there / html.unescape(name)).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(here / html.unescape(name), there / html.unescape(name))
    monkeypatch.chdir(there)
    said = capsys.readouterr().out
    assert main(shlex.split(html.unescape(found.group(1)))[1:]) == 0
    assert (there / "report.html").read_text(encoding="utf-8") == first
    assert capsys.readouterr().out.splitlines()[:3] == said.splitlines()[:3]


@pytest.mark.parametrize(("form", "begins"), [("svg", b"<svg "), ("png", b"\x89PNG")])
def test_plot_writes_the_figures_asked_for(answered: Path, tmp_path: Path, form: str, begins: bytes) -> None:
    command = [
        "plot",
        str(answered / "answer.json"),
        "--out",
        str(tmp_path),
        "--figures",
        "front, heads",
        "--format",
        form,
        "--json",
    ]
    assert main(command) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [f"front.{form}", f"heads.{form}"]
    assert all(path.read_bytes().startswith(begins) for path in tmp_path.iterdir())


@pytest.mark.usefixtures("_few_draws")
def test_front_takes_a_report_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["front", NANO, *SHOP, "--budget", "12", "--report", str(tmp_path / "tank.html")]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("Small tank on the desk: what each sum up to 12.00 EUR buys")
    assert printed.endswith("Report: tank.html\n")


BROKEN = {
    "none": "",
    "half": '{"schema": "fullbore-result/6", ',
    "other": '{"schema": "shop/3"}',
    "list": "[1, 2]",
    "nan": '{"schema": "fullbore-result/6", "rig": NaN}',
    "empty": '{"schema": "fullbore-result/6"}',
    "deep": "[" * 100_000,
    "huge": '{"schema": "fullbore-result/6", "budget": ' + "9" * 5000 + "}",
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_file_that_is_no_answer_is_told_and_nothing_is_written(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "answer.json").write_text(BROKEN[name], encoding="utf-8")
    assert main(["report", str(tmp_path / "answer.json"), "--out", str(tmp_path / "tank.html")]) == 1
    said = capsys.readouterr()
    assert said.err.startswith("answer.json: ") and "nothing was solved" in said.err and "Save" in said.err
    assert said.out == "" and [path.name for path in tmp_path.iterdir()] == ["answer.json"]


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["report", "ANSWER", "--out", "no/such/folder/tank.html"], "--out"),
        (["report", "ANSWER", "--out", "ANSWER"], "is the answer itself"),
        (["plot", "ANSWER", "--out", "no_such_folder"], "is no folder"),
        (["plot", "ANSWER", "--figures", "pie"], "There are: loop, curves"),
        (["best", NANO, *SHOP, "--report", "no/such/folder/tank.html"], "--report"),
        (["best", NANO, *SHOP, "--why", "X", "--report", "tank.html"], "does not go together"),
        (["best", NANO, *SHOP, "--report", "tank.html", "--csv", "tank.html"], "is the same file"),
    ],
)
def test_bad_arguments_are_told(
    command: list[str],
    words: str,
    answered: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([word.replace("ANSWER", str(answered / "answer.json")) for word in command]) == 1
    assert words in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert json.loads((answered / "answer.json").read_text(encoding="utf-8"))["schema"] == "fullbore-dossier/6"

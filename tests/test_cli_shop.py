"""The commands kits and compare: what they hand on, print and write, and how they refuse."""

import json
from pathlib import Path

import pytest
from demo import small_shop

from optimizer import api
from optimizer.cli import main
from optimizer.commands.streams import PROGRESS_WIDTH, Progress
from optimizer.model.catalog import Catalog
from optimizer.model.compared import Compared
from optimizer.model.kits import KitPlan
from optimizer.model.shop import Store
from optimizer.tanks.pool import WorkerLostError

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "parts_demo"
FISH, NANO = (str(DEMO / "rigs" / name) for name in ("community_180.toml", "nano_60.toml"))

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def shop(tmp_path: Path) -> str:
    """A small shop file."""
    path = tmp_path / "shop.toml"
    path.write_text(small_shop(60, 1), encoding="utf-8")
    return str(path)


def run(*arguments: str) -> int:
    return main([*arguments, "--catalog", str(DEMO / "catalog")])


def test_kits_are_printed_and_written_and_are_those_of_the_python_interface(shop: str, tmp_path: Path, capsys: Capture) -> None:
    cards = tmp_path / "cards"
    cards.mkdir()
    results, table = tmp_path / "shop.results", tmp_path / "kits.csv"
    assert run("kits", shop, "--json", "--results", str(results), "--cards", str(cards), "--csv", str(table)) == 0
    body = json.loads(capsys.readouterr().out)
    store = api.read_shop(shop, api.read_catalog(DEMO / "catalog"))
    assert body == json.loads(json.dumps(api.kits(store).to_dict()))
    assert (body["schema"], body["status"], len(body["kits"])) == (KitPlan.schema(), "proved", 1)
    assert sorted(path.name for path in cards.iterdir()) == ["kit_1.html", "kit_1.txt", "kit_1_shop.html", "kit_1_shop.txt"]
    assert table.read_bytes().startswith(b"\xef\xbb\xbfkit,")
    # again, all from the results file
    assert run("kits", shop, "--results", str(results), "--by", "coverage", "--full") == 0
    out, err = capsys.readouterr()
    assert "1 kit serves 1 of 2 tanks (50 %)" in out
    assert "NPT never mates with G" in out
    assert err == ""
    page = tmp_path / "kits.html"
    assert run("kits", shop, "--results", str(results), "--quiet", "--units", "us", "--report", str(page)) == 0
    assert capsys.readouterr().out.count("\n") == 1
    assert f'<data value="{body["kits"][0]["price"]}">' in page.read_text(encoding="utf-8")


def test_no_kit_ends_with_status_2(shop: str, capsys: Capture) -> None:
    text = Path(shop).read_text(encoding="utf-8").replace('["60"]', '["1"]')
    Path(shop).write_text(text, encoding="utf-8")
    assert run("kits", shop) == 2
    assert "No kit from stock for at most 1.00 EUR fits any of 2 tanks." in capsys.readouterr().out


def test_mistakes_of_the_arguments_are_one_list(shop: str, capsys: Capture) -> None:
    numbers = ("--kits", "99", "--workers", "0", "--scheduler", "localhost")
    assert run("kits", shop, *numbers, "--csv", shop, "--cards", f"{shop}.none", "--results", "/") == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert [line.split(":")[0].strip() for line in err.splitlines()] == [
        "command line", "--kits", "--workers", "--scheduler", "--csv", "--results", "--cards",
    ]  # fmt: skip
    assert run("kits", shop, "--workers", "2", "--scheduler", "tcp://127.0.0.1:1") == 1
    assert "does not go together with --workers" in capsys.readouterr().err


def test_a_scheduler_that_is_not_there_and_lost_workers_are_told(
    shop: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    for error, told in ((OSError("timed out"), "does not answer: timed out"), (WorkerLostError("lost it"), "lost it")):

        def fails(store: Store, *, raised: BaseException = error, **more: object) -> None:
            raise raised

        monkeypatch.setattr(api, "kits", fails)
        assert run("kits", shop, "--scheduler", "tcp://127.0.0.1:1") == 1
        assert told in capsys.readouterr().err


def test_a_file_of_something_else_is_no_results_file(shop: str, tmp_path: Path, capsys: Capture) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("mine")
    assert run("kits", shop, "--results", str(notes)) == 1
    assert "something else than results" in capsys.readouterr().err
    assert notes.read_text() == "mine"


def test_progress_over_many_questions_is_one_line_that_is_written_over(capsys: Capture) -> None:
    class Screen:
        written = ""

        def write(self, text: str) -> int:
            self.written += text
            return len(text)

        def flush(self) -> None:
            pass

    times = iter([0.0, 0.5, 1.5, 1.6, 3.0])
    progress = Progress(Screen(), clock=lambda: next(times))  # type: ignore[arg-type]
    for done in (10, 20, 30, 40):
        progress.count("tanks x budgets", done, 40)
    screen = progress.stream
    assert isinstance(screen, Screen)
    lines = screen.written.split("\r")[1:]
    assert [line.rstrip() for line in lines] == [
        "[##########..........] 20 of 40 tanks x budgets, 2 s (Ctrl-C: stop here)",
        "[####################] 40 of 40 tanks x budgets, 3 s (Ctrl-C: stop here)",
    ]
    assert {len(line) for line in lines} == {PROGRESS_WIDTH}


def test_rigs_and_saved_answers_stand_side_by_side(tmp_path: Path, capsys: Capture) -> None:
    assert run("best", NANO, "--budget", "20", "--json") == 0
    saved = tmp_path / "nano.json"
    saved.write_text(capsys.readouterr().out, encoding="utf-8")
    assert run("compare", FISH, str(saved), "--budget", "30", "--json") == 0
    body = json.loads(capsys.readouterr().out)
    assert (body["schema"], body["status"]) == (Compared.schema(), "compared")
    catalog = api.read_catalog(DEMO / "catalog")
    for column, rig, budget in zip(body["columns"], (FISH, NANO), (3000, 2000), strict=True):
        result = json.loads(json.dumps(api.advise(api.read_rig(rig, catalog), catalog, budget=budget).to_dict()))
        for key in ("rig", "question", "status", "now", "spend_nothing", "best", "tightest", "tightest_before"):
            assert column[key] == result[key]
    assert run("compare", FISH, str(saved), "--budget", "30") == 0
    out = capsys.readouterr().out
    best = [column["best"]["flow_m3s"] * 3.6e6 for column in body["columns"]]
    (line,) = (line for line in out.splitlines() if line.startswith("  advised, l/h"))
    assert [float(word) for word in line.split()[2:]] == [round(flow) for flow in best]
    assert max(len(line) for line in out.splitlines()) <= 90
    assert run("compare", FISH, str(saved), "--budget", "30", "--quiet", "--units", "us") == 0
    assert "gph in Household community tank" in capsys.readouterr().out


def test_what_cannot_be_compared_is_one_list(tmp_path: Path, capsys: Capture) -> None:
    other = tmp_path / "other.json"
    other.write_text('{"schema": "fullbore-front/9"}')
    assert run("compare", "no_such.toml", str(other)) == 1
    err = capsys.readouterr().err
    assert "no_such.toml: 1 problem" in err
    assert "other.json: " in err
    assert run("compare", FISH) == 1
    assert "there is only one" in capsys.readouterr().err


def test_objects_can_be_compared_as_well() -> None:
    catalog = Catalog(parts={}, products=())
    with pytest.raises(ValueError, match="at least one"):
        api.compare(catalog)
    full = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(NANO, full)
    answer = api.advise(rig, full, budget=2000)
    found = api.compare(full, rig, answer, budget=2000)
    assert [column.source for column in found.columns] == [rig.name, rig.name]
    assert found.columns[0].best == found.columns[1].best

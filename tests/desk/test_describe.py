"""Describing a tank: the questions of `fullbore new` as a form, which writes the same file and goes on where that stopped."""

import re
from collections.abc import Callable, Iterator, Sequence
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from desk_at_work import AtWork, Reply

from optimizer import api
from optimizer.commands.interview import interviewed
from optimizer.files.interview_questions import question_groups
from optimizer.files.kept_answers import KeptAnswers

HOSTILE = ("<script>alert(1)</script>", "\"'><img src=x onerror=alert(1)>", "\\u003c\u202egnp.exe", "a" * 10_000)

SAID = (
    "Hall tank", "75 gal, 60 gal", "sea, 78 degF",
    "450 gph, 6.5 ft, 30 W, 60 Hz", "foam 20, balls, floss, empty", "6 l, 3 ft",
    "5/8 in, 5 ft, 3 bends", "19/27 mm, 2,5 m, 1 bend", "no", "sponge 30 ppi", "bar 18 x 1/8 in, 2 in above", "none",
    "new", "shrimp", "31 dB", "120", "4 per hour",
    "10 l, 61 s", "pump, hoses",
)  # fmt: skip


class Typed:
    """A terminal at which lines are typed."""

    is_terminal = True

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = list(lines)

    def ask(self, _: str) -> str | None:
        """The next line; None at the end."""
        return self.lines.pop(0) if self.lines else None

    def say(self, _: str) -> None:
        """Nothing is looked at."""


def _typed(path: Path, catalog: Path, lines: Sequence[str]) -> int:
    return interviewed(str(path), path, str(catalog), False, Typed(lines))  # type: ignore[arg-type]


def _pages(catalog: Path) -> Iterator[tuple[int, range]]:
    """Each page with the numbers of its questions."""
    first = 0
    for page, (_, asked) in enumerate(question_groups(api.read_catalog(catalog), "tank")):
        yield page, range(first, first + len(asked))
        first += len(asked)


def _seen(desk: AtWork, name: str, page: int) -> str:
    return desk.get(f"/describe/{name}?page={page}").text.partition('name="seen" value="')[2].partition('"')[0]


def _sent(desk: AtWork, name: str, page: int, lines: Sequence[str], numbers: range, **more: str) -> Reply:
    fields = {f"q{n}": lines[n] for n in numbers}
    return desk.post(f"/describe/{name}", {"page": str(page), "seen": _seen(desk, name, page), **fields, **more})


def _wrote(desk: AtWork, name: str, lines: Sequence[str]) -> Reply:
    """All pages in their order, then the file."""
    for page, numbers in _pages(desk.folder / "parts_demo" / "catalog"):
        assert _sent(desk, name, page, lines, numbers).status == 303
    assert "Assumed, because nobody said otherwise" in desk.get(f"/describe/{name}?page=summary").text
    return desk.post(f"/describe/{name}", {"go": "write", "name": name})


@pytest.mark.parametrize("lines", [SAID, [""] * len(SAID)], ids=["all said", "all usual"])
def test_the_file_is_that_of_the_command(desk: AtWork, tmp_path: Path, lines: Sequence[str]) -> None:
    """The same answers make the same bytes, whether they are typed at a terminal or into the form."""
    name, catalog = f"written_{len(lines[0])}.toml", desk.folder / "parts_demo" / "catalog"
    assert _typed(tmp_path / name, catalog, lines) == 0
    reply = _wrote(desk, name, lines)
    assert (reply.status, reply.headers["location"]) == (303, f"/tank/{name}")
    assert (desk.folder / name).read_bytes() == (tmp_path / name).read_bytes()
    assert not KeptAnswers(desk.folder / name).path.exists()
    (desk.folder / name).unlink()


def test_a_page_goes_on_where_the_terminal_stopped_and_the_other_way_round(desk: AtWork, tmp_path: Path) -> None:
    """Both keep their answers in one file beside the rig to be."""
    name, catalog = "both_ways.toml", desk.folder / "parts_demo" / "catalog"
    place = desk.folder / name
    assert _typed(place, catalog, SAID[:4]) == 3
    assert f'<a href="/describe/{name}">{name}</a>, 4 answers by now' in desk.get("/describe").text
    page = desk.get(f"/describe/{name}")
    assert "page 2 of 5" in page.text
    assert f'value="{SAID[3]}"' in page.text
    assert _sent(desk, name, 1, SAID, range(3, 6)).status == 303
    assert KeptAnswers(place).read() == SAID[:6]
    assert _typed(place, catalog, ["yes", *SAID[6:]]) == 0
    assert _typed(tmp_path / name, catalog, SAID) == 0
    assert place.read_bytes() == (tmp_path / name).read_bytes()
    place.unlink()


def test_what_cannot_be_used_is_said_beside_its_field_and_nothing_typed_is_lost(desk: AtWork) -> None:
    """The words are those of the command, all of a page at once; what was typed stands there again and is kept."""
    name = "wrong.toml"
    lines = ["Hall", "240", "lemonade, 25\u00a0degC"]
    reply = _sent(desk, name, 0, lines, range(3))
    assert reply.status == 200
    assert "lemonade" in reply.text
    assert "is neither fresh nor sea water." in reply.text
    assert 'value="lemonade, 25\u00a0degC"' in reply.text
    assert "Taken as 240 l" in reply.text
    assert KeptAnswers(desk.folder / name).read() == tuple(lines)
    assert "lemonade" in desk.get(f"/describe/{name}?page=summary").text, "no summary is made of what cannot be used"
    assert "cannot be used yet" in desk.post(f"/describe/{name}", {"go": "write", "name": name}).text
    assert not (desk.folder / name).exists()
    assert desk.post(f"/describe/{name}", {"go": "forget"}).status == 303
    assert not KeptAnswers(desk.folder / name).path.exists()


def test_no_file_is_replaced_unasked(desk: AtWork) -> None:
    """The summary says so, and what was there stays until somebody ticks that it may go."""
    name, whole = "there.toml", ["", "", ""]
    (desk.folder / name).write_text("# mine\n", encoding="utf-8")
    for page, numbers in _pages(desk.folder / "parts_demo" / "catalog"):
        _sent(desk, name, page, [""] * 30, numbers)
    refused = desk.post(f"/describe/{name}", {"go": "write", "name": name})
    assert "is there already" in unescape(refused.text)
    assert (desk.folder / name).read_text(encoding="utf-8") == "# mine\n"
    assert KeptAnswers(desk.folder / name).read()[:3] == tuple(whole)
    was = desk.get(f"/describe/{name}?page=summary").text.partition('name="was" value="')[2].partition('"')[0]
    (desk.folder / name).write_text("# mine, changed\n", encoding="utf-8")
    (desk.folder / "other.toml").write_text("# another\n", encoding="utf-8")
    ticked = {"go": "write", "replace": "yes", "was": was}
    assert "was changed since this page was made" in desk.post(f"/describe/{name}", {**ticked, "name": name}).text
    assert "is there already" in desk.post(f"/describe/{name}", {**ticked, "name": "other.toml"}).text
    assert (desk.folder / "other.toml").read_text(encoding="utf-8") == "# another\n"
    assert (desk.folder / name).read_text(encoding="utf-8") == "# mine, changed\n"
    assert desk.post(f"/describe/{name}", {"go": "write", "name": "instead.toml"}).headers["location"] == "/tank/instead.toml"
    assert 'name = "instead"' in (desk.folder / "instead.toml").read_text(encoding="utf-8")
    for page, numbers in _pages(desk.folder / "parts_demo" / "catalog"):
        _sent(desk, name, page, [""] * 30, numbers)
    was = desk.get(f"/describe/{name}?page=summary").text.partition('name="was" value="')[2].partition('"')[0]
    assert desk.post(f"/describe/{name}", {**ticked, "was": was, "name": name}).headers["location"] == f"/tank/{name}"
    assert 'name = "there"' in (desk.folder / name).read_text(encoding="utf-8")
    for each in (name, "instead.toml", "other.toml"):
        (desk.folder / each).unlink()


def test_two_windows_lose_nothing(desk: AtWork) -> None:
    """Whoever sends second is shown both answers, and nothing is replaced before that was seen."""
    name = "two_windows.toml"
    both = [_seen(desk, name, 0)] * 2
    fields = {"page": "0", "q1": "", "q2": ""}
    assert desk.post(f"/describe/{name}", {**fields, "q0": "mine", "seen": both[0]}).status == 303
    second = desk.post(f"/describe/{name}", {**fields, "q0": "theirs", "seen": both[1]}).text
    assert 'value="theirs"' in second
    assert "Meanwhile there was answered: mine" in second
    assert KeptAnswers(desk.folder / name).read()[0] == "mine"
    seen = second.partition('name="seen" value="')[2].partition('"')[0]
    assert desk.post(f"/describe/{name}", {**fields, "q0": "theirs", "seen": seen}).status == 303
    assert KeptAnswers(desk.folder / name).read()[0] == "theirs"
    desk.post(f"/describe/{name}", {"go": "forget"})


@pytest.mark.parametrize(
    "name", ["", " ", "../out", "a/../../out", ".hidden", "/etc/x", "none/such", "-x", "a\0b", "x" * 200, "a\nb"]
)
def test_a_name_that_no_file_here_can_have_is_said_beside_its_field(desk: AtWork, name: str) -> None:
    """Nothing is begun for it, and it stands there again."""
    before = sorted(desk.folder.rglob("*"))
    reply = desk.post("/describe", {"name": name})
    assert reply.status == 200
    assert 'id="name-wrong"' in reply.text
    assert desk.get(f"/describe/{quote(name, safe='')}").status in (200, 404)
    assert sorted(desk.folder.rglob("*")) == before


def test_the_form_works_without_scripts(desk: AtWork, opened: Callable[..., Any]) -> None:
    """Each page is kept when it is sent, and going back shows what was typed."""
    tab = opened(desk, "/describe", 800, scripts=False)
    tab.fill("#name", "no_scripts")
    tab.locator("button", has_text="Begin").click()
    tab.fill("#q1", "60 l")
    tab.locator("button.first").click()
    tab.fill("#q3", "400 l/h")
    tab.locator("button", has_text="Back").click()
    assert tab.input_value("#q1") == "60 l"
    assert KeptAnswers(desk.folder / "no_scripts.toml").read() == ("", "60 l", "", "400 l/h", "", "")
    desk.post("/describe/no_scripts.toml", {"go": "forget"})


def test_hostile_texts_are_inert_in_every_field(desk: AtWork, opened: Callable[..., Any]) -> None:
    """They are shown as they were typed, run nothing, and an interview that holds them is still kept."""
    name = "hostile.toml"
    for page, numbers in _pages(desk.folder / "parts_demo" / "catalog"):
        text = HOSTILE[page % len(HOSTILE)]
        reply = _sent(desk, name, page, [text] * 30, numbers)
        assert "<script>alert" not in reply.text
        assert "<img" not in reply.text
        assert "\u202e" not in re.sub(r'value="[^"]*"', "", reply.text), "only in its field a text stays as it was typed"
    assert len(KeptAnswers(desk.folder / name).read()) == 19
    tab = opened(desk, "/describe", 390)
    for page in range(len(HOSTILE)):
        tab.goto(f"{desk.origin}/describe/{name}?page={page}")
        assert tab.evaluate("document.documentElement.scrollWidth") <= 390
    desk.post(f"/describe/{name}", {"go": "forget"})

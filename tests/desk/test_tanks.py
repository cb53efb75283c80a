"""The first page: a card for every tank of the folder, with what the commands say of it."""

import re
import time
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from desk_at_work import HALF, LOGGED_RIG, RIGS, AtWork, at_work
from how_many import some_of

from optimizer import api
from optimizer.report.ageing_text import is_dirty
from optimizer.report.diagnose_text import clean_first_words
from optimizer.report.html.quantities import NBSP
from optimizer.report.layout import GLUE
from optimizer.report.log_text import due_words
from optimizer.report.measures import system

HOSTILE = "<script>alert(1)</script>\"'\\u202e" + "a" * 10_000
CARDS = [each for each in (*RIGS[HALF + 1 :], *RIGS[: HALF + 1]) if not each.startswith(LOGGED_RIG)]
QUICK = f"parts_demo/rigs/{CARDS[0]}.toml"
LOGGED = f"parts_demo/rigs/{LOGGED_RIG}.toml"
LOG = "parts_demo/logs/reading_corner_130.log"
WAIT_S = 60.0


def _card(desk: AtWork, rig: str) -> str:
    """What stands on the card of a rig, once it is worked out."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        reply = desk.get(f"/glance/{rig}")
        if reply.status != 204:
            return unescape(reply.text)
    raise AssertionError(f"{rig} is not worked out")


def _numbers(card: str) -> list[float]:
    return [float(value) for value in re.findall(r'<data value="([^"]+)"', card)]


def test_every_rig_of_the_folder_is_on_the_first_page(desk: AtWork) -> None:
    """Each leads to its own page under the name that its file gives it, the keeper's own before a shop's; its log is linked."""
    text = unescape(desk.get("/").text)
    for rig in sorted((desk.folder / "parts_demo" / "rigs").glob("*.toml")):
        assert f'href="/tank/parts_demo/rigs/{rig.name}"' in text
    assert ">Gouramis in the bookcase</a>" in text
    assert f'href="/log/{LOGGED}"' in text
    assert (
        text.index(">parts_demo/rigs<") < text.index(">parts_demo/households/long_tank<") < text.index(">parts_demo/shops/tanks<")
    )


@pytest.mark.parametrize("name", some_of(CARDS, len(RIGS)))
def test_a_card_says_what_the_commands_say(desk: AtWork, name: str) -> None:
    """Flows are those of `ageing`, and the next step is a sentence of `diagnose` where that says to clean first."""
    path = f"parts_demo/rigs/{name}.toml"
    rig = api.read_rig(desk.folder / path, api.read_catalog(desk.folder / "parts_demo" / "catalog"))
    told, found = api.ageing(rig), api.diagnose(rig)
    first, card = told.rows[0], _card(desk, path)
    expected = [first.undone_m3s, *([first.flow_m3s] if is_dirty(told) else [])]
    assert _numbers(card)[: len(expected)] == expected
    assert not found.calibrated.clean_first or clean_first_words(found.calibrated).replace(GLUE, NBSP) in card


def test_a_card_with_a_log_says_what_that_says(desk: AtWork) -> None:
    """The last fill and the next cleaning are those of `log`; the day is past, and the card says so."""
    catalog, log = api.read_catalog(desk.folder / "parts_demo" / "catalog"), desk.folder / LOG
    book = api.log(log, rig=api.read_rig(desk.folder / LOGGED, catalog))
    last = next(line for line in reversed(book.lines) if line.flow_m3s)
    card = _card(desk, LOGGED)
    assert _numbers(card)[-1] == last.flow_m3s
    assert f"l/h</data>, {last.date}" in card
    assert book.next is not None
    assert due_words(book.next, system("metric")).replace(GLUE, NBSP) in card
    assert "That day is past" in card


def test_a_broken_file_says_what_is_wrong_and_leads_to_its_text(desk: AtWork) -> None:
    """The problems are those that a command lists; hostile names and texts in them run nothing."""
    name = "broken_<b>.toml"
    text = (desk.folder / QUICK).read_text(encoding="utf-8").replace('volume = "54 l"', 'volume = "54"')
    assert 'volume = "54"' in text
    head = f"name = '''{HOSTILE}'''\n"
    (desk.folder / name).write_text(head + re.sub(r"(?m)^name = .*\n", "", text, count=1), encoding="utf-8")
    try:
        page = desk.get("/").text
        assert "<b>.toml" not in page
        assert "<script>alert" not in page
        card = desk.get(f"/glance/{name.replace('<', '%3C').replace('>', '%3E')}").text
        assert "has no unit" in card
        assert 'href="/file/broken_%3Cb%3E.toml"' in card
        assert "<script>alert" not in card
    finally:
        (desk.folder / name).unlink()


def test_without_scripts_the_page_fills_itself(desk: AtWork, opened: Callable[..., Any]) -> None:
    """It comes again by itself until all is known; what is known by then stands on it."""
    _card(desk, "parts_demo/rigs/barbs_96.toml")
    tab = opened(desk, "/", 800, scripts=False)
    assert tab.locator("noscript meta").count() == 1
    assert tab.locator(".card").first.locator("dl.facts").count() == 1


def test_first_page_in_a_browser(desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]) -> None:
    """It says nothing on the console, nothing sticks out, and everybody can use it."""
    tab = opened(desk, "/", 390)
    assert tab.locator("h1").inner_text() == "Tanks"
    assert grave_faults(tab) == []
    for width in (390, 800, 1400):
        tab.set_viewport_size({"width": width, "height": 900})
        assert tab.evaluate("document.documentElement.scrollWidth") <= width


def test_an_empty_folder_offers_the_demo_as_the_command_writes_it(tmp_path: Path) -> None:
    """Nothing that is there is replaced; the demo is whole."""
    with at_work(tmp_path) as desk:
        page = desk.get("/").text
        assert 'href="/describe"' in page
        assert 'href="/shop"' in page
        assert desk.post("/demo", {}).status == 303
        source = Path(__file__).parents[2] / "parts_demo"
        for path in (path for part in ("catalog", "rigs", "logs") for path in (source / part).rglob("*") if path.is_file()):
            assert (tmp_path / "parts_demo" / path.relative_to(source)).read_bytes() == path.read_bytes()
        again = desk.post("/demo", {})
        assert "is there already" in again.text
        assert 'action="/demo"' not in desk.get("/").text

"""The bucket and the watch, what was there before and after the work, and the log: what is shown and what is written."""

import json
import re
import secrets
import shutil
import tomllib
from collections import Counter
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from desk_at_work import AtWork

from optimizer import cli
from optimizer.measure import log as log_file

CORNER = "parts_demo/rigs/reading_corner_130"
CATALOG = "parts_demo/catalog"
MARKED = "</option><script>alert(1)</script>\"'{{7*7}}\\"
HOSTILE = "</option></script><script>alert(1)</script>\"'`{{7*7}}\u202e\\ " + "x" * 10_000

Open = Callable[..., Any]


def _own(desk: AtWork, name: str) -> str:
    """A tank that only one test writes."""
    place = f"measured/{name}.toml"
    (desk.folder / "measured").mkdir(exist_ok=True)
    shutil.copy(desk.folder / "parts_demo/rigs/nano_60.toml", desk.folder / place)
    desk.post("/choose", {"catalog": CATALOG, "units": "metric"})
    return place


def _words(page: str) -> Counter[str]:
    """All words of a page."""
    main = page.partition("<main")[2].partition("</main>")[0]
    return Counter(unescape(re.sub("<[^>]*>", " ", main)).replace("\u00a0", " ").split())


def _answered(desk: AtWork, path: str) -> str:
    """A page once all of its questions are answered."""
    for _ in range(100):
        page = desk.get(path).text
        keys = re.findall(r'data-events="(/asked/[0-9a-f]+/events)"', page)
        if not keys:
            return page
        desk.get(keys[0])  # lasts until it is answered
    raise AssertionError("it is never answered")


def _printed(desk: AtWork, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> Counter[str]:
    """All words that a command prints below its title, but for the marks of lists."""
    monkeypatch.chdir(desk.folder)
    monkeypatch.setenv("COLUMNS", "250")
    assert cli.main([*words, "--catalog", CATALOG]) == 0
    found = Counter(capsys.readouterr().out.partition("\n")[2].split())
    del found["-"]
    return found


def _fill(rig: str, **more: str) -> dict[str, str]:
    """The form of a fill, as a browser without scripts would send it."""
    plain = {"volume": "2 l", "seconds": "61.20, 60.8", "mark": "", "container": "", "mouth": "at", "height": "", "watts": ""}
    return {"once": secrets.token_hex(8), **plain, "date": "2026-03-01", "into": rig, **more}


def test_page_says_all_that_the_commands_say(
    desk: AtWork, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every word and number that measure, diagnose, verify, log and ageing print for the same files is on the page."""
    desk.post("/choose", {"catalog": CATALOG, "units": "metric"})
    before, after, log = f"{CORNER}.toml", f"{CORNER}_after.toml", "parts_demo/logs/reading_corner_130.log"
    cases: list[tuple[str, list[tuple[str, ...]]]] = [
        (f"/measure/{before}", [("measure", before, "--log", log), ("diagnose", before, "--log", log, "--today")]),
        (
            f"/measure/{before}?signs=rattle&watts=9",
            [("diagnose", before, "--log", log, "--signs=rattle", "--watts=9", "--today")],
        ),
        (f"/verify/{before}", [("verify", before, after)]),
        (f"/log/{after}?ageing=1", [("log", log, "--rig", after), ("ageing", after, "--log", log)]),
    ]
    for path, commands in cases:
        shown = _words(_answered(desk, path))
        for words in commands:
            assert _printed(desk, capsys, monkeypatch, *words) - shown == Counter(), words


def test_fill_goes_into_the_rig_file_as_it_was_typed(desk: AtWork) -> None:
    """Without scripts: all else in the file stays, a form that is sent twice enters one fill, and what is wrong is told beside
    its field with all that was typed still there."""
    rig = _own(desk, "typed")
    old = (desk.folder / rig).read_text()
    assert 'name="once"' in desk.get(f"/measure/{rig}").text
    sent = _fill(rig, mouth="above", height="3 cm", watts="7.5", state="guard off", container=MARKED)
    assert [desk.post(f"/measure/{rig}", sent).status for _ in range(2)] == [303, 303]
    new = (desk.folder / rig).read_text()
    assert new.startswith(old) and "seconds = [61.20, 60.8]" in new
    (fill,) = tomllib.loads(new)["fill"]
    assert fill == {
        "date": "2026-03-01", "volume": "2 l", "container": MARKED, "above_water": "3 cm", "state": "guard off",
        "seconds": [61.2, 60.8], "watts": "7.5 W",
    }  # fmt: skip

    wrong = _fill(rig, volume="two cups", seconds="61,,", mark=HOSTILE, height="5 cm", mouth="below", date="2999-01-01")
    told = desk.post(f"/measure/{rig}", wrong)
    assert told.status == 422 and (desk.folder / rig).read_text() == new
    for name in ("volume", "seconds", "mark", "date"):
        assert re.search(rf'id="{name}"[^>]*aria-invalid="true"', told.text), name
    assert 'value="two cups"' in told.text and '<option value="below" selected>' in told.text
    assert "--volume" not in told.text and "<script>alert" not in told.text

    for part in ("volume", "seconds", "mark", "container", "height", "watts", "date", "state", "into", "mouth"):
        answer = desk.post(f"/measure/{rig}", _fill(rig, **{"mouth": "above", "height": "1 cm", part: HOSTILE}))
        assert answer.status in (303, 403, 422) and "<script>alert" not in answer.text, part
    assert all(tomllib.loads((desk.folder / rig).read_text()))


def test_log_is_only_ever_added_to(desk: AtWork, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Fills, cleanings, changes and watts are entered once each; what is empty or wrong is refused; the page shows all of it."""
    rig = _own(desk, "logged")
    log = rig.replace(".toml", ".log")
    assert "There is no log yet" in desk.get(f"/log/{rig}").text
    assert desk.post(f"/measure/{rig}", _fill(rig, into=log, watts="7.5")).status == 303
    entries = (
        ("cleaned", "guard", 303), ("cleaned", "everything", 303), ("changed", MARKED, 303), ("watts", "18", 303),
        ("cleaned", "", 422), ("changed", " ", 422), ("changed", HOSTILE, 422), ("watts", "many", 422), ("cleaned", HOSTILE, 422),
        ("else", "1", 422),
    )  # fmt: skip
    for n, (what, text, status) in enumerate(entries):
        before = (desk.folder / log).read_bytes()
        sent = {"once": f"{n}", "log": log, "what": what, what: text, "date": f"2026-03-0{n + 2}"}
        replies = [desk.post(f"/log/{rig}", sent) for _ in range(2)]
        assert [reply.status for reply in replies] == [status, status], what
        assert all("<script>alert" not in reply.text for reply in replies)
        assert (desk.folder / log).read_bytes().startswith(before)
    found = log_file.read(desk.folder / log)
    assert not found.problems
    assert [entry.kind for entry in found.entries] == ["fill", "watts", "cleaning", "cleaning", "change", "watts"]
    assert found.entries[4].data["what"] == MARKED
    page = _answered(desk, f"/log/{rig}")
    assert "<script>alert" not in page and "<svg" in page
    shown = _words(page)
    monkeypatch.chdir(desk.folder)
    assert cli.main(["log", log, "--rig", rig, "--json"]) == 0
    (fill,) = (line for line in json.loads(capsys.readouterr().out)["lines"] if line["kind"] == "fill")
    assert shown["7.5"] and shown["18"] and f'<data value="{fill["flow_m3s"]!r}">118</data>' in page  # 2 l in 61 s


def test_watch_by_mouse_touch_and_space_key(desk: AtWork, opened: Open) -> None:
    """Under a clock of the test it shows every time to a hundredth of a second, whatever presses it; rounds outlast the page, can
    be struck out, and go into the file unchanged."""
    rig = _own(desk, "watched")
    tab = opened(desk, f"/measure/{rig}", 390, has_touch=True)
    tab.clock.install(time=1_800_000_000)
    tab.goto(desk.origin + f"/measure/{rig}")
    tab.clock.pause_at(1_800_000_100)
    watch, seconds = tab.locator(".watch"), tab.locator("#seconds")
    _timed(tab, 61_230, lambda: watch.click(), lambda: watch.click())
    _timed(tab, 60_870, lambda: watch.tap(), lambda: watch.tap())
    tab.locator("h1").click()
    _timed(tab, 75_004, lambda: tab.keyboard.press("Space"), lambda: tab.keyboard.press("Space"))
    assert seconds.input_value() == "61.23, 60.87, 75.00"
    watch.focus()
    _timed(tab, 61_498, lambda: tab.keyboard.press("Space"), lambda: tab.keyboard.press("Enter"))
    assert seconds.input_value() == "61.23, 60.87, 75.00, 61.50"
    assert tab.locator(".laps li").count() == 4
    tab.get_by_role("button", name="Strike out: round 3").press("Enter")
    assert seconds.input_value() == "61.23, 60.87, 61.50"
    assert "3 rounds, mean 61.20 s" in tab.locator(".mean").inner_text()
    tab.locator("#volume").fill("2 l")
    tab.clock.run_for(1000)
    watch.click()
    tab.clock.run_for(400)
    tab.reload()  # closed in the middle
    assert seconds.input_value() == "61.23, 60.87, 61.50" and tab.locator("#volume").input_value() == "2 l"
    assert tab.locator(".watch .what").inner_text() == "Stop"
    tab.clock.run_for(9600)
    watch.click()
    assert tab.locator(".laps li").count() == 5
    assert seconds.input_value() == "61.23, 60.87, 61.50, 10.00"
    tab.locator(".laps li button").last.click()
    tab.locator("#into").select_option(rig)
    tab.get_by_role("button", name="Enter this fill").press("Enter")
    tab.locator(".done").wait_for()
    assert tab.locator(".laps li").count() == 0 and seconds.input_value() == ""
    assert "seconds = [61.23, 60.87, 61.50]" in (desk.folder / rig).read_text()


def _timed(tab: Any, ms: int, start: Callable[[], None], stop: Callable[[], None]) -> None:
    tab.clock.run_for(1000)
    start()
    tab.clock.run_for(ms)
    stop()


def test_log_by_the_keys_alone(desk: AtWork, opened: Open) -> None:
    """A cleaning is ticked and entered without a pointer, and the page says so."""
    rig = _own(desk, "keyed")
    tab = opened(desk, f"/log/{rig}", 390)
    _tabbed(tab, "#cleaned-media")
    tab.keyboard.press("Space")
    _tabbed(tab, "button.first")
    tab.keyboard.press("Enter")
    tab.locator(".done").wait_for()
    (entry,) = log_file.read(desk.folder / rig.replace(".toml", ".log")).entries
    assert (entry.kind, entry.data["what"]) == ("cleaning", ["media"])


def _tabbed(tab: Any, selector: str) -> None:
    for _ in range(40):
        tab.keyboard.press("Tab")
        if tab.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"{selector} is not reached by the Tab key")


@pytest.mark.parametrize("path", [f"/measure/{CORNER}.toml", f"/verify/{CORNER}.toml", f"/log/{CORNER}_after.toml?ageing=1"])
def test_pages_at_every_width(
    desk: AtWork, opened: Open, grave_faults: Callable[[Any], list[str]], path: str, tmp_path: Path
) -> None:
    """Nothing has to be scrolled sideways on a phone, a tablet or a screen, everybody can use it, and scripts are not needed."""
    _answered(desk, path)
    tab = opened(desk, path, 390)
    for width in (390, 800, 1400):
        tab.set_viewport_size({"width": width, "height": 900})
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
    assert grave_faults(tab) == []
    plain = opened(desk, path, 390, scripts=False)
    assert plain.locator("#found").text_content() == tab.locator("#found").text_content()
    assert not plain.locator(".watch").is_visible()

"""The page of a tank: its loop drawn with the figures of the command, and changed where it stands."""

import json
import re
import shutil
import tomllib
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from desk_at_work import EVERY, RIGS, AtWork
from how_many import some_of

from optimizer import api
from optimizer.model.route import FORK, RoutePlace

NESTED = Path(__file__).parents[1] / "data" / "nested"
HOSTILE = "<script>alert(1)</script>'\"\\ \u202eback {{ 7 * 7 }}"


def _seen(text: str) -> str:
    """The version of the file that a page was made of."""
    found = re.search(r'name="seen" value="([^"]+)"', text)
    assert found is not None
    return found[1]


def _own(desk: AtWork, name: str, source: str = "nano_60") -> str:
    """A rig file for one test alone."""
    shutil.copy(desk.folder / "parts_demo" / "rigs" / f"{source}.toml", desk.folder / name)
    return name


def _page(desk: AtWork, name: str, more: str = "") -> str:
    """The page of a tank once its loop is worked out."""
    for _ in range(60):
        text = desk.get(f"/tank/{quote(name)}{more}").text
        if "Being worked out" not in text and "being worked out" not in text:
            return text
    raise AssertionError("not worked out in time")


def _heads(route: tuple[RoutePlace, ...]) -> list[float]:
    """The heads of all places that hold something now, as the page shows them."""
    return [each.now.head_m for each in route if each.now.part or each.kind == FORK]


@pytest.mark.parametrize("name", some_of(RIGS, 2 * EVERY))
def test_the_drawing_has_the_figures_of_the_command(desk: AtWork, name: str) -> None:
    """Every head and the flow now and cleaned are those of `fullbore loop`, and those that `best` begins with."""
    path = desk.folder / "parts_demo" / "rigs" / f"{name}.toml"
    told = api.standing_loop(api.read_rig(path, catalog := api.read_catalog(desk.folder / "parts_demo" / "catalog")), catalog)
    text = _page(desk, f"parts_demo/rigs/{name}.toml")
    shown = {float(each) for each in re.findall(r'<data value="([-0-9.e]+)">', text)}
    assert {*_heads(told.route), told.now.flow_m3s, told.spend_nothing.flow_m3s} <= shown
    best = api.best(api.read_rig(path, catalog), catalog)
    assert (told.now, told.spend_nothing) == (best.now, best.spend_nothing)
    assert "It delivers" in text and "<h1>" + told.rig in text


def test_branches_within_branches_stand_side_by_side(desk: AtWork) -> None:
    """Each branch is a list of its own in the item of its place, with the flow that passes it."""
    shutil.copy(NESTED / "forked_outlets.toml", desk.folder / "loop_forked.toml")
    text = _page(desk, "loop_forked.toml")
    assert text.count('class="ways"') == 2
    outer = text.index('id="at-loop.outlets"')
    inner = text.index('id="at-loop.outlets.right.fork"')
    assert outer < inner < text.index('id="at-loop.outlets.right.fork.back.bar"')


def test_an_edited_place_changes_its_lines_only(desk: AtWork) -> None:
    """What was typed as it is said goes to the file, whose other lines and comments stay; the drawing follows."""
    name = _own(desk, "loop_edited.toml", "barbs_96")
    before = (desk.folder / name).read_text("utf-8")
    form = _page(desk, name, "?at=loop.pump")
    fields = {"at": "loop.pump", "seen": _seen(form), "key.worn": "1/8", "key.fouled": "", "key.kind": "pump"}
    wrong = desk.post(f"/tank/{name}", fields)
    assert wrong.status == 422 and 'value="1/8"' in wrong.text and 'class="wrong"' in wrong.text
    assert (desk.folder / name).read_text("utf-8") == before
    assert desk.post(f"/tank/{name}", fields | {"key.worn": "10 %"}).status == 303
    after = (desk.folder / name).read_text("utf-8")
    old, new = before.splitlines(), after.splitlines()
    assert [line for line in old if line not in new] == [
        'fouled = "3 %"',
        'worn = "20 %"               # the vanes are rounded and the bearing has play',
    ]
    assert [line for line in new if line not in old] == [old[old.index('fouled = "3 %"') + 1].replace("20 %", "10 %")]


def test_inches_as_they_are_said(desk: AtWork) -> None:
    """A size in inches is taken as it stands, quotes and all; a bend is a number."""
    name = _own(desk, "loop_inches.toml")
    seen = _seen(_page(desk, name, "?at=loop.return_hose"))
    fields = {"at": "loop.return_hose", "seen": seen, "key.size": '3/8" x 1/2"', "key.bends": "4", "key.length": "4 ft"}
    assert desk.post(f"/tank/{name}", fields).status == 303
    hose = tomllib.loads((desk.folder / name).read_text("utf-8"))["loop"]["return_hose"]
    assert (hose["size"], hose["bends"], hose["length"]) == ('3/8" x 1/2"', 4, "4 ft")


def test_who_saves_second_is_shown_both(desk: AtWork) -> None:
    """Nothing is written then, for a place and for the whole file; what was typed and what stands there are on the page."""
    name = _own(desk, "loop_twice.toml")
    seen = _seen(_page(desk, name, "?at=loop.suction_hose"))
    path = desk.folder / name
    path.write_text(path.read_text("utf-8").replace('length = "1.1 m"', 'length = "1.7 m"'), "utf-8")
    first = desk.post(f"/tank/{name}", {"at": "loop.suction_hose", "seen": seen, "key.length": "2.2 m"})
    assert first.status == 409 and "length = 1.7 m" in first.text and 'value="2.2 m"' in first.text
    mine = path.read_text("utf-8").replace('length = "1.7 m"', 'length = "1.9 m"') + "# \u202e <b> &amp;\n"
    whole = desk.post(f"/file/{name}", {"seen": seen, "text": mine})
    both = [unescape(each) for each in re.findall(r"<textarea[^>]*>\n(.*?)</textarea>", whole.text, re.DOTALL)]
    assert whole.status == 409 and both == [mine, path.read_text("utf-8")]
    assert "1.7 m" in path.read_text("utf-8")
    again = {"at": "loop.suction_hose", "seen": _seen(first.text), "key.length": "2.2 m"}
    assert desk.post(f"/tank/{name}", again).status == 303


def test_the_whole_file_as_text(desk: AtWork) -> None:
    """What is wrong is told with its line and nothing is written; a copy is made under a free name only; it can be downloaded."""
    name = _own(desk, "loop_whole.toml")
    before = (desk.folder / name).read_text("utf-8")
    seen = _seen(desk.get(f"/file/{name}").text)
    bad = before.replace('length = "1.1 m"', 'length = "1.1"')
    told = desk.post(f"/file/{name}", {"seen": seen, "text": bad})
    line = bad[: bad.index('length = "1.1"')].count("\n") + 1
    assert told.status == 422 and f"line {line}" in told.text and "loop.suction_hose.length" in told.text
    broken = desk.post(f"/file/{name}", {"seen": seen, "text": "[tank\n"})
    assert broken.status == 422 and "line 1" in broken.text
    assert (desk.folder / name).read_text("utf-8") == before
    assert desk.post(f"/copy/{name}", {"to": name}).status == 422
    assert desk.post(f"/copy/{name}", {"to": "../loop_out.toml"}).status == 403
    assert desk.post(f"/copy/{name}", {"to": "loop_copy"}).status == 303
    assert desk.get("/file/loop_copy.toml?download=yes").text == before


def test_hostile_texts_stay_texts(desk: AtWork) -> None:
    """In names, keys and forms; what is typed comes back to the letter, however long."""
    name = _own(desk, "loop_hostile.toml")
    path = desk.folder / name
    path.write_text(f"name = {json.dumps(HOSTILE)}\n" + path.read_text("utf-8").split("\n", 5)[5], "utf-8")
    page = _page(desk, name)
    assert "<script>alert" not in page and "49" not in page.partition("<main")[2].partition("</h1>")[0]
    seen = _seen(_page(desk, name, "?at=tank"))
    for typed in (HOSTILE, "x" * 10_000, '"\n[tank2]\na = 1\n"'):
        reply = desk.post(f"/tank/{name}", {"at": "tank", "seen": seen, "key.volume": typed})
        assert reply.status == 422 and "<script>alert" not in reply.text
        assert typed in unescape(reply.text)
    for many in ("a" + ".a" * 40_000 + " = 1\n", f"a = {'9' * 5_000}\n", "a = " + "[" * 3_000):
        path.write_text(many, "utf-8")
        assert "back in the tank" not in _page(desk, name) and desk.get("/").status == 200
        assert desk.get(f"/file/{name}").status == 200
    _own(desk, name)
    for at in (HOSTILE, "loop", "loop.nothing", "fill", "__class__"):
        assert "<script>alert" not in desk.get(f"/tank/{name}?at={quote(at)}").text
        assert desk.post(f"/tank/{name}", {"at": at, "seen": seen, "key.volume": "1 l"}).status == 422


def test_a_place_is_changed_by_mouse_and_by_keyboard(
    desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]
) -> None:
    """In place with scripts, by a plain form without; at no width the page has to be moved sideways."""
    name = _own(desk, "loop_clicked.toml")
    _page(desk, name)
    tab = opened(desk, f"/tank/{name}")
    tab.get_by_role("link", name="return hose").click()
    tab.get_by_label("Length").fill("two metres")
    tab.get_by_role("button", name="Save").click()
    tab.locator("#key-length[aria-invalid=true]").wait_for()
    assert grave_faults(tab) == []
    tab.keyboard.press("Control+A")
    tab.keyboard.type("2 m")
    tab.keyboard.press("Enter")
    tab.get_by_role("status").filter(has_text="Saved").wait_for()
    assert 'length = "2 m"' in (desk.folder / name).read_text("utf-8")
    plain = opened(desk, f"/tank/{name}", 390, scripts=False)
    plain.get_by_role("link", name="strainer").press("Enter")
    plain.locator("#key-blocked").fill("5 %")
    plain.locator("#key-blocked").press("Enter")
    plain.wait_for_url("**saved=**")
    assert 'blocked = "5 %"' in (desk.folder / name).read_text("utf-8")
    _page(desk, name)
    for path in (f"/tank/{name}?at=loop.canister", f"/file/{name}", "/tank/loop_forked.toml"):
        for width in (390, 800, 1400):
            tab.set_viewport_size({"width": width, "height": 900})
            tab.goto(desk.origin + path)
            assert tab.evaluate("document.documentElement.scrollWidth") <= width
        assert grave_faults(tab) == []

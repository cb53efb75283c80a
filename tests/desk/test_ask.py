"""Asking for the upgrade: the answer of the command, what every sum buys, and what belongs to the sum that is chosen."""

import html
import json
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from desk_at_work import EVERY, RIGS, AtWork, Reply
from how_many import some_of

from optimizer import api
from optimizer.cli import main

DEMO = Path(__file__).parents[2] / "parts_demo"
RIG = "parts_demo/rigs/nano_60.toml"
ASK = f"/ask/{RIG}"
WAIT_S = 300.0
HOSTILE = (
    '<script>alert("x")</script>',
    "\"' onfocus=alert(1) x='",
    "a\u202eb\u0000c",
    "{{ 7 * 7 }}{% raw %}",
    "x" * 10_000,
)


def answered(desk: AtWork, path: str) -> Reply:
    """What a page holds once nothing on it is being worked out any more."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        reply = desk.get(path)
        if 'class="far"' not in reply.text and 'class="later" data-from' not in reply.text:
            return reply
        time.sleep(0.1)
    raise AssertionError(f"{path} is not answered")


def values(text: str) -> list[float]:
    """The stored values of all numbers in a piece of a page."""
    return [float(each) for each in re.findall(r'<data value="([^"]+)">', text)]


def rows_of(text: str, table: str) -> list[str]:
    """The rows of the body of a table by its id."""
    return text.partition(f'id="{table}"')[2].partition("</tbody>")[0].partition("<tbody>")[2].split("<tr")[1:]


@pytest.mark.parametrize("name", some_of(RIGS, EVERY))
def test_every_number_of_the_sums_and_the_ladder_is_that_of_the_answers(desk: AtWork, name: str) -> None:
    """Every point of the front stands there, but that of the price of the advised step, for which that step stands."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(str(DEMO / "rigs" / f"{name}.toml"), catalog)
    front, best = api.front(rig, catalog, budget=10_000), api.advise(rig, catalog, budget=10_000)
    text = answered(desk, f"/ask/parts_demo/rigs/{name}.toml?budget=100").text
    assert best.best is not None and best.advice is not None
    points = [each for each in front.points if each.price != best.best.price]
    expected = sorted(
        [float(each.price), each.flow_m3s, each.turnover_per_hour, each.noise_dba, each.power_w] for each in (*points, best.best)
    )
    found = [values(row) for row in rows_of(text, "sum-rows")]
    assert [[*row[:3], *row[4:]] for row in found] == expected
    most = max(row[1] for row in expected)
    assert [row[3] for row in found] == [row[1] / most for row in expected]
    steps = [[each.row.price, each.row.flow_m3s, each.row.turnover_per_hour] for each in best.advice.steps]
    assert [values(row)[:3] for row in rows_of(text, "ladder-rows")] == steps
    assert sum("advised" in row for row in rows_of(text, "sum-rows")) == 1


def test_the_bill_of_a_chosen_sum_is_that_of_the_most_it_buys(desk: AtWork) -> None:
    """The line for a terminal that asks for the same, the products and the prices of its bill."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(str(DEMO / "rigs" / "nano_60.toml"), catalog)
    most = api.advise(rig, catalog, budget=2850, most=True)
    text = answered(desk, f"{ASK}?budget=100&sum=28.50").text
    rows = rows_of(text, "bill-rows")
    assert [values(row)[-1] for row in rows] == [line.price for line in most.bill]
    assert all(html.escape(line.name) in row for line, row in zip(most.bill, rows, strict=True))
    assert all('type="checkbox"' in row for row in rows)
    assert text.index('id="cautions"') < text.index('id="work"')
    assert f'href="{ASK}?budget=100"' in text


def test_parts_of_an_answer_are_pages_of_their_own(desk: AtWork) -> None:
    """Buying order, why a part is not in it, and the bill as a file, which holds what the command writes."""
    asked = "?budget=100&sum=13.14"
    order = answered(desk, f"{ASK}/part/order{asked}").text
    assert "When the money comes bit by bit" in order
    assert "\\n" not in order
    why = answered(desk, f"{ASK}/part/why{asked}&why=PUMP-300NA").text
    assert "PUMP-300NA" in why.partition("<pre>")[2]
    files = answered(desk, f"{ASK}/part/files{asked}").text
    link = re.search(r'href="(/taken/[0-9a-f]+/csv)"', files)
    assert link is not None
    taken = desk.get(link[1])
    assert taken.headers["content-disposition"] == 'attachment; filename="bill.csv"'
    assert "HOSE-12-16" in taken.text
    assert desk.get(f"{ASK}/part/nothing{asked}").status == 404


def test_least_money_for_a_flow_and_what_cannot_be(desk: AtWork) -> None:
    """A flow asks for the cheapest; one that is out of reach explains itself, with no bill."""
    text = answered(desk, f"{ASK}?flow=220+l%2Fh&budget=100").text
    assert "fullbore cheapest" in text
    assert "Cheapest: " in text
    none = answered(desk, f"{ASK}?flow=9000+l%2Fh").text
    assert "Closest" in none or "cannot hold together" in none
    assert 'id="bill"' not in none


def test_what_is_wrong_stands_beside_its_field(desk: AtWork) -> None:
    """What was typed stays, and nothing is asked."""
    reply = answered(desk, f"{ASK}?budget=much&interval=1")
    assert reply.status == 422
    assert 'value="much"' in reply.text
    assert "is not an amount of money" in reply.text.partition('name="flow"')[0]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_are_inert_in_every_field(desk: AtWork, text: str) -> None:
    """None comes back as anything but text, none of them ends in a fault of the desk."""
    for field in ("budget", "interval", "log", "sum"):
        reply = answered(desk, f"{ASK}?{urlencode({field: text})}")
        assert reply.status == (200 if field == "sum" else 422), field
        assert "<script>alert" not in reply.text and "' onfocus" not in reply.text
    for path, fields in ((f"{ASK}/after?budget=100", {"place": text, "seen": "absent"}), ("/say/columns", {"about": text})):
        reply = desk.post(path, fields)
        reply = answered(desk, reply.headers["location"]) if reply.status == 303 else reply
        assert reply.status in (200, 403, 422), path
        assert "<script>alert" not in reply.text


def test_the_tank_after_the_work_is_written_once(desk: AtWork, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is what the command writes; over a file that was changed meanwhile nothing is written, and both are shown."""
    place, path = "parts_demo/rigs/asked_after.toml", f"{ASK}/after?budget=100&sum=13.14"
    assert "Written:" in desk.post(path, {"place": place, "seen": "absent"}).text
    written = (desk.folder / place).read_text(encoding="utf-8")
    out = tmp_path / "after.toml"
    rig, catalog = str(DEMO / "rigs" / "nano_60.toml"), str(DEMO / "catalog")
    main(["best", rig, "--catalog", catalog, "--budget", "13.14", "--most", "--after", str(out)])
    capsys.readouterr()
    assert written == out.read_text(encoding="utf-8")
    (desk.folder / place).write_text("# mine", encoding="utf-8")
    again = desk.post(path, {"place": place, "seen": "absent"})
    assert again.status == 409
    assert "# mine" in again.text and "it is to deliver" in again.text
    assert (desk.folder / place).read_text(encoding="utf-8") == "# mine"
    assert desk.post(path, {"place": "../x.toml", "seen": "absent"}).status == 422
    (desk.folder / place).unlink()


def test_a_stopped_search_shows_what_it_has(desk: AtWork) -> None:
    """The button ends it, the page says so, and offers to work it out to the end."""
    path = "/ask/parts_demo/rigs/ricefish_160.toml?budget=287&interval=90d"
    reply = desk.get(path)
    key = re.search(r'action="/asked/([0-9a-f]+)/stop"', reply.text)
    assert key is not None
    stopped = desk.post(f"/asked/{key[1]}/stop", {"back": path})
    assert stopped.headers["location"] == path
    text = answered(desk, path).text
    assert "This was stopped before it was worked out to the end." in text


def test_every_command_has_a_form_that_answers(desk: AtWork) -> None:
    """The same as at a terminal, as text and as JSON; a file outside the folder is refused beside its field."""
    listed = desk.get("/say").text
    names = re.findall(r'href="/say/([a-z]+)"', listed)
    assert {"best", "ageing", "stock", "compare", "log", "plot"} <= set(names)
    assert not {"desk", "help", "new"} & set(names)
    for name in names:
        assert desk.get(f"/say/{name}").status == 200
    asked = desk.post("/say/ageing", {"rig": RIG, "days": "30"})
    text = answered(desk, asked.headers["location"]).text
    assert "fullbore ageing parts_demo/rigs/nano_60.toml --days 30" in text
    assert 'value="30"' in text
    link = re.search(r'href="(/taken/[0-9a-f]+/json)"', text)
    assert link is not None
    assert json.loads(desk.get(link[1]).text)["schema"].startswith("fullbore-ageing/")
    logged = answered(desk, desk.post("/say/log", {"file": "asked.log", "cleaned": "everything"}).headers["location"])
    assert "everything" in (desk.folder / "asked.log").read_text(encoding="utf-8")
    assert logged.status == 200
    (desk.folder / "asked.log").unlink()
    outside = answered(desk, desk.post("/say/ageing", {"rig": "../secret.toml"}).headers["location"])
    assert outside.status == 422
    assert "is no name of a file of this folder" in outside.text


def test_what_is_said_of_several_tanks_hangs_on_each_of_them(desk: AtWork) -> None:
    """A tank of a household that was changed is worked out anew: the same words have another answer."""
    rig, house = desk.folder / "asked_tank.toml", desk.folder / "asked_house.toml"
    rig.write_bytes((desk.folder / RIG).read_bytes())
    house.write_text('name = "One"\n[[tank]]\nname = "desk"\n[[tank.filter]]\nname = "it"\nrig = "asked_tank.toml"\n', "utf-8")
    keys = []
    for noise in ("32 dB(A)", "33 dB(A)"):
        rig.write_text(rig.read_text(encoding="utf-8").replace("32 dB(A)", noise), encoding="utf-8")
        keys.append(desk.post("/say/share", {"household": house.name, "budget": "0"}).headers["location"])
    assert keys[0] != keys[1]
    rig.unlink()
    house.unlink()


def test_slider_in_a_browser(desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]) -> None:
    """Moving it shows at once, without a request, what a sum buys; then comes the bill. Ticks are kept. Nothing is wider than
    the page, by mouse, finger or keyboard, and everybody can use it."""
    tab = opened(desk, f"{ASK}?budget=100", 1400)
    slide = tab.locator("#slide")
    slide.wait_for()
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    moved = tab.evaluate(
        "() => { const slide = document.querySelector('#slide'); slide.value = 4; slide.dispatchEvent(new Event('input'));"
        " return [document.querySelector('.chosen-sum [data-k=price]').textContent, slide.getAttribute('aria-valuetext')] }"
    )
    assert asked == []
    assert moved[0].split() == ["13.14", "EUR"]
    assert moved[1].replace("\xa0", " ").startswith("13.14 EUR: 229 l/h")
    tab.locator("#bundle h2", has_text="For 13.14").wait_for()
    slide.focus()
    tab.keyboard.press("ArrowLeft")
    tab.locator("#bundle h2", has_text="For 12.50").wait_for()
    assert "sum=12.50" in tab.url
    tab.locator('#bill-rows input[type="checkbox"]').first.check()
    tab.reload()
    tab.locator("#slide").wait_for()
    tab.locator("#bill-rows").wait_for()
    assert tab.locator('#bill-rows input[type="checkbox"]').first.is_checked()
    assert tab.locator("#slide").input_value() == "3"
    tab.locator('details[data-part="why"] summary').click()
    tab.locator("#why-parts").fill("PUMP-300NA")
    tab.keyboard.press("Enter")
    tab.locator('details[data-part="why"] pre', has_text="PUMP-300NA").wait_for()
    for width in (390, 800, 1400):
        tab.set_viewport_size({"width": width, "height": 900})
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.evaluate("document.querySelectorAll('details[data-from]').forEach(each => each.remove())")
    assert grave_faults(tab) == []


def test_forms_without_scripts(desk: AtWork, opened: Callable[..., Any]) -> None:
    """Asked with the keyboard alone; sums are links, and what is folded too."""
    tab = opened(desk, ASK, 390, scripts=False)
    tab.locator("#field-budget").fill("100")
    tab.keyboard.press("Enter")
    tab.locator("#ladder-rows").wait_for(timeout=30_000)
    for _ in range(40):  # whatever is not there yet has a link
        if tab.locator("#sum-rows").count():
            break
        tab.wait_for_timeout(250)
        tab.reload()
    tab.locator("summary", has_text="All sums as a table").click()
    tab.locator("#sum-rows a", has_text="13.14").click()
    for _ in range(40):
        if tab.locator("#bill-rows").count():
            break
        tab.wait_for_timeout(250)
        tab.reload()
    assert "13.14" in tab.locator("#bill-rows tfoot").inner_text()
    tab.locator("summary", has_text="Why a part").click()
    tab.locator('details[data-part="why"] a').click()
    assert tab.locator("#why-parts").count() == 1

"""Several tanks, and the shop: the numbers are those of the commands, forms work without scripts, nothing typed is lost."""

import json
import re
import time
import urllib.request
from collections.abc import Callable
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import quote, unquote

import pytest
from demo import DEMO, small_shop
from desk_at_work import AtWork, Reply

from optimizer import api
from optimizer.cli import main
from optimizer.desk.desk import environment

NASTY = "<script>alert(1)</script>\"'&{{ 7*7 }}\u202e"
MADE = "parts_demo/made/"
"""Catalogs of these tests: not the first that a desk finds, since others ask that."""

SHEET = DEMO / "sheets" / "price_list.csv"
HOUSE = "parts_demo/households/fish_room.toml"


def answered(desk: AtWork, path: str, within_s: float = 90.0) -> str:
    """What a page holds once nothing on it is being worked out any more."""
    until = time.monotonic() + within_s
    while 'class="far"' in (text := desk.get(path).text):
        assert time.monotonic() < until
        time.sleep(0.2)
    return text


def numbers(text: str, table: str) -> list[float]:
    """The stored values in a table of a page."""
    found = re.search(rf'<table[^>]*id="{table}".*?</table>', text, re.S)
    assert found is not None, table
    return [float(value) for value in re.findall(r'<data value="([^"]+)"', found[0])]


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    """The JSON of a command."""
    main([*words, "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def uploaded(desk: AtWork, name: str, content: bytes, into: str) -> Reply:
    """What comes of a file that is chosen in the form."""
    mark = "a-mark-that-is-nowhere-else"
    lines = []
    for field, value in (("token", desk.token), ("into", into)):
        lines.append(f'--{mark}\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n{value}\r\n'.encode())
    head = f'--{mark}\r\nContent-Disposition: form-data; name="sheet"; filename="{name}"\r\nContent-Type: text/csv\r\n\r\n'
    body = b"".join(lines) + head.encode() + content + f"\r\n--{mark}--\r\n".encode()
    headers = {"Origin": desk.origin, "Content-Type": f"multipart/form-data; boundary={mark}"}
    return desk._asked(urllib.request.Request(desk.origin + "/sheets", body, headers))


def there(reply: Reply) -> str:
    """Where an answer leads."""
    assert reply.status == 303, reply.text
    return next(value for name, value in reply.headers.items() if name.casefold() == "location")


def hidden(text: str) -> dict[str, str]:
    """The hidden fields of a page but for its token."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', text)
    return {unescape(name): unescape(value) for name, value in found if name not in ("token", "back")}


@pytest.fixture(scope="module")
def kits_page(desk: AtWork) -> str:
    """The address of the kits of a shop that takes no time."""
    text = small_shop(60, 1).replace(str(DEMO), "parts_demo")
    (desk.folder / "quick_shop.toml").write_text(text, encoding="utf-8")
    return "/kits/quick_shop.toml"


# -- several tanks ----------------------------------------------------------------------------------------------------


def test_household_says_what_the_command_says(desk: AtWork, capsys: pytest.CaptureFixture[str]) -> None:
    """Flows, wishes, bill and the three aims side by side, and the same files to keep."""
    house = desk.folder / "two.toml"
    tanks = [("desk", "nano_60", "200 l/h"), ("shelf", "gouramis_54", "100 l/h")]
    rows = "".join(f'[[tank]]\nname = "{n}"\nrig = "parts_demo/rigs/{rig}.toml"\nflow = "{flow}"\n' for n, rig, flow in tanks)
    house.write_text(f'name = "Two"\nbudget = "12"\n{rows}', encoding="utf-8")
    text = answered(desk, "/household/two.toml?aims=1")
    body = said(capsys, "share", str(house), "--catalog", str(DEMO / "catalog"), "--all-aims")
    keys = ("now_m3s", "flow_m3s", "target_m3s", "share", "noise_dba", "power_w")
    assert numbers(text, "tank-table") == [tank[key] for tank in body["tanks"] for key in keys]
    assert numbers(text, "shared-bill")[-1] == body["price"] and body["price"] > 0
    flows = [[tank["target_m3s"], *(row["flows_m3s"][n] for row in body["aims"])] for n, tank in enumerate(body["tanks"])]
    assert len(body["aims"]) == 3
    assert numbers(text, "three-aims")[: 4 * len(tanks)] == [value for row in flows for value in row]
    aged = said(capsys, "ageing", str(DEMO / "rigs" / "nano_60.toml"), "--catalog", str(DEMO / "catalog"))["rows"][0]
    until = time.monotonic() + 60.0
    while "Not all flows are known yet" in text and time.monotonic() < until:
        text = desk.get("/household/two.toml?aims=1").text
    assert numbers(text, "household-table")[:3] == [aged["undone_m3s"], aged["flow_m3s"], body["tanks"][0]["target_m3s"]]
    kept = desk.get("/household-file/two.toml?aims=1&as=csv")
    assert (
        kept.status == 200 and "attachment" in kept.headers["content-disposition"] and kept.text.startswith("\ufeffproduct,name")
    )
    page = desk.get("/household-file/two.toml?aims=1&as=html")
    assert "Shopping list for all tanks" in page.text and "style-src 'sha256-" in page.headers["content-security-policy"]
    more = answered(desk, "/household/two.toml?budget=1&aim=flow")
    said_again = said(capsys, "share", str(house), "--catalog", str(DEMO / "catalog"), "--budget", "1", "--objective", "flow")
    assert numbers(more, "tank-table") == [tank[key] for tank in said_again["tanks"] for key in keys]


def test_new_household_is_read_before_it_is_written(desk: AtWork) -> None:
    """What is wrong is listed, nothing typed is lost and nothing is written; then it is, and the reader takes it."""
    rig = "parts_demo/rigs/nano_60.toml"
    typed = {
        "name": f"My room {NASTY}",
        "budget": "20",
        "room-1": "study",
        "noise-1": "36",
        f"in:{rig}": "1",
        f"room:{rig}": "study",
    }
    before = set(desk.folder.rglob("*"))
    reply = desk.post("/households", {**typed, f"flow:{rig}": "200"})
    assert reply.status == 422 and "has no unit" in reply.text
    assert "<script>alert" not in reply.text and "My room &lt;script&gt;" in reply.text and 'value="200"' in reply.text
    assert set(desk.folder.rglob("*")) == before
    fine = {**typed, "name": typed["name"].rstrip("\u202e"), "noise-1": "36 dB(A)", f"flow:{rig}": "200 l/h"}
    name = unquote(there(desk.post("/households", fine)).removeprefix("/household/"))
    found = api.read_household(desk.folder / name, api.read_catalog(DEMO / "catalog"))
    assert found.budget == 2000 and found.rooms[0].noise_dba == 36.0 and found.tanks[0].room == "study"
    again = desk.post("/households", fine)
    assert again.status == 409 and "is there already" in again.text
    assert "<script>alert" not in desk.get("/households").text


@pytest.mark.parametrize(
    ("far", "said"),
    [
        ({}, "Being worked out<"),
        ({"best": "83.5 %", "most": "100.0 %"}, ": best so far 83.5 %, bound 100.0 %<"),
        ({"done": 4, "of": 45, "what": "tanks"}, ": 4 of 45 tanks<"),
    ],
)
def test_how_far_a_question_is_stands_on_the_page_without_scripts(far: dict[str, object], said: str) -> None:
    """The best so far and what bounds it, or how many of many."""
    job = SimpleNamespace(key="a", far=far)
    text = environment().get_template("far.html").render(job=job, token="", here="/")
    assert said in text.replace('<span class="how">', "")


# -- the shop's sheet ---------------------------------------------------------------------------------------------------


def test_sheet_is_matched_once_and_written_whole(desk: AtWork, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The way of a shop by forms alone: bring in, look, answer, write; the catalog is the one that the command writes."""
    look = there(uploaded(desk, "C:\\lists\\prices.csv", SHEET.read_bytes(), MADE + "shelf"))
    assert look.startswith("/sheet/sheets/prices.csv?into=parts_demo%2Fmade%2Fshelf")
    text = answered(desk, look)
    for heading, examples in (("Art. no.", "4101; 4102; 4103"), ("Price EUR", "3,10; 4,40; 64,00")):
        assert f'<th scope="row">{heading}</th><td>{examples}</td>' in text
    assert "13 rows understood, 2 refused" in text and not (desk.folder / MADE / "shelf").exists()
    fields = hidden(text)
    asked = {**fields, "into": MADE + "shelf", "ask:thread": "G", "row:4502": "ceramic rings 1.5 l", "do": "look"}
    asked |= {f"column:{name}": fields[f"was:{name}"] for name in ("Art. no.", "Article", "Size", "Price EUR", "In stock")}
    look = there(desk.post(look, asked))
    text = answered(desk, look)
    assert "15 rows understood" in text and "Refused, and why" not in text
    done = there(desk.post(look, {**hidden(text), "a": "thread=G", "into": MADE + "shelf", "do": "write"}))
    assert "done=" not in done, "one answer is gone from the form: it is looked at again, not written"
    with_both = [("a", "thread=G"), ("a", "row 4502=ceramic rings 1.5 l")]
    written = answered(
        desk, there(posted(desk, look, [*hidden(text).items(), *with_both, ("into", MADE + "shelf"), ("do", "write")]))
    )
    assert "is written" in written and "15 new" in written and f'name="catalog" value="{MADE}shelf"' in written
    words = [
        "stock",
        "import",
        str(SHEET),
        "--into",
        str(tmp_path / "shelf"),
        "--yes",
        "--mapping",
        str(tmp_path / "prices.csv.mapping.toml"),
    ]
    said(capsys, *words, "--answer", "thread=G", "--answer", "row 4502=ceramic rings 1.5 l")
    ours = {each.name: each.read_text(encoding="utf-8") for each in (desk.folder / MADE / "shelf").glob("*.csv")}
    theirs = {each.name: each.read_text(encoding="utf-8") for each in (tmp_path / "shelf").glob("*.csv")}
    assert {name: text.replace("prices", "price_list") for name, text in ours.items()} == theirs
    newer = SHEET.read_text(encoding="utf-8").replace(
        "4101;Hose clear, per metre;16/22;3,10", "4101;Hose clear, per metre;16/22;3,50"
    )
    text = answered(desk, there(uploaded(desk, "prices.csv", newer.encode(), MADE + "shelf")))
    assert "As it was matched before" in text and "1 dearer" in text and "3.50 a metre" in text
    assert len(list((desk.folder / "sheets" / "earlier").iterdir())) == 1, "the list from before is kept"


def posted(desk: AtWork, path: str, fields: list[tuple[str, str]]) -> Reply:
    """As `AtWork.post`, of fields that may come more than once."""
    from urllib.parse import urlencode

    body = urlencode([("token", desk.token), *fields]).encode()
    return desk._asked(urllib.request.Request(desk.origin + path, body, {"Origin": desk.origin}))


def test_sheet_is_not_written_over_what_changed_meanwhile(desk: AtWork) -> None:
    """What was shown is what is written, or nothing."""
    look = there(uploaded(desk, "other.csv", SHEET.read_bytes(), MADE + "other_shop"))
    fields = hidden(answered(desk, look))
    newer = SHEET.read_text(encoding="utf-8").replace("3,10", "9,10")
    (desk.folder / "sheets" / "other.csv").write_text(newer, encoding="utf-8")
    back = there(desk.post(look, {**fields, "into": MADE + "other_shop", "do": "write"}))
    assert "changed=1" in back and "done=" not in back
    text = answered(desk, back)
    assert "nothing was written" in text and "9.10 a metre" in text and not (desk.folder / MADE / "other_shop").exists()


def test_what_a_column_holds_can_be_corrected(desk: AtWork) -> None:
    """A heading that is taken for something else is read as that; a sheet without any heading says so, with a way back."""
    look = there(uploaded(desk, "third.csv", SHEET.read_bytes(), MADE + "third_shop"))
    fields = hidden(answered(desk, look))
    other = {**fields, "into": MADE + "third_shop", "column:In stock": "leave out", "do": "look"}
    look = there(desk.post(look, other))
    assert "column+In+stock%3Dleave+out" in look
    text = answered(desk, look)
    assert '<option value="leave out" selected>leave out</option>' in text
    bad = there(desk.post(look, {**hidden(text), "into": MADE + "third_shop", "column:Price EUR": "leave out", "do": "look"}))
    assert "no row of it is a heading" in answered(desk, bad) and "Start over" in desk.get(bad).text


def test_hostile_sheet_is_inert(desk: AtWork) -> None:
    """Headings, rows, names of files and folders from outside are text and nothing else."""
    rows = [f"{NASTY};Name;Price EUR;Left", f"1;Hose clear {NASTY}, per metre 16/22;3,10;4", f"2;{'x' * 10_000};2,00;1"]
    look = there(uploaded(desk, f"../{NASTY}.csv", "\n".join(rows).encode(), MADE + "hostile_shop"))
    text = answered(desk, look)
    assert "<script>alert" not in text and "&lt;script&gt;" in text and "\u202e" not in text
    for path in (
        "/sheet/parts_demo/sheets/price_list.csv?into=" + quote("../out"),
        "/stock/..",
        "/kits/../x",
        "/household/%2e%2e/x",
    ):
        assert desk.get(path).status in (403, 404), path
    assert desk.get("/sheet/parts_demo/sheets/price_list.csv?into=x&a=" + quote(f"thread={NASTY}")).status == 200
    assert uploaded(desk, "", b"", "x").status == 422
    long = quote(NASTY + "x" * 10_000)
    for path in (
        f"/household/{HOUSE}?budget={long}&aim={long}",
        f"/kits/parts_demo/shops/open_the_loop.toml?ask=1&kits={long}&by={long}",
    ):
        text = answered(desk, path)
        assert "<script>alert" not in text and ("Share it out" in text or "Find the kits" in text)


# -- the stock ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def own_stock(desk: AtWork) -> str:
    """A catalog of two rows that may be changed."""
    place = desk.folder / MADE / "own_stock"
    place.mkdir(exist_ok=True, parents=True)
    pumps = (DEMO / "catalog" / "pumps.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (place / "pumps.csv").write_text("".join(pumps[:3]), encoding="utf-8")
    (place / "clamps.csv").write_text(
        'id,name,price,low_mm,high_mm\nC1,"clamp, 20",1.50,20,24\nC2,clamp,2,24,28\n', encoding="utf-8"
    )
    return f"/stock/{MADE}own_stock"


def test_stock_shows_what_the_check_finds_beside_its_rows(desk: AtWork, capsys: pytest.CaptureFixture[str]) -> None:
    """Every finding stands beside each of its rows, in the words of the check."""
    body = said(capsys, "stock", "check", str(DEMO / "catalog"))
    text = unescape(desk.get("/stock/parts_demo/catalog?only=1").text)
    assert f"{body['parts']} parts" in text
    for each in body["findings"]:
        assert each["what"] in text
        for name in each["ids"]:
            row = re.search(rf'<tr id="row-{re.escape(name)}">.*?</tr>', text, re.S)
            assert row is not None and (each["cure"] if name == each["ids"][0] else f">{each['ids'][0]}</a>") in row[0]
    assert "HOSE-16-22" in desk.get("/stock/parts_demo/catalog?search=hose+16/22").text
    assert "No row fits" in desk.get("/stock/parts_demo/catalog?search=" + quote(NASTY)).text


def test_price_and_count_are_changed_and_all_else_stays(desk: AtWork, own_stock: str) -> None:
    """What the reader refuses is told with what was typed; a cell that somebody else changed is not written over."""
    clamps = desk.folder / MADE / "own_stock" / "clamps.csv"
    before = clamps.read_text(encoding="utf-8")
    fields = hidden(desk.get(own_stock).text)
    typed = {name.removeprefix("was-"): value for name, value in fields.items()}
    bad = desk.post(own_stock, {**fields, **typed, "price:C1": "dear", "stock:C2": "7"})
    assert (
        bad.status == 422
        and "is not an amount of money" in unescape(bad.text)
        and "line 2, price" in bad.text
        and 'value="dear"' in bad.text
        and 'value="7"' in bad.text
    )
    assert clamps.read_text(encoding="utf-8") == before
    good = desk.post(own_stock, {**fields, **typed, "price:C1": "1.80", "stock:C2": "7"})
    assert "saved=2" in there(good)
    assert (
        clamps.read_text(encoding="utf-8")
        == 'id,name,price,low_mm,high_mm,stock\nC1,"clamp, 20",1.80,20,24,\nC2,clamp,2,24,28,7\n'
    )
    late = desk.post(own_stock, {**fields, **typed, "price:C1": "1.90"})
    assert (
        late.status == 409 and 'now "1.80", you typed "1.90"' in unescape(late.text) and "1.90" not in clamps.read_text("utf-8")
    )
    other = desk.post(own_stock, {**fields, **typed, "price:C2": "2.50"})
    assert "saved=1" in there(other) and 'C1,"clamp, 20",1.80' in clamps.read_text("utf-8")


# -- kits -----------------------------------------------------------------------------------------------------------------


def test_kits_say_what_the_command_says(desk: AtWork, kits_page: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Population, kits and what earns its space; the card holds no costs, the sheet for the shop does."""
    assert numbers(desk.get(kits_page).text, "bands") == [2.0, 2.0]
    text = answered(desk, f"{kits_page}?ask=1")
    body = said(capsys, "kits", str(desk.folder / "quick_shop.toml"), "--catalog", str(DEMO / "catalog"))
    (kit,) = body["kits"]
    shown = numbers(text, "kit-table")
    assert shown[:2] == [kit["price"], kit["shelf_price"]]
    keys = ("price", "loss_m3s", "cheaper_m3s")
    parts = numbers(text, "part-table")
    assert parts[::3] == [part["price"] for part in body["parts"]] and len(parts) == len(keys) * len(body["parts"])
    card = desk.get("/kit-card/quick_shop.toml?ask=1&kit=1&as=card")
    assert (
        card.status == 200
        and "In the box" in card.text
        and "cost" not in (body_of := card.text.partition("<body>")[2])
        and "in stock" not in body_of
    )
    assert "style-src 'sha256-" in card.headers["content-security-policy"]
    sheet = desk.get("/kit-card/quick_shop.toml?ask=1&kit=1&as=sheet")
    assert "in stock" in sheet.text
    assert desk.get("/kit-card/quick_shop.toml?ask=1&kit=2&as=card").status == 404
    assert "TAIL-19-G12" in desk.get("/kit-card/quick_shop.toml?ask=1&as=csv").text


def test_stopped_kits_are_kept_and_worked_out_once_more(desk: AtWork) -> None:
    """A long question ends with what it has when its button is pressed, and goes on when that is asked for."""
    path = "/kits/parts_demo/shops/all_customers.toml?ask=1&keep=1"
    text = desk.get(path).text
    key = re.search(r'action="/asked/([0-9a-f]+)/stop"', text)
    assert key is not None and 'name="back" value="/kits/parts_demo/shops/all_customers.toml?ask=1&amp;keep=1"' in text
    desk.post(f"/asked/{key[1]}/stop", {"back": path})
    text = answered(desk, path)
    assert "topped before" in text and "Work it out once more" in text
    assert there(desk.post(f"/asked/{key[1]}/again", {"back": path})) == path
    text = desk.get(path).text
    again = re.search(r'action="/asked/([0-9a-f]+)/stop"', text)
    assert again is not None
    desk.post(f"/asked/{again[1]}/stop", {"back": path})
    answered(desk, path)


# -- in a browser ---------------------------------------------------------------------------------------------------------


def fits(tab: Any) -> bool:
    """Whether nothing sticks out of the window to the side, once its styles are there."""
    tab.wait_for_load_state()
    return bool(tab.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def test_whole_way_of_a_shop_by_mouse(
    desk: AtWork, kits_page: str, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]
) -> None:
    """Bring in a sheet, match its headings, write it into a new catalog, look at the stock, find kits, print a card."""
    tab = opened(desk, "/shop", 1400)
    assert fits(tab) and grave_faults(tab) == []
    tab.set_input_files("#sheet", str(SHEET))
    tab.fill("#into", MADE + "by_mouse")
    tab.click("text=Look at it")
    tab.wait_for_selector("#headings")
    assert fits(tab) and grave_faults(tab) == []
    tab.select_option('select[name="ask:thread"]', "G")
    tab.click("text=Look again with that")
    tab.wait_for_selector("text=14 rows understood")
    tab.click("text=Write it into parts_demo/made/by_mouse")
    tab.click("text=To the stock")
    tab.wait_for_selector("#stock-table")
    assert tab.locator("#stock-table tbody tr").count() == 14 and fits(tab) and grave_faults(tab) == []
    tab.goto(desk.origin + kits_page)
    tab.click("text=Find the kits")
    tab.wait_for_selector("#kit-table", timeout=60_000)
    assert fits(tab) and grave_faults(tab) == []
    tab.click("text=Card for customers")
    tab.wait_for_selector("text=In the box")
    assert tab.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)", "its own style sheet is let through"
    assert tab.pdf()[:4] == b"%PDF"


def test_whole_way_of_a_shop_by_keyboard_without_scripts(desk: AtWork, kits_page: str, opened: Callable[..., Any]) -> None:
    """On a narrow window, with the keys alone: a sheet that is in the folder is written, a price is changed, kits are found."""
    tab = opened(desk, "/shop", 390, scripts=False)

    def to(what: str) -> None:
        for _ in range(120):
            tab.keyboard.press("Tab")
            if tab.locator(f"{what}:focus").count():
                return
        raise AssertionError(f"no key leads to {what}")

    to('a[href="/sheet/parts_demo/sheets/price_list.csv"]')
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#headings", timeout=20_000)
    assert fits(tab)
    to("#into")
    tab.keyboard.press("Control+A")
    tab.keyboard.type(MADE + "by_keys")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("text=Write it into parts_demo/made/by_keys", timeout=20_000)
    to('button[value="write"]')
    tab.keyboard.press("Enter")
    tab.wait_for_selector("text=is written")
    to("a.button.first")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#stock-table")
    assert fits(tab)
    to('input[name="price:4201"]')
    tab.keyboard.press("Control+A")
    tab.keyboard.type("2.30")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("text=1 cell changed")
    assert "2.30" in (desk.folder / MADE / "by_keys" / "tails.csv").read_text(encoding="utf-8")
    tab.goto(desk.origin + kits_page)
    to("button.first")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#kit-table", timeout=60_000)
    assert fits(tab)


def test_household_in_a_browser(desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]) -> None:
    """A new household by its form, and its answer once it is there, without loading the page by hand; on a phone and wider."""
    tab = opened(desk, "/households", 390)
    assert fits(tab) and grave_faults(tab) == []
    tab.fill("#name", "Small")
    tab.fill("#budget", "0")
    for rig in ("nano_60", "gouramis_54"):
        tab.check(f'input[name="in:parts_demo/rigs/{rig}.toml"]')
        tab.fill(f'input[name="flow:parts_demo/rigs/{rig}.toml"]', "100 l/h")
    tab.click("text=Write the household")
    tab.wait_for_selector("#tank-table", timeout=60_000)
    assert tab.locator("h1").inner_text() == "Small" and grave_faults(tab) == []
    for width in (390, 800, 1400):
        tab.set_viewport_size({"width": width, "height": 900})
        assert fits(tab)

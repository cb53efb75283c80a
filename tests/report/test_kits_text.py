"""The kits of a shop as text, CSV and cards: what is shown, how wide, and what hostile names can do (nothing)."""

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from optimizer.model.kits import Dead, Kit, KitPlan, NotServed, PartValue, Piece, Served, Substitute, Unserved
from optimizer.model.results import Change, JointLine
from optimizer.report import kit_card, kits_text, shop_sheet
from optimizer.report.sheet_csv import KITS, kits_csv

HOSTILE = '<script>alert("x")</script>\x1b[31m=1+1'


def plan(name: str = "Corner shop", **changed: object) -> KitPlan:
    """One kit for one tank, one tank that it does not fit."""
    served = Served(
        tank=f"tank A {name}", band="A", weight=2.5, clean_m3s=2e-4, flow_m3s=3e-4, gain_m3s=1e-4, turnover_per_hour=3.2,
        p10_m3s=2.8e-4, p50_m3s=3e-4, p90_m3s=3.3e-4, best_m3s=3.1e-4, used_share=0.9,
        changes=(
            Change(position="return_hose", change="swap", part_id="H", text=f"hose {name}, cut to 1.70 m"),
            Change(position="pump", change="keep", part_id="P", text="pump"),
        ),
        joints=(JointLine(between=("pump", "return_hose"), pieces=(), tight_by=("clamp for 22 mm outside",), as_is=False),),
        left_over=("0.40 m of H",),
        cautions=("Flood: the tank drains down to the guard. Watch it.", "Unplug the pump."),
    )  # fmt: skip
    piece = Piece(
        product_id="H", name=name, quantity=2.1, metres=True, price=756, in_stock=30,
        substitutes=(Substitute(product_id="H2", name="other", flow_m3s=2.9e-4, less_m3s=1e-5, dearer=-50),),
    )  # fmt: skip
    refused = NotServed(tank="tank B", band="B", weight=1.0, why=(f"no {name}",), would_fit=("a tail: T, in stock",))
    kit = Kit(
        name="Kit 1", made_for="tank A", price=756, shelf_price=4000, makes=14, pieces=(piece,), weight=2.5,
        gain_m3s=2.5e-4, own_weight=2.5, own_gain_m3s=2.5e-4, fits=(served,), does_not_fit=(refused,),
    )  # fmt: skip
    left = Unserved(tank="tank B", band="B", weight=1.0, clean_m3s=2e-4, best_m3s=2e-4, best_price=0, words="nothing fits")
    fields: dict[str, object] = {
        "shop": name, "catalog": name, "currency": "EUR", "by": "gain", "most": 2, "shelf_prices": (4000,), "budgets": (4000,),
        "least_gain": 0.03, "least_used": 0.75, "tanks": 2, "total_weight": 3.5, "kits": (kit,), "weight": 2.5,
        "gain_m3s": 2.5e-4, "unserved": (left,),
        "parts": (PartValue(product_id="H", name=name, price=360, loss_m3s=2e-4, cheaper_m3s=0.0, tanks=1, in_kits=1),),
        "dead": (Dead(product_id="X", name=name, why="it goes into no tank"),),
        "candidates": 3, "solves": 20, "unproved": 0, "complete": True, "made": "exact over 3 candidate kits", "notes": (name,),
    }  # fmt: skip
    return KitPlan(**(fields | changed))  # type: ignore[arg-type]


def test_the_figures_stand_in_the_text() -> None:
    """720 and 1080 l/h are 2e-4 and 3e-4 m3/s; 190 and 285 US gallons per hour (1 US gal = 3.785411784 l, NIST SP 811)."""
    text = kits_text.render(plan(), full=True)
    assert "1 kit serves 2.5 of 3.5 tanks (71 %) and adds 360 l/h to each on the average." in text
    for words in (
        "7.56  40.00    2.5   360",
        "720     1 080  1 008  1 188  1 116",
        "or from stock: other (H2; 36 l/h less, 0.50 cheaper)",
    ):
        assert words in text
    assert "left over 0.40 m of H" in text
    assert "X (Corner shop): it goes into no tank" in text
    assert "190       285" in kits_text.render(plan(), "us", full=True)
    assert kits_text.headline(plan()).count("\n") == 1


@pytest.mark.parametrize("name", ["Corner shop", HOSTILE, "w" * 180])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_lines_are_narrow_and_print_as_they_are(name: str, units: str) -> None:
    told = plan(name)
    sheets = (kit_card.card_text(told.kits[0], told, units), shop_sheet.sheet_text(told.kits[0], told, units))
    for text in (kits_text.render(told, units, full=True), *sheets):
        assert max(len(line) for line in text.splitlines()) <= 90
        assert all(line.isprintable() for line in text.split("\n"))


def test_no_kit_and_a_stopped_search_say_so() -> None:
    none = plan(kits=(), weight=0.0, gain_m3s=0.0)
    assert none.status == "infeasible"
    assert "No kit from stock for at most 40.00 EUR fits any of 3.5 tanks." in kits_text.render(none)
    stopped = plan(complete=False, parts=(), dead=())
    assert stopped.status == "stopped"
    assert "Stopped: exact over 3 candidate kits, as far as was known by then." in kits_text.render(stopped)
    hard = plan(unproved=2)
    assert hard.status == "stopped"
    assert "Not proved: 2 of 20 questions were too hard to decide" in kits_text.headline(hard)


class Seen(HTMLParser):
    """The tags of a page and its text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert not any(name in ("src", "href", "style") or name.startswith("on") for name, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.text += data


def seen(page: str) -> Seen:
    found = Seen()
    found.feed(page)
    return found


def test_a_card_stands_for_itself_and_runs_nothing() -> None:
    page = kit_card.card_html(plan(HOSTILE).kits[0], plan(HOSTILE))
    found = seen(page)
    assert not {"script", "link", "img", "iframe"} & set(found.tags)
    assert "<script>alert" not in page
    assert 'alert("x")' in found.text
    assert "\x1b" not in page
    assert "url(" not in page
    assert "http" not in page.replace('http-equiv="Content-Security-Policy"', "")


def test_a_card_is_black_on_white_and_keeps_rows_together_in_print() -> None:
    """Legible in black and white: no colour but black and white is named; pages of A4 and of Letter differ by their size, so
    none is set."""
    page = kit_card.card_html(plan().kits[0], plan())
    assert {word for word in page.replace(";", " ").split() if word.startswith("#")} == {"#000", "#fff"}
    assert "break-inside: avoid" in page
    assert "size:" not in page.replace("font-size:", "")


def test_both_forms_of_a_card_say_the_same() -> None:
    told = plan()
    page, text = seen(kit_card.card_html(told.kits[0], told)).text, kit_card.card_text(told.kits[0], told)
    plainly = [" ".join(each.replace("\N{NO-BREAK SPACE}", " ").split()) for each in (page, text)]
    steps = "return_hose: swap, hose Corner shop, cut to 1.70 m"
    for words in (
        steps,
        "clamp for 22 mm outside",
        "0.40 m of H",
        "tank B: no Corner shop.",
        "Unplug the pump.",
        "1 008 to 1 188",
    ):
        assert all(words in each for each in plainly)
    # the litres of one tank are no matter of the kit
    assert "down to the guard. Watch it." in plainly[1]
    assert "keep" not in text


@pytest.mark.parametrize("made", [kit_card.card_html, kit_card.card_text])
def test_what_the_shop_pays_and_has_is_on_no_card(made: Callable[[Kit, KitPlan], str]) -> None:
    """The pieces cost 7.56 of 40.00; 30 m are in stock, H2 can stand in, and a tail in stock would fit the other tank."""
    card = re.sub("<style>.*</style>", "", made(plan().kits[0], plan()), flags=re.DOTALL)
    assert "40.00" in card
    assert not [words for words in ("7.56", "H2", "in stock", "a tail: T", "margin") if words in card]


def test_the_sheet_of_the_shop_has_what_the_card_has_not() -> None:
    """40.00 less 7.56 are 32.44; 2.5e-4 m3/s over 2.5 tanks are 360 l/h each."""
    told = plan()
    page, text = seen(shop_sheet.sheet_html(told.kits[0], told)).text, shop_sheet.sheet_text(told.kits[0], told)
    plainly = [" ".join(each.replace("\N{NO-BREAK SPACE}", " ").split()) for each in (page, text)]
    for words in ("7.56", "32.44 EUR", "14", "30", "H2", "360 l/h", "tank B: a tail: T, in stock."):
        assert all(words in each for each in plainly)


def test_a_card_shows_before_and_after_as_bars() -> None:
    """720 and 1080 l/h, 80 of 100 up to 1188: bars of 60.6 and 90.9 hundredths of the longest."""
    page = kit_card.card_html(plan().kits[0], plan())
    bars = re.findall(r'<rect [^>]* width="([0-9.]+)"[^>]* fill', page)
    assert bars == ["60.6", "90.9"] and 'aria-label="720 l/h clean, 1\u00a0080 l/h with the kit"' in page


def test_the_table_for_a_spreadsheet_runs_nothing() -> None:
    told = plan("=1+1")
    rows = list(csv.reader(io.StringIO(kits_csv(told))))
    assert tuple(rows[0]) == KITS
    assert rows[1] == ["Kit 1", "40.00", "H", "'=1+1", "2.1", "m", "7.56", "", "EUR", "30", "H2", "2.5", "360.0"]


def known_costs() -> KitPlan:
    """The plan with figures that stand nowhere else, of what a customer has no business with."""
    (kit,) = plan().kits
    (piece,) = kit.pieces
    other = replace(piece, product_id="H9", name="coupling", metres=False, quantity=3, price=98761, cost=87651, in_stock=76541)
    pieces = (replace(piece, price=65431, cost=54321, in_stock=43211), other)
    kit = replace(kit, price=98761 + 65431, shelf_price=191919, makes=32101, pieces=pieces, cost=87651 + 54321)
    return plan(kits=(kit,), shelf_prices=(191919,))


SECRET = {
    "cost of a piece": ("876.51", "543.21"), "cost of the kit": ("1 419.72", "1419.72"), "margin": ("499.47", "26 %"),
    "price of a piece": ("987.61", "654.31"), "its pieces": ("1 641.92", "1641.92"), "in stock": ("76 541", "43 211", "76541"),
    "stock makes": ("32 101", "32101"), "stand-in": ("H2",), "words": ("stock", "margin", "cost", "in its place"),
}  # fmt: skip
"""What is for the shop alone, as it is written."""


def test_a_card_shows_the_customers_side_alone() -> None:
    """No cost, margin, price of a piece, stock or stand-in is on a card, in either form; all of them are on the shop's sheet."""
    told = known_costs()
    (kit,) = told.kits
    cards = [kit_card.card_html(kit, told), kit_card.card_text(kit, told)]
    bodies = [re.sub(r"(?s)<style>.*?</style>", "", card) for card in cards]
    for what, figures in SECRET.items():
        assert not [figure for figure in figures for body in bodies if figure in body], what
    assert all("1 919.19" in " ".join(body.split()) for body in bodies)
    for sheet in (shop_sheet.sheet_html(kit, told), shop_sheet.sheet_text(kit, told)):
        said = " ".join(sheet.split())
        for figures in ("876.51", "543.21", "1 419.72 EUR", "499.47 EUR (26 %)", "987.61", "76 541", "32 101", "other (H2)"):
            assert figures in said


def test_the_margin_stands_where_a_cost_is_known() -> None:
    """Shelf price less cost, in the table of kits and the CSV; no column where nothing is known, and a dash for a kit of which
    some cost is missing."""
    text = kits_text.render(known_costs(), full=True)
    assert "margin" in text and "499.47" in text
    assert "margin" not in kits_text.render(plan(), full=True)
    (kit,) = known_costs().kits
    unknown = replace(kit, name="Kit 2", cost=None)
    rows = kits_text.render(plan(kits=(kit, unknown)), show=("overview",)).splitlines()
    assert ["  -  " in row for row in rows if row.startswith("  Kit")] == [False, True]
    sheet = list(csv.DictReader(io.StringIO(kits_csv(known_costs()))))
    assert [row["cost"] for row in sheet] == ["543.21", "876.51"]
    assert [row["cost"] for row in csv.DictReader(io.StringIO(kits_csv(plan())))] == [""]
    assert "not known, no cost of H9" in shop_sheet.sheet_text(
        replace(kit, cost=None, pieces=(kit.pieces[0], replace(kit.pieces[1], cost=None))), plan()
    )


def test_names_stand_beside_ids_and_orders_beside_tanks() -> None:
    """Every id has its name; what to order for a tank that no kit serves stands below it with amount and price."""
    (piece,) = plan().kits[0].pieces
    (left,) = plan().unserved
    order = (replace(piece, product_id="T7", name="wide tail", metres=False, quantity=2, price=990, in_stock=1),)
    told = plan(unserved=(replace(left, order=order, order_m3s=3e-4, order_price=2500),))
    text = " ".join(kits_text.render(told, full=True).split())
    assert "or from stock: other (H2; 36 l/h less, 0.50 cheaper)" in text
    assert "tank B (1): 1 080 l/h in place of 720 l/h, 25.00 EUR with what is in stock 2 wide tail (T7) 9.90" in text
    assert "H Corner shop" in text
    assert "Ordering beyond stock would serve 1 of them (--show order)." in " ".join(kits_text.render(told).split())

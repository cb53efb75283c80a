"""The first screen: short, with what must never be missing from it, and with the rest a word away."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.results import BillLine, Change, Result
from optimizer.report import kits_text, share_text, text
from optimizer.report.first_screen import MOST_PRODUCTS, bill_table, first_sentence, to_do_lines
from optimizer.report.layout import Screen, finished
from optimizer.report.measures import system
from optimizer.report.spoken import spoken

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
METRIC = system("metric")


@pytest.fixture(scope="module")
def nano() -> Result:
    """The desk tank, for which 60 buy new hoses, a guard and couplings."""
    shop = api.read_catalog(DEMO / "catalog")
    return api.best(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop, budget=6000)


def test_the_first_screen_is_short_and_has_what_a_keeper_acts_on(nano: Result) -> None:
    """Verdict, rows, what to do, a line for each product with its price, three cautions, how sure, what to type."""
    shown = text.render(nano, typed="fullbore best nano_60.toml").splitlines()
    assert len(shown) - len(nano.bill) <= 32
    assert nano.best is not None
    small = [line for line in nano.bill if all(place.startswith("joint ") for place in line.places)]
    for line in nano.bill if len(nano.bill) <= MOST_PRODUCTS else [line for line in nano.bill if line not in small]:
        assert sum(f" {line.name}" in each and each.endswith(f"{line.price / 100:.2f}") for each in shown) >= 1
    if len(nano.bill) > MOST_PRODUCTS:
        (together,) = (each for each in shown if "that close the joints (--show bill)" in each)
        assert together.endswith(f"{sum(line.price for line in small) / 100:.2f}")
    headings = [each for each in shown if each in ("What to do", "Bill in EUR", "Mind", "Next")]
    assert headings == ["What to do", "Bill in EUR", "Mind", "Next"]
    assert sum(each.startswith("  - ") for each in shown) == 3
    assert any(each.startswith("  - Mains and water: unplug everything in and on the tank") for each in shown)
    assert any(each.startswith("  - Flood: ") for each in shown)
    assert any(each.startswith("How sure: Proved: none of ") for each in shown)
    assert "  fullbore best nano_60.toml with" in shown
    assert "Proof" not in shown


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("full", [False, True])
def test_nothing_is_wider_than_the_screen(nano: Result, width: int, full: bool) -> None:
    assert max(map(len, text.render(nano, "us", Screen(width=width), full=full).splitlines())) <= width


def test_sections_come_alone_and_in_the_order_asked_for(nano: Result) -> None:
    shown = text.render(nano, show=("tightest", "joints"))
    assert shown.startswith("Tightest spot\n")
    assert "\n\nHow each changed joint is closed\n" in shown
    assert "Bill" not in shown and "Mind" not in shown
    assert text.render(replace(nano, warnings=()), show=("warnings",)) == "warnings: there is nothing of it in this answer.\n"


def test_all_sections_together_are_the_whole(nano: Result) -> None:
    """Nothing of the whole answer is without a name to ask for it by, but its opening and the name of the catalog."""
    parts = text.render(nano, show=[name for name, lines in text.SECTIONS.items() if lines(nano, METRIC)])
    whole = text.render(nano, full=True)
    assert parts in whole
    assert whole.partition(parts)[0].startswith("Small tank on the desk: ")
    assert whole.partition(parts)[2] == "\nCatalog: Demo catalog (invented)\n"


def test_without_an_answer_nothing_is_cautioned_about(nano: Result) -> None:
    none = replace(nano, best=None, changes=(), bill=())
    assert "\nMind\n" not in text.render(none)
    assert "\nMind\n" in text.render(none, full=True)


def test_what_is_done_stands_by_its_kind() -> None:
    changes = (
        Change(position="guard", change="clean", part_id="G", text="sponge"),
        Change(position="hose", change="swap", part_id="H", text="wide hose"),
        Change(position="bar", change="adjust", part_id="B", text="sunk"),
        Change(position="canister", change="clean", part_id="", text="foam", tray=2),
        Change(position="pump", change="keep", part_id="P", text="pump"),
    )
    expected = "What to do\n  clean   guard, canister tray 2\n  swap    hose\n  adjust  bar (sunk)\n"
    assert finished(to_do_lines(changes)) == expected
    assert to_do_lines(changes[-1:]) == []


def test_the_bill_says_places_where_they_are_few_and_always_its_total() -> None:
    def line(name: str, price: int, *places: str, owned: bool = False) -> BillLine:
        return BillLine(product_id="X", name=name, count=1, price=price, owned=owned, places=places)

    bill = (
        line("guard", 500, "strainer", "joint strainer to hose"),
        line("kit", 700, "hose", "pump", "bar"),
        line("washer", 50, "joint a to b"),
        line("old clamp", 0, "desk: joint a to b", "desk: hose", owned=True),
    )
    shown = [" ".join(each.split()) for each in finished(bill_table(bill, 1300, "EUR", METRIC)).splitlines()]
    assert shown == [
        "Bill in EUR",
        "1 x guard, for strainer 5.00",
        "1 x kit 7.00",
        "1 x washer 0.50",
        "1 x old clamp, for desk yours",
        "not listed above 0.50",
        "total 13.00",
    ]


def test_a_sentence_is_what_ends_before_a_space() -> None:
    assert first_sentence("Of 1.5 m. Then more.") == "Of 1.5 m."


def test_places_are_said_in_words_and_what_is_typed_is_not(nano: Result) -> None:
    """Nothing of the rig file's names with underscores is left in a text; the answer itself keeps them."""
    places = {change.position for change in nano.changes if "_" in change.position}
    assert {"suction_hose", "return_hose"} <= places
    shown = text.render(spoken(nano), full=True)
    assert not any(place in shown for place in places)
    assert "suction hose to in coupling" in shown
    assert {change.position for change in nano.changes if "_" in change.position} == places
    typed = replace(nano, cautions=("Set loop.return_hose.length, or --why return_hose=X; return_hose: long.",))
    said = "Set loop.return_hose.length, or --why return_hose=X; return hose: long."
    assert spoken(typed).cautions == (said,)
    assert spoken(replace(nano, rig="return_hose")).rig == "return_hose"


@pytest.mark.parametrize("module", [text, share_text, kits_text])
def test_sections_have_names_that_are_easily_typed(module: object) -> None:
    names = list(module.SECTIONS)  # type: ignore[attr-defined]
    assert {"bill", "cautions"} & set(names)
    assert all(name.isascii() and name.islower() and name.isalpha() for name in names)

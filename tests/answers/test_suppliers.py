"""What an answer says of several suppliers."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import enumeration
import numpy as np
import pytest
from how_many import some_of
from openpyxl import load_workbook
from supplied import listing_menu, supplied_world

from optimizer import api
from optimizer.answers import why_bundle
from optimizer.answers.question import Question
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog, Supplier
from optimizer.model.options import CLEAN, KEEP, Option
from optimizer.model.rig import Rig
from optimizer.report.first_screen import next_lines
from optimizer.report.order_text import render
from optimizer.report.sheet_csv import bill_csv
from optimizer.report.sheet_xlsx import bill_xlsx
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def asked() -> tuple[Rig, Catalog]:
    """A demo tank, with pumps and outlets from one supplier and all else from another."""
    catalog = api.read_catalog(DEMO / "catalog")
    north, south = Supplier(id="n", name="North", postage=200), Supplier(id="s", name="South", postage=100, free_from=1500)
    products = tuple(replace(each, supplier="n" if each.id.startswith("OPEN") else "s") for each in catalog.products)
    catalog = replace(catalog, products=products, suppliers=(north, south))
    return api.read_rig(DEMO / "rigs" / "community_180.toml", catalog), catalog


def test_the_bill_has_each_supplier_with_its_postage(asked: tuple[Rig, Catalog]) -> None:
    """Its lines come to the price, and postage not due is said to be none."""
    result = api.best(*asked)
    assert result.best is not None and result.status == "proved"
    assert sum(line.price for line in result.bill) == result.best.price
    postage = {line.supplier: line.price for line in result.bill if line.name.startswith("postage")}
    assert postage == {"North": 200, "South": 0}
    assert bill_csv(result.bill, "EUR").splitlines()[0].endswith(",supplier")
    sheet = load_workbook(BytesIO(bill_xlsx(result.bill, "EUR"))).active
    assert [row[-1].value for row in sheet.iter_rows()] == ["supplier", *(line.supplier or None for line in result.bill), None]
    assert [each.supplier for each in result.one_supplier] == ["North", "South"]
    assert all(each.price is None or each.price > result.best.price for each in result.one_supplier)
    assert "--order" in str(next_lines(result, "")) and "--bands" in str(next_lines(result, ""))


def test_each_step_of_an_order_has_its_own_postage(asked: tuple[Rig, Catalog]) -> None:
    """The lines of a step come to its price, all steps to the bundle and what parting them costs, and the text says how much."""
    rig, catalog = asked
    little = tuple(replace(each, postage=20, free_from=None) for each in catalog.suppliers)
    told = api.buying_order(rig, replace(catalog, suppliers=little), most=True)
    assert told.best is not None and told.status == "proved" and len(told.steps) > 1
    for step in told.steps:
        assert sum(line.price for line in step.buys) + step.extras_price == step.price
        assert any(line.name.startswith("postage") for line in step.buys) == any(line.product_id for line in step.buys)
    assert told.steps[-1].paid == told.best.price + told.thrown + told.parted and told.parted > 0
    said = render(told)
    assert f"{told.parted / 100:.2f} EUR more than for all at once" in " ".join(said.split())
    assert said.count("ordered by itself") == sum(step.price > 0 for step in told.steps)
    assert "0.20 EUR postage, North" in " ".join(said.split())


def test_why_starts_from_the_best_with_its_postage(asked: tuple[Rig, Catalog]) -> None:
    """Its headline is the answer of `best`, and what the part comes to is no cheaper."""
    best, said = api.best(*asked, budget=2500).best, api.why(*asked, "return_hose=HOSE-16-22", budget=2500)
    assert best is not None and f"for {best.price / 100:.2f} EUR" in said.splitlines()[0]
    assert "less than the best" in said


WHY = some_of(range(40), 10)


def test_why_tells_the_best_with_a_part_and_the_part_alone_as_full_listings_do() -> None:
    """For one swap of each place of random worlds: the best bundle with it, and the cheapest joints where all else stays."""
    compared = alone = 0
    for seed in WHY:
        rig, catalog = supplied_world(seed)
        menu = listing_menu(rig, catalog)
        question = Question(rig=rig, catalog=catalog, limits=rig.limits)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        for place, options in enumerate(menu.options):
            ids = sorted({o.part.id for o in options if o.change == "swap" and o.part is not None and not o.fills})
            if not ids:
                continue
            spot = next(spot for spot in why_bundle._spots(rig) if spot.position == place)
            placing = ((spot, ids[seed % len(ids)]),)
            mine = [option for option in options if why_bundle._has(option, [placing[0][1]]) and not option.is_installed]
            made = why_bundle._best_with(question, seeker, [placing])
            bundles = _listed(replace(menu, options=(*menu.options[:place], tuple(mine), *menu.options[place + 1 :])))
            best = enumeration.most_flow(bundles, menu, RESOLUTION_M3S)
            assert (made is None) == (best is None), (seed, placing)
            if made is not None and best is not None:
                assert made[2].bundle.price == best.price
                assert made[2].flow_m3s == pytest.approx(best.flow_m3s, abs=RESOLUTION_M3S * (1 + 1e-6))
                compared += 1
            alone += _alone_as_listed(question, placing)
    assert min(compared, alone) >= len(WHY)


def _listed(menu: Choices) -> enumeration.Bundles:
    """All bundles, ceilings held or not."""
    bundles = enumeration.every_bundle(menu)
    return replace(bundles, throttled=np.ones_like(bundles.throttled))


def _alone_as_listed(question: Question, placing: why_bundle.Placing) -> bool:
    """Whether there is a bundle of just these parts; its price must be the least of all that can be listed."""
    free = question.limits.without(*why_bundle.ASIDE)
    menu = listing_menu(replace(question.rig, limits=free), question.catalog)
    options = tuple(_only(some, placing, place) for place, some in enumerate(menu.options))
    found = why_bundle._Alone.of(question).found(placing)
    held = _listed(replace(menu, options=options))
    assert (found is None) == (not len(held.price)), placing
    if found is None:
        return False
    assert found.bundle.price == held.price.min()
    cheapest = held.flow_m3s[held.price == held.price.min()]
    assert found.flow_m3s == pytest.approx(float(np.max(cheapest)), abs=RESOLUTION_M3S * (1 + 1e-6))
    return True


def _only(options: tuple[Option, ...], placing: why_bundle.Placing, place: int) -> tuple[Option, ...]:
    """The new part where it is to stand, elsewhere what is there, cleaned where it can be."""
    if placing[0][0].position == place:
        found = [each for each in options if why_bundle._has(each, [placing[0][1]]) and not each.is_installed]
    else:
        change = CLEAN if any(each.change == CLEAN for each in options) else KEEP
        found = [each for each in options if each.change == change]
    return tuple(replace(each, flow_min_m3s=0.0) for each in found)


def test_questions_that_know_no_postage_say_so(asked: tuple[Rig, Catalog]) -> None:
    """A written proof."""
    with pytest.raises(InputError, match="knows neither postage nor least orders"):
        api.best(*asked, prove=True)

"""A tool is paid once whatever number of places use it, and only by who has none: held against a listing of all bundles."""

import random
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import enumeration
import exhaustive
import pytest
from demo import DEMO, rig, shop
from small_worlds import number_of_bundles, world

from optimizer import api
from optimizer.answers.question import Question, for_nothing
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.options import CLEAN, KEEP
from optimizer.model.parts import CLEAN_HOSE, JOBS, REDRILL, Hose, Tool
from optimizer.model.rig import Adjust, Position, Rig
from optimizer.model.state import State
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

MOST_LISTED = 600
"""Worlds with more bundles take long to list."""

TOOLS = {
    "BRUSH": (CLEAN_HOSE,),
    "DRILL": (REDRILL,),
    "SET": JOBS,
    "OTHER": (CLEAN_HOSE,),
}


def filmed(rig: Rig) -> Rig:
    """Every hose has a film, and the outlet may be drilled anew."""

    def changed(position: Position) -> Position:
        if position.kind == "hose":
            return replace(position, state=State(film_m=0.8e-3))
        if position.kind == "outlet" and position.installed is not None:
            drilled = replace(position.installed, id="own:drilled", hole_m=position.installed.hole_m * 1.3)  # type: ignore[union-attr]
            return replace(position, adjusts=(Adjust(name="drill", outlet=drilled),))  # type: ignore[arg-type]
        return position

    return rig.with_each(changed)


def tooled(seed: int, kit: bool = False) -> tuple[Rig, Catalog]:
    """A small world whose hoses need a brush and whose outlet needs a drill; some tools run out or are in a kit."""
    rng = random.Random(seed)
    tank, catalog = world(seed, 40)
    parts = dict(catalog.parts)
    products = list(catalog.products)
    for name, jobs in TOOLS.items():
        parts[name] = Tool(id=name, name=name.lower(), makes_possible=jobs)
        if rng.random() < 0.7:
            line, stock = Line(part_id=name, lasting=True), rng.choice([None, None, 1])
            products.append(Product(id=name, price=rng.randrange(50, 900), lines=(line,), stock=stock))
    if kit:
        lines = (Line(part_id="BRUSH", lasting=True), Line(part_id=next(iter(catalog.parts))))
        products.append(Product(id="KIT-TOOL", price=rng.randrange(100, 900), lines=lines))
    return filmed(tank), Catalog(parts=parts, products=tuple(products))


def by_hand(jobs: set[str], catalog: Catalog) -> float:
    """The least price of tools that make all jobs possible, each bought once: every set of tools tried."""
    tools = [product for product in catalog.products if product.lines[0].lasting]
    sets = (chosen for size in range(len(tools) + 1) for chosen in combinations(tools, size))
    prices = [sum(t.price for t in chosen) for chosen in sets if jobs <= {job for t in chosen for job in TOOLS[t.id]}]
    return min(prices, default=float("inf"))


@pytest.mark.parametrize("chunk", range(3))
def test_the_price_of_tools_is_that_of_the_cheapest_set_bought_once(chunk: int) -> None:
    """Every bundle of small worlds: its price is that of all else, and the tools on top by trying every set of them."""
    both = 0
    for seed in range(chunk * 2, chunk * 2 + 2):
        tank, catalog = tooled(seed)
        plain = [product for product in catalog.products if not product.lines[0].lasting]
        bare = choices(tank, replace(catalog, products=tuple(plain)), tank.limits).shop
        for bundle in exhaustive.all_bundles(choices(tank, catalog, tank.limits)):
            items = [i for o in bundle.options for i in o.items] + [i for j in bundle.joints for i in j.items]
            jobs = {item.key[1] for item in items if item.key[0] == "tool"}
            rest = bare.cover([item for item in items if item.key[0] != "tool"])
            assert rest is not None
            assert bundle.price == rest.price + by_hand(jobs, catalog) + sum(o.own_price for o in bundle.options)
            cleaned = sum(o.change == CLEAN and isinstance(o.part, Hose) for o in bundle.options)
            assert (cleaned > 0) <= (CLEAN_HOSE in jobs)
            both += cleaned > 1
    assert both > 0


@pytest.mark.parametrize("kit", [False, True])
def test_the_search_equals_a_listing_where_tools_must_be_bought(kit: bool) -> None:
    """Price, flow and proof; with a kit that holds a brush too."""
    found_some, with_tools = 0, 0
    for seed in range(20, 32):
        tank, catalog = tooled(seed, kit)
        menu = choices(tank, catalog, tank.limits)
        if number_of_bundles(menu) > MOST_LISTED:
            continue
        best = enumeration.most_flow(enumeration.every_bundle(menu), menu, RESOLUTION_M3S)
        outcome = Seeker(build(menu)).most_flow()
        assert outcome.status == "proved"
        assert (best is None) == (outcome.found is None), seed
        if best is None or outcome.found is None:
            continue
        assert outcome.found.bundle.price == best.price, seed
        assert outcome.found.flow_m3s == pytest.approx(best.flow_m3s, abs=1.5 * RESOLUTION_M3S), seed
        found_some += 1
        bought = {menu.shop.products[p.product].id for p in outcome.found.bundle.cover.purchases}
        with_tools += bool(bought & {*TOOLS, "KIT-TOOL"})
    assert found_some > 1
    assert with_tools > 0


def test_a_proof_by_another_route_agrees_on_tools() -> None:
    """The mixed-integer program counts a tool as a pack that never runs empty."""
    tank, catalog = with_brush(700, 400)
    result = api.best(tank, catalog, budget=20_000, prove=True)
    assert len(result.proof.certificates) > 1
    assert all(check.agrees and check.done for check in result.proof.certificates)


def with_brush(price: int, drill: int, name: str = "nano_60") -> tuple[Rig, Catalog]:
    """A demo tank whose two hoses have films, and its catalog with a brush and a drill."""
    brush = Tool(id="BRUSH", name="hose brush", makes_possible=(CLEAN_HOSE,))
    bit = Tool(id="DRILL", name="drill bits", makes_possible=(REDRILL,))
    sold = tuple(
        Product(id=t.id, name=t.name, price=p, lines=(Line(part_id=t.id, lasting=True),))
        for t, p in ((brush, price), (bit, drill))
    )
    catalog = replace(shop(), parts={**shop().parts, "BRUSH": brush, "DRILL": bit}, products=(*shop().products, *sold))
    return rig(name), catalog


def test_two_hoses_share_one_brush_on_the_bill_and_the_owner_of_one_pays_nothing() -> None:
    """One line, both places; owned as a word, or lying among the spares, it costs nothing."""
    tank, catalog = with_brush(300, 90_000)
    result = api.best(tank, catalog, budget=300)
    (line,) = [line for line in result.bill if line.product_id == "BRUSH"]
    assert (line.count, line.price, set(line.places)) == (1, 300, {"suction_hose", "return_hose"})
    assert result.best is not None
    assert result.best.price == 300
    owner = api.best(replace(tank, tools=(CLEAN_HOSE,)), catalog, budget=300)
    assert owner.best is not None
    assert owner.best.flow_m3s >= result.best.flow_m3s
    assert not [line for line in owner.bill if line.product_id == "BRUSH"]
    poor = api.best(replace(tank, limits=tank.limits.without("flow_min_m3s")), catalog, budget=0)
    assert {c.change for c in poor.changes if c.position in ("suction_hose", "return_hose")} == {KEEP}


def test_without_a_list_of_tools_nothing_needs_one() -> None:
    """The demo catalog has none: cleaning is free, as before."""
    tank = rig("nano_60")
    offer = choices(tank, shop(), tank.limits).options[1]
    assert [option.items for option in offer if option.change == CLEAN] == [()]
    free = for_nothing(Question(rig=tank, catalog=shop(), limits=tank.limits)).stands
    assert [o.change for o in free.options if o.place.endswith("hose")] == [CLEAN, CLEAN]


def test_with_nothing_to_spend_what_needs_a_tool_is_left_and_why_says_it() -> None:
    """The catalog that gives things away still knows that a brush is needed; one that is sold out is named."""
    tank, catalog = with_brush(300, 400)
    free = for_nothing(Question(rig=tank, catalog=catalog, limits=tank.limits)).stands
    assert [o.change for o in free.options if o.place.endswith("hose")] == [KEEP, KEEP]
    gone = replace(catalog, products=tuple(p for p in catalog.products if p.id != "BRUSH"))
    reasons = {each.reason for each in choices(tank, gone, tank.limits).refusals}
    assert "tool to clean hose is not for sale or not in stock, and [owned] names none" in reasons


def test_a_buying_order_cleans_when_the_brush_is_there() -> None:
    """The loop before any purchase is not cleaned of what needs a tool; the step that buys it says what it is for."""
    tank, catalog = with_brush(300, 90_000)
    order = api.buying_order(tank, catalog, budget=3000, most=True)
    steps = [step for step in order.steps if any(line.product_id == "BRUSH" for line in step.buys)]
    bought = {line.product_id for step in order.steps for line in step.buys}
    assert sum(step.price for step in order.steps) == (order.best.price if order.best else 0)
    if "BRUSH" in bought:
        (step,) = steps
        assert {(c.position, c.change) for c in step.changes} >= {("suction_hose", "clean"), ("return_hose", "clean")}
    cheap = api.buying_order(tank, catalog, budget=300, most=True)
    (step,) = [step for step in cheap.steps if any(line.product_id == "BRUSH" for line in step.buys)]
    assert {(c.position, c.change) for c in step.changes} == {("suction_hose", "clean"), ("return_hose", "clean")}
    assert cheap.cleaned_m3s < step.flow_m3s


def test_an_interval_does_not_need_a_brush_that_nobody_can_pay() -> None:
    """Every interval starts clean, as far as that is free; hoses that only a tool cleans may start with their film."""
    tank, catalog = with_brush(300, 400)
    loose = replace(tank, limits=tank.limits.without("flow_min_m3s"))
    poor = api.best(loose, catalog, budget=0, interval_days=30)
    rich = api.best(loose, catalog, budget=300, interval_days=30)
    assert poor.best is not None
    assert rich.best is not None
    assert poor.status == rich.status == "proved"
    assert {c.change for c in poor.changes if c.position.endswith("hose")} == {KEEP}
    assert poor.lasting is not None
    assert rich.lasting is not None
    assert poor.lasting.rows[-1].last_m3s < rich.lasting.rows[-1].last_m3s


def test_tools_are_read_from_their_file_and_from_the_rig(tmp_path: Path) -> None:
    """tools.csv; [owned] tools by id or by what they make possible; words that are neither are told with near names."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "pumps.csv").write_text((DEMO / "catalog" / "pumps.csv").read_text(encoding="utf-8"), encoding="utf-8")
    rows = ("id,name,price,makes_possible", "BRUSH,hose brush,6.90,clean_hose", 'SET,"brush and bits",19,clean_hose; redrill')
    (folder / "tools.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "kits.csv").write_text("id,name,price,contents\nK,kit,20,BRUSH\n", encoding="utf-8")
    catalog = api.read_catalog(folder)
    assert catalog.parts["SET"] == Tool(id="SET", name="brush and bits", makes_possible=(CLEAN_HOSE, REDRILL))
    assert {p.id: p.lines[0].lasting for p in catalog.products if p.id in ("BRUSH", "SET", "K")} == dict.fromkeys(
        ("BRUSH", "SET", "K"), True
    )
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    path = tmp_path / "nano.toml"
    merged = replace(catalog, parts={**shop().parts, **catalog.parts})
    for said, jobs in (('["SET"]', JOBS[::-1]), ('["redrill"]', (REDRILL,)), ('"BRUSH"', (CLEAN_HOSE,)), ("[]", ())):
        path.write_text(f"{text}\n[owned]\ntools = {said}\n", encoding="utf-8")
        assert api.read_rig(path, merged).tools == jobs
    path.write_text(f'{text}\n[owned]\ntools = ["BRUHS", "redril"]\n', encoding="utf-8")
    with pytest.raises(InputError) as raised:
        api.read_rig(path, merged)
    assert [(p.where, p.cure) for p in raised.value.problems] == [
        ("owned.tools", 'Near names: "BRUSH".'),
        ("owned.tools", 'Near names: "redrill".'),
    ]
    path.write_text(f'{text}\n[[spares]]\npart = "BRUSH"\n', encoding="utf-8")
    (spare,) = api.read_rig(path, merged).spares
    assert spare.part == catalog.parts["BRUSH"]

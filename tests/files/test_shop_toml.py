"""Shop files: the tanks that bands make from templates, and every mistake in one list."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog, Supplier
from optimizer.model.parts import Fitting, Hose
from optimizer.model.rig import Rig
from optimizer.model.shop import Store

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


@pytest.fixture(scope="module")
def store(catalog: Catalog) -> Store:
    return api.read_shop(DEMO / "shops" / "all_customers.toml", catalog)


def test_postage_of_the_shops_own_suppliers_is_in_no_kit(store: Store, catalog: Catalog) -> None:
    """The same shop from a catalog whose products are sent for by two suppliers, one of them offering some for less: every
    question about its kits is the same one, and the answer says that postage is left aside."""
    south = Supplier(id="s", name="South", postage=590, free_from=6000, least_order=2000)
    offers = tuple(replace(each, supplier="s", price=each.price // 2) for each in catalog.products[::3])
    sent = tuple(replace(each, supplier="n") for each in catalog.products)
    charging = replace(catalog, products=(*sent, *offers), suppliers=(Supplier(id="n", name="North", postage=390), south))
    made = api.read_shop(DEMO / "shops" / "all_customers.toml", charging)
    assert replace(made, notes=store.notes) == store
    assert any("postage" in note for note in made.notes) and not any("postage" in note for note in store.notes)


def installed(rig: Rig, name: str) -> object:
    return next(position.installed for position in rig.positions if position.name == name)


def test_every_combination_is_a_tank_and_shares_the_weight_of_its_band(store: Store) -> None:
    band = [each for each in store.customers if each.band == "medium canisters on 16 mm hose, 350 to 450 l"]
    assert [each.name for each in band] == [
        "medium G 1/2, 350 l, 16/22 mm, cichlids",
        "medium G 1/2, 350 l, 16/22 mm, planted",
        "medium G 1/2, 450 l, 16/22 mm, cichlids",
        "medium G 1/2, 450 l, 16/22 mm, planted",
    ]
    assert [each.weight for each in band] == [10.0] * 4
    assert sum(each.weight for each in store.customers) == pytest.approx(78.0)


def test_money_and_stock(store: Store) -> None:
    assert (store.shelf_prices, store.budgets, store.most_kits) == ((4000, 6000), (3000, 4000, 5000, 6000), 3)
    stock = {product.id: product.stock for product in store.stocked.products}
    assert (stock["HOSE-19-27"], stock["TAIL-16-G12W"], len(stock)) == (40, 8, 21)
    assert {product.id for product in store.catalog.products} > stock.keys()


def test_a_volume_takes_net_water_feeding_and_turnover_with_it(store: Store, catalog: Catalog) -> None:
    template = api.read_rig(DEMO / "shops" / "tanks" / "medium_g12.toml", catalog)
    rig = store.customer("medium G 1/2, 350 l, 16/22 mm, planted").rig
    assert rig.tank.nominal_m3 == pytest.approx(0.350)
    assert rig.tank.net_m3 == pytest.approx(0.85 * 0.350)
    assert rig.limits.flow_max_m3s == pytest.approx(4 * 0.85 * 0.350 / 3600)
    assert template.load.feed_kg_day is not None
    assert rig.load.feed_kg_day == pytest.approx(template.load.feed_kg_day * 350 / 400)
    assert rig.limits.bio_area_m2 == pytest.approx(template.limits.bio_area_m2 * 350 / 400)
    assert rig.limits.budget is None


def test_another_hose_takes_its_tails_with_it(store: Store) -> None:
    """Bores keep their ratio to the hose, 12 mm of 16 mm: 9 mm of 12 mm; threads stay as they are."""
    rig = store.customer("medium G 1/2, 250 l, 12/16 mm").rig
    hose, tail = installed(rig, "return_hose"), installed(rig, "out_tail")
    assert isinstance(hose, Hose)
    assert (hose.inside_m, hose.outside_m) == (0.012, 0.016)
    assert isinstance(tail, Fitting)
    assert (tail.outlet.size_m, tail.outlet.bore_m, tail.passage_m) == pytest.approx((0.012, 0.009, 0.009))
    assert tail.inlet.label == "G 1/2 male, bore 14 mm"


def test_without_a_list_of_stock_the_catalog_is_in_stock(tmp_path: Path, catalog: Catalog) -> None:
    tanks = DEMO / "shops" / "tanks"
    (tmp_path / "shop.toml").write_text(
        f'shelf_prices = ["60"]\n[canisters]\na = {{rig = "{tanks}/npt_ports.toml"}}\n'
        '[[band]]\nname = "b"\nweight = 1\ncanisters = ["a"]\n'
    )
    store = api.read_shop(tmp_path / "shop.toml", catalog)
    assert store.stocked is catalog
    assert store.budgets == (1500, 3000, 4500, 6000)
    assert any(note.startswith("stock:") for note in store.notes)


def test_all_mistakes_are_one_list(tmp_path: Path, catalog: Catalog) -> None:
    (tmp_path / "tank.toml").write_text('[tank]\nvolume = "12"\n')
    path = tmp_path / "shop.toml"
    path.write_text(
        """
kits = 0
shelf_prices = ["-3", 5]
budgets = "40"
foo = 1
[[stock]]
product = "HOSE-19-72"
[[stock]]
product = "HOSE-19-27"
count = "many"
[[stock]]
product = "HOSE-19-27"
[canisters]
a = {rig = "nope.toml"}
b = {rig = "tank.toml"}
c = 3
[kinds]
k = {turnover_max = "5", budget = "9"}
[[band]]
name = "x"
canisters = ["a", "zz"]
kinds = ["k"]
[[band]]
name = "y"
weight = 3
canisters = ["b"]
hoses = 4
[[band]]
name = "z"
weight = 3
canisters = ["b"]
"""
    )
    with pytest.raises(InputError) as raised:
        api.read_shop(path, catalog)
    told = [(problem.file, problem.place) for problem in raised.value.problems]
    assert told == [
        ("", "foo"),
        ("", "kits"),
        ("", "shelf_prices[1]"),
        ("", "budgets"),
        ("", "stock[1].product"),
        ("", "stock[2].count"),
        ("", "stock[3].product"),
        ("", "canisters.a.rig"),
        ("", "canisters.c"),
        ("", "kinds.k.budget"),
        ("", "kinds.k.turnover_max"),
        ("", "band[1].weight"),
        ("", "band[1].canisters"),
        ("", "band[2].hoses"),
        ("tank.toml", "tank.volume"),
        ("tank.toml", "loop"),
    ]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("= broken", "broken TOML"),
        ("shelf_prices = []\n", "missing or empty"),
        ('shelf_prices = ["0"]\n', "the amount is nothing"),
        ('shelf_prices = ["60"]\nstock = 3\n', "not a list of tables"),
        ('shelf_prices = ["60"]\nband = []\n', "no list of bands"),
    ],
)
def test_what_is_no_shop_is_refused(tmp_path: Path, catalog: Catalog, text: str, what: str) -> None:
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(InputError, match=what):
        api.read_shop(tmp_path / "shop.toml", catalog)

"""A catalog checked as a whole: what does not go together, is out of line, stands twice or is sold out."""

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product as pairs
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.stock_figures import figure_findings
from optimizer.answers.stock_joints import Fits, part_ends
from optimizer.answers.stock_rows import Rows
from optimizer.errors import InputError
from optimizer.files.catalog_csv import row_places
from optimizer.model.catalog import Catalog, Product
from optimizer.model.ends import End, Gender, Standard, mating
from optimizer.model.parts import Fitting, Hose, Outlet
from optimizer.model.stock import Finding, Place

DEMO = Path("parts_demo/catalog")

FITTING = "id,name,price,pack,stock,shape,inlet,inlet_bore_mm,outlet,outlet_bore_mm"
SOUND = {
    "pumps.csv": "id,name,price,max_head_m,max_flow_l_h,power_w,noise_dba,inlet,inlet_bore_mm,outlet,outlet_bore_mm\n"
    "P,pump,40,2,1000,20,34,G 1/2 in male,14,G 1/2 in male,14\n",
    "hoses.csv": "id,name,price_per_m,stock,inside_mm,outside_mm\nH,hose,3,,16,22\n",
    "tails.csv": f"{FITTING}\nT,tail,2,,,straight,G 1/2 in female,14,tail 16 mm,12\n",
    "clamps.csv": "id,name,price,pack,stock,low_mm,high_mm\nC,clamp,1,,,20,24\n",
    "seals.csv": "id,name,price,pack,stock,closure,standard,size_in\nS,washer,0.40,,,washer,G,1/2\n",
}
"""A pump, hose on tails, and what closes them."""


def _written(folder: Path, **changed: str) -> Path:
    """The sound catalog in a folder, rows added to some of its files (or, from "=", put in place of their rows)."""
    for file, text in SOUND.items():
        more = changed.pop(file.removesuffix(".csv"), "")
        header = text.partition("\n")[0]
        (folder / file).write_text(f"{header}\n{more[1:]}\n" if more.startswith("=") else f"{text}{more}\n")
    for name, text in changed.items():
        (folder / f"{name}.csv").write_text(text)
    return folder


def _found(folder: Path) -> tuple[Finding, ...]:
    return api.check_stock(folder).findings


def test_nothing_is_found_where_everything_goes_together(tmp_path: Path) -> None:
    """A small sound catalog gives an answer without a finding."""
    assert _found(_written(tmp_path)) == ()


CASES = {
    "goes on nothing": ({"hoses": "H2,wide hose,4,,25,34", "clamps": "C3,clamp,1,,,30,36"}, "hoses.csv", 3, ("H2",)),
    "no clamp": ({"clamps": "=C,clamp,1,,,10,14"}, "hoses.csv", 2, ("H",)),
    "clamp sold out": ({"clamps": "=C,clamp,1,,0,20,24"}, "hoses.csv", 2, ("H",)),
    "no clamp ": ({"guards": "id,name,price,form,face_area_cm2,open_pct,opening_mm,outlet,outlet_bore_mm\n"
                  "G,sponge,5,slots,60,40,2,hose 16 mm,14\n"}, "guards.csv", 2, ("G",)),
    "no washer": ({"seals": "=S,tape,1,,,tape,NPT,"}, "pumps.csv", 2, ("P", "T")),
    "no tape": ({"tails": "T2,tail,2,,,straight,NPT 1/2 in male,14,tail 16 mm,12"}, "tails.csv", 3, ("T2",)),
    "no change-over": ({"outlets": "id,name,price,form,inlet,inlet_bore_mm,hole_mm\nO,open end,2,open,NPT 1/2 in male,14,14\n"},
                       "outlets.csv", 2, ("O",)),
    "loose end": ({"tails": "T2,tail,2,,,straight,G 1/2 in female,14,tail 25 mm,20"}, "tails.csv", 3, ("T2",)),
    "idle": ({"clamps": "C2,clamp,1,,,40,44"}, "clamps.csv", 3, ("C2",)),
    "twice": ({"clamps": "C2,clamp,1.10,,,20,24"}, "clamps.csv", 2, ("C", "C2")),
    "alike": ({"clamps": "C2,green clamp,1.10,,,20,24"}, "clamps.csv", 2, ("C", "C2")),
    "price": ({"clamps": "C2,clamp,0,,,19,24"}, "clamps.csv", 3, ("C2",)),
    "dear kit": ({"kits": "id,name,price,stock,contents\nK,kit,9.01,,H 1 m; T x2; C x2\n"}, "kits.csv", 2, ("K",)),
    "unstated": ({"tails": "T2,tail,2,,,straight,G 1/2 in female,,tail 16 mm,"}, "tails.csv", 3, ("T2",)),
    "sold out": ({"tails": "T2,tail,2,,0,straight,G 1/2 in female,13,tail 16 mm,11"}, "tails.csv", 3, ("T2",)),
}  # fmt: skip


@pytest.mark.parametrize("sort", CASES)
def test_each_sort_of_finding_stands_at_its_row(tmp_path: Path, sort: str) -> None:
    """Each fault in an otherwise sound catalog is found, with file, line and ids, and with what to do."""
    changed, file, line, ids = CASES[sort]
    found = [each for each in _found(_written(tmp_path, **changed)) if each.sort == sort.strip()]
    assert [(each.file, each.line, each.ids) for each in found] == [(file, line, ids)]
    assert found[0].cure.endswith(".")


def test_rows_that_leave_out_the_same_figures_are_no_twins(tmp_path: Path) -> None:
    """Two tails of one size without their bores may differ in them; of one name they stand twice."""
    bare = "straight,G 1/2 in female,,tail 16 mm,"
    two = _found(_written(tmp_path, tails=f"T2,tail,2,,,{bare}\nT3,wide tail,3,,,{bare}"))
    assert [(each.sort, each.ids) for each in two] == [("unstated", ("T2", "T3"))]
    (tmp_path / "same").mkdir()
    same = _found(_written(tmp_path / "same", tails=f"T2,tail,2,,,{bare}\nT3,tail,3,,,{bare}"))
    assert ("twice", ("T2", "T3")) in [(each.sort, each.ids) for each in same]


def test_the_most_serious_comes_first(tmp_path: Path) -> None:
    """What stands in the way of a sale comes before slips, and these before what is only good to know."""
    clamps = "C2,clamp,1,,,40,44\nC3,clamp,0,,,19,24"
    found = _found(_written(tmp_path, clamps=clamps, hoses="H2,wide hose,4,,25,34"))
    assert [each.weight for each in found] == sorted((each.weight for each in found), key=["blocks", "odd", "note"].index)
    assert {each.weight.value for each in found} == {"blocks", "odd", "note"}


@pytest.mark.parametrize(
    ("file", "rows", "said"),
    [
        ("kits", "id,name,price,stock,contents\nK,kit,9,,NONE x2\n", 'no part "NONE" in the catalog'),
        ("clamps", "C2,clamp,1,,-1,20,24", "is negative"),
        ("clamps", "C,clamp,1,,,20,24", "stands already in"),
    ],
)
def test_what_the_reader_refuses_comes_first(tmp_path: Path, file: str, rows: str, said: str) -> None:
    """Kits of what does not exist, negative stock and an id that stands twice are refused as bad input, as in every command."""
    with pytest.raises(InputError, match=said):
        api.check_stock(_written(tmp_path, **{file: rows}))


def _end(rng: random.Random) -> End:
    standard = rng.choice([Standard.HOSE, Standard.G, Standard.R, Standard.RP, Standard.NPT])
    gender = {Standard.R: Gender.MALE, Standard.RP: Gender.FEMALE, Standard.HOSE: Gender.MALE}.get(standard)
    return End(
        standard=standard,
        size_m=rng.choice([0.012, 0.019]),
        gender=gender or rng.choice(list(Gender)),
        bore_m=0.01,
    )


def _random_catalog(rng: random.Random) -> Catalog:
    fittings = [
        Fitting(id=f"{role}{n}", name=role, role=role, shape="straight", inlet=_end(rng), outlet=_end(rng), passage_m=0.01)
        for role, many in (("adapter", 4), ("tail", 3))
        for n in range(many)
    ]
    hose = Hose(id="hose", name="hose", inside_m=rng.choice([0.012, 0.019]), outside_m=0.026)
    outlets = [Outlet(id=f"outlet{n}", name="end", form="open", inlet=_end(rng), holes=1, hole_m=0.01) for n in range(2)]
    return Catalog(parts={part.id: part for part in (*fittings, hose, *outlets)}, products=())


def _reachable(catalog: Catalog, start: End) -> Iterator[str]:
    """All standing parts that up to three adapters in a row lead to from an end, by trying every row of adapters."""
    parts = catalog.parts.values()
    adapters = [part for part in parts if isinstance(part, Fitting) and part.role == "adapter"]
    exits = [start]
    for depth in range(4):
        for end, part in pairs(exits, parts):
            if part not in adapters and any(mating(end, other) for other in part_ends(part)):
                yield part.id
        ways = [(one, other) for adapter in adapters for one, other in ((adapter.inlet, adapter.outlet),) * (depth < 3)]
        ways += [(outlet, inlet) for inlet, outlet in ways]
        exits = [leaves for end in exits for enters, leaves in ways if mating(end, enters)]


def test_loose_ends_are_those_that_no_row_of_adapters_leads_on_from() -> None:
    """On random catalogs an end is loose exactly where no chain of at most three adapters, tried one by one, ends at another
    part."""
    rng = random.Random(16)
    loose = joined = 0
    for _ in range(60):
        catalog = _random_catalog(rng)
        fits = Fits(catalog)
        for part in catalog.parts.values():
            told = fits.loose(part)
            for end in part_ends(part):
                alone = not set(_reachable(catalog, end)) - {part.id}
                assert (end in told) == alone
                loose, joined = loose + alone, joined + (not alone)
    assert loose > 50 and joined > 50


def test_a_slipped_point_is_found_in_most_prices_and_none_where_nothing_slipped() -> None:
    """In the demo catalog no price is called a slip; with the point of any one price moved, either way, most are, each at its
    row."""
    catalog, places = api.read_catalog(DEMO), {row: Place(file=at[0], line=at[1]) for row, at in row_places(DEMO).items()}

    def slips(products: tuple[Product, ...]) -> list[tuple[str, ...]]:
        found = figure_findings(Rows(replace(catalog, products=products), places))
        return [each.ids for each in found if each.sort == "price"]

    assert slips(catalog.products) == []
    found = []
    for n in range(0, len(catalog.products), 9):
        product = catalog.products[n]
        if product.id in catalog.parts:
            for price in (product.price * 10, product.price // 10):
                slipped = (*catalog.products[:n], replace(product, price=price), *catalog.products[n + 1 :])
                found.append(slips(slipped) == [(product.id,)])
    assert len(found) > 80 and sum(found) >= 0.8 * len(found), f"{sum(found)} of {len(found)}"

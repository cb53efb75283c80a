"""A catalog folder becomes parts and products; every form of price, and how fast it is read."""

import time
from pathlib import Path

import pytest

from optimizer.errors import MOST_LISTED, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import Standard
from optimizer.model.parts import Device, Fitting, Guard, Hose, Medium, Outlet, Pump, Seal, TeePiece

SHOP = Path(__file__).parent.parent / "data" / "small" / "catalog"
PUMPS = "id,name,price,max_head_m,max_flow_l_h,power_w,noise_dba,inlet,inlet_bore_mm,outlet,outlet_bore_mm\n"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(SHOP)


def product(shop: Catalog, product_id: str) -> Product:
    return next(product for product in shop.products if product.id == product_id)


def test_name_currency_and_order(shop: Catalog) -> None:
    assert (shop.name, shop.currency) == ("Small test shop", "EUR")
    assert list(shop.parts)[:4] == ["PUMP-1200", "PUMP-2000", "PUMP-Q", "GUARD-SLOT"]
    assert [product.id for product in shop.products][-2:] == ["KIT-19", "KIT-PUMP"]
    assert len(shop.parts) == 28


def test_prices(shop: Catalog) -> None:
    # a part in a kit only is not sold singly
    assert {part for part in shop.parts if part not in {p.id for p in shop.products}} == {"PUMP-1200", "CLAMP-25"}
    assert product(shop, "HOSE-16-22").step_m == 0.1
    assert product(shop, "HOSE-19-RIB").cut_price(1.2) == 465  # 3 steps of 50 cm at 3.10 a metre
    assert product(shop, "HOSE-19-27").lines == (Line(part_id="HOSE-19-27", amount_m=3.0),)
    assert product(shop, "CLAMP-22").lines == (Line(part_id="CLAMP-22", count=4),)
    assert product(shop, "FOAM-20").lines == (Line(part_id="FOAM-20", amount_m3=0.002),)
    assert product(shop, "PUMP-2000").stock == 3
    assert product(shop, "KIT-19") == Product(
        id="KIT-19",
        name="19 mm hose kit",
        price=2900,
        stock=4,
        lines=(
            Line(part_id="TAIL-19", count=2),
            Line(part_id="HOSE-19-27", amount_m=4.0),
            Line(part_id="CLAMP-25", count=8),
            Line(part_id="FOAM-20", amount_m3=0.002),
        ),
    )


def test_parts(shop: Catalog) -> None:
    pump, quiet = shop.parts["PUMP-2000"], shop.parts["PUMP-Q"]
    assert isinstance(pump, Pump)
    assert isinstance(quiet, Pump)
    assert (pump.curve.max_head_m, pump.curve.shape, pump.label_hz) == (2.4, 1.8, 0.0)
    assert pump.curve.max_flow_m3s == pytest.approx(2.0 / 3600.0)
    assert (pump.inlet.standard, pump.inlet.size_m) == (Standard.G, pytest.approx(0.01905))
    assert quiet.curve.heads_m == (2.2, 2.05, 1.5, 0.0)
    guard, hose, coupling = shop.parts["GUARD-SPONGE"], shop.parts["HOSE-19-27"], shop.parts["CPL-16"]
    assert isinstance(guard, Guard)
    assert (guard.face_area_m2, guard.open_fraction, guard.outlet.bore_m) == (pytest.approx(0.022), 0.97, 0.016)
    assert isinstance(hose, Hose)
    assert (hose.inside_m, hose.outside_m, hose.roughness_m) == (0.019, 0.027, 6.0e-6)
    assert isinstance(coupling, Fitting)
    assert (coupling.role, coupling.passage_m) == ("coupling", 0.009)
    assert isinstance(seal := shop.parts["WASHER-G34"], Seal)
    assert seal.fits("washer", "G", 0.01905)
    assert isinstance(nozzle := shop.parts["NOZZLE-12"], Outlet)
    assert nozzle.discharge == 0.9


def test_tees(shop: Catalog) -> None:
    """Blank passages are the smaller bores, a blank angle is that of a tee, the side is no wider than the run."""
    tee, wye = shop.parts["TEE-16"], shop.parts["WYE-19-16"]
    assert isinstance(tee, TeePiece)
    assert isinstance(wye, TeePiece)
    assert (tee.passage_m, tee.side_passage_m, tee.angle_deg) == (0.012, 0.011, 90.0)
    assert (wye.passage_m, wye.side_passage_m, wye.angle_deg) == (0.014, 0.012, 45.0)
    assert (wye.inlet.size_m, wye.outlet.size_m, wye.side.size_m) == (0.019, 0.019, 0.016)
    assert (product(shop, "TEE-16").price, product(shop, "TEE-16").stock) == (480, 6)
    assert product(shop, "WYE-19-16").lines == (Line(part_id="WYE-19-16", count=2),)


def test_a_tee_in_a_kit_alone(tmp_path: Path) -> None:
    (tmp_path / "pumps.csv").write_text(PUMPS)
    header = "id,name,price,inlet,inlet_bore_mm,outlet,outlet_bore_mm,side,side_bore_mm\n"
    (tmp_path / "tees.csv").write_text(header + "T,tee,,tail 12 mm,9,tail 16 mm,12,tail 16 mm,12\n")
    (tmp_path / "kits.csv").write_text("id,name,price,contents\nK,two tees,8,T x2\n")
    found = read_catalog(tmp_path)
    tee = found.parts["T"]
    assert isinstance(tee, TeePiece)
    assert (tee.passage_m, tee.side_passage_m) == (0.009, 0.009)
    assert [product.lines for product in found.products] == [(Line(part_id="T", count=2),)]


def test_losses_come_from_the_laws(shop: Catalog) -> None:
    """Ergun, Chem. Eng. Prog. 48 (1952) 89-94, worked out by hand for 6 mm balls with 42 % voids."""
    balls = shop.parts["BALLS-6"]
    assert isinstance(balls, Medium)
    assert balls.permeability_m2 == pytest.approx(0.006**2 * 0.42**3 / (150.0 * 0.58**2), rel=1e-12)
    assert balls.inertial_1m == pytest.approx(1.75 * 0.58 / (0.006 * 0.42**3), rel=1e-12)
    heater = shop.parts["HEATER-300"]
    assert isinstance(heater, Device)
    assert heater.quadratic * (0.8 / 3600.0) ** 2 == pytest.approx(0.15)
    assert heater.flow_max_m3s == pytest.approx(1.0 / 3600.0)


def test_pack_of_bags_and_of_coils(tmp_path: Path) -> None:
    (tmp_path / "pumps.csv").write_text(PUMPS)
    (tmp_path / "media.csv").write_text("id,name,price,pack,form,volume_l,pores_ppi\nF,foam,4,2,foam,1,20\n")
    (tmp_path / "hoses.csv").write_text("id,name,price,pack,coil_m,inside_mm,outside_mm\nH,hose,9,2,3,16,22\n")
    hose, foam = read_catalog(tmp_path).products
    assert hose.lines == (Line(part_id="H", amount_m=3.0),) * 2
    assert foam.lines == (Line(part_id="F", amount_m3=0.001),) * 2


def test_decimal_commas_and_a_folder_for_a_name(tmp_path: Path) -> None:
    (tmp_path / "pumps.csv").write_text(PUMPS.replace(",", ";"))
    (tmp_path / "clamps.csv").write_text("id;name;price;low_mm;high_mm\nC;clamp;2,50;19,5;24\n")
    found = read_catalog(str(tmp_path))
    assert found.products[0].price == 250
    assert found.name == tmp_path.name
    assert found.currency == ""


def test_a_flood_of_problems_is_cut(tmp_path: Path) -> None:
    rows = "".join(f"C-{n},clamp,1,x,24\n" for n in range(120))
    (tmp_path / "pumps.csv").write_text(PUMPS)
    (tmp_path / "clamps.csv").write_text("id,name,price,low_mm,high_mm\n" + rows)
    with pytest.raises(InputError) as caught:
        read_catalog(tmp_path)
    assert len(caught.value.problems) == MOST_LISTED + 1
    assert caught.value.problems[-1].what == f"{120 - MOST_LISTED} more problems are not listed."


def test_speed(tmp_path: Path) -> None:
    """Ten thousand rows in at most 3 s of processor time (measured: about 0.3 s), so that no cell is read twice."""
    rows = "".join(f"C-{n},clamp {n},{n % 90 + 1}.50,{20 + n % 9},{31 + n % 7}\n" for n in range(10_000))
    (tmp_path / "pumps.csv").write_text(PUMPS)
    (tmp_path / "clamps.csv").write_text("id,name,price,low_mm,high_mm\n" + rows)
    start = time.process_time()
    found = read_catalog(tmp_path)
    assert time.process_time() - start < 3.0
    assert len(found.parts) == 10_000

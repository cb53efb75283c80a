"""A rig file becomes a rig: every table, what is assumed when nothing is written, and odd files."""

import math
import os
from pathlib import Path

import pytest

from optimizer.dirt.biology import sure_m2
from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Hose, Medium, Outlet, Pump
from optimizer.model.rig import Rig, Spare
from optimizer.model.state import State

DATA = Path(__file__).parent.parent / "data"
SHORT = (DATA / "broken" / "rigs" / "missing_unit.toml").read_text(encoding="utf-8").replace('"120"', '"120 l"')


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DATA / "small" / "catalog")


@pytest.fixture(scope="module")
def hall(shop: Catalog) -> Rig:
    return read_rig(DATA / "small" / "hall_tank.toml", shop)


def short(folder: Path, shop: Catalog, *changes: tuple[str, str], add: str = "") -> Rig:
    text = SHORT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "short.toml").write_text(text + add, encoding="utf-8")
    return read_rig(folder / "short.toml", shop)


def test_tank_and_site(hall: Rig) -> None:
    assert hall.name == "Hall tank"
    assert (hall.tank.nominal_m3, hall.tank.net_m3, hall.tank.temperature_c) == (0.45, 0.4, 25.0)
    assert (hall.mains_hz, hall.listen_m, hall.cabinet_db) == (50.0, 1.5, 6.0)


def test_limits_and_wish(hall: Rig) -> None:
    """Feed 5 g/day at 45 % protein: 0.092 x 5 x 0.45 = 0.207 g N/day (Timmons and Ebeling), over 0.3 g/m2/day."""
    limits = hall.limits
    assert (limits.budget, limits.noise_dba, limits.power_w) == (10000, 38.0, 60.0)
    assert limits.flow_min_m3s == pytest.approx(0.4 / 3600.0)
    assert limits.flow_max_m3s == pytest.approx(1.8 / 3600.0)
    assert (limits.opening_m, limits.guard_speed_ms, limits.inlet_head_m) == (0.003, 0.1, 0.05)
    assert limits.bio_area_m2 == pytest.approx(sure_m2(0.207 / (0.3 * 1.04)))
    assert hall.target_m3s == pytest.approx(3 * 0.4 / 3600.0)


def test_places_in_the_order_of_the_water(hall: Rig) -> None:
    kinds = ["guard", "hose", "fitting", "canister", "pump", "fitting", "hose", "device", "outlet"]
    assert [position.kind for position in hall.positions] == kinds
    guard, suction, coupling, body, pump, throttle, back, heater, bar = hall.positions
    assert guard.state == State(blocked=0.4)
    assert suction.installed == Hose(
        id="installed:suction_hose", name="installed hose", inside_m=0.016, outside_m=0.022, roughness_m=1.5e-6
    )
    assert (suction.length_m, suction.bends, suction.bend_radius_m, suction.coil_m) == (1.8, 2, 0.08, math.inf)
    assert suction.state == State(film_m=0.0005)
    assert (coupling.role, body.depth_m, back.length_m) == ("coupling", 1.2, 1.6)
    assert isinstance(body.installed, Canister)
    assert (body.installed.trays, body.installed.rating_m) == (3, 3.0)
    assert isinstance(pump.installed, Pump)
    assert pump.installed.label_hz == 50.0
    assert pump.state == State(fouled=0.05, worn=0.03)
    assert (throttle.installed, throttle.role) == (None, "valve")
    assert heater.stays
    assert (bar.height_m, len(bar.adjusts)) == (0.03, 2)


def test_adjustments(hall: Rig) -> None:
    drill, sink = hall.positions[-1].adjusts
    old = hall.positions[-1].installed
    assert isinstance(old, Outlet)
    assert isinstance(drill.outlet, Outlet)
    assert (drill.name, drill.price, drill.height_m) == ("re-drill to 4.5 mm", 600, None)
    assert (drill.outlet.hole_m, drill.outlet.holes, drill.outlet.bar_bore_m) == (0.0045, old.holes, old.bar_bore_m)
    assert drill.outlet.id != old.id
    assert (sink.outlet, sink.height_m, sink.price) == (None, -0.02, 0)


def test_trays(hall: Rig) -> None:
    first, second, third = hall.trays
    assert isinstance(first.medium, Medium)
    assert isinstance(second.medium, Medium)
    assert (first.medium.id, first.state) == ("FOAM-20", State(filled=0.3, cake_m=1e-3))
    assert (second.medium.id, second.medium.area_m2m3) == ("installed:canister.trays[2]", 1000.0)
    assert third.medium is None


def test_spares(hall: Rig, shop: Catalog) -> None:
    clamps, hose, foam = hall.spares
    assert clamps == Spare(part=shop.parts["CLAMP-22"], count=2)
    assert hose == Spare(part=shop.parts["HOSE-19-27"], amount_m=2.0)
    assert (foam.part.id, foam.amount_m3) == ("spare:3", 0.002)


def test_everything_given_leaves_only_the_note_on_feeding(hall: Rig) -> None:
    """And on the three joints of this file whose ends do not go together: nobody wrote down what stands in them."""
    unjoined = [note.partition(" (")[0] for note in hall.notes[:-1]]
    assert hall.notes[-1] == (
        "feeding: bacteria need 0.663 m2 for this food at 25 degC (planning prior, half to double that); 1.5 m2 do in nine of "
        "ten cases, and as much always stays"
    )
    assert unjoined == [
        "loop.canister: does not fit in_coupling",
        "loop.pump: does not fit canister",
        "loop.spray_bar: does not fit heater",
    ]


def test_what_is_assumed(tmp_path: Path, shop: Catalog) -> None:
    """85 % of nominal, 25 degC, 50 Hz: common practice, no published source."""
    rig = short(tmp_path, shop)
    assert rig.name == "short"
    assert rig.tank.net_m3 == pytest.approx(0.102)
    assert (rig.tank.temperature_c, rig.mains_hz, rig.listen_m, rig.cabinet_db) == (25.0, 50.0, 1.0, 0.0)
    assert rig.limits == Limits(bio_area_m2=rig.bio_area_m2, inlet_head_m=-math.inf)
    assert rig.target_m3s == 0.0
    assert rig.notes == (
        "tank.net_volume: not given, taken as 85 % of the nominal volume, 102 l (common practice)",
        "tank.temperature: not given, taken as 25 degC",
        "site.mains: not given, taken as 50 Hz",
        "loop.pump.depth: not given, the pump is taken to stand at the water line",
        "loop.pump: does not fit canister (both ends are male: 16 mm tail, bore 12 mm and 16 mm tail, bore 12 mm), taken as "
        'joined without a piece between; if there is one, write it under [[joint]] between = ["canister", "pump"]',
        "limits.inlet_pressure: not asked for, and not looked at, since the depth of the pump is not given",
        "feeding: not given, so the surface for bacteria must not fall below the 1.35 m2 there is now",
    )


def test_units_of_other_countries_are_noted(tmp_path: Path, shop: Catalog) -> None:
    """US gallon 3.785411784 l, NIST SP 811 appendix B."""
    rig = short(tmp_path, shop, ('"120 l"', '"75 gal"'))
    assert rig.tank.nominal_m3 == pytest.approx(75 * 3.785411784e-3)
    assert "tank.volume: gal read as US gallon (3.785 l)" in rig.notes


def test_an_outlet_above_the_water_may_be_sunk(tmp_path: Path, shop: Catalog) -> None:
    rig = short(tmp_path, shop, ('below_water = "2 cm"', 'above_water = "3 cm"'))
    (sink,) = rig.positions[-1].adjusts
    assert (sink.name, sink.price, sink.height_m) == ("sink below the water line", 0, -0.02)
    fixed = short(tmp_path, shop, ('below_water = "2 cm"', 'above_water = "3 cm"\nstays = true'))
    assert fixed.positions[-1].adjusts == ()
    assert short(tmp_path, shop).positions[-1].adjusts == ()
    rig = short(tmp_path, shop, ('below_water = "2 cm"\n', ""))
    assert rig.positions[-1].height_m == 0.0
    assert "loop.outlet.above_water: not given, the outlet is taken to be at the water line" in rig.notes


@pytest.mark.parametrize(("basis", "volume"), [("net", 0.102), ("nominal", 0.12)])
def test_the_basis_of_turnover(basis: str, volume: float, tmp_path: Path, shop: Catalog) -> None:
    limits = f'\n[limits]\nturnover_basis = "{basis}"\nturnover_min = "2 per hour"\nturnover_max = "9/h"\n'
    rig = short(tmp_path, shop, add=limits + '[wish]\nturnover = "5 per hour"\n')
    assert rig.limits.flow_min_m3s == pytest.approx(2 * volume / 3600.0)
    assert rig.limits.flow_max_m3s == pytest.approx(9 * volume / 3600.0)
    assert rig.target_m3s == pytest.approx(5 * volume / 3600.0)


def test_the_stricter_bound_counts(tmp_path: Path, shop: Catalog) -> None:
    limits = '\n[limits]\nturnover_min = "2 per hour"\nflow_min = "300 l/h"\nturnover_max = "9/h"\nflow_max = "700 l/h"\n'
    rig = short(tmp_path, shop, add=limits)
    assert rig.limits.flow_min_m3s == pytest.approx(0.3 / 3600.0)
    assert rig.limits.flow_max_m3s == pytest.approx(0.7 / 3600.0)


def test_a_written_surface_goes_before_the_feeding(tmp_path: Path, shop: Catalog) -> None:
    rig = short(tmp_path, shop, add='\n[feeding]\nfeed = "5 g/day"\nprotein = "45 %"\n[limits]\nbio_area = "0.1 m2"\n')
    assert rig.limits.bio_area_m2 == pytest.approx(0.1)
    assert rig.notes[-1].startswith("limits.bio_area: bacteria need 0.663 m2 for this food at 25 degC")
    assert rig.notes[-1].endswith("what is written counts, but below 1.5 m2 it may be too little")


def test_parts_described_in_the_rig(tmp_path: Path, shop: Catalog) -> None:
    outlet = 'form = "open"\nhole = "12 mm"\ninlet = "hose 16 mm"'
    device = 'kind = "device"\nkv = "6 m3/h"\nwindow = "300-800 l/h"\ninlet = "union A male"\ninlet_bore = "12 mm"\n'
    rig = short(
        tmp_path,
        shop,
        ('part = "BAR-16"', outlet),
        (
            "[loop.outlet]",
            f'[loop.lamp]\n{device}outlet = "slip mm 25 mm female"\noutlet_bore = "25 mm"\n\n[loop.outlet]',
        ),
    )
    found = rig.positions[-1].installed
    assert isinstance(found, Outlet)
    assert (found.id, found.holes, found.discharge) == ("installed:outlet", 1, 1.0)
    assert rig.positions[-2].name == "lamp"


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "9" * 5000,
        "[" * 3000,
        "loop = 3",
        "loop = {'a b' = {kind = 'hose'}}",
        "loop = {a = 3}",
        "spares = 3",
        "spares = [3]",
        "tank = [1]",
        "name = 3",
        'name = "a\\u0007b"',
        "'' = 1",
    ],
)
def test_odd_trees(text: str, tmp_path: Path, shop: Catalog) -> None:
    (tmp_path / "odd.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_rig(tmp_path / "odd.toml", shop)
    assert str(caught.value).startswith("odd.toml: ")


def test_files_that_cannot_be_read(tmp_path: Path, shop: Catalog) -> None:
    (tmp_path / "big.toml").write_text("#" * ((1 << 20) + 1))
    os.mkfifo(tmp_path / "pipe.toml")
    for name, what in [
        ("none.toml", "there is no such file."),
        ("big.toml", "the file is larger than 1 MiB."),
        ("pipe.toml", "this is not a file."),
        ("", "this is not a file."),
        ("a\0b", "there is no such file."),
    ]:
        with pytest.raises(InputError) as caught:
            read_rig(tmp_path / name, shop)
        assert [problem.what for problem in caught.value.problems] == [what]


def test_reading_twice_gives_the_same(hall: Rig, shop: Catalog) -> None:
    assert read_rig(str(DATA / "small" / "hall_tank.toml"), shop) == hall


def test_the_price_of_energy_is_money_of_the_catalog_per_kwh(tmp_path: Path, shop: Catalog) -> None:
    """Hundredths of a cent count; without a price there is none."""
    assert short(tmp_path, shop).energy_price is None
    for said, minor in (("0.32 EUR/kWh", 32.0), ("0,2875 EUR per kWh", 28.75), ("0 EUR/kWh", 0.0)):
        priced = short(tmp_path, shop, add=f'\n[site]\nenergy_price = "{said}"\n')
        assert priced.energy_price == pytest.approx(minor)


@pytest.mark.parametrize(
    ("said", "what"),
    [
        ("0.32", "does not say in what currency and per kWh"),
        ('"0.32 EUR"', "does not say in what currency and per kWh"),
        ('"0.32 GBP/kWh"', "the catalog's prices are in EUR"),
        ('"-0.32 EUR/kWh"', "is negative"),
        ('"1,234 EUR/kWh"', "can be read with a thousands comma"),
        ('"4000 EUR/kWh"', "is more than 1000"),
        ("true", "this is not a price of energy"),
    ],
)
def test_a_price_of_energy_that_could_be_taken_wrong_is_refused_with_a_cure(
    tmp_path: Path, shop: Catalog, said: str, what: str
) -> None:
    """A bare number could be cents or euros; money of another country is none of the bill's."""
    with pytest.raises(InputError) as raised:
        short(tmp_path, shop, add=f"\n[site]\nenergy_price = {said}\n")
    (problem,) = raised.value.problems
    assert what in problem.what
    assert problem.where == "site.energy_price"
    assert '0.32 EUR/kWh"' in problem.cure


def test_a_rim_is_read_and_is_not_known_where_nobody_measured_it(tmp_path: Path, shop: Catalog) -> None:
    assert short(tmp_path, shop).rim_m is None
    assert short(tmp_path, shop, add='\n[site]\nrim = "6 cm"\n').rim_m == pytest.approx(0.06)

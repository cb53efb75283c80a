"""Parts stated by kind and size alone: what is taken for the rest, and that it is told wherever it counts."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.by_fills import by_fills
from optimizer.answers.measure import explained
from optimizer.answers.question import stands_now
from optimizer.bands.priors import PRIORS
from optimizer.errors import BadValue, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.columns import column_reference
from optimizer.files.end_text import parse_end
from optimizer.files.part_kinds import PART_KINDS
from optimizer.measure.fill_loop import cleaned, loop_during_fill
from optimizer.model.catalog import Catalog
from optimizer.model.ends import Standard
from optimizer.model.parts import Clamp, Device, Fitting, Guard, Hose, Medium, NonReturnValve, Outlet, Pump, TeePiece
from optimizer.model.rig import Rig
from optimizer.model.unknowns import ASSUMED, sort_of
from optimizer.model.usual_figures import BORES, RULES, Rule, assumed_figures
from optimizer.report.measurement_words import advice_of
from optimizer.report.text import render

SHOP = {
    "pumps.csv": "id,name,price,max_flow_l_h,inlet,outlet\nPUMP,pump 1200,60,1200,tail 16 mm,tail 16 mm\n"
    "HEAD,pump head,60,1200,union C male,union D female\n",
    "hoses.csv": "id,name,price_per_m,inside_mm\nHOSE-16,hose 16,3,16\nHOSE-19,hose 19,4,19\nHOSE-58,hose 5/8 in,4,15.875\n",
    "tails.csv": "id,name,price,inlet,outlet\nTAIL,tail 16 mm,2,tail 16 mm,G 1/2 in male\n"
    "PIPE,tail for pipe,2,tail 16 mm,slip in 3/4 in female\n",
    "couplings.csv": "id,role,name,price,inlet,outlet\nCOUP,coupling,coupling 16,5,tail 16 mm,union C1 male\n",
    "guards.csv": "id,name,price,form,outlet\nSLOTS,strainer,5,slots,tail 16 mm\nSPONGE,sponge,8,sponge,hose 16 mm\n",
    "media.csv": "id,name,price,form,mechanical,biological\nFOAM,foam,6,foam,yes,yes\nBALLS,balls,6,granules,no,yes\n"
    "RINGS,rings,6,rings,no,yes\nFLOSS,floss,6,fibre,yes,no\n",
    "outlets.csv": "id,name,price,form,inlet\nBAR,bar,6,bar,tail 16 mm\nOPEN,open end,3,open,tail 16 mm\n"
    "NOZ,nozzle,3,nozzle,tail 16 mm\n",
    "devices.csv": "id,name,price,inlet,outlet\nUV,lamp,60,tail 16 mm,tail 16 mm\n",
    "valves.csv": "id,name,form,price,inlet,outlet\nNRV,flap,flap,6,tail 16 mm,tail 16 mm\n",
    "tees.csv": "id,name,price,inlet,outlet,side\nTEE,tee,4,tail 16 mm,tail 16 mm,tail 12 mm\n",
    "clamps.csv": "id,name,price,high_mm\nCLAMP,clamp 25,1,25\n",
}


def shop(folder: Path, **also: str) -> Catalog:
    for file, rows in {**SHOP, **{f"{name}.csv": rows for name, rows in also.items()}}.items():
        (folder / file).write_text(rows, encoding="utf-8")
    return read_catalog(folder)


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Catalog:
    return shop(tmp_path_factory.mktemp("bare"))


def test_a_catalog_by_kind_and_size_alone(bare: Catalog) -> None:
    """Tails 0.75 of their hose, heads by the class of the pump, and so on: the rules as `fullbore columns` tells them."""
    parts = bare.parts
    for part_id, kind, figures, assumed in (
        ("PUMP", Pump, {"power_w": 17.0, "noise_dba": 35.0}, ("inlet_bore", "outlet_bore", "max_head", "power", "noise")),
        ("HOSE-19", Hose, {"outside_m": 0.027}, ("outside",)),
        ("TAIL", Fitting, {"passage_m": 0.012}, ("inlet_bore", "outlet_bore")),
        ("SLOTS", Guard, {"face_area_m2": 12 * 0.016**2, "open_fraction": 0.4, "opening_m": 4.5e-3},
         ("outlet_bore", "face_area", "open", "opening")),
        ("SPONGE", Guard, {"pores_ppi": 20.0, "thickness_m": 0.02, "opening_m": 0.0254 / 20, "face_area_m2": 40 * 0.016**2},
         ("pores", "thickness", "face_area", "open", "opening")),
        ("FOAM", Medium, {"pores_ppi": 20.0, "area_m2m3": 1100.0}, ("pores", "area", "volume")),
        ("RINGS", Medium, {"void": 0.64, "area_m2m3": 370.0}, ("void", "surface", "area", "volume")),
        ("FLOSS", Medium, {"area_m2m3": 0.0}, ("fibre", "solid", "volume")),
        ("BAR", Outlet, {"holes": 16, "hole_m": 3e-3, "bar_bore_m": 0.016, "pitch_m": 0.025},
         ("inlet_bore", "holes", "hole", "bar_bore", "pitch")),
        ("NOZ", Outlet, {"holes": 1, "hole_m": 0.6 * 0.016}, ("inlet_bore", "hole")),
        ("UV", Device, {}, ("inlet_bore", "outlet_bore", "k")),
        ("NRV", NonReturnValve, {"crack_m": 0.01}, ("inlet_bore", "outlet_bore", "crack")),
        ("TEE", TeePiece, {"passage_m": 0.012, "side_passage_m": 0.009}, ("inlet_bore", "outlet_bore", "side_bore")),
        ("CLAMP", Clamp, {"low_m": 0.020}, ("low",)),
    ):  # fmt: skip
        part = parts[part_id]
        assert isinstance(part, kind)
        assert part.assumed == assumed
        assert {name: getattr(part, name) for name in figures} == pytest.approx(figures)
    pump, coupling, head, pipe = parts["PUMP"], parts["COUP"], parts["HEAD"], parts["PIPE"]
    assert isinstance(pump, Pump) and pump.curve.max_head_m == 1.8 and pump.curve.shape == 2.0
    assert isinstance(coupling, Fitting) and coupling.outlet.bore_m == coupling.inlet.bore_m == 0.012  # a union as its other end
    assert isinstance(head, Pump) and head.inlet.bore_m == 0.012  # 0.75 of the hose of its class
    assert isinstance(pipe, Fitting) and pipe.outlet.standard is Standard.SLIP_IN
    assert pipe.outlet.size_m == 0.0267  # "3/4 in" names the pipe, not its outside
    assert [product.lines[0].amount_m3 for product in bare.products if product.id == "FOAM"] == [1e-3]
    assert assumed_figures(pump).startswith("inlet bore 12 mm (11.2 to 13.6 mm), outlet bore 12 mm")


def test_what_is_written_replaces_the_rule_and_makes_the_same_part(bare: Catalog, tmp_path: Path) -> None:
    stated = shop(
        tmp_path,
        tails="id,name,price,inlet,inlet_bore_mm,outlet,outlet_bore_mm\nTAIL,tail 16 mm,2,tail 16 mm,12,G 1/2 in male,13.97\n"
        "PIPE,tail for pipe,2,tail 16 mm,,slip in 3/4 in female,20\n",
    )
    assert stated.parts["TAIL"] == bare.parts["TAIL"]
    assert not stated.parts["TAIL"].assumed
    assert stated.parts["PIPE"].assumed == ("inlet_bore",)


def test_what_no_rule_gives_is_still_asked_for(tmp_path: Path) -> None:
    """A clamp without either end of its range, a pump without a flow, unions on both sides, and no form of a guard."""
    with pytest.raises(InputError) as caught:
        shop(
            tmp_path,
            clamps="id,name,price\nCLAMP,clamp,1\n",
            pumps="id,name,price,inlet,outlet\nPUMP,pump,60,tail 16 mm,tail 16 mm\n",
            couplings="id,role,name,price,inlet,outlet\nCOUP,coupling,coupling,5,union A male,union B male\n",
            guards="id,name,price,outlet\nSLOTS,strainer,5,tail 16 mm\n",
        )
    told = str(caught.value)
    for words in (
        'low_mm: is missing. Write for example "20"',
        'high_mm: is missing. Write for example "24"',
        "max_head_m: the pump has neither a label",
        "power_w: is missing",
        "inlet_bore_mm: the open bore of this end is missing",
        'the column "form" is missing',
    ):
        assert words in told


def test_what_hangs_on_a_field_that_cannot_be_read_is_not_called_missing(tmp_path: Path) -> None:
    """One slip is one problem: head, power, noise and the bores of unions of this pump would come from its flow."""
    with pytest.raises(InputError) as caught:
        shop(tmp_path, pumps="id,name,price,max_flow_l_h,inlet,outlet\nPUMP,pump,60,12oo,union A male,union B male\n")
    assert [problem.where.partition(", ")[2] for problem in caught.value.problems] == ["max_flow_l_h"]


def test_every_rule_is_told_in_the_reference_and_stands_on_a_column_or_key() -> None:
    told = column_reference("markdown")
    for rule in RULES.values():
        entry = PART_KINDS[rule.kind]
        field = next(each for each in entry.fields if each.name == rule.name)
        assert field.usual == rule.says
        assert not field.required
        assert f"{rule.says} (assumed)" in told
        assert rule.low <= 1.0 <= rule.high
        assert rule.source


def test_every_unknown_of_an_assumed_figure_has_a_wider_prior_and_no_other_has_one() -> None:
    felt = {name for rule in RULES.values() for name in rule.felt_in}
    assert {sort_of(name) for name in PRIORS if name.endswith(ASSUMED)} == felt
    for name in felt:
        stated, assumed = PRIORS[name], PRIORS[f"{name}{ASSUMED}"]
        assert assumed.spread > stated.spread
        assert assumed.sigma > stated.sigma
        assert assumed.group == f"unstated {stated.group}"


@pytest.mark.parametrize(
    "rule", [rule for (_, name), rule in RULES.items() if name not in BORES], ids=lambda r: f"{r.kind}-{r.name}"
)
def test_a_rule_knows_nothing_of_a_part_of_which_nothing_is_known(rule: Rule) -> None:
    """No rule falls over where what it goes by is not written either."""
    value = rule.value({})
    assert value is None or value > 0.0


# -- threads whose family is not said -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["3/4 thread male", "thread 3/4 in male", "3/4 in male", 'male 3/4" thread', "BSP 3/4 male", "3/4 bsp"]
)
def test_a_thread_without_a_family_is_asked_for(text: str) -> None:
    with pytest.raises(BadValue) as caught:
        parse_end(text)
    assert caught.value.what.endswith("does not say which thread.")
    assert 'Write "G 3/4 in male", "R 3/4 in male" or "NPT 3/4 in male".' in caught.value.cure
    assert "14 threads per inch" in caught.value.cure and "26.4 mm across" in caught.value.cure


def test_it_is_asked_with_its_place_in_a_catalog_and_in_a_rig(tmp_path: Path, bare: Catalog) -> None:
    with pytest.raises(
        InputError, match=r"tails\.csv: 1 problem.*\n  line 2, outlet: \"1/2 thread female\" does not say which thread"
    ):
        shop(tmp_path, tails="id,name,price,inlet,outlet\nTAIL,tail,2,tail 16 mm,1/2 thread female\n")
    path = tmp_path / "tank.toml"
    path.write_text(TANK.replace('part = "PUMP"', 'max_flow = "900 l/h"\ninlet = "1/2 in male"\noutlet = "tail 16 mm"'))
    with pytest.raises(InputError, match=r"loop\.pump\.inlet: \"1/2 in male\" does not say which thread.*\"R 1/2 in male\""):
        api.read_rig(path, bare)


# -- carried on ------------------------------------------------------------------------------------------------------

TANK = """[tank]
volume = "200 l"
temperature = "24 degC"

[limits]
budget = "40"

[loop.intake]
kind = "guard"
part = "SLOTS"
blocked = "30 %"

[loop.suction_hose]
kind = "hose"
inside = "16 mm"
length = "1.5 m"

[loop.canister]
kind = "canister"
inlet = "tail 16 mm"
outlet = "tail 16 mm"
tray_area = "300 cm2"
tray_height = "5 cm"
trays = [ {medium = "FOAM"} ]

[loop.join]
kind = "hose"
inside = "16 mm"
length = "0.3 m"

[loop.pump]
kind = "pump"
part = "PUMP"
depth = "0.8 m"

[loop.return_hose]
kind = "hose"
inside = "16 mm"
length = "1.5 m"

[loop.outlet]
kind = "outlet"
part = "BAR"
below_water = "2 cm"
"""


FILLED_L_H = 10.0 / (121.0 / 3.0) * 3600.0


def stated_in(catalog: Catalog, *ids: str) -> Catalog:
    """The same figures as if somebody had stated them."""
    parts = {key: replace(part, assumed=()) if key in ids else part for key, part in catalog.parts.items()}
    return replace(catalog, parts=parts)


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    path = tmp_path / "tank.toml"
    path.write_text(TANK, encoding="utf-8")
    return path


def read(path: Path, catalog: Catalog) -> Rig:
    return api.read_rig(path, catalog)


def test_a_rig_notes_what_it_takes(tank: Path, bare: Catalog) -> None:
    notes = list(map(str, read(tank, bare).notes))
    assert any(
        note.startswith("loop.pump: not stated of PUMP, assumed") and "max head 1.8 m (1.35 to 2.43 m)" in note for note in notes
    )
    assert any(note.startswith("loop.canister: not stated, assumed") and "inlet bore 12 mm" in note for note in notes)
    assert any(note.startswith("loop.suction_hose: not stated, assumed") and "outside 22 mm" in note for note in notes)
    assert any(note.startswith("loop.canister.trays[1]: not stated of FOAM") and "litres" not in note for note in notes)


def test_best_solves_and_says_what_it_rests_on(tank: Path, bare: Catalog) -> None:
    """The bill marks parts of which figures are assumed, and the basis has them with what they may be."""
    result = api.best(read(tank, bare), bare, budget=4000)
    assert result.status == "proved" and result.best is not None and result.bill
    assumed = [line for line in result.bill if line.assumed]
    assert assumed
    for line in assumed:
        assert line.name.endswith(f"(assumed: {', '.join(line.assumed)})")
        assert any(f"({line.product_id}): " in each and each.startswith("Assumed of ") for each in result.basis)
    assert "common practice, no published source" in " ".join(result.basis)
    assert "(assumed: " in render(result, show=["bill"])
    assert {"pump 1200", "installed canister", "foam", "bar"} <= set(result.assumed)
    assert f"Figures of {len(result.assumed)} parts are assumed, since nobody stated them" in " ".join(render(result).split())


def test_a_limit_that_is_kept_by_a_guess_is_told(tmp_path: Path, tank: Path, bare: Catalog) -> None:
    """A strainer of 4.5 mm by the rule stands where at most 5 mm are wanted: ask before it is bought."""
    rows = ("SLOTS,strainer,5,slots,8,tail 16 mm", "WIDE,large strainer,8,slots,90,tail 16 mm")
    catalog = shop(tmp_path, guards="\n".join(("id,name,price,form,face_area_cm2,outlet", *rows)))
    tank.write_text(TANK.replace("[limits]", '[limits]\nguard_opening = "5 mm"'), encoding="utf-8")
    rig = read(tank, catalog)
    result = api.best(rig, catalog, budget=4000)
    assert any(change.position == "intake" and change.part_id == "WIDE" for change in result.changes)
    said = next(each for each in result.cautions if each.startswith("Ask for the opening of large strainer before you buy it."))
    assert "5 mm" in said
    stated = stated_in(catalog, "WIDE")
    assert not any("Ask for the opening" in each for each in api.best(rig, stated, budget=4000).cautions)


def test_an_assumed_figure_widens_the_band_and_moves_no_flow(tank: Path, bare: Catalog) -> None:
    stated = stated_in(bare, "PUMP", "BAR", "SLOTS", "FOAM")
    bands = [api.bands(read(tank, shop), shop, budget=0, draws=400) for shop in (bare, stated)]
    told = [each.band.lines[0] for each in bands if each.band is not None]
    assert len(told) == 2
    wide, narrow = told
    assert wide.stated_m3s == narrow.stated_m3s
    assert wide.p10_m3s < narrow.p10_m3s and wide.p90_m3s > narrow.p90_m3s
    assert (wide.p90_m3s - wide.p10_m3s) > 1.2 * (narrow.p90_m3s - narrow.p10_m3s)
    top = bands[0].band
    assert top is not None and top.shares[0].unknown.startswith("unstated ")
    worth = advice_of(top)[0]
    assert "it takes the place of the figure that was assumed" in worth


def test_fills_move_assumed_figures_and_the_search_goes_by_them(tank: Path, bare: Catalog) -> None:
    """The loop as it is delivers in the search what the calibration says: the same factors scale the same pieces, assumed or not.
    A fill pulls a loop of assumed figures farther to what was measured than one of stated figures."""
    tank.write_text(TANK + '\n[[fill]]\nvolume = "10 l"\nseconds = [40, 41, 40]\n', encoding="utf-8")
    away = []
    for catalog in (bare, stated_in(bare, *bare.parts)):
        rig = read(tank, catalog)
        posterior, (fitted, told) = explained(rig, rig.fills)[0], by_fills(rig)
        assert told is not None
        for state in ((), ("clean",), ("media clean",), ("guard clean",)):
            wanted = math.exp(posterior.log_flow(loop_during_fill(rig, state))[0])
            assert stands_now(cleaned(fitted, state), bare).flow_m3s == pytest.approx(wanted, rel=1e-8), state
        away.append(abs(told.delivered_m3s * 3.6e6 - FILLED_L_H))
    assert away[0] < away[1]

"""One truth about the loop as it is: whatever is asked of a measured rig goes by its fills, and says so.

The rig of the reading corner has three fills; they say 281 l/h where its figures alone say 336.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from demo import rig, shop

from optimizer import api
from optimizer.cli import main
from optimizer.report.drill_text import headline as drill_headline
from optimizer.report.kits_text import headline as kits_headline
from optimizer.report.order_text import render as order_text

DEMO = Path(__file__).parents[2] / "parts_demo"
LOG = DEMO / "logs" / "reading_corner_130.log"
MEASURED, AFTER = "reading_corner_130", "reading_corner_130_after"


def test_a_bar_is_drilled_in_the_loop_that_was_measured_and_is_cleaned_first() -> None:
    """Now as `best` has it, and all holes in the loop after a clean of everything, as `ageing` has it: dirt is no measure of
    holes that stay."""
    drilled = api.drill(rig(MEASURED), evenness=0.9)
    assert drilled.by_fills is not None and drilled.by_fills.fills == 3
    assert drilled.now.flow_m3s == pytest.approx(api.best(rig(MEASURED), shop()).now.flow_m3s, rel=1e-9)
    clean = api.ageing(rig(MEASURED), days=1).rows[0].flow_m3s
    assert drilled.cleaned.flow_m3s == pytest.approx(clean, rel=1e-9)
    assert drilled.now.flow_m3s < 0.8 * clean
    said = drill_headline(drilled)
    assert "instead of 362" in said and "By the 3 fills of 2026-03-01 the loop as it is delivers 281 l/h" in said
    assert "after everything has been cleaned" in said


def test_each_drilled_bar_flows_as_the_rig_that_has_it_by_the_same_fills() -> None:
    """The scalar path of a rig that is described with the new holes, cleaned, by the factors of the fills."""
    from optimizer.answers.by_fills import by_fills
    from optimizer.answers.question import stands_now
    from optimizer.measure.fill_loop import cleaned
    from optimizer.model.catalog import Catalog
    from optimizer.model.parts import Outlet

    fitted, _ = by_fills(rig(MEASURED))
    last = fitted.positions[-1]
    assert isinstance(last.installed, Outlet)
    for each in api.drill(rig(MEASURED), evenness=0.9).best[:3]:
        long = last.installed.holes * last.installed.pitch_m
        bar = replace(last.installed, holes=each.holes, hole_m=each.hole_m, pitch_m=long / each.holes)
        made = replace(fitted, positions=(*fitted.positions[:-1], replace(last, installed=bar)))
        flow = stands_now(cleaned(made, ("clean",)), Catalog(parts={}, products=())).flow_m3s
        assert each.flow_m3s == pytest.approx(flow, rel=1e-9)


def test_without_its_fills_a_bar_is_drilled_by_the_stated_figures_and_it_is_said() -> None:
    drilled = api.drill(rig(MEASURED), evenness=0.9, measured=False)
    assert drilled.now.flow_m3s * 3.6e6 == pytest.approx(335.6, abs=0.5)
    assert "left out" in drill_headline(drilled)


def test_rigs_side_by_side_go_by_their_fills_and_by_a_log_of_their_tank() -> None:
    """As `best` with the same fills, and the table says which."""
    from optimizer.report.compare_text import headline

    paths = [DEMO / "rigs" / f"{name}.toml" for name in (MEASURED, AFTER)]
    plain, logged = api.compare(shop(), *paths, budget=0), api.compare(shop(), *paths, budget=0, log=LOG)
    for told, after in ((plain, rig(AFTER)), (logged, api.with_log(rig(AFTER), LOG))):
        assert told.columns[1].now.flow_m3s == api.best(after, shop(), budget=0).now.flow_m3s
    assert logged.columns[1].now.flow_m3s < 0.9 * plain.columns[1].now.flow_m3s
    assert "(1) By the 3 fills of 2026-03-01" in headline(plain) and "(2) By the fill of 2026-05-03" in headline(logged)
    stated = api.compare(shop(), *paths, budget=0, measured=False)
    assert stated.columns[0].now.flow_m3s * 3.6e6 == pytest.approx(335.6, abs=0.5)
    assert "(1) The 3 fills in the rig file are left out" in headline(stated)


@pytest.mark.parametrize("command", ["loop", "measure", "ageing", "drill"])
def test_every_command_about_a_tank_takes_its_log(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The last fill of the log says 351 l/h, the file's own 400."""
    path = str(DEMO / "rigs" / f"{AFTER if command != 'drill' else MEASURED}.toml")
    more = ["--evenness", "80 %"] if command == "drill" else []
    assert main([command, path, "--catalog", str(DEMO / "catalog"), *more, "--log", str(LOG), "--quiet"]) == 0
    assert ("350 l/h" if command == "drill" else "351 l/h") in capsys.readouterr().out


def test_a_shop_says_that_fills_of_a_template_are_left_out(tmp_path: Path) -> None:
    """A template stands for many tanks, of which one was measured."""
    from demo import SMALL_SHOP

    for name in ("medium_g12", "npt_ports"):
        text = (DEMO / "shops" / "tanks" / f"{name}.toml").read_text("utf-8")
        more = '\n[[fill]]\nvolume = "10 l"\nseconds = [60]\n' if name == "npt_ports" else ""
        (tmp_path / f"{name}.toml").write_text(text + more, "utf-8")
    (tmp_path / "shop.toml").write_text(SMALL_SHOP.format(price=40, alternatives=1, tanks="."), "utf-8")
    plan = api.kits(api.read_shop(tmp_path / "shop.toml", shop()))
    assert plan.unmeasured == ("npt",)
    assert "The fills in the template of npt are left out" in kits_headline(plan)


def test_a_buying_order_names_the_cleaning_that_it_relies_on() -> None:
    """All that the file calls dirty, by the fills; the steps start from the loop after it, and go by the fills too."""
    told = api.buying_order(rig(MEASURED), shop(), most=True)
    places = [change.place for change in told.cleaning]
    assert places == ["intake", "suction_hose", *(f"canister tray {n}" for n in (1, 2, 3)), "pump", "return_hose"]
    assert told.cleaned_m3s == pytest.approx(api.ageing(rig(MEASURED), days=1).rows[0].flow_m3s, rel=1e-9)
    said = order_text(told).replace("\n    ", " ")
    assert "First clean intake, suction_hose, canister tray 1, canister tray 2, canister tray 3, pump, return_hose" in said
    assert "362 l/h instead of 281. All steps rely on it." in said

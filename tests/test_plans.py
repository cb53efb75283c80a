"""Fronts, alternatives, buying orders and bundles asked about, from the Python interface to what the command prints."""

from __future__ import annotations

import csv
import io
import json
import math
import signal
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.model.fronts import Front
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S

ROOT = Path(__file__).parents[1]
CATALOG = "parts_demo/catalog"
COMMUNITY, PLANTED, NANO = (f"parts_demo/rigs/{name}.toml" for name in ("community_180", "planted_300", "nano_60"))

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.fixture(scope="module")
def shop() -> Catalog:
    """The demo catalog."""
    return api.read_catalog(ROOT / CATALOG)


def rig(path: str, shop: Catalog) -> Rig:
    """A demo rig."""
    return api.read_rig(ROOT / path, shop)


def printed(capsys: Capture, *argv: str, status: int = 0) -> str:
    """What the command prints."""
    assert main(list(argv)) == status
    return capsys.readouterr().out


# -- front ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [COMMUNITY, NANO])
def test_every_point_of_a_front_is_what_the_search_finds_for_its_price(path: str, shop: Catalog) -> None:
    tank = rig(path, shop)
    front = api.front(tank, shop)
    assert front.status == "proved"
    for point in front.points[:: max(len(front.points) // 4, 1)]:
        best = api.best(tank, shop, budget=point.price).best
        assert best is not None
        assert best.price == point.price
        assert point.flow_m3s == pytest.approx(best.flow_m3s, abs=RESOLUTION_M3S)
    gains = [point.gained_m3s for point in front.points]
    assert sum(gains) == pytest.approx(front.points[-1].flow_m3s - front.now.flow_m3s)


def test_the_knee_is_where_money_buys_fastest_and_less_after(shop: Catalog) -> None:
    """Every other point lies on or under the two lines that meet at the knee, measured from the straight line."""
    front = api.front(rig(COMMUNITY, shop), shop)
    assert front.knee is not None
    first, chosen, last = front.points[0], front.points[front.knee.point], front.points[-1]
    assert front.knee.before_m3s == pytest.approx((chosen.flow_m3s - first.flow_m3s) / (chosen.price - first.price))
    assert front.knee.after_m3s == pytest.approx((last.flow_m3s - chosen.flow_m3s) / (last.price - chosen.price))
    straight = (last.flow_m3s - first.flow_m3s) / (last.price - first.price)
    assert front.knee.before_m3s > straight > front.knee.after_m3s
    above = [point.flow_m3s - straight * point.price for point in front.points]
    assert max(above) == above[front.knee.point]


def test_a_front_is_printed_as_a_table_with_its_knee(capsys: Capture, shop: Catalog) -> None:
    front = api.front(rig(NANO, shop), shop)
    text = printed(capsys, "front", NANO)
    lines = text.splitlines()
    assert f"{len(front.points)} bundles are worth their money, from 0.00 to 28.50 EUR" in text
    assert sum(line.lstrip().startswith("*  ") for line in lines) == 1
    assert "Proved: none of" in text
    assert max(map(len, lines)) <= 90
    folded, last = 0, 0.0
    for n, point in enumerate(front.points):
        # a line that brings less than 1 l/h over the one before is left out, unless it is the knee or the last
        if n and n not in (front.knee.point, len(front.points) - 1) and (point.flow_m3s - last) * 3.6e6 < 1.0:
            folded += 1
            continue
        last = point.flow_m3s
        shown = f"{point.price / 100:.2f}"
        row = next(line.split() for line in lines if shown in line.split()[:2])
        assert f"{point.flow_m3s * 3.6e6:.0f}" in row


def test_a_front_as_json_and_csv(capsys: Capture, tmp_path: Path, shop: Catalog) -> None:
    told = json.loads(printed(capsys, "front", NANO, "--json", "--csv", str(tmp_path / "f.csv")))
    assert (told["schema"], told["status"]) == ("fullbore-front/6", "proved")
    assert told == json.loads(json.dumps(api.front(rig(NANO, shop), shop).to_dict()))
    rows = list(csv.DictReader(io.StringIO((tmp_path / "f.csv").read_text(encoding="utf-8-sig"))))
    assert [row["price"] for row in rows] == [f"{point['price'] / 100:.2f}" for point in told["points"]]
    assert [row["knee"] for row in rows].index("yes") == told["knee"]["point"]
    assert all(
        math.isclose(float(r["flow_l_per_h"]), p["flow_m3s"] * 3.6e6, abs_tol=0.06)
        for r, p in zip(rows, told["points"], strict=True)
    )


def test_a_front_of_nothing_says_so(capsys: Capture) -> None:
    """Less money than the cheapest bundle within the limits costs."""
    assert "No bundle meets all limits" in printed(capsys, "front", COMMUNITY, "--budget", "1", status=2)


def test_a_front_without_a_budget_is_bad_input(capsys: Capture, tmp_path: Path) -> None:
    text = (ROOT / NANO).read_text(encoding="utf-8")
    (tmp_path / "rig.toml").write_text(text.replace('budget = "30"', ""), encoding="utf-8")
    assert main(["front", str(tmp_path / "rig.toml"), "--catalog", CATALOG]) == 1
    told = capsys.readouterr().err
    assert "limits.budget: no budget is set, and a front must end. Add --budget 150" in told
    assert main(["front", str(tmp_path / "rig.toml"), "--catalog", CATALOG, "--budget", "5", "--quiet"]) == 0


def test_a_front_needs_an_end_from_python_too(shop: Catalog) -> None:
    tank = rig(NANO, shop)
    with pytest.raises(ValueError, match="budget"):
        api.front(replace(tank, limits=replace(tank.limits, budget=None)), shop)


def test_ctrl_c_ends_a_front_with_the_points_so_far(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pressed inside a search, which takes it for its own end as the real one does: the next search must not begin."""
    real = api.front

    def pressed(tank: Rig, catalog: Catalog, **asked: Any) -> Front:
        assert not asked["halted"]()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        assert asked["halted"]()
        return real(tank, catalog, **asked)

    monkeypatch.setattr(api, "front", pressed)
    before = signal.getsignal(signal.SIGINT)
    text = printed(capsys, "front", NANO, status=3)
    assert "Only one bundle is worth its money: 295 l/h for 28.50 EUR." in text
    assert "No knee is named: points are missing." in text
    assert "Stopped: cheaper ones are missing." in text
    assert signal.getsignal(signal.SIGINT) == before


# -- alternatives --------------------------------------------------------------------------------------------------


def test_alternatives_begin_with_the_best_and_differ_from_it(shop: Catalog) -> None:
    tank = rig(PLANTED, shop)
    told, best = api.alternatives(tank, shop, 4), api.best(tank, shop)
    assert best.best is not None
    assert told.status == "proved"
    first, *others = told.alternatives
    assert (first.row.price, first.differs, first.less_m3s) == (best.best.price, (), 0.0)
    assert first.row.flow_m3s == pytest.approx(best.best.flow_m3s)
    assert len(others) == 3
    for each in others:
        assert each.differs
        assert each.less_m3s == pytest.approx(first.row.flow_m3s - each.row.flow_m3s, abs=1e-12)
        assert each.row.price <= 10000
        assert each.row.breaks == ()


def test_alternatives_are_printed_and_given_as_json(capsys: Capture) -> None:
    text = printed(capsys, "best", PLANTED, "--alternatives", "3")
    assert "no. 3, otherwise than the best: spray bar swap FLARE-16." in text
    assert max(map(len, text.splitlines())) <= 90
    told = json.loads(printed(capsys, "best", PLANTED, "--alternatives", "3", "--json"))
    assert (told["schema"], told["status"], told["asked"]) == ("fullbore-alternatives/6", "proved", 3)
    assert [each["row"]["name"] for each in told["alternatives"]] == ["best", "no. 2", "no. 3"]


def test_alternatives_of_nothing(capsys: Capture) -> None:
    told = printed(capsys, "best", COMMUNITY, "--alternatives", "3", "--budget", "1", status=2)
    assert "No bundle meets all limits" in told


@pytest.mark.parametrize("k", ["0", "-1", "two", "1.5", "101", "9" * 30, ""])
def test_a_number_of_alternatives_that_is_none(k: str, capsys: Capture) -> None:
    assert main(["best", PLANTED, f"--alternatives={k}"]) == 1
    assert "is no whole number from 1 to 100" in capsys.readouterr().err


def test_fewer_than_one_alternative_from_python(shop: Catalog) -> None:
    with pytest.raises(ValueError, match="at least one"):
        api.alternatives(rig(NANO, shop), shop, 0)


# -- buying order --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [COMMUNITY, PLANTED, NANO])
def test_an_order_pays_for_the_best_bundle_and_ends_at_its_flow(path: str, shop: Catalog) -> None:
    tank = rig(path, shop)
    told, best = api.buying_order(tank, shop, most=True), api.best(tank, shop)
    assert told.best is not None and best.best is not None
    assert told.status == "proved"
    assert told.steps[-1].paid == best.best.price + told.thrown
    assert told.steps[-1].flow_m3s == pytest.approx(best.best.flow_m3s)
    bought: dict[str, int] = {}
    for line in (line for step in told.steps for line in step.buys):
        bought[line.product_id] = bought.get(line.product_id, 0) + line.price
    assert bought == {line.product_id: line.price for line in best.bill}
    assert sum(step.extras_price for step in told.steps) == told.thrown


def test_what_is_thrown_away_later_is_warned_of(capsys: Capture, shop: Catalog) -> None:
    """The outlet with the wide socket goes on the old 12 mm hose with a bushing that the final loop has no use for."""
    told = api.buying_order(rig(COMMUNITY, shop), shop, most=True)
    step = next(step for step in told.steps if step.extras)
    assert any("BUSH-G34-G12" in piece for piece in step.extras)
    text = printed(capsys, "best", COMMUNITY, "--order", "--most")
    said = " ".join(text.split())
    assert "for now only: adapter, 12 mm hose to G 1/2 male (ADPT-12-G12), bushing, G 3/4" in said
    assert "4.80 EUR more goes into pieces that are thrown away later" in said
    assert "Step 2 buys" in said
    assert max(map(len, text.splitlines())) <= 90


def test_a_smaller_budget_whose_best_is_not_inside_is_warned_of(capsys: Capture, shop: Catalog) -> None:
    """Where a stage is named, the search for that sum of money finds just this, and the final bundle lacks what it names."""
    tank = rig(COMMUNITY, shop)
    told = api.buying_order(tank, shop, most=True)
    staged = [step for step in told.steps if step.stage is not None]
    assert staged
    final = {change.position: change.part_id for change in api.best(tank, shop).changes}
    for step in staged:
        assert step.stage is not None
        best = api.best(tank, shop, budget=step.paid).best
        assert best is not None
        assert (best.price, best.flow_m3s) == (step.stage.price, pytest.approx(step.stage.flow_m3s))
        assert best.flow_m3s > step.flow_m3s
        assert all(final[change.position] != change.part_id for change in step.stage.thrown)
    said = printed(capsys, "best", COMMUNITY, "--order", "--most").replace("\n    ", " ")
    assert "another bundle would have been better" in said


def test_an_order_of_the_cheapest_bundle(capsys: Capture) -> None:
    told = json.loads(printed(capsys, "cheapest", PLANTED, "--flow", "650 l/h", "--order", "--json"))
    assert (told["schema"], told["status"]) == ("fullbore-order/6", "proved")
    assert told["steps"][-1]["flow_m3s"] * 3.6e6 >= 650.0 - 0.1
    line = printed(capsys, "cheapest", PLANTED, "--flow", "650 l/h", "--order", "--quiet")
    assert line.count("\n") == 1 and "purchases" in line


def test_an_order_of_nothing(capsys: Capture) -> None:
    assert "No bundle meets all limits." in printed(capsys, "best", COMMUNITY, "--order", "--budget", "1", status=2)


# -- why -----------------------------------------------------------------------------------------------------------


def test_a_bundle_is_told_what_it_delivers_and_what_beats_it(shop: Catalog) -> None:
    """Left with the ultraviolet unit, the new pump must be throttled to what that takes; the search says what beats it."""
    tank = rig(PLANTED, shop)
    text = api.why(tank, shop, "PUMP-2400MA", "OPEN-G34")
    assert "PUMP-2400MA at pump, OPEN-G34 at spray_bar, everything else as it is (cleaned): 400 l/h for 96.00" in text
    rival = api.best(tank, shop, budget=9600).best
    assert rival is not None
    more = (rival.flow_m3s - 400 / 3.6e6) * 3.6e6
    assert f"{rival.flow_m3s * 3.6e6:.0f} l/h, {more:.1f} l/h more, and costs {rival.price / 100:.2f}" in text
    assert "With everything else free to change the best bundle with them delivers 762 l/h for 98.50 EUR: no less" in text


def test_the_best_bundle_named_in_full_is_the_best(shop: Catalog) -> None:
    """All parts that the best bundle buys, where it puts them: nothing that costs no more delivers more."""
    tank = rig(NANO, shop)
    best = api.best(tank, shop)
    assert best.best is not None
    bought = [f"{change.position}={change.part_id}" for change in best.changes if change.change in ("swap", "add")]
    text = api.why(tank, shop, *bought)
    assert f"for {best.best.price / 100:.2f} EUR." in text.splitlines()[1]
    assert "no less than the best" in text


def test_limits_that_a_bundle_breaks_are_named(shop: Catalog) -> None:
    tank = rig(PLANTED, shop)
    text = api.why(tank, shop, "GUARD-SPG-60-T12", "PUMP-2400MA")
    assert "cannot be joined" in text and "16 mm hose does not go on a 12 mm tail" in text
    assert "no bundle with them keeps to a budget of 100.00" in text
    poor = api.why(tank, shop, "PUMP-2400MA", "OPEN-G34", budget=1000)
    assert "It breaks: a budget of 10.00." in poor


def test_what_is_not_up_for_a_swap_says_so(shop: Catalog) -> None:
    text = api.why(rig("parts_demo/rigs/rift_lake_450.toml", shop), shop, "PUMP-3000MA", "OPEN-G34")
    assert "OPEN-G34 at spray_bar: what is there is not up for a swap, says the rig." in text


def test_all_unknown_words_of_a_bundle_are_listed_at_once(shop: Catalog) -> None:
    with pytest.raises(InputError) as caught:
        api.why(rig(PLANTED, shop), shop, "PUMP-240MA", "foo=OPEN-G34", "return_hose_a=OPEN-G34", "CLIP-22")
    told = [(problem.where, problem.what) for problem in caught.value.problems]
    assert told == [
        ("--why", 'no part "PUMP-240MA".'),
        ("--why", 'no position "foo".'),
        ("--why", '"return_hose_a" does not take "OPEN-G34" (outlet).'),
        ("--why", 'no position takes "CLIP-22" (clamp).'),
    ]


def test_more_parts_than_places(shop: Catalog) -> None:
    with pytest.raises(InputError, match="do not all find a place"):
        api.why(rig(PLANTED, shop), shop, "PUMP-2400MA", "PUMP-2000MA")
    with pytest.raises(ValueError, match="at least one part"):
        api.why(rig(PLANTED, shop), shop)


def test_the_command_takes_a_bundle_with_commas(capsys: Capture) -> None:
    text = printed(capsys, "best", PLANTED, "--why", "pump=PUMP-2400MA, OPEN-G34")
    assert text.startswith("Best: 762 l/h for 98.50 EUR.\nPUMP-2400MA at pump, OPEN-G34 at spray bar")
    assert text.endswith(f"Catalog folder: {CATALOG}\n")


@pytest.mark.parametrize("words", ["A,,B", ",", "=", "A,="])
def test_a_bundle_with_a_gap_is_bad_input(words: str, capsys: Capture) -> None:
    assert main(["best", PLANTED, "--why", words]) == 1
    assert "has a gap" in capsys.readouterr().err


# -- what does not go together -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["best", "--alternatives", "3", "--prove"], "--alternatives: does not go together with --prove."),
        (["best", "--order", "--csv", "x.csv", "--prove"], "--order: does not go together with --csv, --prove."),
        (["best", "--why", "A,B", "--json"], "--why: does not go together with --json."),
    ],
)
def test_options_that_do_not_go_together(argv: list[str], told: str, capsys: Capture) -> None:
    assert main([argv[0], PLANTED, *argv[1:]]) == 1
    assert told in capsys.readouterr().err


@pytest.mark.parametrize("argv", [["--order", "--why", "A"], ["--alternatives", "2", "--order"]])
def test_one_other_answer_at_a_time(argv: list[str], capsys: Capture) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["best", PLANTED, *argv])
    assert ended.value.code == 1
    assert "not allowed with argument" in capsys.readouterr().err


def test_the_results_are_frozen(shop: Catalog) -> None:
    results: list[Any] = [
        api.front(rig(NANO, shop), shop),
        api.alternatives(rig(NANO, shop), shop, 2),
        api.buying_order(rig(NANO, shop), shop, most=True),
    ]
    for result in results:
        with pytest.raises(AttributeError):
            result.rig = "another"
        assert json.dumps(result.to_dict(), allow_nan=False)


def test_a_buying_order_for_a_loop_with_branches(shop: Catalog) -> None:
    """All that changes in the branches of one position is bought together, and the steps add up to the price of the best."""
    told = api.buying_order(rig("parts_demo/rigs/stem_plants_200.toml", shop), shop, most=True)
    assert told.status == "proved"
    assert told.best is not None
    assert told.steps[-1].paid == told.best.price + told.thrown
    assert any("." in change.position for step in told.steps for change in step.changes)


def test_what_holds_the_cleaned_loop_back_is_said(capsys: Capture) -> None:
    """The reactor and the ultraviolet unit bear no more than 400 l/h, by the rig file."""
    text = printed(capsys, "best", PLANTED, "--order")
    held = "the steps start from the loop as it is: 400 l/h. A throttle holds it there because of ultraviolet;"
    assert held in text.replace("\n    ", " ")

"""Guards, films and impellers that get dirty, and what feeding makes: bounds, order, published figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.dirt.laws import Laws
from optimizer.physics.dirt_figures import DIRT_FIGURES, Figure, figure
from optimizer.physics.feeding import WARMTH_LAWS, kept_share, solids_kg_day, through_loop_kg_day, warmth_factor
from optimizer.physics.fouling import GROWTH_LAWS, age_of_share, grown, grown_share
from optimizer.physics.guards import COVERING_LAWS, blocked_share, covered_for_blocked, guard_quadratic, stopped_share

DAYS = st.floats(0.0, 3000.0)
AREAS = st.floats(0.0, 1e4)
GROWTH = st.sampled_from(list(GROWTH_LAWS))
COVERING = st.sampled_from(list(COVERING_LAWS))


@pytest.mark.parametrize(("feed_kg", "solids_g"), [(1.0, 250.0), (0.010, 2.50), (0.005, 1.25)])
def test_solids_from_feeding(feed_kg: float, solids_g: float) -> None:
    """Timmons and Ebeling, Recirculating Aquaculture: 0.25 kg of suspended solids per kg of feed."""
    assert solids_kg_day(feed_kg, figure("solids")) * 1e3 == pytest.approx(solids_g)


def test_sludge_of_small_feedings() -> None:
    """From memory: 1.25 g of dry solids a day are 10 to 25 ml of wet sludge."""
    assert 10.0 < 1.25e-3 * figure("sludge") * 1e6 < 25.0


@given(rate=st.floats(0.01, 20.0), caught=st.floats(0.0, 1.0), settling=st.floats(0.01, 3.0))
def test_a_mixed_tank_in_balance(rate: float, caught: float, settling: float) -> None:
    """By hand: what drifts, M, follows dM/dt = P - k M - n E M = 0; n M goes through, n E M is kept."""
    drifting = 1.0 / (settling + rate * caught)
    assert through_loop_kg_day(1.0, rate, caught, settling) == pytest.approx(rate * drifting)
    assert kept_share(rate, caught, settling) == pytest.approx(1.0 - settling * drifting)


def test_a_mixed_tank_is_in_balance_within_a_day() -> None:
    """Explicit steps of a minute from empty: after a day the balance holds to one in a thousand at the least usual turnover."""
    drifting, rate, caught, settling = 0.0, 1.0, 0.5, figure("settling")
    for _ in range(24 * 60):
        drifting += (1.0 / 24.0 - (settling + rate * caught) * drifting) / 60.0
    assert 24.0 * rate * drifting == pytest.approx(through_loop_kg_day(1.0, rate, caught, settling), rel=1e-3)


@given(law=GROWTH, days=DAYS, more=DAYS, start=st.floats(0.0, 2e-3))
def test_what_grows_never_shrinks_and_is_bounded(law: str, days: float, more: float, start: float) -> None:
    low, high = sorted((days, more))
    first, then = (float(grown(law, start, day, 0.8e-3, 60.0)) for day in (low, high))
    assert start <= first <= then * (1.0 + 1e-12) <= max(start, 0.8e-3) * (1.0 + 1e-9)


@given(law=GROWTH, days=st.floats(0.0, 200.0), more=st.floats(0.0, 200.0))
def test_growing_goes_on_where_it_stopped(law: str, days: float, more: float) -> None:
    at_once = grown(law, 0.0, days + more, 1.0, 60.0)
    assert grown(law, grown(law, 0.0, days, 1.0, 60.0), more, 1.0, 60.0) == pytest.approx(at_once, abs=1e-6)


@given(law=GROWTH, share=st.floats(0.0, 0.999))
def test_age_is_found_again(law: str, share: float) -> None:
    assert grown_share(law, age_of_share(law, share)) == pytest.approx(share, abs=1e-9)


def test_new_hose_wants_a_brush_after_six_weeks() -> None:
    """Common practice, no published source. By then the film has 0.2 to 0.6 mm: enough to matter in a hose of 16 mm."""
    laws = Laws()
    assert 0.2e-3 < grown(laws.film, 0.0, 42.0, laws.film_most_m, laws.film_days) < 0.6e-3


@given(law=COVERING, covered=AREAS, more=AREAS)
def test_guards_block_ever_more_and_never_wholly(law: str, covered: float, more: float) -> None:
    low, high = sorted((covered, more))
    most = figure("most blocked")
    assert 0.0 <= blocked_share(law, low, most) <= blocked_share(law, high, most) <= most < 1.0
    assert math.isfinite(guard_quadratic(17.5e-4, 0.4, blocked_share(law, high, most), "slots"))


@given(law=COVERING, covered=st.floats(0.0, 0.9))
def test_covered_area_is_found_again(law: str, covered: float) -> None:
    assert covered_for_blocked(law, blocked_share(law, covered, 0.98), 0.98) == pytest.approx(covered, abs=1e-9)


def test_scattered_debris_overlaps() -> None:
    """Geometry: spots thrown at random leave exp(-covered) open when all can be shut (Poisson); both laws start alike."""
    assert blocked_share("overlap", 1.3, 1.0 - 1e-12) == pytest.approx(1.0 - math.exp(-1.3))
    for law in COVERING_LAWS:
        assert blocked_share(law, 1e-6, 0.98) == pytest.approx(1e-6, rel=1e-5)


@given(first=st.floats(1e-4, 5e-3), second=st.floats(1e-4, 5e-3))
def test_finer_openings_stop_more(first: float, second: float) -> None:
    fine, coarse = sorted((first, second))
    assert 1.0 >= stopped_share(fine, figure("scrap")) >= stopped_share(coarse, figure("scrap")) > 0.0


def test_warmth() -> None:
    """Zhu and Chen (2002), from memory: about 4 % per degC with oxygen enough; by the law none 15 and 20 degC are alike."""
    assert warmth_factor("oxygen", 25.0) / warmth_factor("oxygen", 24.0) == pytest.approx(1.04)
    assert warmth_factor("none", 15.0) == warmth_factor("none", 20.0) == 1.0
    for law in WARMTH_LAWS:
        assert warmth_factor(law, 24.0) == 1.0
        assert 0.3 < warmth_factor(law, -50.0) <= warmth_factor(law, 80.0) < 2.0


def test_unknown_laws_are_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="saturating, steady, lagging"):
        grown_share("fast", 1.0)
    with pytest.raises(ValueError, match="overlap, side by side"):
        blocked_share("fast", 1.0, 0.9)
    with pytest.raises(ValueError, match="oxygen, none"):
        warmth_factor("fast", 20.0)
    for wrong in ({"clogging": "fast"}, {"covering": "fast"}, {"film": "fast"}, {"fouling": "fast"}, {"warmth": "fast"}):
        with pytest.raises(ValueError, match="fast"):
            Laws(**wrong)  # type: ignore[arg-type]


def test_every_figure_says_who_says_so() -> None:
    for name, each in DIRT_FIGURES.items():
        assert each.spread >= 1.0
        assert each.unit
        assert any(words in each.source for words in ("prior of the authors", "common practice", "from memory")), name
    with pytest.raises(ValueError, match="within its own range"):
        Figure(value=1.0, low=2.0, high=3.0, unit="m", source="example")

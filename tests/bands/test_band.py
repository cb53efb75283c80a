"""Bands, wins and the measurement worth making, against closed forms and laws."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from band_cases import FLAT_PRIORS, HEAD_M, QUADRATIC, SEEDS, candidates, flat, lognormal
from scipy.stats import norm

from optimizer.bands.band import delivered_flows, line_of, nothing_more, of, win_shares
from optimizer.bands.draws import Factors, draw, unknowns_of
from optimizer.bands.priors import PRIORS
from optimizer.model.answer import plain
from optimizer.report.measurement_words import advice_of

SIGMA = 0.5 * math.sqrt(0.06**2 + 0.25**2 + (4 * 0.02) ** 2)
"""Standard deviation of ln Q of `flat`: Q = sqrt(head h d^4 / (quadratic k))."""


def test_quantiles_of_a_lognormal_flow() -> None:
    """Constant head against a quadratic loss: P10, P50 and P90 in closed form, with z = 1.2816."""
    line = line_of(flat(), draws=20_000, priors=FLAT_PRIORS)
    middle = math.sqrt(HEAD_M / QUADRATIC)
    expected = [middle * math.exp(z * SIGMA) for z in norm.ppf([0.1, 0.5, 0.9])]
    assert [line.p10_m3s, line.p50_m3s, line.p90_m3s] == pytest.approx(expected, rel=4e-3)
    assert line.stated_m3s == pytest.approx(middle, rel=1e-8)


def surer(factors: Factors) -> Factors:
    """What is known besides: every unknown is half as uncertain."""
    return Factors(replace(factors.draws, normals=0.5 * factors.draws.normals), factors.priors)


def test_a_line_by_itself_is_that_of_the_whole_band() -> None:
    """The same draws, whatever is known besides: nothing but what the spread is owed to is left out."""
    for made in (flat(ceiling_m3s=1e-4), *candidates(1)[:2]):
        for known in (nothing_more, surer):
            asked = {"draws": 400, "seed": 3, "priors": {**PRIORS, **FLAT_PRIORS}, "known": known}
            assert (line_of(made, **asked),) == of([made], **asked).lines  # type: ignore[arg-type]


@pytest.mark.parametrize("common", [0.0, 0.6, 0.95])
def test_wins_with_common_and_own_scatter(common: float) -> None:
    """Two loops of different parts: only what is not common decides. P(first wins) = Phi(ln(Q1/Q2) / sd of the difference)."""
    priors = {**FLAT_PRIORS, "fittings": lognormal("fittings", 0.25, common)}
    pair = [flat("one", fitting="F1"), flat("two", fitting="F2", quadratic=1.1 * QUADRATIC)]
    own = 0.5 * math.sqrt(2 * ((1 - common) * 0.25**2 + 16 * 0.02**2))
    expected = float(norm.cdf(0.5 * math.log(1.1) / own))
    band = of(pair, draws=20_000, priors=priors)
    assert band.lines[0].win_share == pytest.approx(expected, abs=0.01)
    assert sum(line.win_share for line in band.lines) == pytest.approx(1.0, abs=1e-12)


def test_the_same_parts_give_a_certain_winner() -> None:
    """Common random numbers: a loop that is the same but for a known loss more never wins, however wide the band."""
    band = of([flat("one"), flat("two", quadratic=1.01 * QUADRATIC)], priors=FLAT_PRIORS)
    assert [line.win_share for line in band.lines] == [1.0, 0.0]
    assert band.lines[1].p90_m3s > band.lines[0].p50_m3s


def test_ties_go_to_the_better_ranked() -> None:
    """Equal loops, and loops held by the same ceiling."""
    equal = of([flat("one"), flat("two")], priors=FLAT_PRIORS)
    held = of([flat("one", ceiling_m3s=1e-4, quadratic=1.5 * QUADRATIC), flat("two", ceiling_m3s=1e-4)], priors=FLAT_PRIORS)
    assert [line.win_share for line in equal.lines] == [line.win_share for line in held.lines] == [1.0, 0.0]
    assert held.lines[0].held_share > 0.9


@pytest.mark.parametrize("seed", SEEDS[:8])
def test_wins_add_up_and_agree_with_counting(seed: int) -> None:
    """A plain count, draw by draw."""
    made = candidates(seed)
    flows = delivered_flows(made, Factors(draw(unknowns_of(c.unknowns for c in made), 300, seed), PRIORS))
    counted = [0] * len(made)
    for column in flows.T.tolist():
        counted[next(n for n, flow in enumerate(column) if flow >= max(column) - 0.1e-3 / 3600)] += 1
    assert win_shares(flows).tolist() == [count / 300 for count in counted]
    assert win_shares(flows).sum() == pytest.approx(1.0, abs=1e-12)


def test_the_same_seed_gives_the_same_answer_and_another_a_like_one() -> None:
    made = candidates(4)
    one, again, other = (of(made, seed=seed, draws=2000) for seed in (7, 7, 8))
    assert json.dumps(plain(one)) == json.dumps(plain(again))
    assert one.lines != other.lines
    for a, b in zip(one.lines, other.lines, strict=True):
        assert a.p50_m3s == pytest.approx(b.p50_m3s, rel=0.03)


def test_another_candidate_changes_no_band() -> None:
    made = candidates(4)
    few, many = of(made[:2], draws=1000), of(made, draws=1000)
    for a, b in zip(few.lines, many.lines[:2], strict=True):
        assert (a.p10_m3s, a.p50_m3s, a.p90_m3s) == (b.p10_m3s, b.p50_m3s, b.p90_m3s)


def test_wider_priors_give_wider_bands() -> None:
    def width(sigma: float) -> float:
        line = line_of(flat(), draws=2000, priors={**FLAT_PRIORS, "fittings": lognormal("fittings", sigma)})
        return line.p90_m3s / line.p10_m3s

    widths = [width(sigma) for sigma in (0.0, 0.1, 0.3, 0.6)]
    assert widths == sorted(widths)
    assert widths[-1] > 1.5 * widths[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_median_lies_near_the_stated_flow(seed: int) -> None:
    """Every factor has its median at the tool's own figure: P50 is within 6 % of the flow stated."""
    for line in of(candidates(seed), draws=1000).lines:
        if line.stated_m3s > 50 / 3.6e6:
            assert line.p50_m3s == pytest.approx(line.stated_m3s, rel=0.06)
        assert line.p10_m3s <= line.p50_m3s <= line.p90_m3s


def test_limits_are_kept_as_often_as_the_distribution_says() -> None:
    """P(least <= Q <= most) of a lognormal flow; a ceiling held by a throttle is never broken."""
    middle = math.sqrt(HEAD_M / QUADRATIC)
    least, most = middle * math.exp(-0.5 * SIGMA), middle * math.exp(1.0 * SIGMA)
    free = line_of(flat(least_m3s=least, most_m3s=most), draws=20_000, priors=FLAT_PRIORS)
    held = line_of(flat(least_m3s=least, most_m3s=most, ceiling_m3s=most), draws=20_000, priors=FLAT_PRIORS)
    assert free.within_share == pytest.approx(norm.cdf(1.0) - norm.cdf(-0.5), abs=0.01)
    assert held.within_share == pytest.approx(1.0 - norm.cdf(-0.5), abs=0.01)
    assert (free.held_share, held.held_share) == (0.0, pytest.approx(1.0 - norm.cdf(1.0), abs=0.01))


def test_the_measurement_is_that_of_the_largest_share() -> None:
    """Fittings that are still to be bought, then a pump that is there."""
    fittings = of([flat()], draws=4000, priors=FLAT_PRIORS)
    assert fittings.shares[0].unknown == "fittings"
    assert fittings.shares[0].parts == ("F",) and fittings.shares[0].installed == ()
    assert "nothing of it is installed yet" in advice_of(fittings)[0]
    priors = {**FLAT_PRIORS, "pump head": lognormal("pump head", 0.6, group="pump curve")}
    pump = of([flat()], draws=4000, priors=priors)
    assert pump.shares[0].unknown == "pump curve" and pump.shares[0].installed == ("P",)
    assert "watts" in advice_of(pump)[0] and "Unplug" in advice_of(pump)[0]


def test_what_decides_a_choice_is_not_what_makes_the_band_wide() -> None:
    """Both loops share the pump, which makes most of the spread and decides nothing; the fittings are what differs."""
    priors = {**FLAT_PRIORS, "pump head": lognormal("pump head", 0.6, group="pump curve")}
    band = of([flat("one", fitting="F1"), flat("two", fitting="F2", quadratic=1.02 * QUADRATIC)], draws=8000, priors=priors)
    assert band.shares[0].unknown == "pump curve"
    assert band.rival == "two"
    assert band.lead_shares[0].unknown == "fittings"
    assert "mostly the fittings" in advice_of(band)[1]


def test_a_choice_that_is_not_in_doubt_needs_no_measurement() -> None:
    band = of([flat("one"), flat("two", quadratic=4 * QUADRATIC)], draws=500, priors=FLAT_PRIORS)
    assert "no measurement is likely to change the choice" in advice_of(band)[1]
    alone = of([flat("one")], draws=500, priors=FLAT_PRIORS)
    assert (alone.rival, alone.lead_shares, advice_of(alone)[1]) == ("", (), "")


def test_only_priors_that_were_used_are_listed() -> None:
    assert {line.unknown for line in of([flat()], draws=100).priors} == {"pump head", "fittings", "fitting bores"}


def test_what_is_known_besides_changes_every_draw() -> None:
    """A function of the factors of draws, here one that knows them all to be 1: the band shrinks to the stated flow."""

    def certain(factors: Factors) -> Factors:
        return replace(factors, draws=replace(factors.draws, normals=np.zeros_like(factors.draws.normals)))

    line = line_of(flat(), draws=500, priors=FLAT_PRIORS, known=certain)
    assert (line.p10_m3s, line.p90_m3s) == pytest.approx((line.stated_m3s,) * 2, rel=1e-12)
    assert line_of(flat(), draws=500, priors=FLAT_PRIORS).p10_m3s < 0.99 * line.p10_m3s


def test_names_must_tell_candidates_apart() -> None:
    for wrong in ([], [flat("one"), flat("one")]):
        with pytest.raises(ValueError, match="name of its own"):
            of(wrong)


def test_a_band_is_plain_json() -> None:
    body = plain(of(candidates(2), draws=200, percent=10, made="random bundles"))
    assert isinstance(body, dict)
    assert json.loads(json.dumps(body, allow_nan=False)) == body
    assert {"lines", "shares", "robust", "priors", "seed", "draws"} <= set(body)

"""The candidate with the best chosen quantile, and what is said of the set it was chosen from."""

import math

import numpy as np
import pytest
from band_cases import FLAT_PRIORS, QUADRATIC, flat, lognormal

from optimizer.bands.band import of
from optimizer.bands.candidates import Candidate
from optimizer.bands.robust import best_at, chosen, quantile_of


def steady_and_bold() -> tuple[list[Candidate], dict[str, object]]:
    """A bold loop with a better median and a wide spread, and a steady one 4 % behind whose loss is known."""
    bold = flat("bold", fitting="F1")
    steady = flat("steady", fitting="F2", quadratic=QUADRATIC * 1.04**2)
    pump, known = steady.pieces
    steady = Candidate(
        name="steady",
        pieces=(pump, type(known)(part="F2", installed=False, loss=known.loss, resistance="known")),
        kinematic_m2s=steady.kinematic_m2s,
    )
    return [bold, steady], {**FLAT_PRIORS, "known": lognormal("known", 0.01)}


@pytest.mark.parametrize(("percent", "winner"), [(10, "steady"), (50, "bold"), (90, "bold")])
def test_caution_prefers_the_steady_bundle(percent: int, winner: str) -> None:
    """Closed form: ln Q has sd 0.138 for bold and 0.030 for steady, so their P10 differ by 10 % in favour of the steady one."""
    made, priors = steady_and_bold()
    band = of(made, draws=4000, percent=percent, made="both loops of this test", priors=priors)  # type: ignore[arg-type]
    assert band.robust is not None
    assert band.robust.name == winner == band.told
    assert band.robust.quantile == f"P{percent}"


def test_what_caution_costs_is_told() -> None:
    """P10 of both and the loss at P50, in closed form."""
    made, priors = steady_and_bold()
    robust = of(made, draws=20_000, percent=10, made="both loops", priors=priors).robust  # type: ignore[arg-type]
    assert robust is not None
    middle = math.sqrt(2.0 / QUADRATIC)
    bold = 0.5 * math.sqrt(0.06**2 + 0.25**2 + 0.08**2)
    steady = 0.5 * math.sqrt(0.06**2 + 0.01**2)
    assert robust.first_m3s == pytest.approx(middle * math.exp(-1.2816 * bold), rel=4e-3)
    assert robust.flow_m3s == pytest.approx(middle / 1.04 * math.exp(-1.2816 * steady), rel=4e-3)
    assert robust.gives_up_m3s == pytest.approx(middle * (1 - 1 / 1.04), rel=0.05)
    assert robust.made == "both loops"


@pytest.mark.parametrize("percent", [5, 10, 25, 50, 75, 95])
def test_the_best_row_is_the_one_with_the_largest_quantile(percent: int) -> None:
    """A plain comparison on random flows, by sorting."""
    rng = np.random.default_rng(percent)
    flows = rng.lognormal(-8.0, rng.uniform(0.05, 0.5, (12, 1)), (12, 1001))
    sorted_flows = np.sort(flows, axis=1)[:, percent * 10]
    assert best_at(flows, percent) == int(np.argmax(sorted_flows))


def test_of_equals_the_better_ranked_is_chosen() -> None:
    flows = np.full((3, 50), 3e-4)
    flows[1] += 0.05e-3 / 3600
    assert best_at(flows, 10) == 0
    flows[2] += 0.2e-3 / 3600
    assert best_at(flows, 10) == 2


def test_a_set_that_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="how the set"):
        chosen(["one"], np.ones((1, 3)), 10, " ")


@pytest.mark.parametrize(("text", "percent"), [("P10", 10), ("p5", 5), ("95", 95), (" P50 ", 50)])
def test_quantiles_are_read(text: str, percent: int) -> None:
    assert quantile_of(text) == percent


@pytest.mark.parametrize("text", ["P4", "P96", "P100", "", "ten", "P-10", "P1.5", "0.1"])
def test_other_quantiles_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match="write for example P10"):
        quantile_of(text)

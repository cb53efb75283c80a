"""The choice of kits against a trial of every set of candidates."""

import random
from itertools import combinations

import pytest

from optimizer.tanks.kits import Shelf, choose


@pytest.mark.parametrize("seed", range(25))
@pytest.mark.parametrize("by", ["gain", "coverage"])
def test_no_set_of_candidates_serves_better(seed: int, by: str) -> None:
    """Best by the one, then by the other, then by the least total price; one of each chosen kit must be in stock."""
    rng = random.Random(seed)
    tanks, count, most = rng.randint(1, 6), rng.randint(1, 8), rng.randint(1, 4)
    weights = [rng.choice([0.5, 1.0, 2.0, 7.0]) for _ in range(tanks)]
    gains = [[None if rng.random() < 0.5 else rng.choice([1, 2, 3, 4.5]) * 1e-5 for _ in range(tanks)] for _ in range(count)]
    prices = [1000 * rng.randint(1, 5) for _ in range(count)]
    needs = [{name: float(rng.randint(1, 3)) for name in "PQR" if rng.random() < 0.5} for _ in range(count)]
    stock = {"P": 4.0, "Q": 3.0}

    def can_be_made(kits: tuple[int, ...]) -> bool:
        return all(sum(needs[k].get(name, 0.0) for k in kits) <= amount for name, amount in stock.items())

    def worth(kits: tuple[int, ...]) -> tuple[int, int, int]:
        best = [max((g for k in kits if (g := gains[k][t]) is not None), default=None) for t in range(tanks)]
        served = round(sum(10 * w for w, g in zip(weights, best, strict=True) if g is not None))
        gained = round(sum(w * g for w, g in zip(weights, best, strict=True) if g is not None) * 1e8)
        first, second = (gained, served) if by == "gain" else (served, gained)
        return first, second, -sum(prices[k] for k in kits)

    sets = (kits for size in range(most + 1) for kits in combinations(range(count), size) if can_be_made(kits))
    chosen = choose(weights, gains, prices, most, by, Shelf(needs=needs, stock=stock))
    assert can_be_made(chosen.kits)
    assert len(chosen.kits) <= most
    assert worth(chosen.kits) == max(map(worth, sets))


def test_a_kit_that_adds_nothing_stays_off_the_shelf() -> None:
    assert choose([1.0], [[1e-4], [1e-4]], [500, 400], 2).kits == (1,)
    assert choose([1.0], [[None]], [500], 2).kits == ()


def test_unknown_aims_are_refused() -> None:
    with pytest.raises(ValueError, match="gain"):
        choose([1.0], [[1e-4]], [500], 1, "luck")
    with pytest.raises(ValueError, match="at least one"):
        choose([1.0], [[1e-4]], [500], 0)

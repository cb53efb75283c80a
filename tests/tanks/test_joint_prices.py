"""Prices that hold for all tanks: whatever they are, no real choice is charged more than its joint bill and the credit."""

import random

import pytest
from small_households import household

from optimizer.tanks.joint_prices import JointPrices
from optimizer.tanks.program import Column
from optimizer.tanks.share import aims, sought
from optimizer.tanks.signatures import Side


def charge(side: Side, column: Column, prices: JointPrices) -> float:
    """What a bundle is charged, place by place."""
    option, joint = prices.rows(side, prices.items(side))
    assert column.bundle is not None
    path = column.bundle.path
    return float(option[list(path.options)].sum() + joint[list(path.joints)].sum())


@pytest.mark.parametrize("seed", [1, 2, 8, 10])
def test_no_choice_is_charged_more_than_its_bill(seed: int) -> None:
    """Random prices, far too high ones among them, and random choices of what the search came across."""
    house, catalog = household(seed)
    found = sought(house, catalog)
    found.sharing.answer(aims(house.tanks)[2])
    rng, program, tried = random.Random(seed), found.sharing.program, 0
    for _ in range(30):
        prices = JointPrices.of(
            program.bounds,
            {(name, 0): rng.uniform(0.0, 500.0) for name in program.bounds.offers if rng.random() < 0.5},
            {name: rng.uniform(0.0, 900.0) for name in program.handed if rng.random() < 0.5},
            {room.name: rng.uniform(0.0, 500.0) for room in house.rooms},
            rng.uniform(0.0, 20.0),
        )
        columns = found.sharing.columns()
        some = [rng.choice([c for c in columns if c.tank == n and c.is_there]) for n in program.tanks]
        chosen = program.solved(some, None, ())
        if chosen is None:
            continue
        charged = sum(charge(s, c, prices) for s in found.sides for c in some if c.tank == s.number)
        assert charged <= chosen.price + prices.credit + 1e-6
        tried += 1
    assert tried > 3

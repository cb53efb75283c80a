"""Fillings of a branch compared many at once: the same are left as by comparing them one by one."""

from functools import cache
from pathlib import Path

import pytest

from optimizer import api
from optimizer.search import branch_fillings
from optimizer.search.branch_fillings import ALWAYS, LOSSES, TERMS, Filling, _Sort
from optimizer.search.choices import choices

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"

MOST = 60
"""Sorts of more fillings are left to the tests of whole answers."""


def one_by_one(sort: _Sort) -> list[Filling]:
    """Those that no other beats, by looking at every two of them, with prices piece by piece."""
    kept: list[int] = []
    for one in range(len(sort.fills)):
        if not any(beats(sort, other, one) for other in kept):
            kept = [other for other in kept if not beats(sort, one, other)] + [one]
    return [sort.fills[one] for one in kept]


def beats(sort: _Sort, first: int, second: int) -> bool:
    """Whether one filling of a sort certainly loses no more than another, and costs no more whatever shared pieces come to."""
    needed = (sort.counts[sort.sets[each]] for each in (first, second))
    pieces = zip(*needed, sort.alone, strict=True)
    price = sort.fills[first].plain + sum(max(mine - other, 0.0) * alone for mine, other, alone in pieces)
    no_more = [a <= b for a, b in zip(sort.mine[first].tolist(), sort.theirs[second].tolist(), strict=True)]
    could = all(no_more[ALWAYS]) and (all(no_more[LOSSES]) or all(no_more[TERMS]))
    return price <= sort.fills[second].plain and could and sort._loses_no_more(first, second)


@cache
def sorts() -> list[_Sort]:
    """What is compared with what on a demo rig, as far as it is few enough to be looked at one by one."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / "stem_plants_200.toml", catalog)
    compared: list[_Sort] = []
    unbeaten = _Sort.unbeaten

    def noted(sort: _Sort) -> list[Filling]:
        compared.append(sort)
        return unbeaten(sort)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(_Sort, "unbeaten", noted)
        choices(rig, catalog, rig.limits, pairs=False)
    return [sort for sort in compared if len(sort.fills) <= MOST]


@pytest.mark.parametrize(("together", "many"), [(1, 2000), (3, 2000), (3, 0), (64, 2000)])
def test_fillings_compared_many_at_once_leave_those_that_are_left_one_by_one(
    together: int, many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many are compared at once, and those with the same shared pieces first or not, those that stay are the same, in the
    same order; many go."""
    sorts()
    monkeypatch.setattr(branch_fillings, "TOGETHER", together)
    monkeypatch.setattr(branch_fillings, "MANY", many)
    left = [sort.unbeaten() for sort in sorts()]
    for sort, some in zip(sorts(), left, strict=True):
        assert [id(fill) for fill in some] == [id(fill) for fill in one_by_one(sort)]
    assert sum(len(sort.fills) - len(some) for sort, some in zip(sorts(), left, strict=True)) > 100

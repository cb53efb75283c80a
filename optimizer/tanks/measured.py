"""The tanks of a household as their fills show them, so that each counts as it does when it is asked about alone."""

from dataclasses import replace

from optimizer.answers.by_fills import by_fills
from optimizer.errors import InputError, Problem
from optimizer.model.fitted import ByFills
from optimizer.model.household import Household


def by_their_fills(household: Household, measured: bool = True) -> tuple[Household, tuple[ByFills | None, ...]]:
    """The household to search with, and what to say of the fills of each tank (None: it has none). Not ``measured``: fills are
    left out.

    Raises InputError with every tank whose fills no loop can explain.
    """
    tanks, told, problems = [], [], []
    for tank in household.tanks:
        try:
            rig, said = by_fills(tank.rig, measured)
        except InputError as error:
            problems += [Problem(where=f"tank {tank.name}, {p.where}", what=p.what, cure=p.cure) for p in error.problems]
            continue
        tanks.append(replace(tank, rig=rig))
        told.append(said)
    if problems:
        raise InputError(household.name, problems)
    return replace(household, tanks=tuple(tanks)), tuple(told)

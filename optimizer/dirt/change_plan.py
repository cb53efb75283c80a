"""In what steps biological media are changed: one part at a time, weeks apart, so that at least half of it always stays."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.model.parts import Canister, Medium
from optimizer.model.rig import Tray

WEEKS_APART = 4
"""Weeks until new media carry bacteria like the old: common practice, no published source ("weeks apart")."""

LEAST_STAYS = 0.5
"""Share of the mature surface that stays at every step: common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeStep:
    """What happens to one tray in one week: ``share`` of it (1: all, 0.5: half) goes from ``old`` to ``new`` (None: empty).

    ``stays`` is the share of the mature surface of that day that is left, ``mature_m2`` how much that is; ``sound`` says whether
    at least half of it stays.
    """

    week: int
    tray: int
    share: float
    old: Medium | None
    new: Medium | None
    stays: float
    mature_m2: float

    @property
    def sound(self) -> bool:
        """True when at least half of the mature surface stays."""
        return self.stays >= LEAST_STAYS - 1e-9


@dataclass(slots=True)
class _Bed:
    """Mature surface in one tray in m2: of its old medium as a whole, and what there is today."""

    old_m2: float
    new_m2: float
    mature_m2: float


def change_plan(before: Sequence[Tray], after: Sequence[Medium | None], canister: Canister) -> tuple[ChangeStep, ...]:
    """Steps from the trays of today to what they are to hold, tray by tray (the same medium: it stays).

    Trays without surface for bacteria are changed in the first week, all together. Of the others the smallest goes first, whole
    where at least half of the mature surface stays, else in two halves. What is new is mature by the next step. A step after
    which less than half stays (the last biological medium goes for good) is listed too, not ``sound``. Raises ValueError for
    lists of different length.

    >>> from optimizer.model.ends import End, Gender, Standard
    >>> end = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)
    >>> body = Canister(id="C", name="body", inlet=end, outlet=end, trays=1, tray_area_m2=0.04, tray_height_m=0.05)
    >>> old, new = (Medium(id=name, name=name, form="foam", permeability_m2=1e-7, inertial_1m=300.0, area_m2m3=1000.0,
    ...             mechanical=True, biological=True) for name in ("F", "G"))
    >>> [(step.week, step.share, step.stays) for step in change_plan([Tray(medium=old)], [new], body)]
    [(0, 0.5, 0.5), (4, 0.5, 0.5)]
    """
    if len(before) != len(after):
        raise ValueError("a plan needs the new medium of every tray")
    changed = [n for n, tray in enumerate(before) if _id(tray.medium) != _id(after[n])]
    areas = [(_area_m2(tray.medium, canister), _area_m2(new, canister)) for tray, new in zip(before, after, strict=True)]
    beds = [_Bed(old, new, old) for old, new in areas]
    plain = [n for n in changed if not beds[n].old_m2]
    there = sum(bed.mature_m2 for bed in beds)
    steps = [_step(0, n, 1.0, before, after, 1.0, there) for n in plain]
    week = 0
    for n in sorted((n for n in changed if beds[n].old_m2), key=lambda n: (beds[n].old_m2, n)):
        for share in _shares(beds, n):
            there = sum(bed.mature_m2 for bed in beds)
            left = there - share * beds[n].old_m2
            steps.append(_step(week, n, share, before, after, left / there, left))
            beds[n].mature_m2 += share * (beds[n].new_m2 - beds[n].old_m2)
            if week == 0:
                for other in plain:
                    beds[other].mature_m2 = beds[other].new_m2
            week += WEEKS_APART
    return tuple(steps)


def _id(medium: Medium | None) -> str:
    return "" if medium is None else medium.id


def _area_m2(medium: Medium | None, canister: Canister) -> float:
    return medium.area_m2m3 * canister.tray_volume_m3 if medium is not None and medium.biological else 0.0


def _shares(beds: Sequence[_Bed], n: int) -> Iterator[float]:
    """One whole step where enough stays, else two halves."""
    there = sum(bed.mature_m2 for bed in beds)
    whole = there - beds[n].old_m2 >= LEAST_STAYS * there - 1e-12
    yield from (1.0,) if whole else (0.5, 0.5)


def _step(
    week: int, n: int, share: float, before: Sequence[Tray], after: Sequence[Medium | None], stays: float, mature_m2: float
) -> ChangeStep:
    return ChangeStep(week=week, tray=n, share=share, old=before[n].medium, new=after[n], stays=stays, mature_m2=mature_m2)

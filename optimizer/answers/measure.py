"""What timed fills say of a rig: each fill by itself, brought to the loop as installed, and all of them together."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.answers.question import stands_now
from optimizer.errors import InputError, Problem
from optimizer.measure.calibrate import Posterior
from optimizer.measure.possible import impossible, odd_watts
from optimizer.measure.result import posterior_of, told_by
from optimizer.model.catalog import Catalog
from optimizer.model.fill import TimedFill
from optimizer.model.measured import Measured
from optimizer.model.measuring import Calibrated, WattsRead
from optimizer.model.rig import Rig
from optimizer.model.said import Note

CHECK = "Check volume and seconds of every fill, and the label of the pump."
CHECK_WATTS = "Have nothing but the pump on the meter: no heater, no lamp, no air pump."


def measure(rig: Rig, fills: Sequence[TimedFill] | None = None, *, power_w: float = 0.0) -> Measured:
    """Flow of every timed fill with its uncertainty, brought to the loop as installed, and the delivered flow by all of them.

    Without ``fills`` those of the rig file; ``power_w`` is what a meter at the socket shows with the loop as it is (0: not
    read). Raises InputError without a fill, and for measurements that no loop can explain.
    """
    fills = rig.fills if fills is None else fills
    need_fills(rig, fills)
    rig = believed(replace(rig, fills=tuple(fills)))
    told = explained(rig, rig.fills, power_w)[1]
    return Measured(
        rig=rig.name,
        fills=told.measured,
        powers_w=tuple(each for each in (*(fill.power_w for fill in rig.fills), power_w) if each),
        expected=told.expected,
        delivered=told.delivered,
        tail=told.tail,
        notes=notes_of(rig),
    )


def believed(rig: Rig) -> Rig:
    """The rig without the fills that cannot be, and without watts that cannot be the pump's, with a note on each of them, for
    every answer that goes by fills."""
    doubts = [impossible(rig, fill) for fill in rig.fills]
    watts = ["" if doubt else odd_watts(rig, fill.power_w) for fill, doubt in zip(rig.fills, doubts, strict=True)]
    if not any((*doubts, *watts)):
        return rig
    kept = tuple(
        replace(fill, power_w=0.0) if odd else fill
        for fill, doubt, odd in zip(rig.fills, doubts, watts, strict=True)
        if not doubt
    )
    notes = [Note("fill", doubt, f"; it cannot be and is left out. {CHECK}") for doubt in doubts if doubt]
    notes += [Note("fill.watts", odd, f"; left out. {CHECK_WATTS}") for odd in watts if odd]
    return replace(rig, fills=kept, notes=(*rig.notes, *notes))


def need_fills(rig: Rig, fills: Sequence[TimedFill]) -> None:
    """Raise InputError when there are no fills, or none that can be."""
    if not fills:
        cure = 'Write [[fill]] and below it volume = "10 l" and seconds = [61.2, 60.8, 61.5].'
        raise InputError(rig.told_as, [Problem(where="fill", what="nothing was timed.", cure=cure)])
    doubts = [impossible(rig, fill) for fill in fills]
    if all(doubts):
        raise InputError(rig.told_as, [Problem(where="fill", what=f"cannot be: {doubt}.", cure=CHECK) for doubt in doubts])


def explained(rig: Rig, fills: Sequence[TimedFill], power_w: float = 0.0, *, drawn: bool = True) -> tuple[Posterior, Calibrated]:
    """The calibration of a rig by its measurements, and what it says; a power of 0 was not read. Not
    ``drawn``: bands are taken as normal, which is quicker where only its other words are wanted.

    Raises InputError for branches between which the flow divides unsteadily, and for measurements that no loop can explain.
    """
    posterior = calibrated(rig, fills, power_w)
    try:
        return posterior, told_by(posterior, rig, fills, drawn=drawn)
    except ArithmeticError:
        raise inexplicable(rig) from None


def calibrated(rig: Rig, fills: Sequence[TimedFill], power_w: float = 0.0) -> Posterior:
    """The calibration of a rig by its measurements alone; raises as `explained`."""
    need_steady(rig)
    odd = odd_watts(rig, power_w)
    if odd:
        raise InputError(rig.told_as, [Problem(where="watts", what=f"{odd}.", cure=CHECK_WATTS)])
    watts = (WattsRead(power_w=power_w),) if power_w else ()
    try:
        return posterior_of(rig, fills, watts)
    except ArithmeticError:
        raise inexplicable(rig) from None


def need_steady(rig: Rig) -> None:
    """Raise InputError for a loop with branches between which the flow divides unsteadily."""
    if any(position.branches for position in rig.as_it_stands.positions):
        stands_now(rig, Catalog(parts={}, products=()))


def inexplicable(rig: Rig) -> InputError:
    """The problem that no factors bring measurements and loop together."""
    what = "no loop that is anything like this one would have filled so."
    return InputError(rig.told_as, [Problem(where="fill", what=what, cure=CHECK)])


def notes_of(*rigs: Rig) -> tuple[str, ...]:
    """What was assumed while reading the rigs, as far as it matters for fills, each once."""
    found = (note for rig in rigs for note in rig.notes if isinstance(note, Note))
    return tuple(dict.fromkeys(note for note in found if note.table in ("fill", "tank") or note.about == "fill"))

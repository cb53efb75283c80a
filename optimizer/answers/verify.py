"""Before and after an upgrade: was it the cleaning, what was left out, or the parts, and did the loop do what was predicted?"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from optimizer.answers.measure import believed, inexplicable, need_fills, need_steady, notes_of
from optimizer.measure.calibrate import calibrate, factor_lines
from optimizer.measure.fill_loop import loop_during_fill
from optimizer.measure.result import corrected, posterior_of
from optimizer.measure.verdict import Fills, judged, loops_between, posterior_of_both, work_done
from optimizer.measure.work import is_same
from optimizer.model.parts import Part
from optimizer.model.rig import Rig, with_tees
from optimizer.model.verified import Verified

P = TypeVar("P", bound=Part)


def verify(before: Rig, after: Rig) -> Verified:
    """Was it the upgrade or the cleaning? By the fills of a rig before and after, with a model brought up to date by all of them.

    Raises InputError for a rig without fills or with branches that are unsteady, and for fills that no loop can explain.
    """
    for rig in (before, after):
        need_steady(rig)
        need_fills(rig, rig.fills)
    before, after = believed(before), believed(after)
    new = _told_apart(before, after)
    first, last = Fills.of(before, before.fills), Fills.of(new, new.fills)
    loops, work = loops_between(first, last), work_done(first, last)
    try:
        posterior = posterior_of_both(first, last)
        predicted = posterior_of(before, before.fills).band(loops[-1])
        before_fills = tuple(corrected(before, fill, posterior) for fill in before.fills)
        after_fills = tuple(corrected(new, fill, posterior) for fill in new.fills)
    except ArithmeticError:
        raise inexplicable(after) from None
    return Verified(
        before=before.name,
        after=after.name,
        before_fills=before_fills,
        after_fills=after_fills,
        cleaned=work.cleaned,
        left_out=work.left_out,
        parts=work.parts,
        expected=calibrate((), posterior.priors).band(loop_during_fill(new, last.state)),
        predicted=predicted,
        verdict=judged(posterior, loops, work),
        factors=factor_lines(posterior),
        notes=notes_of(before, after),
    )


def _told_apart(before: Rig, after: Rig) -> Rig:
    """The rig after, its parts that are described otherwise than one of the same id before called otherwise too.

    A part that is described in the file is called after its place, so an old one and its successor would share their factors.
    """
    known: dict[str, list[Part]] = {}
    for part in before.every_part:
        known.setdefault(part.id, []).append(part)
    trays = tuple(tray if tray.medium is None else replace(tray, medium=_renamed(tray.medium, known)) for tray in after.trays)
    renamed = replace(after, trays=trays).with_each(
        lambda p: p if p.installed is None else replace(p, installed=_renamed(p.installed, known))
    )
    return with_tees(renamed, lambda tee, _: _renamed(tee, known))


def _renamed(part: P, known: Mapping[str, Sequence[Part]]) -> P:
    # one part may stand in a loop both ways round
    old = known.get(part.id, ())
    return part if not old or any(is_same(part, each) for each in old) else replace(part, id=f"{part.id}, new")

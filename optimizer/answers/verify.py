"""Before and after an upgrade: was it the cleaning, what was left out, or the parts, and did the loop do what was predicted?"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from optimizer.answers.by_fills import fitted_parts
from optimizer.answers.measure import believed, calibrated, inexplicable, need_fills, need_steady, notes_of
from optimizer.answers.question import stands_now
from optimizer.bands.installed import installed
from optimizer.loop.kinds import is_like
from optimizer.measure.calibrate import Posterior, calibrate, factor_lines
from optimizer.measure.fill_loop import cleaned
from optimizer.measure.result import corrected
from optimizer.measure.verdict import Fills, judged, loops_between, posterior_of_both, work_done
from optimizer.measure.work import is_same
from optimizer.model.catalog import Catalog
from optimizer.model.measuring import FlowBand
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
    foretold = calibrated(before, before.fills)
    try:
        posterior = posterior_of_both(first, last)
        own = tuple(_delivered(one, calibrated(one.rig, one.fills)) for one in (first, Fills.of(after, after.fills)))
        predicted = _delivered(last, foretold)
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
        before_flow=own[0],
        after_flow=own[1],
        expected=_delivered(last, calibrate((), posterior.priors)),
        predicted=predicted,
        verdict=judged(posterior, loops, work),
        factors=factor_lines(posterior),
        notes=notes_of(before, after),
    )


def _delivered(one: Fills, posterior: Posterior) -> FlowBand:
    """What the tank gets by a posterior: the flow and the band that `best`, `bands` and `diagnose` have for this loop, of which
    parts that it does not know are as stated."""
    clean = cleaned(one.rig, one.state)
    figure = stands_now(replace(clean, fitted=fitted_parts(posterior)), Catalog(parts={}, products=())).flow_m3s
    return posterior.drawn(installed(clean), figure)


def _told_apart(before: Rig, after: Rig) -> Rig:
    """The rig after, its parts that are described otherwise than one of the same id before called otherwise too, and those that
    are the same in kind and size as the part in their place before called as that.

    A part that is described in the file is called after its place, so an old one and its successor would share their factors;
    what fills say of a place holds for a new part that is like the old one.
    """
    known: dict[str, list[Part]] = {}
    for part in before.every_part:
        known.setdefault(part.id, []).append(part)
    trays = tuple(tray if tray.medium is None else replace(tray, medium=_renamed(tray.medium, known)) for tray in after.trays)
    there = {place.name: place.installed for place in before.every_position}
    renamed = replace(after, trays=trays).with_each(
        lambda p: p if p.installed is None else replace(p, installed=_like(p.installed, there.get(p.name), known))
    )
    return with_tees(renamed, lambda tee, _: _renamed(tee, known))


def _like(part: Part, old: Part | None, known: Mapping[str, Sequence[Part]]) -> Part:
    return replace(part, id=old.id) if old is not None and is_like(old, part) else _renamed(part, known)


def _renamed(part: P, known: Mapping[str, Sequence[Part]]) -> P:
    # one part may stand in a loop both ways round
    old = known.get(part.id, ())
    return part if not old or any(is_same(part, each) for each in old) else replace(part, id=f"{part.id}, new")

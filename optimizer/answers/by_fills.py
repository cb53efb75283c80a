"""A rig with what its fills say of the parts that are installed, so that the search goes by it."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from optimizer.answers.measure import believed, explained
from optimizer.answers.question import stands_now
from optimizer.answers.restated import Restating
from optimizer.bands.fitted import FittedParts
from optimizer.loop.kinds import part_loss
from optimizer.loop.terms import chained_quadratic
from optimizer.measure.calibrate import Posterior, factor_rows
from optimizer.model.catalog import Catalog
from optimizer.model.ends import End
from optimizer.model.fitted import ByFills, FittedFactor
from optimizer.model.options import Chain, Option
from optimizer.model.rig import Position, Rig
from optimizer.physics.fitting_laws import FittingLaws
from optimizer.physics.water import Water

NAMED = 0.03
"""A figure that moved by 3 % or less is not named."""

MOST_NAMED = 6

ASSUMED = (
    "What stays goes by the factors that the fills make most probable, dirt as it is included; what is cleaned loses its dirt by "
    "its stated clean figures.",
    "What is bought goes by its stated figures and by what the fills say of its kind as a whole. Of the same kind and size as "
    "what it replaces it is no better than that cleaned: no fill says that the part is to blame.",
    "Where fills cannot tell two parts apart, both have moved a little: a fill with one of them off would tell.",
)


def by_fills(rig: Rig, measured: bool = True) -> tuple[Rig, ByFills | None]:
    """The rig to search with, and what to say of its fills (None: it has none). Not ``measured``: they are left out, as are those
    that cannot be, each with a note in the rig.

    Raises InputError for fills that no loop can explain.
    """
    timed, noted = rig.fills, len(rig.notes)
    if not timed:
        return rig, None
    rig = believed(rig) if measured else rig
    doubts = rig.notes[noted:]
    stated_m3s = _delivered_m3s(rig)
    dates = tuple(sorted({fill.date for fill in rig.fills if fill.date}))
    told = ByFills(fills=len(rig.fills), dates=dates, delivered_m3s=stated_m3s, stated_m3s=stated_m3s)
    if not rig.fills:
        return rig, replace(told, fills=len(timed), left_out="they cannot be, as is said with what the answer rests on")
    if not measured:
        return rig, replace(told, left_out="as asked")
    posterior, says = explained(rig, rig.fills, drawn=False)
    found = replace(rig, fitted=fitted_parts(posterior))
    return found, replace(
        told,
        delivered_m3s=_delivered_m3s(found),
        factors=tuple(_moved(posterior))[:MOST_NAMED],
        clean_first=says.clean_first,
        relative=min(each.measured.expanded_m3s / each.measured.flow_m3s for each in says.measured),
        notes=(*doubts, *ASSUMED),
    )


def as_stated(
    rig: Rig, water: Water, options: Sequence[Option], joints: Sequence[Chain]
) -> tuple[tuple[Option, ...], tuple[Chain, ...]]:
    """A bundle of a search that went by fills, with stated figures: draws scale these, and know the fills themselves."""
    if rig.fitted is None:
        return tuple(options), tuple(joints)
    new_joints = rig.fitted.new_joints
    stated = Restating(option=partial(_stated, water), joint=partial(_stated_joint, rig.laws, new_joints), laws=rig.laws)
    return stated.bundle(rig.positions, options, joints)


def _stated_joint(laws: FittingLaws, new_joints: float, joint: Chain, before: End, after: End) -> Chain:
    """A joint between what is installed side by side, or parts like that, by its formula; any other had the factor of all."""
    if not joint.between_like:
        return replace(joint, quadratic=joint.quadratic / new_joints)
    return replace(joint, quadratic=chained_quadratic(before.bore_m, joint.adapters, after.bore_m, laws))


def _stated(water: Water, position: Position, option: Option) -> Option:
    if option.stated is None:
        return option
    loss = part_loss(option.stated, option.state, replace(position, height_m=option.height_m), water)
    return replace(option, part=option.stated, loss=loss)


def fitted_parts(posterior: Posterior) -> FittedParts:
    """The most probable factors of a posterior, for the search."""
    owned, rows = factor_rows(posterior)
    found = {
        (unknown.prior, unknown.part): float(np.exp(posterior.priors[unknown.prior].log_factor(normal)))
        for unknown, normal in zip(owned, rows @ posterior.mean, strict=True)
    }
    return FittedParts(found, dict(_commons(posterior)), posterior.known())


def _commons(posterior: Posterior) -> Iterator[tuple[str, float]]:
    """What all parts of a kind have in common."""
    for unknown, mean in zip(posterior.unknowns, posterior.mean, strict=True):
        if not unknown.part:
            prior = posterior.priors[unknown.prior]
            yield unknown.prior, float(np.exp(prior.log_factor(math.sqrt(prior.common) * mean)))


def _moved(posterior: Posterior) -> Iterator[FittedFactor]:
    """Factors that are not 1, the farthest first."""
    found = fitted_parts(posterior).factors
    for (prior, part), factor in sorted(found.items(), key=lambda item: (-abs(math.log(item[1])), item[0])):
        if abs(math.log(factor)) > NAMED:
            yield FittedFactor(part=part, unknown=prior, scales=posterior.priors[prior].scales, factor=factor)


def _delivered_m3s(rig: Rig) -> float:
    return stands_now(rig, Catalog(parts={}, products=())).flow_m3s

"""A bundle as it stands by the stated figures: what is drawn of it, which knows the fills by itself."""

from collections.abc import Sequence

from optimizer.loop.standing import StandingLoop, standing_loop
from optimizer.model.options import Chain, Option
from optimizer.model.rig import Rig
from optimizer.physics.water import Water


def stated_loop(rig: Rig, water: Water, options: Sequence[Option], joints: Sequence[Chain]) -> StandingLoop:
    """The loop of a bundle that a search found, which may have gone by the fills of the rig."""
    if rig.fitted is not None:
        from optimizer.answers.by_fills import as_stated  # only a rig that was measured needs it

        options, joints = as_stated(rig, water, options, joints)
    return standing_loop(rig, options, joints)

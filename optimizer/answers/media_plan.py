"""What bacteria need and have, and in what steps the media of a bundle are changed."""

from collections.abc import Sequence

from optimizer.answers.rows import Standing
from optimizer.dirt.biology import biological_floor
from optimizer.dirt.daily import Daily, daily_of
from optimizer.dirt.laws import USUAL, Laws
from optimizer.model.media_plan import BioSurface, MediaPlan, MediaStep
from optimizer.model.parts import Medium
from optimizer.model.rig import Rig, Tray


def media_plan(rig: Rig, stands: Standing) -> MediaPlan:
    """The steps of a bundle that puts other media where bacteria live."""
    daily = daily_of(rig)
    return MediaPlan(
        now=surface(rig, daily, rig.trays),
        after=surface_after(rig, stands),
        steps=steps(rig, _after(rig, stands)),
        notes=daily.notes,
    )


def surface_after(rig: Rig, stands: Standing) -> BioSurface:
    """Surface that the feeding needs against that of the trays as a bundle leaves them."""
    return surface(rig, daily_of(rig), [Tray(medium=medium) for medium in _after(rig, stands)])


def _after(rig: Rig, stands: Standing) -> list[Medium | None]:
    media = [tray.medium for tray in rig.trays]
    for fill in stands.media.fills:
        media[fill.tray] = fill.medium
    return media


def surface(rig: Rig, daily: Daily, trays: Sequence[Tray], laws: Laws = USUAL) -> BioSurface:
    """Surface that the feeding needs against that of the trays."""
    return biological_floor(daily, rig.tank.temperature_c, trays, rig.canister, laws)


def steps(rig: Rig, after: Sequence[Medium | None]) -> tuple[MediaStep, ...]:
    """The steps from the media of today to others, tray by tray."""
    from optimizer.dirt.change_plan import change_plan  # only a change of such media is made in steps

    return tuple(
        MediaStep(
            week=step.week,
            tray=step.tray + 1,
            share=step.share,
            old="" if step.old is None else step.old.name,
            new="" if step.new is None else step.new.name,
            stays=step.stays,
            stays_m2=step.mature_m2,
            sound=step.sound,
        )
        for step in change_plan(rig.trays, after, rig.canister)
    )

"""What goes into the tank each day: from what the keeper said, or by the size of the tank when nothing was said."""

from dataclasses import dataclass

from optimizer.dirt.laws import USUAL, Laws
from optimizer.model.rig import Rig
from optimizer.model.said import Note
from optimizer.physics.dirt_figures import DEBRIS, DIRT_FIGURES, FEEDING, PROTEIN, figure
from optimizer.physics.feeding import solids_kg_day


@dataclass(frozen=True, slots=True, kw_only=True)
class Daily:
    """Feed, dry solids made of it and dry drifting debris in kg/day, protein as a share; ``notes``: what was assumed."""

    feed_kg_day: float
    protein_share: float
    solids_kg_day: float
    debris_kg_day: float
    notes: tuple[str, ...] = ()


def daily_of(rig: Rig, laws: Laws = USUAL) -> Daily:
    """The daily load of a rig. Feed, protein and debris that were not said are assumed, with a note for each."""
    said, notes = rig.load, []
    feed, protein, debris = said.feed_kg_day, said.protein_share, said.debris_kg_day
    if feed is None:
        feed = figure(FEEDING) * rig.tank.net_m3
        notes.append(
            Note("feeding.feed", f"not given, taken as {feed * 1e3:.3g} g/day by the volume ({DIRT_FIGURES[FEEDING].source})")
        )
    if protein is None:
        protein = figure(PROTEIN)
        notes.append(Note("feeding.protein", f"not given, taken as {protein:.0%} ({DIRT_FIGURES[PROTEIN].source})"))
    if debris is None:
        debris = figure(DEBRIS) * rig.tank.net_m3
        taken = f"not given, taken as {debris * 1e3:.2g} g/day, dry, by the volume (prior of the authors)"
        notes.append(Note("feeding.debris", taken))
    return Daily(
        feed_kg_day=feed,
        protein_share=protein,
        solids_kg_day=float(solids_kg_day(feed, laws.solids_share)),
        debris_kg_day=debris,
        notes=tuple(notes),
    )

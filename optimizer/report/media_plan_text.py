"""What bacteria need and have, and the staged change of media, as lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimizer.errors import safe
from optimizer.model.media_plan import BioSurface, MediaPlan, MediaStep
from optimizer.report.layout import GLUE, Block, aligned, bullets, cut, paragraph
from optimizer.report.measures import Measures, percent, probability_text

__all__ = ["media_plan_lines", "step_lines", "surface_lines", "surface_words"]

LONGEST_NAME = 60

VERDICTS = {
    "enough": "enough for the feeding",
    "not sure": "it is not sure that this is enough for the feeding",
    "too little": "too little for the feeding",
}


def media_plan_lines(plan: MediaPlan, measures: Measures) -> list[Block]:
    """Return the section of an answer that changes media where bacteria live."""
    table = surface_lines((("now", plan.now), ("after the change", plan.after)), measures)
    lines = ["Bacteria and their media", *table]
    lines += paragraph(f"After the change: {surface_words(plan.after)}.", "  ", "    ")
    return [*lines, *step_lines(plan.steps), *bullets(safe(measures.words(note)) for note in plan.notes)]


def surface_words(surface: BioSurface) -> str:
    """Return how sure it is that bacteria have surface enough."""
    return f"{VERDICTS[surface.verdict]} (likely to be: {probability_text(surface.enough)})"


def surface_lines(rows: Iterable[tuple[str, BioSurface]], measures: Measures) -> list[Block]:
    """Return a table of the surface that is there, and of what is needed, with their bands."""
    heads = [("", "surface there", "8 of 10", "needed", "8 of 10"), ("", *[measures.area] * 4)]
    cells = [
        (
            name,
            measures.bare_area(each.have_m2),
            f"{measures.bare_area(each.have_low_m2)} to {measures.bare_area(each.have_high_m2)}",
            measures.bare_area(each.need_m2),
            f"{measures.bare_area(each.need_low_m2)} to {measures.bare_area(each.need_high_m2)}",
        )
        for name, each in rows
    ]
    return aligned([*heads, *cells])


def step_lines(steps: Sequence[MediaStep]) -> list[Block]:
    """Return the steps, each with its week and what of the mature surface stays."""
    return bullets(map(_step, steps))


def _step(step: MediaStep) -> str:
    old, new = (cut(safe(name), LONGEST_NAME) or "nothing" for name in (step.old, step.new))
    what = "tray" if step.share == 1.0 else f"{_half(step.share)} of tray"
    done = f"{old} renewed" if step.new == f"{step.old}, new" else f"{old} out, {new} in"
    told = f"week {step.week}: {what}{GLUE}{step.tray}, {done}; {percent(step.stays)} of the mature surface stays"
    return told if step.sound else f"{told}, LESS THAN HALF: feed less and test ammonia and nitrite every day"


def _half(share: float) -> str:
    return "half" if share == 0.5 else percent(share)

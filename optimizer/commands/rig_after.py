"""What --after adds to the answer about a tank: its rig file as it will be once the bundle is fitted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.commands.outputs import Output
from optimizer.errors import safe
from optimizer.files.toml_file import read_toml
from optimizer.model.said import Said, flowing

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog
    from optimizer.model.results import Result
    from optimizer.model.rig import Rig

MEASURED = (
    "That goes by the fills of the loop as it was. This file has none yet, so an answer about it goes by the stated figures "
    "until there is one."
)


def rig_after(source: str, place: Path, rig: Rig, catalog: Catalog, result: Result) -> Output:
    """The file of the rig that was read from ``source`` with the best bundle of ``result`` fitted, to be written to ``place``."""
    tree = read_toml(Path(source))  # now, since the file may be another by the time of writing

    def made(units: str) -> list[tuple[Path, bytes]]:
        from optimizer.files.rig_after import after_text  # most runs write none
        from optimizer.report.measures import system

        if result.bundle is None:
            raise RuntimeError("an answer without a bundle has no rig")
        about = [system(units).words(text) for text in _about(result)]
        return [(place, after_text(tree, rig, result.bundle, catalog, about).encode("utf-8"))]

    return Output(flag="--after", place=place, make=made, told=f"Rig after the work: {safe(place.name)}\n")


def _about(result: Result) -> list[str]:
    """What stands at the head of the file."""
    best = result.best
    if best is None:
        return []
    told: list[str] = [Said(f"{result.rig} as it will be, written by fullbore: it is to deliver ", flowing(best.flow_m3s), ".")]
    if best.held_by:
        told.append(Said("With the throttle wide open it is ", flowing(best.own_m3s), ": set it to the first."))
    if result.by_fills is not None and not result.by_fills.left_out:
        told.append(MEASURED)
    return told

"""What the commands say that turn a saved answer into files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.commands.command import Told
from optimizer.commands.outputs import write_now
from optimizer.errors import safe

if TYPE_CHECKING:
    from optimizer.model.saved import Saved

SCHEMA = "fullbore-written/1"


def files_written(found: Saved, files: Sequence[tuple[Path, bytes]]) -> Told:
    """Write the files of --out, and say whose they are, their names, and what the answer does not hold. Raises InputError where
    they cannot be written."""
    from optimizer.model.dossiers import Dossier
    from optimizer.model.kits import KitPlan

    write_now("--out", files)
    names = [path.name for path, _ in files]
    left_out = found.left_out if isinstance(found, Dossier) else ()
    whose = found.leading.rig if isinstance(found, Dossier) else found.shop if isinstance(found, KitPlan) else found.household
    line = f"{safe(whose)}: wrote {safe(', '.join(names))}.\n"
    left = "".join(f"  left out: {safe(each)}\n" for each in left_out)
    body: dict[str, object] = {"schema": SCHEMA, "files": names, "left_out": list(left_out)}
    return Told(text=lambda *_: line + left, headline=lambda _: line, body=lambda: body)

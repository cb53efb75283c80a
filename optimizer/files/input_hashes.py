"""What an answer was computed from: the files of a catalog, and the SHA-256 of the rig file, of a log, and of each of them."""

from __future__ import annotations

import hashlib
from pathlib import Path

from optimizer.files.named_files import catalog_files
from optimizer.model.dossiers import InputFile

__all__ = ["input_hashes"]


def input_hashes(rig: str | Path, folder: str | Path, log: str | Path | None = None) -> tuple[InputFile, ...]:
    """The rig file first, then the log, if one counts, then the catalog's files by name; folders are not named. A file that
    cannot be read any more is left out: the answer was made from what was read before.

    >>> input_hashes("no_such_tank.toml", "no_such_folder")
    ()
    """
    folder = Path(folder)
    logs = [] if log is None else [(Path(log).name, Path(log))]
    tables = [each for each in catalog_files(folder) if each.suffix == ".csv"]
    found = [
        (Path(rig).name, Path(rig)),
        *logs,
        *((f"{folder.name}/{each.name}", each) for each in (*tables, folder / "about.toml")),
    ]
    return tuple(made for name, path in found if (made := _hashed(name, path)) is not None)


def _hashed(name: str, path: Path) -> InputFile | None:
    try:
        return InputFile(name=name, sha256=hashlib.sha256(path.read_bytes()).hexdigest())
    except OSError:
        return None

"""What a run reads besides the files of its command line: the files of a catalog, and the rigs that a household or shop names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from optimizer.errors import BadValue
from optimizer.files.toml_file import read_toml

__all__ = ["catalog_files", "rigs_named"]


def catalog_files(folder: Path) -> tuple[Path, ...]:
    """What is or could be taken for a file of the catalog in a folder, by name; nothing of one that cannot be read: whoever reads
    the catalog says what is wrong with it.

    >>> catalog_files(Path("no_such_folder"))
    ()
    """
    try:
        return tuple(sorted(each for each in folder.iterdir() if each.suffix.casefold() in (".csv", ".toml")))
    except OSError:
        return ()


def rigs_named(path: str | Path) -> tuple[Path, ...]:
    """The rig files that a TOML file names, each once, looked for beside it; none of a file that cannot be read.

    >>> rigs_named("no_such_house.toml")
    ()
    """
    try:
        tree = read_toml(Path(path))
    except BadValue:
        return ()
    return tuple(dict.fromkeys(Path(path).parent / name for name in _rigs(tree)))


def _rigs(tree: object) -> Iterator[str]:
    """Every text under a key ``rig``; tables stand one in another as deep as the reader of TOML allows."""
    waiting = [tree]
    while waiting:
        table = waiting.pop()
        if isinstance(table, list):
            waiting += table
        elif isinstance(table, dict):
            rig = table.get("rig")
            if isinstance(rig, str):
                yield rig
            waiting += table.values()

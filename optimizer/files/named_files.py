"""What a run reads besides the files of its command line: the files of a catalog, and the rigs that a household or shop names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from optimizer.errors import BadValue
from optimizer.files.toml_file import read_toml

__all__ = ["catalog_files", "rigs_named", "texts_under"]


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
    return tuple(dict.fromkeys(Path(path).parent / name for name in texts_under(tree, "rig")))


def texts_under(tree: object, *keys: str) -> Iterator[str]:
    """Every text under one of the keys; tables stand one in another as deep as the reader of TOML allows.

    >>> list(texts_under({"tank": [{"rig": "a.toml", "name": "a"}]}, "rig", "log"))
    ['a.toml']
    """
    waiting = [tree]
    while waiting:
        table = waiting.pop()
        if isinstance(table, list):
            waiting += table
        elif isinstance(table, dict):
            yield from (text for key in keys if isinstance(text := table.get(key), str))
            waiting += table.values()

"""Several files of a folder that change together: after a cut at any moment the folder is as it was, or as it was to become.

Every new content is written beside its place first. Then a list of what is to be moved where is put in its place in one step.
Before that step the folder is as it was, since drafts are no files of a catalog; after it whoever reads the folder finishes the
moves first (`finish_moves`), and doing so twice, or half and then again, ends the same. So no mixture is ever read.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path

from optimizer.halting import held
from optimizer.line_file import sync_folder

__all__ = ["finish_moves", "write_together"]

LIST = ".fullbore.moves"


def write_together(folder: Path, files: Mapping[str, bytes | None]) -> None:
    """Give all these files of a folder, which is made if need be, their new content (None: the file goes). Raises OSError when
    they cannot be written; then none is changed."""
    import json
    import secrets

    from optimizer.files.whole_file import write_whole  # whoever reads a catalog does without

    with held():
        folder.mkdir(parents=True, exist_ok=True)
        finish_moves(folder)
        token = secrets.token_hex(8)
        drafts = {name: f".fullbore.{token}.{number}.part" for number, name in enumerate(files)}
        try:
            write_whole((folder / drafts[name], content) for name, content in files.items() if content is not None)
            moves = [[drafts[name] if content is not None else "", name] for name, content in files.items()]
            write_whole([(folder / LIST, json.dumps(moves).encode())])
        except OSError:
            for draft in drafts.values():
                with contextlib.suppress(OSError):
                    (folder / draft).unlink(missing_ok=True)
            raise
        finish_moves(folder)


def finish_moves(folder: Path) -> None:
    """Do what is left of a change that was cut short. Raises OSError where that cannot be done.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as name:
    ...     _ = Path(name, "draft").write_text("new"), Path(name, LIST).write_text('[["draft", "a.csv"]]')
    ...     finish_moves(Path(name))
    ...     Path(name, "a.csv").read_text(), Path(name, LIST).exists()
    ('new', False)
    """
    try:
        text = (folder / LIST).read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return
    import json

    try:
        moves = json.loads(text)
    except ValueError:  # never ours: it is put there whole
        moves = []
    for draft, name in _sound(moves):
        # a move that was done already has no draft any more
        with contextlib.suppress(FileNotFoundError):
            if draft:
                os.replace(folder / draft, folder / name)
            else:
                (folder / name).unlink()
    sync_folder(folder)
    with contextlib.suppress(FileNotFoundError):
        (folder / LIST).unlink()
    sync_folder(folder)


def _sound(moves: object) -> list[tuple[str, str]]:
    """The moves that are within the folder: a list that somebody else put there moves nothing out of it."""
    pairs = [tuple(each) for each in moves if isinstance(each, list) and len(each) == 2] if isinstance(moves, list) else []
    names = [(draft, name) for draft, name in pairs if isinstance(draft, str) and isinstance(name, str)]
    return [(draft, name) for draft, name in names if name and all(each == Path(each).name for each in (draft, name))]

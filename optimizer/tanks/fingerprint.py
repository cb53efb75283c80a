"""A fingerprint of whatever an answer hangs on: the same in every process and run, another as soon as a figure differs."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass

DIGEST_BYTES = 16


def fingerprint(*things: object) -> str:
    """Hexadecimal BLAKE2b of frozen dataclasses, mappings, sequences, numbers and text, nested as they like.

    Fields that are not compared are left out: no answer hangs on them. Raises TypeError for anything else, since its text might
    not tell it apart.

    >>> fingerprint(1.0, ("a", None)) == fingerprint(1.0, ["a", None]), fingerprint(1.0) == fingerprint(1.1)
    (True, False)
    """
    text = json.dumps([_plain(thing) for thing in things], sort_keys=True, ensure_ascii=True)
    return hashlib.blake2b(text.encode("ascii"), digest_size=DIGEST_BYTES).hexdigest()


def _plain(thing: object) -> object:
    if thing is None or isinstance(thing, bool | int | float | str):
        return thing
    if is_dataclass(thing) and not isinstance(thing, type):
        return [type(thing).__name__, {each.name: _plain(getattr(thing, each.name)) for each in fields(thing) if each.compare}]
    if isinstance(thing, Mapping):
        return {str(key): _plain(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [_plain(each) for each in thing]
    raise TypeError(f"a {type(thing).__name__} has no fingerprint")

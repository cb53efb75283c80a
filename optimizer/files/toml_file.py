"""A TOML file as plain tables, or the problem that stops it from being read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from optimizer.errors import BadValue
from optimizer.files.decimals import number_of_toml
from optimizer.files.source_text import file_text
from optimizer.files.toml_tables import check_keys

__all__ = ["read_toml"]

LARGEST_BYTES = 1 << 20
_PLACE = re.compile(r"(?P<what>.*) \(at (?P<place>line [0-9]+, column [0-9]+|end of document)\)", re.DOTALL)


def read_toml(path: Path) -> dict[str, object]:
    """Return the tables of a TOML file. Raises `BadValue` when it cannot be read or is not TOML.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "tank.toml")
    ...     _ = path.write_text("[tank]\\nvolume = '120 l'\\n")
    ...     read_toml(path)
    {'tank': {'volume': '120 l'}}
    """
    text = file_text(path, LARGEST_BYTES)
    check_keys(text)
    try:
        return tomllib.loads(text, parse_float=number_of_toml)
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.fullmatch(str(error))
        what, place = (found["what"], found["place"]) if found else (str(error), "some line")
        cure = 'A line reads: name = "value"; text and quantities stand in quotes.'
        raise BadValue(f"broken TOML at {place}: {what}.", cure) from None
    except RecursionError:
        raise BadValue("tables or lists are nested too deep.", "A rig has at most five levels.") from None
    except ValueError:  # Python refuses to read integers of thousands of digits
        raise BadValue("there is a number with thousands of digits.", "Write it as text with its unit.") from None

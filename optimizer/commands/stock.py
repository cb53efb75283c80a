"""Looks after a catalog. import: brings in a shop's own sheet (XLSX, ODS, XLS, CSV, a table pasted into a text): shows how it
is read and what would change, asks what it does not say, and keeps that beside the sheet for the next one. check: finds in a
catalog as a whole what no row shows by itself: parts that go on nothing, hoses without a clamp or a tail, threads without a seal
or a change-over, prices and bores out of line, rows that stand twice, kits dearer than their contents, what is sold out; each
with file, line and cure, the most serious first.

fullbore stock import price_list.xlsx --into my_shop
fullbore stock import price_list.xlsx --into my_shop --yes --answer "thread=G"
fullbore stock check
fullbore stock check my_shop
fullbore stock check my_shop --full
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.options import DEMO_CATALOG, flag, made, value
from optimizer.commands.streams import can_be_asked
from optimizer.errors import BadValue, quoted

ACTIONS = ("check", "import")


def _answers(texts: list[str]) -> dict[str, str]:
    """Answers by what they are to. Raises BadValue."""
    found = {}
    for text in texts:
        # a heading may hold the sign, what it is taken for does not
        parts = text.rpartition("=") if text.startswith("column ") else text.partition("=")
        key, sign, said = (each.strip() for each in parts)
        if not (key and sign):
            raise BadValue(f"{quoted(text)} is no answer.", 'Write for example "thread=G".')
        found[key] = said
    return found


def _asks(reader: Reader) -> bool:
    """Whether somebody sits there who can be asked, and reads what is printed."""
    return not (reader.given("json") or reader.given("quiet")) and can_be_asked()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is done, and with which folder or file."""

    action: str = value("action", "ACTION", "check", "what to do: check, or import", reads={"choices": ACTIONS})
    place: str | None = value(
        "place", "PLACE", "my_shop",
        f"check: folder of the catalog; without it {DEMO_CATALOG}, if that is there; import: the sheet",
        reads={"nargs": "?"},
    )  # fmt: skip
    into: str | None = value("--into", "DIR", "my_shop", "import: folder of the catalog, which may be new")
    yes: bool = flag("--yes", "import: read the sheet as proposed, and write")
    mapping: str | None = value(
        "--mapping",
        "FILE",
        "price_list.xlsx.mapping.toml",
        "import: how the sheet is read; without it the file of that name beside it",
    )
    answer: dict[str, str] = value(
        "--answer", "KEY=VALUE", "thread=G", "import: what the sheet does not say; any number of these", _answers,
        reads={"action": "append"}, missing=dict,
    )  # fmt: skip
    full: bool = options.full()
    asks: bool = made(_asks)


def _check(asked: Asked, reader: Reader) -> None:
    if asked.action == "import":
        if asked.place is None:
            reader.wrong(
                "PLACE", "no sheet is named.", "Write for example: fullbore stock import price_list.xlsx --into my_shop."
            )
        if asked.into is None:
            reader.wrong("--into", "no catalog is named.", "Write the folder that it goes into; it may be new.")
        return
    for name in ("into", "yes", "mapping", "answer"):
        if reader.given(name):
            reader.wrong(f"--{name}", "belongs to import.", "Leave it out, or write import.")
    if asked.place is None and not Path(DEMO_CATALOG).is_dir():
        what = f"no folder is named, and there is no folder {DEMO_CATALOG} here."
        reader.wrong("PLACE", what, "Write the folder that holds pumps.csv; fullbore demo writes one to try with.")


def _answer(asked: Asked, _: Progress | None) -> Told:
    if asked.action == "import":
        from optimizer.commands.importing import imported  # reads tables, which a check does without

        ways = asked.place or "", asked.into or "", asked.mapping
        return imported(*ways, asked.answer, yes=asked.yes, full=asked.full, asks=asked.asks)
    return told_of(api.check_stock(asked.place or DEMO_CATALOG), "stock_check_text", full=asked.full)


COMMAND = Command(__doc__, Asked, _answer, _check, writes=("--yes",))

"""A spare in words: "2 m hose 16/22", "4 clamps 16 to 25 mm", "2 x TAIL-16-G34", "hose tail 19 mm G 3/4 male".

What is meant is a part of the catalog: by its id or its name, or the one part whose ends, sizes and name have all that is said.
What says too little is never guessed: where several parts are meant they are named. Plain hose and clamps are said whole by their
diameters, so no catalog needs to have them; nor a hose tail, by its hose and its thread, whose bores are then the usual ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.errors import MOST_NEAR_NAMES, BadValue, near_names, quoted
from optimizer.model.catalog import Catalog
from optimizer.model.ends import End, Gender, Standard, inch_name
from optimizer.model.parts import Clamp, Hose, Kind, Part, Seal, kind_of, stated_ends
from optimizer.unit_table import LENGTH
from optimizer.units import parse

__all__ = ["spare_table"]

LONGEST = 120
CURE = 'Write for example "2 m hose 16/22", "4 clamps 16 to 25 mm", or "2 x " and the id of a part of the catalog.'

_NUMBER = r"\d+(?:[.,]\d+)?"
_INCHES = r"\d+(?:\s+\d+/\d+|/\d+)?"
_INCH = r"(?:in\b|inch\b|\")"
_THREAD = rf"\b(?P<family>g|r|rc|rp|npt|ght)\s*(?P<inches>{_INCHES})\s*{_INCH}?(?:\s*(?P<gender>male|female)\b)?"
_COUNT = re.compile(
    r"(\d{1,4})\s*(?:x|pieces|pcs)\s+(?P<first>.+)|(\d{1,4})\s+(?P<bare>[a-z].*)|(?P<last>.+?)\s+x\s*(\d{1,4})", re.S
)
_UNIT = r"(?:m|metres?|meters?|cm|ft|l|litres?|liters?|ml|gal)"
_AMOUNT = re.compile(rf"({_NUMBER}\s*{_UNIT})\s+(.+)|(.+?)\s+({_NUMBER}\s*{_UNIT})", re.S)
_FACTS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("bore", re.compile(rf"\bbore\s+(?P<mm>{_NUMBER})\s*mm\b")),
    ("thread", re.compile(_THREAD)),
    ("pair", re.compile(rf"(?P<mm>{_NUMBER})\s*/\s*(?P<more>{_NUMBER})(?!\s*(?:{_INCH}|\d|/))(?:\s*mm\b)?")),
    ("size", re.compile(rf"(?P<inches>{_INCHES})\s*{_INCH}")),
    ("range", re.compile(rf"(?P<mm>{_NUMBER})\s*(?:mm\s*)?(?:to|-)\s*(?P<more>{_NUMBER})\s*mm\b")),
    ("size", re.compile(rf"(?P<mm>{_NUMBER})\s*mm\b")),
)  # fmt: skip
"""What a text says of sizes, each sort looked for in what those before it have left."""

_FILLERS = frozenset({"a", "an", "and", "by", "for", "of", "the", "to", "with", "mm"})


def spare_table(text: str, catalog: Catalog) -> dict[str, object]:
    """Return the keys of [[spares]] that a text stands for. Raises `BadValue` with near candidates for what is no part, or not
    one alone.

    >>> spare_table("2 m hose 16/22", Catalog(parts={}, products=()))
    {'kind': 'hose', 'size': '16/22 mm', 'length': '2 m'}
    """
    if not text.strip() or len(text) > LONGEST:
        raise BadValue("the text is empty." if not text.strip() else f"{quoted(text)} is too long.", CURE)
    whole_text = " ".join(text.split())
    body, amount = _amount(whole_text)
    for called, much in ((whole_text, dict[str, str]()), (body, amount)):
        part = catalog.parts.get(called) or next((p for p in catalog.parts.values() if _plain(p.name) == _plain(called)), None)
        if part is not None:
            return {"part": part.id, **_amount_keys(kind_of(part), much)}
    said, words = _said(_plain(body))
    whole = _by_itself(said, words)
    if whole is not None:
        return {**whole, **_amount_keys(str(whole["kind"]), amount)}
    alike = _alike(said, words, catalog)
    if len(alike) == 1:
        return {"part": alike[0].id, **_amount_keys(kind_of(alike[0]), amount)}
    tail = None if alike else _tail(said, words)
    if tail is not None:
        return {**tail, **_amount_keys("tail", amount)}
    raise _unclear(body, said, alike, catalog)


def _plain(text: str) -> str:
    text = re.sub(r"[×]", "x", text.casefold()).replace("”", '"').replace("″", '"')
    return " ".join(re.sub(r"[,;]\s|[()]", " ", f"{text} ").split())


def _amount(text: str) -> tuple[str, dict[str, str]]:
    """What is said of a part, and how much of it there is: pieces, or a length or volume."""
    low = text.casefold().replace("×", "x")
    found = _COUNT.fullmatch(low)
    if found is not None:
        which = "first" if found["first"] else "bare" if found["bare"] else "last"
        rest = text[slice(*found.span(which))]
        if which != "bare" or not re.match(rf"(?:mm|in|inch|{_UNIT})\b", rest.casefold()):
            return rest.strip(), {"count": found[1] or found[3] or found[6]}
    measured = _AMOUNT.fullmatch(low)
    if measured is not None:
        much, of = (1, 2) if measured[1] else (4, 3)
        return text[slice(*measured.span(of))].strip(), {"amount": text[slice(*measured.span(much))].strip()}
    return text, {}


def _amount_keys(kind: str, amount: dict[str, str]) -> dict[str, object]:
    if "count" in amount:
        return {"count": int(amount["count"])}
    return {"volume" if kind == Kind.MEDIUM else "length": amount["amount"]} if amount else {}


def _said(text: str) -> tuple[set[str], set[str]]:
    """The facts that a text states about sizes, and the words that are left of it."""
    facts: set[str] = set()
    for sort, pattern in _FACTS:
        while found := pattern.search(text):
            facts.add(_fact(sort, found))
            text = f"{text[: found.start()]} {text[found.end() :]}"
    return facts, _split(text)


def _split(text: str) -> set[str]:
    """The words of a text, each number together with the word behind it: "10 ppi" is not the 10 of "10 l"."""
    return {_stem(word) for word in re.sub(r"(?<!\S)(\d\S*) ([a-z])", r"\1_\2", " ".join(text.split())).split()} - _FILLERS


def _fact(sort: str, found: re.Match[str]) -> str:
    groups = found.groupdict()
    if sort == "thread":
        return f"{groups['family']} {inch_name(_inches(found))} {groups['gender'] or ''}".strip()
    if groups.get("inches"):
        return f"size {_mm(_inches(found) * 1e3)}"
    numbers = [_mm(float(groups[name].replace(",", "."))) for name in ("mm", "more") if groups.get(name)]
    return f"{sort} {'/'.join(numbers)}"


def _inches(found: re.Match[str]) -> float:
    return parse(f"{found['inches']} in", LENGTH)


def _mm(millimetres: float) -> str:
    return f"{round(millimetres, 1):g}"


def _stem(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def _by_itself(said: set[str], words: set[str]) -> dict[str, object] | None:
    """Plain hose, or a clamp, that is stated whole; None for anything else."""
    sort, _, sizes = next(iter(said)).partition(" ") if len(said) == 1 else ("", "", "")
    if sort == "pair" and words == {"hose"}:
        return {"kind": "hose", "size": f"{sizes} mm"}
    if sort == "range" and "clamp" in words and words <= {"hose", "clamp"}:
        low, _, high = sizes.partition("/")
        return {"kind": "clamp", "low": f"{low} mm", "high": f"{high} mm"}
    return None


def _tail(said: set[str], words: set[str]) -> dict[str, object] | None:
    """A hose tail that nothing in the catalog is; None where its hose or its thread is not said."""
    threads = [fact for fact in said if fact.endswith((" male", " female"))]
    sizes = [fact.removeprefix("size ") for fact in said if fact.startswith("size ")]
    if "tail" not in words or not words <= {"hose", "tail"} or len(said) != 2 or not (threads and sizes):
        return None
    *named, gender = threads[0].split()
    family = next(each.value for each in Standard if each.casefold() == named[0])
    return {"kind": "tail", "inlet": f"{family} {' '.join(named[1:])} in {gender}", "outlet": f"tail {sizes[0]} mm"}


def _alike(said: set[str], words: set[str], catalog: Catalog) -> list[Part]:
    """The parts that have all that is said; those alike in all figures are one."""
    alike: dict[Part, Part] = {}
    for part in catalog.parts.values():
        if said <= set(_facts(part)) and words <= _words(part):
            alike.setdefault(replace(part, id="", name=""), part)
    return list(alike.values())


def _unclear(body: str, said: set[str], alike: Sequence[Part], catalog: Catalog) -> BadValue:
    """That several parts are meant, or none, with those that are near."""
    if alike:
        what = f"{quoted(body)} may be {len(alike)} parts of the catalog."
        return BadValue(what, f"Write the id of one: {_named(alike)}.")
    parts = catalog.parts.values()
    names = {part.name: part for part in parts} | {part.id: part for part in parts}
    near = [names[name] for name in near_names(body, names)] or [part for part in parts if said and said <= set(_facts(part))]
    cure = f"Near candidates: {_named(near)}." if near else CURE
    return BadValue(f"{quoted(body)} is no part of the catalog, nor hose or clamps stated whole.", cure)


def _named(some: Sequence[Part]) -> str:
    names = ", ".join(f"{quoted(part.id)} ({part.name})" for part in some[:MOST_NEAR_NAMES])
    return f"{names} or {len(some) - MOST_NEAR_NAMES} more" if len(some) > MOST_NEAR_NAMES else names


def _words(part: Part) -> set[str]:
    """All words that a part is called by, numbers with their units among them."""
    sorts = (kind_of(part), *(str(getattr(part, name, "")) for name in ("role", "form", "closure", "purpose")))
    return _split(_plain(" ".join((part.name, part.id, *sorts))))


def _facts(part: Part) -> Iterator[str]:
    """The sizes of a part: those of its ends, a hose's diameters, the range of a clamp, the thread of a seal."""
    for _, end in stated_ends(part):
        yield from _end_facts(end)
    if isinstance(part, Hose):
        yield from (f"pair {_mm(part.inside_m * 1e3)}/{_mm(part.outside_m * 1e3)}", f"size {_mm(part.inside_m * 1e3)}")
    elif isinstance(part, Clamp):
        yield f"range {_mm(part.low_m * 1e3)}/{_mm(part.high_m * 1e3)}"
    elif isinstance(part, Seal) and part.size_m:
        yield from _threads(part.standard, part.size_m, "")


def _end_facts(end: End) -> Iterator[str]:
    yield f"bore {_mm(end.bore_m * 1e3)}"
    if end.standard in (Standard.HOSE, Standard.SLIP_MM, Standard.SLIP_IN):
        yield f"size {_mm(end.size_m * 1e3)}"
    elif end.size_m:
        yield from _threads(end.standard, end.size_m, end.gender)


def _threads(standard: str, size_m: float, gender: Gender | str) -> Iterator[str]:
    known = f"{standard.casefold()} {inch_name(size_m)}"
    yield known
    if gender:
        yield f"{known} {gender}"

"""An end of a part as a keeper writes it: "tail 16 mm", "hose 16 mm", "G 3/4 in male", "union KEY male", "open"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.standard_ends import inch_pipe_m, thread, usual_bore, which_thread
from optimizer.unit_table import LENGTH
from optimizer.units import UnitError, parse

__all__ = ["EXAMPLES", "Face", "parse_end"]

EXAMPLES = ("tail 16 mm", "hose 16 mm", "G 3/4 in male", "slip mm 25 mm female", "union KEY male", "open")
LARGEST_THREAD_M = 4 * 0.0254
LONGEST_TEXT = 64
NO_BORE = "the open bore of this end is missing."
CURE = "Write for example " + ", ".join(f'"{example}"' for example in EXAMPLES) + "."

_THREADS = {s.value.casefold(): s for s in (Standard.G, Standard.R, Standard.RC, Standard.RP, Standard.NPT, Standard.GHT)}
_SLIPS = {"mm": Standard.SLIP_MM, "in": Standard.SLIP_IN}
_FIRST_WORDS = ("tail", "hose", *(s.value for s in _THREADS.values()), "slip mm", "slip in", "union", "open")
_THREAD_WORDS = ("thread", "threaded", "bsp", "bspf", "bspm", "pipe", "m", "f", "mt", "ft")
_KEY = re.compile(r"[^\W_][\w.+-]{0,31}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What an end mates with, as written; the open bore is a field of its own."""

    standard: Standard
    gender: Gender
    size_m: float = 0.0
    key: str = ""

    @property
    def is_hose(self) -> bool:
        """A hose end, which is as wide as its size."""
        return self.standard is Standard.HOSE and self.gender is Gender.FEMALE

    @property
    def usual_bore_m(self) -> float | None:
        """The open bore in m that such an end usually has; None where nothing usual is known of it.

        >>> parse_end("tail 16 mm").usual_bore_m, parse_end("union KEY male").usual_bore_m
        (0.012, None)
        """
        return _usual_bore_m(self)

    def with_bore(self, bore_m: float) -> End:
        """Return the end with its open inside diameter in m. Raises `BadValue` when it is as wide as the tail or pipe round it.

        >>> parse_end("tail 16 mm").with_bore(0.012).label
        '16 mm tail, bore 12 mm'
        """
        slip = self.standard in (Standard.SLIP_MM, Standard.SLIP_IN)
        if self.gender is Gender.MALE and (slip or self.standard is Standard.HOSE) and bore_m >= self.size_m:
            what = "pipe end" if slip else "tail"
            raise BadValue(
                f"a bore of {bore_m * 1e3:.4g} mm is as wide as the {self.size_m * 1e3:.4g} mm {what} itself or wider.",
                "Measure the open inside diameter and write it.",
            )
        return _end(self, bore_m)


@lru_cache(maxsize=4096)
def _usual_bore_m(face: Face) -> float | None:
    usual = usual_bore(face.standard, face.gender, face.size_m)
    return None if usual is None else usual.bore_m


@lru_cache(maxsize=4096)
def _end(face: Face, bore_m: float) -> End:
    """One end for all parts that have it: a catalog of a hundred thousand parts has a few hundred different ones."""
    return End(standard=face.standard, size_m=face.size_m, gender=face.gender, bore_m=bore_m, key=face.key)


@lru_cache(maxsize=4096)
def parse_end(text: str) -> Face:
    """Return the end that `text` describes, without its bore.

    Words may be in upper or lower case, except the key of a union. Raises `BadValue` for anything that is not
    exactly one end: an unknown standard, a thread without gender, a size that is missing or impossible.

    >>> parse_end("G 3/4 in male").size_m, parse_end("hose 16 mm").gender.value
    (0.01905, 'female')
    """
    words = text.split()
    if not words or len(text) > LONGEST_TEXT:
        raise BadValue("the end is empty." if not words else f"{quoted(text)} is too long for an end.", CURE)
    first = words[0].casefold()
    if first in ("bspp", "bspt"):  # the trade's names of parallel and taper
        first = "g" if first == "bspp" else "rc" if words[-1].casefold() == "female" else "r"
        words = [_THREADS[first].value, *words[1:]]
    if first == "open" and len(words) == 1:
        return Face(standard=Standard.OPEN, gender=Gender.MALE)
    if first in ("tail", "hose"):
        gender = Gender.MALE if first == "tail" else Gender.FEMALE
        return Face(standard=Standard.HOSE, gender=gender, size_m=_size(" ".join(words[1:]), text))
    if first in _THREADS:
        return _thread(words, text)
    if first == "slip" and len(words) > 1 and words[1].casefold() in _SLIPS:
        standard = _SLIPS[words[1].casefold()]
        size, gender = _size_and_gender(words[2:], text, standard.value)
        if standard is Standard.SLIP_IN:
            size = inch_pipe_m(size) or size  # "3/4 in" names a pipe of 26.7 mm
        return Face(standard=standard, gender=gender, size_m=size)
    if first == "union":
        return _union(words, text)
    _ask_which_thread(words, text)
    raise BadValue(f"{quoted(text)} is not an end.", f"{near_sentence(words[0], _FIRST_WORDS)} {CURE}".strip())


def _ask_which_thread(words: list[str], text: str) -> None:
    """Raise `BadValue` for a thread whose family is not said: "3/4 thread male", "3/4 in male", "BSP 3/4 in"."""
    gender = next((word.casefold() for word in words if _gender(word)), "")
    rest = [word for word in words if not _gender(word) and word.casefold() not in _THREAD_WORDS]
    size = " ".join(rest).removesuffix("in").strip(' "')
    if not size or not (gender or len(rest) < len(words)):
        return
    try:
        metres = parse(f"{size} in", LENGTH)
    except UnitError:
        return
    if thread(Standard.G, metres) is None:
        return
    like = f"{size} in {gender or 'male'}"
    taper = "Rc" if gender == "female" else "R"
    choice = f'Write "G {like}", "{taper} {like}" or "NPT {like}".'
    raise BadValue(f"{quoted(text)} does not say which thread.", f"{choice} {which_thread(metres)}")


def _thread(words: list[str], text: str) -> Face:
    standard = _THREADS[words[0].casefold()]
    size, gender = _size_and_gender(words[1:], text, standard.value)
    eighths = size / 0.0254 * 8
    if size > LARGEST_THREAD_M or abs(eighths - round(eighths)) > 1e-6:
        raise BadValue(
            f"{quoted(text)} has no size of a thread.",
            f'Threads are named in inches by eighths up to 4; write for example "{standard.value} 3/4 in male".',
        )
    return Face(standard=standard, gender=gender, size_m=size)


def _union(words: list[str], text: str) -> Face:
    cure = 'Write one word for the maker\'s shape and the gender, for example "union M30 male".'
    if len(words) < 2 or _gender(words[1]) is not None:
        raise BadValue(f"{quoted(text)} does not say whose union it is.", cure)
    gender = _gender(words[-1])
    if gender is None:
        raise BadValue(f"{quoted(text)} does not say male or female.", cure)
    if len(words) != 3 or _KEY.fullmatch(words[1]) is None:
        raise BadValue(f"{quoted(text)} is not a union with a key of one word.", cure)
    return Face(standard=Standard.UNION, gender=gender, key=words[1])


def _size_and_gender(words: list[str], text: str, standard: str) -> tuple[float, Gender]:
    """Return size in m and gender from the words behind the standard."""
    gender = _gender(words[-1]) if words else None
    if gender is None:
        size = " ".join(words) if words else "3/4 in"
        cure = f"Write {quoted(f'{standard} {size} male')} (goes inside) or {quoted(f'{standard} {size} female')}."
        raise BadValue(f"{quoted(text)} does not say male or female.", cure)
    return _size(" ".join(words[:-1]), text), gender


def _size(size: str, text: str) -> float:
    if not size:
        raise BadValue(f"{quoted(text)} has no size.", CURE)
    try:
        metres = parse(size, LENGTH)
    except UnitError as error:
        raise BadValue(f"the size in {quoted(text)}: {error.what}", error.cure) from None
    if not 1e-3 <= metres <= 0.5:
        raise BadValue(f"{quoted(text)} has a size outside 1 to 500 mm.", CURE)
    return metres


def _gender(word: str) -> Gender | None:
    return {"male": Gender.MALE, "female": Gender.FEMALE}.get(word.casefold())

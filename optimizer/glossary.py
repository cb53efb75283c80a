"""The words of answers, files and reports: each with symbol, unit and plain words. Data, for `fullbore glossary` and tooltips."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted

__all__ = ["GLOSSARY", "Term", "glossary_text", "term_of"]

WIDTH = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One term: its symbol and unit (empty: it has none), what it is in plain words, and other words for it."""

    term: str
    means: str
    symbol: str = ""
    unit: str = ""
    also: tuple[str, ...] = ()

    @property
    def measured(self) -> str:
        """Symbol and unit together, empty where there is neither.

        >>> Term(term="bore", means="an inside diameter", symbol="d", unit="mm").measured
        'd, mm'
        """
        return ", ".join(filter(None, (self.symbol, self.unit)))

    @property
    def explained(self) -> str:
        """What is measured and what it means, as short as a tooltip.

        >>> Term(term="bundle", means="A set of changes.").explained
        'A set of changes.'
        """
        return ": ".join(filter(None, (self.measured, self.means)))


def _term(term: str, means: str, *also: str, symbol: str = "", unit: str = "") -> Term:
    return Term(term=term, symbol=symbol, unit=unit, means=means, also=also)


# Symbols as in ISO 80000-3, -4, -5 and -8 where these have them (from memory); Q, H, h and f are those of hydraulics.
_TERMS: tuple[Term, ...] = (
    _term("adjust", "A change to what is there without buying another: drilling the bar wider, sinking the outlet."),
    _term("approach speed",
          "Speed of the water just in front of the guard: delivered flow over the free face. Weak swimmers "
          "must be faster than this.", "guard speed", symbol="v", unit="cm/s"),
    _term("bar",
          "A pipe with a row of holes through which the water comes back to the tank; not the unit of pressure.", "spray bar"),
    _term("barb", "The ridge on a hose tail that holds the hose; also the whole tail."),
    _term("bends", "Quarter turns of a hose. Each costs some head, sharp ones more."),
    _term("bill", "What to buy for a bundle, with every adapter, clamp and seal, and what is taken from the drawer."),
    _term("bore",
          "The open inside diameter, the one that counts. A tail for 16 mm hose may have a bore of 12 mm.",
          "inside diameter", symbol="d", unit="mm"),
    _term("BSP", "The family of pipe threads with flanks of 55 degrees: G, R, Rc and Rp. Never together with NPT."),
    _term("budget", "Most money that a bundle may cost."),
    _term("bundle", "A set of changes, with every joint between the parts closed."),
    _term("cake",
          "The layer of dirt on the face of a pad or of a sponge over the intake: what is too coarse for the pores. It costs "
          "more than what is caught in the depth, and a rinse takes it off.", unit="mm"),
    _term("canister", "The closed body of the filter, beside or under the tank, with trays of media inside."),
    _term("change", "What is done at one position: keep, clean, adjust, swap, remove or add."),
    _term("coupling", "Joins a hose and the canister so that both come apart; often with a tap, and often the narrowest spot."),
    _term("Darcy friction factor",
          "How much a hose rubs: the head lost over a length of one bore, in velocity heads. Four times the factor of Fanning.",
          "friction factor", symbol="f"),
    _term("delivered flow",
          "The water that really comes out of the outlet, with everything fitted. The label of a pump says another, greater one.",
          "flow", symbol="Q, q_V", unit="l/h"),
    _term("density", "Mass of a volume of water; sea water has 2 to 3 % more than fresh water.", symbol="ρ", unit="kg/m3"),
    _term("discharge coefficient",
          "Flow through a hole over what it would be without narrowing of the jet; 0.6 for a drilled hole.", symbol="C"),
    _term("end", "One connection of a part: its kind, its size, whether it goes inside or outside, and its bore."),
    _term("evenness", "Flow of the weakest hole of a spray bar over that of the strongest.", unit="%"),
    _term("film",
          "The layer of slime inside hoses and fittings. It narrows the bore on both sides; a brush takes it off.", unit="mm"),
    _term("front", "For every sum of money the most water it buys; its knee is where more money starts to buy little."),
    _term("G", "Parallel pipe thread (ISO 228-1). A flat washer makes it tight, not tape.", "BSPP"),
    _term("gauge pressure",
          "Pressure above that of the air around, here as the height of water that makes it. Below 0 a joint "
          "that is not tight draws air.", "pressure", symbol="p_e", unit="m"),
    _term("guard", "Keeps animals and leaves out at the intake: slots, holes, mesh or sponge.", "strainer"),
    _term("head",
          "Height of water that a pump can hold up at some flow. It falls as the flow rises; the label has "
          "only its greatest value, at no flow at all.", symbol="H", unit="m"),
    _term("joint", "What closes two neighbouring ends: a push fit or thread, or a chain of adapters, with clamps and seals."),
    _term("K", "Loss coefficient of a fitting: the head it loses, in velocity heads.", "loss coefficient", symbol="K"),
    _term("Kv", "The flow at which a valve or device loses 1 bar of pressure; greater is better.", symbol="Kv", unit="m3/h"),
    _term("label flow",
          "What the box promises: the flow of the pump alone, against no head. About half of it is usual in a loop.", unit="l/h"),
    _term("lift",
          "How far the mouth of the outlet is above the water line. Only this height costs head; under water it is 0.",
          symbol="z", unit="m"),
    _term("limit", "What must hold whatever else is gained: noise, power, greatest flow, gaps of the guard."),
    _term("loop", "The closed way of the water: guard, hose, canister, pump, hose, outlet, and what hangs between them."),
    _term("loss",
          "Head that a part takes from the water. It grows about with the square of the flow.",
          "head loss", symbol="h", unit="m"),
    _term("media", "What fills the trays: foam and floss catch solids, rings and balls house bacteria.", "medium"),
    _term("noise",
          "Sound level where somebody listens; 3 dB more is twice the sound power.", "sound level", symbol="L_p", unit="dB(A)"),
    _term("NPT",
          "Tapered pipe thread with flanks of 60 degrees (ASME B1.20.1). It starts to screw into G and R, then leaks or cracks."),
    _term("operating point", "Where pump and loop agree: the flow at which the pump's head equals what the loop loses."),
    _term("outlet", "Where the water returns to the tank: open pipe, nozzle or spray bar."),
    _term("P10, P50, P90",
          "Of all draws of what is not known exactly, one in ten, half, and nine in ten deliver less than this.",
          "P10", "P50", "P90"),
    _term("part", "A thing that a shop sells or a keeper owns: a hose, a tail, a guard, a pump."),
    _term("position", "A place in the loop that holds one part.", "place"),
    _term("ppi", "Pores per inch of foam: 10 is coarse, 45 is fine.", "pores per inch", unit="1/in"),
    _term("priming",
          "Filling canister and suction hose with water before the pump starts: full of air a pump lifts none over the rim."),
    _term("proof",
          "The evidence that no other affordable bundle does better: the search looked at all or ruled them out by bounds."),
    _term("R, Rc, Rp",
          "Pipe threads that seal in the thread (ISO 7-1), with tape: R is tapered and goes inside, Rc and Rp take it.",
          "R", "Rc", "Rp"),
    _term("Reynolds number",
          "Speed times bore over viscosity: under about 2300 water runs in layers, above 4000 it swirls.", symbol="Re"),
    _term("rig", "One tank with its loop, limits and measurements, as one file holds them."),
    _term("shut-off",
          "A pump that runs with no flow: its head is greatest there, and its watts are least.", unit="W"),
    _term("tail",
          "The end that a hose is pushed on. Named by the hose; its own bore is smaller by a fifth or more.", "hose tail"),
    _term("tank", "The aquarium. Its net volume is the water that is really in it, its nominal volume what the label says."),
    _term("target", "The flow or turnover that is wanted.", "wish"),
    _term("tee", "A part with three ends, where two branches of the loop part or meet."),
    _term("temperature", "Of the water. Cold water is thicker and rubs more.", symbol="t", unit="degC"),
    _term("throttle", "A valve set part-way on purpose. Always on the outlet side: on the suction side it starves the pump."),
    _term("timed fill", "A container held under the outlet and a watch: volume over time is the delivered flow.", "fill"),
    _term("turnover",
          "How often in an hour as much water as the tank holds comes back; counted on the net volume unless said.",
          symbol="n", unit="1/h"),
    _term("union", "A maker's own connection. It fits only what is made for it, whatever else looks alike."),
    _term("velocity head", "Height that moving water could rise to: 5 cm at 1 m/s.", symbol="v²/2g", unit="m"),
    _term("viscosity",
          "How thick the water is: 0.9 at 25 degC, half as much again at 10 degC.",
          "dynamic viscosity", symbol="η", unit="mPa s"),
    _term("window", "Least and greatest flow that the maker of an inline device allows.", unit="l/h"),
)  # fmt: skip

GLOSSARY: Mapping[str, Term] = MappingProxyType({term.term: term for term in _TERMS})
"""All terms by their name, in the order of the alphabet."""

_FOUND: Mapping[str, Term] = MappingProxyType(
    {word.casefold(): term for term in _TERMS for word in (*term.also, term.term)},
)


def term_of(word: str) -> Term | None:
    """Return the term that a word, or another word for it, names; None for a word that is not in the glossary.

    >>> term_of("Spray bar").term
    'bar'
    """
    return _FOUND.get(word.strip().casefold())


def glossary_text(word: str | None = None, style: str = "text", width: int = WIDTH) -> str:
    """Return the glossary as "text" in lines of at most ``width`` characters or as "markdown", or only the terms in which
    ``word`` occurs.

    Raises `InputError` with near names for a word that occurs in none.

    >>> print(glossary_text("npt"), end="")
    NPT
        Tapered pipe thread with flanks of 60 degrees (ASME B1.20.1). It starts to screw into G and R,
        then leaks or cracks.
    """
    terms = tuple(GLOSSARY.values()) if word is None else _terms_of(word)
    return _markdown(terms) if style == "markdown" else _text(terms, width)


def _terms_of(word: str) -> tuple[Term, ...]:
    key = word.strip().casefold()
    exact = _FOUND.get(key)
    if exact is not None:
        return (exact,)
    within = tuple(term for term in _TERMS if key and any(key in name.casefold() for name in (term.term, *term.also)))
    if within:
        return within
    known = [name for term in _TERMS for name in (term.term, *term.also)]
    cure = near_sentence(word, known) or "Leave the word out for all of them."
    raise InputError(COMMAND_LINE, [Problem(where="WORD", what=f"{quoted(word)} is not in it.", cure=cure)])


def _text(terms: Iterable[Term], width: int) -> str:
    lines: list[str] = []
    for term in terms:
        also = f" (also: {', '.join(term.also)})" if term.also else ""
        head = f"{term.term}{f' [{term.measured}]' if term.measured else ''}{also}"
        lines += textwrap.wrap(head, width, subsequent_indent="    ")
        lines += textwrap.wrap(term.means, width, initial_indent="    ", subsequent_indent="    ")
    return "\n".join(lines) + "\n"


def _markdown(terms: Iterable[Term]) -> str:
    rows = (f"| {term.term} | {term.symbol} | {term.unit} | {term.means} |" for term in terms)
    return "\n".join(("| term | symbol | unit | in plain words |", "|---|---|---|---|", *rows)) + "\n"

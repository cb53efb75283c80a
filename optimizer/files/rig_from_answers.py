"""From the facts of an interview to the tables of a rig file; what nobody asks a keeper is taken by stated rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from optimizer.files.interview import Said
from optimizer.files.interview_questions import ANIMALS, PRACTICE
from optimizer.files.loop_from_answers import Grime, loop_sections, meaning, open_line, said_line
from optimizer.files.rig_writer import Line, Section
from optimizer.files.toml_fields import FEEDING, LIMITS, RIG_NAME, SITE, TANK, WISH
from optimizer.physics.guards import PASSIVE_APPROACH_MS
from optimizer.units import SPEED, show

__all__ = ["Grime", "sections_of"]

Facts = Mapping[str, Said]

SMALL = ("fry", "shrimp")
ANIMAL_OPENING = "1 mm"
"""Widest gap where fry and shrimp live (common practice, no published source)."""

WEAK_TURNOVER = "5 per hour"
"""Most that weak swimmers are given (common practice, no published source)."""


def sections_of(facts: Facts, grime: Grime) -> tuple[Section, ...]:
    """Return the tables of the rig with these facts and this dirt, in the order of a rig file."""
    return tuple(_sections(facts, grime))


def _sections(facts: Facts, grime: Grime) -> Iterator[Section]:
    yield Section(name="", lines=(said_line("name", facts["name"], (RIG_NAME,)),))
    yield Section(name="tank", lines=tuple(_tank(facts)))
    site = (said_line("mains", facts["mains"], SITE), open_line("listening_distance", SITE), open_line("cabinet", SITE))
    yield Section(name="site", lines=site)
    about = "What is fed sets the least surface for bacteria. Take the # away here and write what you feed."
    yield Section(name="feeding", lines=(open_line("feed", FEEDING), open_line("protein", FEEDING)), about=about, open=True)
    yield Section(name="limits", lines=tuple(_limits(facts)), about="What must hold. A line behind # asks for nothing.")
    yield _wish(facts)
    yield from loop_sections(facts, grime)


def _tank(facts: Facts) -> Iterator[Line]:
    for key in ("volume", "net_volume", "temperature"):
        yield said_line(key, facts[key], TANK)
    water = facts["water"]
    yield Line(key="salinity", value=f"{water.number:g} g/kg", means=meaning(TANK, "salinity"), assumed=water.assumed)


def _limits(facts: Facts) -> Iterator[Line]:
    for key in ("budget", "noise"):
        said = facts[key]
        yield _unbound(key, said.assumed) if said.value is None else said_line(key, said, LIMITS)
    animals = facts["animals"].value
    there = animals if isinstance(animals, tuple) else ()
    for key, value, whom, why in (
        ("guard_opening", ANIMAL_OPENING, SMALL, f"for fry and shrimp ({PRACTICE})"),
        ("guard_speed", show(PASSIVE_APPROACH_MS, SPEED, "cm/s", 2), ANIMALS, "for small fish at pump intakes (NMFS criteria)"),
        ("turnover_max", WEAK_TURNOVER, ANIMALS, f"for weak swimmers ({PRACTICE})"),
    ):
        if set(whom).intersection(there):
            yield Line(key=key, value=value, means=meaning(LIMITS, key), assumed=why)
        else:
            yield _unbound(key, facts["animals"].assumed)
    yield open_line("turnover_min", LIMITS)


def _unbound(key: str, assumed: str) -> Line:
    """A limit that is none, and why when nobody said so."""
    return replace(open_line(key, LIMITS), assumed=assumed)


def _wish(facts: Facts) -> Section:
    about = "What is wanted: fullbore cheapest finds the least money for it."
    wish = facts["wish"].value
    if not isinstance(wish, tuple):
        line = replace(open_line("turnover", WISH), assumed=facts["wish"].assumed)
        return Section(name="wish", lines=(line,), about=about, open=True)
    key = str(wish[0])
    return Section(name="wish", lines=(Line(key=key, value=facts["wish"].text, means=meaning(WISH, key)),), about=about)

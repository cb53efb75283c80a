"""The glossary is one, wherever it stands; its units are units and its symbols those of the standards."""

from __future__ import annotations

import re

import pint
import pytest

from optimizer.cli import main
from optimizer.glossary import GLOSSARY, WIDTH, Term, glossary_text, term_of

# ISO 80000-4 (density, gauge pressure, dynamic viscosity, volume flow rate), 80000-3 (diameter, speed), 80000-5 (Celsius
# temperature), 80000-8 (sound pressure level), 80000-11 (Reynolds number); all from memory
ISO_SYMBOLS = {
    "density": "\u03c1",
    "gauge pressure": "p_e",
    "viscosity": "\u03b7",
    "bore": "d",
    "approach speed": "v",
    "temperature": "t",
    "noise": "L_p",
    "Reynolds number": "Re",
}


@pytest.mark.parametrize("name", ISO_SYMBOLS)
def test_symbols_are_those_of_the_standard(name: str) -> None:
    assert GLOSSARY[name].symbol == ISO_SYMBOLS[name]
    assert "q_V" in GLOSSARY["delivered flow"].symbol


@pytest.mark.parametrize("term", [term for term in GLOSSARY.values() if term.unit], ids=lambda term: term.term)
def test_units_are_units(term: Term) -> None:
    """Pint's own registry, which shares nothing with the table of this project, knows every unit."""
    unit = {"dB(A)": "decibel", "1/h": "1/hour", "l/h": "litre/hour", "m3/h": "m**3/hour", "%": "percent", "kg/m3": "kg/m**3"}
    assert pint.UnitRegistry(cache_folder=None).Unit(unit.get(term.unit, term.unit.replace(" ", "*"))) is not None


def test_a_velocity_head_is_what_the_words_say() -> None:
    # v2/2g at 1 m/s with the standard acceleration of free fall, 9.80665 m/s2 (NIST SP 811)
    said = re.search(r"([0-9.]+) cm at 1 m/s", GLOSSARY["velocity head"].means)
    assert said is not None
    assert float(said[1]) == pytest.approx(100.0 / (2.0 * 9.80665), rel=0.03)


def test_terms_stand_in_order_once_and_in_plain_words() -> None:
    names = list(GLOSSARY)
    assert names == sorted(names, key=str.casefold) and len(names) >= 40
    words = [word.casefold() for term in GLOSSARY.values() for word in (term.term, *term.also)]
    assert len(set(words)) == len(words)
    for term in GLOSSARY.values():
        assert term.means[0].isupper() and term.means.endswith(".") and "|" not in term.means
        assert len(term.means) <= 180, f"{term.term} does not fit into a tooltip"


def test_the_words_of_the_project_are_in_it() -> None:
    for word in (
        "tank",
        "rig",
        "loop",
        "position",
        "part",
        "end",
        "bore",
        "joint",
        "change",
        "bundle",
        "bill",
        "limit",
        "target",
    ):
        assert term_of(word), word
    assert term_of(" Spray Bar ") is term_of("bar") is not None
    assert term_of("lamp") is None


def test_the_command_prints_all_or_one(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(WIDTH))
    assert main(["glossary"]) == 0
    everything = capsys.readouterr().out
    assert everything == glossary_text() and max(map(len, everything.splitlines())) <= 100
    assert main(["glossary", "HEAD"]) == 0
    assert capsys.readouterr().out.startswith("head [H, m]\n")
    assert main(["glossary", "flow", "--markdown"]) == 0
    assert "| delivered flow | Q, q_V | l/h |" in capsys.readouterr().out


def test_a_word_that_is_not_in_it_gets_near_names(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["glossary", "evennes\x1b"]) == 1
    told = capsys.readouterr()
    assert not told.out and 'Near names: "evenness"' in told.err and "\x1b" not in told.err
    assert main(["glossary", ""]) == 1

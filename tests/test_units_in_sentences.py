"""With --units us no sentence keeps a metric unit: what commands print for the demo rigs is searched for one."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from optimizer import api
from optimizer.bands.priors import PRIORS
from optimizer.cli import main

DEMO = Path(__file__).parent.parent / "parts_demo"
RIGS = DEMO / "rigs"
SHOP = api.read_catalog(DEMO / "catalog")

METRIC = re.compile(r"(?<![\w/.])[0-9][0-9 ]*(?:\.[0-9]+)? ?(?:l/h|mm|cm|m|l|litres?|m2|m/s|cm/s|l/min)(?![\w/2-])")
"""A number and a metric unit behind it."""

BOTH = ("US gallon (3.785 l)", "within 1 l/h (0.3 gph)", "than 1 l/h (0.3 gph)", "than 0.1 l/h (0.03 gph)")
"""Sentences that say a quantity in both systems."""

CASES = {
    "best": ("best", "nano_60", "--budget", "40", "--prove", "--full"),
    "first screen": ("best", "nano_60", "--budget", "40"),
    "cheapest": ("cheapest", "nano_60", "--turnover", "4 per hour", "--budget", "150", "--full"),
    "out of reach": ("cheapest", "nano_60", "--flow", "4000 l/h", "--full"),
    "with devices": ("best", "planted_300", "--budget", "40", "--full"),
    "by the last day": ("best", "nano_60", "--budget", "40", "--interval", "60 d", "--full"),
    "why": ("best", "nano_60", "--budget", "40", "--why", "PUMP-2400MA"),
    "why bundle": ("best", "nano_60", "--budget", "150", "--why", "PUMP-2400MA,HOSE-19-27"),
    "alternatives": ("best", "nano_60", "--budget", "40", "--alternatives", "3"),
    "order": ("best", "nano_60", "--budget", "150", "--order"),
    "bands": ("best", "nano_60", "--budget", "40", "--bands", "--draws", "200"),
    "front": ("front", "nano_60", "--budget", "40"),
    "drill": ("drill", "reading_corner_130", "--jet", "1 m/s", "--drills", "inch"),
    "loop": ("loop", "nano_60"),
    "measure": ("measure", "reading_corner_130"),
    "a fill above the water": ("measure", "reading_corner_130", "--volume", "5 l", "--seconds", "14,19", "--above", "12 cm"),
    "diagnose": ("diagnose", "reading_corner_130", "--today"),
    "ageing": ("ageing", "nano_60"),
    "compare": ("compare", "nano_60", "planted_300", "--budget", "40"),
    "verify": ("verify", "reading_corner_130", "reading_corner_130_after"),
}


def arguments(case: tuple[str, ...]) -> Iterator[str]:
    """The words of a command, names of rigs as files."""
    for word in case:
        path = RIGS / f"{word}.toml"
        yield str(path) if path.exists() else word
    if case[0] not in ("measure", "verify"):
        yield from ("--catalog", str(DEMO / "catalog"))
    yield from ("--units", "us")


def names(case: tuple[str, ...]) -> list[str]:
    """Names of parts, which are what a box says and no quantities, and sources, in the units of their own; the longest first."""
    found = {prior.source for prior in PRIORS.values()}
    found |= {part.name for part in SHOP.parts.values()} | {product.name for product in SHOP.products}
    for word in case:
        if (RIGS / f"{word}.toml").exists():
            rig = api.read_rig(RIGS / f"{word}.toml", SHOP)
            found |= {each.installed.name for each in rig.every_position if each.installed is not None}
            found |= {tray.medium.name for tray in rig.trays if tray.medium is not None}
            found |= {adjust.name for each in rig.every_position for adjust in each.adjusts}
            found |= {spare.part.name for spare in rig.spares}
    return sorted(filter(None, found), key=len, reverse=True)


@pytest.mark.parametrize("name", CASES)
def test_every_quantity_of_every_sentence_is_in_the_units_asked_for(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")  # a name that is broken inside a table is none that could be left out
    main(list(arguments(CASES[name])))
    shown = capsys.readouterr()
    text = " ".join(shown.out.split())
    assert text, shown.err
    for each in (*names(CASES[name]), *BOTH):
        text = text.replace(each, "...")
    assert [text[max(m.start() - 40, 0) : m.end() + 20] for m in METRIC.finditer(text)] == []

"""The text of bands: the verdict first, flows and shares in the words used elsewhere, no name that repaints the screen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimizer.model.alternatives import Alternative
from optimizer.model.answer import Asked
from optimizer.model.banded import Banded
from optimizer.model.bands import Band, BandLine, PriorLine, RobustChoice, UnknownShare
from optimizer.model.results import Change, Proof, Row
from optimizer.report.bands_text import headline, render
from optimizer.report.layout import WIDTH, Screen


def line(name: str, litres_per_hour: float, wins: float) -> BandLine:
    stated = litres_per_hour / 3.6e6
    return BandLine(
        name=name,
        stated_m3s=stated,
        p10_m3s=0.8 * stated,
        p50_m3s=0.98 * stated,
        p90_m3s=1.2 * stated,
        win_share=wins,
        within_share=0.75,
        held_share=0.0,
    )


def bundle(name: str, litres_per_hour: float, price: int, part: str = "") -> Alternative:
    row = Row(
        name=name,
        flow_m3s=litres_per_hour / 3.6e6,
        own_m3s=litres_per_hour / 3.6e6,
        held_by="",
        turnover_per_hour=2.0,
        price=price,
        noise_dba=30.0,
        power_w=20.0,
        bio_area_m2=2.0,
        inlet_head_m=0.3,
    )
    other = (Change(position="hose", change="swap", part_id=part, text="hose"),) if part else ()
    return Alternative(row=row, less_m3s=0.0, differs=other, changes=other)


COUNT = 9
FLOWS = [1000.0 - 10.0 * n for n in range(COUNT)]
NAMES = ["best", *(f"no. {n}" for n in range(2, COUNT + 1))]
BAND = Band(
    seed=3,
    draws=10_000,
    lines=tuple(line(name, flow, 0.5 if n == 0 else 0.0625) for n, (name, flow) in enumerate(zip(NAMES, FLOWS, strict=True))),
    told="no. 8",
    shares=(
        UnknownShare(unknown="fittings", share=0.6, parts=("A", "A - B", "B - installed:tap", "installed:tap"), installed=()),
        UnknownShare(unknown="media", share=0.004, parts=("M",), installed=("M",)),
    ),
    together_share=0.396,
    rival="no. 7",
    lead_shares=(UnknownShare(unknown="media", share=0.8, parts=("M",), installed=("M",)),),
    robust=RobustChoice(
        name="no. 8",
        quantile="P10",
        flow_m3s=900 / 3.6e6,
        first_m3s=800 / 3.6e6,
        gives_up_m3s=40 / 3.6e6,
        made="the 9 of this test",
    ),
    priors=(
        PriorLine(unknown="fittings", scales="loss", spread=1.4, spread_down=1.4, quantile=0.9, common=0.5, source="this test"),
    ),
)
TOLD = Banded(
    rig="Hall tank",
    catalog="Corner shop",
    currency="EUR",
    question=Asked(budget=10000),
    asked=COUNT,
    now=bundle("now", 500.0, 0).row,
    now_band=line("now", 500.0, 1.0),
    candidates=tuple(bundle(NAMES[n], FLOWS[n], 9000 - n, f"H{n}" if n else "") for n in range(COUNT)),
    band=BAND,
    beats_now_share=0.97,
    ask_m3s=0.0,
    proof=Proof(status="proved", combinations=5000),
)


def test_the_verdict_comes_first_and_the_choice_says_what_it_costs() -> None:
    text = render(TOLD, screen=Screen(width=90)).splitlines()
    assert text[:4] == [
        "Hall tank: most delivered flow for 100.00, how sure it is",
        "Best: 1 000 l/h for 90.00 EUR; in 8 of 10 draws from 800 to 1 200 l/h.",
        "Best at P10: no. 8, 900 l/h against 800 l/h of the best; at P50 it gives up 40 l/h.",
        "Chosen from the 9 of this test. A bundle outside that set was not looked at.",
    ]
    assert "No. 8 delivers more than the loop as it is in 97 % of 10 000 draws." in text
    assert max(map(len, text)) <= 90
    assert max(map(len, render(TOLD).splitlines())) <= WIDTH
    assert " ".join(headline(TOLD).split()).startswith("Best: 1 000 l/h for 90.00 EUR;")


def test_of_many_the_first_the_chosen_one_and_its_rival_are_shown() -> None:
    rows = [row.split("  ")[1].strip() for row in render(TOLD).splitlines() if row.startswith("  ") and row.endswith(" 75")]
    assert rows == ["now", "best", "no. 2", "no. 3", "no. 4", "no. 5", "no. 7", "no. 8"]
    every = render(replace(TOLD, band=replace(BAND, robust=None, told="best")))
    assert all(f"\n  {name} " in every for name in NAMES)


def test_shares_name_parts_and_count_joints_and_small_ones_are_left_out() -> None:
    text = render(TOLD)
    assert "  - 60 % fittings: A, tap, 2 joints\n" in text
    assert "  - 40 % several of them together\n" in text
    assert "0 % media" not in text
    assert "  - 60 % of the spread comes from the fittings alone. Most worth measuring: " in text
    assert "  - No. 8 delivers most in 6 % of the draws. What decides between it and no. 7 is" in text.replace("\n    ", " ")
    assert "fittings (loss): at most 1.40 times more or less in 80 % of cases; this test" in text


def test_flows_are_shown_in_gallons_an_hour() -> None:
    """1 US gallon is 3.785411784 litres: NIST Handbook 44, appendix C."""
    assert f"Best: {1000 / 3.785411784:.0f} gph for 90.00 EUR" in render(TOLD, "us")
    with pytest.raises(ValueError, match="no system of units"):
        headline(TOLD, "imperial")


def test_a_wanted_flow_is_told_with_what_to_ask_for() -> None:
    wanted = replace(TOLD, question=Asked(budget=10000, target_m3s=950 / 3.6e6), ask_m3s=1100 / 3.6e6)
    text = render(wanted).replace("\n  ", " ")
    assert (
        "The wanted 950 l/h and all limits on flow hold in 75 % of them; for the wanted flow in 9 of 10 ask for about 1 100 l/h."
        in text
    )
    assert "and reaches the wanted flow." in text
    assert "Proved by the stated figures: none of 5 000 combinations is cheaper." in text
    assert "ask for about" not in render(replace(wanted, ask_m3s=0.0))


def test_what_is_not_proved_or_not_there_is_said() -> None:
    assert "Stopped before it was proved" in render(replace(TOLD, proof=replace(TOLD.proof, status="stopped")))
    assert "these 9 are all" in render(replace(TOLD, asked=50)).replace("\n  ", " ")
    none = replace(TOLD, candidates=(), band=None)
    assert "No bundle meets all limits (5 000 combinations, search complete)." in render(none)
    assert "Stopped before any bundle was found" in render(replace(none, proof=replace(none.proof, status="stopped")))


def test_names_cannot_repaint_the_screen() -> None:
    hostile = "tap\x1b[31m\u202e"
    share = UnknownShare(unknown="fittings", share=0.9, parts=(hostile,), installed=())
    told = replace(
        TOLD,
        rig=hostile,
        catalog=hostile,
        currency=hostile,
        candidates=(TOLD.candidates[0], bundle("no. 2", 990.0, 1, hostile), *TOLD.candidates[2:]),
        band=replace(BAND, shares=(share,), lead_shares=(share,)),
    )
    for text in (render(told), headline(told)):
        assert "\x1b" not in text and "\u202e" not in text
        assert max(map(len, render(told).splitlines())) <= WIDTH

"""What is said about the holes of a bar: verdict first, then the list, then what to mind."""

from dataclasses import replace

import pytest

from optimizer.model.drilling import Drilled, DrillResult, JetWish
from optimizer.model.results import Broken
from optimizer.report.drill_text import headline, render
from optimizer.report.layout import WIDTH

LITRE_PER_HOUR = 1e-3 / 3600.0


def drilled(holes: int, drill: str, hole_mm: float, litres_per_hour: float, breaks: tuple[str, ...] = ()) -> Drilled:
    """A bar with jets that suit nobody in particular."""
    return Drilled(
        holes=holes,
        drill=drill,
        hole_m=hole_mm / 1e3,
        gap_m=0.0125,
        flow_m3s=litres_per_hour * LITRE_PER_HOUR,
        slowest_ms=1.204,
        fastest_ms=1.262,
        evenness=0.953,
        area_ratio=0.8,
        breaks=tuple(Broken(limit="flow_max_m3s", words=words) for words in breaks),
    )


FOUND = DrillResult(
    rig="Hall tank \x1b[31m",
    place="spray_bar",
    wish=JetWish(jet_ms=1.2, evenness=0.95),
    drills="tenths",
    new_bar=False,
    now=drilled(16, "", 3.0, 684.0, ("at most 600 l/h delivered",)),
    cleaned=drilled(16, "", 3.0, 684.0, ("at most 600 l/h delivered",)),
    cleaned_meets=True,
    best=(drilled(20, "3.2 mm", 3.2, 717.0, ("at most 600 l/h delivered",)), drilled(16, "3.5 mm", 3.5, 714.0)),
    met=23,
    tried=1583,
    same_holes=drilled(16, "3.5 mm", 3.5, 714.0),
    closest=None,
    new_bar_best=None,
    cautions=("Drilling cannot be undone.",),
    basis=("Everything else is as it is now.",),
)
MISSED = replace(
    FOUND,
    cleaned_meets=False,
    best=(),
    met=0,
    same_holes=None,
    closest=drilled(17, "3.0 mm", 3.0, 690.0),
    new_bar_best=drilled(9, "3.9 mm", 3.9, 650.0),
)


def joined(result: DrillResult, units: str = "metric") -> str:
    """The text with its lines joined."""
    return " ".join(render(result, units).split())


def test_the_verdict_names_holes_flow_and_jets_first() -> None:
    lines = render(FOUND).splitlines()
    assert lines[0].startswith("Hall tank \\x1b[31m: holes of spray_bar for jets of at least 1.20 m/s and an")
    text = joined(FOUND)
    assert "Drill the bar to 20 x 3.2 mm: 717 l/h instead of 684 (+5 %), jets of 1.20 to 1.26 m/s, evenness 95 %." in text
    assert "23 of 1 583 pairs of count and drill that fit would do; of those within 1 % of the most flow" in text
    assert "Without a new hole: 16 x 3.5 mm, 714 l/h, jets of 1.20 to 1.26 m/s, evenness 95 %." in text
    assert max(map(len, lines)) <= WIDTH
    assert headline(FOUND).startswith("Drill the bar to 20 x 3.2 mm: 717 l/h")
    assert headline(FOUND).count("\n") == 1


def test_the_list_and_its_broken_limits_share_their_names() -> None:
    text = joined(FOUND)
    assert "now 16 3.0 684 1.20 1.26 95 % 12.5" in text
    assert "1 20 3.2 mm 717 1.20 1.26 95 % 12.5" in text
    assert "Limits not met, with nothing throttled - at most 600 l/h delivered (now, 1)" in text
    assert "Mind - Drilling cannot be undone. What the figures rest on - Everything else is as it is now." in text
    everywhere = replace(FOUND, best=FOUND.best[:1])
    assert "at most 600 l/h delivered (all lines)" in joined(everywhere)


def test_a_miss_says_what_comes_closest_and_what_a_new_bar_could_do() -> None:
    text = joined(MISSED)
    assert "None of 1 583 pairs of count and drill that fit on the bar meets that." in text
    assert "Closest: 17 x 3.0 mm, 690 l/h" in text
    assert "A new bar of the same tube could: 9 x 3.9 mm, 650 l/h" in text
    assert "closest 17 3.0 mm 690" in text
    assert "new bar 9 3.9 mm 650" in text
    assert "No drill of this set fits on the bar." in joined(replace(MISSED, tried=0, closest=None, new_bar_best=None))


def test_a_bar_that_should_stay_is_left_alone() -> None:
    text = joined(replace(MISSED, cleaned_meets=True, closest=None, new_bar_best=None))
    assert "Leave the bar as it is: 684 l/h, jets of 1.20 to 1.26 m/s, evenness 95 %." in text


def test_us_units_change_quantities_only() -> None:
    """1 US gallon = 3.785411784 l, 1 ft = 0.3048 m: NIST SP 811."""
    text = joined(FOUND, "us")
    assert "Drill the bar to 20 x 3.2 mm: 189 gph instead of 181 (+5 %), jets of 3.95 to 4.14 ft/s" in text
    assert "now 16 0.12 181" in text
    with pytest.raises(ValueError, match="no system of units"):
        render(FOUND, "furlongs")

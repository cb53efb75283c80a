"""The text says the verdict first, says all of the result, and never lets a name repaint the screen."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.commands.streams import CODES, with_weight
from optimizer.model.answer import Asked
from optimizer.model.results import (
    BillLine,
    Broken,
    Certificate,
    Change,
    Conflict,
    HeadShare,
    JointLine,
    Proof,
    Result,
    Row,
    Spot,
)
from optimizer.report.layout import GLUE, Screen
from optimizer.report.text import headline, render


def _row(name: str, litres_per_hour: float, price: int, **more: object) -> Row:
    plain: dict[str, object] = {
        "name": name,
        "flow_m3s": litres_per_hour / 3.6e6,
        "own_m3s": litres_per_hour / 3.6e6,
        "held_by": "",
        "turnover_per_hour": litres_per_hour / 400.0,
        "price": price,
        "noise_dba": 33.5,
        "power_w": 22.0,
        "bio_area_m2": 3.0,
        "inlet_head_m": 0.4,
    }
    return Row(**(plain | more))  # type: ignore[arg-type]


BEST = Result(
    rig="Hall tank",
    catalog="Corner shop",
    currency="EUR",
    question=Asked(budget=10000),
    now=_row("now", 702.0, 0, noise_dba=36.0, breaks=(Broken(limit="noise_dba", words="noise at most 34.0 dB(A)"),)),
    spend_nothing=_row("spend nothing", 850.0, 0, noise_dba=math.inf),
    best=_row("best", 1104.0, 9600, own_m3s=1300.0 / 3.6e6, held_by="flow_max_m3s", power_w=8.5),
    changes=(
        Change(position="strainer", change="clean", part_id="", text="strainer, slots 3 mm"),
        Change(position="suction_hose", change="swap", part_id="HOSE-19-27", text="soft hose 19/27 mm"),
        Change(position="canister", tray=1, change="keep", part_id="FOAM-20", text="filter foam 20 ppi"),
        Change(position="pump", change="keep", part_id="", text="pump"),
        Change(position="spray_bar", change="adjust", part_id="", text="re-drill to 4.5 mm"),
    ),
    bill=(
        BillLine(
            product_id="HOSE-19-27",
            name="soft hose 19/27 mm",
            count=0,
            cuts_m=(1.8, 2.2),
            price=2600,
            owned=False,
            places=("suction_hose", "return_hose"),
        ),
        BillLine(
            product_id="owned CLAMP-20-32",
            name="steel band clamp 20 to 32 mm",
            count=2,
            price=0,
            owned=True,
            places=("joint strainer to suction_hose",),
        ),
        BillLine(
            product_id="KIT-19",
            name="kit with a name that is rather too long for one line of a bill",
            count=1,
            price=6400,
            owned=False,
            places=(),
        ),
        BillLine(product_id="", name="re-drill to 4.5 mm", count=1, price=600, owned=False, places=("spray_bar",)),
    ),
    joints=(
        JointLine(
            between=("strainer", "suction_hose"),
            pieces=("hose joiner 19 mm", "adapter G 3/4"),
            tight_by=("clamp for 27 mm outside", "washer", "clamp for 27 mm outside"),
            as_is=False,
        ),
        JointLine(between=("pump", "spray_bar"), pieces=(), tight_by=(), as_is=False),
        JointLine(between=("canister", "pump"), pieces=(), tight_by=("washer",), as_is=True),
    ),
    heads=(
        HeadShare(place="suction_hose", before_m=0.8, before_share=0.57, after_m=0.2, after_share=0.2),
        HeadShare(place="elbow", before_m=0.008, before_share=0.006, after_m=0.007, after_share=0.007),
        HeadShare(place="heater", before_m=0.007, before_share=0.005, after_m=0.03, after_share=0.03),
        HeadShare(place="joints", before_m=0.009, before_share=0.006, after_m=0.004, after_share=0.004),
    ),
    tightest=Spot(place="in_coupling", bore_m=0.0125, speed_ms=1.74),
    tightest_before=Spot(place="suction_hose", bore_m=0.009, speed_ms=2.1),
    cautions=("Unplug everything in the tank before you reach in, and keep every socket well away from the joints.",),
    basis=("Turnover: delivered flow over the net volume of 400 l.",),
    warnings=("suction_hose: friction is uncertain by about 20 %.",),
    proof=Proof(
        status="proved",
        bound_m3s=1104.0 / 3.6e6,
        combinations=3_141_592_653,
        rounds=5,
        nodes=1,
        paths=1340,
        certificates=(Certificate(route="mixed-integer program", finding="no head left over", agrees=True),),
    ),
)

NOTHING_MEETS = replace(
    BEST,
    question=Asked(target_m3s=2400.0 / 3.6e6, budget=10000),
    best=None,
    changes=(),
    bill=(),
    joints=(),
    cautions=(),
    warnings=(),
    proof=replace(BEST.proof, combinations=18144, certificates=()),
    conflict=Conflict(
        limits=("noise at most 34 dB(A)", "turnover at least 6 per hour"),
        closest="5.4 per hour at 33.8 dB(A) for 142.00",
        remedies=("with 35.2 dB(A) allowed, 6.0 per hour becomes possible", "Without the budget: 7.0 per hour."),
    ),
)

STOPPED = replace(
    BEST,
    spend_nothing=None,
    bill=(),
    joints=(),
    heads=(),
    tightest=None,
    tightest_before=None,
    cautions=(),
    basis=(),
    warnings=(),
    now=_row("now", 702.0, 0),
    best=_row("best", 1104.0, 9600),
    proof=replace(BEST.proof, status="stopped", bound_m3s=1150.0 / 3.6e6, certificates=()),
)

BEST_TEXT = """\
Hall tank: most delivered flow for 100.00
Best for 100.00 EUR: 1 104 l/h instead of 702 (+57 %), 2.8 per hour, for 96.00 EUR.
Spending nothing already gives 850 l/h; the money adds 254 l/h.
Proved: none of 3.1 billion combinations does better.

                 delivered  turnover  price  noise  power
                       l/h  per hour    EUR  dB(A)      W
  now                  702       1.8   0.00   36.0     22
  spend nothing        850       2.1   0.00      -     22
  best               1 104       2.8  96.00   33.5    8.5
  best: throttled to 1 104 l/h because of the limit on flow; wide open it would run at
    1 300 l/h.

Limits not met now
  - noise at most 34.0 dB(A)

What to do, in the order of the water
  clean   strainer      strainer, slots 3 mm
  swap    suction_hose  soft hose 19/27 mm (HOSE-19-27)
  adjust  spray_bar     re-drill to 4.5 mm
  keep    canister tray 1, pump

Bill in EUR
  1.80 m +        soft hose 19/27 mm (HOSE-19-27)                                    26.00
  2.20 m
                  for suction_hose, return_hose
  2 x             steel band clamp 20 to 32 mm                                       yours
                  for joint strainer to suction_hose
  1 x             kit with a name that is rather too long for one line of a bill     64.00
                  (KIT-19)
  1 x             re-drill to 4.5 mm                                                  6.00
                  for spray_bar
  total                                                                              96.00

How each changed joint is closed
  strainer to suction_hose: with hose joiner 19 mm, then adapter G 3/4; made tight by
    2 x clamp for 27 mm outside, washer.
  pump to spray_bar: directly.
  Every other joint stays as it is.

Where the head goes
                            now         best
                              m  share     m  share
  suction_hose             0.80   57 %  0.20   20 %
  heater                   0.01    0 %  0.03    3 %
  2 places below 1 % each  0.02    1 %  0.01    1 %

Tightest spot
  now   suction_hose: bore 9.0 mm, water at 2.1 m/s
  best  in_coupling: bore 12.5 mm, water at 1.7 m/s

Mind
  - Unplug everything in the tank before you reach in, and keep every socket well away
    from the joints.

What the figures rest on
  - Turnover: delivered flow over the net volume of 400 l.

Outside what the formulas were made for
  - suction_hose: friction is uncertain by about 20 %.

Proof
  Search complete: 3.1 billion combinations decided on in 5 rounds, 1 node and 1 340
    paths.
  mixed-integer program: agrees. No head left over.

Catalog: Corner shop
"""

NOTHING_MEETS_TEXT = """\
Hall tank: cheapest way to deliver 2400 l/h
No bundle meets all limits (18 144 combinations, search complete).
  Cannot hold together: noise at most 34 dB(A), turnover at least 6 per hour.
  Closest: 5.4 per hour at 33.8 dB(A) for 142.00.
  What would help:
    - With 35.2 dB(A) allowed, 6.0 per hour becomes possible.
    - Without the budget: 7.0 per hour.

                 delivered  turnover  price  noise  power
                       l/h  per hour    EUR  dB(A)      W
  now                  702       1.8   0.00   36.0     22
  spend nothing        850       2.1   0.00      -     22

Limits not met now
  - noise at most 34.0 dB(A)

Where the head goes
                            now
                              m  share
  suction_hose             0.80   57 %
  3 places below 1 % each  0.02    2 %

Tightest spot
  now   suction_hose: bore 9.0 mm, water at 2.1 m/s

What the figures rest on
  - Turnover: delivered flow over the net volume of 400 l.

Proof
  Search complete: 18 144 combinations decided on in 5 rounds, 1 node and 1 340 paths.

Catalog: Corner shop
"""

STOPPED_TEXT = """\
Hall tank: most delivered flow for 100.00
Best for 100.00 EUR: 1 104 l/h instead of 702 (+57 %), 2.8 per hour, for 96.00 EUR.
Stopped before it was proved: a better bundle may exist, but none delivers more than
  1 150 l/h (+4 %).

        delivered  turnover  price  noise  power
              l/h  per hour    EUR  dB(A)      W
  now         702       1.8   0.00   33.5     22
  best      1 104       2.8  96.00   33.5     22

What to do, in the order of the water
  clean   strainer      strainer, slots 3 mm
  swap    suction_hose  soft hose 19/27 mm (HOSE-19-27)
  adjust  spray_bar     re-drill to 4.5 mm
  keep    canister tray 1, pump

Bill in EUR
                  not listed above                                                   96.00
  total                                                                              96.00

Proof
  Search stopped early: 3.1 billion combinations decided on in 5 rounds, 1 node and 1 340
    paths.

Catalog: Corner shop
"""

# 1 US gallon = 3.785411784 l, 1 ft = 0.3048 m, 1 in = 25.4 mm (NIST SP 811, appendix B):
# 702, 850, 1104, 1300 l/h = 185.4, 224.5, 291.6, 343.4 gph; 0.8 m = 2.62 ft; 9 mm = 0.354 in;
# 1.8 m = 70.9 in; 2.1 m/s = 6.89 ft/s
IN_US_UNITS = {
    "1 104 l/h instead of 702 (+57 %)": "292 gph instead of 185 (+57 %)",
    "850 l/h; the money adds 254 l/h.": "225 gph; the money adds 67 gph.",
    "                       l/h  per hour": "                       gph  per hour",
    "  now                  702": "  now                  185",
    "  spend nothing        850": "  spend nothing        225",
    "  best               1 104": "  best                 292",
    "throttled to 1 104 l/h because of the limit on flow; wide open it would run at\n    1 300 l/h.": (
        "throttled to 292 gph because of the limit on flow; wide open it would run at\n    343 gph."
    ),
    "                              m  share     m  share": "                             ft  share    ft  share",
    "  suction_hose             0.80   57 %  0.20   20 %": "  suction_hose             2.62   57 %  0.66   20 %",
    "  heater                   0.01    0 %  0.03    3 %": "  heater                   0.02    0 %  0.10    3 %",
    "  2 places below 1 % each  0.02    1 %  0.01    1 %": "  2 places below 1 % each  0.06    1 %  0.04    1 %",
    "1.80 m +        soft": "70.9 in +       soft",
    "\n  2.20 m\n": "\n  86.6 in\n",
    "bore 9.0 mm, water at 2.1 m/s": "bore 0.35 in, water at 6.9 ft/s",
    "bore 12.5 mm, water at 1.7 m/s": "bore 0.49 in, water at 5.7 ft/s",
}


def _in_us_units(text: str) -> str:
    for metric, us in IN_US_UNITS.items():
        assert text.count(metric) == 1
        text = text.replace(metric, us)
    return text


def whole(result: Result, units: str = "metric") -> str:
    """All of an answer, on a screen of 90 characters."""
    return render(result, units, Screen(width=90), full=True)


def test_the_best_bundle_in_full() -> None:
    assert whole(BEST) == BEST_TEXT


def test_the_best_bundle_in_us_units_differs_in_quantities_only() -> None:
    assert whole(BEST, "us") == _in_us_units(BEST_TEXT)


def test_no_bundle_meets_all_limits() -> None:
    assert whole(NOTHING_MEETS) == NOTHING_MEETS_TEXT


def test_stopped_says_how_much_more_could_exist() -> None:
    assert whole(STOPPED) == STOPPED_TEXT


def test_the_headline_is_the_verdict_on_one_line() -> None:
    assert headline(BEST) == " ".join(BEST_TEXT.splitlines()[1:4]) + "\n"


def test_an_unknown_system_of_units_is_refused() -> None:
    with pytest.raises(ValueError, match="no system of units 'imperial'; there are: metric, us"):
        render(BEST, "imperial")


KEPT = (Change(position="pump", change="keep", part_id="P", text="pump"),)
DOUBT = (Certificate(route="check", finding="another bundle", agrees=False),)
STOPPED_EMPTY = replace(STOPPED, best=None, changes=())
FREE = _row("best", 850.0, 0)
SAME = _row("best", 702.0, 0)
CHEAPEST = replace(BEST, question=Asked(target_m3s=800.0 / 3.6e6), best=_row("best", 812.0, 3150))


@pytest.mark.parametrize(
    ("result", "said"),
    [
        (replace(BEST, best=SAME, changes=KEPT), "Best for 100.00 EUR: leave it as it is, 702 l/h, 1.8 per hour."),
        (replace(BEST, best=FREE), "Best for 100.00 EUR: buy nothing, 850 l/h instead of 702 (+21 %), 2.1 per hour."),
        (replace(BEST, question=Asked(), currency=""), "Best: 1 104 l/h instead of 702 (+57 %), 2.8 per hour, for 96.00."),
        (replace(BEST, best=_row("best", 640.0, 9600)), "640 l/h instead of 702 (-9 %)"),
        (replace(BEST, now=_row("now", 0.0, 0)), "1 104 l/h instead of 0, 2.8 per hour"),
        (replace(BEST, best=_row("best", 702.5, 9600)), "702 l/h instead of 702 (0 %)"),
        (replace(BEST, best=_row("best", 852.0, 9600)), "Spending nothing already gives 850 l/h. Proved"),
        (
            replace(BEST, spend_nothing=_row("spend nothing", 850.0, 0, breaks=(Broken(limit="noise_dba", words="noise"),))),
            "Spending nothing already gives 850 l/h, but not within all limits; the money adds 254 l/h.",
        ),
        (CHEAPEST, "Cheapest: 812 l/h instead of 702 (+16 %), 2.0 per hour, for 31.50 EUR."),
        (CHEAPEST, "Proved: none of 3.1 billion combinations is cheaper."),
        (replace(BEST, proof=replace(BEST.proof, combinations=1)), "Proved: no other combination does better."),
        (
            replace(CHEAPEST, proof=replace(BEST.proof, status="stopped", bound_m3s=0.0)),
            "Stopped before it was proved: a cheaper bundle may exist.",
        ),
        (
            replace(BEST, proof=replace(BEST.proof, status="stopped", bound_m3s=math.inf)),
            "Stopped before it was proved: how much more could be delivered is not known.",
        ),
        (
            replace(BEST, proof=replace(BEST.proof, status="stopped", bound_m3s=1105.0 / 3.6e6)),
            "Stopped before it was proved: none delivers more than 1 105 l/h, but one that delivers as much for less may exist.",
        ),
        (
            STOPPED_EMPTY,
            "Stopped before any bundle was found that meets all limits (3.1 billion combinations). "
            "If there is one, it delivers at most 1 150 l/h.",
        ),
        (
            replace(BEST, proof=replace(BEST.proof, certificates=DOUBT)),
            "Do not buy on this answer: an independent check does not agree with it (see Proof).",
        ),
        (
            replace(NOTHING_MEETS, proof=replace(BEST.proof, certificates=DOUBT)),
            "Do not rely on this: an independent check does not agree with it (see Proof).",
        ),
    ],
)
def test_the_verdict_fits_the_case(result: Result, said: str) -> None:
    assert said in headline(result)


def test_nothing_is_called_proved_that_is_not() -> None:
    assert "Proved" not in headline(STOPPED)
    assert "Proved" not in headline(STOPPED_EMPTY)
    assert "Proved" not in headline(replace(BEST, proof=replace(BEST.proof, certificates=DOUBT)))
    assert "check: DOES NOT AGREE. Another bundle." in whole(replace(BEST, proof=replace(BEST.proof, certificates=DOUBT)))


def test_spending_nothing_is_not_praised_when_it_gives_no_more() -> None:
    assert "Spending nothing" not in headline(replace(BEST, spend_nothing=_row("spend nothing", 702.0, 0)))


def test_limits_that_an_offered_row_breaks_are_said_too() -> None:
    text = whole(
        replace(
            BEST, spend_nothing=_row("spend nothing", 850.0, 0, breaks=(Broken(limit="power_w", words="power at most 20 W"),))
        )
    )
    assert "Limits not met by spending nothing\n  - power at most 20 W\n" in text


def test_a_lone_small_place_is_one_place() -> None:
    assert "1 place below 1 % each" in whole(replace(BEST, heads=BEST.heads[:2]))


HOSTILE = "\x1b[2J\x1b]0;owned\x07\r\n\u202eevil\u2028\x00\ud800"


def test_hostile_names_come_out_as_escapes() -> None:
    hostile = replace(
        BEST,
        rig=HOSTILE,
        catalog=HOSTILE,
        currency=HOSTILE,
        changes=tuple(replace(c, position=HOSTILE, text=HOSTILE, part_id=HOSTILE) for c in BEST.changes),
        bill=tuple(replace(b, name=HOSTILE, product_id=HOSTILE, places=(HOSTILE,)) for b in BEST.bill),
        joints=tuple(replace(j, between=(HOSTILE, HOSTILE), pieces=(HOSTILE,), tight_by=(HOSTILE,)) for j in BEST.joints),
        heads=tuple(replace(h, place=HOSTILE) for h in BEST.heads),
        tightest=Spot(place=HOSTILE, bore_m=0.01, speed_ms=1.0),
        cautions=(HOSTILE,),
        conflict=Conflict(limits=(HOSTILE,), closest=HOSTILE, remedies=(HOSTILE,)),
    )
    text = render(hostile, full=True)
    assert all(line.isprintable() for line in (text + render(hostile)).split("\n"))
    weighted = with_weight(render(hostile, screen=Screen(weighted=True), full=True))
    assert weighted != text
    for code in CODES.values():
        weighted = weighted.replace(code, "")
    assert weighted == text
    assert r"\x1b[2J\x1b]0;owned\x07\r\n\u202eevil\u2028\x00\ud800" in text.replace("\n  ", "")


LONG = "a return hose that goes on and on, " * 4 + "w" * 100
ODD_TEXT = st.text(max_size=8) | st.sampled_from(["", LONG, HOSTILE])
ODD_NUMBER = st.floats(allow_nan=True, allow_infinity=True)
PRICE = st.integers(0, 10**11)
BREAKS = st.lists(st.builds(Broken, limit=st.just("noise_dba"), words=ODD_TEXT), max_size=2).map(tuple)
TEXTS = st.lists(ODD_TEXT, max_size=2).map(tuple)


def _rows(name: str, number: st.SearchStrategy[float]) -> st.SearchStrategy[Row]:
    numbers = dict.fromkeys(
        ("flow_m3s", "own_m3s", "turnover_per_hour", "noise_dba", "power_w", "bio_area_m2", "inlet_head_m"), number
    )
    return st.builds(Row, name=st.just(name), held_by=ODD_TEXT, price=PRICE, breaks=BREAKS, **numbers)


def _tuples(kind: type, **more: st.SearchStrategy[object]) -> st.SearchStrategy[tuple[object, ...]]:
    return st.lists(st.builds(kind, **more), max_size=2).map(tuple)


def _results(number: st.SearchStrategy[float]) -> st.SearchStrategy[Result]:
    count = st.integers(0, 10**30)
    spot = st.none() | st.builds(Spot, place=ODD_TEXT, bore_m=number, speed_ms=number)
    heads = dict.fromkeys(("before_m", "before_share", "after_m", "after_share"), number)
    verbs = st.sampled_from(["keep", "clean", "adjust", "swap", "remove", "add"])
    certificates = _tuples(Certificate, route=ODD_TEXT, finding=ODD_TEXT, agrees=st.booleans())
    proof = st.builds(
        Proof,
        status=st.sampled_from(["proved", "stopped"]),
        bound_m3s=number,
        combinations=count,
        rounds=count,
        nodes=count,
        paths=count,
        certificates=certificates,
    )
    return st.builds(
        Result,
        rig=ODD_TEXT,
        catalog=ODD_TEXT,
        currency=ODD_TEXT,
        question=st.builds(Asked, budget=st.none() | PRICE, target_m3s=st.just(0.0) | st.floats(1e-6, 1.0)),
        now=_rows("now", number),
        spend_nothing=st.none() | _rows("spend nothing", number),
        best=st.none() | _rows("best", number),
        changes=_tuples(Change, position=ODD_TEXT, change=verbs, part_id=ODD_TEXT, text=ODD_TEXT),
        bill=_tuples(
            BillLine,
            product_id=ODD_TEXT,
            name=ODD_TEXT,
            count=st.integers(0, 10**9),
            price=PRICE,
            owned=st.booleans(),
            places=TEXTS,
        ),
        joints=_tuples(JointLine, between=st.tuples(ODD_TEXT, ODD_TEXT), pieces=TEXTS, tight_by=TEXTS, as_is=st.booleans()),
        heads=_tuples(HeadShare, place=ODD_TEXT, **heads),
        tightest=spot,
        tightest_before=spot,
        cautions=TEXTS,
        basis=TEXTS,
        warnings=TEXTS,
        proof=proof,
        conflict=st.none() | st.builds(Conflict, limits=TEXTS, closest=ODD_TEXT, remedies=TEXTS),
    )


@settings(deadline=None, max_examples=150)
@given(_results(ODD_NUMBER), st.sampled_from(["metric", "us"]), st.booleans())
def test_any_result_can_be_rendered(result: Result, units: str, full: bool) -> None:
    text = render(result, units, full=full)
    assert GLUE not in text
    assert text.endswith("\n")
    assert all(line.isprintable() and line == line.rstrip() for line in text.split("\n"))
    assert headline(result, units).count("\n") == 1


@settings(deadline=None, max_examples=40)
@given(_results(st.floats(0.0, 1e-2)), st.sampled_from(["metric", "us"]), st.sampled_from([60, 80, 100]), st.booleans())
def test_no_line_is_too_wide(result: Result, units: str, width: int, full: bool) -> None:
    """Neither on the first screen nor in the whole, whatever things are called."""
    assert max(map(len, render(result, units, Screen(width=width), full=full).splitlines())) <= width

"""Laws of handbooks by name: each against the `fluids` library or numbers written out by hand, and the choice between them."""

import dataclasses
from math import pi
from typing import Any

import fluids
import pytest
from fluids.fittings import Darby3K, Hooper2K, entrance_distance
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.fitting_laws import (
    CHOSEN,
    HIGHEST,
    LAWS,
    LOWEST,
    SWEPT_RATIO,
    USUAL_FRICTION,
    USUAL_REYNOLDS,
    FittingLaws,
    all_by,
    crane_turn_k,
    rennels_mitre_k,
    rennels_turn_k,
)
from optimizer.physics.fittings import turbulent_factor

BORES = st.floats(0.008, 0.025)
ELBOW, WELDED = "Elbow, 90°, Standard (R/D = 1), Screwed", "Elbow, 90°, Standard (R/D = 1), Flanged/welded"

# Bores in mm; contraction by Idelchik by hand, by the library after Rennels and after Hooper at Re 1e4; expansion after Hooper.
STEPS = [
    (12.5, 16.0, 0.246597, 0.255096, 0.239565, 0.155577),
    (16.0, 19.0, 0.198040, 0.172610, 0.178827, 0.086689),
    (16.0, 25.0, 0.336764, 0.407572, 0.362993, 0.357184),
    (12.0, 16.0, 0.268970, 0.294370, 0.268985, 0.196135),
]


@pytest.mark.parametrize(("small", "large", "idelchik", "rennels", "hooper", "wider"), STEPS)
def test_steps_by_name(small: float, large: float, idelchik: float, rennels: float, hooper: float, wider: float) -> None:
    """Rennels and Hudson 2012 and Hooper 1988 as the library has them; Idelchik 0.5 (1 - A/A)^0.75."""
    by = {name: float(law(large, small)) for name, law in LAWS["contraction"].items()}
    assert by["Rennels"] == pytest.approx(rennels, abs=6e-7)
    assert by["Hooper"] == pytest.approx(hooper, rel=1e-3)
    assert by["Idelchik"] == pytest.approx(idelchik, rel=1e-4)
    assert LAWS["expansion"]["Hooper"](small, large) == pytest.approx(wider, rel=1e-4)


def test_at_moulded_tails_crane_is_a_fifth_below_what_idelchik_and_hooper_agree_on() -> None:
    """The reason for the law that is taken: tails of 0.7 to 0.85 of the hose's bore."""
    for ratio in (0.70, 0.75, 0.80, 0.85):
        by = {name: float(law(0.016, ratio * 0.016)) for name, law in LAWS["contraction"].items()}
        assert by["Crane"] < 0.85 * by["Idelchik"] and by["Crane"] < 0.82 * by["Hooper"]
        assert by["Idelchik"] == pytest.approx(by["Hooper"], rel=0.15)
        assert 0.8 * by["Idelchik"] < by["Rennels"] < 1.2 * by["Idelchik"]


def test_usual_friction_is_that_of_smooth_pipe() -> None:
    """Colebrook 1939 by the library."""
    assert pytest.approx(fluids.friction.Colebrook(USUAL_REYNOLDS, 0.0), rel=1e-3) == USUAL_FRICTION


@given(BORES)
def test_elbows_by_name_follow_the_library(bore: float) -> None:
    """Hooper's two-K, Darby's three-K with the bore as nominal size, Rennels and Hudson's mitre."""
    at = {"Di": bore / 0.0254, "Re": USUAL_REYNOLDS}
    darby = {"NPS": bore / 0.0254, "Re": USUAL_REYNOLDS}
    assert LAWS["threaded"]["Hooper"](bore) == pytest.approx(Hooper2K(**at, name=ELBOW), rel=1e-12)
    assert LAWS["elbow"]["Hooper"](bore, 90) == pytest.approx(Hooper2K(**at, name=WELDED), rel=1e-12)
    half = Hooper2K(**at, name="Elbow, 45°, Standard (R/D = 1), All types")
    assert LAWS["elbow"]["Hooper"](bore, 45) == pytest.approx(half, rel=1e-12)
    long = Hooper2K(**at, name="Elbow, 90°, Long-radius (R/D = 1.5), All types")
    assert LAWS["swept"]["Hooper"](bore) == pytest.approx(long, rel=1e-12)
    screwed = Darby3K(**darby, name="Elbow, 90°, threaded, standard, (r/D = 1)")
    assert LAWS["threaded"]["Darby"](bore) == pytest.approx(screwed, rel=1e-12)
    welded = Darby3K(**darby, name="Elbow, 90°, flanged, welded, bends, (r/D = 1)")
    assert LAWS["elbow"]["Darby"](bore, 90) == pytest.approx(welded, rel=1e-12)
    half = Darby3K(**darby, name="Elbow, 45°, threaded standard, (r/D = 1)")
    assert LAWS["elbow"]["Darby"](bore, 45) == pytest.approx(half, rel=1e-12)
    gate, ball = (
        Darby3K(**darby, name="Valve, Gate valve, standard, β = 1"),
        Darby3K(**darby, name="Valve, Ball valve, standard, β = 1"),
    )
    assert LAWS["valve"]["Darby"](bore, "gate valve") == pytest.approx(gate, rel=1e-12)
    assert LAWS["valve"]["Darby"](bore, "ball valve") == pytest.approx(ball, rel=1e-12)
    full = Hooper2K(bore / 0.0254, USUAL_REYNOLDS, name="Valve, Gate, Full line size, Beta = 1")
    assert LAWS["valve"]["Hooper"](bore, "ball valve") == pytest.approx(full, rel=1e-12)
    swept = fluids.bend_rounded(Di=bore, angle=90.0, bend_diameters=SWEPT_RATIO, fd=USUAL_FRICTION, method="Rennels")
    assert LAWS["swept"]["Rennels"](bore) == pytest.approx(swept, rel=1e-12)


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 90.0])
def test_sharp_knees_follow_the_library(angle: float) -> None:
    """Rennels and Hudson 2012."""
    assert rennels_mitre_k(angle) == pytest.approx(fluids.bend_miter(angle, method="Rennels"), rel=1e-12)


@pytest.mark.parametrize("angle", [45.0, 90.0, 180.0])
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 3.0, 6.0, 10.0, 20.0])
def test_a_turn_is_the_bend_of_the_library_less_the_wall_of_its_arc(ratio: float, angle: float) -> None:
    """`bend_rounded` less f L/D: by Rennels and Hudson exactly; by Crane, whose factors the library fits, to 1.5 % of K."""
    bent = {"Di": 0.016, "angle": angle, "bend_diameters": ratio}
    arc = angle / 180.0 * pi * ratio
    rennels = fluids.bend_rounded(**bent, fd=USUAL_FRICTION, method="Rennels")
    assert rennels_turn_k(0.016, ratio, angle) == pytest.approx(rennels - USUAL_FRICTION * arc, rel=1e-9)
    crane = fluids.bend_rounded(**bent, method="Crane")
    assert crane_turn_k(0.016, ratio, angle) == pytest.approx(max(crane - turbulent_factor(0.016) * arc, 0.0), abs=0.015 * crane)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 3.0, 4.0, 6.0])
def test_the_turn_that_is_taken_goes_with_measurements_of_smooth_pipe(ratio: float) -> None:
    """Miller 1990 by the library at Re 1e4, less f L/D; Ito 1960 up to r/d 4, beyond which the library leaves his bends."""
    arc = pi / 2.0 * ratio * USUAL_FRICTION
    bent = {"Di": 0.016, "angle": 90.0, "bend_diameters": ratio, "Re": USUAL_REYNOLDS}
    assert CHOSEN.bend_k(0.016, ratio) == pytest.approx(fluids.bend_rounded(**bent, method="Miller") - arc, rel=0.16)
    if ratio <= 4.0:
        assert CHOSEN.bend_k(0.016, ratio) == pytest.approx(fluids.bend_rounded(**bent, method="Ito") - arc, rel=0.12)


@given(BORES, st.floats(1.0, 40.0), st.floats(0.0, 360.0))
def test_a_turn_never_pushes_the_water(bore: float, ratio: float, angle: float) -> None:
    """Net of the wall, by whichever law."""
    assert all(law(bore, ratio, angle) >= 0.0 for law in LAWS["bend"].values())


def test_entrances_by_name() -> None:
    """The library: sharp 0.57 after Rennels, projecting 0.78 after Crane; a thick wall (16 mm bore, 2 mm wall) that stands out by
    20 mm has 0.57 after Rennels and 0.50 after Idelchik, which is why no more is taken."""
    thick = {"Di": 0.016, "t": 0.002, "l": 0.020}
    assert LAWS["entrance"]["Crane projecting"]() == pytest.approx(entrance_distance(**thick, method="Crane"))
    assert LAWS["entrance"]["Rennels flush"]() == pytest.approx(fluids.entrance_sharp(method="Rennels"))
    assert CHOSEN.entrance_k() == pytest.approx(entrance_distance(**thick, method="Idelchik"), rel=1e-3)
    assert entrance_distance(**thick, method="Rennels") == pytest.approx(0.57, rel=1e-3)


def test_threaded_elbows_are_taken_from_the_middle_of_what_is_published() -> None:
    """14 mm: Crane 0.79, Darby 0.89, HVAC Pump Handbook 2.10; their geometric middle is 1.29."""
    k = {name: float(law(0.014)) for name, law in LAWS["threaded"].items()}
    assert k["Crane"] < k["Darby"] < k["Hooper"] < k["HVAC Pump Handbook"]
    assert CHOSEN.body_k("threaded elbow 90", 0.014) == pytest.approx((k["Crane"] * k["HVAC Pump Handbook"]) ** 0.5, rel=0.1)


AT: dict[str, tuple[Any, ...]] = {
    "contraction": (0.016, 0.012),
    "expansion": (0.012, 0.016),
    "entrance": (),
    "bend": (0.016, 5.0),
    "elbow": (0.012, 90),
    "swept": (0.012,),
    "threaded": (0.014,),
    "valve": (0.012, "ball valve"),
}


SHAPES = {"elbow": "elbow 90", "swept": "swept 90", "threaded": "threaded elbow 90", "valve": "ball valve"}


def asked_k(laws: FittingLaws, what: str) -> float:
    """K at the place of `AT`, of the body of a fitting by its shape."""
    if what in SHAPES:
        return laws.body_k(SHAPES[what], AT[what][0])
    return float(getattr(laws, f"{what}_k")(*AT[what]))


@pytest.mark.parametrize("what", sorted(LAWS))
def test_every_choice_can_be_switched_by_name(what: str) -> None:
    """Two laws or more, the first is the one taken, and the lowest and the highest are theirs."""
    k = {name: float(law(*AT[what])) for name, law in LAWS[what].items()}
    asked = {name: asked_k(FittingLaws(**{what: name}), what) for name in (*k, LOWEST, HIGHEST)}
    assert len(set(k.values())) == len(k) >= 2
    assert getattr(CHOSEN, what) == next(iter(k))
    assert asked == {**k, LOWEST: min(k.values()), HIGHEST: max(k.values())}
    assert asked_k(all_by(HIGHEST), what) == max(k.values())


def test_a_law_that_is_none_is_refused_with_the_names_of_those_there_are() -> None:
    """By its kind."""
    assert {each.name for each in dataclasses.fields(FittingLaws)} == set(LAWS)
    with pytest.raises(
        ValueError, match=r"no law 'Cran' for elbow; there are Crane, Hooper, Darby, Rennels mitre, lowest, highest"
    ):
        FittingLaws(elbow="Cran")

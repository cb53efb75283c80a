"""Ends that nothing on offer fits are named with the places that stay for them, and no limit is blamed for that."""

from dataclasses import replace
from pathlib import Path

from small_worlds import fitting, label_curve, pump

from optimizer import api
from optimizer.answers.shut_ends import ShutEnd, shut_ends, shut_places, shut_words
from optimizer.answers.wish import wish
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister
from optimizer.model.rig import Rig
from optimizer.report.text import render
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
NANO = api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)


def own(gender: Gender, key: str = "OWN") -> End:
    """An end of a maker whom nobody knows."""
    return End(standard=Standard.UNION, size_m=0.0, gender=gender, bore_m=0.009, key=key)


def of_an_unknown_maker(rig: Rig) -> Rig:
    """The same rig with unions of the keeper's own maker between couplings, canister and pump."""
    tailed = rig.positions[[p.name for p in rig.positions].index("in_coupling")].installed.inlet  # type: ignore[union-attr]
    male, female = own(Gender.MALE), own(Gender.FEMALE)
    swapped = {
        "in_coupling": fitting("own-in", "coupling", tailed, male),
        "canister": replace(rig.canister, inlet=female, outlet=own(Gender.FEMALE, "OWN-HEAD")),
        "pump": pump("own-pump", own(Gender.MALE, "OWN-HEAD"), female, label_curve(1.0, 450), 5.0, 25.0),
        "out_coupling": fitting("own-out", "coupling", male, tailed),
    }
    places = tuple(replace(p, installed=swapped.get(p.name, p.installed)) for p in rig.positions)
    assert isinstance(swapped["canister"], Canister)
    return replace(rig, positions=places)


def test_places_beside_unions_of_an_unknown_maker_are_said_to_stay() -> None:
    """Couplings and pump on offer are of other makers; hoses, guard and outlet can be changed."""
    rig = of_an_unknown_maker(NANO)
    ends = shut_ends(build(choices(rig, SHOP, rig.limits)))
    assert {place for end in ends for place in end.places} == {"in_coupling", "pump", "out_coupling"}
    assert shut_ends(build(choices(NANO, SHOP, NANO.limits))) == ()
    assert shut_words(()) == "" and shut_places(()) is None


def test_what_cannot_be_changed_stands_in_the_verdict_with_what_to_find_out() -> None:
    """Before the wish and the bill: the reason, then the maker to look up and the tail to measure. Else nothing is said."""
    result = api.best(replace(of_an_unknown_maker(NANO), target_m3s=900 / 3.6e6), SHOP)
    assert result.shut is not None
    assert result.shut.ends == (
        "the maker's union OWN of canister, pump and out_coupling",
        "the maker's union OWN-HEAD of canister",
    )
    text = " ".join(render(result).split())
    verdict = text[: text.index("What to do")]
    said = verdict.index("Cannot be changed: in_coupling, pump and out_coupling. Nothing on offer fits the maker's union OWN of")
    assert said < verdict.index("Look up maker and model of canister, pump and out_coupling") < verdict.index("The wish of")
    assert "measure the tail's outside diameter with a caliper" in verdict
    assert "Cannot be changed" not in render(api.best(NANO, SHOP))


def test_the_cure_goes_by_the_end_that_nothing_fits() -> None:
    """A tail is measured over its barb, a hose inside, a thread with a gauge (common practice, no published source)."""
    inch = {"size_m": 0.0127, "bore_m": 0.012}
    npt = End(standard=Standard.NPT, gender=Gender.MALE, **inch)
    tail, sleeve = (End(standard=Standard.HOSE, size_m=0.0135, gender=gender, bore_m=0.012) for gender in Gender)
    for end, words in ((npt, "thread gauge"), (tail, "tail's outside diameter"), (sleeve, "inside diameter of the hose")):
        told = shut_places([ShutEnd(owner="pump", side="outlet", end=end, places=("hose",))])
        assert told is not None
        [measure] = told.measure
        assert measure.startswith("Measure the outlet of pump") and words in measure
        assert told.ends == (f"the {end.name} of pump",)


def test_a_wish_out_of_reach_is_not_blamed_on_windows_that_are_not_there() -> None:
    """No device stands in the loop, and no other limit is near: the loop itself is in the way, and its unions."""
    rig = replace(of_an_unknown_maker(NANO), target_m3s=900 / 3.6e6)
    told = wish(rig, SHOP, Limits(noise_dba=80.0), 0.0)
    assert told is not None
    assert told.in_the_way[0].startswith("in_coupling, pump and out_coupling, which cannot be changed")
    assert told.in_the_way[1].startswith("the loop itself with the pumps on offer, which ends at ")
    assert not any("windows" in words or "noise" in words for words in told.in_the_way)

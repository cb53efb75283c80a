"""Words on what to measure: of what is there today, of what is still to be bought, and with the usual caution."""

import pytest

from optimizer.bands.priors import PRIORS
from optimizer.model.bands import UnknownShare
from optimizer.report.layout import GLUE
from optimizer.report.measurement_words import CAUTION, MEASUREMENTS, measurement_words, settling_words


def share(unknown: str, size: float, installed: tuple[str, ...] = (), parts: tuple[str, ...] = ("A", "B")) -> UnknownShare:
    """A share of the variance."""
    return UnknownShare(unknown=unknown, share=size, parts=parts, installed=installed)


def test_every_group_of_unknowns_has_a_measurement_and_no_other() -> None:
    assert {prior.group for prior in PRIORS.values()} == set(MEASUREMENTS)


@pytest.mark.parametrize("group", MEASUREMENTS)
def test_what_is_there_is_measured_with_care_and_what_is_not_is_asked_for(group: str) -> None:
    """Whatever is opened on the loop comes with the caution about mains and water; a purchase does not need it."""
    there = measurement_words((share(group, 0.6, installed=("A", "B")),))
    to_buy = measurement_words((share(group, 0.6),))
    both = measurement_words((share(group, 0.6, installed=("A",)),))
    assert MEASUREMENTS[group].now in there and CAUTION in there
    assert MEASUREMENTS[group].before_buying in to_buy and "Unplug" not in to_buy
    assert MEASUREMENTS[group].now in both and MEASUREMENTS[group].before_buying in both
    assert there.startswith(f"60{GLUE}% of the spread comes from the {group} alone.")


def test_a_few_parts_that_stay_tell_little_of_a_new_bundle() -> None:
    """One of three fittings is there: taking the old ones out would tell nothing of the new ones."""
    text = measurement_words((share("fittings", 0.6, installed=("A",), parts=("A", "B", "C")),))
    assert MEASUREMENTS["fittings"].before_buying in text and "most of it is not installed yet" in text
    assert MEASUREMENTS["fittings"].now not in text


def test_what_can_be_measured_today_is_told_beside_what_cannot() -> None:
    text = measurement_words((share("pump curve", 0.6), share("guard", 0.3), share("media", 0.2, installed=("A", "B"))))
    assert "nothing of it is installed yet" in text
    assert f"On the loop as it stands (20{GLUE}%, the media)" in text
    small = measurement_words((share("pump curve", 0.6), share("media", 0.05, installed=("A",))))
    assert "On the loop as it stands" not in small


def test_nothing_unknown_is_nothing_to_measure() -> None:
    assert measurement_words(()) == measurement_words((share("guard", 0.0),)) == ""
    assert settling_words("one", "two", 0.5, (share("guard", 0.0),)) == ""


def test_a_clear_choice_a_close_one_and_none() -> None:
    close = settling_words("one", "two", 0.55, (share("fittings", 0.7),))
    assert close.startswith(
        f"one delivers most in 55{GLUE}% of the draws. What decides between it and two is mostly the fittings (70{GLUE}%)."
    )
    clear = settling_words("one", "two", 0.93, (share("fittings", 0.7),))
    assert clear == f"one delivers most in 93{GLUE}% of the draws: no measurement is likely to change the choice."
    assert settling_words("one", "", 1.0, ()) == ""


def test_a_group_that_nobody_described_is_measured_by_itself() -> None:
    """A calibration may bring priors of its own."""
    assert "the tap by itself" in measurement_words((share("tap", 0.5),))

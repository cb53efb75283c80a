"""What mates with what. Thread rules: ISO 7-1, ISO 228-1, ASME B1.20.1; hose and glued pipe: common practice, no
published source."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.model.ends import Closure, End, Gender, Standard, inch_name, mating, refusal

MALE, FEMALE = Gender.MALE, Gender.FEMALE
HALF_INCH = 0.0127
THREADS = (Standard.G, Standard.R, Standard.RC, Standard.RP, Standard.NPT, Standard.GHT)

MATES = {
    # ISO 228-1: parallel threads do not seal on the thread; they need a washer or an O-ring.
    (Standard.G, Standard.G): Closure.WASHER,
    # ISO 7-1: a taper male seals on the thread in a taper (Rc) or a parallel (Rp) female.
    (Standard.R, Standard.RC): Closure.TAPE,
    (Standard.R, Standard.RP): Closure.TAPE,
    # ASME B1.20.1: 60 degree taper thread, sealed on the thread, with itself only.
    (Standard.NPT, Standard.NPT): Closure.TAPE,
    # ASME B1.20.7 (garden hose): sealed by a washer, with itself only.
    (Standard.GHT, Standard.GHT): Closure.WASHER,
}


def end(standard: Standard, gender: Gender, size_m: float = HALF_INCH, **more: object) -> End:
    """An end with a bore of 12 mm."""
    return End(standard=standard, size_m=size_m, gender=gender, bore_m=0.012, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(("male", "female"), list(product(THREADS, THREADS)))
def test_threads_mate_as_the_standards_say_and_in_no_other_way(male: Standard, female: Standard) -> None:
    """ISO 7-1, ISO 228-1, ASME B1.20.1: every pair of the table, and nothing but the table."""
    found = mating(end(male, MALE), end(female, FEMALE))
    assert (None if found is None else found.closure) == MATES.get((male, female))


@pytest.mark.parametrize("standard", THREADS)
@pytest.mark.parametrize("gender", [MALE, FEMALE])
def test_two_ends_of_one_gender_never_mate(standard: Standard, gender: Gender) -> None:
    """A male end goes inside a female one, whatever the thread (ISO 7-1, ISO 228-1)."""
    assert mating(end(standard, gender), end(standard, gender)) is None
    assert refusal(end(standard, gender), end(standard, gender))


@pytest.mark.parametrize("inches", [0.5, 0.75])
@pytest.mark.parametrize("other", [Standard.G, Standard.R, Standard.RC, Standard.RP])
def test_npt_never_mates_with_a_whitworth_thread_even_where_the_pitch_is_the_same(inches: float, other: Standard) -> None:
    """1/2 and 3/4 have 14 threads per inch in both families, but 60 against 55 degrees (ASME B1.20.1, ISO 7-1)."""
    for one, two in ((Standard.NPT, other), (other, Standard.NPT)):
        male, female = end(one, MALE, inches * 0.0254), end(two, FEMALE, inches * 0.0254)
        assert mating(male, female) is None
        assert "NPT never mates" in refusal(male, female)
        assert "60 against 55 degree" in refusal(female, male)


@pytest.mark.parametrize(("standard", "mate"), list(MATES))
def test_threads_of_different_sizes_do_not_mate(standard: Standard, mate: Standard) -> None:
    """The nominal size is part of the thread's name (ISO 228-1, ISO 7-1, ASME B1.20.1)."""
    assert mating(end(standard, MALE, 0.0127), end(mate, FEMALE, 0.01905)) is None


def test_a_thread_mates_within_rounding_of_its_nominal_size() -> None:
    """A size written in millimetres to two decimals is the same thread."""
    assert mating(end(Standard.G, MALE, 0.01905), end(Standard.G, FEMALE, 0.01906)) is not None


@pytest.mark.parametrize(
    ("inside_mm", "tail_mm", "goes_on"),
    [(16.0, 16.0, True), (16.0, 16.5, True), (16.5, 16.0, True), (16.0, 15.4, False), (19.0, 16.0, False), (12.5, 12.0, True)],
)
def test_a_hose_goes_on_a_tail_of_its_own_size(inside_mm: float, tail_mm: float, goes_on: bool) -> None:
    """Half a millimetre either way is stretched or clamped down: common practice, no published source."""
    hose = end(Standard.HOSE, FEMALE, inside_mm / 1e3, outside_m=0.022)
    found = mating(hose, end(Standard.HOSE, MALE, tail_mm / 1e3))
    assert (found is not None) == goes_on
    if found is not None:
        assert found.closure is Closure.CLAMP
        assert found.size_m == 0.022, "a clamp goes round the outside of the hose"


def test_hose_does_not_go_on_hose_nor_tail_on_tail() -> None:
    """Two tails need a stub of hose between them."""
    for gender in Gender:
        assert mating(end(Standard.HOSE, gender, 0.016), end(Standard.HOSE, gender, 0.016)) is None


def test_metric_pipe_is_never_glued_into_inch_pipe() -> None:
    """25 mm and 3/4 in (26.7 mm outside) look alike; common practice, no published source."""
    metric, inch = end(Standard.SLIP_MM, MALE, 0.025), end(Standard.SLIP_IN, FEMALE, 0.025)
    assert mating(metric, inch) is None
    assert mating(end(Standard.SLIP_IN, MALE, 0.025), end(Standard.SLIP_MM, FEMALE, 0.025)) is None
    assert refusal(metric, inch) == "metric glued pipe does not fit inch glued pipe"
    for standard in (Standard.SLIP_MM, Standard.SLIP_IN):
        glued = mating(end(standard, MALE, 0.025), end(standard, FEMALE, 0.025))
        assert glued is not None
        assert glued.closure is Closure.CEMENT


def test_a_makers_union_fits_only_its_own_key() -> None:
    """Union nuts are the maker's own: common practice, no published source."""
    male = end(Standard.UNION, MALE, key="CQM")
    found = mating(male, end(Standard.UNION, FEMALE, key="CQM"))
    assert found is not None
    assert found.closure is Closure.NONE
    assert mating(male, end(Standard.UNION, FEMALE, key="CQS")) is None


def test_an_open_end_mates_with_nothing() -> None:
    """An open end stands in the tank."""
    for standard in Standard:
        assert mating(end(Standard.OPEN, MALE), end(standard, FEMALE)) is None


@pytest.mark.parametrize(
    ("one", "other", "words"),
    [
        (end(Standard.G, MALE), end(Standard.RC, FEMALE), "a parallel G male does not seal in a taper Rc female"),
        (end(Standard.GHT, MALE, 0.01905), end(Standard.G, FEMALE, 0.01905), "garden-hose thread does not fit"),
        (end(Standard.HOSE, FEMALE, 0.019), end(Standard.HOSE, MALE, 0.016), "19 mm hose does not go on a 16 mm tail"),
        (end(Standard.G, MALE), end(Standard.G, MALE), "both ends are male: G 1/2 male, bore 12 mm"),
        (end(Standard.G, MALE), end(Standard.HOSE, FEMALE, 0.016), "G 1/2 male, bore 12 mm does not fit 16 mm hose"),
        (end(Standard.UNION, MALE, key="A"), end(Standard.UNION, FEMALE, key="B"), "maker's union A male"),
        (end(Standard.SLIP_MM, MALE, 0.02), end(Standard.SLIP_MM, FEMALE, 0.025), "metric glued 20 mm pipe end"),
        (end(Standard.OPEN, MALE), end(Standard.G, FEMALE), "open end, bore 12 mm does not fit"),
    ],
)
def test_a_refusal_says_what_does_not_fit_in_a_keepers_words(one: End, other: End, words: str) -> None:
    """The reason that is shown beside a joint that does not close."""
    assert words in refusal(one, other)


ENDS = st.builds(
    End,
    standard=st.sampled_from(list(Standard)),
    size_m=st.sampled_from([0.0127, 0.016, 0.01905, 0.0254]),
    gender=st.sampled_from(list(Gender)),
    bore_m=st.sampled_from([0.010, 0.014]),
    outside_m=st.sampled_from([0.0, 0.022]),
    key=st.sampled_from(["", "CQM"]),
)


@given(ENDS, ENDS)
def test_mating_does_not_depend_on_which_end_is_named_first(one: End, other: End) -> None:
    """A joint is the same seen from either side."""
    assert mating(one, other) == mating(other, one)


@given(ENDS, ENDS)
def test_there_is_a_refusal_exactly_when_two_ends_do_not_mate(one: End, other: End) -> None:
    """No silent refusal, and no refusal of what fits."""
    assert (refusal(one, other) == "") == (mating(one, other) is not None)


@given(ENDS, ENDS)
def test_ends_with_equal_faces_mate_alike(one: End, other: End) -> None:
    """The bore decides the loss, never the fit."""
    assert mating(replace(one, bore_m=0.001), other) == mating(one, other)


@pytest.mark.parametrize(
    ("metres", "name"),
    [(0.003175, "1/8"), (0.00635, "1/4"), (0.009525, "3/8"), (0.0254, "1"), (0.03175, "1 1/4"), (0.0508, "2")],
)
def test_inch_sizes_are_named_as_threads_are(metres: float, name: str) -> None:
    """1 in is 25.4 mm exactly (international inch, 1959)."""
    assert inch_name(metres) == name

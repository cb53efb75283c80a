"""Standard ends against the tables of their standards, and the usual bores against what leaves water through."""

from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.ends import End, Gender, Standard, inch_words, mating, refusal
from optimizer.model.standard_ends import HOSES_MM, PIPES_MM, hose_outside_m, inch_pipe_m, thread, usual_bore, which_thread

DEMO = Path(__file__).parents[2] / "parts_demo"

# ISO 228-1:2000, table 1: size in inches, threads per inch, major and minor diameter in mm. The first three as a handbook
# reprints them of ISO 7-1 (Mechanical Engineer's Pocket Book, section 4.1.38), which has the same thread; others from memory.
ISO_228 = (
    (0.125, 28, 9.728, 8.566),
    (0.25, 19, 13.157, 11.445),
    (0.375, 19, 16.662, 14.950),
    (0.5, 14, 20.955, 18.631),
    (0.75, 14, 26.441, 24.117),
    (1.0, 11, 33.249, 30.291),
    (1.25, 11, 41.910, 38.952),
    (1.5, 11, 47.803, 44.845),
    (2.0, 11, 59.614, 56.656),
)

# ASTM D1785 table 1, which has the outsides of ASME B1.20.1: size in inches, outside in mm; inside of schedule 40 in inches
# (outside less twice the least wall of table 2), as public copies of both tables have them.
ASTM_D1785 = (
    (0.25, 13.72, 0.364),
    (0.375, 17.14, 0.493),
    (0.5, 21.34, 0.622),
    (0.75, 26.67, 0.824),
    (1.0, 33.40, 1.049),
    (1.25, 42.16, 1.380),
    (1.5, 48.26, 1.610),
    (2.0, 60.32, 2.067),
)

# EN ISO 1452-2, PN 16, from memory: outside (ISO 161-1) and wall in mm
EN_1452 = ((20.0, 1.5), (25.0, 1.9), (32.0, 2.4), (40.0, 3.0), (50.0, 3.7), (63.0, 4.7))


@pytest.mark.parametrize(("size", "per_inch", "major", "minor"), ISO_228)
def test_parallel_and_taper_threads_of_55_degrees(size: float, per_inch: float, major: float, minor: float) -> None:
    """ISO 228-1, and ISO 7-1 with the same diameters at the gauge plane."""
    for standard, source in (
        (Standard.G, "ISO 228-1"),
        (Standard.R, "ISO 7-1"),
        (Standard.RC, "ISO 7-1"),
        (Standard.RP, "ISO 7-1"),
    ):
        found = thread(standard, size * 0.0254)
        assert found is not None and found.source == source
        assert found.per_inch == per_inch
        assert found.major_m * 1e3 == pytest.approx(major, abs=5e-4)
        assert found.minor_m * 1e3 == pytest.approx(minor, abs=2e-3)


@pytest.mark.parametrize(("size", "outside", "inside_in"), ASTM_D1785)
def test_american_taper_threads_and_inch_pipe(size: float, outside: float, inside_in: float) -> None:
    """NPT is cut on the outside of its pipe (ASME B1.20.1); inch sockets take pipe of that outside (ASTM D1785, D2466)."""
    found = thread(Standard.NPT, size * 0.0254)
    assert found is not None and found.source == "ASME B1.20.1"
    assert found.major_m * 1e3 == pytest.approx(outside, abs=0.01)
    assert inch_pipe_m(size * 0.0254) * 1e3 == pytest.approx(outside, abs=0.05)
    bore = usual_bore(Standard.SLIP_IN, Gender.FEMALE, inch_pipe_m(size * 0.0254))
    assert bore is not None and "ASTM D1785" in bore.source
    assert bore.bore_m * 1e3 == pytest.approx(inside_in * 25.4, abs=0.06)


@pytest.mark.parametrize(("outside", "wall"), EN_1452)
def test_metric_glued_ends(outside: float, wall: float) -> None:
    assert PIPES_MM[outside] == wall
    bore = usual_bore(Standard.SLIP_MM, Gender.FEMALE, outside * 1e-3)
    assert bore is not None and "EN ISO 1452-2" in bore.source
    assert bore.bore_m * 1e3 == pytest.approx(outside - 2.0 * wall, abs=0.006)


def test_garden_hose_has_one_size() -> None:
    """3/4-11.5 NH: 1.0625 in across (ASME B1.20.7)."""
    found = thread(Standard.GHT, 0.01905)
    assert found is not None
    assert (found.per_inch, found.major_m) == (11.5, pytest.approx(1.0625 * 0.0254))
    assert thread(Standard.GHT, 0.0127) is None
    assert thread(Standard.R, 5 / 8 * 0.0254) is None  # ISO 7-1 leaves out what ISO 228-1 has
    assert thread(Standard.G, 5 / 8 * 0.0254) is not None


def test_every_usual_bore_lies_between_its_bounds_and_lets_its_end_stand_round_it() -> None:
    sizes = {
        Standard.HOSE: [0.009, 0.0127, 0.016, 0.025],
        **{each: [size * 0.0254 for size, *_ in ISO_228] for each in (Standard.G, Standard.R, Standard.RC, Standard.RP)},
        Standard.NPT: [size * 0.0254 for size, *_ in ASTM_D1785],
        Standard.SLIP_MM: [outside * 1e-3 for outside, _ in EN_1452],
        Standard.SLIP_IN: [inch_pipe_m(size * 0.0254) for size, *_ in ASTM_D1785],
    }
    for standard, gender in ((standard, gender) for standard in sizes for gender in Gender):
        found = [usual_bore(standard, gender, size) for size in sizes[standard]]
        bores = [each.bore_m for each in found if each is not None]
        assert len(bores) == len(found)
        assert bores == sorted(bores)
        for each, size in zip(found, sizes[standard], strict=True):
            cut = thread(standard, size)
            assert each is not None and each.low_m <= each.bore_m <= each.high_m
            assert each.high_m < (size if cut is None else cut.minor_m) or (standard, gender) == (Standard.HOSE, Gender.FEMALE)


def test_four_in_five_parts_of_the_demo_catalog_are_bored_within_the_bounds() -> None:
    """The catalog is invented, so this only says that the two do not contradict each other."""
    within = []
    for part in api.read_catalog(DEMO / "catalog").parts.values():
        for side in ("inlet", "outlet", "side"):
            end = getattr(part, side, None)
            usual = None if end is None else usual_bore(end.standard, end.gender, end.size_m)
            if usual is not None and usual.low_m < usual.high_m:
                within.append(usual.low_m - 1e-9 <= end.bore_m <= usual.high_m + 1e-9)
    assert len(within) > 400
    assert sum(within) >= 0.8 * len(within)


def test_nothing_is_usual_of_a_makers_union() -> None:
    assert usual_bore(Standard.UNION, Gender.MALE, 0.0) is None
    assert usual_bore(Standard.G, Gender.MALE, 0.020) is None


def test_which_thread_says_what_tells_them_apart() -> None:
    half, one = which_thread(0.0127), which_thread(0.0254)
    assert "all have 14 threads per inch" in half and "21.0 mm across" in half
    assert "11 threads per inch, NPT 11.5" in one
    assert "55 degrees" in half and "60 degrees" in half


def test_hoses_by_their_inside() -> None:
    assert [round(hose_outside_m(inside * 1e-3) * 1e3, 3) for inside in HOSES_MM] == list(HOSES_MM.values())
    assert hose_outside_m(5 / 8 * 0.0254) == pytest.approx(7 / 8 * 0.0254)  # a wall of 1/8 in


def test_inch_hose_against_millimetres_is_explained() -> None:
    """5/8 in is 15.875 mm (1 in = 25.4 mm, NIST SP 811)."""

    def end(size_m: float, gender: Gender) -> End:
        return End(standard=Standard.HOSE, size_m=size_m, gender=gender, bore_m=0.009, outside_m=0.022)

    hose, tail = end(0.016, Gender.FEMALE), end(0.015875, Gender.MALE)
    joined = mating(hose, tail)
    assert joined is not None
    assert joined.loose == "16 mm hose sits loosely on a 15.88 mm tail (5/8 in is 15.9 mm)"
    assert refusal(end(0.012, Gender.FEMALE), end(0.0127, Gender.MALE)).endswith("(1/2 in is 12.7 mm)")
    assert refusal(end(0.012, Gender.FEMALE), end(0.016, Gender.MALE)) == "12 mm hose does not go on a 16 mm tail"
    for size_m in (0.016, 0.0165, 0.01605):  # as wide, or pushed on with force
        pushed = mating(end(0.016, Gender.FEMALE), end(size_m, Gender.MALE))
        assert pushed is not None and not pushed.loose
    assert inch_words(0.0254) == "1 in is 25.4 mm"

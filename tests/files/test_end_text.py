"""Ends as text. Thread sizes: ISO 228-1, ISO 7-1, ASME B1.20.1 (names in inches); 1 in = 25.4 mm, NIST SP 811."""

import pytest

from optimizer.errors import BadValue
from optimizer.files.end_text import EXAMPLES, parse_end
from optimizer.model.ends import Gender, Standard, mating


@pytest.mark.parametrize(
    ("text", "standard", "gender", "size_m"),
    [
        ("tail 16 mm", Standard.HOSE, Gender.MALE, 0.016),
        ("hose 16 mm", Standard.HOSE, Gender.FEMALE, 0.016),
        ("hose 5/8 in", Standard.HOSE, Gender.FEMALE, 0.015875),
        ("G 3/4 in male", Standard.G, Gender.MALE, 0.01905),
        ('R 1/2" male', Standard.R, Gender.MALE, 0.0127),
        ("Rc 1/2 in female", Standard.RC, Gender.FEMALE, 0.0127),
        ("Rp 1 in female", Standard.RP, Gender.FEMALE, 0.0254),
        ("NPT 1 1/2 in female", Standard.NPT, Gender.FEMALE, 0.0381),
        ("GHT 3/4 in male", Standard.GHT, Gender.MALE, 0.01905),
        ("slip mm 25 mm female", Standard.SLIP_MM, Gender.FEMALE, 0.025),
        ("slip in 26.7 mm male", Standard.SLIP_IN, Gender.MALE, 0.0267),
        ("slip in 3/4 in male", Standard.SLIP_IN, Gender.MALE, 0.0267),
        ("BSPP 3/4 in male", Standard.G, Gender.MALE, 0.01905),
        ("BSPT 3/4 in male", Standard.R, Gender.MALE, 0.01905),
        ("BSPT 3/4 in female", Standard.RC, Gender.FEMALE, 0.01905),
        ("open", Standard.OPEN, Gender.MALE, 0.0),
    ],
)
def test_each_family(text: str, standard: Standard, gender: Gender, size_m: float) -> None:
    face = parse_end(text)
    assert (face.standard, face.gender, face.key) == (standard, gender, "")
    assert face.size_m == pytest.approx(size_m, rel=1e-12)
    assert parse_end(text.upper()) == face


def test_the_key_of_a_union_keeps_its_case() -> None:
    assert parse_end("union C1a female").key == "C1a"
    assert parse_end("UNION C1A female").key == "C1A"


def test_every_example_is_an_end() -> None:
    assert len({parse_end(example) for example in EXAMPLES}) == len(EXAMPLES)


@pytest.mark.parametrize(
    "text",
    ["", " ", "tail", "tail 16", "tail 16 l", "tail -16 mm", "tail 0.1 mm", "tail 16 mm male", "G 3/4 male", "G male",
     "G 20 mm male", "G 0.7 in male", "G 9 in male", "slip 25 mm male", "slip mm male", "union", "union A",
     "union A B male",
     "union A/B male", "open wide", "3/4 in male", "tail 16 mm" + " " * 60 + "x", "G 3/4 in male female"],
)  # fmt: skip
def test_what_is_no_end(text: str) -> None:
    with pytest.raises(BadValue) as caught:
        parse_end(text)
    assert caught.value.what
    assert caught.value.cure.startswith(("Write", "Near", "Threads"))


def test_a_hose_end_is_as_wide_as_its_size() -> None:
    assert parse_end("hose 16 mm").usual_bore_m == 0.016
    assert parse_end("hose 16 mm").is_hose
    assert not parse_end("tail 16 mm").is_hose


def test_ends_as_written_mate_as_the_standards_say() -> None:
    """ISO 228-1 parallel on a washer; 60 degree NPT never meets 55 degree G (ASME B1.20.1, ISO 228-1)."""
    male = parse_end("G 3/4 in male").with_bore(0.015)
    assert mating(male, parse_end("G 3/4 in female").with_bore(0.017)) is not None
    assert mating(male, parse_end("NPT 3/4 in female").with_bore(0.017)) is None
    assert mating(parse_end("tail 16 mm").with_bore(0.012), parse_end("hose 16 mm").with_bore(0.016)) is not None

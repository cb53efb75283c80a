"""What a keeper says of a tank is read as meant, or refused with a cure."""

import pytest

from optimizer.errors import BadValue
from optimizer.files.interview_questions import HoleRow, Screen, questions
from optimizer.model.catalog import Catalog

SLOTS = {slot.key: slot for asked in questions(Catalog(parts={}, products=()), "hall") for slot in asked.slots}


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("taps", "Yes", True),
        ("water", "sea", 35.0),
        ("suction_size", "16/22 mm", (0.016, 0.022)),
        ("suction_size", "5/8 in", (0.015875, 0.0)),
        ("suction_bends", "2 bends", 2),
        ("days", "6 weeks", 42.0),
        ("days", "new", 0.0),
        ("guard", "sponge 20 ppi", Screen(form="sponge", pores_ppi=20.0)),
        ("trays", "Coarse foam, wool", ("foam 10 ppi", "floss")),
        ("outlet", "bar 16 x 3 mm", HoleRow(form="bar", holes=16, hole_m=0.003)),
        ("height", "5 cm above", 0.05),
        ("height", "2 cm under", -0.02),
        ("devices", "UV", ("ultraviolet",)),
        ("devices", "none", None),
        ("pump", "1800 l/h", pytest.approx(0.0005)),
        ("animals", "Fry, shrimps", ("fry", "shrimp")),
        ("wish", "4 per hour", ("turnover", 4.0)),
        ("wish", "none", None),
    ],
)
def test_what_is_said_is_read(key: str, text: str, value: object) -> None:
    assert SLOTS[key].reads(text) == value


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("taps", "perhaps"), ("water", "brackish"), ("suction_size", "1 m"), ("suction_bends", "101 bends"), ("days", "11 years"),
        ("guard", "grid"), ("trays", "a, b, c"), ("outlet", "bar 0 x 3 mm"), ("height", "5 cm"), ("devices", "flow meter"),
        ("pump", "0 l/h"), ("animals", "eels"), ("wish", "1001 per hour"), ("wish", "0 l/h"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_a_cure(key: str, text: str) -> None:
    with pytest.raises(BadValue) as told:
        SLOTS[key].reads(text)
    assert told.value.cure

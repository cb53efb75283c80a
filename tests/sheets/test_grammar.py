"""Words and numbers of single texts: what could be taken for something else, and must not be."""

from __future__ import annotations

import pytest

from optimizer.errors import BadValue
from optimizer.sheets.grammar import kind_of, read_text, worded
from optimizer.sheets.parts import made_of


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("hose 16/22, holds 2 bar", "hose"),
        ("light green hose 16/22", "hose"),
        ("LED light 12 W", "not of a loop"),
        ("net 6 in", "not of a loop"),
        ("CO2 hose 4/6", "not of a loop"),
        ("pump 1000 l/h, 16 mm tail", "pump"),
        ("impeller for pump 1000 l/h", "not of a loop"),
        ("utility pump 950 gph, 10' shutoff", "pump"),
        ("hose tail for pump", "fitting"),
        ("hose clips 16-27", "clamp"),
        ("tap for hose 16", "valve"),
        ("coupling with two taps", "coupling"),
        ("O-ring 1/2 BSP", "washer"),
        ("ceramic rings", "rings"),
        ("bar 16, 30 holes", "bar"),
        ("aquarium castle", ""),
    ],
)
def test_what_a_text_is_about(text: str, kind: str) -> None:
    """The kind that a person at the counter would name first."""
    assert kind_of(worded(text, {})) == kind


def cells(text: str, **answers: str) -> dict[str, str]:
    said = worded(text, {})
    return made_of(read_text(said, kind_of(said)), answers).cells


@pytest.mark.parametrize(
    ("text", "inlet", "outlet"),
    [
        ('1" NPT male to 25 mm barb', "NPT 1 in male", "tail 25 mm"),
        ("hose tail 16mm x 3/4 BSPM", "G 3/4 in male", "tail 16 mm"),
        ("TAIL 16 X ½ BSPT MALE", "R 1/2 in male", "tail 16 mm"),
        ("hose tail 19 x R 3/4 female", "Rc 3/4 in female", "tail 19 mm"),
        ("hose barb 5/8 in x 1/2 MPT", "NPT 1/2 in male", "tail 15.88 mm"),
        ("hose tail 1 1/2 in x G 1 1/4 male", "G 1 1/4 in male", "tail 38.1 mm"),
        ("joiner 19/16", "tail 19 mm", "tail 16 mm"),
        ("reducer 25>19mm", "tail 25 mm", "tail 19 mm"),
        ("nipple G 1/2 male x G 3/4 male", "G 1/2 in male", "G 3/4 in male"),
        ('PVC male adapter 3/4" slip x MPT', "NPT 3/4 in male", "slip in 26.67 mm female"),
        ("PVC socket 25 mm slip x G3/4 F", "G 3/4 in female", "slip mm 25 mm female"),
        ("garden hose thread 3/4 female to 16mm barb", "GHT 3/4 in female", "tail 16 mm"),
    ],
)
def test_ends_of_fittings(text: str, inlet: str, outlet: str) -> None:
    """Family, size and gender as they are said, whatever stands first."""
    found = cells(text)
    assert (found["inlet"], found["outlet"]) == (inlet, outlet)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("hose tail 16mm x 3/4 thread", "family"),
        ("hose tail 16mm x 3/4", "family"),
        ("hose tail 16 x G 3/4", "male or female"),
        ("hose tail G 3/4 male", "what hose"),
        ("joiner", "its ends"),
        ("joiner 160", "no size of a hose"),
        ("washer R 1/2", "taper"),
        ('sponge prefilter for 3/4" pipe', "pipe"),
        ("pump 20000 l/h 2.3 m 28 W, 16 mm", "power"),
        ("hose 16/22", "length"),
        ("hose per metre", "how wide"),
        ("clamp", "closes on"),
    ],
)
def test_what_is_not_said_is_never_guessed(text: str, why: str) -> None:
    """A reason, and something to write."""
    with pytest.raises(BadValue, match=why) as caught:
        cells(text)
    assert caught.value.cure


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("hose 16/22 25m roll", {"inside_mm": "16", "outside_mm": "22"}),
        ("hose 22/16 per m", {"inside_mm": "16", "outside_mm": "22"}),
        ('tubing 5/8" ID x 7/8" OD per ft', {"inside_mm": "15.875", "outside_mm": "22.225", "step_cm": "30.48"}),
        ("clamp 27-16", {"low_mm": "16", "high_mm": "27"}),
        ('worm clamp #12, 11/16" - 1-1/4"', {"low_mm": "17.46", "high_mm": "31.75"}),
        ("foam 20 ppi 500 x 500 x 50 mm", {"volume_l": "12.5", "pores_ppi": "20"}),
        ("spray bar 16 mm 24 holes of 2.5 mm", {"holes": "24", "hole_mm": "2.5", "inlet": "tail 16 mm"}),
        ("strainer 16 mm, 2.5 mm slots", {"form": "slots", "opening_mm": "2.5", "outlet": "tail 16 mm"}),
        ("pump 33 l/min head 220 cm 0.03 kW, 16 mm", {"max_flow_l_h": "1980", "max_head_m": "2.2", "power_w": "30"}),
    ],
)
def test_figures_of_other_kinds(text: str, found: dict[str, str]) -> None:
    """Sizes, ranges, holes and labels, in the units of the catalog."""
    assert found.items() <= cells(text).items()

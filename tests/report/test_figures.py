"""Figures: the same bytes every time, inert, told apart without colour, with the numbers of the answer beside them."""

import re
from functools import cache
from xml.etree import ElementTree

import matplotlib
import pytest
from report_cases import dossier, hostile, read_back

from optimizer.model.route import RoutePlace, Spent
from optimizer.report.figures import paper
from optimizer.report.figures.album import NAMES, album
from optimizer.report.figures.loop_drawing import drawn
from optimizer.report.figures.picture import Number
from optimizer.report.measures import SYSTEMS

LOOKS = (paper.NOW, paper.FREE, paper.BEST, paper.DIRTY)


@cache
def svg() -> dict[str, str]:
    """All figures of the dossier, drawn once, and only where tests of them run."""
    return {name: paper.svg(picture) for name, picture in album(dossier()).items()}


def test_a_whole_dossier_has_every_figure() -> None:
    assert tuple(svg()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_svg_has_a_title_a_description_and_nothing_that_runs_or_styles(name: str) -> None:
    root = ElementTree.fromstring(svg()[name])
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "title", "desc", "g", "path", "text", "tspan", "use", "defs", "clipPath", "rect", "pattern"}
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]
    names = {attribute for element in root.iter() for attribute in element.attrib}
    assert "style" not in names and not any(attribute.startswith("on") for attribute in names)
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)) and all(str(each).startswith(f"{name}-") for each in ids)
    used = set(re.findall(r'(?:url\(|href=")#([^")]+)', svg()[name]))
    assert used <= set(ids)


def test_figures_are_the_same_whatever_the_user_has_set_and_leave_that_alone() -> None:
    before = matplotlib.rcParams["lines.linewidth"]
    matplotlib.rcParams["lines.linewidth"] = 9.0
    matplotlib.rcParams["font.size"] = 30.0
    try:
        again = {name: paper.svg(picture) for name, picture in album(dossier()).items()}
        assert matplotlib.rcParams["font.size"] == 30.0
    finally:
        matplotlib.rcdefaults()
        matplotlib.rcParams["lines.linewidth"] = before
    assert again == svg()


def test_rows_are_told_apart_without_colour() -> None:
    """Each by its dashes, its mark and its hatch alone."""
    for which in (lambda look: str(look.dashes), lambda look: look.mark, lambda look: look.hatch):
        assert len({which(look) for look in LOOKS}) == len(LOOKS)


@pytest.mark.parametrize("look", LOOKS)
def test_colours_stand_out_from_white(look: paper.Look) -> None:
    """WCAG 2.1, success criterion 1.4.3: a contrast ratio of at least 4.5, by its formula for relative luminance."""
    channels = [int(look.colour[n : n + 2], 16) / 255.0 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert 1.05 / (luminance + 0.05) >= 4.5


def test_png_is_a_picture() -> None:
    """Signature and header of PNG (ISO/IEC 15948): width in the header is that of the sheet at its resolution."""
    made = paper.png(album(dossier())["fall"])
    assert made[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(made[16:20], "big") == round(paper.WIDTH_IN * paper.PNG_DPI)


def test_hostile_names_are_letters_in_a_figure() -> None:
    for name, picture in album(read_back(hostile())).items():
        root = ElementTree.fromstring(paper.svg(picture))
        tags = {element.tag.rpartition("}")[2] for element in root.iter()}
        assert not tags & {"script", "img", "style", "foreignObject", "a"}, name


def test_us_units_change_what_is_shown_and_not_what_is_stored() -> None:
    metric, us = (album(dossier(), units)["front"] for units in ("metric", "us"))
    for one, two in zip(metric.rows, us.rows, strict=True):
        assert isinstance(one[1], Number) and isinstance(two[1], Number)
        assert one[1].value == two[1].value
        # 1 l/h is 0.264172 US gallons per hour (NIST SP 811)
        assert float(two[1].text.replace("\0", "")) == pytest.approx(one[1].value * 3.6e6 * 0.264172, abs=0.51)


def _spent(flow_lh: float, part: str = "part") -> Spent:
    return Spent(part=part, flow_m3s=flow_lh / 3.6e6)


def test_branches_within_a_branch_are_drawn_below_it_and_not_as_something_taken_out() -> None:
    """The place in the branch has no part of its own: it says where it goes on, and what passes it now and then."""
    result = dossier().result
    assert result is not None
    inside = [("near", "near.guard", 400.0, "outer"), ("pair", "pair", 200.0, "outer"), ("mid", "mid.guard", 200.0, "pair")]
    route = [RoutePlace(place="outer", kind="branches", now=Spent(), then=Spent())]
    for branch, place, flow, fork in inside:
        kind, part = ("branches", "") if place == "pair" else ("guard", "mesh")
        sides = {"now": _spent(flow, part), "then": _spent(flow + 20.0, part)}
        route.append(RoutePlace(place=place, kind=kind, fork=fork, branch=branch, **sides))
    texts = [text.get_text() for text in drawn(result, route, SYSTEMS["metric"]).axes[0].texts]
    assert {"goes on below", "within pair,", "only mid"} <= set(texts)
    assert not any(text.startswith("out:") for text in texts)
    assert sum(text.startswith("200 l/h now, 220 l/h") for text in texts) == 2

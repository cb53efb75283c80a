"""Blocks of a text as sections of a page."""

import re
from html import unescape

import pytest

from optimizer.report.html.blocks import sections
from optimizer.report.layout import GLUE, aligned, bullets, columns, finished, long_heading, paragraph

HOSTILE = '<script>alert(1)</script>" onload="'


def test_page_has_all_that_the_text_has() -> None:
    """Headings, paragraphs, lists, tables and columns keep their words, and their order within a section."""
    blocks = [
        "", "Mind", *bullets(["one two", f"three{GLUE}l/h"]), *paragraph("and so on", "  ", "    "),
        "", *long_heading("Next tests, by what they tell"),
        *aligned([("", "took", ""), ("", "s", ""), ("fill", "61.2", "x")], heads=2),
        *columns([("2", 3), ("tail", 9)], last="4.50"), "", *paragraph("apart"),
    ]  # fmt: skip
    found = sections(blocks)
    assert [each.heading for each in found] == ["Mind", "Next tests, by what they tell", ""]
    shown = " ".join(f"{each.heading} {re.sub('<[^>]*>', ' ', each.body)}" for each in found)
    printed = finished(blocks).replace("- ", "")
    assert unescape(shown).replace("\u00a0", " ").split() == printed.split()
    assert '<th scope="col" class="n">took<br>s</th>' in found[1].body and '<th scope="row">fill</th>' in found[1].body


@pytest.mark.parametrize(
    "blocks", [bullets([HOSTILE]), paragraph(HOSTILE), aligned([(HOSTILE, HOSTILE)]), columns([(HOSTILE, 0)])]
)
def test_hostile_text_is_inert(blocks: list) -> None:  # type: ignore[type-arg]
    """Wherever it stands."""
    (found,) = sections(["", *long_heading(HOSTILE), *blocks])
    assert "<script" not in found.body and '" onload' not in found.body

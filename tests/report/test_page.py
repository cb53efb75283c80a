"""The page holds the answer and nothing that runs, whatever the names in it; the same answer gives the same page."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from report_cases import dossier, hostile, read_back, saved

from optimizer import api
from optimizer.model.dossiers import BLOCKS, Dossier
from optimizer.report.html.page import page

PAGE = page(dossier())
HEADINGS = ["Verdict", "Shopping list", "Order of work", "Before and after", "Other sums", "Mind", "Measure before and after"]
HEADINGS += ["How sure it is", "What it rests on", "Make it again", "Words"]


class Seen(HTMLParser):
    """All tags with their attributes, and the text of headings."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[str] = []
        self._open = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._open = tag

    def handle_data(self, data: str) -> None:
        if self._open == "h2" and data.strip():
            self.headings.append(data)


def _is_inert(text: str) -> None:
    seen = Seen(text)
    assert not {tag for tag, _ in seen.tags} & {
        "script",
        "img",
        "iframe",
        "object",
        "embed",
        "link",
        "base",
        "form",
        "animate",
    }
    for _, attributes in seen.tags:
        assert not any(name.startswith("on") or name in ("style", "src", "action", "srcdoc") for name in attributes)
        assert (attributes.get("href") or "#").startswith("#")
    assert all(attributes.keys() == {"class", "href"} for tag, attributes in seen.tags if tag == "a")
    assert sum(tag == "style" for tag, _ in seen.tags) == 1
    assert re.findall(r"https?://[^\"' <]+", text) in ([], ["http://www.w3.org/2000/svg"] * text.count("<svg "))


def test_sections_stand_in_their_order() -> None:
    assert Seen(PAGE).headings == HEADINGS


def test_the_policy_allows_the_style_sheet_alone() -> None:
    """Hash as Content Security Policy Level 3 has it: base64 of SHA-256 of the text of the element."""
    style = PAGE[PAGE.index("<style>") + 7 : PAGE.index("</style>")]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = next(str(a["content"]) for tag, a in Seen(PAGE).tags if tag == "meta" and a.get("http-equiv"))
    assert policy.split("; ") == ["default-src 'none'", "base-uri 'none'", "form-action 'none'", f"style-src 'sha256-{digest}'"]
    assert PAGE.index("Content-Security-Policy") < PAGE.index("<style>")


def test_nothing_in_the_page_runs_or_is_loaded() -> None:
    _is_inert(PAGE)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_hostile_names_are_letters(units: str) -> None:
    text = page(read_back(hostile()), units)
    _is_inert(text)
    assert "{{ 7 * 7 }}" in text and "\x1b" not in text and "\u202e" not in text


def test_a_saved_answer_gives_the_same_page() -> None:
    assert page(read_back(saved())) == PAGE


def test_a_front_without_a_point_makes_no_empty_section() -> None:
    front = dossier().front
    assert front is not None
    assert 'id="sums"' in page(Dossier(front=front))
    assert 'id="sums"' not in page(Dossier(front=replace(front, points=(), knee=None)))


@pytest.mark.parametrize("name", BLOCKS)
def test_each_answer_has_a_page_of_its_own(name: str) -> None:
    block = getattr(dossier(), name)
    text = page(Dossier(**{name: block}))
    _is_inert(text)
    assert "saved without the version" in text
    assert text == api.page(block)


def test_what_is_bought_can_be_ticked_off() -> None:
    ticks = [attributes for tag, attributes in Seen(PAGE).tags if tag == "input"]
    assert all(each["type"] == "checkbox" for each in ticks)
    labelled = {attributes["for"] for tag, attributes in Seen(PAGE).tags if tag == "label"}
    assert all(each.get("aria-label") or each["id"] in labelled for each in ticks)
    assert sum(str(each.get("aria-label", "")).startswith("got: ") for each in ticks) == len(dossier().shopping)


def test_cautions_are_all_there() -> None:
    """Mains, drip loop, spill with its sum, air-break hole, leaks and animals: what the keeper must be told."""
    text = re.sub(r"<[^>]+>", "", PAGE)
    for words in (
        "RCD (GFCI)",
        "drip loop",
        "licensed electricians",
        "Worst spill",
        "air-break hole",
        "Watch for leaks",
        "swimmers",
    ):
        assert words in text
    spill = dossier().spill
    assert spill is not None
    assert f"{spill.worst_m3 * 1e3:.0f}\u00a0l" in text


def test_fill_times_are_volume_over_flow() -> None:
    """10 l over the flow, worked out here."""
    result = saved()["result"]
    block = PAGE[PAGE.index('id="fill-times"') :]
    found = [float(value) for value in re.findall(r'<data value="([^"]+)">', block[: block.index("</table>")])]
    for row in ("now", "spend_nothing", "best"):
        assert any(abs(each - 0.01 / result[row]["flow_m3s"]) < 1e-6 for each in found)


def test_notebooks_show_the_page_in_a_frame_that_runs_nothing() -> None:
    block = dossier().order
    assert block is not None
    shown = block._repr_html_()
    assert shown is not None
    tags = Seen(shown).tags
    assert [tag for tag, _ in tags] == ["iframe"]
    assert tags[0][1]["sandbox"] == ""
    # an address like #word would be one in the notebook (HTML Living Standard, fallback base URL of srcdoc documents)
    assert tags[0][1]["srcdoc"] == api.page(block).replace('<a class="word" href="#', '<a class="word" data-to="#')


def test_json_of_a_dossier_is_plain() -> None:
    assert json.loads(json.dumps(dossier().to_dict(), allow_nan=False))["schema"] == "fullbore-dossier/4"

"""The page holds the answer and nothing that runs, whatever the names in it; the same answer gives the same page."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pytest
from report_cases import dossier, hostile, read_back, saved

from optimizer import api
from optimizer.model.dossiers import BLOCKS, Dossier
from optimizer.report.html.ladder import ladder
from optimizer.report.html.page import page
from optimizer.report.spoken import spoken

HEADINGS = ["Verdict", "What the money buys", "What to buy", "Mind", "The loop in the order of the water"]
HEADINGS += ["Shopping list", "Order of work", "Before and after", "Other sums", "All cautions", "Measure before and after"]
HEADINGS += ["How sure it is", "What it rests on", "Make it again", "Words"]


@cache
def whole_page() -> str:
    """The page of the dossier, made once, and only where tests of it run."""
    return page(dossier())


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
    assert Seen(whole_page()).headings == HEADINGS


def test_the_policy_allows_the_style_sheet_alone() -> None:
    """Hash as Content Security Policy Level 3 has it: base64 of SHA-256 of the text of the element."""
    style = whole_page()[whole_page().index("<style>") + 7 : whole_page().index("</style>")]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = next(str(a["content"]) for tag, a in Seen(whole_page()).tags if tag == "meta" and a.get("http-equiv"))
    assert policy.split("; ") == ["default-src 'none'", "base-uri 'none'", "form-action 'none'", f"style-src 'sha256-{digest}'"]
    assert whole_page().index("Content-Security-Policy") < whole_page().index("<style>")


def test_nothing_in_the_page_runs_or_is_loaded() -> None:
    _is_inert(whole_page())


@pytest.mark.parametrize("units", ["metric", "us"])
def test_hostile_names_are_letters(units: str) -> None:
    text = page(read_back(hostile()), units)
    _is_inert(text)
    assert "{{ 7 * 7 }}" in text and "\x1b" not in text and "\u202e" not in text


def test_a_saved_answer_gives_the_same_page() -> None:
    assert page(read_back(saved())) == whole_page()


def test_a_front_without_a_point_makes_no_empty_section() -> None:
    front = dossier().front
    assert front is not None
    assert 'id="sums"' in page(Dossier(front=front))
    assert 'id="sums"' not in page(Dossier(front=replace(front, points=(), knee=None)))


@pytest.mark.parametrize("name", BLOCKS)
def test_each_answer_has_a_page_of_its_own(name: str) -> None:
    block = getattr(dossier(), name)
    text = page(spoken(Dossier(**{name: block})))
    _is_inert(text)
    assert "saved without the version" in text
    assert text == api.page(block)


def _numbers(text: str, table: str) -> list[list[float]]:
    """The stored values in the rows of a table."""
    body = text[text.index(f'id="{table}"') :]
    rows = body[body.index("<tbody>") : body.index("</tbody>")].split("<tr")[1:]
    return [[float(value) for value in re.findall(r'<data value="([^"]+)">', row)] for row in rows]


def test_the_ladder_is_that_of_the_advice_and_marks_its_step() -> None:
    result = dossier().result
    assert result is not None and result.advice is not None and result.best is not None
    most = max(step.row.flow_m3s for step in result.advice.steps)
    rows = [step.row for step in result.advice.steps]
    assert _numbers(whole_page(), "ladder-rows") == [
        [row.price, row.flow_m3s, row.turnover_per_hour, row.noise_dba, row.power_w, row.flow_m3s / most] for row in rows
    ]
    steps = ladder(dossier())
    assert [step.chosen for step in steps] == [n == result.advice.chosen for n in range(len(rows))]
    assert whole_page().count('<tr class="chosen">') == 1
    assert next(step for step in steps if step.chosen).price == result.best.price


def test_without_advice_the_ladder_has_now_cleaned_and_the_most() -> None:
    whole = dossier()
    assert whole.result is not None and whole.result.best is not None and whole.result.spend_nothing is not None
    steps = ladder(replace(whole, result=replace(whole.result, advice=None), front=None))
    rows = (whole.result.now, whole.result.spend_nothing, whole.result.best)
    assert [(step.price, step.flow_m3s) for step in steps] == [(row.price, row.flow_m3s) for row in rows]
    assert [step.chosen for step in steps] == [False, False, True]


def test_the_bill_on_the_first_side_adds_up() -> None:
    """Its lines to the price, and with what is left to the budget."""
    result = dossier().result
    assert result is not None and result.best is not None and result.question.budget is not None
    assert sum(value for row in _numbers(whole_page(), "bill-rows") for value in row) == result.best.price
    body = whole_page()[whole_page().index('id="bill-rows"') :]
    foot = body[body.index("<tfoot>") : body.index("</tfoot>")]
    assert sum(map(int, re.findall(r'<data value="([^"]+)">', foot))) == result.question.budget


def test_the_first_side_comes_before_all_that_is_folded() -> None:
    """Everything behind it is in an element that folds, shut."""
    side, behind = whole_page().split('id="shopping"')
    assert "<details" not in side.replace("<details>\n<summary>Numbers of this figure", "")
    sections = re.findall(r'<section id="[a-z]+"[^>]*>\s*<([a-z]+)([^>]*)>', f'<section id="shopping"{behind}')
    assert len(sections) > 8 and all(tag == "details" and "open" not in rest for tag, rest in sections)


def test_what_is_bought_can_be_ticked_off() -> None:
    ticks = [attributes for tag, attributes in Seen(whole_page()).tags if tag == "input"]
    assert all(each["type"] == "checkbox" for each in ticks)
    labelled = {attributes["for"] for tag, attributes in Seen(whole_page()).tags if tag == "label"}
    assert all(each.get("aria-label") or each["id"] in labelled for each in ticks)
    assert sum(str(each.get("aria-label", "")).startswith("got: ") for each in ticks) == len(dossier().shopping)


def test_cautions_are_all_there() -> None:
    """Mains, drip loop, spill with its sum, air-break hole, leaks and animals: what the keeper must be told."""
    text = re.sub(r"<[^>]+>", "", whole_page())
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
    block = whole_page()[whole_page().index('id="fill-times"') :]
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
    assert json.loads(json.dumps(dossier().to_dict(), allow_nan=False))["schema"] == "fullbore-dossier/6"

"""Words of the trade are explained in pages by the glossary and by nothing else, once in a section and once at the end."""

import re
from dataclasses import replace
from functools import cache
from html import unescape
from importlib import resources

import pytest
from report_cases import dossier, read_back, saved

from optimizer.glossary import GLOSSARY, term_of
from optimizer.model.fitted import ByFills, FittedFactor
from optimizer.report.html.page import page
from optimizer.report.html.words import Words
from optimizer.report.measures import system

MARK = re.compile(r'<a class="word" href="#([^"]+)"><abbr title="([^"]+)">([^<]+)</abbr></a>')
LISTED = re.compile(r'<div id="(word-[^"]+)"><dt>([^<]+?)(?: <span class="measured">([^<]+)</span>)?</dt><dd>([^<]+)</dd>')


@cache
def whole_page() -> str:
    """The page of the dossier, made once, and only where tests of it run."""
    return page(dossier())


def sections(text: str) -> dict[str, str]:
    return dict(re.findall(r'<section id="([a-z]+)"[^>]*>(.*?)</section>', text, flags=re.DOTALL))


def test_tooltips_and_list_are_those_of_the_glossary() -> None:
    marks, listed = MARK.findall(whole_page()), LISTED.findall(sections(whole_page())["words"])
    assert len({address for address, _, _ in marks}) == len(listed) == whole_page().count('id="word-') > 15
    explained = {name: term for name, *term in listed}
    assert explained.keys() == {address for address, _, _ in marks}
    for address, title, _ in marks:
        term = term_of(unescape(explained[address][0]))
        assert term is not None and unescape(title) == term.explained
    for name, measured, means in explained.values():
        term = GLOSSARY[name]
        assert [unescape(measured), unescape(means)] == [term.measured, term.means]


def test_a_section_explains_a_word_once() -> None:
    for name, text in sections(whole_page()).items():
        marked = [address for address, _, _ in MARK.findall(text)]
        assert len(set(marked)) == len(marked), name
    assert "<summary>" in whole_page() and not re.search(r"<summary>[^/]*<a ", whole_page())


def test_every_word_of_the_templates_is_in_the_glossary() -> None:
    """Those too that stand where no page of these tests comes by."""
    folder = resources.files("optimizer.report.html").joinpath("templates")
    text = "".join(file.read_text(encoding="utf-8") for file in folder.iterdir() if file.name.endswith(".html"))
    words = [word or shown for shown, word in re.findall(r'\bw\("([^"]+)"(?:, "([^"]+)")?\)', text)]
    words += [
        word for listed in re.findall(r'm\.figure\("[a-z]+"((?:, "[^"]+")*)\)', text) for word in re.findall('"([^"]+)"', listed)
    ]
    assert len(words) > 30 and len(re.findall(r"\bw\(", text)) == len(re.findall(r'\bw\("', text))
    assert [word for word in words if term_of(word) is None] == []


def test_a_word_that_is_not_in_it_stops_the_page() -> None:
    words = Words(measures=system("metric"))
    with pytest.raises(KeyError, match="lamp"):
        words("lamp")
    with pytest.raises(ValueError, match="guard"):
        words.within("Lift it out.", "guard")


def test_units_are_those_of_the_page() -> None:
    units = {name: measured for _, name, measured, _ in LISTED.findall(page(dossier(), "us"))}
    assert units["delivered flow"].endswith(", gph") and units["bore"] == "d, in" and units["head"] == "H, ft"


BY_FILLS = ByFills(
    fills=2,
    dates=("2026-03-01",),
    delivered_m3s=100e-6,
    stated_m3s=125e-6,
    factors=(FittedFactor(part="<b>FOAM", unknown="filled media", scales="loss", factor=1.75),),
)


def test_an_answer_by_fills_says_so_with_the_factors() -> None:
    """100 and 125 ml/s are 360 and 450 l/h."""
    whole = read_back(saved())
    assert whole.result is not None
    found = {
        name: unescape(re.sub(r"<[^>]+>", "", text)).replace("\u00a0", " ")
        for name, text in sections(page(replace(whole, result=replace(whole.result, by_fills=BY_FILLS)))).items()
    }
    for name in ("verdict", "sure"):
        assert "By the 2 fills of 2026-03-01 the loop as it is delivers 360 l/h; the stated figures say 450 l/h." in found[name]
    assert "<b>FOAM: filled media, loss 1.75 times the stated" in found["sure"]
    assert "not by the fills" not in whole_page() and "the stated figures the search is complete" not in found["sure"]


def test_fills_that_are_left_out_are_told() -> None:
    whole = read_back(saved())
    assert whole.result is not None
    told = replace(BY_FILLS, left_out="the pump is another", factors=())
    text = page(replace(whole, result=replace(whole.result, by_fills=told)))
    assert all("are left out: the pump is another." in sections(text)[name] for name in ("verdict", "sure"))
    assert "times the stated" not in text and "not by the fills" not in text

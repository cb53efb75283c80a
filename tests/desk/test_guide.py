"""The guide and the glossary in the browser."""

import re
from collections.abc import Callable
from html import unescape
from typing import Any

from desk_at_work import AtWork

from optimizer.glossary import GLOSSARY
from optimizer.guide import pages
from optimizer.guide.terminal import in_plain_text


def _letters(text: str) -> str:
    """Letters and digits alone: what is written, without marks and layout."""
    return re.sub(r"[\W_]+", "", text)


def test_every_page_of_the_guide_is_there_with_all_its_words(desk: AtWork) -> None:
    """What a terminal prints of a page stands on the page, in the same order."""
    contents = desk.get("/guide").text
    for page in pages():
        assert f'href="/guide/{page.name}"' in contents
        if page.name != "words":
            shown = desk.get(f"/guide/{page.name}").text
            body = unescape(re.sub(r"<[^>]+>", "", shown.partition('<article class="guide">')[2].partition("</article>")[0]))
            numbers = re.sub(r"(?m)^\d+\. ", "", page.body)  # those of a list are the browser's
            told = in_plain_text(type(page)(name=page.name, title="", body=numbers))
            assert _letters(body) == _letters(told)
    assert desk.get("/guide/none").status == 404


def test_words_lead_to_their_meaning(desk: AtWork) -> None:
    """Every word that a page explains has its place in the glossary, which holds all of them."""
    words = desk.get("/words").text
    assert words.count("<dt>") == len(GLOSSARY)
    found = re.findall(r'href="/words(#[^"]+)"', desk.get("/guide/reading").text)
    assert found and all(f'id="{anchor[1:]}"' in words for anchor in found)


def test_search_finds_whole_guide_and_words(desk: AtWork) -> None:
    """All words of the text must be there; hostile ones find nothing and stay texts."""
    found = desk.get("/guide?q=bucket+watch").text
    assert 'href="/guide/' in found.partition('class="hits"')[2]
    assert 'href="/words#word-priming"' in desk.get("/guide?q=priming").text
    hostile = desk.get("/guide?q=%3Cscript%3Ealert(1)%3C/script%3E%22%27%E2%80%AE").text
    assert "<script>alert" not in hostile and "0 places and 0 words" in hostile
    assert desk.get("/guide?q=" + "x" * 5000).status == 200


def test_guide_in_a_browser(desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]) -> None:
    """At three widths and without scripts, with the search by keyboard alone."""
    tab = opened(desk, "/guide", 390, scripts=False)
    tab.locator("#q").press_sequentially("siphon")
    tab.locator("#q").press("Enter")
    tab.wait_for_url("**q=siphon")
    tab = opened(desk, "/guide/fills", 390)
    for path in ("/guide/fills", "/words"):
        for width in (390, 800, 1400):
            tab.set_viewport_size({"width": width, "height": 900})
            tab.goto(desk.origin + path)
            assert tab.evaluate("document.documentElement.scrollWidth") <= width
        assert grave_faults(tab) == []

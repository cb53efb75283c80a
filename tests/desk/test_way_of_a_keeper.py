"""The whole way of a new keeper in the browser, from an empty folder on: by finger on a phone, and by the keys alone at a desk.

Each step is a function that takes the window where the one before has left it, so that a page that comes later in the way is
added at the end.
"""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from desk_at_work import AtWork, at_work

MOST_TABS = 80
WAIT_MS = 30_000


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtWork]:
    """A desk over a folder with nothing in it."""
    with at_work(tmp_path_factory.mktemp("empty")) as found:
        yield found


def reach(tab: Any, selector: str) -> None:
    """Press Tab until what is looked for has the focus."""
    for _ in range(MOST_TABS):
        tab.keyboard.press("Tab")
        if tab.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"{selector} is not reached by the Tab key")


def press(tab: Any, selector: str) -> None:
    """Reach something and press Enter; what it leads to is there afterwards."""
    reach(tab, selector)
    with tab.expect_navigation():
        tab.keyboard.press("Enter")


def tap(tab: Any, selector: str, text: str = "") -> None:
    """Tap on something that leads to another page, or to this one anew."""
    with tab.expect_navigation():
        tab.locator(selector, has_text=text).first.tap()


def fits(tab: Any) -> None:
    """Nothing sticks out of the page."""
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), tab.url


def figures(tab: Any, name: str) -> str:
    """What stands on the card of a tank once it is worked out."""
    card = tab.locator(".card", has=tab.locator(f'a[href="/tank/{name}"]'))
    card.locator("dl.facts").wait_for(timeout=WAIT_MS)
    return str(card.inner_text())


def test_the_way_of_a_new_keeper_by_finger_on_a_phone(
    empty: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]
) -> None:
    """Describe the tank, stop in the middle and go on, write it, and find it on the first page with what to do next."""
    tab = opened(empty, "/", 390, has_touch=True)
    fits(tab)
    assert grave_faults(tab) == []
    tap(tab, "a", "Describe a tank")
    tab.fill("#name", "hall")
    tap(tab, "button", "Begin")
    tab.fill("#q0", "Hall tank")
    tab.fill("#q1", "75 galls")
    tap(tab, "button.first")
    assert "unknown unit" in tab.inner_text(".wrong")
    assert tab.input_value("#q0") == "Hall tank"
    fits(tab)
    assert grave_faults(tab) == []
    tab.fill("#q1", "75 gal")
    tap(tab, "button.first")
    tab.fill("#q3", "1000 l/h")
    tab.locator("#q4").focus()
    tab.locator(".kept", has_text="Kept.").wait_for()  # without sending the page
    tab.goto(empty.origin + "/describe")
    tap(tab, "a", "hall.toml")
    assert tab.input_value("#q3") == "1000 l/h"
    for about in ("Hoses, intake and outlet", "What it is to do", "A fill, and what stays"):
        tap(tab, "button.first")
        assert tab.inner_text("h1") == about
        fits(tab)
    tap(tab, "button", "Back")
    tap(tab, "button.first")
    tap(tab, "button.first")
    assert "Assumed, because nobody said otherwise" in tab.inner_text("main")
    fits(tab)
    assert grave_faults(tab) == []
    tap(tab, "button", "Write the file")
    assert tab.url == f"{empty.origin}/tank/hall.toml"
    assert (empty.folder / "hall.toml").is_file()
    tab.goto(empty.origin + "/")
    assert "Hall tank" in figures(tab, "hall.toml")
    fits(tab)
    assert grave_faults(tab) == []
    tap(tab, ".card .leads a")  # to where the next step is done
    assert tab.url.endswith("/hall.toml")
    assert tab.locator("form").count() > 1
    fits(tab)


def test_the_way_of_a_new_keeper_by_the_keys_alone(empty: AtWork, opened: Callable[..., Any]) -> None:
    """Write out the demo, describe a tank with parts of its catalog, and lead on to asking."""
    tab = opened(empty, "/", 1400)
    press(tab, 'form[action="/demo"] button')
    assert tab.locator('a[href="/tank/parts_demo/rigs/nano_60.toml"]').count() == 1
    press(tab, 'a[href="/describe"]')
    reach(tab, "#name")
    tab.keyboard.press("Control+A")
    tab.keyboard.type("study")
    with tab.expect_navigation():
        tab.keyboard.press("Enter")
    reach(tab, "#q1")
    tab.keyboard.type("96 l")
    for _ in range(4):
        with tab.expect_navigation():
            reach(tab, "input[id]")
            tab.keyboard.press("Enter")
    with tab.expect_navigation():
        reach(tab, "input[id]")
        tab.keyboard.press("Enter")
    assert tab.url.endswith("?page=summary")
    fits(tab)
    reach(tab, "#file")
    with tab.expect_navigation():
        tab.keyboard.press("Enter")
    assert (empty.folder / "study.toml").is_file()
    press(tab, 'nav a[href="/ask/study.toml"]')
    assert tab.locator("form.question").count() == 1

"""The first page: every tank of the folder."""

from collections.abc import Callable
from typing import Any

from desk_at_work import AtWork


def test_every_rig_of_the_folder_is_on_the_first_page(desk: AtWork) -> None:
    """Each leads to its own page."""
    text = desk.get("/").text
    for rig in sorted((desk.folder / "parts_demo" / "rigs").glob("*.toml")):
        assert f'href="/tank/parts_demo/rigs/{rig.name}"' in text


def test_first_page_in_a_browser(desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]) -> None:
    """It says nothing on the console, and everybody can use it."""
    tab = opened(desk, "/", 390)
    assert tab.locator("h1").inner_text() == "Tanks"
    assert grave_faults(tab) == []

"""One desk over a copy of the demo for all tests of a process that change nothing in it, and one browser for them."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_at_work import AtWork, at_work, with_demo

NEEDED = os.environ.get("FULLBORE_BROWSER_TESTS") == "1"
CHROMIUM = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
AXE = Path(__file__).parents[2] / ".axe" / "package" / "axe.min.js"
ALONE = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")
ALONE += ("--disable-component-update", "--disable-sync")

REFUSED = tuple(f"the server responded with a status of {each}" for each in ("409 (Conflict)", "422 (Unprocessable Entity)"))
"""What the browser notes where a form is answered with what is wrong with it."""


@pytest.fixture(scope="session")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtWork]:
    """A desk over the demo, for tests that write nothing, or only files of their own."""
    with at_work(with_demo(tmp_path_factory.mktemp("desk"))) as found:
        yield found


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One browser; skipped where there is none, unless FULLBORE_BROWSER_TESTS=1 says that there must be."""
    if CHROMIUM is None and not NEEDED:
        pytest.skip("there is no Chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ALONE))
        yield opened
        opened.close()


@pytest.fixture
def opened(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens a path of a desk in a new window of a width, with or without scripts; at the end no window may have said anything on
    its console nor asked anybody but its desk."""
    noted: list[str] = []
    contexts = []

    def open_path(desk: AtWork, path: str, width: int = 1400, *, scripts: bool = True, **more: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 900}, java_script_enabled=scripts, **more)
        contexts.append(context)
        tab = context.new_page()
        tab.on("console", lambda message: None if message.text.endswith(REFUSED) else noted.append(message.text))
        tab.on("pageerror", lambda error: noted.append(str(error)))
        tab.on("request", lambda request: None if request.url.startswith((desk.origin, "data:")) else noted.append(request.url))
        tab.goto(desk.address)
        tab.goto(desk.origin + path)
        return tab

    yield open_path
    for context in contexts:
        context.close()
    assert noted == []


@pytest.fixture
def grave_faults() -> Callable[[Any], list[str]]:
    """What axe-core finds serious or critical on the page of a tab, with all that is folded unfolded."""
    if not AXE.exists() and not NEEDED:
        pytest.skip("axe-core is not in .axe")

    def found(tab: Any) -> list[str]:
        tab.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
        tab.evaluate(AXE.read_text(encoding="utf-8"))
        violations = tab.evaluate("axe.run()")["violations"]
        grave = [each for each in violations if each["impact"] in ("serious", "critical")]
        return [f"{each['id']}: {each['nodes'][0]['html'][:200]}" for each in grave]

    return found

"""The desk against the plain command: its first page from the start of the process, a place that was edited and is drawn anew,
and the slider over sums, which asks for nothing."""

import contextlib
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
from desk_at_work import AtWork, at_work, with_demo

from benchmarks.clock import Times
from benchmarks.conftest import Report
from optimizer.desk.folder import Folder

RIG, CATALOG = "parts_demo/rigs/nano_60.toml", "parts_demo/catalog"
REPEATS = 5


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the demo."""
    return with_demo(tmp_path)


def _plain(folder: Path, *words: str) -> float:
    """Seconds of a whole command."""
    start = perf_counter()
    command = [sys.executable, "-m", "optimizer", *words]
    subprocess.run(command, cwd=folder, capture_output=True, check=True, timeout=120)
    return perf_counter() - start


def _first_page(folder: Path) -> float:
    """Seconds from the start of the process to the last byte of the first page."""
    start = perf_counter()
    with at_work(folder) as desk:
        assert "Nano" in desk.get("/").text or "nano" in desk.get("/").text
        return perf_counter() - start


def test_first_page_against_the_plain_command(benchmark: Any, report: Report, folder: Path) -> None:
    """Under a second on an idle machine; a `best` takes about as long."""
    runs = [(_first_page(folder), _plain(folder, "best", RIG, "--budget", "100", "--quiet")) for _ in range(REPEATS)]
    pages, plain = (Times(tuple(each)) for each in zip(*runs, strict=True))
    benchmark.pedantic(lambda: _first_page(folder), rounds=1)
    report("first page of the desk / best, nano_60", pages, plain, "at most 1")


def test_an_edited_place_is_drawn_anew(benchmark: Any, report: Report, folder: Path) -> None:
    """Saved, worked out and drawn, in processes that are warm, against the same question as a command."""
    with at_work(folder) as desk:
        _edited(desk, 0)
        runs = [(_edited(desk, n), _plain(folder, "loop", RIG, "--catalog", CATALOG, "--quiet")) for n in range(1, REPEATS + 1)]
        pages, plain = (Times(tuple(each)) for each in zip(*runs, strict=True))
        benchmark.pedantic(lambda: _edited(desk, 99), rounds=1)
    report("an edited place drawn anew / loop, nano_60", pages, plain, "at most 0.2")


def _edited(desk: AtWork, n: int) -> float:
    """Seconds from a length that is sent to the page that draws it."""
    seen, token = Folder(desk.folder).version(RIG), desk.token
    content = re.sub(r'length = "[^"]*"', f'length = "{1.0 + n / 100:.2f} m"', (desk.folder / RIG).read_text(), count=1)
    fields = {"name": RIG, "content": content, "seen": seen, "back": f"/tank/{RIG}", "token": token}
    start = perf_counter()
    assert desk.post("/keep", fields).status == 303
    while 'class="far"' in desk.get(f"/tank/{RIG}").text:  # it is not worked out yet
        pass
    return perf_counter() - start


def test_the_slider_asks_for_nothing(folder: Path) -> None:
    """All sums are there with the page: what each buys is shown without a request."""
    with _tab(folder) as (desk, tab):
        tab.goto(f"{desk.origin}/ask/{RIG}?budget=60")
        slider = tab.locator("input[type=range]")
        slider.wait_for(timeout=120_000)
        tab.wait_for_load_state("networkidle")
        asked: list[str] = []
        tab.on("request", lambda request: asked.append(request.url))
        slider.focus()
        shown = []
        for key in ("Home", "ArrowRight", "ArrowRight", "End"):
            tab.keyboard.press(key)
            shown.append(slider.get_attribute("aria-valuetext"))
        assert len(set(shown)) > 2
        print(f"requests while the slider moved over {len(set(shown))} sums: {len(asked)}")
        assert asked == []


@contextlib.contextmanager
def _tab(folder: Path) -> Iterator[tuple[AtWork, Any]]:
    chromium = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
    if chromium is None:
        pytest.skip("there is no Chromium")
    from playwright.sync_api import sync_playwright

    with at_work(folder) as desk, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        tab = browser.new_page()
        tab.goto(desk.address)
        yield desk, tab
        browser.close()

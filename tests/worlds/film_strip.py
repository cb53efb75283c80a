"""Draws the README's film strip of the desk anew: six of its pages over the demo, side by side in one picture of moderate size.

python tests/worlds/film_strip.py
"""

import io
import tempfile
import time
from pathlib import Path
from typing import Any

from desk_at_work import AtWork, at_work, with_demo
from PIL import Image

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "desk.png"
RIG = "parts_demo/rigs/reading_corner_130.toml"
PAGES = (
    "/",
    f"/tank/{RIG}",
    "/ask/parts_demo/rigs/community_180.toml?budget=100",
    f"/measure/{RIG}",
    "/household/parts_demo/households/fish_room.toml",
    "/stock/parts_demo/catalog",
)
WIDTH, HEIGHT = 1180, 860
SHOWN = (590, 430)
GAP = 12
IN_A_ROW = 3
COLOURS = 64
MOST_S = 120.0


def strip(pictures: list[bytes]) -> Image.Image:
    """Pictures in rows, made smaller."""
    rows = -(-len(pictures) // IN_A_ROW)
    made = Image.new("RGB", (IN_A_ROW * (SHOWN[0] + GAP) - GAP, rows * (SHOWN[1] + GAP) - GAP), "white")
    for number, raw in enumerate(pictures):
        one = Image.open(io.BytesIO(raw)).convert("RGB").resize(SHOWN, Image.Resampling.LANCZOS)
        made.paste(one, ((number % IN_A_ROW) * (SHOWN[0] + GAP), (number // IN_A_ROW) * (SHOWN[1] + GAP)))
    return made.quantize(COLOURS)


def pictures(desk: AtWork, browser: Any) -> list[bytes]:
    """The top of each page, once nothing on it is being worked out."""
    tab = browser.new_context(viewport={"width": WIDTH, "height": HEIGHT}).new_page()
    tab.goto(desk.address)
    found = []
    for path in PAGES:
        tab.goto(desk.origin + path)
        until_s = time.monotonic() + MOST_S
        while "Being worked out" in tab.inner_text("body") and time.monotonic() < until_s:
            time.sleep(0.2)
        found.append(tab.screenshot())
    return found


def main() -> None:
    """Write the picture."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as name, at_work(with_demo(Path(name))) as desk, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        strip(pictures(desk, browser)).save(PICTURE, optimize=True)
        browser.close()


if __name__ == "__main__":
    main()

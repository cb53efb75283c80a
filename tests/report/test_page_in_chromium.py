"""The page in a real Chromium: at three widths and in print, without a console message or a request, hostile names inert, no
serious fault by axe-core, and the numbers of its figures those of the saved answer.

Where there is no Chromium or axe-core these tests are skipped, unless FULLBORE_BROWSER_TESTS=1 says that there must be.
"""

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from report_cases import dossier, hostile, read_back, saved

from optimizer.report.html.page import page as rendered

NEEDED = os.environ.get("FULLBORE_BROWSER_TESTS") == "1"
CHROMIUM = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None)
AXE = Path(__file__).parents[2] / ".axe" / "package" / "axe.min.js"
ALONE = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")
ALONE += ("--disable-component-update", "--disable-sync")

pytestmark = pytest.mark.skipif(CHROMIUM is None and not NEEDED, reason="there is no Chromium")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser for all tests of this file."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ALONE))
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the page of the answer, and that of the same with hostile names."""
    folder = tmp_path_factory.mktemp("pages")
    (folder / "tank.html").write_text(rendered(dossier()), encoding="utf-8")
    (folder / "hostile.html").write_text(rendered(read_back(hostile())), encoding="utf-8")
    return folder


@pytest.fixture
def opened(browser: Any, pages: Path) -> Iterator[Any]:
    """Opens a page and notes all it says and asks for; at the end it must have said nothing and asked for itself only."""
    context = browser.new_context()
    noted: list[str] = []
    tab = context.new_page()
    tab.on("console", lambda message: noted.append(message.text))
    tab.on("pageerror", lambda error: noted.append(str(error)))
    tab.on("dialog", lambda dialog: noted.append(dialog.message))
    tab.on("request", lambda request: noted.append(request.url) if not request.url.endswith(".html") else None)

    def open_page(name: str, width: int) -> Any:
        tab.set_viewport_size({"width": width, "height": 900})
        tab.goto((pages / name).as_uri())
        return tab

    yield open_page
    context.close()
    assert noted == []


@pytest.mark.parametrize("width", [360, 768, 1280])
@pytest.mark.parametrize("name", ["tank.html", "hostile.html"])
def test_everything_fits_the_width(opened: Any, name: str, width: int) -> None:
    """Nothing makes the page wider than the screen, and no figure or text lies beyond its edge."""
    tab = opened(name, width)
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    beyond = (
        "[...document.querySelectorAll('h1, h2, h3, p, li, figure, .cards td')].filter(e => e.getBoundingClientRect().right > %d)"
    )
    assert tab.evaluate(f"{beyond % (width + 1)}.map(e => e.outerHTML.slice(0, 200))") == []
    assert tab.evaluate("[...document.querySelectorAll('figure svg')].every(e => e.getBoundingClientRect().width > 250)")


@pytest.mark.parametrize(("form", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_it_prints(opened: Any, form: str, points: tuple[int, int]) -> None:
    """Sizes in points: ISO 216 (210 x 297 mm) and ANSI A (8.5 x 11 in)."""
    tab = opened("tank.html", 1280)
    printed = tab.pdf(format=form)
    assert printed.startswith(b"%PDF-")
    boxes = [part.split(b"]")[0].split() for part in printed.split(b"/MediaBox [")[1:]]
    assert boxes and all([round(float(each)) for each in box[2:]] == pytest.approx(points, abs=1) for box in boxes)
    tab.emulate_media(media="print")
    tab.set_viewport_size({"width": round((points[0] - 74) / 0.75), "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_first_sheet_is_the_first_side_alone(opened: Any) -> None:
    """On A4 (ISO 216: 210 x 297 mm, less the margins of the page) at 96 pixels to the inch, as CSS has it."""
    tab = opened("tank.html", 1280)
    tab.emulate_media(media="print")
    tab.set_viewport_size({"width": round((210 - 2 * 13) / 25.4 * 96), "height": 900})
    foot = tab.evaluate("document.querySelector('.side').getBoundingClientRect().bottom + scrollY")
    assert 300 < foot < (297 - 2 * 12) / 25.4 * 96
    assert tab.evaluate("getComputedStyle(document.querySelector('.side')).breakAfter") == "page"
    shown = "['verdict', 'ladder', 'bill', 'mind', 'loop'].filter(id => document.getElementById(id).closest('.side')).length"
    assert tab.evaluate(shown) == 5
    # what a sheet at the tank needs is unfolded on paper, the rest is not there
    high = "document.getElementById('%s').getBoundingClientRect().height"
    assert tab.evaluate(high % "shopping") > 200 and tab.evaluate(high % "words") == 0


@pytest.mark.parametrize("name", ["tank.html", "hostile.html"])
def test_no_text_of_a_figure_is_cut(opened: Any, name: str) -> None:
    """Every text lies within its figure, whatever the typeface of the page makes of it."""
    tab = opened(name, 1280)
    tab.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    cut = """[...document.querySelectorAll('figure svg')].flatMap(svg => { const edge = svg.getBoundingClientRect();
        return [...svg.querySelectorAll('text')].filter(text => { const box = text.getBoundingClientRect();
            const beside = box.left < edge.left - 1 || box.right > edge.right + 1;
            return beside || box.top < edge.top - 1 || box.bottom > edge.bottom + 1
        }).map(text => svg.id + svg.getAttribute('aria-labelledby') + ': ' + text.textContent) })"""
    assert tab.evaluate(cut) == []


def test_no_texts_of_the_loop_overlap(opened: Any) -> None:
    tab = opened("tank.html", 1280)
    over = """(() => { const texts = [...document.querySelectorAll('#figure-loop svg text')];
        const boxes = texts.map(text => text.getBoundingClientRect());
        return texts.flatMap((text, n) => texts.slice(n + 1).filter((_, m) => { const a = boxes[n], b = boxes[n + 1 + m];
            const beside = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            return beside > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4
        }).map(other => text.textContent + ' / ' + other.textContent)) })()"""
    assert tab.evaluate(over) == []
    assert tab.evaluate("document.querySelectorAll('#figure-loop svg text').length") > 20


def test_hostile_names_do_nothing(opened: Any) -> None:
    """No payload ran, was loaded, made an element or restyled the page; its text stands there to be read."""
    tab = opened("hostile.html", 1280)
    tab.wait_for_timeout(200)
    assert tab.evaluate("window.hit === undefined")
    assert tab.evaluate("document.querySelectorAll('script, img, iframe, svg svg, a:not(.word), object').length") == 0
    assert tab.evaluate("document.styleSheets.length") == 1
    assert tab.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(252, 251, 247)"
    assert tab.evaluate("document.body.innerText.includes('<script>window.hit = 1</script>')")


def test_the_policy_is_in_force(browser: Any, pages: Path) -> None:
    """A script written into the page by hand is refused, and so is a style attribute: the policy is no decoration."""
    text = (pages / "tank.html").read_text(encoding="utf-8")
    spoiled = text.replace("<main>", "<main><p id=probe style='color: rgb(1, 2, 3)'>probe</p><script>window.hit = 9</script>", 1)
    (pages / "spoiled.html").write_text(spoiled, encoding="utf-8")
    tab = browser.new_page()
    refused: list[str] = []
    tab.on("console", lambda message: refused.append(message.text))
    tab.goto((pages / "spoiled.html").as_uri())
    assert tab.evaluate("window.hit === undefined")
    assert tab.evaluate("getComputedStyle(document.getElementById('probe')).color") != "rgb(1, 2, 3)"
    assert len(refused) == 2
    tab.close()


@pytest.mark.skipif(not AXE.exists() and not NEEDED, reason="axe-core is not in .axe")
def test_axe_finds_no_serious_fault(opened: Any) -> None:
    """With every table unfolded, at the width where most is arranged otherwise."""
    tab = opened("tank.html", 360)
    tab.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    tab.evaluate(AXE.read_text(encoding="utf-8"))
    found = tab.evaluate("axe.run()")
    grave = [each for each in found["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], each["nodes"][0]["html"][:200]) for each in grave] == []
    assert len(found["passes"]) > 15


def _values(tab: Any, name: str) -> list[list[float]]:
    """All numbers in the table of a figure, row by row, as they are stored."""
    rows = "[...document.querySelectorAll('#numbers-%s tbody tr')].map(r => [...r.querySelectorAll('data')].map(d => d.value))"
    return [[float(value) for value in row] for row in tab.evaluate(rows % name)]


def test_numbers_of_the_figures_are_those_of_the_answer(opened: Any) -> None:
    """Each is looked up in the saved JSON, which the page was not rendered from here but must agree with to the last digit."""
    tab, tree = opened("tank.html", 1280), json.loads(json.dumps(saved()))
    result, band = tree["result"], tree["bands"]["band"]["lines"][0]
    shares = [[h["before_m"], h["before_share"], h["after_m"], h["after_share"]] for h in result["heads"]]
    assert _values(tab, "heads") == shares
    sides = [(place["now"], place["then"]) for place in result["route"]]
    kinds = [("head_m", False), ("bore_m", True), ("joint_m", False)]
    ways = [[each[name] for name, known in kinds for each in pair if each[name] or not known] for pair in sides]
    assert _values(tab, "loop") == ways
    assert _values(tab, "front") == [[p["price"], p["flow_m3s"]] for p in tree["front"]["points"]]
    marks = [[m["flow_m3s"], m["head_m"]] for m in tree["curves"]["marks"]]
    assert [row[:2] for row in _values(tab, "curves")] == marks
    assert [row[2:] for row in _values(tab, "curves") if len(row) > 2] == [[band["p10_m3s"], band["p90_m3s"]]]
    falls = tree["falls"]["falls"]
    known = {day: [fall["flows_m3s"][n] for fall in falls] for n, day in enumerate(falls[0]["days"])}
    assert all(row[1:] == known[row[0]] for row in _values(tab, "fall"))
    assert {row[0] for row in _values(tab, "fall")} >= {min(known), max(known)}
    jets = [[j["holes"], j["hole_m"], min(j["speeds_ms"]), max(j["speeds_ms"]), j["evenness"]] for j in result["jets"]]
    assert _values(tab, "jets") == jets
    shown = [profile for profile in result["profile"] if profile["name"] in ("now", "best")]
    heads = [{p["head_m"] for p in profile["points"] if not p["place"].startswith("joint ")} for profile in shown]
    assert {value for row in _values(tab, "pressure") for value in row} == set().union(*heads)


def test_numbers_of_the_verdict_are_those_of_the_answer(opened: Any) -> None:
    tab, result = opened("tank.html", 768), saved()["result"]
    rows = tab.evaluate(
        "[...document.querySelectorAll('#rows tbody tr')].map(r => [...r.querySelectorAll('data')].map(d => d.value))"
    )
    wanted = ("flow_m3s", "turnover_per_hour", "price", "noise_dba", "power_w")
    assert [[float(v) for v in row] for row in rows] == [[result[r][w] for w in wanted] for r in ("now", "spend_nothing", "best")]
    prices = tab.evaluate("[...document.querySelectorAll('#shopping-rows tbody td[data-k=price] data')].map(d => +d.value)")
    assert sum(prices) == result["best"]["price"]

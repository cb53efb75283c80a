"""What a shop pays for its goods is in no answer of a keeper, and no answer hangs on it."""

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.tanks.fingerprint import fingerprint

ROOT = Path(__file__).parents[1]
CATALOG = ROOT / "tests" / "data" / "small" / "catalog"
RIG = str(ROOT / "tests" / "data" / "small" / "hall_tank.toml")

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def shops(tmp_path: Path) -> tuple[Path, Path]:
    """A catalog twice under one name, once with a cost in every row."""
    places = (tmp_path / "without" / "catalog", tmp_path / "with" / "catalog")
    for folder in places:
        folder.mkdir(parents=True)
        for file in CATALOG.iterdir():
            if file.suffix != ".csv" or folder == places[0]:
                (folder / file.name).write_bytes(file.read_bytes())
                continue
            with open(file, encoding="utf-8", newline="") as source:
                header, *rows = list(csv.reader(source))
            with open(folder / file.name, "w", encoding="utf-8", newline="") as target:
                csv.writer(target).writerows([[*header, "cost"], *([*row, "98.76"] for row in rows if row)])
    return places


def test_a_keepers_answers_are_the_same_to_the_byte(shops: tuple[Path, Path], tmp_path: Path, capsys: Capture) -> None:
    """Text, JSON, bill and proof are those of a catalog without costs, and the page says nothing of them."""
    assert all(product.cost == 9876 for product in read_catalog(shops[1]).products)
    said = []
    for number, shop in enumerate(shops):
        bill, page, proof = (tmp_path / f"{name}{number}" for name in ("bill.csv", "page.html", "proof.json"))
        asked = ["best", RIG, "--catalog", str(shop), "--budget", "20"]
        assert main([*asked, "--full"]) == 0
        text = capsys.readouterr().out.replace(str(shop), "SHOP")
        assert main([*asked, "--json", "--csv", str(bill), "--proof", str(proof)]) == 0
        answer = json.loads(capsys.readouterr().out)
        assert main([*asked, "--quiet", "--report", str(page)]) == 0
        capsys.readouterr()
        said.append((text, answer, bill.read_bytes(), proof.read_bytes()))
        body = page.read_text(encoding="utf-8")
        assert "98.76" not in body and "9876" not in body
    assert said[0] == said[1]


def test_a_shop_asks_no_question_again_because_of_a_cost(shops: tuple[Path, Path]) -> None:
    """Costs change from month to month; the answers that are kept in a file of results hold all the same."""
    without, having = map(read_catalog, shops)
    assert without == replace(having, products=without.products) and without.products == having.products
    assert fingerprint(without) == fingerprint(having)


def test_a_kit_of_the_catalog_has_its_own_cost(tmp_path: Path) -> None:
    """A cost that is no money is a problem at its place like any other cell."""
    (tmp_path / "pumps.csv").write_text("id,name,price,max_head_m,max_flow_l_h,power_w,noise_dba,inlet,outlet\n")
    (tmp_path / "clamps.csv").write_text("id,name,price,cost,low_mm,high_mm\nC,clamp,1.50,0.40,20,24\n")
    (tmp_path / "kits.csv").write_text("id,name,price,cost,contents\nK,kit,5,2.10,C x4\n")
    assert [product.cost for product in api.read_catalog(tmp_path).products] == [40, 210]
    (tmp_path / "kits.csv").write_text("id,name,price,cost,contents\nK,kit,5,cheap,C x4\n")
    with pytest.raises(InputError, match=r"(?s)kits.csv.*line 2, cost"):
        api.read_catalog(tmp_path)

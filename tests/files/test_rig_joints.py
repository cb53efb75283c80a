"""Adapters in joints, as a rig file writes them down."""

from pathlib import Path

import pytest

from optimizer.answers.best import operating_point
from optimizer.bands.fitted import FittedParts
from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.measure.fill_loop import fill_loop_flows, loop_during_fill
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"
TAILED = (DEMO / "rigs" / "shrimp_and_fry_240.toml").read_text(encoding="utf-8")
TAIL = TAILED[TAILED.index("[loop.bar_tail]") : TAILED.index("[loop.spray_bar]")]
BARE = TAILED.replace(TAIL, "")
KEYS = TAIL.partition('kind = "tail"\n')[2].strip().replace("\n", ", ")
BETWEEN = 'between = ["return_hose", "spray_bar"]\n'


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DEMO / "catalog")


def joined(folder: Path, shop: Catalog, *tables: str) -> Rig:
    (folder / "joined.toml").write_text(BARE + "".join(f"\n[[joint]]\n{table}\n" for table in tables), encoding="utf-8")
    return read_rig(folder / "joined.toml", shop)


def problems(folder: Path, shop: Catalog, *tables: str) -> str:
    with pytest.raises(InputError) as found:
        joined(folder, shop, *tables)
    return str(found.value)


def test_an_adapter_in_a_joint_loses_what_it_loses_as_a_place(tmp_path: Path, shop: Catalog) -> None:
    """The same piece of brass, written down as a place or as what stands in a joint: search and draws agree."""
    (tmp_path / "tailed.toml").write_text(TAILED, encoding="utf-8")
    places = read_rig(tmp_path / "tailed.toml", shop)
    held = joined(tmp_path, shop, BETWEEN + f"adapters = [{{{KEYS}}}]")
    assert operating_point(held).flow_m3s == pytest.approx(operating_point(places).flow_m3s, rel=1e-9)
    stated = FittedParts({})
    assert fill_loop_flows(loop_during_fill(held), stated)[0] == pytest.approx(operating_point(held).flow_m3s, rel=1e-7)
    assert operating_point(held).flow_m3s != pytest.approx(operating_point(joined(tmp_path, shop)).flow_m3s, rel=1e-4)


def test_adapters_of_the_catalog_stand_the_way_round_that_fits(tmp_path: Path, shop: Catalog) -> None:
    """A hose tail with a thread is entered by its tail here; turned = true is refused where it does not fit."""
    rig = joined(tmp_path, shop, BETWEEN + 'adapters = ["ADPT-16-G34", "WIDEN-G12-G34"]')
    assert [(turned.part.id, turned.flipped) for turned in rig.joints[0].adapters] == [
        ("ADPT-16-G34", False),
        ("WIDEN-G12-G34", True),
    ]
    assert "do not lead" in problems(tmp_path, shop, BETWEEN + 'adapters = [{part = "ADPT-16-G12", turned = true}]')


def test_what_cannot_be_is_told_with_a_cure(tmp_path: Path, shop: Catalog) -> None:
    """Adapters that do not lead from end to end, places that are no neighbours, one joint twice, unknown ids."""
    assert "do not lead from return_hose to spray_bar" in problems(tmp_path, shop, BETWEEN + 'adapters = ["NIPPLE-N12"]')
    apart = problems(tmp_path, shop, 'between = ["canister", "spray_bar"]\nadapters = ["ADPT-16-G12"]')
    assert 'the water goes from "canister" to "pump", not to "spray_bar"' in apart
    assert 'Near names: "return_hose"' in problems(tmp_path, shop, BETWEEN.replace("return", "retrun") + 'adapters = ["JOIN-16"]')
    twice = BETWEEN + 'adapters = ["ADPT-16-G12"]'
    assert "written already" in problems(tmp_path, shop, twice, twice)
    unknown = BETWEEN + 'adapters = ["ADPT-16-G21", {part = "JOIN-16", hole = 2}]'
    listed = problems(tmp_path, shop, 'between = ["return_hose"]\nadapters = []', unknown)
    assert [line.split(":")[0].strip() for line in listed.splitlines()[1:]] == [
        "joint[1].between",
        "joint[1].adapters",
        "joint[2].adapters[1].part",
        "joint[2].adapters[2].hole",
    ]


def test_ends_that_do_not_go_together_are_said(tmp_path: Path, shop: Catalog) -> None:
    """Left out, an adapter is not passed over in silence: the note names both places and what to write."""
    note = next(note for note in joined(tmp_path, shop).notes if note.startswith("loop.spray_bar"))
    assert "does not fit return_hose (16 mm hose" in note
    assert '[[joint]] between = ["return_hose", "spray_bar"]' in note
    assert not any(note.startswith("loop.") for note in joined(tmp_path, shop, BETWEEN + 'adapters = ["ADPT-16-G12"]').notes)

"""Cakes in rig files: stated, or the usual one for what is filled, and said so; gone when the medium is rinsed."""

import tomllib
from pathlib import Path

import pytest

from optimizer.answers.best import best
from optimizer.dirt.laws import USUAL
from optimizer.dirt.layers import tray_layer, usual_cake_m
from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_after import after_text
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"
FOAM, FLOSS = '{medium = "FOAM-20-1L", filled = "20 %"}', '{medium = "FLOSS-LOOSE", filled = "30 %"}'


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DEMO / "catalog")


def read(folder: Path, shop: Catalog, *changes: tuple[str, str], name: str = "nano_60") -> Rig:
    """A demo rig with pieces of its text changed."""
    text = (DEMO / "rigs" / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "tank.toml").write_text(text, encoding="utf-8")
    return read_rig(folder / "tank.toml", shop)


def cake_notes(rig: Rig) -> list[str]:
    return [note for note in rig.notes if ".cake: " in note]


def test_what_is_filled_has_the_usual_cake_and_says_so(shop: Catalog, tmp_path: Path) -> None:
    """A keeper who writes 20 % means a pad as dirty as that, its face included; the figure is told with the tray."""
    rig = read(tmp_path, shop)
    for tray in rig.trays:
        assert tray.state.cake_m == pytest.approx(usual_cake_m(tray_layer(tray, rig.canister, USUAL), USUAL))
        assert tray.state.cake_m > 0.0
    told = cake_notes(rig)
    assert len(told) == 3
    assert told[0].startswith("loop.canister.trays[1].cake: not given, taken as 0.8 mm: what comes with pores that are 20 % full")


def test_a_stated_cake_counts_and_none_is_made_up_where_nothing_is_filled(shop: Catalog, tmp_path: Path) -> None:
    rig = read(
        tmp_path,
        shop,
        (FOAM, '{medium = "FOAM-20-1L", filled = "20 %", cake = "2 mm"}'),
        (FLOSS, '{medium = "FLOSS-LOOSE", cake = "0 mm"}'),
    )
    assert [tray.state.cake_m for tray in rig.trays][::2] == [pytest.approx(2e-3), 0.0]
    assert [note[:27] for note in cake_notes(rig)] == ["loop.canister.trays[2].cake"]
    bare = read(tmp_path, shop, (FOAM, '{medium = "FOAM-20-1L", filled = "0 %"}'))
    assert bare.trays[0].state.is_clean


def test_a_sponge_has_a_cake_and_a_mesh_has_none(shop: Catalog, tmp_path: Path) -> None:
    """On openings debris lies and shuts them; the file is refused with place and cure."""
    guard = 'blocked = "25 %"'
    sponge = (guard, 'blocked = "25 %"\n')
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    own = next(line for line in text.splitlines() if line.startswith('part = "GUARD-'))
    rig = read(tmp_path, shop, sponge, (own, 'part = "GUARD-SPG-40-T9"'))
    assert 1e-4 < rig.positions[0].state.cake_m < 2e-3
    assert any(note.startswith(f"loop.{rig.positions[0].name}.cake: not given, taken as ") for note in rig.notes)
    with pytest.raises(InputError, match="a cake lies on a sponge; openings are blocked"):
        read(tmp_path, shop, (guard, 'blocked = "25 %"\ncake = "2 mm"'))
    with pytest.raises(InputError, match="cake"):
        read(tmp_path, shop, (FOAM, '{medium = "FOAM-20-1L", cake = "2 m"}'))


def test_a_rinsed_pad_has_no_cake_in_the_file_of_the_rig_as_it_will_be(shop: Catalog, tmp_path: Path) -> None:
    """Cleaned for nothing: neither the share filled nor the cake is written, so none is taken as the usual one."""
    rig = read(tmp_path, shop, (FOAM, '{medium = "FOAM-20-1L", filled = "20 %", cake = "2 mm"}'))
    found = best(rig, shop, budget=0, measured=False)
    assert found.bundle is not None
    tables = tomllib.loads((tmp_path / "tank.toml").read_text(encoding="utf-8"))
    (tmp_path / "after.toml").write_text(after_text(tables, rig, found.bundle, shop), encoding="utf-8")
    after = read_rig(tmp_path / "after.toml", shop)
    assert all(tray.state.is_clean for tray in after.trays)
    assert not cake_notes(after)

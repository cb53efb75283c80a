"""What cleaning alone does to media is not passed over for a tray that is emptied."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"


def cleaned(rig: Rig) -> Rig:
    """The rig with every part and tray clean."""
    positions = tuple(replace(position, state=position.state.cleaned()) for position in rig.positions)
    return replace(rig, positions=positions, trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in rig.trays))


@pytest.mark.parametrize("name", ["community_180", "nano_60", "marine_75gal"])
def test_spending_nothing_cleans_the_media_too(name: str) -> None:
    """At least the flow of the same rig with all its states set clean, solved as it stands."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = replace(api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog), spares=())
    limits = rig.limits.without(*rig.limits.binding)
    found = api.best(replace(rig, limits=limits), catalog, budget=0).spend_nothing
    assert found is not None
    assert found.flow_m3s >= api.operating_point(cleaned(rig)).flow_m3s * (1.0 - 1e-6)


def test_an_alternative_leaves_no_medium_dirty() -> None:
    """Where the best empties a tray, the next best may leave it as it is; but then clean, since that costs nothing."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", catalog)
    found = api.alternatives(rig, catalog, 4, budget=3000)
    dirty = {n for n, tray in enumerate(rig.trays, 1) if not tray.state.is_clean}
    assert (len(dirty), len(found.alternatives)) == (3, 4)
    assert all(dirty <= {change.tray for change in each.changes} for each in found.alternatives)
    emptied = [{c.tray for c in each.changes if c.change == "remove"} for each in found.alternatives]
    assert emptied[0] == {3}
    assert set() in emptied, "one of them keeps all media"

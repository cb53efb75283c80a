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

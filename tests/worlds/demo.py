"""The demo's catalog and rigs, read once for all tests of a process, and a small shop over two of its customers."""

from functools import cache
from pathlib import Path

from optimizer import api
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"

SMALL_SHOP = """
shelf_prices = ["{price}"]
budgets = []
alternatives = {alternatives}
[[stock]]
product = "HOSE-19-27"
[[stock]]
product = "TAIL-19-G12"
count = 8
[[stock]]
product = "CLAMP-20-32"
[[stock]]
product = "WASH-G12"
[canisters]
medium = {{rig = "{tanks}/medium_g12.toml"}}
npt = {{rig = "{tanks}/npt_ports.toml"}}
[[band]]
name = "both"
weight = 2
canisters = ["medium", "npt"]
"""


@cache
def shop() -> Catalog:
    """The demo catalog."""
    return api.read_catalog(DEMO / "catalog")


@cache
def rig(name: str) -> Rig:
    """A demo rig."""
    return api.read_rig(DEMO / "rigs" / f"{name}.toml", shop())


def small_shop(price: int, alternatives: int) -> str:
    """The text of a shop file that sells four things at one shelf price."""
    return SMALL_SHOP.format(price=price, alternatives=alternatives, tanks=DEMO / "shops" / "tanks")

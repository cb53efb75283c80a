"""Every key of a shop file, once, as data."""

from __future__ import annotations

from optimizer.files.field import Field, Value
from optimizer.files.rig_fields import LIMITS
from optimizer.model.shop import LEAST_GAIN, LEAST_USED
from optimizer.units import COUNT, SHARE

__all__ = ["BAND", "CANISTER", "KIND_LIMITS", "SHOP", "STOCK"]

SHOP: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, example="Corner shop", meaning="name of the shop; left out: that of the file"),
    Field(name="kits", holds=COUNT, default=3.0, low=1.0, high=20.0, example="3", meaning="most kits to offer"),
    Field(name="alternatives", holds=COUNT, default=2.0, low=1.0, high=20.0, example="2",
          meaning="bundles that truly differ to take as kits, for each tank and shelf price"),
    Field(name="least_gain", holds=SHARE, default=LEAST_GAIN, low=0.0, high=10.0, example="3 %",
          meaning="least that a kit must add to the clean flow of a tank to fit it; left out: 3 % (common practice)"),
    Field(name="least_used", holds=SHARE, default=LEAST_USED, low=0.0, high=1.0, example="75 %",
          meaning="least of its price that must be put to use on a tank; left out: 75 % (common practice)"),
)  # fmt: skip

STOCK: tuple[Field, ...] = (
    Field(name="product", holds=Value.ID, required=True, example="HOSE-19-27", meaning="id of a product of the catalog"),
    Field(name="count", holds=COUNT, low=0.0, high=1e6, example="12",
          meaning="how many there are, of a hose by the metre how many metres; left out: as the catalog says"),
)  # fmt: skip

BAND: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, required=True, example="16 mm canisters on 350 to 450 l", meaning="the band in words"),
    Field(name="weight", holds=Value.NUMBER, required=True, positive=True, high=1e6, example="30",
          meaning="how many such tanks there are, shared out evenly over the tanks that the lists below make"),
)  # fmt: skip
"""Beside these a band has the lists canisters, volumes, hoses and kinds: every combination is a tank."""

CANISTER: tuple[Field, ...] = (
    Field(name="rig", holds=Value.TEXT, required=True, example="tanks/medium.toml",
          meaning="rig file of a tank with such a canister, seen from the folder of the shop file"),
)  # fmt: skip

KIND_LIMITS: tuple[Field, ...] = tuple(field for field in LIMITS if field.name != "budget")
"""What a kind of tank may say: its limits, which go before those of the rig file; money is a matter of the shelf price."""

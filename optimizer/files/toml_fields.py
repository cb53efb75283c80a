"""Every key of a rig, a household or a shop file that is not a property of a part, once, as data."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from optimizer.files import ranges
from optimizer.files.field import Field, Value
from optimizer.files.part_kinds import HEIGHTS, NAME, PART, PART_KINDS, PLACE
from optimizer.model.fill import FILL_STATES
from optimizer.model.parts import FITTING_ROLES, Kind
from optimizer.model.shop import LEAST_GAIN, LEAST_USED
from optimizer.units import (
    AREA,
    COUNT,
    FEED,
    FLOW,
    FREQUENCY,
    HEAD,
    LENGTH,
    NOISE,
    POWER,
    SALINITY,
    SHARE,
    SPEED,
    TEMPERATURE,
    VOLUME,
)

FITTING_PLACES = ("coupling", "valve", "elbow", "tail")
LOOP_KINDS = tuple(word for kind in PLACE for word in (FITTING_PLACES if kind == Kind.FITTING else (kind,)))
BRANCH_KINDS = tuple(word for word in LOOP_KINDS if word not in (Kind.CANISTER, Kind.PUMP))
SPARE_KINDS = (
    *(kind for kind, entry in PART_KINDS.items() if entry.files and kind != Kind.FITTING),
    *FITTING_ROLES,
)

KIND = Field(name="kind", holds=Value.CHOICE, choices=(*LOOP_KINDS, Kind.BRANCHES), required=True, example="hose",
             meaning="what is at this place of the loop")  # fmt: skip
BRANCH_KIND = Field(name="kind", holds=Value.CHOICE, choices=BRANCH_KINDS, required=True, example="hose",
                    meaning="what is at this place of the branch")  # fmt: skip
SPARE_KIND = Field(name="kind", holds=Value.CHOICE, choices=SPARE_KINDS, required=True, example="clamp",
                   meaning="what the spare is, when it is not a part of the catalog")  # fmt: skip

RIG_NAME = Field(name="name", holds=Value.TEXT, meaning="name of the rig; left out: that of the file", example="Hall tank")

TANK: tuple[Field, ...] = (
    Field(name="volume", holds=VOLUME, within=ranges.TANK_VOLUME, required=True, example="450 l",
          meaning="nominal volume of the tank"),
    Field(name="net_volume", holds=VOLUME, within=ranges.TANK_VOLUME, example="400 l",
          meaning="water that is really in it; left out: 85 % of the nominal volume (common practice)"),
    Field(name="temperature", holds=TEMPERATURE, low=0.0, high=40.0, example="25 degC",
          meaning="temperature of the water; left out: 25 degC"),
    Field(name="salinity", holds=SALINITY, default=0.0, low=0.0, high=50.0, example="35 g/kg",
          meaning="salinity; left out: fresh water"),
)  # fmt: skip

SITE: tuple[Field, ...] = (
    Field(name="mains", holds=FREQUENCY, example="50 Hz", meaning="mains frequency, 50 or 60 Hz; left out: 50 Hz"),
    Field(name="listening_distance", holds=LENGTH, within=ranges.DISTANCE, default=1.0, example="1.5 m",
          meaning="from the pump to the ear; left out: 1 m"),
    Field(name="cabinet", holds=NOISE, default=0.0, low=0.0, high=60.0, example="6 dB",
          meaning="what the cabinet takes off the noise; left out: nothing"),
)  # fmt: skip

FEEDING: tuple[Field, ...] = (
    Field(name="feed", holds=FEED, within=ranges.FEED_PER_DAY, required=True, example="5 g/day",
          meaning="food given"),
    Field(name="protein", holds=SHARE, within=ranges.SHARE_OF_ALL, required=True, example="45 %",
          meaning="protein in the food; with feed it sets the least surface for bacteria"),
    Field(name="debris", holds=FEED, low=0.0, high=100.0, example="0.1 g/day",
          meaning="dry leaves, roots and algae that drift to the intake; left out: by the volume of the tank"),
)  # fmt: skip

LIMITS: tuple[Field, ...] = (
    Field(name="budget", holds=Value.MONEY, example="100", meaning="most money to spend, in the catalog's currency"),
    Field(name="noise", holds=NOISE, low=0.0, high=120.0, example="38 dB(A)",
          meaning="loudest pump at the listening place"),
    Field(name="power", holds=POWER, within=ranges.WATTS, example="60 W", meaning="most power drawn"),
    Field(name="turnover_min", holds=Value.TURNOVER, low=0.0, high=1000.0, example="4 per hour",
          meaning="least delivered flow over the volume of the basis"),
    Field(name="turnover_max", holds=Value.TURNOVER, positive=True, high=1000.0, example="10 per hour",
          meaning="greatest delivered flow over the volume of the basis"),
    Field(name="turnover_basis", holds=Value.CHOICE, choices=("net", "nominal"), default="net", example="net",
          meaning="volume that turnover counts in, here and in [wish]"),
    Field(name="flow_min", holds=FLOW, low=0.0, high=ranges.LARGEST_FLOW_M3S, example="300 l/h",
          meaning="least delivered flow"),
    Field(name="flow_max", holds=FLOW, within=ranges.FLOW_RATE, example="1500 l/h",
          meaning="greatest delivered flow"),
    Field(name="guard_opening", holds=LENGTH, within=ranges.GAP, example="1 mm",
          meaning="widest gap of the guard that is safe for the animals"),
    Field(name="guard_speed", holds=SPEED, positive=True, high=10.0, example="6 cm/s",
          meaning="fastest water in front of the guard"),
    Field(name="bio_area", holds=AREA, low=0.0, high=1e5, example="0.5 m2",
          meaning="least surface for bacteria; goes before what [feeding] asks for"),
    Field(name="mechanical_stage", holds=Value.YES_NO, default=True, example="true",
          meaning="keep at least one medium that catches solids"),
    Field(name="mature_media", holds=Value.YES_NO, default=True, example="true",
          meaning="keep at least half of the biological media that is in use; whatever stands here, a tray of such media may be "
          "cleaned or filled anew but is never left empty"),
    Field(name="inlet_pressure", holds=HEAD, default=0.0, low=-10.0, high=ranges.HIGHEST_HEAD_M, example="5 cm",
          meaning="least gauge pressure at the inlet of the pump, as head"),
)  # fmt: skip

WISH: tuple[Field, ...] = (
    Field(name="flow", holds=FLOW, within=ranges.FLOW_RATE, example="800 l/h",
          meaning="delivered flow that is wanted"),
    Field(name="turnover", holds=Value.TURNOVER, positive=True, high=1000.0, example="6 per hour",
          meaning="the same as turnover; one of the two"),
)  # fmt: skip

_GEOMETRY = ("length", "bends", "bend_radius", "coil", "above_water", "below_water")
OPEN_PLACE: Mapping[str, tuple[Field, ...]] = MappingProxyType(
    {kind: tuple(field for field in fields if field.name in _GEOMETRY) for kind, fields in PLACE.items()}
)
"""Keys of a place in a branch that is not there: how the water would run, and nothing about a part."""

BRANCHES: tuple[Field, ...] = (
    Field(name="parting", holds=Value.TABLE, example='parting = {part = "TEE-16"}',
          meaning="the tee where two branches part, the first of them straight on; none where the loop starts"),
    Field(name="meeting", holds=Value.TABLE, example='meeting = {part = "TEE-16"}',
          meaning="the tee where two branches meet, the first of them straight on; none where the loop ends"),
)  # fmt: skip
BRANCH: tuple[Field, ...] = (
    Field(name="installed", holds=Value.YES_NO, default=True, example="false",
          meaning="false: the second branch is not there yet, but may be added on tees"),
)  # fmt: skip
TEE_PLACE: tuple[Field, ...] = (NAME, PART)

TRAY: tuple[Field, ...] = (
    Field(name="medium", holds=Value.ID, example="FOAM-20",
          meaning="id of a medium of the catalog, in place of its own keys"),
    Field(name="empty", holds=Value.YES_NO, default=False, example="true", meaning="nothing is in the tray"),
    Field(name="filled", holds=SHARE, default=0.0, low=0.0, under_one=True, example="40 %",
          meaning="share of the pores that is full of dirt"),
    NAME,
)  # fmt: skip

_DRILLED = ("hole", "holes", "discharge", "pitch")
ADJUST: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, required=True, example="re-drill to 4.5 mm", meaning="what is done"),
    Field(name="price", holds=Value.MONEY, default=0, example="6", meaning="what it costs; left out: nothing"),
    *HEIGHTS,
    *(field for field in PART_KINDS[Kind.OUTLET].fields if field.name in _DRILLED),
)

FILL: tuple[Field, ...] = (
    Field(name="volume", holds=VOLUME, within=ranges.FILL_VOLUME, required=True, example="10 l",
          meaning="what the container holds up to its mark"),
    Field(name="seconds", holds=Value.TIMES, within=ranges.FILL_SECONDS, required=True, example="61.2 s",
          meaning="how long it took; a list when it was filled more than once: [61.2, 60.8, 61.5]"),
    Field(name="mark", holds=VOLUME, positive=True, high=1.0, example="0.1 l",
          meaning="how far the mark may be off; left out: 2 % of the volume (common practice)"),
    Field(name="container", holds=Value.TEXT, example="blue bucket",
          meaning="which container; left out: fills of the same volume share one"),
    Field(name="above_water", holds=LENGTH, low=0.0, high=ranges.HIGHEST_HEAD_M, example="10 cm",
          meaning="mouth of the water above the tank's water line during the fill; left out: at the water line"),
    Field(name="below_water", holds=LENGTH, low=0.0, high=20.0, example="40 cm",
          meaning="mouth of the water below the tank's water line during the fill"),
    Field(name="state", holds=Value.WORDS, choices=FILL_STATES, example="guard off",
          meaning="how the loop differed from what this file describes, as one text with commas or as a list"),
    Field(name="date", holds=Value.DATE, example="2026-03-01", meaning="day of the fill"),
)  # fmt: skip
"""Keys of a fill that was timed."""

SPARE: tuple[Field, ...] = (
    PART,
    Field(name="count", holds=COUNT, low=1.0, high=ranges.MOST_PIECES, example="2", meaning="pieces; left out: 1"),
    Field(name="length", holds=LENGTH, within=ranges.RUN, example="2 m",
          meaning="length of a spare hose, in one piece"),
    Field(name="volume", holds=VOLUME, within=ranges.MEDIUM_VOLUME, example="2 l", meaning="amount of a spare medium"),
)  # fmt: skip


HOUSEHOLD: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, meaning="name of the household; left out: that of the file", example="Fish room"),
    Field(name="budget", holds=Value.MONEY, example="300", meaning="most money to spend on all tanks together"),
    Field(name="power", holds=POWER, positive=True, high=1e5, example="80 W", meaning="most power that all pumps draw together"),
)
ROOM: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, required=True, example="living room", meaning="the room"),
    Field(name="noise", holds=NOISE, low=0.0, high=120.0, example="34 dB(A)",
          meaning="most that all pumps in the room make together at its listening place"),
)  # fmt: skip
HOUSE_TANK: tuple[Field, ...] = (
    Field(name="name", holds=Value.TEXT, example="hall tank", meaning="the tank; left out: the name of its rig"),
    Field(name="room", holds=Value.TEXT, example="living room", meaning="the room that it stands in"),
    Field(name="listening_distance", holds=LENGTH, positive=True, high=100.0, example="2 m",
          meaning="from its pump to the listening place of the room; left out: as in its rig"),
    Field(name="flow", holds=FLOW, positive=True, high=100.0, example="600 l/h",
          meaning="delivered flow that is enough; left out: the wish of its rig"),
    Field(name="turnover", holds=Value.TURNOVER, positive=True, high=1000.0, example="4 per hour",
          meaning="the same over the net volume"),
    Field(name="log", holds=Value.TEXT, example="hall.log",
          meaning="log of its fills, looked for beside this file; they count with those of its rig"),
)  # fmt: skip

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

SHOP_CANISTER: tuple[Field, ...] = (
    Field(name="rig", holds=Value.TEXT, required=True, example="tanks/medium.toml",
          meaning="rig file of a tank with such a canister, seen from the folder of the shop file"),
)  # fmt: skip

KIND_LIMITS: tuple[Field, ...] = tuple(field for field in LIMITS if field.name != "budget")
"""What a kind of tank may say: its limits, which go before those of the rig file; money is a matter of the shelf price."""


def kind_of_word(word: str) -> str:
    """Return the kind of part behind a word of a rig file: the roles of fittings are kinds to the keeper.

    >>> kind_of_word("valve"), kind_of_word("pump")
    ('fitting', 'pump')
    """
    return Kind.FITTING if word in FITTING_ROLES else word

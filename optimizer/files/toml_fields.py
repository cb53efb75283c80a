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
from optimizer.model.signs import SIGNS
from optimizer.unit_table import (
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

KIND = Field("kind", Value.CHOICE, "what is at this place of the loop",
             "hose", choices=(*LOOP_KINDS, Kind.BRANCHES), required=True)  # fmt: skip
BRANCH_KIND = Field("kind", Value.CHOICE, "what is at this place of the branch", "hose",
                    choices=(*BRANCH_KINDS, Kind.BRANCHES), required=True)  # fmt: skip
SPARE_KIND = Field("kind", Value.CHOICE, "what the spare is, when it is not a part of the catalog",
                   "clamp", choices=SPARE_KINDS, required=True)  # fmt: skip

RIG_NAME = Field("name", Value.TEXT, "name of the rig; left out: that of the file", "Hall tank")

TANK: tuple[Field, ...] = (
    Field("volume", VOLUME, "nominal volume of the tank", "450 l", within=ranges.TANK_VOLUME, required=True),
    Field("net_volume", VOLUME, "water that is really in it; left out: 85 % of the nominal volume (common practice)",
          "400 l", within=ranges.TANK_VOLUME),
    Field("length", LENGTH, "length inside; with width it tells how much water may run out", "100 cm", within=ranges.SIDE),
    Field("width", LENGTH, "width inside, from front to back", "40 cm", within=ranges.SIDE),
    Field("height", LENGTH, "height inside; with the volume it does for length and width", "50 cm", within=ranges.SIDE),
    Field("temperature", TEMPERATURE, "temperature of the water; left out: 25 degC", "25 degC", low=0.0, high=40.0),
    Field("salinity", SALINITY, "salinity; left out: fresh water", "35 g/kg", default=0.0, low=0.0, high=50.0),
)  # fmt: skip

SITE: tuple[Field, ...] = (
    Field("mains", FREQUENCY, "mains frequency, 50 or 60 Hz; left out: 50 Hz", "50 Hz"),
    Field("listening_distance", LENGTH, "from the pump to the ear; left out: 1 m", "1.5 m", within=ranges.DISTANCE, default=1.0),
    Field("cabinet", NOISE, "what the cabinet takes off the noise; left out: nothing", "6 dB", default=0.0, low=0.0, high=60.0),
    Field("cabinet_room", Value.BOX,
          "room for a new pump in the cabinet: length x width x height; only pumps whose size is stated are held to it",
          "40 x 30 x 45 cm"),
    Field("plug", Value.TEXT,
          "the plugs that fit the socket, with commas; only pumps whose plug is stated are held to it", "type C, type F"),
    Field("rim", LENGTH,
          "how far above the water line the hoses climb over the rim; left out: not counted in the pressures",
          "6 cm", low=0.0, high=ranges.HIGHEST_HEAD_M),
    Field("energy_price", Value.ENERGY_PRICE, "what a kWh costs, in the catalog's currency; left out: only the kWh are told",
          "0.32 EUR/kWh"),
)  # fmt: skip

FEEDING: tuple[Field, ...] = (
    Field("feed", FEED, "food given", "5 g/day", within=ranges.FEED_PER_DAY, required=True),
    Field("protein", SHARE, "protein in the food; with feed it sets the least surface for bacteria",
          "45 %", within=ranges.SHARE_OF_ALL, required=True),
    Field("debris", FEED, "dry leaves, roots and algae that drift to the intake; left out: by the volume of the tank",
          "0.1 g/day", low=0.0, high=100.0),
)  # fmt: skip

AS_NOW = "as now"
"""A limit that is what the installed pump has."""

LIMITS: tuple[Field, ...] = (
    Field("budget", Value.MONEY, "most money to spend, in the catalog's currency", "100"),
    Field("noise", NOISE, 'loudest pump at the listening place; "as now": no louder than the pump that is there', "38 dB(A)",
          low=0.0, high=120.0, words=(AS_NOW,)),
    Field("power", POWER, 'most power drawn; "as now": no more than by the pump that is there', "60 W", within=ranges.WATTS,
          words=(AS_NOW,)),
    Field("turnover_min", Value.TURNOVER, "least delivered flow over the volume of the basis",
          "4 per hour", low=0.0, high=1000.0),
    Field("turnover_max", Value.TURNOVER, "greatest delivered flow over the volume of the basis",
          "10 per hour", positive=True, high=1000.0),
    Field("turnover_basis", Value.CHOICE, "volume that turnover counts in, here and in [wish]",
          "net", choices=("net", "nominal"), default="net"),
    Field("flow_min", FLOW, "least delivered flow", "300 l/h", low=0.0, high=ranges.LARGEST_FLOW_M3S),
    Field("flow_max", FLOW, "greatest delivered flow", "1500 l/h", within=ranges.FLOW_RATE),
    Field("guard_opening", LENGTH, "widest gap of the guard that is safe for the animals", "1 mm", within=ranges.GAP),
    Field("guard_speed", SPEED, "fastest water in front of the guard", "6 cm/s", positive=True, high=10.0),
    Field("jet_speed", SPEED, "fastest water where it leaves the outlet: out of the fastest hole of a bar, or of the open end",
          "50 cm/s", positive=True, high=10.0),
    Field("bio_area", AREA, "least surface for bacteria; goes before what [feeding] asks for", "0.5 m2", low=0.0, high=1e5),
    Field("mechanical_stage", Value.YES_NO, "keep at least one medium that catches solids", "true", default=True),
    Field("mature_media", Value.YES_NO,
          "keep at least half of the biological media that is in use; whatever stands here, a tray of such media may be "
          "cleaned or filled anew but is never left empty",
          "true", default=True),
    Field("inlet_pressure", HEAD, "least gauge pressure at the inlet of the pump, as head",
          "5 cm", default=0.0, low=-10.0, high=ranges.HIGHEST_HEAD_M),
)  # fmt: skip

WISH: tuple[Field, ...] = (
    Field("flow", FLOW, "delivered flow that is wanted", "800 l/h", within=ranges.FLOW_RATE),
    Field("turnover", Value.TURNOVER, "the same as turnover; one of the two", "6 per hour", positive=True, high=1000.0),
    Field("told_apart", SHARE,
          "share of a flow below which two flows are alike to the keeper: money that buys less is not advised; left out: by the "
          "fills, else 3 %", "3 %", positive=True, high=0.5),
)  # fmt: skip

_GEOMETRY = ("length", "bends", "bend_radius", "coil", "depth", "above_water", "below_water")
OPEN_PLACE: Mapping[str, tuple[Field, ...]] = MappingProxyType(
    {kind: tuple(field for field in fields if field.name in _GEOMETRY) for kind, fields in PLACE.items()}
)
"""Keys of a place in a branch that is not there: how the water would run, and nothing about a part."""

MOST_BRANCHES = 4
"""So many branches stand side by side, or one within the other."""


def step_key(tee: str, step: int) -> str:
    """The key of the tee ("parting" or "meeting") of the first, second ... branch of a place.

    >>> step_key("parting", 1), step_key("parting", 2)
    ('parting', 'parting_2')
    """
    return tee if step == 1 else f"{tee}_{step}"


def _tee_field(tee: str, verb: str, ends: str, step: int, means: str) -> Field:
    key = step_key(tee, step)
    holds = f"{means.format(verb=verb)}; none where the loop {ends}"
    return Field(key, Value.TABLE, holds, f'{key} = {{part = "TEE-16"}}')


BRANCHES: tuple[Field, ...] = tuple(
    _tee_field(tee, verb, ends, step, means)
    for step, means in enumerate((
        "the tee where the first branch and the others {verb}, the first straight on",
        "of three or four branches: the tee where the second and those behind it {verb}, the second straight on",
        "of four branches: the tee where the third and the fourth {verb}, the third straight on",
    ), start=1)
    for tee, verb, ends in (("parting", "part", "starts"), ("meeting", "meet", "ends"))
)  # fmt: skip
BRANCH: tuple[Field, ...] = (
    Field("installed", Value.YES_NO, "false: the last branch is not there yet, but may be added on tees",
          "false", default=True),
)  # fmt: skip
TEE_PLACE: tuple[Field, ...] = (
    NAME, PART,
    Field("turned", Value.YES_NO, "the tee of the catalog stands the other way round: its inlet is at the outlet",
          "true", default=False),
)  # fmt: skip

TRAY: tuple[Field, ...] = (
    Field("medium", Value.ID, "id of a medium of the catalog, in place of its own keys", "FOAM-20"),
    Field("empty", Value.YES_NO, "nothing is in the tray", "true", default=False),
    Field("filled", SHARE, "share of the pores that is full of dirt", "40 %", default=0.0, low=0.0, under_one=True),
    Field("cake", LENGTH, "thickness of the cake of dirt on its face; left out: what usually comes with the share filled",
          "2 mm", low=ranges.CAKE[0], high=ranges.CAKE[1]),
    NAME,
)  # fmt: skip

_DRILLED = ("hole", "holes", "discharge", "pitch")
ADJUST: tuple[Field, ...] = (
    Field("name", Value.TEXT, "what is done", "re-drill to 4.5 mm", required=True),
    Field("price", Value.MONEY, "what it costs; left out: nothing", "6", default=0),
    *HEIGHTS,
    *(field for field in PART_KINDS[Kind.OUTLET].fields if field.name in _DRILLED),
)

OWNED: tuple[Field, ...] = (
    Field("tools", Value.NAMES, "tools that the keeper has: ids of tools.csv, or what they make possible",
          'tools = ["clean_hose"]'),
)  # fmt: skip

FILL: tuple[Field, ...] = (
    Field("volume", VOLUME, "what the container holds up to its mark", "10 l", within=ranges.FILL_VOLUME, required=True),
    Field("seconds", Value.TIMES, "how long it took; a list when it was filled more than once: [61.2, 60.8, 61.5]",
          "61.2 s", within=ranges.FILL_SECONDS, required=True),
    Field("mark", VOLUME, "how far the mark may be off; left out: 2 % of the volume (common practice)",
          "0.1 l", positive=True, high=1.0),
    Field("container", Value.TEXT, "which container; left out: fills of the same volume share one", "blue bucket"),
    Field("above_water", LENGTH, "mouth of the water above the tank's water line during the fill; left out: at the water line",
          "10 cm", low=0.0, high=ranges.HIGHEST_HEAD_M),
    Field("below_water", LENGTH, "mouth of the water below the tank's water line during the fill", "40 cm", low=0.0, high=20.0),
    Field("state", Value.WORDS, "how the loop differed from what this file describes, as one text with commas or as a list",
          "guard off", choices=FILL_STATES),
    Field("watts", POWER, "what a meter at the socket showed for the pump during the fill; left out: not read", "18 W",
          within=ranges.WATTS),
    Field("date", Value.DATE, "day of the fill", "2026-03-01"),
)  # fmt: skip
"""Keys of a fill that was timed."""

SYMPTOMS: tuple[Field, ...] = (
    Field("signs", Value.WORDS,
          "what is heard and seen of the filter today, as one text with commas or as a list; diagnose goes by it",
          "rattle, bubbles", choices=SIGNS),
)  # fmt: skip

_BETWEEN, _ADAPTERS = '["suction_hose", "in_coupling"]', '["ADPT-25-G1", "BUSH-G1-G34"]'
JOINT: tuple[Field, ...] = (
    Field("between", Value.PLACES,
          "the place that the water leaves and the one it comes to; in a branch BRANCH.PLACE, and where branches part or meet "
          "their tee, such as \"drops parting tee\"",
          _BETWEEN, rig_example=_BETWEEN, required=True),
    Field("adapters", Value.PIECES,
          "what stands in the joint, in the order of the water: ids of adapters of the catalog, or tables",
          _ADAPTERS, rig_example=_ADAPTERS, required=True),
)  # fmt: skip
"""Keys of a joint that holds adapters."""

ADAPTER: tuple[Field, ...] = (
    NAME, PART,
    Field("turned", Value.YES_NO, "the water enters at its outlet; left out: whichever way fits", "true"),
)  # fmt: skip

SPARE: tuple[Field, ...] = (
    PART,
    Field("count", COUNT, "pieces; left out: 1", "2", low=1.0, high=ranges.MOST_PIECES),
    Field("length", LENGTH, "length of a spare hose, in one piece", "2 m", within=ranges.RUN),
    Field("volume", VOLUME, "amount of a spare medium", "2 l", within=ranges.MEDIUM_VOLUME),
    Field("worn", SHARE, "speed that a spare pump has lost to wear", "10 %", low=0.0, under_one=True),
    Field("dirty", Value.YES_NO, "it must be cleaned before it is fitted", "true", default=False),
)  # fmt: skip


HOUSEHOLD: tuple[Field, ...] = (
    Field("name", Value.TEXT, "name of the household; left out: that of the file", "Fish room"),
    Field("budget", Value.MONEY, "most money to spend on all tanks together", "300"),
    Field("power", POWER, "most power that all pumps draw together", "80 W", positive=True, high=1e5),
)
ROOM: tuple[Field, ...] = (
    Field("name", Value.TEXT, "the room", "living room", required=True),
    Field("noise", NOISE, "most that all pumps in the room make together at its listening place",
          "34 dB(A)", low=0.0, high=120.0),
)  # fmt: skip
HOUSE_TANK: tuple[Field, ...] = (
    Field("name", Value.TEXT, "the tank; left out: the name of its rig", "hall tank"),
    Field("room", Value.TEXT, "the room that it stands in", "living room"),
    Field("listening_distance", LENGTH, "from its pump to the listening place of the room; left out: as in its rig",
          "2 m", positive=True, high=100.0),
    Field("flow", FLOW, "delivered flow that is enough; left out: the wish of its rig", "600 l/h", positive=True, high=100.0),
    Field("turnover", Value.TURNOVER, "the same over the net volume", "4 per hour", positive=True, high=1000.0),
    Field("log", Value.TEXT, "log of its fills, looked for beside this file; they count with those of its rig", "hall.log"),
)  # fmt: skip

HOUSE_FILTER: tuple[Field, ...] = (
    Field("name", Value.TEXT, "the filter; left out: the name of its rig", "left"),
    Field("installed", Value.YES_NO, "false: it is not there yet, but could be got as its rig describes it",
          "false", default=True),
    Field("price", Value.MONEY, "what it costs to get it, where it is not there yet", "79"),
    *(field for field in HOUSE_TANK if field.name in ("listening_distance", "log")),
)  # fmt: skip
"""Keys of one of several filters on a tank, beside its rig."""

SHOP: tuple[Field, ...] = (
    Field("name", Value.TEXT, "name of the shop; left out: that of the file", "Corner shop"),
    Field("kits", COUNT, "most kits to offer", "3", default=3.0, low=1.0, high=20.0),
    Field("alternatives", COUNT, "bundles that truly differ to take as kits, for each tank and shelf price",
          "2", default=2.0, low=1.0, high=20.0),
    Field("least_gain", SHARE, "least that a kit must add to the clean flow of a tank to fit it; left out: 3 % (common practice)",
          "3 %", default=LEAST_GAIN, low=0.0, high=10.0),
    Field("least_used", SHARE, "least of its price that must be put to use on a tank; left out: 75 % (common practice)",
          "75 %", default=LEAST_USED, low=0.0, high=1.0),
)  # fmt: skip

STOCK: tuple[Field, ...] = (
    Field("product", Value.ID, "id of a product of the catalog", "HOSE-19-27", required=True),
    Field("count", COUNT, "how many there are, of a hose by the metre how many metres; left out: as the catalog says",
          "12", low=0.0, high=1e6),
)  # fmt: skip

BAND: tuple[Field, ...] = (
    Field("name", Value.TEXT, "the band in words", "16 mm canisters on 350 to 450 l", required=True),
    Field("weight", Value.NUMBER, "how many such tanks there are, shared out evenly over the tanks that the lists below make",
          "30", required=True, positive=True, high=1e6),
)  # fmt: skip
"""Beside these a band has the lists canisters, volumes, hoses and kinds: every combination is a tank."""

SHOP_CANISTER: tuple[Field, ...] = (
    Field("rig", Value.TEXT, "rig file of a tank with such a canister, seen from the folder of the shop file",
          "tanks/medium.toml", required=True),
)  # fmt: skip

KIND_LIMITS: tuple[Field, ...] = tuple(field for field in LIMITS if field.name != "budget")
"""What a kind of tank may say: its limits, which go before those of the rig file; money is a matter of the shelf price."""


def kind_of_word(word: str) -> str:
    """Return the kind of part behind a word of a rig file: the roles of fittings are kinds to the keeper.

    >>> kind_of_word("valve"), kind_of_word("pump")
    ('fitting', 'pump')
    """
    return Kind.FITTING if word in FITTING_ROLES else word

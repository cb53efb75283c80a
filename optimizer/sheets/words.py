"""Words of the trade: what a heading means, what a part is called. A shop adds its own in the mapping of its sheet.

Common practice, no published source: collected from how parts are called at counters.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["ABOUT", "FIELDS", "KINDS", "SHORT", "SOLD_OUT", "STOCKED"]

FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "id": ("id", "sku", "code", "item code", "item no", "no", "nr", "number", "art no", "article no", "ref", "plu", "part no",
               "product code", "order no", "article"),
        "text": ("description", "desc", "descr", "text", "item", "article", "product", "part", "name", "title", "what", "type",
                 "model", "variant", "name of the part", "kind", "goods", "what part"),
        "size": ("size", "sizes", "dimension", "dimensions", "variant size"),
        "fits": ("fits", "for", "suits", "what fits"),
        "unit": ("unit", "sold by", "per", "uom"),
        "thread": ("thread", "thread size"),
        "end": ("end", "end a", "end b", "end 1", "end 2", "inlet", "outlet", "connection"),
        "bore": ("bore", "passage", "inner bore", "free passage"),
        "inside": ("id mm", "inside", "inner dia", "inside diameter", "inner diameter", "bore id"),
        "outside": ("od mm", "outside", "outer dia", "outside diameter", "outer diameter"),
        "length": ("length", "coil", "roll length"),
        "flow": ("max flow", "flow", "litres per hour", "l/h", "gph", "qmax"),
        "head": ("max head", "head", "hmax"),
        "power": ("power", "watts", "w", "wattage"),
        "noise": ("db", "noise", "db(a)", "sound"),
        "ports": ("ports", "connections", "port"),
        "volume": ("litres", "volume", "liters", "contents"),
        "price": ("price", "gross price", "price incl vat", "unit price", "rrp", "sell at", "our price", "we ask", "each", "list",
                  "eur", "prc", "price gross", "sale price", "retail", "list price", "new price", "price each",
                  "what it costs each"),
        "price of 10": ("per 10", "price of 10", "10 pcs", "what it costs per 10"),
        "price a metre": ("price/m", "price per m", "per metre", "price a metre"),
        "stock": ("stock", "in stock", "on hand", "qty", "qty in stock", "count", "left", "how many", "quantity", "stock level",
                  "pieces", "bags", "shelf", "qoh", "available", "delivery", "availability", "in store", "shelf left"),
        "stock in rolls": ("rolls in store", "rolls"),
        "remark": ("remarks", "remark", "note", "notes", "comment", "status"),
        "cost": ("cost", "cost to us", "purchase price", "buying price"),
        "leave out": ("net price", "old price", "rating", "ean", "group", "dept", "value", "pos", "was",
                      "barcode", "total", "department", "category", "date"),
    }
)  # fmt: skip
"""Field of a row: how columns of it are headed."""

ABOUT: Mapping[str, str] = MappingProxyType(
    {
        "id": "your code",
        "text": "what it is, in words",
        "size": "as 16/22 or G 1/2",
        "fits": "what it goes on",
        "unit": "what the price is for",
        "thread": "as G 1/2",
        "end": "one of its ends",
        "bore": "the narrowest passage",
        "inside": "inside diameter",
        "outside": "outside diameter",
        "length": "of a roll",
        "flow": "of a pump, at most",
        "head": "of a pump, at most",
        "power": "in watts",
        "noise": "in dB(A)",
        "ports": "of a pump or canister",
        "volume": "in litres",
        "price": "what a customer pays for one",
        "price of 10": "what ten cost",
        "price a metre": "of hose cut to length",
        "stock": "how many there are",
        "stock in rolls": "of hose",
        "remark": "more about it",
        "cost": "what the shop pays",
        "leave out": "",
    }
)
"""What a column of each field holds, for whoever matches headings."""

KINDS: tuple[tuple[str, str], ...] = (
    ("not of a loop", "air pump|air hose|air stone|impeller|hose brush|hand net|flake food|fish food|voucher|delivery|cable ties|"
     "feeding ring|feeding tongs|water test|test kit|co2|led light|led lamp|plant pot|backdrop film|algae magnet|deposit|cross|"
     "second-hand"),
    ("foot valve", "foot valve"),
    ("non-return flap", "check valve flap|flap check valve|flap non-return valve|swing check valve"),
    ("non-return poppet", "spring check valve|spring non-return valve|check valve spring"),
    ("non-return", "check valve|non-return valve|nrv"),
    ("sponge guard", "pre-filter sponge|prefilter sponge|sponge prefilter|sponge intake|intake sponge|sponge guard|sponge block|"
     "sponge pre-filter"),
    ("guard", "intake strainer|strainer|suction basket|sieve basket|intake basket|intake guard|mesh guard|intake screen|sieve"),
    ("bar", "spray bar|spraybar|spray pipe|spray tube|bar"),
    ("nozzle", "jet nozzle|ball-joint nozzle|ball joint nozzle"),
    ("open outlet", "outlet bend|outlet elbow|wide outlet|outlet pipe|lily|duckbill|outlet"),
    ("coupling", "double tap coupling|double tap quick release|double tap|quick release|quick disconnect|separable coupling|"
     "coupling with two taps|tap coupling|qd"),
    ("wye", "wye|y-piece|y piece"),
    ("tee", "tee|t-piece|t piece"),
    ("clamp", "hose clamp|hose clamps|hose clip|hose clips|worm drive clip|worm drive clips|worm clamp|band clamp|spring clip|"
     "clamp|clamps|clip|clips"),
    ("washer", "flat washer|fibre washer|rubber washer|washer|washers|flat seal|gasket|o ring|o-ring"),
    ("tape", "ptfe tape|thread seal tape|thread tape"),
    ("cement", "pvc cement|pipe cement"),
    ("gate valve", "gate valve"),
    ("valve", "ball valve|stopcock|shut-off|shutoff valve|tap for hose|tap"),
    ("heater", "heater inline|inline heater"),
    ("ultraviolet", "uv|uv unit|uv clarifier"),
    ("fitting", "fitting|hose tail|hosetail|hose barb|hose nozzle|hose connector|hose elbow|elbow hose connector|"
     "sweep elbow|elbow|tail|barb|barbed|spigot|joiner|reducer|reducing joiner|straight joiner|insert adapter|"
     "insert coupling|insert reducing coupling|adapter|adaptor|nipple|socket|bush|bushing|male adapter|"
     "female adapter|pvc union|union|hose reducer|connector"),
    ("pump", "pump|motor|pump head|motor head|filter motor|canister head|return pump|pump unit|pump part|canister motor|"
     "filter pump|utility pump"),
    ("foam", "filter foam|foam|foam block|foam pad|poly foam pad|matten filter"),
    ("rings", "ceramic rings|clay rings|ceramic noodles|rings|ring"),
    ("granules", "sintered glass|sintered glass media|sintered balls|sintered cubes|lava|zeolite|activated carbon|granules"),
    ("floss", "filter floss|floss|floss wadding|wadding|fleece"),
    ("hose", "hose|tubing|vinyl tubing|filter hose"),
    ("not of a loop", "canister|net|food|light|lamp|thermometer|timer|gravel|root|backdrop|fertiliser|decor|misc|cabinet"),
)  # fmt: skip
"""What a part is, by its words; where a text has words of several kinds, the one that stands first here holds."""

SHORT: Mapping[str, str] = MappingProxyType(
    {
        "outer thread": "male", "male thread": "male", "inner thread": "female", "female thread": "female",
        "garden hose thread": "ght", "mpt": "npt male", "fpt": "npt female", "fht": "ght female",
        "mht": "ght male", "bspm": "bsp male", "bspf": "bsp female", "bspp": "g", "fxf": "female", "mxm": "male", "lph": "l/h",
        "taper bsp": "bspt", "slits": "slots", "slit": "slots", "slot": "slots", "slotted": "slots", "flt": "filter",
        "od": "outside", "id": "inside",
    }
)  # fmt: skip
"""Words for other words, before anything is read."""

STOCKED = ("yes", "lots", "in stock", "1-3 days", "on order", "available", "plenty", "y")
"""What says that there is as much as wanted; on order is what comes later."""

SOLD_OUT = ("no", "sold out", "none", "out of stock", "n")

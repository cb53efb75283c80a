"""Which measurement would narrow a band, in a keeper's words. All are common practice, no published source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.errors import safe
from optimizer.model.bands import Band, UnknownShare
from optimizer.model.unknowns import UNSTATED
from optimizer.report.measures import percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """What tells most about one group of unknowns: on the loop as it stands, and on parts that are still to be bought."""

    now: str
    before_buying: str


_FILL = "a timed fill (20 s or more, three times, discharge held at tank level)"

_STATED: Mapping[str, Measurement] = {
    "pump curve": Measurement(
        now=f"{_FILL} with the return hose off at the coupling nearest the pump, and the watts read at the socket",
        before_buying="ask for measured heads at two or three flows instead of the label's two ends",
    ),
    "power drawn": Measurement(
        now="the watts read at the socket beside two fills, one with the outlet off",
        before_buying="ask for the watts at no flow and at free flow",
    ),
    "fittings": Measurement(
        now=f"{_FILL} with couplings and elbows taken out and the hoses joined straight, against one as it stands",
        before_buying="ask for the head lost, or Kv, of the fittings, and fill against the clock as soon as they are on",
    ),
    "bores of fittings": Measurement(
        now="the bore of every tail and coupling, with the largest drill shank that passes",
        before_buying="the bore of every tail and coupling in the shop, with the largest drill shank that passes",
    ),
    "hose bore": Measurement(
        now="the inside diameter at a fresh cut of the hose, both ways across, to 0.2 mm",
        before_buying="the inside diameter of the hose in the shop, both ways across, to 0.2 mm",
    ),
    "hose friction": Measurement(
        now=f"{_FILL} with the return hose off at the coupling, against one with all of it on",
        before_buying=f"{_FILL} with the new hose before it is cut to length, and once more after",
    ),
    "film in the hoses": Measurement(
        now=f"{_FILL} before and after brushing the hoses",
        before_buying="brush the hoses first and fill again",
    ),
    "media": Measurement(
        now=f"{_FILL} with the media out (kept wet in tank water, back within the hour), against one with them in",
        before_buying="the pores or grain of the new media, and a timed fill before and after they go in",
    ),
    "cake on media": Measurement(
        now=f"{_FILL} before and after rinsing the pads in tank water (biological ones one at a time)",
        before_buying="rinse the pads first and fill again; a new pad has no cake yet",
    ),
    "cake on the guard": Measurement(
        now=f"{_FILL} before and after rinsing the sponge over the intake",
        before_buying="rinse the sponge first and fill again; a new one has no cake yet",
    ),
    "guard": Measurement(
        now=f"{_FILL} with the guard off (a coarse net held over the intake, nobody leaves), against one with it on",
        before_buying="the open area of the new guard: openings times their size",
    ),
    "outlet": Measurement(
        now=f"the holes with a drill shank, and {_FILL} with the outlet off, against one with it on",
        before_buying="the holes of the new outlet with a drill shank before it is fitted",
    ),
    "non-return valves": Measurement(
        now=f"{_FILL} with the valve out of the hose, against one with it in",
        before_buying="ask the maker for the cracking head, and for the head lost at two flows",
    ),
    "inline devices": Measurement(
        now=f"{_FILL} with the device bypassed, against one with it in",
        before_buying="ask the maker for the head lost at two flows",
    ),
}

_INTO_THE_FILE = "; written into the file of the part, it takes the place of the figure that was assumed"
_LEFT_OUT = ("pump curve", "bores of fittings", "media", "guard", "outlet", "inline devices", "non-return valves")
"""Groups that figures which nobody stated belong to."""

MEASUREMENTS: Mapping[str, Measurement] = MappingProxyType(
    dict(_STATED)
    | {
        f"{UNSTATED}{group}": Measurement(
            now=_STATED[group].now + _INTO_THE_FILE, before_buying=_STATED[group].before_buying + _INTO_THE_FILE
        )
        for group in _LEFT_OUT
    }
)

CAUTION = (
    "Unplug everything in and on the tank before you open a joint, work over a tray, and use a circuit with an RCD (GFCI); "
    "local codes and licensed electricians decide."
)

SETTLED_SHARE = 0.9
"""A bundle that wins this often is not in doubt."""

NO_MATTER = 0.01
WORTH_IT = 0.1
"""Shares of the spread below which an unknown is not worth a word, or not a second measurement."""


def advice_of(band: Band) -> tuple[str, str]:
    """Return what would narrow a band most, and what would settle the choice (empty: there is nothing to say)."""
    wins = next(line.win_share for line in band.lines if line.name == band.told)
    return measurement_words(band.shares), settling_words(safe(band.told), safe(band.rival), wins, band.lead_shares)


def measurement_words(shares: tuple[UnknownShare, ...]) -> str:
    """The measurement that would narrow a band most; ``shares`` come largest first. Empty when nothing is unknown.

    Where the largest share belongs to parts that are not there yet, the largest one that can be measured today is told too.
    """
    if not shares or shares[0].share < NO_MATTER:
        return ""
    top = shares[0]
    text = f"{percent(top.share)} of the spread comes from the {top.unknown} alone. Most worth measuring: {_how(top)}."
    today = next((share for share in shares[1:] if _mostly_there(share) and share.share >= WORTH_IT), None)
    if _mostly_there(top) or today is None:
        return text
    return f"{text} On the loop as it stands ({percent(today.share)}, the {today.unknown}): {_how(today)}."


def settling_words(told: str, rival: str, win_share: float, shares: tuple[UnknownShare, ...]) -> str:
    """What would settle whether ``told`` or ``rival`` delivers more, or that it needs no settling."""
    if not rival:
        return ""
    wins = f"{told} delivers most in {percent(win_share)} of the draws"
    if win_share >= SETTLED_SHARE:
        return f"{wins}: no measurement is likely to change the choice."
    if not shares or shares[0].share < NO_MATTER:
        return ""
    top = shares[0]
    return (
        f"{wins}. What decides between it and {rival} is mostly the {top.unknown} ({percent(top.share)}). "
        f"Worth measuring: {_how(top)}."
    )


def _how(top: UnknownShare) -> str:
    """For parts that are there, for parts that are not, or for both."""
    itself = Measurement(now=f"the {top.unknown} by itself", before_buying=f"the {top.unknown} by itself")
    measurement = MEASUREMENTS.get(top.unknown, itself)
    if not _mostly_there(top):
        return f"{measurement.before_buying} ({'most of it is not' if top.installed else 'nothing of it is'} installed yet)"
    text = f"{measurement.now}. {CAUTION}".rstrip(".")
    if len(top.installed) < len(top.parts):
        return f"{text}. For what is still to be bought: {measurement.before_buying}"
    return text


def _mostly_there(share: UnknownShare) -> bool:
    """At least half of the parts are installed, so that a measurement today tells of the bundle."""
    return bool(share.installed) and 2 * len(share.installed) >= len(share.parts)

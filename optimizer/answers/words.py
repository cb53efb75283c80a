"""Limits in a keeper's words, with their numbers."""

from optimizer.model.limits import FREE, Limits
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, box, flowing, length
from optimizer.money import show_money


def limit_words(name: str, limits: Limits, rig: Rig, currency: str = "") -> str:
    """One limit in words, as used in verdicts and conflicts, with its quantities. Raises KeyError for an unknown name.

    >>> from optimizer.model.limits import Limits
    >>> limit_words("power_w", Limits(power_w=40.0), None)
    'power at most 40 W'
    """
    value = getattr(limits, name)
    if name not in FREE:
        raise KeyError(name)
    if name == "budget":
        return f"a budget of {money(value, currency)}" if value is not None else "no budget"
    if name == "noise_dba":
        return f"noise at most {value:.1f} dB(A)"
    if name == "power_w":
        return f"power at most {value:.0f} W"
    if name == "flow_min_m3s":
        return Said("at least ", flowing(value), f" delivered ({rig.turnover_per_hour(value):.2f} per hour)")
    if name == "flow_max_m3s":
        return Said("at most ", flowing(value), f" delivered ({rig.turnover_per_hour(value):.2f} per hour)")
    if name == "opening_m":
        return Said("guard openings of at most ", length(value, f"{value * 1e3:.2g} mm"))
    if name == "guard_speed_ms":
        return Said("at most ", Quantity(value, "speed", f"{value * 100:.2g} cm/s"), " in front of the guard")
    if name == "bio_area_m2":
        return Said("at least ", Quantity(value, "area", f"{value:.2f} m2"), " of surface for bacteria")
    if name == "inlet_head_m" and value == 0.0:
        return "no negative gauge pressure at the pump's inlet"
    if name == "inlet_head_m":
        return Said("at least ", length(value, f"{value * 100:.0f} cm"), " of water gauge pressure at the pump's inlet")
    if name == "room_m":
        return Said("a new pump of at most ", *box(value), " in the cabinet") if value is not None else "no bound on size"
    if name == "plugs":
        return f"a new pump with a plug that fits ({', '.join(value)})"
    return {
        "mechanical_stage": "a mechanical stage in the canister",
        "mature_media": "at least half of the mature biological media stays",
        "canister_rating": "the pressure rating of the canister",
        "device_windows": "the flow windows of the inline devices",
    }[name]


def money(minor: int, currency: str = "") -> str:
    """Minor units as money, with the currency behind them where it is known.

    >>> money(12050), money(12050, "EUR")
    ('120.50', '120.50 EUR')
    """
    return f"{show_money(minor)} {currency}" if currency else show_money(minor)

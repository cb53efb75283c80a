"""Limits in a keeper's words, with their numbers."""

from optimizer.loop.kinds import parts_of
from optimizer.model.limits import FREE, Limits
from optimizer.model.parts import Device, Kind
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, box, flowing, length, metres_per_second
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
        return f"noise at most {value:.1f} dB(A){_as_now(name, limits, rig)}"
    if name == "power_w":
        return f"power at most {value:.0f} W{_as_now(name, limits, rig)}"
    if name == "flow_min_m3s":
        return Said("at least ", flowing(value), f" delivered ({rig.turnover_per_hour(value):.2f} per hour)")
    if name == "flow_max_m3s":
        return Said("at most ", flowing(value), f" delivered ({rig.turnover_per_hour(value):.2f} per hour)")
    if name == "opening_m":
        return Said("guard openings of at most ", length(value, f"{value * 1e3:.2g} mm"))
    if name == "guard_speed_ms":
        return Said("at most ", Quantity(value, "speed", f"{value * 100:.2g} cm/s"), " in front of the guard")
    if name == "jet_speed_ms":
        return Said("jets of at most ", metres_per_second(value), " at the outlet")
    if name == "bio_area_m2":
        return Said("at least ", Quantity(value, "area", f"{value:.2f} m2"), " of surface for bacteria")
    if name == "inlet_head_m" and value == 0.0:
        return "no suction at the pump's inlet, which would suck air in at a loose joint"
    if name == "inlet_head_m":
        return Said("at least ", length(value, f"{value * 100:.0f} cm"), " of water gauge pressure at the pump's inlet")
    if name == "device_windows":
        return _windows(rig)
    if name == "room_m":
        return Said("a new pump of at most ", *box(value), " in the cabinet") if value is not None else "no bound on size"
    if name == "plugs":
        return f"a new pump with a plug that fits ({', '.join(value)})"
    return {
        "mechanical_stage": "a mechanical stage in the canister",
        "mature_media": "at least half of the mature biological media stays",
        "canister_rating": "the pressure rating of the canister",
    }[name]


def _windows(rig: Rig | None) -> str:
    """What the devices ask for that are there."""
    places = () if rig is None else rig.every_position
    named = [place.name for place in places for device in parts_of([place.installed], Device) if device.has_window]
    return "the flow windows of the inline devices" + (f" ({', '.join(named)})" if named else "")


def missing_figure(name: str, rig: Rig) -> str:
    """What is not given in the rig file that a limit hangs on, and what is taken for it (empty: nothing is missing).

    A limit that fails is told with it, so that it never fails in silence for a figure that nobody gave.
    """
    pump = rig.positions[rig.index(Kind.PUMP)]
    if name != "inlet_head_m" or pump.depth_known:
        return ""
    return f"loop.{pump.name}.depth is not given, so the pump is taken to stand at the water line"


def _as_now(name: str, limits: Limits, rig: Rig | None) -> str:
    """That a limit is what the pump has that is there now, where it is asked for so and not loosened."""
    asked = rig is not None and name in rig.as_now and getattr(limits, name) == getattr(rig.limits, name)
    return ", as now" if asked else ""


def money(minor: int, currency: str = "") -> str:
    """Minor units as money, with the currency behind them where it is known.

    >>> money(12050), money(12050, "EUR")
    ('120.50', '120.50 EUR')
    """
    return f"{show_money(minor)} {currency}" if currency else show_money(minor)

"""Names of what is not known exactly about a loop: what the figures of a part are multiplied by."""

PUMP_HEAD, PUMP_FLOW = "pump head", "pump flow"
LABEL_HEAD, LABEL_FLOW, LABEL_SHAPE = "label head", "label flow", "label shape"
LABEL_POWER, SHUT_POWER = "label power", "shut-off power"
FITTINGS, FITTING_BORES = "fittings", "fitting bores"
MOULDED_ELBOWS, THREADED_ELBOWS, OPEN_VALVES = "moulded elbows", "threaded elbows", "open valves"
HOSE_BORE, HOSE_FRICTION, FILM = "hose bore", "hose friction", "film"
MEDIA, FILLED_MEDIA = "media", "filled media"
GUARD, BLOCKED_GUARD = "guard", "blocked guard"
CAKE, GUARD_CAKE = "cake on media", "cake on the guard"
OUTLET, OUTLET_BORES = "outlet", "outlet bores"
DEVICE = "inline device"
VALVE, VALVE_CRACK = "non-return valve", "cracking head"

ASSUMED, UNSTATED = ", assumed", "unstated "
"""What stands behind the name of an unknown, and in front of that of its group, where figures are assumed."""


def assumed(name: str) -> str:
    """The name of an unknown of parts for which a figure that it hangs on is assumed: it has a wider prior."""
    return f"{name}{ASSUMED}"


def sort_of(name: str) -> str:
    """The name of an unknown whether its figures are assumed or not.

    >>> sort_of(assumed(FITTING_BORES)) == sort_of(FITTING_BORES) == FITTING_BORES
    True
    """
    return name.removesuffix(ASSUMED)

"""The command cheapest: the bundle with the least price that delivers a flow."""

from optimizer.commands.command import Command
from optimizer.commands.options import RIG, value
from optimizer.commands.streams import Progress
from optimizer.commands.tank import BANDS, DRAWN, INTERVAL, NOT_BESIDE, ORDER, SHARED, Asked, bundle, opened, read, wrong_in_rig
from optimizer.commands.told import Told

__all__ = ["COMMAND"]

FLOW = value("--flow", "FLOW", '"800 l/h"', "delivered flow to reach")
TURNOVER = value("--turnover", "RATE", '"4 per hour"', "turnover of the net volume to reach")


def answer(asked: Asked, progress: Progress | None) -> Told:
    """The cheapest bundle for the flow that the arguments, or else the rig, ask for. Raises InputError where neither does."""
    rig, catalog = opened(asked)
    flow_m3s = asked.flow_m3s or (asked.per_hour or 0.0) * rig.tank.net_m3 / 3600.0 or rig.target_m3s
    if not flow_m3s > 0.0:
        cure = 'Add --flow "800 l/h" or --turnover "4 per hour", or a [wish] to the rig file.'
        raise wrong_in_rig(asked, "wish", "no flow is asked for.", cure)
    return bundle(asked, rig, catalog, progress, flow_m3s)


COMMAND = Command(
    does="Finds the bundle with the least price that delivers a flow within the limits of the rig.\n"
    "Without --flow and --turnover that is the wish in the rig file.",
    options=(RIG, (FLOW, TURNOVER), *SHARED, INTERVAL, (ORDER, BANDS), *DRAWN),
    examples=(
        'fullbore cheapest tank.toml --flow "800 l/h"',
        'fullbore cheapest tank.toml --flow "800 l/h" --order',
        'fullbore cheapest tank.toml --flow "800 l/h" --bands',
        'fullbore cheapest tank.toml --turnover "4 per hour" --budget 150',
    ),
    read=read,
    answer=answer,
    not_beside=NOT_BESIDE,
)

"""Finds the bundle with the least price that delivers a flow within the limits of the rig.
Without --flow and --turnover that is the wish in the rig file.

fullbore cheapest tank.toml --flow "800 l/h"
fullbore cheapest tank.toml --flow "800 l/h" --order
fullbore cheapest tank.toml --flow "800 l/h" --bands
fullbore cheapest tank.toml --turnover "4 per hour" --budget 150
fullbore cheapest tank.toml --flow "600 l/h" --interval 60d --clean-flow "800 l/h"
"""

from dataclasses import dataclass

from optimizer.commands.command import Command, Progress, Told
from optimizer.commands.options import value
from optimizer.commands.reader import above_zero, flow, refused
from optimizer.commands.tank import FIRST, NOT_BESIDE, Bundle, bundle, check, opened


def _turnover(text: str) -> float:
    from optimizer.files.rates import parse_turnover

    return above_zero(parse_turnover(text), '"4 per hour"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Bundle):
    """The flow to reach in m3/s, or as turnovers per hour; without both it is that of the rig."""

    flow: float | None = value("--flow", "FLOW", '"800 l/h"', "delivered flow to reach", flow, group="wish")
    turnover: float | None = value(
        "--turnover", "RATE", '"4 per hour"', "turnover of the net volume to reach", _turnover, group="wish"
    )


def _answer(asked: Asked, progress: Progress | None) -> Told:
    """Raises InputError where neither the arguments nor the rig ask for a flow."""
    rig, catalog = opened(asked)
    flow_m3s = asked.flow or (asked.turnover or 0.0) * rig.tank.net_m3 / 3600.0 or rig.target_m3s
    if not flow_m3s > 0.0:
        cure = 'Add --flow "800 l/h" or --turnover "4 per hour", or a [wish] to the rig file.'
        raise refused("wish", "no flow is asked for.", cure, asked.rig)
    return bundle(asked, rig, catalog, progress, flow_m3s=flow_m3s)


SHOWN = (
    "flow turnover catalog budget full show json prove proof csv xlsx after report units quiet interval clean_flow order bands "
    "robust candidates draws seed unmeasured log"
)
COMMAND = Command(__doc__, Asked, _answer, check, first=FIRST, shown=SHOWN, not_beside=NOT_BESIDE)

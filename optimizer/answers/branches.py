"""What passes each branch and each inline device, and how throttles in branches are to be set."""

import math
from collections.abc import Iterator

from optimizer.answers.rows import Standing, with_flows
from optimizer.model.parts import Device
from optimizer.model.results import BranchFlow, WindowLine


def branch_lines(row: str, stands: Standing) -> Iterator[BranchFlow]:
    """A line for every branch of every position that has two of them, in the order of the water."""
    known = {place: (flows, held) for place, flows, held in stands.branch_flows}
    for option in stands.options:
        if option.ways is None or len(option.ways.branches) < 2:
            continue
        flows, held = known[option.place]
        for number, (way, loss) in enumerate(zip(option.ways.branches, option.ways.split.branches, strict=True)):
            yield BranchFlow(
                row=row,
                place=option.place,
                branch=way.name,
                flow_m3s=flows[number],
                flow_min_m3s=loss.flow_min_m3s,
                flow_max_m3s=loss.flow_max_m3s,
                throttled=held == number,
                holds=tuple(inner.part.name for inner in way.there if inner.part is not None),
            )


def window_lines(row: str, stands: Standing) -> Iterator[WindowLine]:
    """A line for every inline device with a flow window."""
    for option, flow in with_flows(stands):
        part = option.part
        if isinstance(part, Device) and (part.flow_min_m3s > 0.0 or math.isfinite(part.flow_max_m3s)):
            yield WindowLine(
                row=row,
                place=option.place,
                device=part.name,
                flow_m3s=flow,
                flow_min_m3s=part.flow_min_m3s,
                flow_max_m3s=part.flow_max_m3s,
                kept=part.flow_min_m3s * (1 - 1e-9) <= flow <= part.flow_max_m3s * (1 + 1e-9),
            )

"""What passes each branch and each inline device, and how throttles in branches are to be set."""

from collections.abc import Iterable, Iterator

from optimizer.answers.bundle_walk import each_fork
from optimizer.answers.rows import Standing, with_flows
from optimizer.loop.kinds import each_of, parts_of
from optimizer.model.options import FilledBranch, FilledBranches, Option
from optimizer.model.parts import Device, Outlet
from optimizer.model.results import BranchFlow, WindowLine


def branch_lines(row: str, stands: Standing) -> Iterator[BranchFlow]:
    """A line for every branch of every place that has two of them, in the order of the water."""
    filled = _filled(stands.options)
    for place, flows, held in stands.branch_flows:
        ways = filled[place]
        for number, (way, loss) in enumerate(zip(ways.branches, ways.split.branches, strict=True)):
            yield BranchFlow(
                row=row,
                place=place,
                branch=way.name,
                flow_m3s=flows[number],
                flow_min_m3s=loss.flow_min_m3s,
                flow_max_m3s=loss.flow_max_m3s,
                throttled=held == number,
                holds=tuple(inner.part.name for inner in way.parts if inner.part is not None),
            )


def _filled(options: Iterable[Option]) -> dict[str, FilledBranches]:
    """How the branches are filled, by the place that holds them."""
    return {option.place: option.ways for option in each_fork(options) if option.ways is not None}


DRY_M3S = 1e-9
"""A branch that passes less than this passes nothing."""


def dry_lines(stands: Standing) -> Iterator[str]:
    """A caution for every branch that passes nothing in a loop that flows."""
    if stands.flow_m3s <= DRY_M3S:
        return
    filled = _filled(stands.options)
    dry: set[str] = set()
    for place, flows, _ in stands.branch_flows:
        for way, flow in zip(filled[place].branches, flows, strict=True):
            if flow <= DRY_M3S and way.name not in dry:
                dry.update(inner.name for ways in _filled(way.options).values() for inner in ways.branches)
                end = ": its outlet is above what its share of the head reaches" if _ends_at_outlet(way) else ""
                yield (
                    f"Branch {way.name} passes nothing{end}. Water that stands there rots and what lives in it dies: sink or "
                    "lower it, hold the other branch back, or shut the branch off and empty it."
                )


def _ends_at_outlet(way: FilledBranch) -> bool:
    return any(True for _ in each_of(way.parts, Outlet))


def window_lines(row: str, stands: Standing) -> Iterator[WindowLine]:
    """A line for every inline device with a flow window."""
    for option, flow in with_flows(stands):
        for part in (device for device in parts_of([option.part], Device) if device.has_window):
            yield WindowLine(
                row=row,
                place=option.place,
                device=part.name,
                flow_m3s=flow,
                flow_min_m3s=part.flow_min_m3s,
                flow_max_m3s=part.flow_max_m3s,
                kept=part.flow_min_m3s * (1 - 1e-9) <= flow <= part.flow_max_m3s * (1 + 1e-9),
            )

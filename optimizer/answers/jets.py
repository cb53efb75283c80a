"""The jets of a spray bar: how fast the water leaves each hole, and how evenly."""

from collections.abc import Iterator

from optimizer.answers.rows import Standing, with_flows
from optimizer.loop.kinds import parts_of
from optimizer.loop.terms import bar_of, open_hole_m
from optimizer.model.parts import Outlet
from optimizer.model.results import Jets


def jets(name: str, stands: Standing) -> Iterator[Jets]:
    """The jets of every spray bar in one row."""
    for option, flow in with_flows(stands):
        for outlet in (each for each in parts_of([option.part], Outlet) if each.form == "bar"):
            bar = bar_of(outlet, option.state)
            yield Jets(
                name=name,
                place=option.place,
                holes=outlet.holes,
                hole_m=open_hole_m(outlet, option.state),
                speeds_ms=tuple(each * flow for each in bar.jet_speeds_1m2),
                evenness=bar.evenness,
            )

"""Which holes a spray bar should have: every count and standard drill that fits, each with the loop solved again."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from optimizer.answers.asked import by_its_fills
from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing, row, standing
from optimizer.errors import InputError, Problem, quoted
from optimizer.loop.element_loops import flows_with
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.kinds import part_loss, parts_of
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.terms import bar_of, change_quadratic, open_hole_m
from optimizer.measure.fill_loop import cleaned
from optimizer.model.catalog import Catalog
from optimizer.model.drilling import Drilled, DrillResult, JetWish
from optimizer.model.drills import DRILL_SETS, Drill
from optimizer.model.fill import CLEAN
from optimizer.model.fitted import ByFills
from optimizer.model.losses import Loss
from optimizer.model.options import ADJUST
from optimizer.model.parts import Outlet
from optimizer.model.rig import Rig
from optimizer.model.said import Said, length
from optimizer.model.state import State
from optimizer.physics.outlets import BAR_AREA_RATIO, SprayBar
from optimizer.search.best import RESOLUTION_M3S

GAP_OVER_HOLE = 2.0
"""Centres of two holes stay at least so many diameters apart, so that the tube does not split (common practice, no published
source)."""

MOST_OF_BORE = 0.5
"""A hole is at most so wide against the bar's bore: beyond it the drill takes half the tube away (common practice, no published
source)."""

ALIKE = 0.01
"""Flows within this share of the most are as good: among them the least drilling is listed first."""

MOST_SHOWN = 10
LOOKED_AT = 400
"""So many flows are looked at in a loop with branches."""

SAME_M = 1e-6
"""Diameters closer than this are the same drill."""

CAUTIONS = (
    "Drilling cannot be undone, and holes only get larger. Drill the fewest and smallest first, measure, then go on; practise on "
    "a piece of the same tube.",
    Said(
        "Plastic grabs and cracks (acrylic most): bar out of the tank and dry, clamped in soft jaws, a close-fitting wooden rod "
        "inside, a sharp drill at low speed, in steps of about ",
        length(0.5e-3, "0.5 mm"),
        ", easing off before it breaks through (common practice). Wear eye protection.",
    ),
    "Take off the burrs and rinse out every chip before the bar goes back: chips hurt fish and jam impellers.",
    "Mains and water: drill well away from the tank with dry hands, on a circuit with an RCD (GFCI), and unplug everything in "
    "the tank before you reach in. Local codes and licensed electricians decide.",
    "Aim the holes so that no jet leaves the tank, and watch weak swimmers afterwards.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """A bar with a count of holes of one drill, its least gap, its march, and the flow it would have."""

    drill: str
    bar: Outlet
    gap_m: float
    march: SprayBar
    flow_m3s: float = 0.0

    @property
    def speeds_ms(self) -> tuple[float, float]:
        """Slowest and fastest jet."""
        speeds = self.march.jet_speeds_1m2
        return min(speeds) * self.flow_m3s, max(speeds) * self.flow_m3s

    def short_of(self, wish: JetWish) -> float:
        """How far the wish is missed; nothing is met where nothing flows."""
        return wish.short_by(*self.speeds_ms, self.march.evenness) if self.flow_m3s > 0.0 else math.inf

    @property
    def order(self) -> tuple[int, int, float]:
        """Most flow first (to the resolution of answers), then fewest holes, then the smallest drill."""
        return -round(self.flow_m3s / RESOLUTION_M3S), self.bar.holes, self.bar.hole_m

    def effort(self, most_m3s: float) -> tuple[bool, int, int, float]:
        """What delivers nearly as much as the most first, of these the fewest holes; the others behind, by their flow."""
        near = self.flow_m3s >= (1.0 - ALIKE) * most_m3s
        flow, holes, size = self.order
        return (False, holes, flow, size) if near else (True, flow, holes, size)


def drill(
    rig: Rig,
    *,
    jet_ms: float | None = None,
    jet_most_ms: float | None = None,
    evenness: float | None = None,
    drills: str = "tenths",
    new_bar: bool = False,
    measured: bool = True,
) -> DrillResult:
    """Which count of holes and which standard drill give the rig's spray bar the jets that are wanted.

    ``jet_ms`` and ``jet_most_ms`` in m/s bound the mean speed in every hole, ``evenness`` the least flow of a hole over the
    greatest; ``drills`` names a set of `DRILL_SETS`; ``new_bar`` takes an undrilled bar of the same tube; the fills in the rig
    file say what the installed parts lose, unless ``measured`` is False. Raises ValueError when nothing is asked, KeyError for an
    unknown set, InputError for a rig whose outlet is no spray bar and for fills that no loop can explain.
    """
    wish = JetWish(jet_ms=jet_ms, jet_most_ms=jet_most_ms, evenness=evenness)
    _installed(rig)
    fitted, told = by_its_fills(rig, measured)
    return drill_answer(fitted, wish, drills, new_bar, told)


def drill_answer(
    rig: Rig, wish: JetWish, drills: str = "tenths", new_bar: bool = False, told: ByFills | None = None
) -> DrillResult:
    """Every count and drill of a set (`DRILL_SETS`) that fits on the installed bar, or on a new one of its tube, against a wish.

    All loops are cleaned first: dirt that goes with the next cleaning is no measure of holes that stay. Holes of an installed bar
    stay where they are: new ones can only go between them, and none gets fewer or smaller. ``told`` is what to say of the fills
    that the rig goes by. Raises InputError for a rig whose outlet is no spray bar, KeyError for an unknown set.
    """
    today, rig = rig, cleaned(rig, (CLEAN,))
    stands = stands_now(rig, Catalog(parts={}, products=()))
    bar = _installed(rig)
    pairs = _solved(rig, stands, _pairs(bar, DRILL_SETS[drills], new_bar))
    meeting = [pair for pair in pairs if pair.short_of(wish) <= 1e-9]
    most = max((pair.flow_m3s for pair in meeting), default=0.0)
    met = sorted(meeting, key=lambda pair: pair.effort(most))
    # the closest of those that flow; ties go to more flow
    near = min(pairs, key=lambda pair: (pair.short_of(wish), pair.order), default=None)
    kept = next((pair for pair in met if pair.bar.holes == bar.holes), None)
    start = _now(rig, stands)
    meets = start.flow_m3s > 0.0 and wish.short_by(start.slowest_ms, start.fastest_ms, start.evenness) <= 1e-9
    other = None if met or meets or new_bar else next(iter(drill_answer(rig, wish, drills, new_bar=True).best), None)
    return DrillResult(
        rig=rig.name,
        place=rig.positions[-1].name,
        wish=wish,
        drills=drills,
        new_bar=new_bar,
        now=start if today == rig else _now(today, stands_now(today, Catalog(parts={}, products=()))),
        cleaned=start,
        cleaned_meets=meets,
        best=tuple(_drilled(rig, stands, pair) for pair in met[:MOST_SHOWN]),
        met=len(met),
        tried=len(pairs),
        same_holes=None if kept is None or new_bar else _drilled(rig, stands, kept),
        closest=None if met or near is None else _drilled(rig, stands, near),
        new_bar_best=other,
        by_fills=told,
        cautions=CAUTIONS,
        basis=(*_basis(bar, new_bar, today != rig), *(() if told is None else told.notes)),
    )


def _installed(rig: Rig) -> Outlet:
    position = rig.positions[-1]
    for outlet in parts_of([position.installed], Outlet):
        if outlet.form == "bar":
            return outlet
    what = (
        f"{quoted(position.installed.name if position.installed else position.name)} is no spray bar: it has no holes to drill."
    )
    cure = 'Describe a spray bar there (form = "bar" with holes, hole, bar_bore and pitch).'
    raise InputError(rig.told_as, [Problem(where=f"loop.{position.name}", what=what, cure=cure)])


def _pairs(bar: Outlet, drills: Sequence[Drill], new_bar: bool) -> Iterator[_Pair]:
    """Every count and drill that fits, with its march along the bar, all holes taken as evenly spaced."""
    length = bar.holes * bar.pitch_m
    for drill in drills:
        size = drill.diameter_m
        if size > MOST_OF_BORE * bar.bar_bore_m + SAME_M or (not new_bar and size < bar.hole_m - SAME_M):
            continue
        for holes in _counts(bar, size, new_bar):
            if holes * (size / bar.bar_bore_m) ** 2 > BAR_AREA_RATIO.high:
                break
            if not new_bar and holes == bar.holes and abs(size - bar.hole_m) <= SAME_M:
                continue
            assumed = tuple(name for name in bar.assumed if name not in ("holes", "hole", "pitch"))
            made = replace(bar, holes=holes, hole_m=size, pitch_m=length / holes, assumed=assumed)
            gap = made.pitch_m if new_bar else bar.pitch_m / math.ceil(holes / bar.holes)
            yield _Pair(drill=drill.name, bar=made, gap_m=gap, march=bar_of(made, State()))


def _counts(bar: Outlet, size_m: float, new_bar: bool) -> range:
    """How many holes of a size fit: on a new bar anywhere, on a drilled one in the gaps between those there are."""
    if new_bar:
        return range(1, math.floor(bar.holes * bar.pitch_m / (GAP_OVER_HOLE * size_m) + 1e-9) + 1)
    in_each_gap = math.floor(bar.pitch_m / (GAP_OVER_HOLE * size_m) + 1e-9)
    return range(bar.holes, bar.holes * in_each_gap + 1)


def _solved(rig: Rig, stands: Standing, pairs: Iterator[_Pair]) -> list[_Pair]:
    """The pairs with their delivered flows, all loops solved at once."""
    fitting = list(pairs)
    if not fitting:
        return []
    outlet = stands.elements[-1]
    lift = Element(place=outlet.place, label=outlet.label, loss=Loss(lift_m=outlet.loss.lift_m))
    step, jets = _as_fitted(rig, fitting[0].bar)
    quadratics = np.array([step + jets * pair.march.quadratic_s2m5 for pair in fitting])
    rest = [*stands.elements[:-1], lift]
    branched = any(element.split is not None for element in rest)
    flows = (_flows_past_branches if branched else flows_with)(rest, quadratics, rig.tank.water.kinematic_m2s)
    return [replace(pair, flow_m3s=float(flow)) for pair, flow in zip(fitting, flows, strict=True)]


def _as_fitted(rig: Rig, bar: Outlet) -> tuple[float, float]:
    """The loss of the step into the bar in s2/m5, and what that of its jets is multiplied by: fills tell of the tube and of how
    sharp holes in it are, whichever holes it has."""
    step = change_quadratic(bar.inlet.bore_m, bar.bar_bore_m, rig.laws)
    if rig.fitted is None:
        return step, 1.0
    plain, jets = rig.fitted.bar_scales(bar)
    return step * plain, jets


def _flows_past_branches(rest: Sequence[Element], quadratics: NDArray[np.float64], kinematic_m2s: float) -> NDArray[np.float64]:
    """Flows in m3/s of a loop with branches, closed by each of many outlets, shape (n,).

    The coefficient that makes a flow the operating point falls as the flow rises: it is found in scalars at `LOOKED_AT` flows,
    and read the other way round in between. What is reported is solved again.
    """
    most = operating_point(loop_graph(rest), kinematic_m2s).flow_m3s
    if most <= 0.0:
        return np.zeros(len(quadratics))
    flows = most * np.geomspace(1e-3, 1.0, LOOKED_AT)
    spare = [-sum(element_head_m(element, float(flow), kinematic_m2s) for element in rest) for flow in flows]
    wanted = np.maximum(np.array(spare), 0.0) / flows**2
    return np.asarray(PchipInterpolator(-wanted, flows)(-quadratics), dtype=float)


def _drilled(rig: Rig, stands: Standing, pair: _Pair) -> Drilled:
    """What is reported of a pair, its loop solved again in scalars and held against the rig's limits."""
    old = stands.options[-1]
    position = replace(rig.positions[-1], height_m=old.height_m)
    if rig.fitted is None:
        loss = part_loss(pair.bar, State(), position, rig.tank.water)
    else:
        loss = rig.fitted.part(pair.bar, State(), position, rig.tank.water)[1]
    new = replace(old, change=ADJUST, part=pair.bar, state=State(), loss=loss)
    again = standing(rig, rig.tank.water, (*stands.options[:-1], new), stands.joints, 0, None)
    return _report(rig, again, pair)


def _now(rig: Rig, stands: Standing) -> Drilled:
    bar, state = _installed(rig), stands.options[-1].state
    return _report(rig, stands, _Pair(drill="", bar=bar, gap_m=bar.pitch_m, march=bar_of(bar, state)))


def _report(rig: Rig, stands: Standing, pair: _Pair) -> Drilled:
    slowest, fastest = replace(pair, flow_m3s=stands.flow_m3s).speeds_ms
    hole = open_hole_m(pair.bar, stands.options[-1].state)
    return Drilled(
        holes=pair.bar.holes,
        drill=pair.drill,
        hole_m=hole,
        gap_m=pair.gap_m,
        flow_m3s=stands.flow_m3s,
        slowest_ms=slowest,
        fastest_ms=fastest,
        evenness=pair.march.evenness,
        area_ratio=pair.bar.holes * (hole / pair.bar.bar_bore_m) ** 2,
        breaks=row("drilled", rig, rig.limits, stands).breaks,
    )


def _basis(bar: Outlet, new_bar: bool, was_dirty: bool) -> tuple[str, ...]:
    long, bore = bar.holes * bar.pitch_m, bar.bar_bore_m
    tube = (length(long, f"{long * 1e3:.0f} mm"), " of drilled tube with a bore of ", length(bore, f"{bore * 1e3:.3g} mm"))
    old = (
        "A new bar" if new_bar else f"The installed bar, cleaned; its {bar.holes} holes stay where they are, new ones go between"
    )
    return (
        Said(f"{old}: ", *tube, ". All holes are drilled to one size and reckoned as evenly spaced."),
        f"Everything else in the loop is as it is{', cleaned first' if was_dirty else ''}, nothing throttled; each flow is "
        "solved again for its holes.",
        f"Jet speed: mean speed in a hole; behind a sharp hole the jet narrows and is faster. Discharge {bar.discharge:g}.",
        f"Holes stand at least {GAP_OVER_HOLE:g} diameters apart and are at most {MOST_OF_BORE:g} of the bore wide (common "
        f"practice, no published source), with at most {BAR_AREA_RATIO.high:g} times the bore's area in all (from memory; beyond "
        "it the march is not valid).",
    )

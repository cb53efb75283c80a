"""Where a correlation is used outside the range it was measured for, in which loops, and what that means for the figures."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from optimizer.answers.bundle_walk import closings
from optimizer.answers.rows import Standing
from optimizer.loop.kinds import ends_of
from optimizer.loop.law_uses import Use, law_uses, part_uses
from optimizer.model.ends import refusal
from optimizer.model.rig import Position, Rig, nested_positions
from optimizer.model.said import Quantity, Said, degrees, length
from optimizer.model.state import State
from optimizer.physics.hose import TRANSITION
from optimizer.physics.sound import DISTANCE_RANGE
from optimizer.physics.validity import Validity, doubtful


def validity_warnings(rig: Rig, loops: Mapping[str, Standing]) -> tuple[str, ...]:
    """One line per correlation that is used where it is uncertain, naming the places and in which of the ``loops``, by name, they
    are so; then the joints of the loop as it is that do not close by what the rig says of their ends."""
    doubts: dict[Validity, list[tuple[str, Use]]] = {}
    for name, stands in loops.items():
        for use in _uses(rig, stands):
            if doubtful(use.validity, use.value):
                doubts.setdefault(use.validity, []).append((name, use))
    lines = [_line(validity, uses, list(loops)) for validity, uses in doubts.items()]
    return (*lines, *_unmated(rig))


def _uses(rig: Rig, stands: Standing) -> Iterator[Use]:
    """Every use of a law in a loop, in the parts that close its joints, and in what is heard of it."""
    yield Use(place="noise", validity=DISTANCE_RANGE, value=rig.listen_m)
    yield from law_uses(stands.loop, stands.flow_m3s, {place: flows for place, flows, _ in stands.branch_flows})
    for joint in closings(stands.options, stands.joints):
        place = Position(name=joint.name, kind="", installed=None)
        for turned in joint.chain.adapters:
            yield from part_uses(turned.part, State(), place, 1.0, stands.loop.water, 0.0)


def _line(validity: Validity, uses: Sequence[tuple[str, Use]], loops: Sequence[str]) -> str:
    values = sorted({use.value for _, use in uses})
    where = _where(uses, loops)
    ends = list(dict.fromkeys((values[0], values[-1])))
    if validity is TRANSITION:
        between = f"{where}: the flow is neither laminar nor turbulent (Reynolds number "
        return Said(between, *_span(validity, ends), "); its friction is uncertain by about 20 %.")
    used = Said(f"{where}: {validity.quantity} ", *_span(validity, ends))
    known = ", range from memory" if "from memory" in validity.source else ""
    law = f"its law ({validity.name}{known}) was measured; take the figures there as rough."
    if validity.high == math.inf:
        return Said(used, " is below ", *_span(validity, [validity.low]), ", from which on ", law)
    return Said(used, " is outside the ", *_span(validity, [validity.low, validity.high]), " for which ", law)


def _where(uses: Iterable[tuple[str, Use]], loops: Sequence[str]) -> str:
    """The places, those of the same loops together; what is so in every loop, or has none of its own, needs no loop named."""
    found: dict[str, list[str]] = {}
    for name, use in uses:
        named = found.setdefault(use.place, [])
        named += [name] if name not in named else []
    together: dict[tuple[str, ...], list[str]] = {}
    for place, names in found.items():
        together.setdefault(tuple(names) if len(names) < len(loops) else (), []).append(place)
    return "; ".join(", ".join(places) + (f" ({', '.join(names)})" if names else "") for names, places in together.items())


def _span(validity: Validity, values: Sequence[float]) -> Iterator[str | Quantity]:
    """One value or two in the unit of the range, said behind the last; the largest says whether a length is in mm or in m."""
    long = validity.kind == "length" and max(values) >= 1.0
    for n, value in enumerate(values):
        if n:
            yield " to "
        yield _said(validity, value, long, n == len(values) - 1)


def _said(validity: Validity, value: float, long: bool, last: bool) -> str | Quantity:
    if validity.kind == "length":
        if long:
            return Quantity(value, "height", f"{value:.3g} m" if last else f"{value:.3g}")
        return length(value, f"{value * 1e3:.3g} mm" if last else f"{value * 1e3:.3g}")
    if validity.kind == "temperature":
        return degrees(value) if last else Quantity(value, "temperature", f"{value:.3g}")
    if validity.kind == "share":
        return f"{value * 100.0:.3g} %" if last else f"{value * 100.0:.3g}"
    number = f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}"
    return f"{number} {validity.unit}" if last and validity.unit else number


def _unmated(rig: Rig) -> Iterator[str]:
    """Installed neighbours whose ends do not go together: there may be an adapter that the rig file does not name."""
    inside = (branch.positions for position in nested_positions(rig.positions) for branch in position.branches)
    for positions in (rig.positions, *inside):
        before, leaves = "", None
        for position in positions:
            if position.branches:
                before, leaves = "", None
            if position.installed is None:
                continue
            enters, out = ends_of(position.installed)
            why = refusal(leaves, enters) if leaves is not None and enters is not None else ""
            if why:
                yield Said(
                    *(f"{before} to {position.name}: by the rig file these do not go together (", why, "). What joins them "),
                    "now is taken to stay and to lose no more than the step in bore; look whether both ends are the real ones.",
                )
            before, leaves = position.name, out

"""What a household should do as plain text: verdict, aims side by side, tank by tank, order of work, and one bill."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.shared import SharedResult, TankShare
from optimizer.report.fitted_lines import by_fills_sentences, moved
from optimizer.report.layout import PLAIN, Block, Screen, aligned, bullets, columns, cut, finished, paragraph
from optimizer.report.measures import Measures, money, percent, system, watts
from optimizer.report.plan_lines import catalog_line, quantity_text

__all__ = ["headline", "render"]

LONGEST = 30
UNCHANGED = ("keep",)


def headline(told: SharedResult, units: str = "metric") -> str:
    """Return the verdict on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_verdict(told, system(units)))])


def render(told: SharedResult, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text. Raises ValueError for other units."""
    measures = system(units)
    lines = paragraph(f"{cut(safe(told.household), 60)}: {money(told.budget, safe(told.currency))} for all tanks", rest="  ")
    for sentence in _verdict(told, measures):
        lines += paragraph(sentence, rest="  ")
    lines += ["", "Why", *bullets(safe(measures.words(each)) for each in told.reasons)] if told.reasons else []
    if told.tanks:
        lines += ["", "Aims side by side (the bill below is for the one marked *)", *aligned(list(_aims(told, measures)))]
        lines += ["", "Tanks", *aligned(list(_tanks(told, measures)))]
        lines += [line for tank in told.tanks for line in _tank(tank, measures)]
        lines += _handed(told) + _steps(told) + _shared_limits(told) + _bill(told, measures)
        lines += ["", "Mind", *bullets(safe(measures.words(each)) for each in told.cautions)]
    lines += ["", "Taken for granted", *bullets(safe(measures.words(each)) for each in told.notes)]
    return finished([*lines, *catalog_line(told.catalog)], screen)


def _verdict(told: SharedResult, measures: Measures) -> Iterator[str]:
    if not told.tanks:
        yield "No choice of bundles meets all limits." if told.status == "infeasible" else "Stopped before any choice was found."
        return
    aside = [tank for tank in told.tanks if tank.set_aside]
    counted = [tank for tank in told.tanks if not tank.set_aside]
    price = money(told.price, safe(told.currency))
    if aside:
        names = ", ".join(cut(safe(tank.name), LONGEST) for tank in aside)
        yield f"Left as it is, since no bundle meets its limits: {names}."
    if not counted:
        return
    worst = min(counted, key=lambda tank: tank.share)
    every = "every other tank" if aside else "every tank"
    yield (
        f"{told.aim.capitalize()}: {every} gets at least {percent(worst.share)} of its target for {price} "
        f"(least: {cut(safe(worst.name), LONGEST)}, {measures.flow_text(worst.flow_m3s)})."
    )
    if told.status == "proved":
        yield "Proved: no other choice of bundles for these tanks does better by this aim, to the resolution of flows."
    else:
        yield f"Stopped before it was proved: {safe(measures.words(told.gap))}."


def _aims(told: SharedResult, measures: Measures) -> Iterator[tuple[str, ...]]:
    yield ("", "worst tank", f"short, {measures.flow}", f"total, {measures.flow}", "price", "W", "")
    for row in told.aims:
        mark = "* " if row.aim == told.aim else "  "
        yield (
            mark + row.aim,
            percent(row.least_share),
            measures.bare_flow(row.shortfall_m3s),
            measures.bare_flow(row.total_m3s),
            money(row.price),
            watts(row.power_w),
            row.status,
        )


def _tanks(told: SharedResult, measures: Measures) -> Iterator[tuple[str, ...]]:
    unit = measures.flow
    yield ("", f"now, {unit}", f"then, {unit}", f"target, {unit}", "reached", "dB(A)", "W")
    for tank in told.tanks:
        flows = (measures.bare_flow(flow) for flow in (tank.now_m3s, tank.flow_m3s, tank.target_m3s))
        yield (safe(tank.name), *flows, percent(tank.share), f"{tank.noise_dba:.1f}", watts(tank.power_w))


def _by_fills(tank: TankShare, measures: Measures) -> Iterator[Block]:
    for sentence in by_fills_sentences(tank.by_fills, measures):
        yield from paragraph(sentence, "  ", "  ")
    if tank.by_fills is not None and not tank.by_fills.left_out:
        yield from bullets(moved(tank.by_fills))


def _tank(tank: TankShare, measures: Measures) -> Iterator[Block]:
    name = cut(safe(tank.name), 60)
    if tank.set_aside:
        yield from ("", *paragraph(f"{name}: no bundle meets its limits, so it gets nothing and stays as it is."))
        yield from bullets(safe(measures.words(each)) for each in tank.set_aside)
        yield from _by_fills(tank, measures)
        return
    if tank.enough:
        yield from ("", *paragraph(f"{name}: has enough, gets nothing and keeps all it has."))
        yield from _by_fills(tank, measures)
        return
    todo = [change for change in tank.changes if change.change not in UNCHANGED]
    yield from ("", name)
    yield from _by_fills(tank, measures)
    yield from bullets([f"{safe(c.place)}: {c.change} {safe(c.text)}".rstrip() for c in todo] or ["nothing is changed"])
    new = [joint for joint in tank.joints if not joint.as_is]
    words = (
        f"joint {safe(j.between[0])} to {safe(j.between[1])}: {_closed(j.pieces, tuple(map(measures.words, j.tight_by)))}"
        for j in new
    )
    yield from bullets(words)


def _closed(pieces: tuple[str, ...], tight_by: tuple[str, ...]) -> str:
    return "; ".join((*map(safe, pieces), *map(safe, tight_by))) or "pushed together"


def _handed(told: SharedResult) -> list[Block]:
    if not told.handed_on:
        return []
    lines = [
        f"{safe(h.part)}: {safe(h.from_tank)} ({safe(h.from_place)}) to {safe(h.to_tank)} ({', '.join(map(safe, h.to_places))})"
        for h in told.handed_on
    ]
    return ["", "Handed on at price 0", *bullets(lines)]


def _steps(told: SharedResult) -> list[Block]:
    lines: list[Block] = ["", "Order of work (one tank off at a time)"] if told.steps else []
    for number, step in enumerate(told.steps, 1):
        after = f"; takes {', '.join(map(safe, step.waits_for))}" if step.waits_for else ""
        frees = f"; runs again, then frees {', '.join(map(safe, step.frees))}" if step.frees else ""
        lines += paragraph(f"{number}. {safe(step.tank)}{after}{frees}", "  ", "     ")
    return lines


def _shared_limits(told: SharedResult) -> list[Block]:
    rooms = [
        f"{safe(room.room)}: {room.noise_dba:.1f} dB(A) at the listening place"
        + (f", {room.most_dba:.1f} allowed" if math.isfinite(room.most_dba) else "")
        for room in told.rooms
        if math.isfinite(room.noise_dba)
    ]
    allowed = f", {watts(told.most_power_w)} W allowed" if math.isfinite(told.most_power_w) else ""
    return ["", "Together", *bullets([*rooms, f"all pumps: {watts(told.power_w)} W{allowed}"])]


def _bill(told: SharedResult, measures: Measures) -> list[Block]:
    lines: list[Block] = ["", f"One bill: {money(told.price, safe(told.currency))}"]
    for line in told.bill:
        name = f"{safe(line.name)} ({'; '.join(map(safe, line.places))})"
        lines += columns([(quantity_text(line, measures), 13), (name, 58)], "owned" if line.owned else money(line.price))
    return lines if told.bill else [*lines, "  nothing is bought"]

"""What a household should do as plain text: verdict, aims side by side, tank by tank, order of work, and one bill."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType

from optimizer.errors import safe
from optimizer.model.shared import FilterCount, SharedResult, TankShare, Together
from optimizer.report.first_screen import (
    bill_table,
    by_kind,
    chosen,
    first_cautions,
    how_sure_lines,
    type_next,
)
from optimizer.report.fitted_lines import by_fills_sentences, moved
from optimizer.report.layout import (
    BOLD,
    DIM,
    PLAIN,
    REST,
    Block,
    Screen,
    aligned,
    apart,
    bullets,
    columns,
    cut,
    finished,
    paragraph,
    weighted,
)
from optimizer.report.measures import Measures, money, percent, system, watts
from optimizer.report.plan_lines import catalog_line, quantity_text

__all__ = ["SECTIONS", "headline", "render"]

LONGEST = 30
UNCHANGED = ("keep",)


def headline(told: SharedResult, units: str = "metric") -> str:
    """Return the verdict on one line. `units` is "metric" or "us"; raises ValueError for others."""
    measures = system(units)
    return finished([" ".join((*_what_for(told, measures), *_how_sure(told, measures)))])


def render(
    told: SharedResult,
    units: str = "metric",
    screen: Screen = PLAIN,
    *,
    full: bool = False,
    show: Sequence[str] = (),
    typed: str = "",
) -> str:
    """Return the first screen of an answer, or with `full` the whole answer, or of that the sections to `show` only; `typed` is
    the command that asked. Raises ValueError for other units, KeyError for a section that is none of `SECTIONS`."""
    measures = system(units)
    if show:
        return finished(chosen(SECTIONS, show, told, measures), screen)
    if not full:
        return finished(apart(_first_screen(told, measures, typed)), screen)
    verdict = _opening(told, [*_what_for(told, measures), *count_sentences(told, measures), *_how_sure(told, measures)])
    sections = [lines(told, measures) for lines in SECTIONS.values()]
    return finished([*apart([verdict, *sections]), *catalog_line(told.catalog)], screen)


def _first_screen(told: SharedResult, measures: Measures, typed: str) -> Iterator[list[Block]]:
    yield _opening(told, [*_what_for(told, measures), *count_sentences(told, measures)])
    yield _reasons(told, measures)
    if told.tanks:
        yield _tank_table(told, measures)
        yield _work(told)
        yield bill_table(told.bill, told.price, told.currency, measures) if told.bill else ["Bill: nothing is bought"]
        yield first_cautions(told.cautions, measures)
    sure = how_sure_lines([*_how_sure(told, measures), *_fills(told, measures)] if told.tanks else [])
    yield [*sure, *type_next(typed, "changes,order,aims")]


def _opening(told: SharedResult, sentences: Sequence[str]) -> list[Block]:
    asked = f"{cut(safe(told.household), 60)}: {money(told.budget, safe(told.currency))} for all tanks"
    said = [block for sentence in sentences for block in paragraph(sentence, rest="  ")]
    return [*weighted(paragraph(asked, rest="  "), DIM), *weighted(said, BOLD)]


def _what_for(told: SharedResult, measures: Measures) -> Iterator[str]:
    if not told.tanks:
        yield "No choice of bundles meets all limits." if told.status == "infeasible" else "Stopped before any choice was found."
        return
    aside = [tank for tank in told.tanks if tank.set_aside and not tank.option]
    counted = [tank for tank in told.tanks if not tank.set_aside]
    price = money(told.price, safe(told.currency))
    if aside:
        names = ", ".join(cut(safe(tank.name), LONGEST) for tank in aside)
        yield f"Left as it is, since no bundle meets its limits: {names}."
    if not counted:
        return
    worst = min(counted, key=lambda tank: tank.share)
    whole = {each.tank: each.flow_m3s for each in told.together}
    every = "every other tank" if aside else "every tank"
    yield (
        f"{told.aim.capitalize()}: {every} gets at least {percent(worst.share)} of its target for {price} "
        f"(least: {cut(safe(worst.tank or worst.name), LONGEST)}, {measures.flow_text(whole.get(worst.tank, worst.flow_m3s))})."
    )


def count_sentences(told: SharedResult, measures: Measures) -> list[str]:
    """Return for each tank with filters that could be got what each number of filters comes to for the same money."""
    found = []
    for tank in told.together:
        if tank.counts:
            rows = [_count(told, tank, each, measures) for each in tank.counts if each.outcome != "infeasible"]
            none = " or ".join(_number(each) for each in tank.counts if each.outcome == "infeasible")
            rows += [f"{none}: not to be had for {money(told.budget)} within all limits"] if none else []
            said = "; ".join(rows)
            found.append(f"Filters on {cut(safe(tank.tank), LONGEST)}. {said[0].upper()}{said[1:]}.")
    return found


NUMBERS = ("none", "one", "two", "three", "four")


def _number(each: FilterCount) -> str:
    return NUMBERS[each.filters] if each.filters < len(NUMBERS) else str(each.filters)


def _count(told: SharedResult, tank: Together, each: FilterCount, measures: Measures) -> str:
    number = _number(each)
    if not each.names:
        return f"{number}: not found before the search was stopped"
    options = {share.name for share in told.tanks if share.option}
    short = [cut(safe(name.removeprefix(f"{tank.tank}, ")), LONGEST) for name in each.names]
    which = f" ({' and '.join(short)})" if options else ""
    sure = "" if each.outcome == "proved" else ", not proved"
    taken = {share.name for share in told.tanks if share.there and share.tank == tank.tank} == set(each.names)
    here = ", which is this answer" if taken else ""
    return f"{number}{which}: {measures.flow_text(each.flow_m3s)} for {money(each.price)}{sure}{here}"


def _how_sure(told: SharedResult, measures: Measures) -> Iterator[str]:
    if not any(not tank.set_aside for tank in told.tanks):
        return
    if told.status == "proved":
        yield "Proved: no other choice of bundles for these tanks does better by this aim, to the resolution of flows."
    else:
        yield f"Stopped before it was proved: {safe(measures.words(told.gap))}."


def _fills(told: SharedResult, measures: Measures) -> Iterator[str]:
    """What the fills of each tank say, where it has any."""
    for tank in told.tanks:
        said = by_fills_sentences(tank.by_fills, measures)
        yield from [f"{cut(safe(tank.name), LONGEST)}: {' '.join(said)}"] if said else []


def _work(told: SharedResult) -> list[Block]:
    """What is done at which tank, in the order of work."""
    order = {step.tank: number for number, step in enumerate(told.steps)}
    frees = {step.tank: step.frees for step in told.steps if step.frees}
    lines: list[Block] = ["What to do, one tank after the other"]
    for tank in sorted(told.tanks, key=lambda tank: order.get(tank.name, len(order))):
        done = "; ".join(f"{verb} {', '.join(places)}" for verb, places in by_kind(tank.changes).items())
        why = "no bundle meets its limits, so it stays as it is" if tank.set_aside else "has enough and stays as it is"
        said = why if tank.set_aside or tank.enough else done or "nothing is changed"
        said = _of_option(tank, done) if tank.option else said
        freed = f"; then hand on {', '.join(map(safe, frees[tank.name]))}" if tank.name in frees else ""
        lines += paragraph(f"{cut(safe(tank.name), LONGEST)}: {said}{freed}", "  ", "    ")
    return lines


def _of_option(tank: TankShare, done: str) -> str:
    """What becomes of a filter that is not there yet."""
    if not tank.there:
        return f"not there, and not bought{': it cannot be had within its limits for the money' if tank.set_aside else ''}"
    return f"buy it for {money(tank.price)}{f', then {done}' if done else ', as it is described'}"


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


def _reasons(told: SharedResult, measures: Measures) -> list[Block]:
    return ["Why", *bullets(safe(measures.words(each)) for each in told.reasons)] if told.reasons else []


def _aim_table(told: SharedResult, measures: Measures) -> list[Block]:
    if not told.tanks:
        return []
    if len(told.aims) > 1:
        return ["Aims side by side (the bill is for the one marked *)", *aligned(list(_aims(told, measures)))]
    return ["The aim (the other two were not asked: --all-aims)", *aligned(list(_aims(told, measures)))]


def _tank_table(told: SharedResult, measures: Measures) -> list[Block]:
    return ["Tanks", *aligned(list(_tanks(told, measures)))] if told.tanks else []


def _changes(told: SharedResult, measures: Measures) -> list[Block]:
    return apart(list(_tank(tank, measures)) for tank in told.tanks)


def _cautions(told: SharedResult, measures: Measures) -> list[Block]:
    return ["Mind", *bullets(safe(measures.words(each)) for each in told.cautions)] if told.tanks else []


def _granted(told: SharedResult, measures: Measures) -> list[Block]:
    return ["Taken for granted", *bullets(safe(measures.words(each)) for each in told.notes)]


def _tanks(told: SharedResult, measures: Measures) -> Iterator[tuple[str, ...]]:
    unit = measures.flow
    yield ("", f"now, {unit}", f"then, {unit}", f"target, {unit}", "reached", "dB(A)", "W")
    whole = {each.tank: each for each in told.together}
    for tank in told.tanks:
        each = whole.pop(tank.tank, None)
        if each is not None:
            flows = (measures.bare_flow(flow) for flow in (each.now_m3s, each.flow_m3s, each.target_m3s))
            yield (safe(each.tank), *flows, percent(each.share), _level(each.noise_dba), watts(each.power_w))
        ends = ("", "") if tank.tank else (measures.bare_flow(tank.target_m3s), percent(tank.share))
        name = f"  {safe(tank.name.removeprefix(f'{tank.tank}, '))}" if tank.tank else safe(tank.name)
        flows = (measures.bare_flow(flow) for flow in (tank.now_m3s, tank.flow_m3s))
        yield (name, *flows, *ends, _level(tank.noise_dba), watts(tank.power_w))


def _level(noise_dba: float | None) -> str:
    """A level; nothing where nothing makes a sound."""
    return f"{noise_dba:.1f}" if noise_dba is not None else "-"


def _by_fills(tank: TankShare, measures: Measures) -> Iterator[Block]:
    for sentence in by_fills_sentences(tank.by_fills, measures):
        yield from paragraph(sentence, "  ", "  ")
    if tank.by_fills is not None and not tank.by_fills.left_out:
        yield from bullets(moved(tank.by_fills))


def _tank(tank: TankShare, measures: Measures) -> Iterator[Block]:
    name = cut(safe(tank.name), 60)
    if tank.option and not tank.there:
        yield from paragraph(f"{name}: {_of_option(tank, '')}.")
        yield from bullets(safe(measures.words(each)) for each in tank.set_aside)
        return
    if tank.set_aside:
        yield from paragraph(f"{name}: no bundle meets its limits, so it gets nothing and stays as it is.")
        yield from bullets(safe(measures.words(each)) for each in tank.set_aside)
        yield from _by_fills(tank, measures)
        return
    if tank.enough:
        yield from paragraph(f"{name}: has enough, gets nothing and keeps all it has.")
        yield from _by_fills(tank, measures)
        return
    todo = [change for change in tank.changes if change.change not in UNCHANGED]
    yield f"{name}: bought for {money(tank.price)}" if tank.option else name
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


def _handed(told: SharedResult, _: Measures) -> list[Block]:
    if not told.handed_on:
        return []
    lines = [
        f"{safe(h.part)}: {safe(h.from_tank)} ({safe(h.from_place)}) to {safe(h.to_tank)} ({', '.join(map(safe, h.to_places))})"
        for h in told.handed_on
    ]
    return ["Handed on at price 0", *bullets(lines)]


def _steps(told: SharedResult, _: Measures) -> list[Block]:
    lines: list[Block] = ["Order of work (one tank off at a time)"] if told.steps else []
    for number, step in enumerate(told.steps, 1):
        after = f"; takes {', '.join(map(safe, step.waits_for))}" if step.waits_for else ""
        frees = f"; runs again, then frees {', '.join(map(safe, step.frees))}" if step.frees else ""
        lines += paragraph(f"{number}. {safe(step.tank)}{after}{frees}", "  ", "     ")
    return lines


def _shared_limits(told: SharedResult, measures: Measures) -> list[Block]:
    if not told.tanks:
        return []
    rooms = [
        f"{safe(room.room)}: {room.noise_dba:.1f} dB(A) at the listening place"
        + (f", {room.most_dba:.1f} allowed" if math.isfinite(room.most_dba) else "")
        for room in told.rooms
        if room.noise_dba is not None
    ]
    allowed = f", {watts(told.most_power_w)} W allowed" if math.isfinite(told.most_power_w) else ""
    there = Counter(tank.tank for tank in told.tanks if tank.there)
    rooms += [
        f"{safe(each.tank)}: {measures.flow_text(each.flow_m3s)} from {there[each.tank]} of {len(each.filters)} filters, "
        f"{each.turnover_per_hour:.1f} times its net volume per hour, {_level(each.noise_dba)} dB(A) all together"
        for each in told.together
    ]
    return ["Together", *bullets([*rooms, f"all pumps: {watts(told.power_w)} W{allowed}"])]


def _bill(told: SharedResult, measures: Measures) -> list[Block]:
    if not told.tanks:
        return []
    lines: list[Block] = [f"One bill: {money(told.price, safe(told.currency))}"]
    for line in told.bill:
        name = f"{safe(line.name)} ({'; '.join(map(safe, line.places))})"
        lines += columns([(quantity_text(line, measures), 13), (name, REST)], "owned" if line.owned else money(line.price))
    return lines if told.bill else [*lines, "  nothing is bought"]


Lines = Callable[[SharedResult, Measures], list[Block]]

SECTIONS: Mapping[str, Lines] = MappingProxyType(
    {
        "reasons": _reasons,
        "aims": _aim_table,
        "tanks": _tank_table,
        "changes": _changes,
        "handed": _handed,
        "order": _steps,
        "together": _shared_limits,
        "bill": _bill,
        "cautions": _cautions,
        "granted": _granted,
    }
)
"""The sections of an answer by the names that they are asked for, in the order of the whole."""

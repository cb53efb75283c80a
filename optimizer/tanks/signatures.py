"""What each tank of a household could do, told apart by what it shares with the others: its signatures.

A tank's own search problem is built with the drawer of all tanks and with what the others may free. Three things make it fit to
stand beside other tanks:

* whatever it keeps although another tank could use it is an item that only its own place serves, so that bundles which free
  different parts need different items and are never compared with each other (`search/shared_item_sets.py`);
* what it shares with them has prices that hold for all tanks together (`joint_prices`), so that what every tank is charged adds
  up to at most what the joint bill truly comes to.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.kinds import speed_of
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.household import HouseTank
from optimizer.model.items import DIVISIBLE, Item, part_item
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Kind
from optimizer.model.rig import Rig, Spare
from optimizer.search.best import TRICKLE_M3S, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.exact import Bundle, Exact, Tally
from optimizer.search.layers import Problem, build
from optimizer.search.pricing import Cover, Shop
from optimizer.search.rounds import Path
from optimizer.tanks.hand_me_downs import HandMeDown, with_spares

Mask = NDArray[np.bool_]

Demand = tuple[tuple[tuple[str, int], ...], str, float]
"""What the joint bill tells apart: the product lines (id of the product, number of the line) that can serve an item, the medium
if it is one that can be shared out (else empty), and the amount of each (1 for such a medium)."""

MEDIUM_UNITS = 1e5
"""Media are counted in hundredths of a litre, so that the tolerance of a solver (1e-6) is far below what is measured out."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A bundle of one tank as the others see it: its price apart from what is shared (minor units), what it needs of that, which
    of its own parts it keeps from others, and what it takes of theirs (id, and how much: pieces, or m of hose)."""

    path: Path
    plain: int
    needs: tuple[tuple[Demand, float], ...]
    kept: frozenset[str]
    taken: tuple[tuple[str, float], ...]
    noise_dba: float
    power_w: float


@dataclass(slots=True)
class Side:
    """One tank's search, and how what it finds looks from outside."""

    number: int
    tank: HouseTank
    problem: Problem
    exact: Exact
    seeker: Seeker
    own: frozenset[str]
    others: frozenset[str]

    # -- its own search --------------------------------------------------------------------------------------------

    def asked(self, mask: Mask, budget: int) -> Seeker:
        """The search of this tank alone among some options, for a budget (minor units)."""
        self.seeker.tally.stopped = False
        return self.seeker.inside(mask).with_budget(budget)

    def hear(self) -> None:
        """Raise KeyboardInterrupt where Ctrl-C ended a search of this tank."""
        if self.seeker.tally.interrupted:
            raise KeyboardInterrupt

    def without(self, names: Collection[str]) -> Mask:
        """All options but those that keep or take some handed parts."""
        options = (option for layer in self.problem.layers for option in layer.options)
        return np.array([not any(item.key[1] in names for item in option.items) for option in options], dtype=bool)

    # -- what it shares --------------------------------------------------------------------------------------------

    def floor_m3s(self) -> float:
        """The least flow that is an answer for this tank."""
        return max(self.tank.rig.limits.flow_min_m3s, TRICKLE_M3S)

    def seen(self, path: Path) -> Listed:
        """A path as the other tanks see it."""
        problem = self.problem
        plain = problem.option_plain[list(path.options)].sum() + problem.joint_plain[list(path.joints)].sum()
        pairs = ((problem.option_special, path.options), (problem.joint_special, path.joints))
        items = [problem.specials[number] for (rows, numbers), chosen in pairs for number in _of_rows(rows, numbers, chosen)]
        needs: Counter[Demand] = Counter()
        taken: Counter[str] = Counter()
        kept = set()
        for item in items:
            name = item.key[1]
            if name in self.own:
                kept.add(name)
            elif name in self.others:
                taken[name] += item.weight  # type: ignore[assignment]
            else:
                demand = self.demand(item)
                needs[demand] += item.weight * MEDIUM_UNITS if demand[1] else 1  # type: ignore[assignment]
        pump = problem.option(path.options[problem.pump])
        return Listed(
            path=path,
            plain=round(float(plain)),
            needs=tuple(sorted(needs.items())),
            kept=frozenset(kept),
            taken=tuple(sorted(taken.items())),
            noise_dba=pump.noise_dba,
            power_w=pump.power_w,
        )

    def demand(self, item: Item) -> Demand:
        """What an item is in the joint bill."""
        shop = self.problem.shop
        lines = tuple(sorted((shop.products[s.product].id, s.line) for s in shop.servers(item.key) if shop.reaches(s, item)))
        shared_out = item.key[0] == DIVISIBLE
        return (lines, item.key[1] if shared_out else "", 1.0 if shared_out else item.weight)

    # -- what a bundle does ----------------------------------------------------------------------------------------

    def flow_m3s(self, bundle: Listed) -> float:
        """What a bundle delivers; negative when nothing holds it to the ceiling that it would run above."""
        found = self.seeker.delivered(_bare(bundle.path))
        if found.own_m3s > found.flow_m3s * (1 + 1e-9):
            rows = bundle.path.options[self.problem.pump + 1 :]
            if not any(self.problem.option(row).throttles for row in rows):
                return -1.0
        return found.flow_m3s


def _bare(path: Path) -> Bundle:
    return Bundle(path, Cover(0, ()), 0)


def _of_rows(rows: NDArray[np.intp], numbers: NDArray[np.intp], chosen: Iterable[int]) -> list[int]:
    found: list[int] = []
    for row in chosen:
        first, last = np.searchsorted(rows, (row, row + 1))
        found += numbers[first:last].tolist()
    return found


# -- building ------------------------------------------------------------------------------------------------------


def sides(
    tanks: Sequence[HouseTank],
    active: Sequence[int],
    catalog: Catalog,
    budget: int,
    spares: Sequence[Spare],
    handed: Sequence[HandMeDown],
) -> list[Side]:
    """The searches of the tanks numbered in ``active``."""

    def menu(number: int, kept: Sequence[HandMeDown] = ()) -> Choices:
        others = [each for each in handed if each.owner != number]
        rig = with_spares(tanks[number].rig, spares, (*others, *kept))
        return _menu(rig, catalog, replace(rig.limits, budget=budget), others, kept)

    menus = {number: menu(number) for number in active}
    known = {each.id for each in handed}
    wanted = {o.part.id for some in menus.values() for o in every_option(some.options) if o.part is not None} & known
    for number in active:
        kept = [each for each in handed if each.owner == number and each.id in wanted and _is_inside(tanks[number].rig, each)]
        menus[number] = menu(number, kept) if kept else menus[number]
    return [
        _side(number, tanks[number], menu, [each for each in handed if each.id in wanted], budget)
        for number, menu in menus.items()
    ]


def every_option(layers: Iterable[Iterable[Option]]) -> Iterator[Option]:
    """All options of some positions, those inside branches instead of the ways to fill them."""
    for option in (option for options in layers for option in options):
        yield from (option,) if option.ways is None else option.ways.options


def _is_inside(rig: Rig, each: HandMeDown) -> bool:
    """Whether a part stands inside branches."""
    return bool(rig.positions[each.place].branches)


def _menu(rig: Rig, catalog: Catalog, limits: Limits, others: Sequence[HandMeDown], kept: Sequence[HandMeDown]) -> Choices:
    """What one tank could do. Ways to fill branches that others beat are left out, so what is inside must say what it takes and
    keeps before: ``kept`` are own parts inside, which for that are among the spares and are offered nowhere."""
    settling = _Settling(rig, {each.id: each for each in others}, {each.position: each for each in kept})
    menu = choices(rig, catalog, limits, narrow=settling.inside)
    return replace(menu, options=tuple(tuple(settling.settled(some)) for some in menu.options))


@dataclass(frozen=True, slots=True)
class _Settling:
    """Options for parts of ``others`` with the wear that these have and by their fills, less those that are the installed part
    over again; what keeps own parts inside branches (``kept``, by their places) says so.

    Such a swap is never needed: who would take the part that it frees can take this one instead, and joints as they are cost
    nothing. By fills no part is like another.
    """

    rig: Rig
    others: Mapping[str, HandMeDown]
    kept: Mapping[str, HandMeDown]

    def inside(self, place: str, options: list[Option]) -> list[Option]:
        """See `choices.Narrow`."""
        each = self.kept.get(place)
        settled = self.settled(options)
        return settled if each is None else [_marked(option, each) for option in settled]

    def settled(self, options: Sequence[Option]) -> list[Option]:
        """Some options of one place."""
        hidden = {each.id for each in self.kept.values()}
        shown = (option for option in options if option.part is None or option.part.id not in hidden)
        return [made for option in shown if (made := self._settled(option)) is not None]

    def _settled(self, option: Option) -> Option | None:
        each = None if option.part is None else self.others.get(option.part.id)
        if each is None or option.part is None:
            return option
        position = next(place for place in self.rig.every_position if place.name == option.place)
        stated = each.fitted is None and self.rig.fitted is None
        if position.installed is not None and stated:
            alike = replace(option.part, id=position.installed.id, name=position.installed.name) == position.installed
            if alike and each.worn >= position.state.worn:
                return None
        if each.fitted is not None:
            option = replace(option, part=each.part_as(option.part), like="")
        place = replace(position, height_m=option.height_m)
        part, loss = each.by_fills(option.part or each.part, option.loss, place, self.rig.tank.water)
        option = replace(option, part=part, loss=loss)
        return replace(option, state=each.state, speed=speed_of(part, each.state, self.rig.mains_hz)) if each.worn else option


def _marked(option: Option, each: HandMeDown) -> Option:
    """An option that says what it keeps from other tanks."""
    return replace(option, items=(*option.items, part_item(each.id))) if option.is_installed and option.part else option


def _side(number: int, tank: HouseTank, menu: Choices, handed: Sequence[HandMeDown], budget: int) -> Side:
    mine = {each.position: each for each in handed if each.owner == number}
    known = {each.id for each in handed}
    others = known - {each.id for each in mine.values()}
    stocked = [replace(p, id=p.lines[0].part_id) if p.lines[0].part_id in known else p for p in menu.shop.products]
    there = {product.id for product in stocked}
    own = [each.id for each in mine.values()]
    products = [Product(id=name, price=0, lines=(Line(part_id=name),), stock=1) for name in own if name not in there]
    parts = {**menu.shop.parts, **{each.id: each.part for each in mine.values()}}
    shop = Shop(parts=parts, products=(*stocked, *products))
    options = tuple(
        tuple(_marked(option, mine[option.place]) if option.place in mine else option for option in some) for some in menu.options
    )
    if tank.price:
        # whatever becomes of a filter that is an option, it is paid for, and there is one canister in it
        place = tank.rig.index(Kind.CANISTER)
        bodies = tuple(replace(option, own_price=option.own_price + tank.price) for option in options[place])
        options = (*options[:place], bodies, *options[place + 1 :])
    problem = build(replace(menu, shop=shop, options=options), float(budget))
    seeker = Seeker(problem, Tally())
    return Side(number, tank, problem, seeker.exact, seeker, frozenset(own), frozenset(others))

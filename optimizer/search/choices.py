"""Choices: every change that could be made at each position, as options with a loss, two ends and needs.

An option that breaks a limit on its own (opening, noise, power, canister rating) is left out here, with the reason kept for
`fullbore why`. Limits that hang on the flow stay on the option as bounds.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from optimizer.errors import InputError, Problem
from optimizer.loop.kinds import each_of, ends_of, is_like, part_loss, parts_of, role_of, turned_ways, window_m3s
from optimizer.loop.terms import canister_loss, pump_speed, velocity_quadratic
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.fitted import Fitted
from optimizer.model.items import Item, hose_item, part_item, pinch_item, tool_item
from optimizer.model.limits import Limits
from optimizer.model.losses import Loss
from optimizer.model.options import ADD, ADJUST, CLEAN, KEEP, REMOVE, SWAP, Option, Refusal, tee_option, told_apart
from optimizer.model.parts import (
    CLEAN_HOSE,
    REDRILL,
    Device,
    Guard,
    Hose,
    Kind,
    Medium,
    Part,
    Pump,
    TeePiece,
    Tool,
    kind_of,
)
from optimizer.model.rig import MEETING, PARTING, Position, Rig, is_throttle, tee_place
from optimizer.model.said import Quantity, Said, box, length
from optimizer.model.state import State
from optimizer.physics.water import Water
from optimizer.search.joints import joint_book
from optimizer.search.pricing import Shop
from optimizer.search.stacks import Stack, stacks
from optimizer.search.suppliers import orders
from optimizer.uncollected import uncollected

if TYPE_CHECKING:
    from optimizer.search.branch_pairs import Pairing


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """All options per position, the refusals, and the shop they are priced in. ``left_out`` counts the ways to fill branches that
    are no options, since in them the head falls anywhere as the flow rises. ``unpaired`` (by its position) are branches of which
    only one is an option as yet; ``whole`` are the choices with those as they were, where bounds have since left out ways that no
    bundle of use could hold, and ``ruled_out`` counts the bundles that went with them (see `branch_bounds`). ``ways`` are the
    choices of every way to order from several suppliers, each with a shop of its own (see `suppliers`)."""

    rig: Rig
    limits: Limits
    water: Water
    shop: Shop
    options: tuple[tuple[Option, ...], ...]
    refusals: tuple[Refusal, ...]
    left_out: int = 0
    unpaired: "dict[int, Pairing]" = field(default_factory=dict)
    whole: "Choices | None" = None
    ruled_out: int = 0
    ways: "tuple[Choices, ...]" = ()

    @property
    def shops(self) -> tuple[Shop, ...]:
        """The shops that bundles are priced in, one for each way to order."""
        return tuple(way.shop for way in self.ways) or (self.shop,)


Narrow = Callable[[str, list[Option]], list[Option]]
"""Which of the options of a place inside branches, or of a tee, are looked at; the place goes by its name."""


@uncollected()
def choices(
    rig: Rig,
    catalog: Catalog,
    limits: Limits,
    lasting: bool = False,
    priceless: bool = False,
    apart: bool = False,
    starts_clean: bool = False,
    narrow: Narrow | None = None,
    pairs: bool = True,
) -> Choices:
    """List what could be done at each position of a rig with what a catalog sells and the keeper owns.

    ``lasting``: media count by how long they last too, ``apart``: other media are another thing, see `stacks`. ``priceless``:
    of the ways to fill branches only those are listed that lose least, whatever they cost; good for the most flow without a
    budget. ``starts_clean``: nothing is left in the loop that a clean would take away; for every option that is left out its
    cleaned twin is there, at the same price and with the same ends (a hose that only a tool to be bought would clean may stay
    dirty). ``narrow`` leaves out options inside branches before any way to fill them is compared with another (None: none).
    Without ``pairs`` the fillings of two branches are handed on as they are, for `branch_bounds` to put together.
    """
    owned, own_parts = _owned(rig, catalog)
    shop = Shop.of(catalog, owned, own_parts)
    flags: dict[str, Any] = {
        "lasting": lasting,
        "priceless": priceless,
        "apart": apart,
        "starts_clean": starts_clean,
        "narrow": narrow,
    }
    whole = _listed(rig, limits, shop, **flags, pairs=pairs or catalog.charges)
    if not catalog.charges:
        return whole
    most = math.inf if limits.budget is None else limits.budget
    ways = (_listed(rig, limits, replace(shop, order=order), **flags) for order in orders(catalog.suppliers, most))
    return replace(whole, ways=tuple(ways))


def _listed(rig: Rig, limits: Limits, shop: Shop, **flags: Any) -> Choices:
    """The choices that are to be had in one shop."""
    maker = _Maker(rig, limits, rig.tank.water, shop, [], rig.positions, **flags, unpaired={})
    options = tuple(tuple(maker.at(place)) for place in range(len(rig.positions)))
    return Choices(
        rig=rig,
        limits=limits,
        water=rig.tank.water,
        shop=shop,
        options=options,
        refusals=tuple(maker.refusals),
        left_out=maker.left_out,
        unpaired=maker.unpaired,
    )


def _owned(rig: Rig, catalog: Catalog) -> tuple[tuple[Product, ...], dict[str, Part]]:
    """Spare parts as products of price 0 that are in stock as often as the keeper has them; no dirty hose that only a tool to be
    bought would clean."""
    products = []
    jobs = {job for tool in parts_of(catalog.parts.values(), Tool) for job in tool.makes_possible} - set(rig.tools)
    for number, spare in enumerate(rig.spares):
        if spare.dirty and kind_of(spare.part) == Kind.HOSE and CLEAN_HOSE in jobs:
            continue
        lasting = kind_of(spare.part) == Kind.TOOL
        line = Line(part_id=spare.part.id, amount_m=spare.amount_m, amount_m3=spare.amount_m3, lasting=lasting)
        name = f"{spare.part.name} ({OWNED}{', to be cleaned' if spare.dirty else ''})"
        own_id = f"{OWNED} {number + 1}: {spare.part.id}"
        products.append(Product(id=own_id, price=0, lines=(line,), stock=spare.count, name=name, owned=True))
    return tuple(products), {spare.part.id: spare.part for spare in rig.spares}


OWNED = "owned"

NEW = State()
"""How a part comes from a shop."""


def owned_number(product: Product) -> int:
    """The number, from 1, of the spare of a rig that a product stands for; 0 for one that is sold."""
    return int(product.id.split(":")[0].removeprefix(f"{OWNED} ")) if product.owned else 0


@dataclass(slots=True)
class _Maker:
    """Makes the options of one rig, or of a branch in it, position by position, and notes what it refuses. ``branch_of`` is the
    place of the loop that a branch belongs to (-1: these are the loop's own positions), ``in_tank`` says whether the first of
    the positions starts in the tank, and whether the last ends there."""

    rig: Rig
    limits: Limits
    water: Water
    shop: Shop
    refusals: list[Refusal]
    positions: tuple[Position, ...]
    branch_of: int = -1
    in_tank: tuple[bool, bool] = (True, True)
    left_out: int = 0
    lasting: bool = False
    priceless: bool = False
    apart: bool = False
    starts_clean: bool = False
    narrow: Narrow | None = None
    pairs: bool = True
    unpaired: "dict[int, Pairing]" = field(default_factory=dict)

    def at(self, place: int) -> list[Option]:
        position = self.positions[place]
        if position.branches:
            return self._branches(place)
        made = self._stacks(place) if position.kind == Kind.CANISTER else self._parts(place)
        if self.starts_clean:
            made = filter(self._is_clean, made)
        allowed = [option for option in made if self._allowed(position, option)]
        allowed += [pinched for option in allowed if (pinched := self._pinched(option)) is not None]
        return allowed if self.branch_of < 0 else self._narrowed(position.name, allowed)

    def _is_clean(self, option: Option) -> bool:
        """True for what a clean would not change, or only with a tool that must be bought."""
        return _is_clean(option) or (any(parts_of([option.part], Hose)) and self._tool(CLEAN_HOSE) is not None)

    def _narrowed(self, place: str, options: list[Option]) -> list[Option]:
        return options if self.narrow is None else self.narrow(place, options)

    def _pinched(self, option: Option) -> Option | None:
        """The same hose with a screw clamp round it, downstream of the pump, where some ceiling may have to be held."""
        hose = option.part
        if not isinstance(hose, Hose):
            return None
        place = option.position if self.branch_of < 0 else self.branch_of
        if place <= self.rig.index(Kind.PUMP) or not self._has_ceiling():
            return None
        item = pinch_item(hose.outside_m)
        if self.shop.alone(item) is None:
            return None
        change = ADJUST if option.is_installed else option.change
        note = f"{hose.name} with a screw clamp round it as a throttle"
        return replace(option, change=change, items=(*option.items, item), throttles=True, note=note)

    def _has_ceiling(self) -> bool:
        """True where something may have to be throttled: for a limit on the flow, at the guard, at the pump's inlet, at the
        outlet, or for the window of a device that is there or could be."""
        limits = self.limits
        ceilings = (limits.flow_max_m3s, limits.guard_speed_ms, limits.jet_speed_ms, limits.inlet_head_m)
        if any(math.isfinite(limit) for limit in ceilings):
            return True
        if not limits.device_windows:
            return False
        least = 0.0 if self.branch_of >= 0 else math.inf  # a throttle in one branch sends more through the other
        return any(math.isfinite(device.flow_max_m3s) or device.flow_min_m3s > least for device in self._devices())

    def _devices(self) -> Iterator[Device]:
        """The devices in the loop and those on offer, if it has a place for one."""
        places = [position for position in self.rig.every_position if position.kind == Kind.DEVICE]
        parts = [place.installed for place in places] + (list(self.shop.of_kind(Kind.DEVICE)) if places else [])
        return parts_of(parts, Device)

    def _parts(self, place: int) -> Iterator[Option]:
        position = self.positions[place]
        if position.installed is None and position.kind == Kind.FITTING:
            yield Option(position=place, change=KEEP, part=None, note="nothing there", place=position.name)
        elif position.installed is not None:
            yield self._option(place, KEEP, position.installed, position.state)
            if not position.state.is_clean:
                job = CLEAN_HOSE if position.kind == Kind.HOSE else ""
                yield from self._with_tool(job, self._option(place, CLEAN, position.installed, position.state.cleaned()))
            yield from self._adjusts(place)
        if position.may_go and position.installed is not None:
            note = f"leave out {position.installed.name}"
            yield Option(position=place, change=REMOVE, part=None, note=note, place=position.name)
        if not position.stays:
            yield from self._swaps(place)

    def _adjusts(self, place: int) -> Iterator[Option]:
        position = self.positions[place]
        for adjust in position.adjusts:
            part = adjust.outlet or position.installed
            if part is None:
                continue
            height = position.height_m if adjust.height_m is None else adjust.height_m
            made = self._option(place, ADJUST, part, position.state.cleaned(), height)
            made = replace(made, own_price=adjust.price, note=adjust.name)
            yield from self._with_tool("" if adjust.outlet is None else REDRILL, made)

    def _with_tool(self, job: str, option: Option) -> Iterator[Option]:
        """The option with the tool that its job needs; none where no shop has it and nobody owns it."""
        needed = self._tool(job)
        if needed is None:
            yield option
        elif self.shop.alone(needed) is not None:
            yield replace(option, items=(*option.items, needed))
        else:
            why = f"{needed.label} is not for sale or not in stock, and [owned] names none"
            part_id = "" if option.part is None else option.part.id
            self.refusals.append(Refusal(position=option.place, part_id=part_id, reason=why))

    def _tool(self, job: str) -> Item | None:
        """What a job must buy or share: nothing where the catalog knows no tool for it, or the keeper has one."""
        return tool_item(job) if job in jobs_with_tools(self.shop.of_kind(Kind.TOOL)) and job not in self.rig.tools else None

    def _swaps(self, place: int) -> Iterator[Option]:
        position = self.positions[place]
        change = ADD if position.installed is None else SWAP
        lowest = min([position.height_m, *(a.height_m for a in position.adjusts if a.height_m is not None)])
        for part, need in self._offers(position):
            if _is_as_good(position, part):
                continue
            items = (need,)
            for way in turned_ways(part):
                yield self._option(place, change, way, NEW, lowest, items)

    def _offers(self, position: Position) -> Iterator[tuple[Part, Item]]:
        """What may stand at a place and can be had, with what must be bought for it."""
        for part in self.shop.of_kind(position.kind):
            need = hose_item(part.id, position.length_m) if isinstance(part, Hose) else part_item(part.id)
            if self._serves(part, position) and self._can_be_had(part, need, position):
                yield part, need

    def _serves(self, part: Part, position: Position) -> bool:
        """True when a part does what the one in its place is there for."""
        role = role_of(part)
        if kind_of(part) != Kind.DEVICE:
            return not role or role == position.role
        wanted = role_of(position.installed) or position.role
        if role != wanted:
            why = f"{part.id} is no {wanted}" if wanted else "the rig does not say what the device at this place is for"
            self.refusals.append(Refusal(position=position.name, part_id=part.id, reason=why))
        return bool(wanted) and role == wanted

    def _can_be_had(self, part: Part, need: Item, position: Position) -> bool:
        if self.shop.alone(need) is not None:
            return True
        why: str = f"{part.id} is not for sale or not in stock"
        if kind_of(part) == Kind.HOSE:
            long = length(position.length_m, f"{position.length_m:.2f} m")
            why = Said(f"no piece of {part.id} on offer is ", long, " long")
        self.refusals.append(Refusal(position=position.name, part_id=part.id, reason=why))
        return False

    def _option(
        self, place: int, change: str, part: Part, state: State, height_m: float | None = None, items: tuple[Item, ...] = ()
    ) -> Option:
        # a large catalog makes a hundred thousand of these: everything is made once, whole, and nothing is copied
        position = self.positions[place]
        height = position.height_m if height_m is None else height_m
        inlet, outlet = ends_of(part)
        there = position if height == position.height_m else replace(position, height_m=height)
        own = position.installed
        like = own.id if own is not None and change == SWAP and is_like(own, part) else ""
        stated = None
        if self.rig.fitted is not None:
            stated = part
            part, loss = fitted_as(self.rig.fitted, part, like or part.id, state, there, self.water)
        else:
            loss = part_loss(part, state, there, self.water)
        least, most = window_m3s(part, state, self.limits)
        return Option(
            position=place,
            place=position.name,
            change=change,
            part=part,
            state=state,
            loss=loss,
            inlet=inlet,
            outlet=outlet,
            flow_min_m3s=least,
            flow_max_m3s=most,
            throttles=is_throttle(part),
            height_m=height,
            like=like,
            stated=stated,
            items=items,
            **(self._of_pump(part, state) if isinstance(part, Pump) else {}),
        )

    def _of_pump(self, pump: Pump, state: State) -> dict[str, Any]:
        return {
            "speed": pump_speed(pump, state, self.rig.mains_hz),
            "suction_quadratic": velocity_quadratic(pump.inlet.bore_m),
            "noise_dba": self.rig.heard_dba(pump),
            "power_w": pump.power_w,
        }

    def _branches(self, place: int) -> list[Option]:
        # a loop without branches starts quicker without these
        from optimizer.search.branch_fillings import Filler, TooManyFills
        from optimizer.search.branch_pairs import Pairing, Places, TooManyWays, sound, ways

        position, inside = self.positions[place], self.branch_of >= 0
        at_tank = (self.in_tank[0] and place == 0, self.in_tank[1] and place == len(self.positions) - 1)
        of = self.branch_of if inside else place
        maker = replace(self, branch_of=of, in_tank=at_tank, left_out=0)
        # bounds reach one place with branches in a branch; others are listed, and all that is within that one
        forks = [sum(bool(each.branches) for each in branch.positions) for branch in position.branches]
        makers = [
            replace(maker, positions=branch.positions, pairs=self.pairs or inside or count > 1)
            for branch, count in zip(position.branches, forks, strict=True)
        ]
        first, second = (tuple(tuple(maker.at(n)) for n in range(len(maker.positions))) for maker in makers)
        self.left_out += sum(maker.left_out for maker in makers)
        places = Places(
            position=position,
            number=place,
            branches=(first, second),
            parting=() if at_tank[0] else self._tees(position, PARTING, position.parting),
            meeting=() if at_tank[1] else self._tees(position, MEETING, position.meeting),
        )
        ends = [option.inlet for some in (*first, *second) for option in some]
        ends += [end for _, tee in each_of(places.meeting, TeePiece) for end in (tee.inlet, tee.side)]
        dearest = math.inf if self.limits.budget is None else float(self.limits.budget)
        ends += [turned.entry for joint in self.rig.joints for turned in joint.adapters]
        rig = self.rig
        book = joint_book(self.shop, {end.face for end in ends if end is not None}, dearest, rig.laws, rig.fitted)
        nu = self.water.kinematic_m2s
        filler = Filler(book, self.shop, dearest, nu, self.priceless, rig.fitted, rig.joints, rig.laws)
        try:
            if self.pairs:
                made, unsteady = ways(places, filler)
            else:
                pairing = Pairing.of(places, filler)
                single, unsteady = sound(list(pairing.singles()), nu)
                made = [option for option in single if option is not None]
            if inside:
                made = filler.unbeaten(made)
            if inside and not self.pairs:
                made += [group.unfilled() for group in pairing.groups]
            elif not self.pairs:
                self.unpaired[place] = pairing
            self.left_out += unsteady
            return made
        except (TooManyWays, TooManyFills) as error:
            which = f"the branches {' and '.join(each.name for each in position.branches)}" if inside else "the branches"
            what = f"{which} could be filled in more ways than can be looked at."
            cure = 'Mark places in them that need no swap with "stays = true".'
            name = rig.positions[of].name
            raise InputError(rig.told_as, [Problem(where=f"loop.{name}", what=what, cure=cure)]) from error

    def _tees(self, position: Position, where: str, installed: TeePiece | None) -> tuple[Option, ...]:
        place = tee_place(position, where)
        return tuple(self._narrowed(place, list(self._tees_offered(place, installed, position.stays))))

    def _tees_offered(self, place: str, installed: TeePiece | None, stays: bool) -> Iterator[Option]:
        """The tee that is there, and those on offer, either way round."""
        if installed is not None:
            yield tee_option(place, KEEP, installed)
        if installed is not None and stays:
            return
        for tee in parts_of(self.shop.of_kind(Kind.TEE), TeePiece):
            if tee != installed and self.shop.alone(part_item(tee.id)) is not None:
                for way in turned_ways(tee):
                    made = tee_option(place, ADD if installed is None else SWAP, way)
                    like = installed.id if installed is not None and is_like(installed, way) else ""
                    yield replace(made, items=(part_item(tee.id),), like=like)

    def _stacks(self, place: int) -> Iterator[Option]:
        position, body = self.rig.positions[place], self.rig.canister
        media = () if position.stays else tuple(parts_of(self.shop.of_kind(Kind.MEDIUM), Medium))
        loss, fitted = canister_loss(body, self.rig.laws), self.rig.fitted
        if fitted is not None:
            loss = fitted.part(body, position.state, position, self.water)[1]
        for stack in stacks(body, self.rig.trays, media, self.limits, self.water, self.shop, fitted, self.lasting, self.apart):
            if position.stays and stack.change == SWAP:
                continue
            yield Option(
                position=place,
                place=position.name,
                change=stack.change,
                part=body,
                loss=loss.add(stack.loss),
                inlet=body.inlet,
                outlet=body.outlet,
                items=stack.items,
                fills=stack.fills,
                bio_area_m2=stack.bio_area_m2,
                note=_stack_note(stack),
            )

    def _allowed(self, position: Position, option: Option) -> bool:
        for limit, reason in broken_by_itself(self.rig, self.limits, option):
            part_id = option.part.id if option.part is not None else position.name
            self.refusals.append(Refusal(position=position.name, part_id=part_id, reason=reason, limit=limit))
            return False
        return True


def fitted_as(
    fitted: Fitted, part: Part, name: str, state: State, position: Position, water: Water, start: State | None = None
) -> tuple[Part, Loss]:
    """A part and its loss at a place by what fills say of the part of a ``name``: its own, or one of the same kind and size."""
    known, loss = fitted.part(replace(part, id=name), state, position, water, start)
    return replace(known, id=part.id), loss


def _is_clean(option: Option) -> bool:
    trays = all(fill.medium is None or fill.state.is_clean for fill in option.fills)
    return trays and (option.part is None or option.state.is_clean)


def jobs_with_tools(parts: Iterable[Part]) -> frozenset[str]:
    """What needs a tool in a world where these things are for sale: what any of them makes possible."""
    return frozenset(job for tool in parts_of(parts, Tool) for job in tool.makes_possible)


SINGLE_PART_LIMITS = ("opening_m", "noise_dba", "power_w", "canister_rating", "room_m", "plugs")
"""Limits that refuse single options and change nothing else."""


def broken_by_itself(rig: Rig, limits: Limits, option: Option) -> Iterator[tuple[str, str]]:
    """Limits that an option breaks whatever stands next to it: (name of the limit, reason)."""
    part = option.part
    if isinstance(part, Guard) and part.opening_m > limits.opening_m + 1e-9:
        gap, most = told_apart(part.opening_m * 1e3, limits.opening_m * 1e3, 1)
        openings, allowed = length(part.opening_m, f"{gap} mm"), length(limits.opening_m, f"{most} mm")
        yield "opening_m", Said("its openings of ", openings, " are wider than ", allowed)
    if isinstance(part, Pump):
        if option.noise_dba > limits.noise_dba + 1e-9:
            yield "noise_dba", "it makes {} dB(A), more than {}".format(*told_apart(option.noise_dba, limits.noise_dba, 1))
        if option.power_w > limits.power_w + 1e-9:
            yield "power_w", "it draws {} W, more than {} W".format(*told_apart(option.power_w, limits.power_w))
        if not option.is_installed:  # what stands there has its room and its socket
            yield from _has_no_place(limits, part)
        worst = _shut_off_m(rig, option, part)
        if limits.canister_rating and worst > rig.canister.rating_m + 1e-9:
            stands, rated = told_apart(worst, rig.canister.rating_m, 2)
            head, rating = Quantity(worst, "height", f"{stands} m"), Quantity(rig.canister.rating_m, "height", f"{rated} m")
            reason = Said("with the outlet shut the canister would stand ", head, " of water, but is rated for ", rating)
            yield "canister_rating", reason


def _has_no_place(limits: Limits, pump: Pump) -> Iterator[tuple[str, str]]:
    """That a new pump does not go into the cabinet, or its plug into no socket there; nothing where that is not stated."""
    if limits.room_m is not None and not pump.stands_in(limits.room_m):
        size = (pump.length_m, pump.width_m, pump.height_m)
        yield "room_m", Said("it measures ", *box(size), " and there is room for ", *box(limits.room_m))
    plug = " ".join(pump.plug.split()).casefold()
    if limits.plugs and plug and plug not in map(str.casefold, limits.plugs):
        yield "plugs", f"its plug ({pump.plug}) is none of {', '.join(limits.plugs)}"


def _shut_off_m(rig: Rig, option: Option, pump: Pump) -> float:
    """Greatest pressure head in the canister: its depth, plus the pump's head at no flow when the pump feeds it."""
    body = rig.index(Kind.CANISTER)
    pushed = option.position < body
    return rig.positions[body].depth_m + (pump.curve.max_head_m * option.speed**2 if pushed else 0.0)


def _is_as_good(position: Position, part: Part) -> bool:
    """True when what stands at a position is, once cleaned, as good as the same part new, whichever way round: nothing is gained
    by buying it. Wear stays whatever is cleaned. The stated figures decide and not fitted ones: what fills say of the old one
    holds for a new one of the same kind and size (`kinds.is_like`)."""
    own = position.installed
    if own is None or own.id != part.id or position.state.cleaned() != State():
        return False
    return any(replace(way, name=own.name) == own for way in turned_ways(part))


def _stack_note(stack: Stack) -> str:
    if stack.change != SWAP:
        return "media as they are" if stack.change == KEEP else "media cleaned"
    words = []
    for fill in stack.fills:
        name = "nothing" if fill.medium is None else fill.medium.name
        words.append(f"tray {fill.tray + 1} {fill.change} {name}")
    return ", ".join(words)

"""Writes the proof of an answer so that `optimizer.check_proof` can check it: the problem as numbers, and multipliers and tables.

What a claim means, and why what is written proves it, stands there. Here it is only looked for: the multiplier is that of the
best Lagrangian bound, the shares are those of the search (`Shares`), and tables hold the partial paths that no other beats. First
no piece is tracked; while bundles are left that only their true price rules out, the group of pieces that makes them dearest is
tracked too. Where that makes tables long, each pump gets a part of its own, and there products that nobody in question buys are
barred. Whether it came to a proof is seen by the checker's own arithmetic. That the search proved its answer is nowhere used: a
claim that does not hold ends in `Untrue`.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.check_proof import (
    FORM,
    MILLI,
    Accounts,
    Bounds,
    Edges,
    Ints,
    Proof,
    Rows,
    Shelf,
    charged,
    checksum,
    followed,
    rooms,
    said_of,
)
from optimizer.model.items import DIVISIBLE, Item, capacity
from optimizer.search import hull
from optimizer.search.best import WITHIN, Found, Seeker
from optimizer.search.by_pump import by_pump
from optimizer.search.exact import PROBING_PASSES
from optimizer.search.hull import Hull
from optimizer.search.rounds import BARRED, Corridor, Weights, unbeaten_rows

Mask = NDArray[np.bool_]

PICO, NANO, FLOW = 1e12, 1e9, 1e15
"""Units of a file: heads, amounts and flows are whole numbers of these parts."""

FEW_ROWS, MOST_ROWS = 2_000, 100_000
"""A table of more rows than the first is tried in parts; one of more than the second is not written."""

DEAREST = 2**49


MOST_TRACED = 50
"""So many of the bundles that are left say which pieces to track next."""


class Untrue(Exception):
    """A bundle is left that no true price rules out: a claim, named by the argument, does not hold."""


class TooLong(Exception):
    """A proof would need a longer table than is written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A claim to be proved: no bundle of the ``allowed`` options for ``most`` minor units or less has head left at a flow.
    ``kind`` is "more" (than the answer delivers) or "cheaper" (than it costs); ``throttled``: no bundle of those with a
    throttle."""

    kind: str
    flow_m3s: float
    most: int
    allowed: Mask
    throttled: bool = False


@dataclass(slots=True)
class ProofFile:
    """The file of one problem, written claim by claim."""

    seeker: Seeker
    told: dict[str, Any] = field(init=False)
    products: dict[int, int] = field(init=False)
    proof: Proof = field(init=False)

    def __post_init__(self) -> None:
        problem = self.seeker.problem
        shop = problem.shop
        used = sorted({server.product for item in problem.specials for server in shop.servers(item.key)})
        self.products = {product: n for n, product in enumerate(used)}
        accounts = self.seeker.exact.rounds.accounts
        which, needs = np.unique(np.concatenate((accounts.of_option, accounts.of_joint)), return_inverse=True)
        option_needs, joint_needs = needs[: len(accounts.of_option)], needs[len(accounts.of_option) :]
        self.told = {
            "form": FORM,
            "budget": self.seeker.budget,
            "products": [self._product(index) for index in used],
            "items": [self._item(item) for item in problem.specials],
            "needs": [list(need) for need in accounts.items(which)],
            "stages": list(self._stages(option_needs.tolist(), joint_needs.tolist())),
            "ends": [1, *(size for layer in problem.layers for size in (len(layer.entries), len(layer.leaves)))],
            "pump": 2 * problem.pump + 1,
            "answers": [],
        }
        self.proof = Proof(self.told)

    def answer(self, says: str, found: Found, claims: Iterable[Asked]) -> None:
        """Add a bundle, the first claim about which is that nothing cheaper has head left at a flow that it has. Raises
        TooLong."""
        problem, path = self.seeker.problem, found.bundle.path
        pairs = zip(_within(problem.joint_at, path.joints), _within(problem.option_at, path.options), strict=True)
        edges = [edge for pair in pairs for edge in pair]
        throttles = problem.throttles[list(path.options[problem.pump + 1 :])].any()
        self.told["answers"].append(
            {
                "says": says,
                "edges": edges,
                "price": found.bundle.price,
                "purchases": self._purchases(edges),
                "flow": math.floor(found.flow_m3s * FLOW),
                "throttled": bool(throttles),
                "claims": [claim for asked in claims for claim in self._claims(asked)],
            }
        )

    def written(self) -> dict[str, Any]:
        """The whole file, with its checksum."""
        return {**self.told, "sum": checksum(self.told)}

    def _purchases(self, edges: list[int]) -> list[list[Any]]:
        """What a bundle buys of products that may be shared: each copy, with the pieces that it serves (item, amount, line)."""
        needed = [
            n for stage, edge in zip(self.told["stages"], edges, strict=True) for n in self.told["needs"][stage["need"][edge]]
        ]
        problem, shelf = self.seeker.problem, Shelf(self.told)
        cover = problem.shop.cover(problem.specials[n] for n in needed)
        left = {item: count * amount for item, count, amount in shelf.pieces(needed)}
        named = {(each.key if each.key[0] == DIVISIBLE else each): n for n in left for each in [problem.specials[n]]}
        waiting: dict[int, list[int]] = {}
        bought = []
        for each in () if cover is None else cover.purchases:
            product = self.products[each.product]
            queue = waiting.setdefault(product, [])
            queue += [named[item.key if item.key[0] == DIVISIBLE else item] for item in each.items]
            bought += [[product, self._filled(shelf, product, queue, left)] for _ in range(each.copies)]
        return bought

    def _filled(self, shelf: Shelf, product: int, queue: list[int], left: dict[int, int]) -> list[list[int]]:
        """What one copy of a product serves of the pieces that wait for it, in their order."""
        told, pieces = self.told["products"][product], []
        room = [2**50 if told["step"] else size for size in told["lines"]]
        for item in list(queue):
            whole = not self.told["items"][item]["divisible"]
            amount = self.told["items"][item]["amount"] if whole else left[item]
            lines = [
                line for line, items in shelf.lines[product].items() if item in items and room[line] >= (amount if whole else 1)
            ]
            if lines and amount:
                taken = min(amount, room[lines[0]])
                room[lines[0]] -= taken
                left[item] -= taken
                pieces.append([item, taken, lines[0]])
                queue.remove(item)
        return pieces

    # -- the problem as numbers ------------------------------------------------------------------------------------

    def _product(self, index: int) -> dict[str, Any]:
        product = self.seeker.problem.shop.products[index]
        stock = None if product.stock is None else int(product.steps_in_stock) if product.step_m else product.stock
        return {
            "name": product.id,
            "price": product.price,
            "stock": stock,
            "step": round(product.step_m * NANO),
            "lines": [0 if product.step_m else round(capacity(line) * NANO) for line in product.lines],
        }

    def _item(self, item: Item) -> dict[str, Any]:
        served = [[self.products[server.product], server.line] for server in self.seeker.problem.shop.servers(item.key)]
        return {
            "name": item.label,
            "amount": math.floor(item.weight * NANO + 1e-3),
            "divisible": item.key[1] if item.key[0] == DIVISIBLE else "",
            "served_by": served,
        }

    def _stages(self, option_needs: list[int], joint_needs: list[int]) -> Iterable[dict[str, Any]]:
        """By turns the joints in front of a place and its options."""
        problem = self.seeker.problem
        for place, layer in enumerate(problem.layers):
            name = problem.choices.rig.positions[place].name
            joints = slice(problem.joint_at[place], problem.joint_at[place + 1])
            options = slice(problem.option_at[place], problem.option_at[place + 1])
            throttling = np.flatnonzero(problem.throttles[options]).tolist() if place > problem.pump else []
            yield {
                "name": f"the joint in front of {name}",
                "from": layer.joint_from.tolist(),
                "to": layer.joint_to.tolist(),
                "price": _prices(problem.joint_plain[joints]),
                "need": joint_needs[joints],
                "holds": [],
            }
            yield {
                "name": name,
                "edges": [" ".join(filter(None, (o.change, "" if o.part is None else o.part.id))) for o in layer.options],
                "from": layer.entry.tolist(),
                "to": layer.leave.tolist(),
                "price": _prices(problem.option_plain[options]),
                "need": option_needs[options],
                "holds": throttling,
            }

    # -- claims ----------------------------------------------------------------------------------------------------

    def _claims(self, asked: Asked) -> list[dict[str, Any]]:
        """A claim, or where what needs more flow than that is in the way one for every such need: a bundle that delivers what
        the neediest of its parts needs has head left there."""
        problem, limits, flow = self.seeker.problem, self.seeker.limits, asked.flow_m3s
        try:
            return [self._claim(asked)]
        except Untrue:
            floors = sorted({low for low in problem.low[asked.allowed].tolist() if flow < low <= limits.flow_max_m3s})
            if not floors:
                raise
        between = pairwise((flow, *floors, math.inf))
        return [self._claim(replace(asked, flow_m3s=f, allowed=asked.allowed & (problem.low < g))) for f, g in between]

    def _claim(self, asked: Asked) -> dict[str, Any]:
        flow = math.floor(asked.flow_m3s * FLOW)
        allowed = asked.allowed & (self.seeker.problem.high >= asked.flow_m3s * (1 - WITHIN))
        heads = self._losses(flow / FLOW, allowed)
        room = self.seeker.exact.suction(flow / FLOW)
        claim: dict[str, Any] = {
            "kind": asked.kind,
            "flow": flow,
            "sum": asked.most,
            "throttled": asked.throttled,
            "loss": heads,
            "room": None if room is None else [math.ceil(each * PICO) for each in room.tolist()],
        }
        edges = self.proof.edges(claim)
        places = [k for k, stage in enumerate(self.told["stages"]) if stage["holds"]] if asked.throttled else [None]
        cases = [{"throttle": place, "parts": list(self._parts(claim, edges, place, allowed))} for place in places]
        return {**claim, "cases": cases}

    def _losses(self, flow_m3s: float, allowed: Mask) -> list[list[int | None]]:
        """Head lost along every edge at a flow, rounded down; None where an option is not allowed."""
        problem = self.seeker.problem
        options = np.floor(problem.heads.at(flow_m3s) * PICO).astype(np.int64).tolist()
        joints = np.floor(problem.joint_quadratic * (flow_m3s * flow_m3s) * PICO).astype(np.int64).tolist()
        some = [loss if may else None for loss, may in zip(options, allowed.tolist(), strict=True)]
        stages: list[list[int | None]] = []
        for (j, k), (m, n) in zip(pairwise(problem.joint_at), pairwise(problem.option_at), strict=True):
            stages += [joints[j:k], some[m:n]]
        return stages

    def _parts(self, claim: dict[str, Any], edges: list[Edges], throttle: int | None, allowed: Mask) -> Iterable[dict[str, Any]]:
        """The parts of a case: one, or where its tables are long one for each pump that anything in question has."""
        weights, budget = self._weights(claim, throttle, allowed), float(claim["sum"])
        bounded = partial(hull.by_price, self.seeker.exact.rounds, budget=budget)
        bound = bounded(weights)
        multiplier = 0.0 if bound is None else bound.multiplier
        whole = _Part(self, claim, self.proof.part_of(edges, throttle, None), None)
        try:
            yield whole.proved(self.whole(multiplier, claim["sum"]), FEW_ROWS)
            return
        except TooLong:
            pass
        problem, rounds = self.seeker.problem, self.seeker.exact.rounds
        first, last = problem.option_at[problem.pump : problem.pump + 2]
        rest = set(range(last - first))
        for part in by_pump(rounds, weights, Corridor(multiplier, budget, 0.0), bounded):
            (pump,) = np.flatnonzero(part.weights.option_loss[first:last] < BARRED / 2).tolist()
            rest.discard(pump)
            alone = _Part(self, claim, self.proof.part_of(edges, throttle, [pump]), [pump])
            try:
                yield alone.proved(self.whole(part.hull.multiplier, claim["sum"]), FEW_ROWS)
            except TooLong:
                yield alone.probed(part.weights, bounded)
        none = _Part(self, claim, self.proof.part_of(edges, throttle, sorted(rest)), sorted(rest))
        yield none.proved(self.whole(multiplier, claim["sum"]), MOST_ROWS)

    def _weights(self, claim: dict[str, Any], throttle: int | None, allowed: Mask) -> Weights:
        """The same question for the bounds of the search, in its own units."""
        problem, mask = self.seeker.problem, allowed.copy()
        if throttle is not None:
            part = slice(*problem.option_at[throttle // 2 : throttle // 2 + 2])
            mask[part] &= problem.throttles[part]
        return self.seeker.exact.weights(claim["flow"] / FLOW, mask)

    def whole(self, multiplier: float, budget: int) -> int:
        """A multiplier (m per minor unit) in the units of a file, within what the checker takes."""
        most = 2**57 // ((MILLI * max(budget, 0) + 1) * len(self.told["stages"]))
        return min(round(multiplier * PICO / MILLI), most)

    def shares(self, barred: Sequence[int], budget: int) -> list[int]:
        """Shares of all items, of products that are not barred."""
        mask = np.zeros(len(self.products), dtype=bool)
        mask[list(barred)] = True
        unit = np.floor(self.seeker.exact.shares.unit_prices(mask) * MILLI)
        made: list[int] = np.minimum(unit, MILLI * (max(budget, 0) + 1)).astype(np.int64).tolist()
        shelf = Shelf(self.told, barred)
        for product, lines in enumerate(shelf.lines):  # amounts are rounded, so a share may be a hair too large
            price = MILLI * self.told["products"][product]["price"]
            dear = 0 if self.told["products"][product]["step"] else charged(shelf, product, made, self.proof.use)
            for item in {item for served in lines.values() for item in served} if dear > price else ():
                made[item] = math.floor(made[item] * price / dear)
        return made


@dataclass(slots=True)
class _Part:
    """One part of a claim, while it is looked for what proves it."""

    file: ProofFile
    claim: dict[str, Any]
    allowed: list[Edges]
    pumps: list[int] | None
    steps: list[dict[str, Any]] = field(default_factory=list)
    barred: list[int] = field(default_factory=list)

    def proved(self, multiplier: int, most: int) -> dict[str, Any]:
        """The part as it is written, with no more pieces tracked than need be. Raises TooLong, and `Untrue` when a bundle is left
        that no true price rules out."""
        told, budget = self.file.told, MILLI * self.claim["sum"]
        shares = self.file.shares(self.barred, self.claim["sum"])
        shelf, tracked = Shelf(told, self.barred, shares), set[int]()
        groups = [
            {item for item, _, _ in group} for group in shelf.groups([(n, 1, i["amount"]) for n, i in enumerate(told["items"])])
        ]
        stages = self.file.proof.priced(self.allowed, shares, budget)
        bounds = Bounds.of(stages, multiplier, budget, self.file.proof.sizes)
        while True:
            accounts = Accounts(told["needs"], tracked, [()])
            trail = self._trail(stages, bounds, accounts, most)
            last = trail[-1][0]
            left = self.file.proof.left(last, accounts, shares, shelf, budget) if len(trail) == len(stages) else last.end[:0]
            if not len(left):
                break
            tracked |= self._told_most(trail, left, [group for group in groups if not group & tracked], shares, shelf)
        made = {"pumps": self.pumps, "probed": self.steps, "multiplier": multiplier, "shares": shares, "tracked": sorted(tracked)}
        return made | _tables([rows for rows, _, _ in trail], accounts)

    def _trail(self, stages: list[Edges], bounds: Bounds, accounts: Accounts, most: int) -> list[tuple[Rows, Ints, Ints]]:
        """Behind each stage the rows that no other beats, the rows that they come from, and their edges; no more once there are
        none."""
        rows, trail = Rows.of([[0], [0], [0], [0]]), list[tuple[Rows, Ints, Ints]]()
        for k, stage in enumerate(stages):
            room = rooms(self.claim) if k == self.file.told["pump"] else None
            rows, parent, edge = followed(rows, stage, accounts, room)
            kept = np.flatnonzero(bounds.inside(k + 1, rows.end, rows.price, rows.loss))
            rows = rows.only(kept)
            best = unbeaten_rows(rows.end, rows.account, rows.price, rows.loss)
            if len(best) > most:
                raise TooLong
            rows = rows.only(best)
            trail.append((rows, parent[kept[best]], edge[kept[best]]))
            if not len(best):
                break
        return trail

    def _told_most(
        self, trail: list[tuple[Rows, Ints, Ints]], left: Ints, groups: list[set[int]], shares: list[int], shelf: Shelf
    ) -> set[int]:
        """The group of pieces, tracked so far by their shares alone, that makes the bundles that are left dearest."""
        told, more, last, budget = self.file.told, [0.0] * len(groups), trail[-1][0], MILLI * self.claim["sum"]
        for each in left.tolist()[:MOST_TRACED]:
            needed, row = list[int](), each
            for k in range(len(trail) - 1, -1, -1):
                _, parent, edge = trail[k]
                needed += told["needs"][told["stages"][k]["need"][int(edge[row])]]
                row = int(parent[row])
            short = budget - int(last.price[each])
            for n, group in enumerate(groups):
                items = [item for item in needed if item in group]
                charged = sum(shares[item] for item in items)
                true = shelf.cover(items, (charged + short) // MILLI)
                more[n] += min(MILLI * true - charged, short + 1)
        best = max(range(len(groups)), key=more.__getitem__, default=-1)
        if best < 0 or more[best] <= 0.0:
            raise Untrue(f"not so: {said_of(self.claim)}")
        return groups[best]

    def probed(self, weights: Weights, bounded: Callable[[Weights], Hull | None]) -> dict[str, Any]:
        """The part with what nobody in question buys barred first, which makes the shares of the others larger. Raises
        TooLong."""
        file, budget = self.file, self.claim["sum"]
        exact = file.seeker.exact
        for _ in range(PROBING_PASSES):
            bound = bounded(weights)
            multiplier = 0 if bound is None else file.whole(bound.multiplier, budget)
            shares = file.shares(self.barred, budget)
            open_ = [n for n in np.flatnonzero(exact.shares.shared).tolist() if n not in self.barred]
            out = [n for n in open_ if file.proof.barred(self.allowed, shares, n, multiplier, MILLI * budget)]
            if not out:
                break
            self.steps.append({"multiplier": multiplier, "shares": shares, "barred": out})
            self.barred += out
            mask = np.zeros(len(file.products), dtype=bool)
            mask[self.barred] = True
            option_price, joint_price = exact.shares.priced_rows(exact.shares.unit_prices(mask))
            weights = replace(weights, option_price=option_price, joint_price=joint_price)
        bound = bounded(weights)
        return self.proved(0 if bound is None else file.whole(bound.multiplier, budget), MOST_ROWS)


def _tables(tables: list[Rows], accounts: Accounts) -> dict[str, Any]:
    """Tables as columns, with only those sets of pieces that they name."""
    named = sorted({0, *(account for rows in tables for account in rows.account.tolist())})
    number = np.zeros(len(accounts.sets), dtype=np.int64)
    number[named] = np.arange(len(named))
    columns = [[rows.end, number[rows.account], rows.price, rows.loss] for rows in tables if len(rows.end)]
    return {
        "accounts": [list(accounts.sets[account]) for account in named],
        "tables": [[column.tolist() for column in some] for some in columns],
    }


def _within(starts: Sequence[int], flat: Sequence[int]) -> list[int]:
    """Flat rows, one for each layer, as rows of their layers."""
    return [row - first for row, first in zip(flat, starts, strict=False)]


def _prices(plain: NDArray[np.float64]) -> list[int]:
    return [min(round(each), DEAREST) for each in plain.tolist()]

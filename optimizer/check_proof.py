"""Checks a proof that was written by ``fullbore best --proof FILE``, with nothing of the program that wrote it.

Run it as ``python -m optimizer.check_proof FILE``, or copy this one file elsewhere: it imports the standard library and numpy
only. Exit status 0: every claim of the file is proved; 1: it is refused, with the reason.

A file holds a loop as numbers. Its stages are, by turns, the joints in front of a place and the options of that place; an edge of
a stage leads from one end to another, has a price and needs pieces that may be shared (packs, coils, kits, tools, short stock). A
claim gives every edge the head that it loses at one flow (a pump wins some: less than nothing) and says that no way through all
stages that costs no more than a sum loses nothing or less. So nothing affordable has head left at that flow. All numbers are
whole (heads in 1e-12 m, rounded down; amounts in 1e-9; shares in thousandths of the smallest coin), so that sums are exact.

The proof of a claim is checked edge by edge. No way is searched for; only the least price of a set of shared pieces is tried out,
purchase by purchase (`Shelf.least`):

* *shares* charge every piece a price. Where no purchase can serve pieces whose shares add up to more than it costs, the shares
  of a bundle never come to more than it pays (weak duality), and prices become sums over edges;
* with a *multiplier* m every way within the sum S that loses nothing has ``loss + m price <= m S``. The least that the rest of
  any way adds to this sum, to the price or to the loss follows backwards, stage by stage; what cannot keep to it is *out*;
* a product is *barred* when even the ways that pay for it and get free all that it serves are out: then nobody in question buys
  it;
* a *table* behind each stage says, for every end and every set of tracked pieces: who has paid no more than this has lost no less
  than that. Every row of a table, taken along every edge, is out, or a row of the next table costs no more and loses no more. So
  every way that is not out ends no better than a row of the last table, and each of those is too dear once its tracked pieces
  are truly paid. No product that is not barred serves both tracked and other pieces.
"""

import hashlib
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Need = tuple[tuple[int, int, int], ...]
"""Pieces still to be served, as (item, how many, amount of each)."""

Used = tuple[tuple[int, int], ...]
"""How many of each product that may run short are bought; of hose by the metre, how many steps."""

FORM, MILLI, FAR, MOST_SUMS, LITRES_PER_HOUR = "fullbore proof 1", 1000, 2**60, 4096, 3.6e-9


class Refused(Exception):
    """A proof does not hold, for the reason that is said."""


def demand(holds: bool, reason: str) -> None:
    """Raises Refused with the reason where something does not hold."""
    if not holds:
        raise Refused(reason)


@dataclass(frozen=True, slots=True)
class Edges:
    """The edges of one stage that a claim allows: from which end to which, and the numbers of needs and of the edges themselves;
    prices in thousandths."""

    start: Ints
    end: Ints
    loss: Ints
    price: Ints
    need: Ints
    number: Ints

    def only(self, rows: Any) -> "Edges":
        """Some of them."""
        picked = (getattr(self, name)[rows] for name in ("start", "end", "loss", "price", "need", "number"))
        return Edges(*picked)


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of a table: end, set of tracked pieces, price paid and head lost so far."""

    end: Ints
    account: Ints
    price: Ints
    loss: Ints

    @classmethod
    def of(cls, columns: Any) -> "Rows":
        """Rows from the columns of a file."""
        demand(len(columns) == 4 and len({len(column) for column in columns}) == 1, "a table has columns of different length")
        return cls(*(np.array(column, dtype=np.int64) for column in columns))

    def only(self, rows: Any) -> "Rows":
        """Some of them."""
        return Rows(self.end[rows], self.account[rows], self.price[rows], self.loss[rows])


class Shelf:
    """The products of a file that are not barred, and the least price of a set of pieces from them. ``shares`` are known to come
    to no more than any pieces cost (see `check_shares`), so that dear ways to serve them are not followed to their end."""

    def __init__(self, told: Any, barred: Sequence[int] = (), shares: Sequence[int] = ()) -> None:
        self.products, self.items = told["products"], told["items"]
        self.barred, self.shares = frozenset(barred), shares or [0] * len(told["items"])
        self.lines: list[dict[int, list[int]]] = [{} for _ in self.products]
        for item, each in enumerate(self.items):
            for product, line in each["served_by"]:
                if product not in self.barred:
                    self.lines[product].setdefault(line, []).append(item)
        self.known: dict[tuple[Need, Used], tuple[float, bool]] = {}
        self.offers = lru_cache(maxsize=None)(self._offers)
        self.least_share = lru_cache(maxsize=None)(self._least_share)

    def cut(self, product: int, amount: int) -> tuple[int, int]:
        """Price and steps of one length of hose by the metre."""
        told = self.products[product]
        steps = -(-(amount - 1) // told["step"])
        return -(-(told["price"] * steps * told["step"] - 1000) // 10**9), steps

    def pieces(self, items: Sequence[int]) -> Need:
        """Several items (by their numbers) as pieces to be served; volumes of one medium become one."""
        whole: dict[int, int] = {}
        shared: dict[str, tuple[int, int]] = {}
        for item in items:
            told = self.items[item]
            if told["divisible"]:
                first, amount = shared.get(told["divisible"], (item, 0))
                shared[told["divisible"]] = (min(first, item), amount + told["amount"])
            else:
                whole[item] = whole.get(item, 0) + 1
        need = [(item, count, int(self.items[item]["amount"])) for item, count in whole.items()]
        return self._in_order([*need, *((item, 1, amount) for item, amount in shared.values())])

    def _in_order(self, need: Sequence[tuple[int, int, int]]) -> Need:
        """Pieces that few products serve first: these leave the least choice."""
        return tuple(sorted(need, key=lambda piece: (len(self.offers(piece[0])), piece)))

    def cover(self, items: Sequence[int], limit: float) -> float:
        """The least price at which all of several items can be had, in the smallest coin; infinite when it is more than the
        limit."""
        groups, total = self.groups(self.pieces(items)), 0.0
        least = [self.least_share(tuple(group)) for group in groups]
        for n, group in enumerate(groups):
            price = self.least(tuple(group), (), limit - total - sum(least[n + 1 :]))
            total += price
        return total

    def _least_share(self, need: Need) -> int:
        """What pieces cost at least, by their shares, in the smallest coin. A volume has the least share of all of its medium."""
        charged = 0
        for item, count, amount in need:
            told = self.items[item]
            if not told["divisible"]:
                charged += count * self.shares[item]
                continue
            same = [n for n, each in enumerate(self.items) if each["divisible"] == told["divisible"]]
            charged += min(self.shares[n] * amount // self.items[n]["amount"] for n in same)
        return -(-charged // MILLI)

    def groups(self, need: Sequence[tuple[int, int, int]]) -> list[list[tuple[int, int, int]]]:
        """Pieces that no product serves together, apart."""
        found: list[tuple[set[int], list[tuple[int, int, int]]]] = []
        for piece in need:
            products = {p for p, _ in self.items[piece[0]]["served_by"] if p not in self.barred}
            joined, rest = [piece], []
            for others, pieces in found:
                if others & products:
                    products, joined = products | others, pieces + joined
                else:
                    rest.append((others, pieces))
            found = [*rest, (products, joined)]
        return [list(self._in_order(pieces)) for _, pieces in found]

    def _offers(self, item: int) -> list[tuple[int, int]]:
        """The product lines worth trying for an item: none that another beats, which serves as much and more, is never short and
        costs no more."""
        served = [(p, n) for p, n in self.items[item]["served_by"] if p not in self.barred]
        found: list[tuple[int, int]] = []
        for product, line in sorted(served, key=lambda place: (self.products[place[0]]["price"], -self._room(*place))):
            if not any(self._beats(other, product) for other, _ in found):
                found.append((product, line))
        return found

    def _room(self, product: int, line: int) -> int:
        return int(self.products[product]["lines"][line])

    def _beats(self, one: int, other: int) -> bool:
        first, second = self.products[one], self.products[other]
        alike = not first["step"] and not second["step"] and len(first["lines"]) == len(second["lines"]) == 1
        if not alike or first["stock"] is not None or first["price"] > second["price"]:
            return False
        return first["lines"][0] >= second["lines"][0] and set(self.lines[one].get(0, [])) >= set(self.lines[other].get(0, []))

    def least(self, need: Need, used: Used, limit: float) -> float:
        """The least price of pieces, or infinity when it is more than a limit. Somebody serves the first of them: it is the
        least over all products that can, and over all else that the same one serves."""
        if not need:
            return 0
        known, exact = self.known.get((need, used), (-1.0, False))
        if exact or known >= limit:
            return known if known <= limit and exact else float("inf")
        if self.least_share(need) > limit:
            return float("inf")
        best = float("inf")
        for price, after, rests in self._purchases(need, dict(used), need[0]):
            for rest in rests if price <= limit else ():
                total = price + self.least(rest, after, limit - price)
                if total < best:
                    best, limit = total, total - 1
        self.known[need, used] = (limit, False) if best == float("inf") else (best, True)
        return best

    def _purchases(
        self, need: Need, used: dict[int, int], first: tuple[int, int, int]
    ) -> Iterator[tuple[int, Used, Iterator[Need]]]:
        """The purchases that serve the first piece: what each costs, the stock used up after it, and what may then be left to
        serve."""
        item, _, amount = first
        for product, line in self.offers(item):
            told = self.products[product]
            price, takes = self.cut(product, amount) if told["step"] else (int(told["price"]), 1)
            gone = used.get(product, 0) + takes
            if told["stock"] is not None and gone > told["stock"]:
                continue
            after = tuple(sorted((used if told["stock"] is None else {**used, product: gone}).items()))
            if told["step"]:
                yield price, after, iter([_without(need, 0, 1)])
            elif self.items[item]["divisible"] or amount <= told["lines"][line]:
                ((rest, room),) = self._served(need, 0, told["lines"][line], 1)
                yield price, after, self._filled(rest, room, product, line)

    def _served(self, need: Need, place: int, room: int, count: int) -> list[tuple[Need, int]]:
        """The need, and the room left in a line, once it serves so many of the pieces at a place."""
        item, _, amount = need[place]
        if self.items[item]["divisible"]:
            taken = min(room, amount)
            return [
                ((*need[:place], *(((item, 1, amount - taken),) if amount > taken else ()), *need[place + 1 :]), room - taken)
            ]
        return [(_without(need, place, count), room - count * amount)]

    def _filled(self, need: Need, room: int, product: int, first: int) -> Iterator[Need]:
        """What is still to be served when one copy of a product serves all that it might: its line ``first`` has some room left,
        its other lines all of theirs."""
        lines = self.products[product]["lines"]
        if room == 0 and len(lines) == 1:
            yield need
            return
        rests = {need}
        for line in self.lines[product]:
            size = room if line == first else lines[line]
            rests = {after for rest in rests for after in self._by_line(rest, 0, size, set(self.lines[product][line]))}
        yield from rests

    def _by_line(self, need: Need, place: int, room: int, served: set[int]) -> Iterator[Need]:
        while place < len(need) and need[place][0] not in served:
            place += 1
        if place == len(need):
            yield need
            return
        item, count, amount = need[place]
        most = int(room > 0) if self.items[item]["divisible"] else min(count, room // amount)
        last = not any(piece[0] in served for piece in need[place + 1 :])
        for taken in range(most if last else 0, most + 1):
            if taken == 0:
                yield from self._by_line(need, place + 1, room, served)
                continue
            for rest, left in self._served(need, place, room, taken):
                stays = len(rest) == len(need)
                yield from self._by_line(rest, place + stays, left, served)


def _without(need: Need, place: int, count: int) -> Need:
    item, there, amount = need[place]
    kept = ((item, there - count, amount),) if there > count else ()
    return (*need[:place], *kept, *need[place + 1 :])


def usable(told: Any, lines: set[tuple[int, int]]) -> dict[tuple[int, int], int]:
    """How much of one copy of each product line any way can use at most: no more than it holds, and only sums of what ways
    need."""
    sums = {line: {0} for line in lines}
    amounts = [each["amount"] for each in told["items"]]
    served = [[tuple(line) for line in each["served_by"]] for each in told["items"]]
    holds = {(p, n): size for p, each in enumerate(told["products"]) for n, size in enumerate(each["lines"])}
    cut = {key for items in told["needs"] for item in items if told["items"][item]["divisible"] for key in served[item]}
    for stage in told["stages"]:
        taken: dict[tuple[int, int], set[int]] = {}
        for need in sorted(set(stage["need"])):
            by_line: dict[tuple[int, int], set[int]] = {}
            for item in told["needs"][need]:
                for line in served[item]:
                    before = by_line.setdefault(line, {0})
                    by_line[line] = before | {each + amounts[item] for each in before}
            for line, some in by_line.items():
                taken.setdefault(line, set()).update(some)
        for line in lines & set(taken):
            more = {one + other for one in sums[line] for other in taken[line]}
            sums[line] = more if line in cut else {each for each in more if each <= holds[line]}
            if len(sums[line]) > MOST_SUMS:
                sums[line] = {max(sums[line])} if line in cut else {0, holds[line]}
    return {line: min(max(some), holds[line]) for line, some in sums.items()}


def charged(shelf: Shelf, product: int, shares: Sequence[int], use: dict[tuple[int, int], int]) -> Fraction:
    """The most, in thousandths, that the shares of what one copy of a product serves come to: its best rate, line by line."""
    each, items = shelf.products[product], shelf.items
    total = Fraction(0)
    for line, served in shelf.lines[product].items():
        fits = [i for i in served if items[i]["divisible"] or items[i]["amount"] <= each["lines"][line]]
        total += max((Fraction(shares[i], items[i]["amount"]) for i in fits), default=Fraction(0)) * use[product, line]
    return total


def check_shares(shelf: Shelf, shares: Sequence[int], use: dict[tuple[int, int], int]) -> None:
    """That no purchase serves pieces whose shares come to more than it costs."""
    one_each = len(shares) == len(shelf.items) and min(shares, default=0) >= 0
    demand(one_each, "there is not one share of zero or more for each piece")
    for product, lines in enumerate(shelf.lines):
        each = shelf.products[product]
        if each["step"]:
            pieces = [i for served in lines.values() for i in served]
            dear = any(shares[i] > MILLI * shelf.cut(product, shelf.items[i]["amount"])[0] for i in pieces)
        else:
            dear = charged(shelf, product, shares, use) > MILLI * each["price"]
        demand(not dear, f"the shares charge more for {each['name']} than it costs")


def to_come(stages: Sequence[Edges], costs: Sequence[Ints], sizes: Sequence[int]) -> list[Ints]:
    """Before each stage, by end: the least sum of costs on any way from there on (`FAR`: none)."""
    after = np.zeros(sizes[-1], dtype=np.int64)
    found = [after]
    for k in range(len(stages) - 1, -1, -1):
        before = np.full(sizes[k], FAR, dtype=np.int64)
        np.minimum.at(before, stages[k].start, np.minimum(costs[k] + after[stages[k].end], FAR))
        found.append(before)
        after = before
    return found[::-1]


@dataclass(frozen=True, slots=True)
class Bounds:
    """What is out: by the sum of loss and multiplier times price, by price alone, by loss alone."""

    multiplier: int
    budget: int
    both: list[Ints]
    price: list[Ints]
    loss: list[Ints]

    @classmethod
    def of(cls, stages: Sequence[Edges], multiplier: int, budget: int, sizes: Sequence[int]) -> "Bounds":
        """Backwards through all stages. The budget is in thousandths."""
        demand(multiplier >= 0 and multiplier * (budget + 1) * 4 * len(stages) < FAR, "a multiplier is out of range")
        costs = [stage.loss + multiplier * stage.price for stage in stages]
        prices, losses = [stage.price for stage in stages], [stage.loss for stage in stages]
        return cls(
            multiplier, budget, to_come(stages, costs, sizes), to_come(stages, prices, sizes), to_come(stages, losses, sizes)
        )

    def least(self) -> int:
        """The least of the sum of loss and multiplier times price, over what a way in question could come to."""
        return int(self.both[0][0]) - self.multiplier * self.budget

    def inside(self, stage: int, end: Ints, price: Ints, loss: Ints) -> NDArray[np.bool_]:
        """What is not out in front of a stage."""
        kept = loss + self.multiplier * price + self.both[stage][end] <= self.multiplier * self.budget
        return np.asarray(kept & (price + self.price[stage][end] <= self.budget) & (loss + self.loss[stage][end] <= 0))


class Accounts:
    """Numbers for sets of tracked pieces."""

    def __init__(self, needs: Sequence[Sequence[int]], tracked: set[int], sets: Sequence[Sequence[int]]) -> None:
        self.sets = [tuple(each) for each in sets]
        self.number = {each: n for n, each in enumerate(self.sets)}
        demand(bool(self.sets) and self.sets[0] == () and len(self.number) == len(self.sets), "sets of pieces are not told apart")
        self.gains = [tuple(sorted(item for item in need if item in tracked)) for need in needs]
        self.tracks = np.array([bool(gain) for gain in self.gains])

    def sums(self, account: Ints, need: Ints) -> Ints:
        """The set that each set becomes with the tracked pieces of a need."""
        rows = np.flatnonzero(self.tracks[need])
        if not len(rows):
            return account
        pairs, which = np.unique(account[rows] * len(self.gains) + need[rows], return_inverse=True)
        together = account.copy()
        together[rows] = np.array([self._sum(*divmod(pair, len(self.gains))) for pair in pairs.tolist()], dtype=np.int64)[which]
        return together

    def _sum(self, account: int, need: int) -> int:
        both = tuple(sorted((*self.sets[account], *self.gains[need])))
        if both not in self.number:
            self.number[both] = len(self.sets)
            self.sets.append(both)
        return self.number[both]


def followed(rows: Rows, edges: Edges, accounts: Accounts, room: Ints | None) -> tuple[Rows, Ints, Ints]:
    """Every row along every edge that starts at its end, with the row that each comes from and the number of the edge; ``room``
    is the most that may be lost in front of each edge."""
    order = np.argsort(edges.start, kind="stable")
    first = np.searchsorted(edges.start[order], rows.end, side="left")
    counts = np.searchsorted(edges.start[order], rows.end, side="right") - first
    parent = np.repeat(np.arange(len(counts)), counts)
    picked = order[first[parent] + np.arange(len(parent)) - np.repeat(np.cumsum(counts) - counts, counts)]
    if room is not None:
        kept = rows.loss[parent] <= room[edges.number[picked]]
        parent, picked = parent[kept], picked[kept]
    account = accounts.sums(rows.account[parent], edges.need[picked])
    price, loss = rows.price[parent] + edges.price[picked], rows.loss[parent] + edges.loss[picked]
    return Rows(edges.end[picked], account, price, loss), parent, edges.number[picked]


def uncovered(rows: Rows, table: Rows) -> NDArray[np.bool_]:
    """Rows that no row of a table, of the same end and pieces, matches or beats in price and in loss."""
    sets = int(max(rows.account.max(initial=0), table.account.max(initial=0))) + 1
    group, asked = table.end * sets + table.account, rows.end * sets + rows.account
    demand(bool((np.diff(group) >= 0).all()), "a table is not in order")
    same = np.diff(group) == 0
    stairs = (np.diff(table.price) > 0) & (np.diff(table.loss) < 0)
    demand(bool((stairs | ~same).all()), "a table is no staircase")
    # the last row of the group that costs no more is the one that lost least: one sorted list serves all groups
    groups, which = np.unique(group, return_inverse=True)
    steps, rank = np.unique(table.price, return_inverse=True)
    place = np.searchsorted(groups, asked)
    known = np.flatnonzero(np.append(groups, -1)[place] == asked)
    wanted = place[known] * (len(steps) + 1) + np.searchsorted(steps, rows.price[known], side="right")
    at = np.searchsorted(which * (len(steps) + 1) + rank + 1, wanted, side="right") - 1
    covered = np.zeros(len(asked), dtype=bool)
    there = (at >= 0) & (which[at] == place[known]) if len(which) else np.zeros(0, dtype=bool)
    covered[known[there]] = table.loss[at[there]] <= rows.loss[known[there]]
    return ~covered


def whole(column: Sequence[Any], what: str) -> Ints:
    """A column of whole numbers."""
    made = np.array(column, dtype=np.int64) if all(type(each) is int for each in column) else None
    if made is None or (len(made) and int(np.abs(made).max()) >= 2**50):
        raise Refused(f"{what}: not all numbers are whole and within 2^50")
    return made


class Proof:
    """One file, read. What hangs on no claim is worked out once."""

    def __init__(self, told: Any) -> None:
        self.told = told
        self.sizes: list[int] = told["ends"]
        names = ("from", "to", "price", "need")
        self.columns = [[whole(each[name], f"{each['name']}, {name}") for name in names] for each in told["stages"]]
        demand(self.sizes[0] == 1 and len(self.sizes) == len(self.columns) + 1, "the stages do not follow one another")
        for k, (start, end, price, need) in enumerate(self.columns):
            ranges = ((start, self.sizes[k]), (end, self.sizes[k + 1]), (need, len(told["needs"])), (price, 2**50))
            inside = all(int(each.min(initial=0)) >= 0 and int(each.max(initial=0)) < size for each, size in ranges)
            demand(inside and len(start) == len(end) == len(price) == len(need), "an edge leads nowhere")
        self.use = usable(told, {(p, n) for each in told["items"] for p, n in each["served_by"]})

    # -- claims ----------------------------------------------------------------------------------------------------

    def check(self) -> list[str]:
        """What is proved, claim by claim, in words of the numbers that were checked. Raises Refused."""
        said = []
        for answer in self.told["answers"]:
            price = self._priced(answer)
            for claim in answer["claims"]:
                words = said_of(claim)
                more = claim["kind"] == "more"
                demand(claim["sum"] == (self.told["budget"] if more else price - 1), f"{words}: that is another sum")
                demand(claim["flow"] > answer["flow"] if more else True, f"{words}: that is another flow")
                self._covered(claim)
                edges = self.edges(claim)
                for case in claim["cases"]:
                    for part in case["parts"]:
                        self._part(claim, self.part_of(edges, case["throttle"], part["pumps"]), part)
                said += [words] if claim["sum"] >= 0 else []
            said.append(f"a bundle for {price} of them has head left at {answer['claims'][0]['flow'] * LITRES_PER_HOUR:.3f} l/h")
        return said

    def _priced(self, answer: Any) -> int:
        """The price of the bundle that is named, once it is a way through the loop that has head left at the flow of the claim
        that nothing cheaper has."""
        edges, at, needed = answer["edges"], 0, []
        price = 0
        for k, (stage, edge) in enumerate(zip(self.columns, edges, strict=True)):
            start, end, costs, need = stage
            demand(0 <= edge < len(start) and int(start[edge]) == at, f"the bundle is no way through the loop at stage {k}")
            at, price = int(end[edge]), price + int(costs[edge])
            needed += self.told["needs"][int(need[edge])]
        price += self._paid(answer["purchases"], needed)
        demand(price == answer["price"], f"the bundle costs {price} and not {answer['price']}")
        demand(price <= self.told["budget"], "the bundle costs more than the budget")
        first = answer["claims"][0]
        demand(first["kind"] == "cheaper", "the first claim is not that nothing is cheaper")
        losses = [column[edge] for column, edge in zip(first["loss"], edges, strict=True)]
        demand(None not in losses, "the bundle holds what may not run at the flow")
        demand(sum(losses) <= 0 and first["flow"] <= answer["flow"], "the bundle has no head left at the flow")
        pump = self.told["pump"]
        room = first["room"]
        demand(
            room is None or sum(losses[:pump]) <= room[edges[pump]], "the bundle leaves the inlet of its pump too little pressure"
        )
        if first["throttled"]:
            holding = any(edge in stage["holds"] for stage, edge in zip(self.told["stages"], edges, strict=True))
            demand(holding == answer["throttled"], "whether the bundle has a throttle is told wrongly")
        return price

    def _paid(self, purchases: Any, needed: Sequence[int]) -> int:
        """The price of purchases, once they are seen to serve all that is needed."""
        shelf, bought, served, price = Shelf(self.told), dict[int, int](), dict[int, list[int]](), 0
        for product, pieces in purchases:
            told, filled = self.told["products"][product], dict[int, int]()
            for item, amount, line in pieces:
                demand(item in shelf.lines[product].get(line, []), f"{told['name']} does not serve what is said")
                served.setdefault(item, []).append(amount)
                filled[line] = filled.get(line, 0) + amount
            cost, takes = (told["price"], 1) if not told["step"] else shelf.cut(product, *filled.values())
            full = all(amount <= told["lines"][line] for line, amount in filled.items())
            demand(bool(told["step"]) or full, f"{told['name']} does not reach for what is said")
            price, bought[product] = price + cost, bought.get(product, 0) + takes
        short = [p for p, many in bought.items() if (stock := self.told["products"][p]["stock"]) is not None and many > stock]
        demand(not short, "more is bought than is in stock")
        for item, count, amount in shelf.pieces(needed):
            said = served.pop(item, [])
            enough = sum(said) == amount if self.told["items"][item]["divisible"] else said == [amount] * count
            demand(enough, f"the purchases do not serve {self.told['items'][item]['name']}")
        demand(not served, "the purchases serve what nobody needs")
        return price

    def _covered(self, claim: Any) -> None:
        """That the cases of a claim leave no way out, and the parts of a case no pump."""
        places = [case["throttle"] for case in claim["cases"]]
        holding = [k for k, stage in enumerate(self.told["stages"]) if stage["holds"]]
        demand(None in places or (claim["throttled"] and set(holding) <= set(places)), "a throttle at some place is left out")
        pumps = range(len(self.told["stages"][self.told["pump"]]["from"]))
        for case in claim["cases"]:
            named = [part["pumps"] for part in case["parts"]]
            demand(None in named or {pump for some in named for pump in some} >= set(pumps), "a pump is left out")

    def edges(self, claim: Any) -> list[Edges]:
        """The edges that a claim allows, stage by stage, at the prices of what is not shared."""
        stages = []
        for (start, end, price, need), losses in zip(self.columns, claim["loss"], strict=True):
            demand(len(losses) == len(start), "there is not one loss for each edge")
            number = np.array([n for n, loss in enumerate(losses) if loss is not None], dtype=np.int64)
            loss = whole([each for each in losses if each is not None], "losses")
            stages.append(Edges(start[number], end[number], loss, MILLI * price[number], need[number], number))
        return stages

    def part_of(self, stages: Sequence[Edges], throttle: int | None, pumps: list[int] | None) -> list[Edges]:
        """Those of them that are left where something throttles at a stage, with some of the pumps only."""
        found = list(stages)
        if throttle is not None:
            found[throttle] = found[throttle].only(np.isin(found[throttle].number, self.told["stages"][throttle]["holds"]))
        if pumps is not None:
            pump = self.told["pump"]
            found[pump] = found[pump].only(np.isin(found[pump].number, pumps))
        return found

    def priced(self, stages: Sequence[Edges], shares: Sequence[int], budget: int) -> list[Edges]:
        """Edges with the shares of the pieces that they need. What alone costs more than the budget need not cost more still."""
        of_need = np.array([sum(shares[item] for item in need) for need in self.told["needs"]], dtype=np.int64)
        most = max(budget + 1, 0)
        return [replace(edges, price=np.minimum(edges.price + of_need[edges.need], most)) for edges in stages]

    def barred(self, stages: Sequence[Edges], shares: Sequence[int], product: int, multiplier: int, budget: int) -> bool:
        """Whether nothing in question buys a product: it would pay for it and, at the least, the shares of what it does not
        serve."""
        free = {item for item, each in enumerate(self.told["items"]) if product in {p for p, _ in each["served_by"]}}
        lowered = self.priced(stages, [0 if item in free else share for item, share in enumerate(shares)], budget)
        least = Bounds.of(lowered, multiplier, budget, self.sizes).least()
        return least + multiplier * MILLI * int(self.told["products"][product]["price"]) > 0

    def _part(self, claim: Any, allowed: Sequence[Edges], part: Any) -> None:
        budget, barred = MILLI * claim["sum"], list[int]()
        for step in part["probed"]:
            check_shares(Shelf(self.told, barred), step["shares"], self.use)
            for product in step["barred"]:
                out = self.barred(allowed, step["shares"], product, step["multiplier"], budget)
                demand(out, f"{said_of(claim)}: somebody may buy {self.told['products'][product]['name']}")
            barred += step["barred"]
        shelf, tracked = Shelf(self.told, barred, part["shares"]), set(part["tracked"])
        check_shares(shelf, part["shares"], self.use)
        for lines in shelf.lines:
            items = {item for some in lines.values() for item in some}
            demand(not items & tracked or items <= tracked, "a product serves both tracked and other pieces")
        stages = self.priced(allowed, part["shares"], budget)
        accounts = Accounts(self.told["needs"], tracked, part["accounts"])
        last = self._walked(claim, stages, Bounds.of(stages, part["multiplier"], budget, self.sizes), accounts, part["tables"])
        demand(
            not len(self.left(last, accounts, part["shares"], shelf, budget)),
            f"{said_of(claim)}: a way costs no more than the sum",
        )

    def left(self, last: Rows, accounts: Accounts, shares: Sequence[int], shelf: Shelf, budget: int) -> Ints:
        """The rows of the last table that cost no more than the budget once their tracked pieces are truly paid."""
        found: list[int] = []
        for account in set(last.account.tolist()):
            rows, items = np.flatnonzero(last.account == account), accounts.sets[account]
            besides = last.price[rows] - sum(shares[item] for item in items)
            true = shelf.cover(items, (budget - int(besides.min())) // MILLI)
            found += [] if true == float("inf") else rows[besides + MILLI * int(true) <= budget].tolist()
        return np.array(sorted(found), dtype=np.int64)

    def _walked(self, claim: Any, stages: Sequence[Edges], bounds: Bounds, accounts: Accounts, tables: Any) -> Rows:
        """The last table, once every row of each table is out along every edge or covered by the next table."""
        rows = Rows.of([[0], [0], [0], [0]])
        for k, edges in enumerate(stages):
            table = Rows.of(tables[k]) if k < len(tables) else Rows.of([[]] * 4)
            demand(int(table.account.max(initial=0)) < len(accounts.sets), "a table names a set of pieces that is not there")
            room = rooms(claim) if k == self.told["pump"] else None
            then, _, _ = followed(rows, edges, accounts, room)
            then = then.only(bounds.inside(k + 1, then.end, then.price, then.loss))
            left = uncovered(then, table)
            demand(not left.any(), f"{said_of(claim)}: the table behind {self.told['stages'][k]['name']} leaves a way out")
            rows = table
        return rows


def rooms(claim: Any) -> Ints | None:
    """The most that may be lost in front of each pump, where that is limited; what nothing loses is as good as no limit."""
    if claim["room"] is None:
        return None
    demand(all(type(each) is int for each in claim["room"]), "rooms: not all numbers are whole")
    return np.array([max(-FAR, min(each, FAR)) for each in claim["room"]], dtype=np.int64)


def said_of(claim: Any) -> str:
    """A claim in words."""
    which = "no bundle with a throttle" if claim["throttled"] else "no bundle"
    return f"{which} for {claim['sum']} of the smallest coin or less has head left at {claim['flow'] * LITRES_PER_HOUR:.3f} l/h"


def checksum(said: Any) -> str:
    """SHA-256 of what a file says, written without spaces and with its names in order."""
    return hashlib.sha256(json.dumps(said, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def checked(told: Any) -> list[str]:
    """What a proof claims, once every claim is checked. Raises Refused."""
    try:
        demand(told.get("form") == FORM, f"this is no {FORM}")
        said = {key: value for key, value in told.items() if key != "sum"}
        demand(told.get("sum") == checksum(said), "the file is not as it was written: its checksum differs")
        return Proof(told).check()
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise Refused(f"the file is not of the form it says ({type(error).__name__}: {error})") from error


def main(argv: Sequence[str]) -> int:
    """Check one file and say what it proves."""
    if len(argv) != 1:
        print("Use: python -m optimizer.check_proof FILE", file=sys.stderr)
        return 1
    try:
        with open(argv[0], encoding="utf-8") as file:
            said = checked(json.load(file))
    except (OSError, ValueError, RecursionError) as error:
        print(f"{argv[0]} cannot be read: {error}", file=sys.stderr)
        return 1
    except Refused as error:
        print(f"Refused: {error}.", file=sys.stderr)
        return 1
    print("\n".join(f"Proved: {each}." for each in said))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

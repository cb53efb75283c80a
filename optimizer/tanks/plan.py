"""The kits of a shop: candidates from proved bundles, each tried on every tank, the best few chosen, and all about those.

Candidates are what the proved best bundles buy, of every tank at every budget of the grid, and at each shelf price also the
bundles that truly differ from the best. Each candidate is tried on each tank: the engine looks for the best use of its pieces
there. So the choice is exact over the candidates, and a kit that no tank's bundle asks for by itself is not considered.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from optimizer.model.catalog import Product
from optimizer.model.kits import GAIN, Kit, KitPlan, NotServed, Piece, Served, Unserved
from optimizer.model.results import Change, JointLine
from optimizer.model.said_lines import SaidLine, said_again
from optimizer.model.saved import taken
from optimizer.model.shop import Customer, Store
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.kits import ChosenKits, Shelf, choose, served
from optimizer.tanks.part_value import dead_stock, part_values
from optimizer.tanks.pool import Answer, Payload, kept_on
from optimizer.tanks.population import Pieces, by_id, cost_of, grid, listed, makes, name_of, price_of, unlisted
from optimizer.tanks.shop_questions import Asker, key_of
from optimizer.tanks.substitutes import with_substitutes

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A kit that could be offered, and the tank whose bundle it is."""

    pieces: Pieces
    price: int
    made_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Surveyed:
    """What is known of a population: clean flows and best bundles per tank, candidates, and what each does for each tank.

    ``best`` are the bundles for the highest shelf price, ``found`` all answers with bundles. ``uses[k][t]`` is the answer for
    candidate k on tank t, ``gains`` the gain where it fits.
    """

    clean_m3s: tuple[float, ...]
    best: tuple[Answer, ...]
    found: tuple[Answer, ...]
    candidates: tuple[Candidate, ...]
    uses: tuple[tuple[Answer, ...], ...]
    gains: tuple[tuple[float | None, ...], ...]


def kits_answer(asker: Asker, by: str = GAIN) -> KitPlan:
    """The best kits for the store of ``asker``. Raises ValueError for an unknown ``by``, KeyboardInterrupt when it was
    stopped before any kit could be tried."""
    with kept_on(asker.hire) as asker.hire:
        return _answer(asker, by)


def _answer(asker: Asker, by: str) -> KitPlan:
    store = asker.store
    survey = _survey(asker)
    weights = [customer.weight for customer in store.customers]
    prices = [candidate.price for candidate in survey.candidates]
    stock = {product.id: float(product.stock) for product in store.stocked.products if product.stock is not None}
    shelf = Shelf(needs=[dict(candidate.pieces) for candidate in survey.candidates], stock=stock)
    chosen = choose(weights, survey.gains, prices, store.most_kits, by, shelf)
    complete = asker.complete
    kits = _kits(asker, survey, chosen)
    plan = KitPlan(
        shop=store.name,
        catalog=store.catalog.name,
        currency=store.catalog.currency,
        by=by,
        most=store.most_kits,
        shelf_prices=store.shelf_prices,
        budgets=store.budgets,
        least_gain=store.least_gain,
        least_used=store.least_used,
        tanks=len(store.customers),
        total_weight=sum(weights),
        kits=kits,
        weight=chosen.weight,
        gain_m3s=chosen.gain_m3s,
        unserved=tuple(_unserved(store, survey, chosen)),
        parts=(),
        dead=(),
        candidates=len(survey.candidates),
        solves=asker.solves,
        unproved=asker.unproved,
        complete=complete,
        made=_made(store, len(survey.candidates)),
        notes=store.notes,
        unmeasured=store.measured,
    )
    if not complete:
        return plan
    parts = part_values(asker, survey.clean_m3s, survey.best, kits)
    dead = dead_stock(store, survey.found)
    unserved = tuple(_with_orders(asker, plan.unserved))
    return replace(
        plan, parts=parts, dead=dead, unserved=unserved, solves=asker.solves, unproved=asker.unproved, complete=asker.complete
    )


def _made(store: Store, count: int) -> str:
    others = "the next best that truly differs" if store.alternatives == 2 else f"the {store.alternatives - 1} next best"
    more = f", and {others} at each shelf price" if store.alternatives > 1 else ""
    budgets = f"{len(store.budgets)} budgets" if len(store.budgets) > 1 else "one budget"
    return (
        f"exact over {count} candidate kits: what the proved best bundles of {len(store.customers)} tanks buy at "
        f"{budgets}{more}; each was tried on every tank with nothing but its own pieces"
    )


# -- candidates, and what each does for each tank ------------------------------------------------------------------


def _survey(asker: Asker) -> Surveyed:
    store = asker.store
    names = [customer.name for customer in store.customers]
    questions: list[Payload] = [{"ask": "clean", "tank": name} for name in names]
    questions += [_bundles(store, name, budget) for name, budget in grid(store)]
    answers = asker.ask("tanks x budgets", questions)
    missing = [name for name in names if key_of({"ask": "clean", "tank": name}) not in answers]
    if missing:
        raise KeyboardInterrupt
    clean = tuple(_number(answers[key_of({"ask": "clean", "tank": name})], "flow_m3s") for name in names)
    found = {key: answer for question in questions if (answer := answers.get(key := key_of(question))) and "found" in answer}
    candidates = tuple(_candidates(store, questions, answers))
    tried = asker.ask("kits x tanks", [_use(candidate, name) for candidate in candidates for name in names])
    known = [c for c in candidates if all(key_of(_use(c, name)) in tried for name in names)]
    if candidates and not known:
        raise KeyboardInterrupt
    uses = tuple(tuple(tried[key_of(_use(candidate, name))] for name in names) for candidate in known)
    return Surveyed(
        clean_m3s=clean,
        best=tuple(_best(answers.get(key_of(_bundles(store, name, store.dearest)), {})) for name in names),
        found=tuple(found.values()),
        candidates=tuple(known),
        uses=uses,
        gains=tuple(tuple(_gain(store, clean[t], use) for t, use in enumerate(row)) for row in uses),
    )


def _bundles(store: Store, tank: str, budget: int) -> Payload:
    most = store.alternatives if budget in store.shelf_prices else 1
    return {"ask": "bundles", "tank": tank, "budget": budget, "most": most}


def _use(candidate: Candidate, tank: str) -> Payload:
    return {"ask": "use", "tank": tank, "pieces": listed(candidate.pieces)}


def _best(answer: Answer) -> Answer:
    found = answer.get("found")
    return found[0] if isinstance(found, list) and found else {}


def _candidates(store: Store, questions: Sequence[Payload], answers: Mapping[str, Answer]) -> Iterator[Candidate]:
    """Every set of pieces once, made for the first tank that asks for it; none that is dearer than the highest shelf price."""
    known = by_id(store.stocked)
    seen: dict[Pieces, str] = {}
    for question in questions:
        found = answers.get(key_of(question), {}).get("found", [])
        for each in found if isinstance(found, list) else []:
            pieces = unlisted(each["pieces"])
            if pieces:
                seen.setdefault(pieces, str(question["tank"]))
    for pieces, tank in sorted(seen.items()):
        price = price_of(pieces, known)
        if price <= store.dearest:
            yield Candidate(pieces=pieces, price=price, made_for=tank)


def _gain(store: Store, clean_m3s: float, use: Answer) -> float | None:
    """What a kit adds to a tank; None where it does not fit."""
    if not use["meets"] or not use["pieces"]:
        return None
    if _number(use, "used_share") < store.least_used:
        return None
    gain = _number(use, "flow_m3s") - clean_m3s
    return gain if gain >= max(store.least_gain * clean_m3s, RESOLUTION_M3S) else None


def _number(answer: Answer, name: str) -> float:
    value = answer[name]
    if not isinstance(value, int | float):
        raise TypeError(f"{name} of an answer is no number")
    return float(value)


# -- the chosen kits -----------------------------------------------------------------------------------------------


def _kits(asker: Asker, survey: Surveyed, chosen: ChosenKits) -> tuple[Kit, ...]:
    store = asker.store
    questions: list[Payload] = []
    for k in chosen.kits:
        pieces = listed(survey.candidates[k].pieces)
        for t, customer in enumerate(store.customers):
            ask = "refusals" if survey.gains[k][t] is None else "detail"
            questions.append({"ask": ask, "tank": customer.name, "pieces": pieces})
    answers = dict(asker.ask("the chosen kits", questions))
    if missing := [question for question in questions if key_of(question) not in answers]:
        # the choice is made: Ctrl-C does not take it away, only a second one does
        answers |= asker.ask("the chosen kits", missing)
    if any(key_of(question) not in answers for question in questions):
        raise KeyboardInterrupt
    best_first = sorted(chosen.kits, key=lambda k: (-_own(store, survey, chosen, k).gain_m3s, survey.candidates[k].pieces))
    kits = [_kit(store, survey, chosen, k, f"Kit {number}", answers) for number, k in enumerate(best_first, start=1)]
    return with_substitutes(asker, kits) if asker.complete else tuple(kits)


def _kit(store: Store, survey: Surveyed, chosen: ChosenKits, k: int, name: str, answers: Mapping[str, Answer]) -> Kit:
    candidate = survey.candidates[k]
    weights = [customer.weight for customer in store.customers]
    alone, own = served(weights, survey.gains, (k,)), _own(store, survey, chosen, k)
    fits, refused = [], []
    for t, customer in enumerate(store.customers):
        asked = "refusals" if survey.gains[k][t] is None else "detail"
        answer = answers[key_of({"ask": asked, "tank": customer.name, "pieces": listed(candidate.pieces)})]
        if asked == "detail":
            fits.append(_served(customer, survey, k, t, answer))
        else:
            refused.append(_not_served(customer, survey, k, t, answer))
    pieces = tuple(_pieces(store, candidate.pieces))
    costs = [piece.cost for piece in pieces if piece.cost is not None]
    return Kit(
        name=name,
        made_for=candidate.made_for,
        price=candidate.price,
        shelf_price=min(price for price in store.shelf_prices if price >= candidate.price),
        makes=makes(candidate.pieces, by_id(store.stocked)),
        pieces=pieces,
        cost=sum(costs) if len(costs) == len(pieces) else None,
        weight=alone.weight,
        gain_m3s=alone.gain_m3s,
        own_weight=own.weight,
        own_gain_m3s=own.gain_m3s,
        fits=tuple(fits),
        does_not_fit=tuple(refused),
    )


def _own(store: Store, survey: Surveyed, chosen: ChosenKits, k: int) -> ChosenKits:
    """What the tanks gain that no other chosen kit serves better; of equals the first counts."""
    weights = [customer.weight for customer in store.customers]

    def first(t: int) -> int:
        return max(chosen.kits, key=lambda kit: (-1.0 if (gain := survey.gains[kit][t]) is None else gain, -kit))

    mine = [weight if first(t) == k else 0.0 for t, weight in enumerate(weights)]
    return served(mine, survey.gains, (k,))


def _pieces(store: Store, pieces: Pieces) -> Iterator[Piece]:
    known = by_id(store.stocked)
    for product_id, amount in pieces:
        yield _piece(store, known[product_id], amount, known[product_id].stock)


def _piece(store: Store, product: Product, amount: float, in_stock: int | None) -> Piece:
    return Piece(
        product_id=product.id,
        name=name_of(product, store.catalog),
        quantity=amount,
        metres=product.step_m > 0.0,
        price=price_of(((product.id, amount),), {product.id: product}),
        in_stock=in_stock,
        cost=cost_of(product, amount),
    )


def _served(customer: Customer, survey: Surveyed, k: int, t: int, answer: Answer) -> Served:
    flow = _number(answer, "flow_m3s")
    best = survey.best[t]
    return Served(
        tank=customer.name,
        band=customer.band,
        weight=customer.weight,
        clean_m3s=survey.clean_m3s[t],
        flow_m3s=flow,
        gain_m3s=flow - survey.clean_m3s[t],
        turnover_per_hour=customer.rig.turnover_per_hour(flow),
        p10_m3s=_number(answer, "p10_m3s"),
        p50_m3s=_number(answer, "p50_m3s"),
        p90_m3s=_number(answer, "p90_m3s"),
        best_m3s=_number(best, "flow_m3s") if best else survey.clean_m3s[t],
        used_share=_number(survey.uses[k][t], "used_share"),
        changes=_told(answer, "changes", Change),
        joints=_told(answer, "joints", JointLine),
        left_over=_told(answer, "left_over", str),
        cautions=_told(answer, "cautions", str),
    )


def _told(answer: Answer, name: str, kind: type[T]) -> tuple[T, ...]:
    """What an answer says, with the quantities in its texts."""
    found: tuple[T, ...] = taken(tuple[kind, ...], answer[name]) or ()  # type: ignore[valid-type]
    return said_again(found, taken(tuple[SaidLine, ...], answer["said"]) or ())


def _not_served(customer: Customer, survey: Surveyed, k: int, t: int, answer: Answer) -> NotServed:
    why = _told(answer, "why", str)
    use, clean = survey.uses[k][t], survey.clean_m3s[t]
    if use["meets"] and use["pieces"] and clean > 0.0:
        adds, used = max(_number(use, "flow_m3s") / clean - 1.0, 0.0), _number(use, "used_share")
        why += (f"what goes in adds {100 * adds:.1f} % to the clean flow, and is {100 * used:.0f} % of the price of the kit",)
    return NotServed(
        tank=customer.name, band=customer.band, weight=customer.weight, why=why, would_fit=_told(answer, "would_fit", str)
    )


def _unserved(store: Store, survey: Surveyed, chosen: ChosenKits) -> Iterator[Unserved]:
    for t, customer in enumerate(store.customers):
        if any(survey.gains[k][t] is not None for k in chosen.kits):
            continue
        best, clean = survey.best[t], survey.clean_m3s[t]
        flow = _number(best, "flow_m3s") if best else clean
        could = any(row[t] is not None for row in survey.gains)
        if flow < (1.0 + store.least_gain) * clean:
            words = "no bundle from stock for the highest shelf price adds enough to cleaning"
        elif could:
            words = "a kit for it exists, but others serve more"
        else:
            words = "its bundle from stock is no kit that fits"
        yield Unserved(
            tank=customer.name,
            band=customer.band,
            weight=customer.weight,
            clean_m3s=clean,
            best_m3s=flow,
            best_price=int(_number(best, "price")) if best else 0,
            words=words,
        )


def _with_orders(asker: Asker, unserved: Sequence[Unserved]) -> Iterator[Unserved]:
    """Tanks that no kit serves, with what to order beyond stock so that the best that the wholesaler lists can be sold there."""
    store = asker.store
    stock = {product.id: product.stock for product in store.stocked.products}
    known = by_id(store.catalog)
    endless = all(stock.get(product_id, 0) is None for product_id in known)
    questions = {} if endless else {each.tank: {"ask": "order", "tank": each.tank, "budget": store.dearest} for each in unserved}
    answers = asker.ask("what to order", questions.values())
    for each in unserved:
        answer = answers.get(key_of(questions[each.tank])) if each.tank in questions else None
        if answer is None or not answer["meets"] or _number(answer, "flow_m3s") < (1.0 + store.least_gain) * each.clean_m3s:
            yield each
            continue
        short = [(name, amount, stock.get(name, 0)) for name, amount in unlisted(answer["pieces"])]
        missing = [
            (name, round(amount - there, 6), there) for name, amount, there in short if there is not None and amount > there
        ]
        order = tuple(_piece(store, known[name], amount, there) for name, amount, there in missing)
        flow = _number(answer, "flow_m3s")
        price = int(_number(answer, "price"))
        yield replace(each, order=order, order_m3s=flow, order_price=price) if order else each

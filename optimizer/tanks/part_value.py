"""What each product earns over a population, by solving every tank again without it and with it cheaper; and dead stock."""

from collections.abc import Iterable, Sequence

from optimizer.model.kits import Dead, Kit, PartValue
from optimizer.model.parts import Kind, kind_of
from optimizer.model.shop import Store
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.pool import Answer, Payload
from optimizer.tanks.population import bare, by_id, kit_catalog, name_of, unlisted
from optimizer.tanks.refusals import goes_in
from optimizer.tanks.shop_questions import Asker, key_of


def part_values(asker: Asker, clean_m3s: Sequence[float], best: Sequence[Answer], kits: Sequence[Kit]) -> tuple[PartValue, ...]:
    """The products of the best bundles for the highest shelf price, the one that earns most first.

    A tank whose best does not have a product loses nothing without it, and one whose best delivers as much as any bundle at any
    price wins nothing when it is cheaper: neither is asked again.
    """
    store = asker.store
    held = [{product_id for product_id, _ in unlisted(answer.get("pieces", []))} for answer in best]
    used = sorted(set().union(*held))
    questions = [_question("sold out", store, t, product) for product in used for t in range(len(best)) if product in held[t]]
    tops = asker.ask("what parts are worth", [_any_price(store, t) for t in range(len(best))])
    bound = [t for t in range(len(best)) if best[t] and _more_for_more(tops.get(key_of(_any_price(store, t))), best[t])]
    questions += [_question("cheaper", store, t, product) for product in used for t in bound]
    answers = asker.ask("what parts are worth", questions)

    def flow(t: int, answer: Answer) -> float:
        value = answer["flow_m3s"] if answer and answer["meets"] else 0.0
        return max(float(value), clean_m3s[t]) if isinstance(value, int | float) else clean_m3s[t]

    def shift(ask: str, product: str) -> float:
        total = 0.0
        for t, customer in enumerate(store.customers):
            again = answers.get(key_of(_question(ask, store, t, product)))
            total += 0.0 if again is None else customer.weight * (flow(t, again) - flow(t, best[t]))
        return total

    known = by_id(store.stocked)
    lines = [
        PartValue(
            product_id=product,
            name=name_of(known[product], store.catalog),
            price=known[product].price,
            loss_m3s=max(0.0, -shift("sold out", product)),
            cheaper_m3s=max(0.0, shift("cheaper", product)),
            tanks=sum(product in each for each in held),
            in_kits=sum(any(piece.product_id == product for piece in kit.pieces) for kit in kits),
        )
        for product in used
    ]
    return tuple(sorted(lines, key=lambda line: (-line.loss_m3s, -line.cheaper_m3s, line.product_id)))


def _question(ask: str, store: Store, t: int, product: str) -> Payload:
    return {"ask": ask, "tank": store.customers[t].name, "budget": store.dearest, "product": product}


def _any_price(store: Store, t: int) -> Payload:
    return {"ask": "bundles", "tank": store.customers[t].name, "budget": None, "most": 1}


def _more_for_more(top: Answer | None, best: Answer) -> bool:
    """Whether more money would buy a tank more flow than it has."""
    found = [] if top is None else _bundles(top)
    return any(float(each["flow_m3s"]) > float(best["flow_m3s"]) + RESOLUTION_M3S for each in found)  # type: ignore[arg-type]


def dead_stock(store: Store, found: Iterable[Answer]) -> tuple[Dead, ...]:
    """Products in stock that no bundle found uses, for any tank at any budget, the shop's own order kept."""
    alive = {product_id for answer in found for each in _bundles(answer) for product_id, _ in unlisted(each["pieces"])}
    idle = [product for product in store.stocked.products if product.id not in alive and product.stock != 0]
    return tuple(Dead(product_id=p.id, name=name_of(p, store.catalog), why=_why(store, p.id)) for p in idle)


def _bundles(answer: Answer) -> list[Answer]:
    found = answer.get("found", [])
    return found if isinstance(found, list) else []


def _why(store: Store, product_id: str) -> str:
    """Whether it goes into no tank, or into some where something else always does more."""
    product = by_id(store.stocked)[product_id]
    part = store.catalog.parts[product.lines[0].part_id]
    if kind_of(part) in (Kind.CLAMP, Kind.SEAL) or len(product.lines) > 1:
        return "no joint of any bundle is closed with it: it is not needed, or something else does it for less"
    box = kit_catalog(store, ((product_id, 1.0),))
    tanks = [c.name for c in store.customers if goes_in(bare(c.rig), box, store.stocked)]
    if not tanks:
        return "it goes into no tank of the population"
    return f"it goes into {len(tanks)} of {len(store.customers)} tanks, but something else always does more for the money"

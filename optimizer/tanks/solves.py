"""The questions that a shop puts about one tank, each answered by itself: plain mappings in, plain mappings out."""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from optimizer.answers.bill import change_lines, joint_lines
from optimizer.answers.cautions import caution_lines
from optimizer.answers.question import found_standing
from optimizer.answers.rows import Standing
from optimizer.bands.band import QUANTILES, delivered_flows
from optimizer.bands.candidates import candidate
from optimizer.bands.draws import DRAWS, SEED, Factors, draw, unknowns_of
from optimizer.bands.priors import PRIORS
from optimizer.model.answer import plain
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.options import ADD, SWAP
from optimizer.model.parts import Kind
from optimizer.model.results import Change
from optimizer.model.rig import Rig
from optimizer.model.said import Said, length
from optimizer.model.said_lines import said_lines
from optimizer.model.shop import Customer, Store
from optimizer.search import alternatives as search
from optimizer.search.best import Found, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.tanks.population import (
    Pieces,
    bare,
    by_id,
    catalog_of,
    cheaper,
    kit_catalog,
    listed,
    name_of,
    pieces_of,
    price_of,
    unlisted,
    unpacked,
    without,
)
from optimizer.tanks.refusals import reasons, would_fit

Payload = Mapping[str, object]
Answer = Mapping[str, object]

BAND_DRAWS, BAND_SEED = DRAWS, SEED
"""Draws behind the band of a kit on a tank: enough for quantiles to within a percent or two of the flow."""

SCRAP_M = 0.05
"""So much hose that is left over is not worth a word."""

CHEAPER = 0.1
"""How much cheaper a part is taken to be where it is asked what that would win."""

NOTHING: Answer = {"flow_m3s": 0.0, "price": 0, "pieces": [], "meets": False, "proved": True}


class ContradictionError(ValueError):
    """An answer that cannot stand beside an earlier one: that was changed since it was given."""


def work(shared: bytes, payload: Payload) -> Answer:
    """Answer one question about the store in ``shared``. Not ``proved``: the search gave up, and tells the best it found."""
    store = unpacked(shared)
    asked = str(payload["ask"])
    return ASKED[asked](store, store.customer(str(payload["tank"])), payload)


def seeker_for(rig: Rig, catalog: Catalog, limits: Limits, apart: bool = False) -> Seeker:
    """A search for one tank, as a shop must take it. ``apart``: for a list of alternatives, see `choices`."""
    dearest = math.inf if limits.budget is None else float(limits.budget)
    return Seeker(build(choices(bare(rig), catalog, limits, apart=apart), dearest))


def _limits(customer: Customer, budget: int | None) -> Limits:
    return customer.rig.limits.with_values({"budget": budget})


def _clean(store: Store, customer: Customer, _: Payload) -> Answer:
    """What cleaning, adjusting and leaving out give, within the limits where that is possible."""
    nothing = Catalog(parts={}, products=(), name="nothing", currency=store.catalog.currency)
    for meets, limits in ((True, _limits(customer, 0)), (False, Limits().without(*Limits().binding))):
        outcome = seeker_for(customer.rig, nothing, limits).most_flow()
        if outcome.found is not None:
            proved = outcome.status == "proved"
            return {"flow_m3s": outcome.found.flow_m3s, "price": 0, "pieces": [], "meets": meets, "proved": proved}
    return NOTHING


def _bundles(store: Store, customer: Customer, payload: Payload) -> Answer:
    """The proved best bundle for a budget (none: for any price) and those that truly differ from it, as the pieces of kits."""
    budget, most = payload["budget"], _whole(payload["most"])
    limits = _limits(customer, None if budget is None else _whole(budget))
    seeker = seeker_for(customer.rig, store.stocked, limits, apart=most > 1)
    if most == 1:
        outcome = seeker.most_flow()
        best = [] if outcome.found is None else [_bought(seeker, outcome.found)]
        return {"found": best, "proved": outcome.status == "proved"}
    told = search.alternatives(seeker, most)
    return {"found": [_bought(seeker, each) for each in told.found], "proved": told.status == "proved"}


def _asked(seeker: Seeker) -> Answer:
    """What delivers most."""
    outcome = seeker.most_flow()
    proved = outcome.status == "proved"
    return {**(NOTHING if outcome.found is None else _bought(seeker, outcome.found)), "proved": proved}


def _bought(seeker: Seeker, found: Found) -> Answer:
    pieces = pieces_of(seeker.problem.shop, found.bundle.cover.purchases)
    return {"flow_m3s": found.flow_m3s, "price": found.bundle.price, "pieces": listed(pieces), "meets": True}


def _use(store: Store, customer: Customer, payload: Payload) -> Answer:
    """The best use of a kit's pieces on a tank: nothing else can be bought, and the kit is paid for."""
    pieces = unlisted(payload["pieces"])
    seeker = seeker_for(customer.rig, kit_catalog(store, pieces), _limits(customer, None))
    outcome = seeker.most_flow()
    used = {} if outcome.found is None else _used(store, seeker, outcome.found)
    total = sum(price_of(((product_id, amount),), by_id(store.stocked)) for product_id, amount in pieces)
    worth = sum(price_of(((product_id, amount),), by_id(store.stocked)) for product_id, amount in used.items())
    bought = NOTHING if outcome.found is None else _bought(seeker, outcome.found)
    return {**bought, "proved": outcome.status == "proved", "used_share": worth / total if total else 1.0}


def _used(store: Store, seeker: Seeker, found: Found) -> dict[str, float]:
    """How much of each piece of a kit is put to use: pieces, or metres of hose."""
    known, used = by_id(store.stocked), dict[str, float]()
    for purchase in found.bundle.cover.purchases:
        product_id = seeker.problem.shop.products[purchase.product].id
        cut = known[product_id].step_m > 0.0
        amount = sum(item.weight for item in purchase.items) if cut else float(purchase.copies)
        used[product_id] = used.get(product_id, 0.0) + amount
    return used


def _sold_out(store: Store, customer: Customer, payload: Payload) -> Answer:
    """The best bundle when one product is out of stock."""
    left = without(store.stocked, str(payload["product"]))
    seeker = seeker_for(customer.rig, left, _limits(customer, _whole(payload["budget"])))
    return _asked(seeker)


def _cheaper(store: Store, customer: Customer, payload: Payload) -> Answer:
    """The best bundle when one product costs a tenth less."""
    changed = cheaper(store.stocked, str(payload["product"]), CHEAPER)
    seeker = seeker_for(customer.rig, changed, _limits(customer, _whole(payload["budget"])))
    return _asked(seeker)


def _order(store: Store, customer: Customer, payload: Payload) -> Answer:
    """The best bundle with all that the wholesaler lists, as much of it as is wanted."""
    endless = tuple(replace(product, stock=None) for product in store.catalog.products)
    listed_there = catalog_of(endless, store.catalog, store.catalog.name)
    return _asked(seeker_for(customer.rig, listed_there, _limits(customer, _whole(payload["budget"]))))


def _detail(store: Store, customer: Customer, payload: Payload) -> Answer:
    """All about a kit on a tank that it fits: what is done, how joints are closed, the band, what is left over."""
    pieces = unlisted(payload["pieces"])
    seeker = seeker_for(customer.rig, kit_catalog(store, pieces), _limits(customer, None))
    outcome = seeker.most_flow()
    found = outcome.found
    if found is None:
        raise ContradictionError(f"a kit that was said to fit {customer.name} does not")
    stands = found_standing(bare(customer.rig), seeker, found)
    told = {
        "changes": _with_lengths(customer.rig, change_lines(stands.options)),
        "joints": joint_lines(stands.options, stands.joints),
        "cautions": caution_lines(customer.rig, stands, volume=False),
        "left_over": tuple(_left_over(store, pieces, _used(store, seeker, found))),
    }
    return {
        "proved": outcome.status == "proved",
        "flow_m3s": stands.flow_m3s,
        **_plain(told),
        **_band(customer, stands),
    }


def _plain(told: Mapping[str, tuple[object, ...]]) -> Answer:
    """What is said of a kit, for JSON, with the quantities in its texts."""
    return {name: plain(each) for name, each in told.items()} | {"said": plain(said_lines(tuple(told.values())))}


def _with_lengths(rig: Rig, changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """Changes that say how long a new hose is to be cut."""
    runs = {position.name: position.length_m for position in rig.every_position if position.kind == Kind.HOSE}
    return tuple(
        replace(change, cut_m=runs[change.position]) if change.change in (SWAP, ADD) and change.position in runs else change
        for change in changes
    )


def _left_over(store: Store, pieces: Pieces, used: Mapping[str, float]) -> Iterator[str]:
    """What stays in the box, in words; of a hose the rest of its length."""
    known = by_id(store.stocked)
    for product_id, amount in pieces:
        rest, name = amount - used.get(product_id, 0.0), name_of(known[product_id], store.catalog)
        if rest >= SCRAP_M and known[product_id].step_m:
            yield Said(length(rest, f"{rest:.2f} m"), f" of {name}")
        elif rest >= SCRAP_M:
            yield f"{rest:g} x {name}"


def _band(customer: Customer, stands: Standing) -> dict[str, float]:
    """Quantiles of the delivered flow."""
    held = stands.flow_m3s if stands.held_by else math.inf
    one = candidate(stands.loop, customer.rig.limits, "kit", held)
    factors = Factors(draw(unknowns_of([one.unknowns]), BAND_DRAWS, BAND_SEED), PRIORS)
    values = np.quantile(delivered_flows([one], factors)[0], QUANTILES)
    return dict(zip(("p10_m3s", "p50_m3s", "p90_m3s"), map(float, values), strict=True))


def _refusals(store: Store, customer: Customer, payload: Payload) -> Answer:
    """Why a kit does not fit a tank, and what would fit at the ports that refuse it."""
    pieces = unlisted(payload["pieces"])
    why, ports = reasons(bare(customer.rig), kit_catalog(store, pieces), _limits(customer, None))
    return {"proved": True, **_plain({"why": why, "would_fit": would_fit(ports, store)})}


def _whole(value: object) -> int:
    if not isinstance(value, int):
        raise TypeError(f"{value!r} is no whole number")
    return value


ASKED: Mapping[str, Callable[[Store, Customer, Payload], Answer]] = {
    "clean": _clean,
    "bundles": _bundles,
    "use": _use,
    "sold out": _sold_out,
    "cheaper": _cheaper,
    "detail": _detail,
    "refusals": _refusals,
    "order": _order,
}

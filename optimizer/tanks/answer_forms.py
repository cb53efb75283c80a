"""What an answer about a shop's tank must look like to be one: earlier results come from a file, which may hold anything."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from optimizer.model.catalog import Product
from optimizer.model.results import Change, JointLine
from optimizer.model.said_lines import SaidLine
from optimizer.model.saved import taken
from optimizer.model.shop import Store
from optimizer.tanks.population import by_id
from optimizer.tanks.solves import Answer, Payload

LARGEST = 1e9
"""No flow (m3/s), length (m), price or count of pieces is anywhere near; sums of such numbers are still numbers."""

SHARE_WITHIN = 1e-6

Check = Callable[[object], bool]
Form = Mapping[str, Check]


def usable(store: Store) -> Callable[[Payload, Answer], bool]:
    """What tells whether an answer has the form that its question asks for, with products that this store has.

    >>> from optimizer.tanks.solves import ASKED
    >>> sorted(ASKED) == sorted(_forms({}, {}))
    True
    """
    forms = _forms(by_id(store.stocked), by_id(store.catalog))

    def has_form(payload: Payload, answer: Answer) -> bool:
        form = forms.get(str(payload.get("ask")))
        return form is not None and set(answer) == set(form) and all(check(answer[name]) for name, check in form.items())

    return has_form


def _forms(products: Mapping[str, Product], to_order: Mapping[str, Product]) -> dict[str, Form]:
    """The form of each question's answer."""

    def pieces(value: object, of: Mapping[str, Product] = products) -> bool:
        return _list(value, lambda each: _piece(each, of)) and _no_repeats(value)

    asked: Form = {"flow_m3s": _flow, "price": _price, "pieces": pieces, "meets": _truth, "proved": _truth}
    bought: Form = {name: check for name, check in asked.items() if name != "proved"}
    texts = _of_each(_text)
    return {
        "clean": asked,
        "sold out": asked,
        "cheaper": asked,
        "order": {**asked, "pieces": lambda value: pieces(value, to_order)},
        "use": {**asked, "used_share": _share},
        "bundles": {"found": _of_each(lambda each: _mapping(each, bought)), "proved": _truth},
        "detail": {
            "proved": _truth,
            **dict.fromkeys(("flow_m3s", "p10_m3s", "p50_m3s", "p90_m3s"), _flow),
            "changes": _of_type(tuple[Change, ...]),
            "joints": _of_type(tuple[JointLine, ...]),
            "said": _of_type(tuple[SaidLine, ...]),
            **dict.fromkeys(("cautions", "left_over"), texts),
        },
        "refusals": {"proved": _truth, "why": texts, "would_fit": texts, "said": _of_type(tuple[SaidLine, ...])},
    }


def _mapping(value: object, form: Form) -> bool:
    return isinstance(value, Mapping) and set(value) == set(form) and all(check(value[name]) for name, check in form.items())


def _list(value: object, check: Check) -> bool:
    return isinstance(value, list | tuple) and all(check(each) for each in value)


def _of_each(check: Check) -> Check:
    return lambda value: _list(value, check)


def _no_repeats(value: object) -> bool:
    ids = [each[0] for each in value] if isinstance(value, Sequence) else []
    return len(set(ids)) == len(ids)


def _piece(value: object, products: Mapping[str, Product]) -> bool:
    """A product that the store has, and how much of it: whole pieces, or metres of a hose sold by the metre."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        return False
    product_id, amount = value
    product = products.get(product_id) if isinstance(product_id, str) else None
    if product is None or not _number(amount) or not amount > 0:
        return False
    return product.step_m > 0.0 or float(amount).is_integer()


def _number(value: object) -> bool:
    # compared before anything else: a whole number of JSON may be larger than any float
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST and math.isfinite(value)


def _flow(value: object) -> bool:
    return _number(value) and value >= 0  # type: ignore[operator]


def _share(value: object) -> bool:
    return _number(value) and -SHARE_WITHIN <= value <= 1.0 + SHARE_WITHIN  # type: ignore[operator]


def _price(value: object) -> bool:
    return isinstance(value, int) and _flow(value)


def _truth(value: object) -> bool:
    return isinstance(value, bool)


def _text(value: object) -> bool:
    return isinstance(value, str)


def _of_type(kind: Any) -> Check:
    return lambda value: taken(kind, value) is not None

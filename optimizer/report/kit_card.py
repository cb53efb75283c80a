"""A card to hand out with a kit, as HTML and as text: price, before and after, which tanks it fits, what is in the box, how it is
fitted. What its pieces cost one by one, the shop or the customer, its margin, what stands in for them and what is in stock is on
no card (`shop_sheet`).

The HTML stands for itself: no scripts, no fonts, no pictures from elsewhere. Everything is black on white; lines and words, not
colours, tell things apart. It prints on A4 and on Letter: the width follows the paper and no row is broken across pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from optimizer.errors import safe
from optimizer.model.kits import Kit, KitPlan, NotServed, Piece, Served
from optimizer.model.results import Change
from optimizer.model.said import Said, length
from optimizer.report.first_screen import first_sentence
from optimizer.report.html.templating import rendered
from optimizer.report.kits_text import amount_text, refused_alike
from optimizer.report.layout import REST, aligned, bullets, columns, finished, paragraph
from optimizer.report.measures import Measures, gain, money, system

__all__ = ["card_html", "card_text", "file_name"]

KEPT = ("keep",)
MEASURE = (
    "Measure before and after: fill a marked container for 30 s or more at the tank's water line, outlet on, and equally "
    "clean both times."
)


def card_html(kit: Kit, plan: KitPlan, units: str = "metric") -> str:
    """Return the card as one HTML page: a front with what a customer asks, a back with how it is fitted. Raises ValueError for
    units that are neither "metric" nor "us"."""
    return rendered("card.html", "card.css", **_card(kit, plan, system(units)), measure=MEASURE, first=first_sentence)


def card_text(kit: Kit, plan: KitPlan, units: str = "metric") -> str:
    """Return the card as plain text. Raises ValueError for units that are neither "metric" nor "us"."""
    measures = system(units)
    card = _card(kit, plan, measures)
    lines = [*paragraph(f"{card['title']}, {card['price']}"), *paragraph(str(card["intro"])), ""]
    head = ("fits", f"clean, {measures.flow}", "with the kit", "80 of 100 between")
    tanks = [(row["tank"], row["clean"], row["with_kit"], row["band"]) for row in _rows(card, "fits")]
    lines += ["Before and after", *aligned([head, *tanks], 40), "", "In the box"]
    for row in _rows(card, "pieces"):
        lines += columns([(row["amount"], 6), (row["name"], REST)])
    refused = [f"{row['tanks']}: {row['why']}" for row in _rows(card, "refused")]
    lines += ["", "Not for these tanks", *bullets(refused)] if refused else []
    ways = _rows(card, "ways")
    for way in ways:
        lines += ["", *paragraph("What to do, in the order of the water" + (f" ({way['tanks']})" if len(ways) > 1 else ""))]
        lines += [line for n, step in enumerate(way["steps"], start=1) for line in paragraph(step, f"  {n:>2}. ", "      ")]
        lines += paragraph(f"Joints: {way['joints']}.", first="  ", rest="    ")
        lines += paragraph(f"Left over: {way['left_over']}.", first="  ", rest="    ") if way["left_over"] else []
    cautions = card["cautions"]
    lines += ["", "Mind", *bullets(cautions if isinstance(cautions, list) else [])]
    return finished([*lines, "", *paragraph(MEASURE)])


def file_name(kit: Kit) -> str:
    """The name of a card's file, without its ending: made of the kit's number alone, never of words from a file.

    >>> from optimizer.model.kits import Kit
    >>> file_name(Kit(name="Kit 2", made_for="", price=0, shelf_price=0, makes=None, pieces=(), weight=0.0, gain_m3s=0.0,
    ...     own_weight=0.0, own_gain_m3s=0.0, fits=(), does_not_fit=()))
    'kit_2'
    """
    return "".join(c if c.isascii() and c.isalnum() else "_" for c in kit.name).lower()


# -- what is on the card -------------------------------------------------------------------------------------------


def _card(kit: Kit, plan: KitPlan, measures: Measures) -> dict[str, object]:
    served = "1 sort of tank" if len(kit.fits) == 1 else f"{len(kit.fits)} sorts of tanks"
    return {
        "title": f"{kit.name} ({safe(plan.shop)})",
        "name": kit.name,
        "shop": safe(plan.shop),
        "price": money(kit.shelf_price, safe(plan.currency)),
        "intro": f"Opens the loop of a canister filter. It fits {served}; every joint closes with what is in the box and what is "
        "there already.",
        "flow": measures.flow,
        "pieces": [_piece(piece, measures) for piece in kit.pieces],
        "fits": _fits(kit.fits, measures),
        "ways": _ways(kit.fits, measures),
        "refused": _refused(kit.does_not_fit, measures),
        "cautions": _cautions(kit, measures),
    }


def _cautions(kit: Kit, measures: Measures) -> list[str]:
    """What to mind at every tank, once."""
    return [safe(measures.words(line)) for line in dict.fromkeys(line for each in kit.fits for line in each.cautions)]


def _piece(piece: Piece, measures: Measures) -> dict[str, str]:
    return {"amount": amount_text(piece, measures), "name": safe(piece.name)}


def _fits(fits: Sequence[Served], measures: Measures) -> list[dict[str, str]]:
    """The tanks with their flow, and how long the bars of the picture are, of 100."""
    most = max((max(each.flow_m3s, each.p90_m3s, each.clean_m3s) for each in fits), default=0.0)
    scale = 100.0 / most if most > 0.0 else 0.0
    return [_fit(each, measures) | _bars(each, scale) for each in fits]


def _fit(each: Served, measures: Measures) -> dict[str, str]:
    return {
        "tank": safe(each.tank),
        "clean": measures.bare_flow(each.clean_m3s),
        "with_kit": measures.bare_flow(each.flow_m3s),
        "gain": gain(each.flow_m3s, each.clean_m3s),
        "band": f"{measures.bare_flow(each.p10_m3s)} to {measures.bare_flow(each.p90_m3s)}",
    }


def _bars(each: Served, scale: float) -> dict[str, str]:
    flows = {"bar_clean": each.clean_m3s, "bar_kit": each.flow_m3s, "bar_low": each.p10_m3s, "bar_high": each.p90_m3s}
    return {name: f"{min(max(flow * scale, 0.0), 100.0):.1f}" for name, flow in flows.items()}


def _ways(fits: Iterable[Served], measures: Measures) -> list[dict[str, object]]:
    """What to do, once for all tanks where the same is done."""
    groups: dict[object, list[Served]] = {}
    for each in fits:
        groups.setdefault((each.changes, each.joints, each.left_over), []).append(each)
    return [
        {
            "tanks": "; ".join(safe(each.tank) for each in some),
            "steps": _steps(some[0], measures),
            "joints": "; ".join(_joints(some[0], measures)) or "none is opened",
            "left_over": safe("; ".join(map(measures.words, some[0].left_over))),
        }
        for some in groups.values()
    ]


def _step(change: Change, measures: Measures) -> str:
    cut = (Said(", cut to ", length(change.cut_m, f"{change.cut_m:.2f} m")),) if change.cut_m else ()
    return safe(f"{change.place}: {change.change}{f', {change.text}' if change.text else ''}") + "".join(map(measures.words, cut))


def _steps(each: Served, measures: Measures) -> list[str]:
    done = (change for change in each.changes if change.change not in KEPT)
    return [_step(change, measures) for change in done]


def _joints(each: Served, measures: Measures) -> Iterable[str]:
    for joint in each.joints:
        if not joint.as_is:
            pieces = [*joint.pieces, *map(measures.words, joint.tight_by)]
            yield safe(f"{joint.between[0]} to {joint.between[1]} by {', '.join(pieces) or 'nothing more'}")


def _refused(refused: Iterable[NotServed], measures: Measures) -> list[dict[str, str]]:
    """Tanks that it does not fit and why; what would fit them is a matter of the shop's stock."""
    return [
        {"tanks": safe("; ".join(tanks)), "why": safe("; ".join(map(measures.words, why))) + "."}
        for (why, _), tanks in refused_alike(refused)
    ]


def _rows(card: Mapping[str, object], name: str) -> list[dict[str, str]]:
    rows = card[name]
    return rows if isinstance(rows, list) else []

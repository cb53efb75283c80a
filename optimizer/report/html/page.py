"""A dossier as one HTML page, with its figures inside as SVG."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from markupsafe import Markup

from optimizer.model.bands import BandLine, UnknownShare
from optimizer.model.dossiers import Dossier, ShopRow
from optimizer.model.part_names import named
from optimizer.model.results import BillLine, Result
from optimizer.model.said_lines import with_texts
from optimizer.report import bands_text, front_text, order_text
from optimizer.report.bands_text import MOST_PARTS, SMALLEST_SHARE
from optimizer.report.figures.album import album
from optimizer.report.figures.front import chosen_point
from optimizer.report.first_screen import MOST_CAUTIONS, first_sentence
from optimizer.report.fitted_lines import by_fills_sentences, moved
from optimizer.report.html.ladder import ladder
from optimizer.report.html.measuring import container_m3, fill_times
from optimizer.report.html.quantities import Quantities
from optimizer.report.html.templating import rendered
from optimizer.report.html.words import Words
from optimizer.report.html.work import steps
from optimizer.report.measurement_words import advice_of
from optimizer.report.measures import system
from optimizer.report.plan_lines import changed, cut_texts, quantity_text, question_words
from optimizer.report.verdict import sentences

__all__ = ["page", "values"]

MOST_PLACES = 2
"""A product of more places says on the first side only how many they are."""


def page(dossier: Dossier, units: str = "metric") -> str:
    """The whole page, the same text for the same dossier. Raises ValueError for other units than "metric" and "us"."""
    from optimizer.report.figures import paper  # loads matplotlib

    dossier = with_texts(dossier, system(units).words)
    pictures = album(dossier, units)
    drawn = {name: Markup(paper.svg(picture)) for name, picture in pictures.items()}
    return rendered("page.html", **values(dossier, units), pictures=pictures, drawn=drawn)


def values(dossier: Dossier, units: str = "metric", words_page: str = "") -> dict[str, Any]:
    """What the templates of a page show of a dossier whose texts are in these units, but for its figures; ``words_page`` is
    where words are explained (empty: at the end of the same page). Raises ValueError for other units."""
    leading, fills = dossier.leading, dossier.by_fills
    band = None if dossier.bands is None else dossier.bands.band
    narrows, settles = ("", "") if band is None else advice_of(band)
    return {
        "d": dossier,
        "title": leading.rig,
        "asked": question_words(leading.question, system(units)),
        "leading": leading,
        "verdict": _verdict(dossier, units),
        "strong": 2 if dossier.result is not None and _is_bought_later(dossier.result) else 1,
        "q": Quantities(measures=system(units), currency=leading.currency),
        "measures": system(units),
        "w": Words(measures=system(units), page=words_page),
        "shopping": [(place, list(rows)) for place, rows in groupby(dossier.shopping, key=_place)],
        "ladder": ladder(dossier),
        "likely": _likely(dossier),
        "mind": _mind(dossier.result),
        "left_over": _left_over(dossier.result),
        "amounts": lambda line: cut_texts(line, system(units)) or [f"{line.count} x"],
        "serves": _serves,
        "steps": steps(dossier, system(units)),
        "fills": fill_times(dossier, units),
        "container_m3": container_m3(units),
        "chosen": chosen_point(dossier),
        "narrows": narrows,
        "settles": settles,
        "part_names": _part_names,
        "changed": changed,
        "quantity": quantity_text,
        "fitted": fills is not None and not fills.left_out,
        "fill_sentences": by_fills_sentences(fills, system(units)),
        "moved": () if fills is None else moved(fills),
        "figures": "fitted" if dossier.bands is not None and dossier.bands.fills else "stated",
        "smallest_share": SMALLEST_SHARE,
        "lasting_notes": _lasting_notes(dossier, units),
        "most_parts": MOST_PARTS,
        "ticks": False,
    }


def _likely(dossier: Dossier) -> BandLine | None:
    """The band of the best bundle, where it was drawn and the verdict does not say it."""
    advice = None if dossier.result is None else dossier.result.advice
    if advice is not None and advice.step.p10_m3s > 0.0:
        return None
    lines = () if dossier.bands is None or dossier.bands.band is None else dossier.bands.band.lines
    return next((line for line in lines if line.name == "best"), None)


def _mind(result: Result | None) -> list[str]:
    """The first sentences of the cautions that matter most; none where there is no answer to act on."""
    return [] if result is None or result.best is None else [first_sentence(text) for text in result.cautions[:MOST_CAUTIONS]]


def _is_bought_later(result: Result) -> bool:
    """True where the verdict begins with what comes before buying, and says what to buy after that."""
    advice = result.advice
    return advice is not None and bool(advice.first) and advice.step.row.price > 0


def _left_over(result: Result | None) -> int:
    """Money of the budget that is not spent, in minor units; 0 where there is no budget or nothing is left."""
    if result is None or result.best is None or result.question.budget is None:
        return 0
    return max(result.question.budget - result.best.price, 0)


def _serves(line: BillLine) -> str:
    """The places that a product goes to; what closes a joint goes without saying."""
    places = [place for place in line.places if not place.startswith("joint ")]
    return ", ".join(places) if len(places) <= MOST_PLACES else f"{len(places)} places"


def _part_names(share: UnknownShare) -> list[str]:
    """What the parts and joints of an unknown are called."""
    return [" - ".join(named(part)) for part in share.parts]


def _lasting_notes(dossier: Dossier, units: str) -> tuple[str, ...]:
    """What is said of an answer over an interval, beside its table."""
    if dossier.result is None or dossier.result.lasting is None:
        return ()
    from optimizer.report.lasting_lines import lasting_notes  # most pages are of the clean day

    return tuple(lasting_notes(dossier.result.lasting, system(units)))


def _place(row: ShopRow) -> str:
    return row.place


def _verdict(dossier: Dossier, units: str) -> tuple[str, ...]:
    """What there is to say first, by the answer that leads."""
    if dossier.result is not None:
        return (*sentences(dossier.result, units), *by_fills_sentences(dossier.result.by_fills, system(units)))
    if dossier.front is not None:
        return (front_text.headline(dossier.front, units).strip(),)
    if dossier.bands is not None:
        return (bands_text.headline(dossier.bands, units).strip(),)
    return () if dossier.order is None else (order_text.headline(dossier.order, units).strip(),)

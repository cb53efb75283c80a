"""Why a part, or several together, are not the best bundle, with what is to be said of the fills."""

from typing import Any, Literal

from optimizer.answers.asked import question_of
from optimizer.answers.question import Question
from optimizer.answers.why import explain
from optimizer.answers.why_bundle import explain_bundle
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.model.said import Said
from optimizer.report.fitted_lines import by_fills_text


def why(
    rig: Rig,
    catalog: Catalog,
    *parts: str,
    budget: int | None = None,
    measured: bool = True,
    interval_days: float = 0.0,
    by: Literal["last", "mean"] = "last",
    clean_flow_m3s: float = 0.0,
) -> str:
    """Why a part, or several taken together, are not the best bundle: which limit they break, which joint does not close, what
    beats them; with ``interval_days`` by the same day as `best`. A part is an id, or a position, "=" and an id. Raises ValueError
    for none, InputError for unknown ones."""
    if not parts:
        raise ValueError("at least one part must be named")
    over: dict[str, Any] = {"days": interval_days, "by": by, "clean_m3s": clean_flow_m3s}
    question, told = question_of(rig, catalog, budget, measured, **over)
    text = _explained(question, parts)
    return text if told is None else Said.joined([text, by_fills_text(told)], "\n")


def _explained(question: Question, parts: tuple[str, ...]) -> str:
    if question.days:
        from optimizer.answers.why_lasting import explain_over_days  # the clean day starts quicker without the dirt

        return explain_over_days(question, parts)
    alone = len(parts) == 1 and "=" not in parts[0]
    return explain(question, parts[0]) if alone else explain_bundle(question, parts)

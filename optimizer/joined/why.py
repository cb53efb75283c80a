"""Why a part, or several together, are not the best bundle, with what is to be said of the fills."""

from optimizer.answers.asked import question_of
from optimizer.answers.why import explain
from optimizer.answers.why_bundle import explain_bundle
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.model.said import Said
from optimizer.report.fitted_lines import by_fills_text


def why(rig: Rig, catalog: Catalog, *parts: str, budget: int | None = None, measured: bool = True) -> str:
    """Why a part, or several taken together, are not the best bundle: which limit they break, which joint does not close, what
    beats them. A part is an id, or a position, "=" and an id. Raises ValueError for none, InputError for unknown ones."""
    if not parts:
        raise ValueError("at least one part must be named")
    question, told = question_of(rig, catalog, budget, measured)
    alone = len(parts) == 1 and "=" not in parts[0]
    text = explain(question, parts[0]) if alone else explain_bundle(question, parts)
    return text if told is None else Said.joined([text, by_fills_text(told)], "\n")

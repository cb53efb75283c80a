"""One answer with everything a report shows, made once for all tests of reports, and the same with names that mean harm."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from optimizer import api
from optimizer.model.dossiers import Dossier, InputFile, Made
from optimizer.model.saved import dossier_of

DEMO = Path(__file__).parents[2] / "parts_demo"
RIG = "nano_60"

PAYLOADS = (
    "<script>window.hit = 1</script>",
    '"><img src=x onerror="window.hit = 2">',
    "</title></style></svg><svg onload='window.hit = 3'><style>* { display: none }</style>",
    "</style><style>body { background: rgb(255, 0, 0) !important }",
    "{{ 7 * 7 }} {% raw %} $\\frac{1}{0}$",
    "javascript:window.hit=4",
    "\u202eevil\u0007\x1b[31m&lt;script&gt;window.hit = 5&lt;/script&gt;",
)
"""Text that would run, load, restyle or be evaluated where it is not made inert (kinds as in the OWASP XSS prevention sheet)."""


@cache
def dossier() -> Dossier:
    """All blocks of the smallest demo rig."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / f"{RIG}.toml", catalog)
    made = Made(version="0", command="fullbore best nano_60.toml", inputs=(InputFile(name="nano_60.toml", sha256="0" * 64),))
    return api.dossier(rig, catalog, candidates=3, draws=400, most=True, made=made)


def saved() -> dict[str, Any]:
    """The same as its JSON holds it; a new tree for every call."""
    found: dict[str, Any] = json.loads(json.dumps(dossier().to_dict(), allow_nan=False))
    return found


def read_back(tree: object) -> Dossier:
    """A saved tree as a dossier; raises AssertionError with what is wrong with it."""
    wrong: list[str] = []
    found = dossier_of(tree, lambda place, what: wrong.append(f"{place}: {what}"))
    assert found is not None, wrong
    return found


KEPT = frozenset(
    {"schema", "status", "kind", "use", "change", "standard", "gender", "verdict", "end", "held_by", "told", "rival", "by"}
    | {"reason", "first", "rests_on"}
)
ROWS = frozenset({"now", "spend nothing", "best", "cleaned", "proved", "as it is", "inlet", "outlet"})


def hostile() -> dict[str, Any]:
    """The saved tree with a payload in the place of every text that comes from a file, each in turn."""
    count = 0

    def spoiled(value: Any, key: str = "") -> Any:
        nonlocal count
        if isinstance(value, dict):
            return {name: spoiled(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [spoiled(each, key) for each in value]
        if isinstance(value, str) and key not in KEPT and value not in ROWS:
            count += 1
            return PAYLOADS[count % len(PAYLOADS)]
        return value

    found: dict[str, Any] = spoiled(saved()) | {"said": []}
    return found

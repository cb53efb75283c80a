"""The public Python interface: read a rig and a catalog, ask for the best bundle, the cheapest, or why not another.

Its functions stand in the rooms that make the answers, and each is loaded when it is first asked for.

>>> from optimizer import api
>>> api.measure.__module__
'optimizer.answers.measure'
>>> "best" in dir(api)
True
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from optimizer.model.shown import shown_by

if TYPE_CHECKING:
    from optimizer.answers.advised import advise
    from optimizer.answers.ageing import ageing
    from optimizer.answers.alternatives import alternatives
    from optimizer.answers.bands import bands
    from optimizer.answers.best import best, cheapest, operating_point
    from optimizer.answers.diagnose import diagnose
    from optimizer.answers.dossier import dossier
    from optimizer.answers.drill import drill
    from optimizer.answers.front import front
    from optimizer.answers.logbook import log
    from optimizer.answers.logged import both_with_log, with_log
    from optimizer.answers.measure import measure
    from optimizer.answers.order import buying_order
    from optimizer.answers.standing_loop import standing_loop
    from optimizer.answers.verify import verify
    from optimizer.files.answer_json import read_answer
    from optimizer.files.catalog_csv import read_catalog
    from optimizer.files.household_toml import read_household
    from optimizer.files.rig_toml import read_rig
    from optimizer.files.shop_toml import read_shop
    from optimizer.joined.compare import compare
    from optimizer.joined.kits import kits
    from optimizer.joined.stock import check_stock
    from optimizer.joined.why import why
    from optimizer.report.frames import to_frame
    from optimizer.report.html.answer_page import page
    from optimizer.sheets.importing import import_stock
    from optimizer.tanks.shared_result import share

__all__ = [
    "advise", "ageing", "alternatives", "bands", "best", "both_with_log", "buying_order", "cheapest", "check_stock", "compare",
    "diagnose", "dossier", "drill", "front", "import_stock", "kits", "log", "measure", "operating_point", "page", "read_answer",
    "read_catalog", "read_household", "read_rig", "read_shop", "share", "standing_loop", "to_frame", "verify", "why", "with_log",
]  # fmt: skip

ROOMS = {
    "advise": "answers.advised",
    "ageing": "answers.ageing",
    "alternatives": "answers.alternatives",
    "bands": "answers.bands",
    "best": "answers.best",
    "both_with_log": "answers.logged",
    "buying_order": "answers.order",
    "cheapest": "answers.best",
    "check_stock": "joined.stock",
    "compare": "joined.compare",
    "diagnose": "answers.diagnose",
    "dossier": "answers.dossier",
    "drill": "answers.drill",
    "front": "answers.front",
    "import_stock": "sheets.importing",
    "kits": "joined.kits",
    "log": "answers.logbook",
    "measure": "answers.measure",
    "operating_point": "answers.best",
    "page": "report.html.answer_page",
    "read_answer": "files.answer_json",
    "read_catalog": "files.catalog_csv",
    "read_household": "files.household_toml",
    "read_rig": "files.rig_toml",
    "read_shop": "files.shop_toml",
    "share": "tanks.shared_result",
    "standing_loop": "answers.standing_loop",
    "to_frame": "report.frames",
    "verify": "answers.verify",
    "why": "joined.why",
    "with_log": "answers.logged",
}
"""Where each name is at home."""

if not TYPE_CHECKING:  # the types are those of the imports above, and a name that is not there stays a mistake

    def __getattr__(name: str) -> Any:
        """Load what is asked for. Raises AttributeError for what the interface does not have."""
        if name not in ROOMS:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return getattr(importlib.import_module(f"optimizer.{ROOMS[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)


def _page(answer: object) -> str:
    text: str = importlib.import_module(f"optimizer.{ROOMS['page']}").page(answer)
    return text


shown_by(_page)

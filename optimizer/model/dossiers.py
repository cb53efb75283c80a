"""A dossier: one answer with all that a report shows of it, as frozen objects. SI inside.

Every block may be missing; ``left_out`` then says why. A report is rendered from a saved dossier and solves nothing.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import Any, ClassVar

from optimizer.model.answer import Answer
from optimizer.model.banded import Banded
from optimizer.model.fitted import ByFills
from optimizer.model.fronts import Front
from optimizer.model.orders import BuyingOrder
from optimizer.model.results import Result
from optimizer.model.shown import Shown
from optimizer.model.spill import Spill

BLOCKS: Mapping[str, type[Result | Front | Banded | BuyingOrder]] = MappingProxyType(
    {"result": Result, "front": Front, "bands": Banded, "order": BuyingOrder}
)
"""Blocks that are answers of their own; the first that there is leads."""


def _check_rising(name: str, values: Sequence[float]) -> None:
    if any(not math.isfinite(each) for each in values):
        raise ValueError(f"every one of {name} must be a finite number")
    if any(after <= before for before, after in pairwise(values)):
        raise ValueError(f"{name} must rise from point to point")


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file the answer was computed from, and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """With what an answer was made: version of the program, the command without folders, the files, and the day (as ISO 8601 has
    it; empty: it was not noted)."""

    version: str
    command: str
    inputs: tuple[InputFile, ...]
    day: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Head in m against flow in m3/s: what a ``pump`` gives (``kind``), or what a ``loop`` takes. Raises ValueError."""

    kind: str
    name: str
    flows_m3s: tuple[float, ...]
    heads_m: tuple[float, ...]

    def __post_init__(self) -> None:
        if self.kind not in ("pump", "loop"):
            raise ValueError("a curve is that of a pump or of a loop")
        if len(self.flows_m3s) != len(self.heads_m) or not self.flows_m3s:
            raise ValueError("a curve has as many heads as flows, and at least one of each")
        _check_rising("flows_m3s", self.flows_m3s)
        if not all(math.isfinite(head) for head in self.heads_m):
            raise ValueError("every one of heads_m must be a finite number")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Where a loop runs: the delivered flow and the pump's head there. ``held``: a throttle holds it off the loop's own curve."""

    name: str
    flow_m3s: float
    head_m: float
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Curves of pumps and loops, and where they meet. ``last_day`` is the day of the dirtiest curve (0: there is none)."""

    curves: tuple[Curve, ...]
    marks: tuple[Mark, ...]
    last_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Delivered flow in m3/s on each of ``days`` since a cleaning of everything. Raises ValueError."""

    name: str
    days: tuple[float, ...]
    flows_m3s: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.days) != len(self.flows_m3s) or not self.days:
            raise ValueError("there must be as many flows as days, and at least one of each")
        _check_rising("days", self.days)
        if not all(math.isfinite(flow) for flow in self.flows_m3s):
            raise ValueError("every one of flows_m3s must be a finite number")


@dataclass(frozen=True, slots=True, kw_only=True)
class Falls:
    """How the flow falls between cleanings, by the model of dirt. ``wanted_m3s`` is what must not be missed (0: nothing)."""

    falls: tuple[Fall, ...]
    wanted_m3s: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndLine:
    """One end of a part: standard, nominal size in the trade's words, gender, and the open bore in m."""

    standard: str
    size: str
    gender: str
    bore_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitute:
    """What to take when a part is not to be had: it mates alike. ``flow_m3s`` is delivered with it (0: as with the part)."""

    product_id: str
    name: str
    price: int
    flow_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopRow:
    """One piece to get, for one ``place`` (a position or a joint).

    ``use`` is part, adapter, closure, medium, tool or adjustment; ``ends`` in the order of the water; ``cut_m`` the length to
    cut (0: none), ``closes`` what a clamp or seal goes on. ``price`` in minor units is charged here: of a pack or kit at its
    first piece, the others are ``in_pack``. The prices of all rows add up to that of the bundle.
    """

    place: str
    use: str
    name: str
    price: int
    part_id: str = ""
    ends: tuple[EndLine, ...] = ()
    closes: str = ""
    cut_m: float = 0.0
    product_id: str = ""
    product: str = ""
    in_pack: bool = False
    owned: bool = False
    substitute: Substitute | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier(Answer, Shown):
    """One answer with all that a report shows of it. ``left_out`` says which block is missing and why."""

    form: ClassVar[str] = "dossier"
    made: Made | None = None
    result: Result | None = None
    front: Front | None = None
    bands: Banded | None = None
    order: BuyingOrder | None = None
    curves: Curves | None = None
    falls: Falls | None = None
    shopping: tuple[ShopRow, ...] = ()
    spill: Spill | None = None
    left_out: tuple[str, ...] = ()

    @property
    def leading(self) -> Result | Front | Banded | BuyingOrder:
        """The answer that the others belong to. Raises ValueError for a dossier without any."""
        first: Result | Front | Banded | BuyingOrder | None = self.result or self.front or self.bands or self.order
        if first is None:
            raise ValueError("a dossier holds at least one answer")
        return first

    @property
    def by_fills(self) -> ByFills | None:
        """The fills that its answers go by, or that are left out; None for a rig without."""
        answers = (self.result, self.front, self.order)
        return next((each.by_fills for each in answers if each is not None and each.by_fills is not None), None)

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``, as its leading answer."""
        return self.leading.status


def as_dossier(answer: object) -> Dossier:
    """One of the answers that a dossier is made of, alone in one. Raises ValueError for any other."""
    name = next((name for name, kind in BLOCKS.items() if isinstance(answer, kind)), "")
    if not name:
        raise ValueError(f"a {type(answer).__name__} is no answer that a report can be made of")
    alone: dict[str, Any] = {name: answer}
    return Dossier(**alone)

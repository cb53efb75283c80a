"""What fills say of the parts that are installed, for the search to go by, and for the answer to say so."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Guard, Medium, Outlet, Part
from optimizer.model.state import State
from optimizer.physics.water import Water

if TYPE_CHECKING:
    from optimizer.model.rig import Position


class Fitted(Protocol):
    """Figures of parts as fills show them: of those that are installed by name, of others by what their kind has in common."""

    def part(self, part: Part, state: State, position: "Position", water: Water, start: State | None = None) -> tuple[Part, Loss]:
        """A part with its pump curve, and its loss at a place (of a canister: of the body), both as fitted.

        What fills say of dirt is of the dirt that was there at the ``start`` (None: ``state`` itself), and of what came upon it
        since; a part that was clean then gets dirty as stated.
        """

    def tray(self, medium: Medium, state: State, canister: Canister, water: Water, start: State | None = None) -> Loss:
        """Loss of one tray of a medium, as fitted."""

    def guard_scales(self, guard: Guard, start: State) -> tuple[float, float, float]:
        """What the loss of a guard is multiplied by: that of its screen or wall, of the entrance behind it, and of the cake on a
        sponge, whichever cake that is."""

    def tray_scales(self, medium: Medium, start: State) -> tuple[float, float, float]:
        """What the linear and the quadratic loss of a medium in its tray are multiplied by, and that of the cake on its face."""

    def bar_scales(self, bar: Outlet) -> tuple[float, float]:
        """What the losses of a spray bar are multiplied by: that of the step into it, and that of its jets, whatever
        holes it gets."""

    def joint(self, before: Part, after: Part) -> float:
        """What the loss of the joint between two installed parts is multiplied by."""

    @property
    def new_joints(self) -> float:
        """What the loss of a joint is multiplied by that is not between two installed parts."""

    def tee(self, tee: Part) -> float:
        """What the losses of a tee are multiplied by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFactor:
    """What the stated figure of one part is multiplied by: ``scales`` says which figure (loss, diameter, head...)."""

    part: str
    unknown: str
    scales: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ByFills:
    """The fills that an answer goes by. ``delivered_m3s`` is what the loop as it is delivers by them, ``stated_m3s`` by the
    stated figures; ``factors`` are those that moved, the farthest first.

    ``clean_first`` is why to clean and measure again before anything is bought (see `Calibrated`), ``relative`` half the interval
    that holds 95 % of the flow of the surest fill, over that flow (0: not known).
    ``left_out`` says why the fills are not gone by (empty: they are); then both flows are the stated one. ``notes``: what is
    assumed.
    """

    fills: int
    dates: tuple[str, ...]
    delivered_m3s: float
    stated_m3s: float
    factors: tuple[FittedFactor, ...] = ()
    clean_first: Literal["", "gain", "less"] = ""
    relative: float = 0.0
    left_out: str = ""
    notes: tuple[str, ...] = ()

"""What a part does to the water, piece by piece: some loss or a pump curve, and the names of what is not known of it."""

from dataclasses import dataclass, field

from optimizer.model.losses import Loss, TeeShape
from optimizer.model.parts import PumpCurve

__all__ = ["Piece"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Some loss, or a pump, of one part, and the names (`model/unknowns.py`) of what scales it (empty: nothing does).

    ``resistance`` scales the linear loss, and the quadratic one to ``quadratic_power``; ``bore`` scales the diameter, so the
    quadratic loss goes with its inverse fourth power and hose friction with the real bore; ``friction`` scales the hose's
    friction; ``crack`` the head it takes to open; ``film`` the thickness ``film_m`` on the wall, which is already taken off
    ``bore_m``. Of a pump, ``head``, ``flow`` and ``shape`` scale the curve. What a ``tee`` loses hangs on how the flow divides;
    ``resistance`` scales it and ``bore`` its diameters, the branch's with the run's. ``installed`` says whether it is there
    today, and so can be measured today. ``places`` are those that it is at, of a joint those on both of its sides; they change
    nothing of what it does.
    """

    part: str
    installed: bool = False
    loss: Loss = Loss()
    bore_m: float = 0.0
    film_m: float = 0.0
    resistance: str = ""
    quadratic_power: float = 1.0
    bore: str = ""
    friction: str = ""
    crack: str = ""
    film: str = ""
    curve: PumpCurve | None = None
    speed: float = 1.0
    head: str = ""
    flow: str = ""
    shape: str = ""
    tee: TeeShape | None = None
    places: tuple[str, ...] = field(default=(), compare=False)

    @property
    def priors(self) -> tuple[str, ...]:
        """Names of the unknowns that matter for it."""
        names = (self.resistance, self.bore, self.friction, self.crack, self.film, self.head, self.flow, self.shape)
        return tuple(name for name in names if name)

    @property
    def is_idle(self) -> bool:
        """True when the water passes it as if it were not there."""
        return self.curve is None and self.tee is None and self.loss == Loss()

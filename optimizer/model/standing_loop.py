"""A loop as it stands: what flows now and cleaned, and what the water finds place by place. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.fitted import ByFills
from optimizer.model.results import Row, Spot
from optimizer.model.route import RoutePlace


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingLoop(Answer):
    """What a rig delivers ``now`` and with nothing spent (cleaned, adjusted), what is wished (``target_m3s``, 0: nothing), and
    its ``route`` in the order of the water, whose places tell it now and then with nothing spent.

    ``tightest`` is the narrowest spot that all the water passes now (None: no bore is known), ``by_fills`` what the fills say of
    the parts (None: there are none).
    """

    form: ClassVar[str] = "loop"
    rig: str
    catalog: str
    now: Row
    spend_nothing: Row
    target_m3s: float
    target_per_hour: float
    route: tuple[RoutePlace, ...]
    tightest: Spot | None
    by_fills: ByFills | None = None

    @property
    def status(self) -> str:
        """Whether it flows at all."""
        return "flows" if self.now.flow_m3s > 0.0 else "no flow"

    @property
    def lost_m(self) -> float:
        """Head that all the water loses on its way, in m: in places, in branches as a whole, and in the joints between."""
        trunk = [place for place in self.route if not place.fork]
        return sum(each.now.joint_m + (0.0 if each.kind == "pump" else each.now.head_m) for each in trunk)

    def share(self, head_m: float) -> float:
        """A head as a share of all that is lost; 0 where nothing is."""
        return head_m / self.lost_m if self.lost_m > 0.0 else 0.0

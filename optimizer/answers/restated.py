"""A bundle once more with other losses: every part and every joint, those inside branches too, and the tees between them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from optimizer.model.ends import End
from optimizer.model.fitted import Fitted
from optimizer.model.options import Chain, FilledBranches, Option
from optimizer.model.rig import Position
from optimizer.physics.fitting_laws import FittingLaws

__all__ = ["Restating"]

_Row = tuple[tuple[Option, ...], tuple[Chain | None, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Restating:
    """What becomes of an ``option`` at its position, and of a ``joint`` between two ends; tees lose what is ``fitted`` (None:
    what is stated), by ``laws``."""

    option: Callable[[Position, Option], Option]
    joint: Callable[[Chain, End, End], Chain]
    laws: FittingLaws
    fitted: Fitted | None = None

    def bundle(
        self, positions: Sequence[Position], options: Sequence[Option], joints: Sequence[Chain]
    ) -> tuple[tuple[Option, ...], tuple[Chain, ...]]:
        """A whole bundle, with the joint in front of each option."""
        shown, closed = self._row(positions, options, joints, None, None)
        return shown, tuple(joint for joint in closed if joint is not None)

    def _row(
        self,
        positions: Sequence[Position],
        options: Sequence[Option],
        joints: Sequence[Chain | None],
        start: End | None,
        goal: End | None,
    ) -> _Row:
        """Options of the loop or of a branch, with the joint in front of each and, if there is one more, that to the goal."""
        shown = tuple(self._option(positions[option.position], option) for option in options)
        closed, before = [], start
        ends = [(option.inlet, option.outlet) if option.is_there else (None, None) for option in shown]
        for (inlet, outlet), joint in zip([*ends, (goal, None)], joints, strict=False):
            closed.append(self._joint(joint, before, inlet))
            before = outlet or before
        return shown, tuple(closed)

    def _joint(self, joint: Chain | None, before: End | None, after: End | None) -> Chain | None:
        return joint if joint is None or before is None or after is None else self.joint(joint, before, after)

    def _option(self, position: Position, option: Option) -> Option:
        if option.ways is not None:
            return self._branches(position, option, option.ways)
        return option if option.part is None else self.option(position, option)

    def _branches(self, position: Position, option: Option, ways: FilledBranches) -> Option:
        from optimizer.search.branch_pairs import as_filled, leg, tee_of  # a loop without branches starts quicker without these

        branches = []
        for number, (branch, way) in enumerate(zip(position.branches, ways.branches, strict=False)):
            ends = leg(tee_of(ways.parting), number, True), leg(tee_of(ways.meeting), number, False)
            shown, joints = self._row(branch.positions, way.options, way.joints, *ends)
            branches.append(replace(way, options=shown, joints=joints))
        return as_filled(option, branches, ways.parting, ways.meeting, fitted=self.fitted, laws=self.laws)

"""What passes each branch and each device, as the answer says it, against the limits and against one another."""

import pytest
from branched_worlds import branched_world

from optimizer.answers.question import Question, answer
from optimizer.model.results import Result

SEEDS = range(40)


def answered(seed: int) -> Result:
    """The answer for a random branched rig."""
    rig, catalog = branched_world(seed)
    return answer(Question(rig=rig, catalog=catalog, limits=rig.limits))


@pytest.mark.parametrize("chunk", range(4))
def test_branches_share_the_whole_flow_and_stay_in_their_windows(chunk: int) -> None:
    """In every row the branches carry what the loop delivers (continuity); in the best one all windows are kept."""
    seen = 0
    for seed in SEEDS[chunk * 10 : (chunk + 1) * 10]:
        result = answered(seed)
        rows = {row.name: row for row in (result.now, result.spend_nothing, result.best) if row is not None}
        for name, row in rows.items():
            flows = [line.flow_m3s for line in result.branches if line.row == name]
            if flows:
                seen += 1
                assert sum(flows) == pytest.approx(row.flow_m3s, rel=1e-9), seed
        if result.best is not None:
            assert all(line.kept for line in result.windows if line.row == "best"), seed
            assert not result.best.breaks, seed
    assert seen > 3


@pytest.mark.parametrize("seed", range(12))
def test_the_bill_of_a_branched_bundle_adds_up(seed: int) -> None:
    """What the lines cost is what the verdict says, and every line says where it goes."""
    result = answered(seed)
    if result.best is None:
        return
    assert sum(line.price for line in result.bill) == result.best.price
    assert all(line.places for line in result.bill if not line.owned)
    added = [change.position for change in result.changes if change.change == "add" and "tee" in change.position]
    between = {place for line in result.joints for place in line.between}
    assert set(added) <= between

"""The best or the cheapest bundle over an interval between cleanings: in series by all its days, with branches by the first."""

from optimizer.answers.lasting import lasting_answer
from optimizer.answers.lasting_by_clean_day import by_clean_day
from optimizer.answers.question import Progress, Question
from optimizer.model.results import Result
from optimizer.search.over_days import LAST, MEAN


def interval_answer(question: Question, days: float, by: str, progress: Progress | None = None) -> Result:
    """The whole answer; a rig with branches is answered by the clean day and followed over the others.

    Raises ValueError for days that cannot be and for a target that is to be met on average.
    """
    if by not in (LAST, MEAN) or (question.target_m3s and by != LAST):
        raise ValueError("bundles are judged by the last day or by the mean, and a target is met on the last day")
    branched = any(position.branches for position in question.rig.positions)
    return (by_clean_day if branched else lasting_answer)(question, days, by, progress)

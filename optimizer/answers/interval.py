"""The best or the cheapest bundle over an interval between cleanings: in series by all its days, with branches by the first."""

from contextlib import nullcontext

from optimizer import halting
from optimizer.answers.lasting import LastingSearch, searched
from optimizer.answers.lasting_by_clean_day import CleanDaySearch, searched_clean
from optimizer.answers.question import Progress, Question
from optimizer.model.results import Result
from optimizer.search.over_days import LAST, MEAN

OverInterval = LastingSearch | CleanDaySearch


def over_interval(question: Question, progress: Progress | None = None) -> OverInterval:
    """What is found for a question over an interval, for `best` and for all that is told of the same bundle besides. A rig with
    branches is answered by the clean day and followed over the others.

    Raises ValueError for days that cannot be and for a target that is to be met on average.
    """
    if question.by not in (LAST, MEAN) or (question.target_m3s and question.by != LAST):
        raise ValueError("bundles are judged by the last day or by the mean, and a target is met on the last day")
    branched = any(position.branches for position in question.rig.positions)
    return (searched_clean if branched else searched)(question, progress)


def interval_answer(question: Question, progress: Progress | None = None) -> Result:
    """The whole answer; raises as `over_interval`."""
    found = over_interval(question, progress)
    told = nullcontext() if found.done.outcome.found is None else halting.held()
    with told:  # what was found is put into words, whatever is pressed
        return found.result()

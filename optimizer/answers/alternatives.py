"""The best truly different bundles of a question, each with what stands elsewhere than in the best."""

from collections.abc import Callable
from dataclasses import replace

from optimizer.answers.asked import question_of
from optimizer.answers.bill import change_lines
from optimizer.answers.question import Progress, Question, found_standing, proof_of, seek, stands_now
from optimizer.answers.rows import row
from optimizer.halting import held
from optimizer.model.alternatives import Alternative, Alternatives
from optimizer.model.catalog import Catalog
from optimizer.model.options import KEEP
from optimizer.model.results import Change
from optimizer.model.rig import Rig
from optimizer.search import alternatives as search
from optimizer.search.best import Found, Seeker
from optimizer.search.part_identity import PartIdentities


def alternatives(
    rig: Rig,
    catalog: Catalog,
    most: int = 5,
    *,
    budget: int | None = None,
    measured: bool = True,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Alternatives:
    """The ``most`` best bundles that differ in at least one position that matters. Raises ValueError for ``most`` below 1."""
    question, by_fills = question_of(rig, catalog, budget, measured)
    seeker = seek(question, progress, apart=True)
    told = search.alternatives(seeker, most, None, halted)
    with held():
        return replace(_told(question, most, seeker, told), by_fills=by_fills)


def _told(question: Question, most: int, seeker: Seeker, told: search.Alternatives) -> Alternatives:
    rig, limits = question.rig, question.limits
    return Alternatives(
        **question.told,
        asked=most,
        now=row("now", rig, limits, stands_now(rig, question.catalog)),
        alternatives=tuple(alternative(question, seeker, told.things, n, told.found) for n in range(len(told.found))),
        proof=proof_of(seeker, told.status),
    )


def alternative(
    question: Question, seeker: Seeker, told: PartIdentities | None, rank: int, found: tuple[Found, ...]
) -> Alternative:
    """The bundle of one rank, held against the first."""
    this, best = found[rank], found[0]
    stands = found_standing(question.rig, seeker, this)
    name = "best" if rank == 0 else f"no. {rank + 1}"
    return Alternative(
        row=row(name, question.rig, question.limits, stands),
        less_m3s=best.flow_m3s - this.flow_m3s,
        differs=() if told is None else _differs(seeker, told, best, this),
        changes=tuple(change for change in change_lines(stands.options) if change.change != KEEP),
    )


def _differs(seeker: Seeker, told: PartIdentities, best: Found, this: Found) -> tuple[Change, ...]:
    """What stands where the best has something else, position by position; trays that are alike are left out."""
    rows = (best.bundle.path.options, this.bundle.path.options)
    places = list(told.seen_from(best).differing(rows[1]))
    options = [[seeker.problem.option(side[place]) for place in places] for side in rows]
    known = change_lines(options[0])
    return tuple(change for change in change_lines(options[1]) if change not in known)

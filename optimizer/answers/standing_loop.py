"""The loop as it stands today, without a search: what flows, what a clean gives back, and where the head goes."""

from optimizer.answers.asked import question_of
from optimizer.answers.head_shares import tightest
from optimizer.answers.question import for_nothing, stands_now
from optimizer.answers.route import route
from optimizer.answers.rows import row
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.model.standing_loop import StandingLoop


def standing_loop(rig: Rig, catalog: Catalog | None = None, *, measured: bool = True) -> StandingLoop:
    """The loop of a rig as it is and with nothing spent, place by place in the order of the water, SI.

    The figures are those that `best` begins with. Without a ``catalog`` nothing of it can be had for nothing. The fills in the
    rig file say what the installed parts lose, unless ``measured`` is False. Raises InputError for fills that no loop can
    explain, and for branches between which the flow divides unsteadily.
    """
    question, told = question_of(rig, catalog or Catalog(parts={}, products=()), None, measured)
    rig = question.rig
    now = stands_now(rig, question.catalog)
    free = for_nothing(question).stands
    return StandingLoop(
        rig=rig.name,
        catalog=question.catalog.name,
        now=row("now", rig, question.limits, now),
        spend_nothing=row("spend nothing", rig, question.limits, free),
        target_m3s=rig.target_m3s,
        target_per_hour=rig.turnover_per_hour(rig.target_m3s),
        route=route(rig, now, free),
        tightest=tightest(now),
        by_fills=told,
        notes=tuple(rig.notes),
    )

"""The advised step in words: what to do first, which sum buys what, why no more, and the ladder it stands on."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.results import Advice, Result, Row, Step
from optimizer.report.layout import GLUE, Block, aligned, cut, paragraph
from optimizer.report.measures import Measures, count, gain, money, number, percent, turnover, watts
from optimizer.report.proof_words import held, not_among

__all__ = ["advice_sentences", "are_of_all", "ladder_lines", "step_name", "sure_sentences"]

HALF, GOOD_VALUE = 0.6, 0.8
"""A sum that is so much less than the advised one and buys so much of its flow is worth a sentence."""

TAKEN = "->"
"""Stands before the step that is advised."""

NAMES = {
    "now": "now",
    "cleaned": "cleaned, for nothing",
    "between": "",
    "enough": "enough",
    "most": "the most",
    "cheapest": "cheapest",
}


def advice_sentences(result: Result, measures: Measures) -> tuple[str, ...]:
    """Return the verdict: what comes first; then the step, why, and what more or less money does. Empty without advice."""
    advice = result.advice
    if advice is None:
        return ()
    words = _Words(result, advice, measures)
    return (*words.first(), " ".join((*words.step(), *words.more())))


def sure_sentences(result: Result, advice: Advice, measures: Measures) -> Iterator[str]:
    """Yield the band of the advised step, and what is proved of it."""
    step = advice.step
    if step.p10_m3s > 0.0:
        low, high = measures.bare_flow(step.p10_m3s), measures.flow_text(step.p90_m3s)
        yield f"In 8 of 10 cases {low} to {high}." if low != measures.bare_flow(step.p90_m3s) else ""
    if result.status == "proved":
        yield _proved(result, advice, measures)


def _proved(result: Result, advice: Advice, measures: Measures) -> str:
    tried = f"none of {count(result.proof.combinations)} combinations"
    if advice.reason == "cheapest":
        return f"Proved: {tried} is cheaper.{not_among(result.proof)}"
    most = measures.flow_text(advice.most.row.flow_m3s)
    within = "" if result.question.budget is None else f" within {money(result.question.budget, safe(result.currency))}"
    those = "" if are_of_all(advice) else " of those that keep all media"
    free = advice.step.row.price == 0 or advice.step is advice.most
    cheaper = "" if free else f", and{those} none that costs less delivers as much"
    return f"Proved: {tried} delivers more than {most}{within}{cheaper}.{not_among(result.proof)}"


def are_of_all(advice: Advice) -> bool:
    """Return whether the steps are the cheapest of all bundles, and not only of those that keep all media."""
    return advice.reason == "wish" or advice.top_m3s >= advice.most.row.flow_m3s * (1.0 - 1e-6)


def ladder_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the ladder as a table, the advised step marked, and what holds a step back."""
    advice = result.advice
    if advice is None:
        return []
    heads = [
        ("", "price", "delivered", "turnover", "noise", "power", "of the most"),
        ("", cut(safe(result.currency), 8), measures.flow, "per hour", "dB(A)", "W", ""),
    ]
    rows = [*heads, *(_line(step, advice, measures) for step in advice.steps)]
    lines = aligned(rows if "most" in advice.most.roles else [row[:-1] for row in rows])
    step = advice.step
    if step.row.held_by:
        said = f"throttled to {measures.flow_text(step.row.flow_m3s)} {held(step.row, measures)}"
        lines += paragraph(f"{step_name(step, advice)}: {said}", "  ", "    ")
    return lines


def step_name(step: Step, advice: Advice) -> str:
    """Return what a step is called.

    >>> row = Row(name="", flow_m3s=1e-4, own_m3s=1e-4, held_by="", turnover_per_hour=2.0, price=0, noise_dba=30.0, power_w=9.0,
    ...     bio_area_m2=0.0, inlet_head_m=0.0)
    >>> step_name(Step(roles=("enough", "most"), row=row, changes=(), proved=True), None)
    'the most'
    """
    for role in ("cheapest", "most", "wish", "enough", "cleaned", "now"):
        if role in step.roles:
            return _wish_name(advice) if role == "wish" else NAMES[role]
    return ""


def _wish_name(advice: Advice) -> str:
    cleaned = advice.steps[1].row
    return "your limits" if cleaned.flow_m3s >= advice.wanted_m3s else "your wish"


def _line(step: Step, advice: Advice, measures: Measures) -> tuple[str, ...]:
    row, most = step.row, advice.most.row.flow_m3s
    name = step_name(step, advice)
    marked = f"{TAKEN} {name}".strip() if step is advice.step else f"   {name}"
    return (
        marked,
        money(row.price),
        measures.bare_flow(row.flow_m3s),
        turnover(row.turnover_per_hour),
        number(row.noise_dba, 1),
        watts(row.power_w),
        percent(row.flow_m3s / most) if most > 0.0 else "",
    )


class _Words:
    """The sentences of one advice."""

    def __init__(self, result: Result, advice: Advice, measures: Measures) -> None:
        self.result, self.advice, self.measures = result, advice, measures
        self.now, self.cleaned = advice.steps[0].row, advice.steps[1].row
        self.row, self.most = advice.step.row, advice.most.row

    def money(self, price: int) -> str:
        return money(price, safe(self.result.currency))

    def flow(self, row: Row) -> str:
        return self.measures.flow_text(row.flow_m3s)

    @property
    def budget(self) -> str:
        budget = self.result.question.budget
        return "any sum" if budget is None else self.money(budget)

    def first(self) -> Iterator[str]:
        """What comes before anything is bought."""
        if self.advice.reason in ("met", "cleaned"):
            return
        if self.advice.first == "unexplained":
            yield "First clean and measure again: your fills show less flow than the rig file explains."
        elif self.advice.first == "dirty":
            rise = gain(self.cleaned.flow_m3s, self.now.flow_m3s)
            yield f"First clean and measure again: that alone should give {self.flow(self.cleaned)} ({rise}) and costs nothing."

    def step(self) -> Iterator[str]:
        """The step to take, and why."""
        told = {"met": self._met, "cleaned": self._cleaned, "wish": self._wish, "cheapest": self._cheapest}
        yield from told.get(self.advice.reason, self._bought)()

    def _met(self) -> Iterator[str]:
        wanted = f"the {turnover(self.advice.wanted_per_hour)} per hour that you want"
        yield f"{self._nothing()} That meets {wanted}: measure it, then decide; nothing needs to be bought."

    def _cleaned(self) -> Iterator[str]:
        yield f"{self._nothing()} {self._little(self.cleaned, self.budget)}"

    def _nothing(self) -> str:
        now, row = self.now, self.row
        if not self.advice.step.changes and row.flow_m3s <= now.flow_m3s * (1.0 + 1e-6):
            return f"Leave it as it is: {self.flow(row)}, {turnover(row.turnover_per_hour)} per hour."
        what = "Clean and adjust it" if self.advice.step.changes else "Clean it"
        return f"{what}: {self._instead(row)}, for nothing."

    def _instead(self, row: Row) -> str:
        rise = gain(row.flow_m3s, self.now.flow_m3s)
        per_hour = f"{turnover(row.turnover_per_hour)} per hour"
        instead = f" instead of {self.measures.bare_flow(self.now.flow_m3s)} ({rise})" if rise else ""
        return f"{self.flow(row)}{instead}, {per_hour}"

    def _wish(self) -> Iterator[str]:
        if self.cleaned.flow_m3s >= self.advice.wanted_m3s:
            broken = "; ".join(safe(self.measures.words(each.words)) for each in self.cleaned.breaks)
            why = f" Cleaning alone would not keep to: {broken}." if broken else ""
            yield f"Spend {self.money(self.row.price)}: {self._instead(self.row)}, within all limits.{why}"
        else:
            wanted = f"{turnover(self.advice.wanted_per_hour)} per hour"
            spent = f"Spend {self.money(self.row.price)}: {self._instead(self.row)}"
            yield f"{spent}; nothing cheaper reaches the {wanted} that you want."

    def _cheapest(self) -> Iterator[str]:
        if self.row.price == 0:
            yield f"{self._nothing()} That is the flow asked for; nothing needs to be bought."
        else:
            yield f"Cheapest: {self._instead(self.row)}, for {self.money(self.row.price)}."

    def _bought(self) -> Iterator[str]:
        if self.row.price == 0:
            yield f"{self._nothing()} No sum up to {self.budget} does better."
            return
        yield f"Spend {self.money(self.row.price)}: {self._instead(self.row)}."

    def more(self) -> Iterator[str]:
        """What more money buys, what less does, and what is left over."""
        reason, spent = self.advice.reason, self.row.price
        if reason in ("enough", "unsure"):
            yield self._little(self.row, self.money(self.most.price - spent), reason)
        elif reason in ("met", "wish") and self.most.flow_m3s > self.row.flow_m3s * (1.0 + self.advice.told_apart):
            yield f"The most that {self.budget} can buy is {self.flow(self.most)}, for {self.money(self.most.price)} (--most)."
        elif reason == "asked":
            enough = next((step.row for step in self.advice.steps if "enough" in step.roles), None)
            if enough is not None and enough.price < spent:
                share = percent(enough.flow_m3s / self.most.flow_m3s)
                yield f"{self.money(enough.price)} would buy {share} of it, {self.flow(enough)}."
        yield from self._half(spent)
        yield from self._power()
        budget = self.result.question.budget
        if budget is not None and spent and budget > spent:
            yield f"{self.money(budget - spent)} of {self.money(budget)} is left over."

    def _power(self) -> Iterator[str]:
        """What another pump costs a year, day and night."""
        now, row = self.now, self.row
        kwh = row.energy_kwh_per_year - now.energy_kwh_per_year
        if abs(kwh) < 1.0:
            return
        more = f"{abs(kwh):.0f} kWh {'more' if kwh > 0.0 else 'less'} a year"
        if now.energy_cost_per_year is not None and row.energy_cost_per_year is not None:
            more += f", {self.money(abs(row.energy_cost_per_year - now.energy_cost_per_year))}"
        yield f"Its pump draws {watts(row.power_w)}{GLUE}W instead of {watts(now.power_w)}: {more}."

    def _half(self, spent: int) -> Iterator[str]:
        """A sum far below that of the step which buys nearly as much."""
        rows = [step.row for step in self.advice.steps if self.advice.reason != "wish"]
        most = GOOD_VALUE * self.row.flow_m3s
        row = next((row for row in rows if 0 < row.price <= HALF * spent and row.flow_m3s >= most), None)
        if row is not None:
            yield f"{self.money(row.price)} already buys {self.flow(row)}, {percent(row.flow_m3s / self.row.flow_m3s)} of that."

    def _little(self, row: Row, sum_of_money: str, reason: str = "enough") -> str:
        """That more money is not worth it."""
        top = self.advice.top_m3s
        more = self.measures.flow_text(max(top - row.flow_m3s, 0.0))
        share = percent(min(row.flow_m3s / top, 1.0))
        kept = "" if are_of_all(self.advice) else " with all media kept"
        spent = f"{sum_of_money} more" if row.price else sum_of_money
        if reason == "unsure":
            return f"Whether {spent} would add anything is not sure ({more} by the figures)."
        if top <= row.flow_m3s:
            return f"No sum up to {self.budget} does better{' with all media kept' if kept else ''}."
        told = {"bucket": "a bucket and a watch can tell", "fills": "your fills can tell", "given": "you want to tell"}
        apart = f"{told[self.advice.rests_on]} ({self.advice.told_apart:.1%})".replace(".0%", "%").replace("%", " %")
        return f"That is {share} of the most{kept}: {spent} would add {more}, less than {apart}."

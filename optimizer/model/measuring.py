"""Measurements and what follows from them as frozen objects: timed fills, calibration, next tests, verdicts, the log."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class WattsRead:
    """Power drawn by the pump as a meter at the socket shows it, in W. Raises ValueError for no power."""

    power_w: float
    date: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.power_w < math.inf:
            raise ValueError("the power must be above zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class UncertaintyLine:
    """One source of uncertainty: ``type`` A (from repeats) or B of the GUM, relative standard uncertainty of the flow."""

    source: str
    type: str
    relative: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredFlow:
    """The flow of one timed fill with its uncertainty by the GUM.

    ``relative`` is the combined standard uncertainty over the flow, ``freedom`` its effective degrees of freedom (inf: all
    is type B), ``expanded_m3s`` half the interval that holds 95 %; ``date``, ``state`` and ``height_m`` as in `TimedFill`.
    """

    flow_m3s: float
    seconds: float
    relative: float
    freedom: float
    expanded_m3s: float
    lines: tuple[UncertaintyLine, ...]
    warnings: tuple[str, ...]
    date: str = ""
    state: tuple[str, ...] = ()
    height_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowBand:
    """A flow that is not known exactly: in m3/s at 10, 50 and 90 %. Of the flow of a loop ``p50_m3s`` is the one figure that all
    answers have for it, its flow at the most probable factors."""

    p10_m3s: float
    p50_m3s: float
    p90_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerBand:
    """A power that is not known exactly: in W at 10, 50 and 90 %."""

    p10_w: float
    p50_w: float
    p90_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioBand:
    """What something multiplies a flow by, which is not known exactly: at 10, 50 and 90 %."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedFlow:
    """A fill and what it says of the loop as it is installed: same dirt, everything on, the outlet at its own height.

    ``ratio`` is the flow as installed over that of the arrangement measured, as the loop model has it.
    """

    measured: MeasuredFlow
    ratio: float
    installed: FlowBand


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLine:
    """One factor on the tool's own figures before and after the measurements.

    ``information`` is the share of its prior variance (of the logarithm) that the measurements took away.
    """

    unknown: str
    part: str
    group: str
    prior_p10: float
    prior_p90: float
    p10: float
    p50: float
    p90: float
    information: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Confused:
    """Two factors that the measurements cannot tell apart, with the correlation of what is left of them."""

    one: str
    other: str
    correlation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Identified:
    """What so many ``measurements`` can tell of so many ``factors``: ``singular`` values of the whitened Jacobian (above 1: more
    than was known before), pairs that cannot be told apart, and factors that stay as they were."""

    singular: tuple[float, ...]
    facts: int
    confused: tuple[Confused, ...]
    untouched: tuple[str, ...]
    measurements: int
    factors: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """A loop after its measurements: delivered flow before and after them, factors, what can be told apart, what is odd.

    ``tail`` is the chance of measurements at least as far from what the file says as these (small: something is not as written).
    ``gain`` is what a clean multiplies the flow by. ``clean_first``: clean before buying, since that gives much back ("gain") or
    the loop gives less than one as clean as the file says ("less"); empty: no need.
    """

    measured: tuple[CorrectedFlow, ...]
    expected: FlowBand
    delivered: FlowBand
    cleaned: FlowBand
    factors: tuple[FactorLine, ...]
    identified: Identified
    tail: float
    gain: RatioBand
    clean_first: Literal["", "gain", "less"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedTest:
    """One cheap test: the share of the variance of the delivered flow that it is expected to take away, what it costs."""

    name: str
    shrink: float
    band: FlowBand
    minutes: float
    mess: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTests:
    """Tests in the order of what they are expected to tell about ``target``, whose band without any of them is ``band``; ``free``
    is that with its throttle wide open, which the tests are about (None: nothing holds it)."""

    target: str
    band: FlowBand
    tests: tuple[RankedTest, ...]
    free: FlowBand | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether new parts, the cleaning or what was left out made the difference between two sets of fills.

    Delivered flow ``before``, of the old parts as clean as the loop is after (``cleaned``), of these without what is there no
    more (``left``), and ``after``; what is left out counts as clean before it goes. The three gains are the steps from each of
    them to the next, and their medians add up to that of the whole. ``worked`` is the probability that the new parts deliver more
    than the old ones equally clean, ``probability`` that they brought more than cleaning and leaving out did, either by
    itself; both are 0 where no part is new. ``matched``: both sets of fills were taken in the same state, so that nothing can be
    owed to cleaning. ``advice`` is the verdict in one sentence.
    """

    before: FlowBand
    cleaned: FlowBand
    left: FlowBand
    after: FlowBand
    from_cleaning_m3s: FlowBand
    from_leaving_out_m3s: FlowBand
    from_parts_m3s: FlowBand
    worked: float
    probability: float
    matched: bool
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One line of the log: ``kind`` is fill, watts, cleaning or change, ``date`` ISO 8601, ``data`` whatever JSON can hold."""

    kind: str
    date: str
    data: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRead:
    """What could be read of a log, and in words what could not."""

    entries: tuple[LogEntry, ...]
    problems: tuple[str, ...]

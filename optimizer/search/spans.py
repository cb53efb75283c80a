"""Losses over a span of flows: a polynomial in the flow for each option and joint, and how far the truth may lie from it.

Nearly all losses are quadratics of the flow; only the friction of hoses and the curves of pumps are not. A polynomial
is carried by its Bernstein coefficients over the span, which add up as losses do and enclose it: where none of one is more than
that of another, it is no more anywhere in the span. What is no quadratic is followed by the polynomial through its values at
`DEGREE` + 1 flows. How far it lies from that is read off at `LOOKS` flows; between two of them it can hardly lie further than
their second differences allow, which are counted twice.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

DEGREE = 4
"""Of the polynomials: a loss that is none is met to a micrometre over a span as wide as half its flow."""

LOOKS = 33
"""Flows, both ends among them, at which what is no quadratic is looked at; every ``(LOOKS - 1) / DEGREE``-th of them is met."""

ROUNDING_M = 1e-13
"""Rounding of a head."""

HALVINGS = 40


def basis(share: Reals) -> Reals:
    """Values of the Bernstein polynomials (degree + 1, n) at shares (n,) of a span."""
    return np.stack([comb(DEGREE, n) * share**n * (1.0 - share) ** (DEGREE - n) for n in range(DEGREE + 1)])


_AT_LOOKS = basis(np.linspace(0.0, 1.0, LOOKS))
_THROUGH = np.linalg.inv(basis(np.linspace(0.0, 1.0, DEGREE + 1)))


@dataclass(frozen=True, slots=True)
class Span:
    """All options and joints of a problem between two flows in m3/s. ``option`` (n, degree + 1) and ``joint`` are coefficients in
    m, ``error`` (n,) in m how far an option may lie from them, ``kind`` (n,) which law it follows that is no quadratic (0: none)
    among ``kinds``."""

    low: float
    high: float
    option: Reals
    joint: Reals
    error: Reals
    kind: Ints
    kinds: int

    @classmethod
    def of(cls, problem: Problem, low: float, high: float) -> "Span":
        """The losses of a problem between two flows."""
        heads = problem.heads
        option = bernstein(heads.quadratic, heads.linear, heads.lift, low, high)
        error, kind = np.zeros(len(option)), np.zeros(len(option), dtype=np.intp)
        laws: list[tuple[tuple[Ints, Ints], Callable[[float], Reals], float]] = []
        if len(heads.run_of[0]):
            laws.append((heads.run_of, heads.runs.at, 1.0))
        if len(heads.curve_of[0]):
            laws.append((heads.curve_of, heads.curves.head_m, -1.0))
        kinds = 0
        for (rows, which), law, sign in laws:
            through, far = followed(law, low, high)
            option[rows] += sign * through[which]
            error[rows] += far[which]
            kind[rows] = kinds + 1 + which
            kinds += len(far)
        none = np.zeros_like(problem.joint_quadratic)
        return cls(low, high, option, bernstein(problem.joint_quadratic, none, none, low, high), error, kind, kinds)

    def at(self, flows_m3s: Reals) -> Reals:
        """What to multiply coefficients with for their values at flows: shape (degree + 1, flows)."""
        return basis((flows_m3s - self.low) / (self.high - self.low))

    def crossed(self, coefficient: Reals) -> Reals:
        """The flow (n,) in m3/s at which each of some rising polynomials (n, degree + 1) passes 0; an end of the span where it
        does not."""
        low, high = np.zeros(len(coefficient)), np.ones(len(coefficient))
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            above = np.einsum("nk,kn->n", coefficient, basis(middle)) > 0.0
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        share = np.where(coefficient[:, -1] <= 0.0, 1.0, np.where(coefficient[:, 0] >= 0.0, 0.0, 0.5 * (low + high)))
        return np.asarray(self.low + share * (self.high - self.low))


def bernstein(quadratic: Reals, linear: Reals, lift: Reals, low: float, high: float) -> Reals:
    """Coefficients (n, degree + 1) of quadratics in the flow over a span."""
    steps = np.arange(DEGREE + 1) / DEGREE
    one = low + steps * (high - low)
    # the blossom of the square: the mean product of two different of the flows that a coefficient stands between
    return np.outer(quadratic, _mean_products(low, high)) + np.outer(linear, one) + lift[:, None]


def _mean_products(low: float, high: float) -> Reals:
    made = []
    for n in range(DEGREE + 1):
        flows = [high] * n + [low] * (DEGREE - n)
        products = [flows[i] * flows[j] for i in range(DEGREE) for j in range(i)]
        made.append(sum(products) / len(products))
    return np.array(made)


def followed(law: Callable[[float], Reals], low: float, high: float) -> tuple[Reals, Reals]:
    """Coefficients (k, degree + 1) of the polynomials through k laws at even steps of a span, and how far each law may lie from
    its own (k,), in m."""
    values = np.stack([law(float(flow)) for flow in np.linspace(low, high, LOOKS)])
    met = values[:: (LOOKS - 1) // DEGREE]
    through = np.einsum("nk,nm->km", met, _THROUGH)
    rest = values - np.einsum("km,ml->lk", through, _AT_LOOKS)
    between = np.abs(np.diff(rest, 2, axis=0)).max(axis=0)
    return through, np.abs(rest).max(axis=0) + 0.25 * between + ROUNDING_M

"""Losses over a span of flows: a polynomial in the flow for each option and joint, and how far the truth may lie from it.

Nearly all losses are quadratics of the flow; only the friction of hoses and the curves of pumps are not. A polynomial
is carried by its Bernstein coefficients over the span, which add up as losses do and enclose it: where none of one is more than
that of another, it is no more anywhere in the span. What is no quadratic is followed by the polynomial through its values at
`DEGREE` + 1 flows, and how far it may lie from that is proved (`span_laws`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem
from optimizer.search.span_laws import DEGREE, basis, followed

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

HALVINGS = 40


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
        kinds = 0
        for (rows, which), (through, far) in followed(heads, low, high):
            option[rows] += through[which]
            error[rows] += far[which]
            kind *= len(far) + 1
            kind[rows] += 1 + which
            kinds = kinds * (len(far) + 1) + len(far)
        none = np.zeros_like(problem.joint_quadratic)
        return cls(low, high, option, bernstein(problem.joint_quadratic, none, none, low, high), error, kind, kinds)

    def at(self, flows_m3s: Reals) -> Reals:
        """What to multiply coefficients with for their values at flows: shape (degree + 1, flows)."""
        return basis((flows_m3s - self.low) / (self.high - self.low))

    def crossed(self, coefficient: Reals) -> Reals:
        """A flow (n,) in m3/s at which each of some polynomials (n, degree + 1) is above 0, or hardly less than one: what rises
        and lies above the polynomial passes 0 below it. An end of the span where there is none, or where the low end is one."""
        low, high = np.zeros(len(coefficient)), np.ones(len(coefficient))
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            above = np.einsum("nk,kn->n", coefficient, basis(middle)) > 0.0
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        share = np.where(coefficient[:, -1] <= 0.0, 1.0, np.where(coefficient[:, 0] >= 0.0, 0.0, high))
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

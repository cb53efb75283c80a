"""What friction can bend by, from intervals: bounds on its fifth derivative that hold at every flow and roughness of a box.

Friction in a straight run is a constant times ``g(Re) = (f Re) Re`` of Churchill's law at one relative roughness r. In
``u = ln Re`` that law is ``ln g = ln 64 + u + S(b) / 12`` with ``S(x) = ln(1 + exp x)``,

    b = 1.5 (8 ln(37530 / 8) + 24 (u - ln 37530) - S(a)),    a = 16 (u - ln 37530 + ln 2.457 + ln(-ln y)),
    y = (7 / Re)^0.9 + 0.27 r.

With ``w = (7 / Re)^0.9 / y``, the share of y that hangs on the flow, all derivatives at fixed r are functions of u and w alone:
the n-th of ``ln y`` is ``(-0.9)^n`` times the n-th of ``ln(1 + exp x)`` where the logistic function is w. So boxes of u and w
cover all flows and roughnesses. Every operation returns an interval that holds all results of its operands. Rounding is
left to the margin of whoever compares.
"""

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """Least and most of many quantities, one each box."""

    low: Reals
    high: Reals

    def __add__(self, other: "Interval | float") -> "Interval":
        if isinstance(other, Interval):
            return Interval(self.low + other.low, self.high + other.high)
        return Interval(self.low + other, self.high + other)

    def __mul__(self, other: "Interval | float") -> "Interval":
        if isinstance(other, Interval):
            pairs = (self.low * other.low, self.low * other.high, self.high * other.low, self.high * other.high)
            return Interval(np.minimum.reduce(pairs), np.maximum.reduce(pairs))
        ends = self.low * other, self.high * other
        return Interval(np.minimum(*ends), np.maximum(*ends))

    @property
    def magnitude(self) -> Reals:
        """The most that each can be away from 0."""
        return np.maximum(np.abs(self.low), np.abs(self.high))


def composed(outer: list[Interval], inner: list[Interval]) -> list[Interval]:
    """First to fifth derivatives of f(g(u)), from those of f at g and of g at u (Faa di Bruno)."""
    f1, f2, f3, f4, f5 = outer
    g1, g2, g3, g4, g5 = inner
    g11 = g1 * g1
    return [
        f1 * g1,
        f2 * g11 + f1 * g2,
        f3 * (g11 * g1) + f2 * (g1 * g2) * 3.0 + f1 * g3,
        f4 * (g11 * g11) + f3 * (g11 * g2) * 6.0 + f2 * (g1 * g3 * 4.0 + g2 * g2 * 3.0) + f1 * g4,
        f5 * (g11 * g11 * g1)
        + f4 * (g11 * g1 * g2) * 10.0
        + f3 * (g11 * g3 * 10.0 + g2 * g2 * g1 * 15.0)
        + f2 * (g1 * g4 * 5.0 + g2 * g3 * 10.0)
        + f1 * g5,
    ]


def logistic(share: Interval) -> list[Interval]:
    """The logistic function and its first four derivatives, by its own value: first to fifth of ln(1 + exp x)."""
    return [share, *(_ranged(share, coefficients) for coefficients in LOGISTIC)]


LOGISTIC = ((0.0, 1.0, -1.0), (0.0, 1.0, -3.0, 2.0), (0.0, 1.0, -7.0, 12.0, -6.0), (0.0, 1.0, -15.0, 50.0, -60.0, 24.0))
"""Derivatives of the logistic function as polynomials in its value, rising powers."""


def _ranged(over: Interval, coefficients: tuple[float, ...]) -> Interval:
    """A polynomial over intervals within 0 and 1: it turns at the roots of its derivative alone."""
    polynomial = np.polynomial.Polynomial(coefficients)
    ends = polynomial(over.low), polynomial(over.high)
    low, high = np.minimum(*ends), np.maximum(*ends)
    for turn in polynomial.deriv().roots().real.tolist():
        inside = (over.low < turn) & (turn < over.high)
        low = np.where(inside, np.minimum(low, polynomial(turn)), low)
        high = np.where(inside, np.maximum(high, polynomial(turn)), high)
    return Interval(low, high)


def _softened(argument: Interval, derivatives: list[Interval]) -> tuple[Interval, list[Interval]]:
    """ln(1 + exp x) of an argument with its derivatives by u, and those of what results."""
    share = Interval(0.5 + 0.5 * np.tanh(0.5 * argument.low), 0.5 + 0.5 * np.tanh(0.5 * argument.high))
    value = Interval(np.logaddexp(0.0, argument.low), np.logaddexp(0.0, argument.high))
    return value, composed(logistic(share), derivatives)


def boxes(low: float, high: float, step: float, ratio: float, most_roughness: float) -> tuple[Interval, Interval]:
    """Boxes of ``u`` and ``w`` that cover Reynolds numbers from low to high and relative roughness from 0 to a most."""
    edges = np.linspace(log(low), log(high), max(int(np.ceil((log(high) - log(low)) / step)), 1) + 1)
    smooth = np.exp(0.9 * (log(7.0) - edges[1:]))
    deepest = float(np.log1p(0.27 * most_roughness / smooth).max())
    shares = np.exp(-np.linspace(0.0, deepest, max(int(np.ceil(deepest / ratio)), 1) + 1))
    u_low, w_high = (each.ravel() for each in np.meshgrid(edges[:-1], shares[:-1], indexing="ij"))
    u_high, w_low = (each.ravel() for each in np.meshgrid(edges[1:], shares[1:], indexing="ij"))
    smooth = np.exp(0.9 * (log(7.0) - u_high))
    met = w_high >= smooth / (smooth + 0.27 * most_roughness)
    return Interval(u_low[met], u_high[met]), Interval(w_low[met], w_high[met])


def fifth(u: Interval, w: Interval) -> Reals:
    """The most that ``|Re^5 g'''''(Re)| / g(Re)`` can be in each box."""
    # m = -ln y with its derivatives
    m = Interval(0.9 * (u.low - log(7.0)) + np.log(w.low), 0.9 * (u.high - log(7.0)) + np.log(w.high))
    logged = [each * -((-0.9) ** (n + 1)) for n, each in enumerate(logistic(w))]
    inverse = Interval(1.0 / m.high, 1.0 / m.low)
    powers = [inverse]
    for _ in range(4):
        powers.append(powers[-1] * inverse)
    of_log = [power * sign for power, sign in zip(powers, (1.0, -1.0, 2.0, -6.0, 24.0), strict=True)]
    depth = [each * 16.0 for each in composed(of_log, logged)]
    a = Interval(np.log(m.low), np.log(m.high)) + u
    a = (a + (log(2.457) - log(37530.0))) * 16.0
    depth[0] = depth[0] + 16.0
    soft, soft_derivatives = _softened(a, depth)
    b = (u * 24.0 + soft * -1.0 + (8.0 * log(37530.0 / 8.0) - 24.0 * log(37530.0))) * 1.5
    b_derivatives = [each * -1.5 for each in soft_derivatives]
    b_derivatives[0] = b_derivatives[0] + 36.0
    _, risen = _softened(b, b_derivatives)
    d1, d2, d3, d4, d5 = [each * (1.0 / 12.0) for each in risen]
    return _falling(d1 + 1.0, d2, d3, d4, d5).magnitude


def _falling(d1: Interval, d2: Interval, d3: Interval, d4: Interval, d5: Interval) -> Interval:
    """``Re^5 g''''' / g`` from the derivatives of ``F = ln g`` by u. With t = d/du it is
    ``t (t - 1) (t - 2) (t - 3) (t - 4) e^F / e^F``, where ``t^n e^F / e^F`` is the n-th complete Bell polynomial of them."""
    e0, e1, e2, e3, e4 = (d1 + -float(k) for k in range(5))
    bent = d2 * _polynomial(d1, (-50.0, 105.0, -60.0, 10.0)) + d3 * _polynomial(d1, (35.0, -40.0, 10.0))
    bent = bent + d4 * _polynomial(d1, (-10.0, 5.0)) + d5
    bent = bent + d2 * d2 * _polynomial(d1, (-30.0, 15.0)) + d2 * d3 * 10.0
    return e0 * e1 * e2 * e3 * e4 + bent


def _polynomial(x: Interval, coefficients: tuple[float, ...]) -> Interval:
    total = Interval(np.full_like(x.low, coefficients[-1]), np.full_like(x.low, coefficients[-1]))
    for coefficient in coefficients[-2::-1]:
        total = total * x + coefficient
    return total

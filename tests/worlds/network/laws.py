"""The loss of one link of a network against its flow, with its slope, in plain scalars."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.loop.graph import Element
from optimizer.loop.operating import pump_head_m
from optimizer.model.losses import Run
from optimizer.model.parts import PumpCurve
from optimizer.physics.arrays import Floats
from optimizer.physics.hose import curvature_factor, friction_factor
from optimizer.physics.water import GRAVITY_MS2

Friction = Callable[[Floats, Floats], Floats]
"""Darcy friction factor from the Reynolds number and the relative roughness; 64/Re below Re = 1."""

SLOPE_STEP = 1e-5
"""Half width of a difference quotient, as a share of the flow: its error, about 1e-10, costs no step of Newton's
method."""


class Law(Protocol):
    """Head lost by a link from its first node to its second. It must be continuous and never fall as the flow rises."""

    def head_m(self, flow_m3s: float) -> float:
        """Head lost at a flow of either sign, in m."""

    def slope(self, flow_m3s: float) -> float:
        """Rise of the loss with the flow, in s/m2, never negative."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fluid:
    """What friction depends on besides the hose: viscosity in m2/s, the friction factor's formula, gravity in m/s2."""

    kinematic_m2s: float
    friction: Friction = friction_factor
    gravity_ms2: float = GRAVITY_MS2


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementLaw:
    """The law of a part or joint: lift, linear and quadratic loss, hose friction, less the head of a pump.

    A pump pushed backwards goes on along its curve, that is, it resists with more than its head at no flow.

    >>> from optimizer.model.losses import Loss
    >>> curve = PumpCurve(flows_m3s=(0.0, 1e-3), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> law = ElementLaw(element=pump, fluid=Fluid(kinematic_m2s=1e-6))
    >>> [round(law.head_m(flow), 3) for flow in (-5e-4, 0.0, 5e-4, 1e-3)]
    [-2.5, -2.0, -1.5, 0.0]
    """

    element: Element
    fluid: Fluid

    def head_m(self, flow_m3s: float) -> float:
        """Head lost at a flow of either sign, in m; a pump's head counts as a negative loss."""
        loss = self.element.loss
        head = loss.still_m + loss.linear * flow_m3s + loss.quadratic * flow_m3s * abs(flow_m3s)
        if loss.run is not None:
            head += run_head_m(loss.run, flow_m3s, self.fluid)
        if self.element.curve is not None:
            head -= pump_head_m(self.element.curve, self.element.speed, flow_m3s)
        return head

    def slope(self, flow_m3s: float) -> float:
        """Rise of the loss with the flow, in s/m2."""
        loss = self.element.loss
        slope = loss.linear + 2.0 * loss.quadratic * abs(flow_m3s)
        if loss.run is not None:
            slope += _run_slope(loss.run, flow_m3s, self.fluid)
        if self.element.curve is not None:
            slope += _pump_fall(self.element.curve, self.element.speed, flow_m3s)
        return slope


def run_head_m(run: Run, flow_m3s: float, fluid: Fluid) -> float:
    """Friction head of a hose run in m (Darcy and Weisbach), with the sign of the flow.

    Below Re = 1 it is a straight line through nothing: laminar, and without a division by the flow.

    >>> round(run_head_m(Run(bore_m=0.016, length_m=1.0, roughness_m=0.0), 800e-3 / 3600, Fluid(kinematic_m2s=0.913148e-6)), 5)
    0.10139
    """
    creep = _creep_m3s(run, fluid)
    size = max(abs(flow_m3s), creep)
    speed = size / (math.pi * run.bore_m**2 / 4.0)
    reynolds = max(speed * run.bore_m / fluid.kinematic_m2s, 1.0)
    factor = run.factor * float(fluid.friction(reynolds, run.roughness_m / run.bore_m))
    if math.isfinite(run.coil_m):
        factor *= float(curvature_factor(reynolds, run.bore_m, run.coil_m))
    head = factor * run.length_m / run.bore_m * speed * speed / (2.0 * fluid.gravity_ms2)
    return head * flow_m3s / size


def _creep_m3s(run: Run, fluid: Fluid) -> float:
    """Flow at which Re is 1."""
    return fluid.kinematic_m2s * math.pi * run.bore_m / 4.0


def _run_slope(run: Run, flow_m3s: float, fluid: Fluid) -> float:
    size = abs(flow_m3s)
    creep = _creep_m3s(run, fluid)
    if size <= creep:
        return run_head_m(run, creep, fluid) / creep
    step = SLOPE_STEP * size
    return (run_head_m(run, size + step, fluid) - run_head_m(run, size - step, fluid)) / (2.0 * step)


def _pump_fall(curve: PumpCurve, speed: float, flow_m3s: float) -> float:
    """How fast the head of a pump falls with the flow, in s/m2."""
    if curve.shape:
        ratio = abs(flow_m3s) / (speed * curve.max_flow_m3s)
        return speed * curve.shape * curve.max_head_m / curve.max_flow_m3s * float(np.power(ratio, curve.shape - 1.0))
    step = SLOPE_STEP * max(abs(flow_m3s), speed * curve.max_flow_m3s)
    return (pump_head_m(curve, speed, flow_m3s - step) - pump_head_m(curve, speed, flow_m3s + step)) / (2.0 * step)

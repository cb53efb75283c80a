"""Stacks of layers that catch solids, many at once: what each holds after so much has come in, in closed form.

What is coarser than the pores of a layer and has passed all before it stays on its face, a constant share of all that comes; the
rest goes into its depth. A face stops its share before the depth of layers in front of it gets any of that: a little too much for
fine media behind coarse ones, and what makes the shares constant.

Rows are stacks, columns layers in the order of the water. A layer of no passage (an empty tray) catches nothing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.laws import VOIDAGE, Laws
from optimizer.loop.terms import CLOGGING_LAW
from optimizer.model.parts import Canister, Guard, Medium
from optimizer.model.rig import Tray
from optimizer.model.state import State
from optimizer.physics.cake import cake_thickness_m, coarser_share, kept_by_faces, pore_opening_m
from optimizer.physics.deposit import (
    caught_share,
    filter_coefficient_1m,
    layer_factor,
    load_of_factor,
    passed_load,
    share_held,
)
from optimizer.physics.guards import stopped_share
from optimizer.physics.media import clogging_factor, filled_for_factor, foam_coefficients

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

NOTHING = 1e-30
"""Stands for the capacity in kg and the passage of a layer that catches nothing, so that nothing is divided by 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer: its passage (filter coefficient times depth), the dry solids in kg it can hold, its voids, the filled share of
    its pores and the cake on its face at the start, the size of what just passes its pores (inf: anything) and its area."""

    passage: float = 0.0
    capacity_kg: float = 0.0
    voidage: float = 0.4
    filled: float = 0.0
    cake_m: float = 0.0
    opening_m: float = math.inf
    area_m2: float = 1.0


def tray_layer(tray: Tray, canister: Canister, laws: Laws) -> Layer:
    """The layer in a tray; one of no passage when the tray is empty."""
    if tray.medium is None:
        return Layer()
    return medium_layer(tray.medium, tray.state, canister.tray_height_m, canister.tray_area_m2, laws)


def medium_layer(medium: Medium, state: State, depth_m: float, area_m2: float, laws: Laws) -> Layer:
    """A layer of a medium of a depth and area (m, m2)."""
    opening = float(pore_opening_m(medium.permeability_m2, laws.pore_roots))
    bed = _layer(medium.permeability_m2, VOIDAGE[medium.form], depth_m, area_m2, laws)
    return replace(bed, filled=state.filled, cake_m=state.cake_m, opening_m=opening)


def guard_layer(guard: Guard, state: State, laws: Laws) -> Layer:
    """The wall of a sponge as a layer; a screen has none."""
    if guard.form != "sponge":
        return Layer(opening_m=guard.opening_m)
    permeability, _ = foam_coefficients(guard.pores_ppi)
    wall = _layer(float(permeability), VOIDAGE["foam"], guard.thickness_m, guard.face_area_m2, laws)
    return replace(wall, filled=state.blocked, cake_m=state.cake_m, opening_m=guard.opening_m)


def _layer(permeability_m2: float, voidage: float, depth_m: float, area_m2: float, laws: Laws) -> Layer:
    return Layer(
        passage=float(filter_coefficient_1m(permeability_m2, laws.capture)) * depth_m,
        capacity_kg=laws.full_share * voidage * depth_m * area_m2 / laws.sludge_m3kg,
        voidage=voidage,
        area_m2=area_m2,
    )


def usual_cake_m(layer: Layer, laws: Laws) -> float:
    """The cake in m that comes with what fills the pores of a layer, as if it were alone and nothing settled elsewhere: then all
    that is coarser than its pores is on its face, and all the rest in its depth.

    >>> from optimizer.dirt.laws import USUAL
    >>> usual_cake_m(Layer(passage=0.3, capacity_kg=0.09, opening_m=1e-3), USUAL)
    0.0
    """
    coarse = float(coarser_share(laws.straining, layer.opening_m, laws.solids_size_m))
    layers = Layers.of([[layer]], laws)
    deep_kg = float(layers.held_kg(layers.start)[0, 0])
    thick = cake_thickness_m(deep_kg * coarse / (1.0 - coarse), layer.area_m2, laws.sludge_m3kg)
    return min(float(thick), laws.cake_most_m)


CELLS = tuple(field.name for field in fields(Layer))
"""What `Layers` holds of each layer, as columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Stacks as arrays of shape (stacks, layers); ``start`` is the load each layer has seen already."""

    passage: Reals
    capacity_kg: Reals
    voidage: Reals
    filled: Reals
    cake_m: Reals
    opening_m: Reals
    area_m2: Reals
    start: Reals
    laws: Laws

    @classmethod
    def of(cls, stacks: Sequence[Sequence[Layer]], laws: Laws) -> "Layers":
        """Arrays of stacks of layers, short ones filled up with layers that catch nothing."""
        width = max((len(stack) for stack in stacks), default=0) or 1
        full = [[*stack, *[Layer()] * (width - len(stack))] for stack in stacks]
        columns = [[[getattr(one, name) for name in CELLS] for one in stack] for stack in full]
        values = np.array(columns, dtype=float).reshape(len(full), width, len(CELLS))
        cells = {name: np.ascontiguousarray(values[..., n]) for n, name in enumerate(CELLS)}
        passage, voidage, filled = cells["passage"], cells["voidage"], cells["filled"]
        start = np.zeros_like(passage)
        dirty = filled > 0.0
        if dirty.any():
            left = clogging_factor(CLOGGING_LAW, filled[dirty])
            start[dirty] = load_of_factor(laws.clogging, left, passage[dirty], laws.full_share, voidage[dirty])
        return cls(**cells, start=start, laws=laws)

    def take(self, rows: Ints) -> "Layers":
        """Some of the stacks."""
        cells = {name: getattr(self, name)[rows] for name in (*CELLS, "start")}
        return Layers(laws=self.laws, **cells)

    def caught_share(self, load: Reals) -> Reals:
        """Share of the solids that each stack keeps in one pass, (stacks,), at a load of every layer, (stacks, layers)."""
        return np.asarray(1.0 - np.prod(1.0 - np.asarray(caught_share(load, self.passage)), axis=1), dtype=float)

    def fed(self, load: Reals, entered_kg: Reals) -> tuple[Reals, Reals]:
        """Load of every layer after ``entered_kg`` (stacks,) more has come in, and what went on out of each stack, in kg."""
        loads, coming = np.array(load, dtype=float), np.asarray(entered_kg, dtype=float)
        for n in range(loads.shape[1]):
            passage = self.passage[:, n]
            catches = passage > 0.0
            per_kg = np.where(catches, passage, 0.0) / np.maximum(self.capacity_kg[:, n], NOTHING)
            before = loads[:, n]
            after = before + per_kg * coming
            out = (np.asarray(passed_load(after, passage)) - passed_load(before, passage)) / np.where(catches, per_kg, 1.0)
            loads[:, n] = after
            coming = np.where(catches, np.minimum(out, coming), coming)
        return loads, coming

    def held_kg(self, load: Reals) -> Reals:
        """Dry solids in every layer, (stacks, layers) in kg."""
        return np.asarray(np.asarray(share_held(load, self.passage)) * self.capacity_kg, dtype=float)

    def cakes_m(self, landed_kg: Reals) -> Reals:
        """Thickness in m of the cake on every face once so much dry matter has landed there since the start, (stacks, layers).

        It grows to the most that there can be; one that was thicker from the first stays as it was.
        """
        thick = self.cake_m + cake_thickness_m(landed_kg, self.area_m2, self.laws.sludge_m3kg)
        return np.maximum(self.cake_m, np.minimum(thick, self.laws.cake_most_m))

    def gained_kg(self, load: Reals) -> Reals:
        """Dry solids that every layer has taken up since the start, (stacks, layers) in kg."""
        return self.held_kg(load) - self.held_kg(self.start)

    def states(self, load: Reals, landed_kg: Reals) -> Reals:
        """`State.filled` and `State.cake_m` of every layer, (2, stacks, layers): see `filled_shares` and `cakes_m`."""
        return np.stack([self.filled_shares(load), self.cakes_m(landed_kg)])

    def filled_shares(self, load: Reals) -> Reals:
        """What `State.filled` of every layer is at a load: the evenly filled share that would cost the same.

        A deposit sits mostly where the water enters, and so costs more than the same amount spread evenly. A layer that started
        dirtier than it can become stays as it was.
        """
        factor = layer_factor(self.laws.clogging, load, self.passage, self.laws.full_share, self.voidage)
        even = np.asarray(filled_for_factor(CLOGGING_LAW, factor))
        return np.asarray(np.where(self.passage > 0.0, np.maximum(even, self.filled), self.filled), dtype=float)


class Made(Protocol):
    """What is made in a tank, in kg/day, such as `Daily`."""

    @property
    def solids_kg_day(self) -> float:
        """Dry solids of fish and food."""

    @property
    def debris_kg_day(self) -> float:
        """Dry drifting debris."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Faces:
    """What stays on the faces that the water of many loops meets, as shares by mass of what is made of solids and of debris: on
    the guards, each (loops,), and on the media behind them, each (loops, layers).

    They hang on no load: a cake filters no finer than the pores that it lies on.
    """

    guard_solids: Reals
    guard_debris: Reals
    solids: Reals
    debris: Reals

    @classmethod
    def of(cls, guards: Layers, is_sponge: NDArray[np.bool_], stacks: Layers) -> "Faces":
        """Those of stacks behind guards, (loops, 1). What is finer than the openings of a screen has passed it: it tears the
        soft solids, but they are no finer than the screen behind it."""
        laws, openings = stacks.laws, (guards.opening_m[:, 0], stacks.opening_m)
        fronts, behind = (np.asarray(coarser_share(laws.straining, each, laws.solids_size_m)) for each in openings)
        stopped, shut = (np.asarray(stopped_share(each, laws.scrap_m)) for each in openings)
        sieves = laws.straining != "none"
        return cls(
            guard_solids=np.where(is_sponge, fronts, 0.0),
            guard_debris=stopped,
            solids=np.asarray(kept_by_faces(behind, fronts)),
            debris=np.asarray(kept_by_faces(shut, stopped)) * sieves,
        )

    def on_guard_kg_day(self, made: Made) -> Reals:
        """Dry matter that would stay on each guard if all that is made came by, (loops,)."""
        return self.guard_solids * made.solids_kg_day + self.guard_debris * made.debris_kg_day

    def on_media_kg_day(self, made: Made) -> Reals:
        """The same of each face of the media, (loops, layers)."""
        return self.solids * made.solids_kg_day + self.debris * made.debris_kg_day

    def rest_kg_day(self, made: Made) -> Reals:
        """Dry matter that passes all faces, (loops,)."""
        solids = 1.0 - self.guard_solids - self.solids.sum(axis=1)
        debris = 1.0 - self.guard_debris - self.debris.sum(axis=1)
        return np.asarray(np.maximum(solids, 0.0) * made.solids_kg_day + np.maximum(debris, 0.0) * made.debris_kg_day)

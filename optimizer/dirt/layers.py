"""Stacks of layers that catch solids, many at once: what each holds after so much has come in, in closed form.

Rows are stacks, columns layers in the order of the water. A layer of no passage (an empty tray) catches nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.laws import VOIDAGE, Laws
from optimizer.loop.terms import CLOGGING_LAW
from optimizer.model.parts import Canister, Guard, Medium
from optimizer.model.rig import Tray
from optimizer.physics.deposit import (
    caught_share,
    filter_coefficient_1m,
    layer_factor,
    load_of_factor,
    passed_load,
    share_held,
)
from optimizer.physics.media import clogging_factor, filled_for_factor, foam_coefficients

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

NOTHING = 1e-30
"""Stands for the capacity in kg and the passage of a layer that catches nothing, so that nothing is divided by 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer: its passage (filter coefficient times depth), the dry solids in kg it can hold, its voids, and the filled share
    of its pores at the start."""

    passage: float = 0.0
    capacity_kg: float = 0.0
    voidage: float = 0.4
    filled: float = 0.0


def tray_layer(tray: Tray, canister: Canister, laws: Laws) -> Layer:
    """The layer in a tray; one of no passage when the tray is empty."""
    if tray.medium is None:
        return Layer()
    return medium_layer(tray.medium, tray.state.filled, canister.tray_height_m, canister.tray_area_m2, laws)


def medium_layer(medium: Medium, filled: float, depth_m: float, area_m2: float, laws: Laws) -> Layer:
    """A layer of a medium of a depth and area (m, m2)."""
    voidage = VOIDAGE[medium.form]
    return _layer(medium.permeability_m2, voidage, filled, depth_m, area_m2, laws)


def guard_layer(guard: Guard, blocked: float, laws: Laws) -> Layer:
    """The wall of a sponge as a layer; a screen has none."""
    if guard.form != "sponge":
        return Layer()
    permeability, _ = foam_coefficients(guard.pores_ppi)
    return _layer(float(permeability), VOIDAGE["foam"], blocked, guard.thickness_m, guard.face_area_m2, laws)


def _layer(permeability_m2: float, voidage: float, filled: float, depth_m: float, area_m2: float, laws: Laws) -> Layer:
    return Layer(
        passage=float(filter_coefficient_1m(permeability_m2, laws.capture)) * depth_m,
        capacity_kg=laws.full_share * voidage * depth_m * area_m2 / laws.sludge_m3kg,
        voidage=voidage,
        filled=filled,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Stacks as arrays of shape (stacks, layers); ``start`` is the load each layer has seen already."""

    passage: Reals
    capacity_kg: Reals
    voidage: Reals
    filled: Reals
    start: Reals
    laws: Laws

    @classmethod
    def of(cls, stacks: Sequence[Sequence[Layer]], laws: Laws) -> "Layers":
        """Arrays of stacks of layers, short ones filled up with layers that catch nothing."""
        width = max((len(stack) for stack in stacks), default=0) or 1
        full = [[*stack, *[Layer()] * (width - len(stack))] for stack in stacks]
        columns = [[(one.passage, one.capacity_kg, one.voidage, one.filled) for one in stack] for stack in full]
        cells = np.array(columns, dtype=float).reshape(len(full), width, 4)
        passage, capacity, voidage, filled = (np.ascontiguousarray(cells[..., n]) for n in range(4))
        start = np.zeros_like(passage)
        dirty = filled > 0.0
        if dirty.any():
            left = clogging_factor(CLOGGING_LAW, filled[dirty])
            start[dirty] = load_of_factor(laws.clogging, left, passage[dirty], laws.full_share, voidage[dirty])
        return cls(passage=passage, capacity_kg=capacity, voidage=voidage, filled=filled, start=start, laws=laws)

    def take(self, rows: Ints) -> "Layers":
        """Some of the stacks."""
        cells = {name: getattr(self, name)[rows] for name in ("passage", "capacity_kg", "voidage", "filled", "start")}
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

    def filled_shares(self, load: Reals) -> Reals:
        """What `State.filled` of every layer is at a load: the evenly filled share that would cost the same.

        A deposit sits mostly where the water enters, and so costs more than the same amount spread evenly. A layer that started
        dirtier than it can become stays as it was.
        """
        factor = layer_factor(self.laws.clogging, load, self.passage, self.laws.full_share, self.voidage)
        even = np.asarray(filled_for_factor(CLOGGING_LAW, factor))
        return np.asarray(np.where(self.passage > 0.0, np.maximum(even, self.filled), self.filled), dtype=float)

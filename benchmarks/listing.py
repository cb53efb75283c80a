"""Whole bundles as arrays: their true prices and their loops, for the rivals that look at many bundles at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.batch import Loops, solve
from optimizer.model.parts import Pump
from optimizer.search.layers import Problem

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]

NOT_FOR_SALE = 1e12


@dataclass(frozen=True, slots=True)
class Bundles:
    """n bundles: flat option and joint rows, shape (n, layers)."""

    options: Ints
    joints: Ints

    def rows(self, rows: Ints) -> "Bundles":
        """Some of them."""
        return Bundles(self.options[rows], self.joints[rows])


def every_bundle(problem: Problem) -> Bundles:
    """All paths through the layers. Only for problems of a few million bundles."""
    options, joints = np.zeros((1, 0), dtype=np.int32), np.zeros((1, 0), dtype=np.int32)
    state = np.zeros(1, dtype=np.intp)
    for place, layer in enumerate(problem.layers):
        for source, target, start, is_option in (
            (layer.joint_from, layer.joint_to, problem.joint_at[place], False),
            (layer.entry, layer.leave, problem.option_at[place], True),
        ):
            order = np.argsort(source, kind="stable")
            counts = np.bincount(source, minlength=max(int(state.max(initial=0)), int(source.max())) + 1)
            first = np.cumsum(counts) - counts
            repeats = counts[state]
            parent = np.repeat(np.arange(len(state)), repeats)
            within = np.arange(len(parent)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
            picked = order[first[state[parent]] + within]
            options, joints = options[parent], joints[parent]
            column = (picked + start).astype(np.int32)[:, None]
            if is_option:
                options = np.hstack([options, column])
            else:
                joints = np.hstack([joints, column])
            state = target[picked]
    return Bundles(options, joints)


class Scorer:
    """Prices and loops of bundles of one problem, vectorised; shared products are priced by the shop, once per need."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.needs: dict[int, float] = {}
        most = _most(problem.option_special, problem.option_at, len(problem.specials))
        most += _most(problem.joint_special, problem.joint_at, len(problem.specials))
        self.radix = [int(count) + 1 for count in most]
        weight = np.array([int(n) for n in np.cumprod([1, *self.radix[:-1]], dtype=object)], dtype=np.int64)
        self.option_need = _sums(problem.option_special, weight, len(problem.option_plain))
        self.joint_need = _sums(problem.joint_special, weight, len(problem.joint_plain))
        options = [option for layer in problem.layers for option in layer.options]
        self.runs = np.array(
            [
                (run.bore_m, run.length_m, run.roughness_m, run.factor) if run else (1.0, 0.0, 0.0, 1.0)
                for run in (option.loss.run for option in options)
            ]
        )
        pump = problem.layers[problem.pump].options
        self.curves = np.array(
            [
                (o.part.curve.max_head_m * o.speed**2, o.part.curve.max_flow_m3s * o.speed, o.part.curve.shape)
                for o in pump
                if isinstance(o.part, Pump)
            ]
        )
        self.hoses = [n for n, position in enumerate(problem.choices.rig.positions) if position.kind == "hose"]

    def today_m3s(self) -> float:
        """Flow of the rig as it stands: everything kept, joined as it is."""
        problem, options, joints = self.problem, [], []
        for place, layer in enumerate(problem.layers):
            options.append(next(n for n, option in enumerate(layer.options) if option.change == "keep"))
            pairs = zip(layer.joints, layer.joint_to.tolist(), strict=True)
            ways = [n for n, (chain, to) in enumerate(pairs) if chain.as_is and to == layer.entry[options[-1]]]
            joints.append(ways[0] + problem.joint_at[place])
        rows = np.array(options, dtype=np.intp) + np.array(problem.option_at[:-1], dtype=np.intp)
        kept = Bundles(rows[None, :], np.array(joints, dtype=np.intp)[None, :])
        return float(solve(self.loops(kept)).flow_m3s[0])

    def price(self, bundles: Bundles) -> Reals:
        """True price of each bundle, in minor units."""
        plain = self.problem.option_plain[bundles.options].sum(axis=1)
        plain += self.problem.joint_plain[bundles.joints].sum(axis=1)
        need = self.option_need[bundles.options].sum(axis=1) + self.joint_need[bundles.joints].sum(axis=1)
        different, which = np.unique(need, return_inverse=True)
        return np.asarray(plain + np.array([self._shared(code) for code in different.tolist()])[which])

    def _shared(self, code: int) -> float:
        if code not in self.needs:
            items, rest = [], code
            for item, radix in zip(self.problem.specials, self.radix, strict=True):
                rest, count = divmod(rest, radix)
                items += [item] * count
            cover = self.problem.shop.cover(items)
            self.needs[code] = NOT_FOR_SALE if cover is None else float(cover.price)
        return self.needs[code]

    def loops(self, bundles: Bundles) -> Loops:
        """The loops of the bundles, for `optimizer.loop.batch.solve`."""
        heads = self.problem.heads
        runs = self.runs[bundles.options[:, self.hoses]]
        curve = self.curves[bundles.options[:, self.problem.pump] - self.problem.option_at[self.problem.pump]]
        return Loops(
            lift_m=heads.lift[bundles.options].sum(axis=1),
            linear=heads.linear[bundles.options].sum(axis=1),
            quadratic=heads.quadratic[bundles.options].sum(axis=1) + self.problem.joint_quadratic[bundles.joints].sum(axis=1),
            run_bore_m=runs[:, :, 0],
            run_length_m=runs[:, :, 1],
            run_roughness_m=runs[:, :, 2],
            run_factor=runs[:, :, 3],
            max_head_m=curve[:, 0],
            max_flow_m3s=curve[:, 1],
            shape=curve[:, 2],
            kinematic_m2s=heads.runs.kinematic_m2s,
        )


def _sums(pairs: tuple[Ints, Ints], weight: NDArray[np.int64], rows: int) -> NDArray[np.int64]:
    sums = np.zeros(rows, dtype=np.int64)
    np.add.at(sums, pairs[0], weight[pairs[1]])
    return sums


def _most(pairs: tuple[Ints, Ints], starts: Sequence[int], items: int) -> Ints:
    """The most of each item that one path can need."""
    counts = np.zeros((starts[-1], items), dtype=np.intp)
    np.add.at(counts, pairs, 1)
    layers = [counts[a:b].max(axis=0, initial=0) for a, b in pairwise(starts)]
    return np.asarray(np.sum(layers, axis=0), dtype=np.intp)

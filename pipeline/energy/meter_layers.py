"""Levels of a load taken apart into the steps that made them: a layer begins at a step up and ends at one down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_MOST_TRIED = 8  # layers open at once among which sums are tried
# Shares of a step down within which a layer is equal to it, and within which a sum of layers may still be what ended.
_EQUAL, _ALIKE = 0.1, 0.3


@dataclass(frozen=True)
class Layer:
    """A load [kW] that was there from stretch ``first`` on, until before stretch ``beyond`` (None: still there)."""

    first: int
    size_kw: float
    beyond: int | None = None


def layers_of(levels_kw: Sequence[float] | Floats, least_kw: float) -> list[Layer]:
    """The layers behind a row of levels above the load of nothing burning; levels below ``least_kw`` count as none.

    A step up opens a layer of its size. A step down ends the open layer that is equal to it (of several the one that
    has been there longest; of none those whose sum is), else those whose sizes come nearest; where none do, a part of
    the largest, as if two had begun at once. On the ground no layer is left open.
    """
    done: list[Layer] = []
    open_: list[Layer] = []
    before = 0.0
    for stretch, level in enumerate(np.where(np.asarray(levels_kw) < least_kw, 0.0, levels_kw).tolist()):
        step = level - before
        if level == 0:
            done += [replace(layer, beyond=stretch) for layer in open_]
            open_ = []
        elif step >= least_kw:
            open_.append(Layer(stretch, step))
        elif step <= -least_kw and open_:
            ended, open_ = _ended(open_, -step)
            done += [replace(layer, beyond=stretch) for layer in ended]
        before = level
    return sorted(done + open_, key=lambda layer: (layer.first, -layer.size_kw))


def _ended(open_: list[Layer], down_kw: float) -> tuple[list[Layer], list[Layer]]:
    """Which layers end at a step down that leaves something, and what stays open."""
    tried = open_[-_MOST_TRIED:]
    sizes = range(1, min(len(open_), len(tried) + 1))
    choices = [chosen for size in sizes for chosen in combinations(tried, size)]
    near = [chosen for chosen in choices if abs(_sum(chosen) - down_kw) <= _EQUAL * down_kw]
    if near:
        return _parted(open_, near[0])  # the fewest; of equal ones the one that has been there longest
    nearest = min(choices, key=lambda chosen: abs(_sum(chosen) - down_kw), default=())
    if nearest and abs(_sum(nearest) - down_kw) <= _ALIKE * down_kw:
        return _parted(open_, nearest)
    largest = max(open_, key=lambda layer: layer.size_kw)
    part = min(down_kw, 0.9 * largest.size_kw)
    rest = [layer for layer in open_ if layer is not largest]
    return [replace(largest, size_kw=part)], [*rest, replace(largest, size_kw=largest.size_kw - part)]


def _parted(open_: list[Layer], ended: tuple[Layer, ...]) -> tuple[list[Layer], list[Layer]]:
    return list(ended), [layer for layer in open_ if not any(layer is one for one in ended)]


def _sum(chosen: Sequence[Layer]) -> float:
    return sum(layer.size_kw for layer in chosen)

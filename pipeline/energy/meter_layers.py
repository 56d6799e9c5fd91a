"""Levels of a load taken apart into the steps that made them: a layer begins at a step up and ends at one down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_MOST_TRIED = 8  # layers open at once among which sums are tried
_ALIKE = (
    0.3  # a step down ends layers whose sum is within this share of it; else it ends a part of the largest
)


@dataclass(frozen=True)
class Layer:
    """A load [kW] that was there from stretch ``first`` on, until before stretch ``beyond`` (None: still there)."""

    first: int
    size_kw: float
    beyond: int | None = None


def layers_of(levels_kw: Sequence[float] | Floats, least_kw: float) -> list[Layer]:
    """The layers behind a row of levels above the load of nothing burning; levels below ``least_kw`` count as none.

    A step up opens a layer of its size. A step down ends those open layers whose sizes come nearest to it; where none
    do, a part of the largest, as if two had begun at once. On the ground no layer is left open.
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
    choices = [
        chosen for size in range(1, len(open_)) for chosen in combinations(tried, min(size, len(tried)))
    ]
    if choices:
        nearest = min(choices, key=lambda chosen: abs(_sum(chosen) - down_kw))
        if abs(_sum(nearest) - down_kw) <= _ALIKE * down_kw:
            return list(nearest), [layer for layer in open_ if layer not in nearest]
    largest = max(open_, key=lambda layer: layer.size_kw)
    part = min(down_kw, 0.9 * largest.size_kw)
    rest = [layer for layer in open_ if layer is not largest]
    return [replace(largest, size_kw=part)], [*rest, replace(largest, size_kw=largest.size_kw - part)]


def _sum(chosen: Sequence[Layer]) -> float:
    return sum(layer.size_kw for layer in chosen)

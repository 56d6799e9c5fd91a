"""Biases of estimates beside a known truth, and how often limits held, as cells of a Markdown table."""

from __future__ import annotations

import math

import numpy as np

from pipeline.survival import ImputedWeibull, WeibullFit

FIGURES = ("shape", "scale", "B10")
BOTH = [name for figure in FIGURES for name in (f"{figure} bias", "held")]


class Tally:
    """Biases and hits of one world, figure by figure."""

    def __init__(self) -> None:
        self.bias: dict[str, list[float]] = {}
        self.hits: dict[str, list[bool]] = {}
        self.sums = np.zeros(2)
        self.refused = 0

    def add(self, figure: str, found: float, truth: float, limits: tuple[float, float] | None = None) -> None:
        """One run's figure beside its truth."""
        self.bias.setdefault(figure, []).append(math.log(found / truth))
        if limits is not None:
            self.hits.setdefault(figure, []).append(limits[0] <= truth <= limits[1])

    def add_forecast(self, expected: float, truth: float, held: bool | None = None) -> None:
        """One run's forecast beside the true expectation, and whether its interval held the count."""
        self.sums += expected, truth
        if held is not None:
            self.hits.setdefault("forecast", []).append(held)

    def add_fit(self, fit: WeibullFit | ImputedWeibull, shape: float, scale: float) -> None:
        """Shape, scale and B10 of one run."""
        self.add("shape", fit.shape, shape, fit.shape_limits)
        self.add("scale", fit.scale_days, scale, fit.scale_limits)
        self.add("B10", fit.b_life(10), scale * (-math.log(0.9)) ** (1 / shape), fit.b_life_limits(10))

    def cells(self, figures: tuple[str, ...]) -> list[str]:
        """Bias and coverage of each figure, as text."""
        cells = []
        for figure in figures:
            if figure == "forecast":
                bias = self.sums[0] / self.sums[1] - 1
            else:
                bias = math.expm1(float(np.mean(self.bias[figure])))
            cells.append(f"{bias:+.1%}")
            if figure in self.hits:
                cells.append(f"{np.mean(self.hits[figure]):.1%}")
        return cells


def heading(*names: str) -> None:
    """Print the head of a table."""
    print("| " + " | ".join(names) + " |\n|" + "---|" * len(names), flush=True)


def row(*cells: object) -> None:
    """Print a row."""
    print("| " + " | ".join(str(cell) for cell in cells) + " |", flush=True)

"""Do failures fall where a fitted life expects them? Cox-Snell residuals, counted in stretches."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy.stats import chi2

from pipeline.survival.form import FloatArray

_MOST_BINS = 8
_EXPECTED_PER_BIN = 5.0  # common practice for a chi-square test, no source
SMALL_P = 0.05


def cox_snell(standard: pd.DataFrame, shape: float) -> pd.DataFrame:
    """The cumulative hazard that a Weibull gives each life at its ends: frame ``entry, exit, failed, quantity``.

    ``standard``: lives in their normal form, ages divided by the scale. A failure known to an interval counts at the
    interval's end.
    """
    return pd.DataFrame(
        {
            "entry": standard["entry_days"] ** shape,
            "exit": standard["exit_days"] ** shape,
            "failed": standard["failed"],
            "quantity": standard["quantity"],
        }
    )


def residual_bins(residuals: pd.DataFrame) -> pd.DataFrame:
    """Failures and those expected in up to eight stretches of residuals with at least five expected each.

    Frame ``from_residual, to_residual, failures, expected``.
    """
    number = residuals["quantity"].to_numpy(np.float64)
    entry, exit_ = residuals["entry"].to_numpy(np.float64), residuals["exit"].to_numpy(np.float64)
    failed = residuals["failed"].to_numpy(bool)
    points = np.unique(np.concatenate([entry, exit_]))
    passed = np.array(_passed(points, entry, exit_, number))
    count = int(min(_MOST_BINS, passed[-1] // _EXPECTED_PER_BIN))
    edges = np.interp(np.linspace(0.0, passed[-1], max(count, 1) + 1), passed, points)
    edges[0], edges[-1] = points[0], points[-1]
    place = np.clip(np.searchsorted(edges, exit_, side="left") - 1, 0, edges.size - 2)
    return pd.DataFrame(
        {
            "from_residual": edges[:-1],
            "to_residual": edges[1:],
            "failures": np.bincount(place[failed], weights=number[failed], minlength=edges.size - 1),
            "expected": np.diff(_passed(edges, entry, exit_, number)),
        }
    )


def _passed(points: FloatArray, entry: FloatArray, exit_: FloatArray, number: FloatArray) -> FloatArray:
    """Failures expected up to each point: the cumulative hazard that lives passed through below it."""
    order_in, order_out = np.argsort(entry), np.argsort(exit_)

    def below(values: FloatArray, weights: FloatArray) -> FloatArray:
        at = np.searchsorted(values, points, side="right")
        count = np.concatenate([[0.0], np.cumsum(weights)])[at]
        total = np.concatenate([[0.0], np.cumsum(weights * values)])[at]
        return np.asarray(points * count - total, dtype=np.float64)

    return below(entry[order_in], number[order_in]) - below(exit_[order_out], number[order_out])


def residual_p_value(bins: pd.DataFrame) -> float:
    """Chi-square of ``residual_bins`` on stretches - 2 degrees of freedom; NaN where there are too few.

    One degree for the level and one for the shape, an approximation.
    """
    freedom = len(bins) - 2
    if freedom < 1:
        return math.nan
    return float(chi2.sf(((bins["failures"] - bins["expected"]) ** 2 / bins["expected"]).sum(), freedom))


def residual_sentence(p_value: float, bins: pd.DataFrame, what: str) -> str:
    """The comparison in words; ``what`` was fitted: "the regression", "the Weibull"."""
    if math.isnan(p_value):
        return f"Too few failures to check whether they fall where {what} expects them."
    if p_value >= SMALL_P:
        return f"The failures fall where {what} expects them (chi-square p = {p_value:.2g})."
    misfit = ((bins["failures"] - bins["expected"]) ** 2 / bins["expected"]).to_numpy(np.float64)
    worst = bins.iloc[int(np.argmax(misfit))]
    side = "more" if worst["failures"] > worst["expected"] else "fewer"
    return (
        f"The failures do not fall where {what} expects them (chi-square p = {p_value:.2g}): most off, "
        f"{worst['failures']:.0f} where {worst['expected']:.1f} are expected, {side} than it says. "
        "Do not lean on its limits."
    )

"""The log-likelihood of a Weibull regression, with its derivatives."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.survival.form import FloatArray
from pipeline.survival.interval_terms import IntervalTerms
from pipeline.survival.margins import count_by_age

_HIGHEST = 600.0


class RegressionLikelihood:
    """In the parameters (hazard coefficients, log shape): log H(t) = shape * log t - design @ coefficients.

    ``lives`` in the form of ``check_lives``; ``design`` has a row per life. Rows alike are counted together.
    """

    def __init__(self, lives: pd.DataFrame, design: FloatArray) -> None:
        entry = lives["entry_days"].to_numpy(np.float64)
        exit_ = lives["exit_days"].to_numpy(np.float64)
        failed = lives["failed"].to_numpy(bool)
        number = lives["quantity"].to_numpy(np.float64)
        low = lives["exit_low_days"].to_numpy(np.float64) if "exit_low_days" in lives.columns else exit_
        between = failed & (low < exit_)
        rows = pd.DataFrame(design)
        which = rows.groupby(list(rows.columns), sort=False).ngroup().to_numpy(np.int64)
        self._patterns = design[np.unique(which, return_index=True)[1]]
        at, late = failed & ~between, entry > 0
        ends = np.where(between, low, exit_)  # the interval's own term says what follows its low end
        self._fail = _grouped(which[at], exit_[at], number[at])
        self._sum_log_days = float(self._fail[2] @ self._fail[1])
        self._net = _grouped(
            np.concatenate([which[ends > 0], which[late]]),
            np.concatenate([ends[ends > 0], entry[late]]),
            np.concatenate([number[ends > 0], -number[late]]),
        )
        with np.errstate(divide="ignore"):
            self._terms = IntervalTerms(np.log(low[between]), np.log(exit_[between]), number[between])
        self._between = which[between]
        self.exact = float(self._fail[2].sum())
        self.failures = self.exact + float(number[between].sum())

    def value_and_slope(self, point: FloatArray) -> tuple[float, FloatArray]:
        """Log-likelihood for ages in days, and its derivatives by each parameter."""
        shape = float(np.exp(min(point[-1], 50.0)))
        offsets = self._patterns @ point[:-1]
        value, by_offset, by_shape = self._known_ages(shape, float(point[-1]), offsets)
        if self._between.size:
            extra = self._intervals(shape, offsets)
            value, by_offset, by_shape = value + extra[0], by_offset + extra[1], by_shape + extra[2]
        slope = np.concatenate([self._patterns.T @ by_offset, [self.exact + shape * by_shape]])
        return value, slope

    def _known_ages(
        self, shape: float, log_shape: float, offsets: FloatArray
    ) -> tuple[float, FloatArray, float]:
        """Value, its derivative by the offset of each pattern, and by the shape (bar that of log shape)."""
        which, log_days, number = self._fail
        log_hazard = shape * log_days - offsets[which]
        value = float(number @ log_hazard) + self.exact * log_shape - self._sum_log_days
        by_offset = -_by_pattern(which, number, offsets.size)
        by_shape = float(number @ log_days)
        which, log_days, number = self._net
        hazard = number * np.exp(np.minimum(shape * log_days - offsets[which], _HIGHEST))
        by_offset += _by_pattern(which, hazard, offsets.size)
        return value - float(hazard.sum()), by_offset, by_shape - float(hazard @ log_days)

    def _intervals(self, shape: float, offsets: FloatArray) -> tuple[float, FloatArray, float]:
        log_rate, number = -offsets[self._between], self._terms.counts
        by_rate, by_shape = (
            self._terms.slope_by_rate(shape, log_rate),
            self._terms.slope_by_shape(shape, log_rate),
        )
        by_offset = _by_pattern(self._between, -number * by_rate, offsets.size)
        return float(number @ self._terms.values(shape, log_rate)), by_offset, float(number @ by_shape)

    def information(self, point: FloatArray, step: float = 1e-5) -> FloatArray:
        """Less the second derivatives, from differences of the first."""
        rows = [
            (self.value_and_slope(point - step * unit)[1] - self.value_and_slope(point + step * unit)[1])
            / (2 * step)
            for unit in np.eye(point.size)
        ]
        matrix = np.array(rows)
        return np.asarray((matrix + matrix.T) / 2, dtype=np.float64)


def _grouped(
    which: np.ndarray, days: FloatArray, number: FloatArray
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Pattern, log days and count of each distinct (pattern, days)."""
    ages, place = np.unique(days, return_inverse=True)
    keys, counts = count_by_age((which * max(ages.size, 1) + place.reshape(-1)).astype(np.float64), number)
    keep = counts != 0
    key = keys[keep].astype(np.int64)
    return key // max(ages.size, 1), np.log(ages[key % max(ages.size, 1)]), counts[keep]


def _by_pattern(which: np.ndarray, values: FloatArray, size: int) -> FloatArray:
    return np.bincount(which, weights=values, minlength=size).astype(np.float64)

"""What a failure between two ages adds to a Weibull log-likelihood: log(1 - S(high) / S(low))."""

from __future__ import annotations

import numpy as np

from pipeline.survival.form import FloatArray

_HIGHEST = 600.0  # exponents beyond this mean certain failure, and would overflow
_TINY = 1e-12


class IntervalTerms:
    """Terms for H(t) = exp(log_rate + shape * x(t)), with x the log age in any unit.

    ``low_x`` (-inf where the interval begins at age 0) and ``high_x`` have one element per interval;
    a ``log_rate`` may be one number or one per interval. That the control worked until the low end is
    counted elsewhere, with the exits.
    """

    def __init__(self, low_x: FloatArray, high_x: FloatArray, counts: FloatArray) -> None:
        self._low_x, self._high_x = low_x, high_x
        self._width_x = high_x - low_x
        self.counts = counts

    def values(self, shape: float, log_rate: float | FloatArray) -> FloatArray:
        """The term of each interval."""
        _, rise = self._hazards(shape, log_rate)
        return self._terms(shape, log_rate, rise)

    def _terms(self, shape: float, log_rate: float | FloatArray, rise: FloatArray) -> FloatArray:
        # For a rise too small to subtract from 1, the term is log(rise), written without subtracting.
        with np.errstate(divide="ignore"):
            small = log_rate + shape * self._high_x + np.log(-np.expm1(-shape * self._width_x))
            return np.asarray(np.where(rise < _TINY, small, np.log(-np.expm1(-rise))), dtype=np.float64)

    def slope_by_rate(self, shape: float, log_rate: float | FloatArray) -> FloatArray:
        """Derivative of each term by its log rate."""
        return _share(self._hazards(shape, log_rate)[1])

    def along_rate(self, shape: float, log_rate: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Each term, and its first and second derivative by the log rate."""
        _, rise = self._hazards(shape, log_rate)
        share = _share(rise)
        return self._terms(shape, log_rate, rise), share, share * (1.0 - rise - share)

    def slope_by_shape(self, shape: float, log_rate: float | FloatArray) -> FloatArray:
        """Derivative of each term by the shape."""
        low, rise = self._hazards(shape, log_rate)
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            # low / (exp(rise) - 1), which for a rise too small to see is a ratio of powers of age.
            low_share = np.where(rise < _TINY, 1.0 / np.expm1(shape * self._width_x), low / np.expm1(rise))
            turn = np.where(low_share > 0, low_share * self._width_x, 0.0)
        return np.asarray(_share(rise) * self._high_x + turn, dtype=np.float64)

    def _hazards(self, shape: float, log_rate: float | FloatArray) -> tuple[FloatArray, FloatArray]:
        """Cumulative hazard at the low ends, and its rise over the intervals."""
        low = np.exp(np.minimum(log_rate + shape * self._low_x, _HIGHEST))
        high = np.exp(np.minimum(log_rate + shape * self._high_x, _HIGHEST))
        return low, high - low


def _share(rise: FloatArray) -> FloatArray:
    """rise / (exp(rise) - 1), which is 1 at rise 0."""
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        return np.asarray(np.where(rise < _TINY, 1.0, rise / np.expm1(rise)), dtype=np.float64)

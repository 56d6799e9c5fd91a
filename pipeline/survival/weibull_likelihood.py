"""The Weibull log-likelihood of grouped lives, and the region of parameters that the lives support.

With shape b and scale e the cumulative hazard is H(t) = (t / e)**b. Written with the rate
r = H(longest age seen), for a given b everything is concave in log r, so each inner problem is a safe
one-dimensional root, and every limit comes from a search along b alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import lambertw

from pipeline.survival.form import FloatArray
from pipeline.survival.interval_terms import IntervalTerms
from pipeline.survival.margins import LifeMargins
from pipeline.survival.roots import crossing, falling_root, least_near

# Search range of the shape. Far wider than any device shows (about 0.3 to 10): reaching an end means
# that the data push the shape to nothing or to infinity.
LOG_SHAPE_LOW, LOG_SHAPE_HIGH = math.log(1e-2), math.log(5e2)
# Limits may run further out than an estimate.
LOG_LIMIT_LOW, LOG_LIMIT_HIGH = math.log(1e-3), math.log(1e4)
_STEPS = 41
_SMALL_SHAPE = 0.1


class WeibullLikelihood:
    """Log-likelihood in (log shape, log rate). Needs at least one failure and some time at risk."""

    def __init__(self, margins: LifeMargins) -> None:
        ages, self._net = margins.net_exits
        # The longest age at which something was seen to work: powers of other ages then stay at most 1.
        self.longest_days = float(ages.max()) if ages.size else 1.0
        self._x = np.log(ages / self.longest_days)
        self._net_total = float(self._net.sum())
        self.exact = float(margins.failure_counts.sum())
        self._sum_log_days = float(margins.failure_counts @ np.log(margins.failure_days))
        self._sum_x = self._sum_log_days - self.exact * math.log(self.longest_days)
        self.between = margins.has_intervals
        self._intervals = IntervalTerms(
            _log_or_minus_inf(margins.interval_low_days / self.longest_days),
            np.log(margins.interval_high_days / self.longest_days),
            margins.interval_counts,
        )
        self.failures = self.exact + float(margins.interval_counts.sum())
        # Every limit walks the same shapes; what was found at one is kept.
        self._exposures: dict[float, float] = {}
        self._best: dict[float, float] = {}
        self._limits: dict[tuple[float, float], tuple[float, float]] = {}

    def exposure(self, shape: float) -> float:
        """Sum over exits less entries of (age / longest age)**shape; intervals count to their low end."""
        if shape not in self._exposures:
            self._exposures[shape] = self._exposure(shape)
        return self._exposures[shape]

    def _exposure(self, shape: float) -> float:
        if shape > _SMALL_SHAPE:
            return float(self._net @ np.exp(shape * self._x))
        # All powers are near 1 here: summing the differences from 1 keeps the digits.
        return float(self._net @ np.expm1(shape * self._x)) + self._net_total

    def value(self, log_shape: float, log_rate: float) -> float:
        """Log-likelihood, ages in days."""
        shape = math.exp(log_shape)
        total = self.exact * (log_shape + log_rate) + shape * self._sum_x - self._sum_log_days
        total -= math.exp(min(log_rate, 700.0)) * self.exposure(shape)
        if self.between:
            total += float(self._intervals.counts @ self._intervals.values(shape, log_rate))
        return total if not math.isnan(total) else -math.inf

    def score(self, log_shape: float, log_rate: float) -> tuple[float, float]:
        """Derivatives of the log-likelihood by log shape and by log rate."""
        shape = math.exp(log_shape)
        powers = self._net * np.exp(shape * self._x)
        rate = math.exp(min(log_rate, 700.0))
        by_shape = self.exact + shape * (self._sum_x - rate * float(powers @ self._x))
        if self.between:
            by_shape += shape * float(
                self._intervals.counts @ self._intervals.slope_by_shape(shape, log_rate)
            )
        return by_shape, self._slope_by_rate(shape, log_rate)

    def _slope_by_rate(self, shape: float, log_rate: float) -> float:
        slope = self.exact - math.exp(min(log_rate, 700.0)) * self.exposure(shape)
        if self.between:
            slope += float(self._intervals.counts @ self._intervals.slope_by_rate(shape, log_rate))
        return slope

    def best_log_rate(self, log_shape: float) -> float:
        """The log rate that is most likely at this shape."""
        if log_shape not in self._best:
            self._best[log_shape] = self._best_log_rate(math.exp(log_shape))
        return self._best[log_shape]

    def _best_log_rate(self, shape: float) -> float:
        if not self.between:
            return math.log(self.exact / self.exposure(shape))
        above = math.log(self.failures / self.exposure(shape))  # no failure adds more than 1 to the slope
        return falling_root(lambda log_rate: self._along_rate(shape, log_rate)[1:], above)

    def _along_rate(self, shape: float, log_rate: float) -> tuple[float, float, float]:
        """Log-likelihood, and its first and second derivative by the log rate."""
        hazard = math.exp(min(log_rate, 700.0)) * self.exposure(shape)
        value = self.exact * (math.log(shape) + log_rate) + shape * self._sum_x - self._sum_log_days - hazard
        slope, bend = self.exact - hazard, -hazard
        if self.between:
            terms = self._intervals.along_rate(shape, log_rate)
            value, slope, bend = (
                total + float(self._intervals.counts @ term)
                for total, term in zip((value, slope, bend), terms, strict=True)
            )
        return (value if not math.isnan(value) else -math.inf), slope, bend

    def profile(self, log_shape: float) -> float:
        """Log-likelihood at this shape and its most likely rate."""
        return self.value(log_shape, self.best_log_rate(log_shape))

    def rate_law(self, log_shape: float) -> tuple[float, float]:
        """Centre of the log rate at this shape, and the parameter of the gamma law that it nearly follows.

        Exact where no failure is in an interval: then the parameter is the failures. Else both come from
        the stretch of rates within half a unit of log-likelihood of the best, which holds even where the
        likelihood is flat on top.
        """
        if not self.between:
            return self.best_log_rate(log_shape), self.exact
        low, high = self.rate_limits(log_shape, self.profile(log_shape) - 0.5)
        return (low + high) / 2, 4.0 / (high - low) ** 2

    def rate_limits(self, log_shape: float, floor: float) -> tuple[float, float]:
        """The two log rates at this shape whose log-likelihood is ``floor``."""
        if (log_shape, floor) not in self._limits:
            self._limits[log_shape, floor] = self._rate_limits(log_shape, floor)
        return self._limits[log_shape, floor]

    def _rate_limits(self, log_shape: float, floor: float) -> tuple[float, float]:
        best = self.best_log_rate(log_shape)
        spare = self.value(log_shape, best) - floor
        if spare <= 1e-12 * self.failures:  # at the edge of the region, where W has its branch point
            return best, best
        # d (log u - u + 1) = -spare with u = rate / best rate is solved by Lambert's W.
        argument = -math.exp(-1.0 - spare / self.failures)
        lower, upper = (best + math.log(-float(np.real(lambertw(argument, branch)))) for branch in (0, -1))
        if not self.between:
            return lower, upper
        shape = math.exp(log_shape)

        def above(log_rate: float) -> tuple[float, float]:
            value, slope, _ = self._along_rate(shape, log_rate)
            return value - floor, slope

        def mirrored(minus_log_rate: float) -> tuple[float, float]:
            value, slope = above(-minus_log_rate)
            return value, -slope

        # Failures in intervals say less than dated ones, so these are near and the roots lie further out.
        return -falling_root(mirrored, -lower), falling_root(above, upper)

    def most_likely(self) -> tuple[float, float] | None:
        """(log shape, log rate) of the maximum; None where it lies at an end of the search range."""
        grid = np.linspace(LOG_SHAPE_LOW, LOG_SHAPE_HIGH, _STEPS)
        values = np.array([self.profile(float(point)) for point in grid])
        top = int(np.argmax(values))
        # Intervals that share ages can be explained wholly by any shape steep enough: a plateau, no maximum.
        if top in (0, _STEPS - 1) or values[top] - values[-1] < 1e-6:
            return None
        left, right = float(grid[top - 1]), float(grid[top + 1])

        def slope(log_shape: float) -> float:
            return self.score(log_shape, self.best_log_rate(log_shape))[0]

        if slope(left) > 0 > slope(right):
            log_shape = float(brentq(slope, left, right, xtol=1e-13, rtol=1e-14))
        else:
            found = minimize_scalar(
                lambda u: -self.profile(u), bounds=(left, right), method="bounded", options={"xatol": 1e-10}
            )
            log_shape = float(found.x)
        return log_shape, self.best_log_rate(log_shape)

    def runs_to_infinity(self) -> bool:
        """True where the profile is higher at the upper end of the shapes than at the lower."""
        return self.profile(LOG_SHAPE_HIGH) > self.profile(LOG_SHAPE_LOW)

    def log_shape_limits(self, log_shape: float, floor: float) -> tuple[float, float]:
        """Log shapes around the maximum whose profile is ``floor``; -inf, inf where it stays higher."""

        def above(point: float) -> float:
            return self.profile(point) - floor

        return (
            crossing(above, log_shape, LOG_LIMIT_LOW, -math.inf),
            crossing(above, log_shape, LOG_LIMIT_HIGH, math.inf),
        )

    def extremes(
        self, quantity: Callable[[float, float], float], log_shape: float, floor: float
    ) -> tuple[float, float]:
        """Least and greatest ``quantity(shape, log_scale_days)`` where the log-likelihood reaches ``floor``.

        ``quantity`` must be monotone in the scale at each shape. These are its profile likelihood limits:
        a value is inside if and only if some supported pair of parameters gives it.
        """
        low, high = self.log_shape_limits(log_shape, floor)
        grid = np.linspace(max(low, LOG_LIMIT_LOW), min(high, LOG_LIMIT_HIGH), _STEPS)

        def both(point: float) -> tuple[float, float]:
            shape = math.exp(point)
            ends = [quantity(shape, self.log_scale(point, r)) for r in self.rate_limits(point, floor)]
            return min(ends), max(ends)

        pairs = [both(float(point)) for point in grid]
        least = least_near([pair[0] for pair in pairs], grid, lambda point: both(point)[0])
        greatest = -least_near([-pair[1] for pair in pairs], grid, lambda point: -both(point)[1])
        return least, greatest

    def log_scale(self, log_shape: float, log_rate: float) -> float:
        """Log of the Weibull scale in days."""
        return math.log(self.longest_days) - log_rate * math.exp(-log_shape)


def _log_or_minus_inf(values: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(values), dtype=np.float64)

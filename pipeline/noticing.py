"""How long day burning lies before somebody reports it, by the kind of day.

A fault is noticed at the first event of a Poisson process whose rate on each day is one over that day's mean delay.
Seen back from the report, the chance density of a delay d is then proportional to exp(-sum of the rates over the d days
before it), for faults that begin at all times alike: with one delay for all days an exponential with that mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.day_sets import Days, days_within
from pipeline.settings import Settings

Floats = npt.NDArray[np.float64]

_LEAST_DELAY_DAYS = 1e-6  # a delay of none has no rate
_MOST_DAYS_BACK = 3 * 365
_NEGLIGIBLE = 40.0  # exp(-40): nothing is left of the density


@dataclass(frozen=True)
class Noticing:
    """Mean delays: ``delay_days`` on most days, and exceptions (spans, weekdays, mean delay), the first that fits."""

    delay_days: float
    exceptions: tuple[tuple[tuple[str, ...], tuple[str, ...], float], ...] = ()

    @classmethod
    def of(cls, settings: Settings) -> Noticing:
        """As the settings say."""
        exceptions = tuple(
            (page.days, page.weekdays, page.delay_days) for page in settings.detection_delays.values()
        )
        return cls(settings.assumptions.detection_delay_days, exceptions)

    def times(self, factor: float) -> Noticing:
        """The same with every delay times a factor."""
        exceptions = tuple((spans, weekdays, delay * factor) for spans, weekdays, delay in self.exceptions)
        return Noticing(self.delay_days * factor, exceptions)

    def delays_within(self, first_days: Floats, last_days: Floats) -> Floats:
        """How many mean delays pass between times (days since 1970-01-01 with fractions), as the days go: (n,)."""
        first, last = np.asarray(first_days, dtype=np.float64), np.asarray(last_days, dtype=np.float64)
        if not first.size:
            return first
        begin, end = int(np.floor(first.min())), int(np.ceil(last.max())) + 1
        days = np.arange(begin, end + 1)
        passed = np.concatenate([[0.0], np.cumsum(1 / self.on(days[:-1].astype("datetime64[D]")))])
        return np.asarray(np.interp(last, days, passed) - np.interp(first, days, passed), dtype=np.float64)

    def on(self, days: Days) -> Floats:
        """Mean delay if every day were like each of these [days]."""
        delays = np.full(days.shape, self.delay_days, dtype=np.float64)
        open_ = np.ones(days.shape, dtype=bool)
        for spans, weekdays, delay in self.exceptions:
            fits = open_ & days_within(days, spans, weekdays)
            delays[fits] = delay
            open_ &= ~fits
        return np.maximum(delays, _LEAST_DELAY_DAYS)

    def mean_before(self, days: Days) -> Floats:
        """Mean delay of faults first reported at noon of each day [days]."""
        if not self.exceptions:
            return np.full(days.shape, self.delay_days, dtype=np.float64)
        return np.array([self._mean_before(day) for day in days.astype("datetime64[D]")], dtype=np.float64)

    def _mean_before(self, day: np.datetime64) -> float:
        back = day - np.arange(_MOST_DAYS_BACK)
        rates = 1 / self.on(back)
        lengths = np.ones(rates.size)
        lengths[0] = 0.5
        lengths[-1] = _NEGLIGIBLE / rates[-1] + 1
        begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
        left = np.exp(-np.minimum(np.concatenate([[0.0], np.cumsum(rates * lengths)[:-1]]), 700))
        gone = -np.expm1(-rates * lengths)
        mass = left * gone / rates
        # the integral of (begin + x) exp(-rate x) over a stretch
        moment = begins * mass + left * (gone / rates**2 - lengths * np.exp(-rates * lengths) / rates)
        return float(moment.sum() / mass.sum())


def stretches_before(
    noticing: Noticing, reported_days: Sequence[float] | Floats, most_days: float
) -> tuple[Floats, Floats]:
    """Lengths [days] and mean delays [days] of the stretches before each report, newest first.

    reported_days : days since 1970-01-01 with their fractions, local wall clock. The stretches of each report cover
    ``most_days``; one stretch where all days are alike. Shapes (reports, stretches).
    """
    reported = np.asarray(reported_days, dtype=np.float64)
    if not noticing.exceptions:
        shape = (reported.size, 1)
        return np.full(shape, max(most_days, 0.0)), np.full(
            shape, max(noticing.delay_days, _LEAST_DELAY_DAYS)
        )
    whole = np.floor(reported).astype(np.int64)
    back = whole[:, None] - np.arange(int(np.ceil(most_days)) + 1)
    lengths = np.ones(back.shape)
    lengths[:, 0] = reported - whole
    return lengths, noticing.on(back.astype("datetime64[D]"))

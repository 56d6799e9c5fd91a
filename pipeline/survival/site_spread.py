"""How much sites truly differ from one fitted life, and what a site's own record lets one believe of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar
from scipy.special import gammaln

from pipeline.survival.form import FloatArray

_LOG_LEAST, _LOG_MOST = math.log(1e-2), math.log(1e5)


@dataclass(frozen=True)
class SiteSpread:
    """Sites' failures are Poisson around level * factor * expected, factor gamma with mean 1.

    ``concentration`` is the gamma parameter: the variance of the factor is 1 / concentration; infinity where
    the sites differ no more than chance. ``level`` is all sites' failures over those expected.
    """

    level: float
    concentration: float

    def believed(self, failures: FloatArray, expected: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean of each site's level * factor given its record, and the parameter of its gamma law."""
        if math.isinf(self.concentration):
            return np.full(failures.size, self.level), np.full(failures.size, math.inf)
        law = self.concentration + failures
        return self.level * law / (self.concentration + self.level * expected), law


def fit_site_spread(failures: pd.Series, expected: pd.Series) -> SiteSpread:
    """Level and concentration by maximum likelihood of the negative binomial counts of all sites."""
    seen, mean = failures.to_numpy(np.float64), expected.to_numpy(np.float64)
    level = max(float(seen.sum()), 0.5) / float(mean.sum())
    mean = level * mean

    def less_likelihood(log_concentration: float) -> float:
        k = math.exp(log_concentration)
        terms = gammaln(k + seen) - gammaln(k) + k * np.log(k / (k + mean)) + seen * np.log(mean / (k + mean))
        return -float(terms.sum())

    found = minimize_scalar(
        less_likelihood, bounds=(_LOG_LEAST, _LOG_MOST), method="bounded", options={"xatol": 1e-6}
    )
    return SiteSpread(level, math.inf if found.x > math.log(1e4) else math.exp(float(found.x)))

"""One life regression from those of several imputations, by Rubin's rules."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.stats import t as student

from pipeline.survival.form import FloatArray, check_lives
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.regression import LifeRegression, fit_terms
from pipeline.survival.regression_design import make_terms


@dataclass(frozen=True)
class PooledRegression:
    """A Weibull accelerated life pooled over imputations; ``life_ratios`` as those of ``LifeRegression``.

    Coefficients and log shape are means over the imputations, their variance the mean variance plus
    (1 + 1 / imputations) times the variance between them, limits and p values from Student's t (Rubin, Multiple
    Imputation for Nonresponse in Surveys (1987), chapter 3; from memory). ``failures``: mean over imputations.
    """

    shape: float
    shape_limits: tuple[float, float]
    life_ratios: pd.DataFrame
    failures: float
    confidence: float
    imputations: int
    fits: tuple[LifeRegression, ...] = field(repr=False)


def fit_life_regression_imputed(
    draws: Sequence[pd.DataFrame], covariates: Sequence[str], confidence: float = 0.95
) -> PooledRegression:
    """``fit_life_regression`` of every imputation, pooled. ``draws``: two or more lives frames.

    Levels are those of all imputations together, compared with the commonest. Refuses as that function does, where
    any imputation gives reason: an effect that some possible history cannot tell is not claimed.
    """
    check_confidence(confidence)
    if len(draws) < 2:
        raise ValueError(f"draws must be at least 2 (20 or more for limits); got {len(draws)}")
    checked = [check_lives(draw) for draw in draws]
    terms = make_terms(pd.concat(checked, ignore_index=True), covariates)
    fits: list[LifeRegression] = []
    for lives in checked:
        for column in covariates:
            _refuse_idle_levels(lives, column, {term.level for term in terms if term.column == column})
        fits.append(fit_terms(lives, terms, confidence, fits[-1] if fits else None))
    return pool_regressions(fits)


def _refuse_idle_levels(lives: pd.DataFrame, column: str, levels: set[object]) -> None:
    failed = set(lives.loc[lives["failed"], column].unique())
    idle = sorted(str(level) for level in levels - {None} - failed)
    if idle:
        raise CannotFit(
            f"In one way of filling in what is unknown nothing with {column} = {', '.join(idle)} failed, so its life "
            "ratio has no estimate. Merge it with another level, or leave its rows out."
        )


def pool_regressions(fits: Sequence[LifeRegression]) -> PooledRegression:
    """The regressions of two or more imputations, on the same terms, as one."""
    points = np.array([np.append(fit.coefficients, math.log(fit.shape)) for fit in fits])
    within = np.mean([np.diag(fit.covariance) for fit in fits], axis=0)
    between = (1 + 1 / len(fits)) * points.var(axis=0, ddof=1)
    centre, error = points.mean(axis=0), np.sqrt(within + between)
    freedom = _degrees_of_freedom(between / (within + between), len(fits))
    confidence = fits[0].confidence
    width = np.asarray(student.ppf((1 + confidence) / 2, freedom) * error)
    ratios = fits[0].life_ratios.assign(
        life_ratio=np.exp(centre[1:-1]),
        lower=np.exp((centre - width)[1:-1]),
        upper=np.exp((centre + width)[1:-1]),
        p_value=np.asarray(2 * student.sf(np.abs(centre) / error, freedom))[1:-1],
    )
    return PooledRegression(
        shape=math.exp(centre[-1]),
        shape_limits=(math.exp(centre[-1] - width[-1]), math.exp(centre[-1] + width[-1])),
        life_ratios=ratios,
        failures=float(np.mean([fit.failures for fit in fits])),
        confidence=confidence,
        imputations=len(fits),
        fits=tuple(fits),
    )


def _degrees_of_freedom(share: FloatArray, imputations: int) -> FloatArray:
    """Of Student's t, by the share of the variance that is due to imputation."""
    return np.where(share > 1e-6, (imputations - 1) / np.maximum(share, 1e-6) ** 2, 1e12)

"""Does a life regression describe the lives? Cox-Snell residuals and proportionality, in plain words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar
from scipy.stats import chi2

from pipeline.survival.form import check_lives
from pipeline.survival.group_tests import holm
from pipeline.survival.margins import LifeMargins
from pipeline.survival.refusals import CannotFit
from pipeline.survival.regression import LifeRegression
from pipeline.survival.regression_design import design_matrix
from pipeline.survival.residuals import SMALL_P, cox_snell, residual_bins, residual_p_value, residual_sentence
from pipeline.survival.weibull import fit_weibull
from pipeline.survival.weibull_likelihood import WeibullLikelihood


@dataclass(frozen=True)
class RegressionDiagnostics:
    """Whether the fitted lives look like the observed ones.

    ``residuals``: frame ``entry, exit, failed, quantity``: the cumulative hazard that the model gives each
    life at its ends (Cox-Snell). If the model holds, failures fall at rate 1 along it at every point.
    ``bins``: frame ``from_residual, to_residual, failures, expected`` of that comparison.
    ``shapes``: frame ``covariate, level, failures, shape``: the shape of each part by itself.
    ``proportionality``: frame ``covariate, statistic, degrees_of_freedom, p_value, p_value_holm``.
    """

    residual_p_value: float
    residuals: pd.DataFrame = field(repr=False)
    bins: pd.DataFrame = field(repr=False)
    shapes: pd.DataFrame = field(repr=False)
    proportionality: pd.DataFrame = field(repr=False)

    @property
    def sentences(self) -> tuple[str, ...]:
        """The findings in plain words."""
        return (
            residual_sentence(self.residual_p_value, self.bins, "the regression"),
            *_shape_sentences(self),
        )


def check_life_regression(lives: pd.DataFrame, fit: LifeRegression) -> RegressionDiagnostics:
    """Compare a fitted regression with the lives it was fitted to.

    *Residuals*: cut into up to eight stretches with at least five failures expected each; chi-square of observed
    against expected failures, on stretches - 2 degrees of freedom (one for the level, one for the shape; an
    approximation). *Proportionality*: the regression says that a covariate multiplies every age by one
    factor, so that every level has the same shape. Ages are divided by each control's fitted scale, every level (a
    numeric covariate: below and above its median) gets a shape and scale of its own, and the gain in
    log-likelihood over one shape for all is tested; p values carry Holm's adjustment over the covariates.
    A failure known to an interval counts at the interval's end among the residuals.

    Source: Cox and Snell, JRSS B 30 (1968) 248-275; Lawless, Statistical Models and Methods for Lifetime
    Data (2003), chapter 6 (from memory).
    """
    checked = check_lives(lives)
    scale = np.exp(design_matrix(checked, fit.terms) @ fit.coefficients)
    standard = checked.assign(
        entry_days=checked["entry_days"] / scale, exit_days=checked["exit_days"] / scale
    )
    if "exit_low_days" in checked.columns:
        standard["exit_low_days"] = checked["exit_low_days"] / scale
    residuals = cox_snell(standard, fit.shape)
    bins = residual_bins(residuals)
    shapes, tests = _proportionality(checked, standard, list(dict.fromkeys(t.column for t in fit.terms)))
    return RegressionDiagnostics(residual_p_value(bins), residuals, bins, shapes, tests)


def _proportionality(
    checked: pd.DataFrame, standard: pd.DataFrame, columns: list[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    shapes: list[tuple[str, str, int, float]] = []
    tests: list[tuple[str, float, int, float]] = []
    for column in columns:
        levels = _levels(checked[column])
        fits = []
        for level, part in standard.groupby(levels, observed=True, sort=True):
            try:
                fits.append(fit_weibull(part))
            except CannotFit:
                continue
            shapes.append((column, str(level), fits[-1].failures, fits[-1].shape))
        if len(fits) < 2:
            tests.append((column, math.nan, 0, math.nan))
            continue
        gain = 2.0 * (sum(fit.log_likelihood for fit in fits) - _one_shape([fit.margins for fit in fits]))
        freedom = len(fits) - 1
        tests.append((column, max(gain, 0.0), freedom, float(chi2.sf(max(gain, 0.0), freedom))))
    table = pd.DataFrame(tests, columns=["covariate", "statistic", "degrees_of_freedom", "p_value"])
    table["p_value_holm"] = math.nan
    known = table["p_value"].notna()
    if known.any():
        table.loc[known, "p_value_holm"] = holm(table.loc[known, "p_value"].to_numpy(np.float64))
    return pd.DataFrame(shapes, columns=["covariate", "level", "failures", "shape"]), table


def _levels(column: pd.Series) -> pd.Series:
    if pd.api.types.is_numeric_dtype(column.dtype) and not pd.api.types.is_bool_dtype(column.dtype):
        middle = float(column.median())
        above = column > middle if (column > middle).any() else column >= middle
        return pd.Series(np.where(above, "above the median", "up to the median"), index=column.index)
    return column.astype(str)


def _one_shape(parts: list[LifeMargins]) -> float:
    """Greatest log-likelihood with one shape for all parts and a scale for each."""
    likelihoods = [WeibullLikelihood(part) for part in parts]
    found = minimize_scalar(
        lambda log_shape: -sum(each.profile(float(log_shape)) for each in likelihoods),
        bounds=(-3.0, 4.0),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return -float(found.fun)


def _shape_sentences(result: RegressionDiagnostics) -> list[str]:
    table = result.proportionality
    tests = list(zip(table["covariate"].tolist(), table["p_value_holm"].tolist(), strict=True))
    steady = [(covariate, p_value) for covariate, p_value in tests if p_value >= SMALL_P]
    said = [_changing_sentence(result, name, p_value) for name, p_value in tests if p_value < SMALL_P]
    if steady:
        least = min(p_value for _, p_value in steady)
        many = "their effects change" if len(steady) > 1 else "its effect changes"
        p_text = f"{'least ' if len(steady) > 1 else ''}p = {least:.2f}, adjusted"
        said.append(f"{', '.join(name for name, _ in steady)}: no sign that {many} with age ({p_text}).")
    return said + [
        f"{name}: too few failures to check that its effect is the same at every age."
        for name, p_value in tests
        if math.isnan(p_value)
    ]


def _changing_sentence(result: RegressionDiagnostics, covariate: str, p_value: float) -> str:
    parts = result.shapes[result.shapes["covariate"] == covariate]
    shapes = ", ".join(
        f"{level} {shape:.1f}" for level, shape in zip(parts["level"], parts["shape"], strict=True)
    )
    return (
        f"{covariate}: its effect changes with age (p = {p_value:.2g}, adjusted; shapes: {shapes}). "
        "One life ratio does not describe it: fit its levels apart."
    )

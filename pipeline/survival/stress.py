"""How much shorter controls live for every doubling of inrush stress, where the data can say it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.faults import Fault
from pipeline.numerals import count_text
from pipeline.survival.diagnostics import RegressionDiagnostics, check_life_regression
from pipeline.survival.form import BoolArray, FloatArray, check_lives, refuse, require_columns
from pipeline.survival.pooled_regression import PooledRegression, fit_life_regression_imputed
from pipeline.survival.refusals import CannotFit
from pipeline.survival.regression import LifeRegression, fit_life_regression

# Common practice, no source: about ten failures for each effect that is estimated.
FEWEST_FAILURES = 10
_LOG_STRESS = "log of stress"


@dataclass(frozen=True)
class DoublingEffect:
    """Life ratio for each doubling of stress: life goes with stress ** -exponent, and 2 ** -exponent is the ratio.

    ``failures`` speak for it: failed controls whose stress is known. ``left_out`` counts controls without a
    known stress, ``unverified`` and ``unverified_failures`` those whose stress rests on a supposed peak.
    ``sentence`` says it for a reader; it claims an effect only where the limits exclude 1. ``imputations``: pooled over
    so many, 0 where the lives were taken as they are. ``regression`` and ``diagnostics`` (whether it
    describes the lives) are of the lives as they are.
    """

    life_ratio: float
    lower: float
    upper: float
    exponent: float
    exponent_limits: tuple[float, float]
    p_value: float
    failures: int
    units: int
    left_out: int
    unverified: int
    unverified_failures: int
    least_stress: float
    greatest_stress: float
    confidence: float
    imputations: int
    regression: LifeRegression = field(repr=False)
    diagnostics: RegressionDiagnostics = field(repr=False)

    @property
    def sentence(self) -> str:
        """The result in words, with its limits and what it rests on."""
        limits = f"{self.confidence:.0%} limits {self.lower:.2f} to {self.upper:.2f}"
        stress = f"stress {self.least_stress:.2g} to {self.greatest_stress:.2g} times rating"
        basis = f"{count_text(self.failures)} failures, {stress}"
        after = self._drawn_said + self._unverified_said
        if self.lower <= 1.0 <= self.upper:
            return (
                f"The data do not show that inrush stress changes life: ratio per doubling {self.life_ratio:.2f}, "
                f"{limits}, which include 1 ({basis}).{after}"
            )
        return (
            f"Each doubling of inrush stress goes with {self.life_ratio:.2f} times the life, {limits} ({basis}). "
            f"This is an association among circuits as they are, not a trial.{after}"
        )

    @property
    def _drawn_said(self) -> str:
        if not self.imputations:
            return ""
        return (
            f" Doubtful verdicts are drawn {self.imputations} times; the failures counted are those as read."
        )

    @property
    def _unverified_said(self) -> str:
        if not self.unverified:
            return ""
        return (
            f" {count_text(self.unverified)} of the {count_text(self.units)} lives, and "
            f"{count_text(self.unverified_failures)} of the failures, rest on driver peaks that are unverified."
        )


def life_ratio_per_doubling(
    lives: pd.DataFrame,
    stress: str,
    covariates: Sequence[str] = (),
    confidence: float = 0.95,
    unverified: str | None = None,
    draws: Sequence[pd.DataFrame] = (),
) -> DoublingEffect:
    """Fit life against log stress (and ``covariates``), and read off what a doubling does.

    ``stress``: column with combined driver peak over rated peak (> 0; missing where unknown: those controls
    are left out and counted). ``unverified``: column that is true where a peak is only supposed; such lives
    enter and are counted. ``draws``: imputations of the lives, where something in them is open; the ratio is then
    pooled over them. Refuses, in a sentence: fewer than ten failures with known stress; stress alike
    everywhere, or alike wherever something failed; a range so narrow that the limits span a factor of 100 or
    more. Otherwise as ``fit_life_regression``, whose Wald limits these are.
    """
    require_columns(lives, (stress,), "lives")
    checked = check_lives(lives)
    known, values = _known_stress(lives, checked, stress)
    part = checked[known]
    failed = part["failed"].to_numpy(bool)
    failures = int(part.loc[failed, "quantity"].sum())
    _refuse_too_little(failures, values[known], values[known][failed])
    fitted = part.assign(**{_LOG_STRESS: np.log(values[known])})
    columns = [_LOG_STRESS, *covariates]
    regression = fit_life_regression(fitted, columns, confidence)
    telling: LifeRegression | PooledRegression = regression
    if draws:
        telling = fit_life_regression_imputed(
            [_with_log_stress(d, stress) for d in draws], columns, confidence
        )
    supposed = part[part[unverified].astype(bool)] if unverified else part[:0]
    row = telling.life_ratios.iloc[0]
    slope, low, high = (math.log(row[name]) for name in ("life_ratio", "lower", "upper"))
    if (high - low) * math.log(2.0) > math.log(100.0):
        raise CannotFit(
            f"Stress differs too little among the {failures} failures to tell its effect: the limits of the life ratio "
            f"per doubling would run from {2**low:.2g} to {2**high:.2g}. Wait for failures on circuits of other stress."
        )
    return DoublingEffect(
        life_ratio=2.0**slope,
        lower=2.0**low,
        upper=2.0**high,
        exponent=-slope,
        exponent_limits=(-high, -low),
        p_value=float(row["p_value"]),
        failures=failures,
        units=regression.units,
        left_out=int(checked.loc[~known, "quantity"].sum()),
        unverified=int(supposed["quantity"].sum()),
        unverified_failures=int(supposed.loc[supposed["failed"], "quantity"].sum()),
        least_stress=float(values[known].min()),
        greatest_stress=float(values[known].max()),
        confidence=confidence,
        imputations=len(draws),
        regression=regression,
        diagnostics=check_life_regression(fitted, regression),
    )


def _with_log_stress(lives: pd.DataFrame, stress: str) -> pd.DataFrame:
    known = lives[lives[stress].notna()]
    return known.assign(**{_LOG_STRESS: np.log(known[stress].astype(float))}).reset_index(drop=True)


def _known_stress(lives: pd.DataFrame, checked: pd.DataFrame, stress: str) -> tuple[BoolArray, FloatArray]:
    values = pd.to_numeric(checked[stress], errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    wrong = ~lives[stress].isna().to_numpy() & ~(np.isfinite(values) & (values > 0))
    refuse(
        [
            Fault(
                f"row {lives.index[i]}", f"{stress} {str(lives[stress].iloc[i])[:40]} is no number above 0."
            )
            for i in np.flatnonzero(wrong).tolist()
        ]
    )
    return np.isfinite(values), values


def _refuse_too_little(failures: int, all_stress: FloatArray, failed_stress: FloatArray) -> None:
    if failures < FEWEST_FAILURES:
        raise CannotFit(
            f"Only {failures} failed controls have a known inrush stress; at least {FEWEST_FAILURES} are needed "
            "before a life ratio per doubling is claimed. Give the drivers' inrush peaks and the controls' rated peaks."
        )
    if np.unique(all_stress).size < 2:
        raise CannotFit(
            f"Every control has the same inrush stress ({all_stress[0]:g}), so its effect cannot be told."
        )
    if np.unique(failed_stress).size < 2:
        raise CannotFit(
            f"All {failures} failures fell on one inrush stress ({failed_stress[0]:g}): nothing failed elsewhere to "
            "compare with, so no ratio is claimed."
        )

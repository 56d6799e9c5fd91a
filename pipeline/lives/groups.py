"""Fits, curves and rates of groups of controls: one row per group, made by the survival functions."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import Any

import pandas as pd
from scipy.stats import chi2

from pipeline.keys import joined_sql
from pipeline.progress import Progress
from pipeline.settings import Assumptions
from pipeline.store import Store, sql_text
from pipeline.survival import (
    CannotFit,
    FixedShapeFit,
    SmallRiskSetWarning,
    WeibullFit,
    fit_weibull,
    fit_weibull_fixed_shape,
    kaplan_meier,
)

GROUPINGS: Mapping[str, str] = {
    "all": "'all'",
    "kind": "kind",
    "model": "model",
    "switching": "switching",
    "lamp": "lamp",
    "model and lamp": joined_sql("model", "lamp"),
}
"""What groups are made of, each with the SQL expression of its group's name."""

_NAMES = (
    "[" + ", ".join(f"{{grouping: '{name}', group_name: {sql}}}" for name, sql in GROUPINGS.items()) + "]"
)


def fill_groups(store: Store, assumptions: Assumptions, progress: Progress) -> None:
    """Fill life_fits, life_curves and failure_rates for every grouping."""
    lives = store.frame(sql_text("pipeline.lives", "grouped_lives").replace("{names}", _NAMES))
    shapes = borrowed_shapes(lives, assumptions)
    fits, curves = [], []
    groups = list(lives.groupby(["grouping", "group_name"]))
    for number, ((grouping, name), part) in enumerate(groups, start=1):
        key = {"grouping": str(grouping), "group_name": str(name)}
        fits.append(key | fit_row(part, assumptions, shapes.get(_only_kind(part))))
        curve = curve_frame(part, assumptions)
        curve[list(key)] = list(key.values())
        curves.append(curve)
        progress.share(number, len(groups))
    store.fill_frame("life_fits", pd.DataFrame(fits))
    store.fill_frame("life_curves", pd.concat(curves) if curves else pd.DataFrame())
    _fill_rates(store, assumptions.confidence)


def borrowed_shapes(lives: pd.DataFrame, assumptions: Assumptions) -> dict[str | None, float]:
    """The Weibull shape of each kind of control, for its groups with too few failures of their own."""
    shapes: dict[str | None, float] = {}
    for kind, part in lives[lives["grouping"] == "kind"].groupby("group_name"):
        fit = _weibull(part, assumptions)
        if isinstance(fit, WeibullFit):
            shapes[str(kind)] = fit.shape
    return shapes


def fit_row(
    lives: pd.DataFrame, assumptions: Assumptions, borrowed_shape: float | None = None
) -> dict[str, Any]:
    """One group's row of life_fits, without its key. ``lives``: a group's rows of grouped_lives.sql.

    With fewer failures than ``few_failures`` the shape is borrowed from the kind (or stated in the settings)
    and the limits of scale, B10 and mean life are one-sided lower limits.
    """
    failures = int(lives.loc[lives["failed"], "quantity"].sum())
    exposure_days = float(((lives["exit_days"] - lives["entry_days"]) * lives["quantity"]).sum())
    row = {
        "units": int(lives["controls"].sum()),
        "failures": failures,
        "control_years": exposure_days / 365.25,
        "confidence": assumptions.confidence,
    }
    fit = _weibull(lives, assumptions)
    if isinstance(fit, WeibullFit):
        return row | _weibull_row(fit)
    shape = borrowed_shape or assumptions.shape_when_few
    source = "that of its kind" if borrowed_shape else "stated in the settings"
    try:
        fixed = fit_weibull_fixed_shape(lives, shape, assumptions.confidence)
    except CannotFit as error:
        return row | {"method": "none", "note": f"{fit} {error}"}
    return (
        row
        | _fixed_shape_row(fixed)
        | {"note": f"{fit} Shape {shape:.2f} is {source}; limits are one-sided."}
    )


def curve_frame(lives: pd.DataFrame, assumptions: Assumptions) -> pd.DataFrame:
    """One group's Kaplan-Meier curve in the columns of life_curves, without its key; empty where there is none."""
    try:
        with warnings.catch_warnings():
            # The curve's own at_risk column shows a small early risk set; pages mark it from there.
            warnings.simplefilter("ignore", SmallRiskSetWarning)
            return kaplan_meier(lives, confidence=assumptions.confidence)
    except CannotFit:
        return pd.DataFrame()


def _only_kind(lives: pd.DataFrame) -> str | None:
    kinds = lives["kind"].dropna().unique()
    return str(kinds[0]) if len(kinds) == 1 else None


def _weibull(lives: pd.DataFrame, assumptions: Assumptions) -> WeibullFit | str:
    """A full fit, or the sentence that says why there is none."""
    failures = int(lives.loc[lives["failed"], "quantity"].sum())
    if failures < assumptions.few_failures:
        return f"Too few failures ({failures}) for a shape of its own."
    try:
        return fit_weibull(lives, assumptions.confidence)
    except CannotFit as error:
        return str(error)


def _weibull_row(fit: WeibullFit) -> dict[str, Any]:
    row: dict[str, Any] = {"method": "weibull", "log_likelihood": fit.log_likelihood}
    for name, value, limits in (
        ("shape", fit.shape, fit.shape_limits),
        ("scale_days", fit.scale_days, fit.scale_limits),
        ("b10_days", fit.b_life(10), fit.b_life_limits(10)),
        ("mean_life_days", fit.mean_life, fit.mean_life_limits),
    ):
        row |= {name: value, f"{name}_lower": limits[0], f"{name}_upper": limits[1]}
    return row


def _fixed_shape_row(fit: FixedShapeFit) -> dict[str, Any]:
    return {
        "method": "fixed shape",
        "log_likelihood": fit.log_likelihood,
        "shape": fit.shape,
        "scale_days": fit.scale_days,
        "scale_days_lower": fit.scale_lower_days,
        "b10_days": fit.b_life(10),
        "b10_days_lower": fit.b_life_lower(10),
        "mean_life_days": fit.mean_life,
        "mean_life_days_lower": fit.mean_life_lower,
    }


def _fill_rates(store: Store, confidence: float) -> None:
    rates = store.frame(sql_text("pipeline.lives", "failure_rates").replace("{names}", _NAMES))
    if rates.empty:
        return
    per_100 = 100 / rates["control_years"]
    lower, upper = poisson_limits(rates["failures"], confidence)
    rates["failures_per_100_control_years"] = rates["failures"] * per_100
    rates["lower"], rates["upper"] = lower * per_100, upper * per_100
    store.fill_frame("failure_rates", rates.assign(confidence=confidence))


def poisson_limits(counts: pd.Series[int], confidence: float) -> tuple[pd.Series[float], pd.Series[float]]:
    """Exact two-sided limits of Poisson means, from the chi-square distribution (Garwood 1936, from memory)."""
    tail = (1 - confidence) / 2
    lower = pd.Series(chi2.ppf(tail, 2 * counts), index=counts.index).fillna(0.0) / 2
    upper = pd.Series(chi2.ppf(1 - tail, 2 * (counts + 1)), index=counts.index) / 2
    return lower, upper

"""Fits, curves and rates of groups of controls: one row per group, made by the survival functions."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import chi2

from pipeline.keys import joined_sql
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.pooled_life import PooledFixedShape, PooledLife, pooled, pooled_fixed_shape
from pipeline.lives.warm_fits import fit_near
from pipeline.progress import Progress
from pipeline.settings import Assumptions
from pipeline.store import Store, sql_text
from pipeline.survival import (
    CannotFit,
    FixedShapeFit,
    SmallRiskSetWarning,
    StatedLife,
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


FULL_FITS = ("weibull", "weibull pooled")
"""Methods of a fit with a shape of its own: of lives as read, or pooled over draws of what is open."""

Group = tuple[str, str]
"""A grouping and the name of one of its groups."""

Fit = WeibullFit | PooledLife
FixedFit = FixedShapeFit | PooledFixedShape


def fill_groups(store: Store, assumptions: Assumptions, progress: Progress) -> None:
    """Fill life_fits, life_fits_as_read, life_curves and failure_rates for every grouping."""
    groups = read_groups(store)
    shapes = borrowed_shapes(groups, assumptions)
    fits, as_read, curves = [], [], []
    for number, ((grouping, name), lives) in enumerate(groups.items(), start=1):
        key = {"grouping": grouping, "group_name": name}
        shape = shapes.get(lives.only_kind)
        fits.append(key | fit_row(lives, assumptions, shape))
        as_read.append(key | fit_row(lives, assumptions, shape, drawn=False))
        curve = curve_frame(lives.at_central_ages(), assumptions)
        curve[list(key)] = list(key.values())
        curves.append(curve)
        progress.share(number, len(groups))
    store.fill_frame("life_fits", pd.DataFrame(fits))
    store.fill_frame("life_fits_as_read", pd.DataFrame(as_read))
    store.fill_frame("life_curves", pd.concat(curves) if curves else pd.DataFrame())
    _fill_rates(store, assumptions.confidence)


def read_groups(store: Store) -> dict[Group, GroupLives]:
    """The lives of every group of every grouping."""
    rows = store.frame(sql_text("pipeline.lives", "grouped_lives").replace("{names}", _NAMES))
    by_group = rows.groupby(["grouping", "group_name"])
    return {(str(grouping), str(name)): GroupLives(part) for (grouping, name), part in by_group}


def borrowed_shapes(groups: Mapping[Group, GroupLives], assumptions: Assumptions) -> dict[str | None, float]:
    """The Weibull shape of each kind of control, for its groups with too few failures of their own."""
    shapes: dict[str | None, float] = {}
    for (grouping, name), lives in groups.items():
        fit = full_fit(lives, assumptions) if grouping == "kind" else None
        if isinstance(fit, WeibullFit | PooledLife):
            shapes[name] = fit.shape
    return shapes


def fit_row(
    lives: GroupLives, assumptions: Assumptions, borrowed_shape: float | None = None, drawn: bool = True
) -> dict[str, Any]:
    """One group's row of life_fits (``drawn`` False: of life_fits_as_read), without its key.

    With fewer failures than ``few_failures`` the shape is borrowed from the kind (or stated in the settings)
    and the limits of scale, B10 and mean life are one-sided lower limits.
    """
    pools = drawn and lives.open
    row = {
        "units": lives.controls,
        "failures": lives.failures,
        "failures_expected": lives.failures_expected if drawn else float(lives.failures),
        "control_years": lives.control_years,
        "confidence": assumptions.confidence,
        "imputations": len(lives.drawn_margins) if pools else 0,
    }
    fit = full_fit(lives, assumptions, drawn)
    if not isinstance(fit, str):
        return row | _weibull_row(fit)
    shape = borrowed_shape or assumptions.shape_when_few
    source = "that of its kind" if borrowed_shape else "stated in the settings"
    try:
        fixed = fixed_shape_fit(lives, shape, assumptions.confidence, drawn)
    except CannotFit as error:
        return row | {"method": "none", "note": f"{fit} {error.why}"}
    return (
        row
        | _fixed_shape_row(fixed)
        | {"note": f"{fit} Shape {shape:.2f} is {source}; limits are one-sided."}
    )


def full_fit(lives: GroupLives, assumptions: Assumptions, drawn: bool = True) -> Fit | str:
    """A fit with a shape of its own, or the sentence that says why there is none."""
    pools = drawn and lives.open
    failures = lives.failures_expected if pools else lives.failures
    if failures < assumptions.few_failures:
        return f"Too few failures ({failures:.3g}) for a shape of its own."
    try:
        if not pools:
            return fit_weibull(lives.margins, assumptions.confidence)
        fits: list[WeibullFit] = []
        for margins in lives.drawn_margins:
            fits.append(fit_near(margins, fits[-1] if fits else None, assumptions.confidence))
        return pooled(fits)
    except CannotFit as refusal:
        return refusal.why
    except np.linalg.LinAlgError as error:
        return str(error)


def fixed_shape_fit(lives: GroupLives, shape: float, confidence: float, drawn: bool = True) -> FixedFit:
    """A scale for a stated shape, over the draws where something is open. Raises CannotFit."""
    if not (drawn and lives.open):
        return fit_weibull_fixed_shape(lives.margins, shape, confidence)
    return pooled_fixed_shape(
        [fit_weibull_fixed_shape(margins, shape, confidence) for margins in lives.drawn_margins]
    )


def life_model(
    lives: GroupLives, assumptions: Assumptions, method: str, shape: float
) -> WeibullFit | PooledLife | FixedShapeFit | PooledFixedShape:
    """The fit behind a row of ``fit_row`` (its method and shape), that forecasts draw from. Raises CannotFit."""
    full = full_fit(lives, assumptions) if method in FULL_FITS else ""
    return full if not isinstance(full, str) else fixed_shape_fit(lives, shape, assumptions.confidence)


def curve_frame(lives: pd.DataFrame, assumptions: Assumptions) -> pd.DataFrame:
    """One group's Kaplan-Meier curve in the columns of life_curves, without its key; empty where there is none.

    ``lives``: failures at their central ages (``GroupLives.at_central_ages``).
    """
    try:
        with warnings.catch_warnings():
            # figures.curve_readings says where a small early risk set spoils a curve, and pages warn of it.
            warnings.simplefilter("ignore", SmallRiskSetWarning)
            return kaplan_meier(lives, confidence=assumptions.confidence)
    except CannotFit:
        return pd.DataFrame()


def _weibull_row(fit: Fit) -> dict[str, Any]:
    exact = isinstance(fit, WeibullFit)
    row: dict[str, Any] = {
        "method": FULL_FITS[0] if exact else FULL_FITS[1],
        "log_likelihood": fit.log_likelihood if isinstance(fit, WeibullFit) else None,
    }
    for name, value, limits in (
        ("shape", fit.shape, fit.shape_limits),
        ("scale_days", fit.scale_days, fit.scale_limits),
        ("b10_days", fit.b_life(10), fit.b_life_limits(10)),
        ("mean_life_days", fit.mean_life, fit.mean_life_limits),
    ):
        row |= {name: value, f"{name}_lower": limits[0], f"{name}_upper": limits[1]}
    return row


def _fixed_shape_row(fit: FixedFit) -> dict[str, Any]:
    lower = StatedLife(fit.shape, fit.scale_lower_days)
    life = StatedLife(fit.shape, fit.scale_days) if fit.scale_days is not None else None
    return {
        "method": "fixed shape",
        "log_likelihood": fit.log_likelihood if isinstance(fit, FixedShapeFit) else None,
        "shape": fit.shape,
        "scale_days": fit.scale_days,
        "scale_days_lower": fit.scale_lower_days,
        "b10_days": life.b_life(10) if life else None,
        "b10_days_lower": lower.b_life(10),
        "mean_life_days": life.mean_life if life else None,
        "mean_life_days_lower": lower.mean_life,
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

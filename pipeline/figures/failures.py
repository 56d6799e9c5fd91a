"""Which controls fail, how soon and how often: fits, curves and rates of groups."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.groups import FULL_FITS, GROUPINGS, curve_frame, fit_row, poisson_limits
from pipeline.store import Store

AS_READ = (
    "shape", "shape_lower", "shape_upper", "b10_days", "b10_days_lower", "b10_days_upper",
    "mean_life_days", "mean_life_days_lower", "mean_life_days_upper",
)  # fmt: skip
CURVE_COLUMNS = ("age_days", "at_risk", "failures", "survival", "lower", "upper")


def groupings() -> tuple[str, ...]:
    """Names of the groupings: all, kind, model, switching, lamp, model and lamp."""
    return tuple(GROUPINGS)


def failure_groups(
    store: Store, grouping: str = "model and lamp", filters: Filters = EVERYTHING
) -> pd.DataFrame:
    """Life fit and failure rate of each group, the soonest to fail first.

    Columns: group_name, those of the table ``life_fits`` (units: controls, failures, control_years, method, shape,
    scale_days, b10_days and mean_life_days with limits, confidence, note); the same fit if every doubtful failure
    counts as read (b10_days_as_read, mean_life_days_as_read, shape_as_read, with limits); and by rate, ages or not:
    failures_in_rate, control_years_in_rate, failures_per_100_control_years with exact limits.
    With filters the lives they choose are fitted anew by the same functions that made the table; a period
    cuts each life at its edges.
    """
    check_grouping(grouping)
    if filters.everything:
        return query.frame(store, "group_fits", filters, grouping=grouping)
    fits = pd.DataFrame(_refit(store, grouping, filters), columns=_fit_columns(store))
    joined = fits.merge(_rates(store, grouping, filters), on="group_name", how="outer")
    return joined.sort_values(["b10_days", "group_name"], na_position="last", ignore_index=True)


def curve(store: Store, grouping: str, group: str, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Kaplan-Meier curve of one group: age_days, at_risk, failures, survival, lower, upper.

    Empty where the group has no lives or nothing failed.
    """
    check_grouping(grouping)
    if filters.everything:
        return query.frame(store, "curve", filters, grouping=grouping, group=group)
    lives = query.frame(store, "group_lives", filters, by_group=grouping, group=group)
    if lives.empty:
        return pd.DataFrame(columns=list(CURVE_COLUMNS), dtype=float)
    return curve_frame(GroupLives(lives).at_central_ages(), facts(store).assumptions).reindex(
        columns=list(CURVE_COLUMNS)
    )


def check_grouping(grouping: str) -> None:
    """Refuse what is no grouping of pipeline.lives."""
    if grouping not in GROUPINGS:
        raise ValueError(f"grouping {grouping!r} is not one of {', '.join(GROUPINGS)}")


def _refit(store: Store, grouping: str, filters: Filters) -> list[dict[str, Any]]:
    lives = query.frame(store, "group_lives", filters, by_group=grouping, group=None)
    assumptions = facts(store).assumptions
    shapes: dict[str, float] = dict(
        store.rows(
            "SELECT group_name, shape FROM life_fits WHERE grouping = 'kind' AND list_contains(?, method)",
            [list(FULL_FITS)],
        )
    )
    fits = []
    for name, rows in lives.groupby("group_name"):
        part = GroupLives(rows)
        shape = shapes.get(part.only_kind or "")
        as_read = fit_row(part, assumptions, shape, drawn=False)
        beside = {f"{column}_as_read": as_read.get(column) for column in AS_READ}
        fits.append({"group_name": name} | fit_row(part, assumptions, shape) | beside)
    return fits


def _fit_columns(store: Store) -> list[str]:
    """Columns of life_fits that a group's row shows."""
    own = [name for name in store.frame("SELECT * FROM life_fits LIMIT 0").columns if name != "grouping"]
    return [*own, *(f"{name}_as_read" for name in AS_READ)]


def _rates(store: Store, grouping: str, filters: Filters) -> pd.DataFrame:
    rates = query.frame(store, "group_rates", filters, by_group=grouping)
    per_100 = 100 / rates["control_years_in_rate"]
    lower, upper = poisson_limits(rates["failures_in_rate"], facts(store).confidence)
    return rates.assign(
        failures_per_100_control_years=rates["failures_in_rate"] * per_100,
        failures_per_100_control_years_lower=lower * per_100,
        failures_per_100_control_years_upper=upper * per_100,
    )

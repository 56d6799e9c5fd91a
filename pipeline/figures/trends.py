"""Whether calls and failures grow from year to year: the season taken out, and the number of controls heeded."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.activity import monthly_activity
from pipeline.figures.facts import Facts, facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival import CannotFit, fit_count_trend

COUNTED = {
    "fault_calls": "lighting calls, planned work left out",
    "incidents": "incidents",
    "day_burning_incidents": "day-burning incidents",
    "control_failures_hard": "control failures, hard count",
}
COLUMNS = (
    "what", "total", "months", "percent_a_year", "percent_a_year_lower", "percent_a_year_upper",
    "percent_a_year_per_control", "percent_a_year_per_control_lower", "percent_a_year_per_control_upper", "model",
    "dispersion", "season", "note",
)  # fmt: skip


def activity_with_exposure(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """monthly_activity with controls_observed: controls under observation, on the mean of the month's days.

    Also incidents_per_100_controls and control_failures_per_100_controls (hard count) of the month; missing where none
    is under observation.
    """
    observed = query.frame(store, "controls_observed", filters)
    joined = monthly_activity(store, filters).merge(observed, on="month", how="left", validate="many_to_one")
    controls = joined["controls_observed"].astype(float)
    hundreds = controls.where(controls > 0) / 100
    return joined.assign(
        incidents_per_100_controls=joined["incidents"] / hundreds,
        control_failures_per_100_controls=joined["control_failures_hard"] / hundreds,
    )


def whole_months(info: Facts, activity: pd.DataFrame, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """The months that the log, and the period, cover from first to last day."""
    first, last = filters.start or info.log_from, filters.end or info.log_to
    starts = pd.to_datetime(activity["month"])
    if first is None or last is None:
        return activity[:0]
    whole = (starts >= pd.Timestamp(first)) & (starts + pd.offsets.MonthEnd(1) <= pd.Timestamp(last))
    return activity[whole].reset_index(drop=True)


def count_trends(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Change from year to year of monthly counts, as they are and per control under observation.

    A row for each of COUNTED: what, total and months (whole months only), percent_a_year with limits,
    percent_a_year_per_control with limits (missing where no control is under observation in some month), model
    ('Poisson', or 'negative binomial' where the counts vary more), dispersion (of the Poisson fit per degree of
    freedom; 1 is Poisson), season (taken out or not), note (why there is no number). Incidents and failures are
    dated by their first report.
    """
    info = facts(store)
    months = whole_months(info, activity_with_exposure(store, filters), filters)
    rows = [_trend(months, column, label, info.confidence) for column, label in COUNTED.items()]
    return pd.DataFrame(rows if len(months) else [], columns=list(COLUMNS))


def _trend(months: pd.DataFrame, column: str, label: str, confidence: float) -> dict[str, object]:
    frame = pd.DataFrame({"month": pd.to_datetime(months["month"]), "count": months[column].astype(float)})
    row: dict[str, object] = {
        "what": label,
        "total": int(frame["count"].sum()),
        "months": len(frame),
        "note": "",
    }
    try:
        trend = fit_count_trend(frame, confidence)
    except CannotFit as refusal:
        return row | {"note": str(refusal)}
    row |= _percent("percent_a_year", trend.yearly_ratio, trend.limits)
    row |= {
        "model": trend.model.replace("poisson", "Poisson"),
        "dispersion": trend.dispersion,
        "season": "taken out" if trend.season_removed else "not",
    }
    observed = months["controls_observed"].astype(float)
    if not (observed > 0).all():
        return row | {
            "note": "Controls under observation are not known for every month, so there is no rate."
        }
    try:
        per_control = fit_count_trend(frame.assign(exposure=observed), confidence)
    except CannotFit as refusal:
        return row | {"note": str(refusal)}
    return row | _percent("percent_a_year_per_control", per_control.yearly_ratio, per_control.limits)


def _percent(name: str, ratio: float, limits: tuple[float, float]) -> dict[str, object]:
    ends = zip(("", "_lower", "_upper"), (ratio, *limits), strict=True)
    return {f"{name}{end}": 100 * (value - 1) for end, value in ends}

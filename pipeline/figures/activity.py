"""What is happening: lights burning now, calls and failures by month, how long a repair takes."""

from __future__ import annotations

import warnings

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival import SmallRiskSetWarning, kaplan_meier

ALL_YEARS, ALL_SYMPTOMS = "all", "all"
_ONE_HOUR_DAYS = 1 / 24


def burning_now(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Open day-burning incidents at the log's end, the dearest per day first. A period does not apply.

    Columns: incident_id, site_id, site, control_id, position, kind, model, lamps, connected_w, controls,
    first_reported_on, age_days, kwh_per_day, cost_per_day, kwh_* and cost_* so far (low, central, high),
    last_evidence_on, days_since_evidence, stale (longer than stale_after_days), last_evidence,
    failed_probability, cause, calls, flags, left_out_reason.
    """
    stale_after_days = facts(store).assumptions.stale_after_days
    return query.frame(store, "burning_now", filters, stale_after_days=stale_after_days)


def open_without_symptom(store: Store, filters: Filters = EVERYTHING) -> int:
    """Incidents still open at the log's end whose calls name no symptom: some of them may burn by day."""
    rows = query.rows(store, "open_without_symptom", filters.without_period())
    return int(rows[0][0])


def monthly_activity(store: Store, filters: Filters = EVERYTHING, by_kind: bool = False) -> pd.DataFrame:
    """Calls and incidents by month of report; months without any stand with zeros.

    Columns: month, kind ('all', unless ``by_kind``), lighting_calls, planned_calls (of them: nothing but planned work),
    fault_calls (the others), incidents, planned_works (what was ordered ahead and reports no fault: no incidents),
    day_burning_incidents, control_failures_expected (controls times failed_probability), control_failures_hard
    (controls of incidents at or above the threshold).
    A lighting call that concerns two kinds of control counts once under each.
    """
    return query.frame(store, "monthly_activity", filters, by_kind=by_kind)


def time_to_restore(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """How long from the first report until the light worked again, by year of report and symptom.

    Incidents still open at the log's end are censored there, not dropped (Kaplan-Meier). Columns: year and
    symptom ('all' for their total), incidents, still_open, and by when half and 90 % are restored, with the limits
    of the curve at that share: median_days, median_lower_days, median_upper_days, ninety_percent_days, …; missing
    where the log ends before that share was reached. Source of the limits: as for median_life.
    """
    spans = query.frame(store, "restore_spans", filters, shortest_days=_ONE_HOUR_DAYS)
    spans["year"] = spans["year"].astype(str)
    confidence = facts(store).confidence
    groups = [((ALL_YEARS, ALL_SYMPTOMS), spans)]
    groups += [((str(year), ALL_SYMPTOMS), part) for year, part in spans.groupby("year")]
    groups += [((ALL_YEARS, str(symptom)), part) for symptom, part in spans.groupby("symptom")]
    groups += [
        ((str(year), str(symptom)), part) for (year, symptom), part in spans.groupby(["year", "symptom"])
    ]
    return pd.DataFrame(
        [_restored(year, symptom, part, confidence) for (year, symptom), part in groups if len(part)],
        columns=["year", "symptom", "incidents", "still_open", *_reached_by(None)],
    )


def _restored(year: str, symptom: str, spans: pd.DataFrame, confidence: float) -> dict[str, object]:
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", SmallRiskSetWarning
        )  # every span enters at 0: early risk sets are whole
        curve = kaplan_meier(spans, confidence=confidence)
    return {
        "year": year,
        "symptom": symptom,
        "incidents": int(spans["quantity"].sum()),
        "still_open": int(spans.loc[~spans["failed"].astype(bool), "quantity"].sum()),
    } | _reached_by(curve)


def _reached_by(curve: pd.DataFrame | None) -> dict[str, float | None]:
    """By when half and nine tenths are restored, each with where the curve's own limits reach that share."""
    return {
        f"{share}{limit}_days": None if curve is None else first_age_at(curve, left, column)
        for share, left in (("median", 0.5), ("ninety_percent", 0.1))
        for limit, column in (("", "survival"), ("_lower", "lower"), ("_upper", "upper"))
    }


def first_age_at(curve: pd.DataFrame, survival: float, column: str = "survival") -> float | None:
    """First age in days at which a Kaplan-Meier curve, or a limit of it, is at or below ``survival``; None if never."""
    reached = curve.loc[curve[column] <= survival + 1e-12, "age_days"]
    return float(reached.iloc[0]) if len(reached) else None

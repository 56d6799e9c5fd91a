"""What meters say of day burning, beside what was called in."""

from __future__ import annotations

from datetime import date

import pandas as pd

from pipeline.figures import query
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.numerals import counted
from pipeline.store import Store

ADD_METERS = (
    "Put interval readings of the accounts that pay for lighting into meters/ as CSV (account_id, interval_start, "
    "kwh or kw) and name the account of each site in sites.csv, then build again."
)
_LABEL = "Day burning on meters that nobody called in"


def meter_reconciliation(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents and episodes on meters by what each says of the other, one row a finding; empty without meters.

    Columns: finding, verdict, in_total (part of the reported total), incidents, episodes, kwh with kwh_lower and
    kwh_upper (where measured 95 % limits of the measurement, else the bounds of onset and end), measured (of them,
    with energy from a meter), median_delay_days (from onset to first report), incident_ids. A period takes incidents
    by their first report and episodes by overlap; kinds choose incidents only.
    """
    return query.frame(store, "meter_reconciliation", filters)


def meter_episodes(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Stretches of day burning found on meters, oldest first: account, sites, onset and end with limits, step, energy
    with 95 % limits, and the first report with its delay where there is one."""
    return query.frame(store, "meter_episodes", filters)


def meter_incidents(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents of day burning whose lamps an account with readings pays, by report: what its meter says of each, the
    delay with limits, whether onset and end are measured, its energy in the total and as measured (95 % limits)."""
    return query.frame(store, "meter_incidents", filters)


def unreported_energy(store: Store, filters: Filters = EVERYTHING) -> Figure:
    """Energy that meters measured and nobody called in: beside the reported total, never in it."""
    key = "unreported_energy"
    if not store.count("meter_accounts"):
        return Figure(key, _LABEL, "kWh", None, note=f"There are no meter readings. {ADD_METERS}")
    rows = meter_reconciliation(store, filters)
    rows = rows[rows["verdict"] == "never called in"]
    searched, refused, years = store.row(
        "SELECT count(*) FILTER (refused IS NULL), count(*) FILTER (refused IS NOT NULL),"
        " coalesce(sum(days) FILTER (refused IS NULL), 0) / 365.25 FROM meter_accounts"
    )
    if not searched:
        return Figure(
            key,
            _LABEL,
            "kWh",
            None,
            note="No account with readings can tell day burning: see the accounts below.",
        )
    kwh, lower, upper = (float(rows[name].sum()) for name in ("kwh", "kwh_lower", "kwh_upper"))
    episodes = int(rows["episodes"].sum())
    note = (
        f"{counted(episodes, 'stretch', 'stretches')} in {years:.1f} account-years of "
        f"{counted(searched, 'account')}. Not part of the reported total. Limits "
        "hold the noise of the readings. What other accounts burnt unreported stays unknown."
    )
    if refused:
        note += f" {counted(refused, 'account')} with readings cannot tell day burning."
    return Figure(key, _LABEL, "kWh", kwh, lower, upper, note)


def unreported_text(store: Store, filters: Filters = EVERYTHING) -> str:
    """A sentence that belongs beside the boundary of the reported total; empty without meters."""
    if not store.count("meter_accounts"):
        return ""
    figure = unreported_energy(store, filters)
    return "" if figure.value is None else f"On the accounts with meter readings it came to {figure.text()}."


def meter_accounts(store: Store) -> pd.DataFrame:
    """Accounts with readings: their span, gaps, loads, and the sentence of each that cannot tell day burning."""
    return store.frame("SELECT * FROM meter_accounts ORDER BY account_id")


def account_days(store: Store, account_id: str) -> pd.DataFrame:
    """An account's solar days: day, off_at, on_at (local), day_kw, night_kw, expected_kw, excess_kw."""
    return store.frame(
        "SELECT day, off_at, on_at, day_kw, night_kw, expected_kw, excess_kw FROM meter_days"
        " WHERE account_id = $account ORDER BY day",
        {"account": account_id},
    )


def account_hours(store: Store, account_id: str, first: date, last: date) -> pd.DataFrame:
    """An account's hours from one day to another, both included: hour_at (local), kw."""
    return store.frame(
        "SELECT hour_at, kw FROM meter_hours"
        " WHERE account_id = $account AND hour_at::DATE BETWEEN $first AND $last ORDER BY hour_s",
        {"account": account_id, "first": first, "last": last},
    )


def meter_files(store: Store) -> pd.DataFrame:
    """Meter files read: name, rows_read, kept, left_out, accounts, interval_min, clock, first_at, last_at."""
    return store.frame("SELECT * EXCLUDE (file_id) FROM meter_files ORDER BY name")


def meter_gaps(store: Store) -> pd.DataFrame:
    """Readings kept out and intervals missing, in runs: source_file, account_id, reason, rows and times."""
    return store.frame(
        "SELECT f.name AS source_file, g.* EXCLUDE (file_id) FROM meter_gaps g LEFT JOIN meter_files f USING (file_id)"
        " ORDER BY f.name, g.first_row, g.account_id, g.first_stamp"
    )

"""What meters say of day burning, on the page Wasted energy: reconciliation, stretches found, and an account's days."""

from __future__ import annotations

from datetime import timedelta

import pandas as pd
import streamlit as st

from dashboard import charts, parts
from dashboard import format as write
from dashboard.data import ask, filters_in_force
from dashboard.format import Shown
from pipeline import figures

_DAYS_AROUND = 20
_MOST_DAYS = 120
RECONCILIATION = {
    "finding": Shown("What meter and calls say"),
    "incidents": Shown("Incidents called in", write.count),
    "episodes": Shown("Stretches on meters", write.count),
    "kwh": Shown("Energy, kWh", write.estimate),
    "kwh_limits": Shown(
        "Limits, kWh", help="Measured: 95 % limits of the noise; else bounds of onset and end"
    ),
    "in_total": Shown("In the reported total", write.yes_no),
    "median_delay_days": Shown("Median delay to the first report, days", write.estimate),
}
EPISODES = {
    "account_id": Shown("Account"),
    "sites": Shown("Sites"),
    "onset_central": Shown("Began", write.moment),
    "ended_central": Shown("Ended", write.moment),
    "step_kw": Shown("Step of the load, kW", write.estimate),
    "kwh": Shown("Energy, kWh", write.estimate),
    "kwh_limits": Shown("95 % limits, kWh"),
    "called_in": Shown("Called in?"),
    "first_reported_at": Shown("First report", write.moment),
    "delay_days": Shown("Delay, days", write.estimate),
}
ACCOUNTS = {
    "account_id": Shown("Account"),
    "first_day": Shown("First day", write.day),
    "last_day": Shown("Last day", write.day),
    "missing_intervals": Shown("Missing intervals", write.count),
    "night_kw": Shown("Load at night, kW", write.estimate),
    "standing_kw": Shown("Load by day, kW", write.estimate),
    "least_step_kw": Shown("Smallest step found in a week, kW", write.estimate),
    "refused": Shown("Why nothing is looked for"),
}
GAPS = {
    "source_file": Shown("File"),
    "account_id": Shown("Account"),
    "reason": Shown("Why"),
    "first_row": Shown("First row", write.row),
    "last_row": Shown("Last row", write.row),
    "intervals": Shown("Readings", write.count),
    "first_stamp": Shown("First time"),
    "last_stamp": Shown("Last time"),
}
DELAYS = {
    "origin": Shown("Detection delay"),
    "in_force": Shown("In force", write.yes_no),
    "delay_days": Shown("Mean, days", write.estimate),
    "limits": Shown("90 % limits, days"),
    "note": Shown("From"),
}


def show() -> None:
    """The block."""
    st.header("What the meters say", anchor=False)
    accounts = ask(figures.meter_accounts)
    if accounts.empty:
        parts.nothing("There are no meter readings.", figures.ADD_METERS)
    else:
        _reconciliation()
        _episodes()
        _account(accounts)
    _delays()


def _reconciliation() -> None:
    parts.card_rows([ask(figures.unreported_energy, filters_in_force())])
    frame = ask(figures.meter_reconciliation, filters_in_force())
    if frame.empty:
        parts.nothing(
            "Neither meters nor calls show day burning here.", "Choose a longer period or other sites."
        )
        return
    picked = parts.table(_limited(frame), RECONCILIATION, "meter-reconciliation", pick=True)
    if picked is not None:
        row = frame.iloc[picked]
        parts.calls_of(row["incident_ids"], str(row["finding"]), "meter_calls")
    st.caption(
        "What is called in stays in the reported total, measured where a meter saw it; what only meters found stands "
        "beside it. Choose a row to see its calls. An incident that its meter does not show may be a lamp registered "
        "on the wrong account."
    )


def _episodes() -> None:
    frame = ask(figures.meter_episodes, filters_in_force())
    if not frame.empty:
        parts.table(_limited(frame), EPISODES, "meter-episodes")


def _account(accounts: pd.DataFrame) -> None:
    with st.expander("Accounts with readings, and readings kept out"):
        parts.table(accounts, ACCOUNTS, "meter-accounts")
        gaps = ask(figures.meter_gaps)
        if not gaps.empty:
            parts.table(gaps, GAPS, "meter-gaps")
    searched = accounts.loc[accounts["refused"].isna(), "account_id"].tolist()
    if not searched:
        return
    account = str(st.selectbox("Account to draw", searched, key="meter_account"))
    days = ask(figures.account_days, account)
    episodes = ask(figures.meter_episodes, filters_in_force())
    episodes = episodes[episodes["account_id"] == account]
    parts.chart(charts.measured_days(days, episodes), "measured-days")
    st.caption(
        "Mean load well inside the hours in which lamps should be off. Shaded: day burning; C: called in, "
        "N: never called in."
    )
    _hours(account, days, episodes)


def _hours(account: str, days: pd.DataFrame, episodes: pd.DataFrame) -> None:
    """The hours around one stretch, or the last days."""
    if episodes.empty:
        first, last = days["day"].max() - timedelta(days=2 * _DAYS_AROUND), days["day"].max()
    else:
        labels = [
            f"{begun:%Y-%m-%d}, {size:.2f} kW"
            for begun, size in zip(episodes["onset_central"], episodes["step_kw"], strict=True)
        ]
        chosen = st.selectbox(
            "Stretch to draw hour by hour",
            range(len(labels)),
            format_func=labels.__getitem__,
            key="meter_stretch",
        )
        row = episodes.iloc[int(chosen or 0)]
        first = row["onset_central"].normalize() - timedelta(days=_DAYS_AROUND)
        last = min(
            row["ended_central"].normalize() + timedelta(days=_DAYS_AROUND),
            first + timedelta(days=_MOST_DAYS),
        )
    hours = ask(figures.account_hours, account, first.date(), last.date())
    parts.chart(charts.measured_hours(hours, days[days["day"].between(first, last)]), "measured-hours")
    st.caption("The darker, the higher the load. Between the two lines lamps should be off.")


def _delays() -> None:
    frame = ask(figures.detection_delays)
    if frame.empty:
        return
    st.subheader("How long day burning lasts before its first call", anchor=False)
    parts.prose_table(
        write.with_limits(frame, "limits", "lower_days", "upper_days"), DELAYS, "detection-delays"
    )
    st.caption(
        'The estimate is used where portfolio.toml says detection_delay = "estimated" under [assumptions].'
    )


def _limited(frame: pd.DataFrame) -> pd.DataFrame:
    return write.with_limits(frame, "kwh_limits", "kwh_lower", "kwh_upper")

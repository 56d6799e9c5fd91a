"""The section about meters: what they and the calls say of each other, the stretches found, and the detection delay."""

from __future__ import annotations

import pandas as pd

from pipeline import figures
from pipeline.report import charts
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store


def meters(store: Store) -> Section:
    """Meters beside calls."""
    episodes = figures.meter_episodes(store)
    tables = (
        _reconciliation(store), _episodes(episodes), _incidents(store), _accounts(store), _delays(store),
        _files(store), _gaps(store),
    )  # fmt: skip
    figure = figures.unreported_energy(store)
    lead = f"{figure.label}: {figure.text()}. {figure.note}"
    if figure.value is not None:
        lead += (
            " What was called in stays in the reported total, measured where a meter saw it. An incident that its "
            "meter does not show may be a lamp registered on the wrong account."
        )
    return Section("meters", "What do the meters say?", lead, tables, _chart(store, episodes))


def _reconciliation(store: Store) -> Table:
    columns = (
        Column("finding", "What meter and calls say"),
        Column("incidents", "Incidents called in", "count"),
        Column("episodes", "Stretches on meters", "count"),
        Column("kwh", "Energy", "estimate", "kWh", "kwh_lower", "kwh_upper"),
        Column("in_total", "In the reported total", "yes or no"),
        Column("median_delay_days", "Median delay to the first report", "estimate", "days"),
    )
    return Table(
        "meter_reconciliation", "Meters and calls", columns, figures.meter_reconciliation(store),
        if_empty=f"There are no meter readings. {figures.ADD_METERS}",
    )  # fmt: skip


def _episodes(episodes: pd.DataFrame) -> Table:
    columns = (
        Column("account_id", "Account"),
        Column("sites", "Sites"),
        Column("onset_central", "Began", "time"),
        Column("ended_central", "Ended", "time"),
        Column("step_kw", "Step of the load", "estimate", "kW"),
        Column("excess_hours", "Hours lit by day", "estimate", "h"),
        Column("kwh", "Energy", "estimate", "kWh", "kwh_lower", "kwh_upper"),
        Column("called_in", "Called in?"),
        Column("delay_days", "Delay to the first report", "estimate", "days"),
        Column("onset_high", "Began, earliest", "time", on_page=False),
        Column("onset_low", "Began, latest", "time", on_page=False),
        Column("ended_low", "Ended, earliest", "time", on_page=False),
        Column("ended_high", "Ended, latest", "time", on_page=False),
        Column("filled_hours", "Of the hours without readings", "estimate", "h", on_page=False),
    )
    return Table(
        "meter_episodes", "Day burning found on meters", columns, episodes, limit=20, if_empty="None."
    )


def _incidents(store: Store) -> Table:
    columns = (
        Column("first_reported_at", "First report", "time"),
        Column("site", "Site"),
        Column("control_id", "Control"),
        Column("account_id", "Account"),
        Column("verdict", "On its meter"),
        Column("delay_days", "Delay", "estimate", "days", "delay_lower_days", "delay_upper_days"),
        Column("kwh", "Energy in the total", "estimate", "kWh"),
        Column("kwh_measured", "Measured", "estimate", "kWh", "kwh_measured_lower", "kwh_measured_upper"),
        Column("incident_id", "Incident", on_page=False),
        Column("onset_measured", "Onset measured", "yes or no", on_page=False),
        Column("end_measured", "End measured", "yes or no", on_page=False),
        Column("share", "Share of the stretch", "share", on_page=False),
    )
    return Table(
        "meter_incidents", "Incidents on accounts with readings", columns, figures.meter_incidents(store), limit=20,
        if_empty="None.",
    )  # fmt: skip


def _files(store: Store) -> Table:
    columns = (
        Column("name", "File"),
        Column("rows_read", "Rows read", "count"),
        Column("kept", "Readings used", "count"),
        Column("left_out", "Kept out", "count"),
        Column("accounts", "Accounts", "count"),
        Column("interval_min", "Intervals, inferred", unit="min"),
        Column("clock", "Times"),
    )
    return Table("meter_files", "Meter files", columns, figures.meter_files(store), if_empty="None.")


def _gaps(store: Store) -> Table:
    columns = (
        Column("source_file", "File"),
        Column("account_id", "Account"),
        Column("reason", "Why"),
        Column("first_row", "First row", "row"),
        Column("last_row", "Last row", "row"),
        Column("intervals", "Readings", "count"),
        Column("first_stamp", "First time"),
        Column("last_stamp", "Last time"),
    )
    return Table(
        "meter_gaps", "Readings kept out, and intervals without any", columns, figures.meter_gaps(store), limit=10,
        if_empty="None.",
    )  # fmt: skip


def _accounts(store: Store) -> Table:
    columns = (
        Column("account_id", "Account"),
        Column("first_day", "First day", "date"),
        Column("last_day", "Last day", "date"),
        Column("interval_min", "Interval", "estimate", "min"),
        Column("missing_intervals", "Missing intervals", "count"),
        Column("standing_kw", "Load by day", "estimate", "kW"),
        Column("night_kw", "Load at night", "estimate", "kW"),
        Column("least_step_kw", "Smallest step found in a week", "estimate", "kW"),
        Column("refused", "Why nothing is looked for"),
    )
    return Table(
        "meter_accounts", "Accounts with readings", columns, figures.meter_accounts(store), if_empty="None."
    )


def _delays(store: Store) -> Table:
    columns = (
        Column("origin", "Detection delay"),
        Column("in_force", "In force", "yes or no"),
        Column("delay_days", "Mean", "estimate", "days", "lower_days", "upper_days"),
        Column("note", "From"),
    )
    return Table(
        "detection_delays", "Time from the start of day burning to its first call, with 90 % limits", columns,
        figures.detection_delays(store), if_empty="None.",
    )  # fmt: skip


def _chart(store: Store, episodes: pd.DataFrame) -> tuple[charts.Chart, ...]:
    """The days of the account on which most was found, or the first that could be searched."""
    accounts = figures.meter_accounts(store)
    searched = accounts.loc[accounts["refused"].isna(), "account_id"].tolist()
    if not searched:
        return ()
    most = episodes.assign(kwh=episodes["kwh"].astype(float)).groupby("account_id")["kwh"].sum()
    account = str(most.idxmax()) if len(most) else str(searched[0])
    return charts.measured(
        figures.account_days(store, account), episodes[episodes["account_id"] == account], account
    )

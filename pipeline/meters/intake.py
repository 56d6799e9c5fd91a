"""Meter files in meters/ -> meter_files and meter_gaps, and their readings as a view for the stage after."""

from __future__ import annotations

from pathlib import Path

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.cache import forget_others
from pipeline.ingest.privacy import literal
from pipeline.meters.files import MeterFile, open_meter_files
from pipeline.meters.read import read_meter_file
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Store, sql_text

_PACKAGE = "pipeline.meters"
_MOST_TOLD = 5


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Judge every reading of every meter file; raises InputFaults with every file that has not the form."""
    folder = portfolio.cache / "meters"
    if not portfolio.meter_files():
        forget_others(folder, set())
        return
    progress.step("Looking at the meter files")
    files, told = open_meter_files(portfolio)
    for place, sentence in told:
        store.notice("meters", place, sentence)
    zones = _account_zones(store, portfolio.settings.time_zone)
    read: list[tuple[MeterFile, Path]] = []
    faults: list[Fault] = []
    for done, one in enumerate(files):
        progress.step(f"Reading {one.export.name}")
        progress.share(done, len(files))
        try:
            read.append((one, read_meter_file(one, folder, zones, portfolio.settings.meters.absurd_times)))
        except InputFaults as error:
            faults += error.faults
    if faults:
        raise InputFaults(faults)
    forget_others(folder, {rows_file.stem for _, rows_file in read})
    _offer_readings(store, read)
    store.fill("meter_gaps", sql_text(_PACKAGE, "gaps"))
    _fill_files(store, read)
    _tell(store)


def _account_zones(store: Store, default: str) -> dict[str, str]:
    """The time zone of every account that the registers name; also as the table account_zones."""
    store.run(sql_text(_PACKAGE, "account_sites"))
    store.run(
        """
        CREATE OR REPLACE TEMP TABLE account_zones AS
        SELECT account_id, coalesce(min(time_zone), $default) AS time_zone
        FROM (SELECT account_id FROM accounts UNION SELECT account_id FROM account_sites) named
        LEFT JOIN account_sites USING (account_id)
        LEFT JOIN sites USING (site_id)
        GROUP BY account_id
        """,
        {"default": default},
    )
    store.run(
        "CREATE OR REPLACE TEMP MACRO local_time(instant_s, zone) AS timezone(zone, to_timestamp(instant_s))"
    )
    return dict(store.rows("SELECT account_id, time_zone FROM account_zones ORDER BY 1"))


def _offer_readings(store: Store, read: list[tuple[MeterFile, Path]]) -> None:
    """The view meter_readings over all files; what stands in two of them counts once."""
    selects = [
        # Every value is a quoted literal of ours.
        f"SELECT {literal(one.export.file_id)} AS file_id, * FROM read_parquet({literal(str(rows_file))})"  # noqa: S608
        for one, rows_file in read
    ]
    store.run("CREATE OR REPLACE TEMP VIEW judged_readings AS " + " UNION ALL ".join(selects))
    store.run(sql_text(_PACKAGE, "repeated"))
    store.run(
        """
        CREATE OR REPLACE TEMP VIEW meter_readings AS
        SELECT r.* REPLACE (coalesce(r.reason, t.reason) AS reason, coalesce(r.stamp, t.stamp) AS stamp)
        FROM judged_readings r LEFT JOIN repeated t USING (file_id, row_number)
        """
    )


def _fill_files(store: Store, read: list[tuple[MeterFile, Path]]) -> None:
    for one, _ in read:
        store.fill(
            "meter_files",
            sql_text(_PACKAGE, "meter_files"),
            {"file_id": one.export.file_id, "name": one.export.name, "unit": one.unit},
        )


def _tell(store: Store) -> None:
    """A sentence per file and reason: how many readings are kept out, and where they stand."""
    rows = store.rows(
        """
        SELECT f.name, g.reason, sum(g.intervals)::BIGINT, count(*),
          list(g.first_row ORDER BY g.first_row)[:$most], list(g.last_row ORDER BY g.first_row)[:$most],
          list(DISTINCT g.account_id ORDER BY g.account_id)[:$most]
        FROM meter_gaps g JOIN meter_files f USING (file_id)
        GROUP BY ALL ORDER BY ALL
        """,
        {"most": _MOST_TOLD},
    )
    for name, reason, readings, runs, firsts, lasts, accounts in rows:
        where = ", ".join(
            str(first) if first == last else f"{first} to {last}"
            for first, last in zip(firsts, lasts, strict=True)
        )
        more = f" and {count_text(runs - len(firsts))} more places" if runs > len(firsts) else ""
        whose = f" of {', '.join(str(account) for account in accounts)}" if any(accounts) else ""
        store.notice(
            "meters",
            name,
            f"{count_text(readings)} {'reading' if readings == 1 else 'readings'}{whose} kept out: {reason} "
            f"({'row' if where.isdigit() else 'rows'} {where}{more}).",
        )
    _tell_missing(store)


def _tell_missing(store: Store) -> None:
    """One sentence for all accounts with gaps, the worst of them named."""
    rows = store.rows(
        "SELECT account_id, sum(intervals)::BIGINT, count(*), min(first_stamp), max(last_stamp) FROM meter_gaps"
        " WHERE reason = 'missing' GROUP BY ALL ORDER BY 2 DESC, 1"
    )
    if not rows:
        return
    told = [
        f"{count_text(missing)} of {account} in {count_text(runs)} {'stretch' if runs == 1 else 'stretches'}, "
        f"{first} to {last}"
        for account, missing, runs, first, last in rows[:_MOST_TOLD]
    ]
    more = len(rows) - len(told)
    told += [f"and those of {count_text(more)} more accounts"] if more else []
    store.notice("meters", "meters/", f"missing intervals: {'; '.join(told)}. Nothing is put in their place.")

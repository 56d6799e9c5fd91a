"""The intake stage: every export in calls/ -> source_files, rejected_rows and calls."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.cache import forget_others
from pipeline.ingest.file_notices import ReadFile, tell_files
from pipeline.ingest.files import Export, open_exports
from pipeline.ingest.layouts import read_layouts
from pipeline.ingest.lighting import judge_texts
from pipeline.ingest.overlaps import tell_overlaps
from pipeline.ingest.privacy import literal
from pipeline.ingest.read import Recognised, parse_export, recognise
from pipeline.ingest.signatures import READABLE
from pipeline.ingest.work_words import judge_work_types, tell_work_types
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

# A coordinate is a system's default when so many calls at so many different places share it.
_DEFAULT_ROWS, _DEFAULT_PLACES = 100, 30
# Where no log end is set: a report this far from the body of reports, a completion this long after them, is a slip.
_FAR_REPORT_DAYS, _FAR_COMPLETION_DAYS = 366, 5 * 366


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill source_files, rejected_rows and calls; raises InputFaults with every fault of every file at once."""
    progress.step("Looking at the exports")
    recognised = _recognise_all(store, portfolio)
    files = _parse_all(recognised, portfolio, progress)
    progress.step("Telling each call's latest state")
    _offer_parsed_rows(store, portfolio, files)
    judge_texts(store, portfolio, progress)
    judge_work_types(store)
    _define_clock_changes(store, portfolio.settings.time_zone)
    store.fill("calls", sql_text("pipeline.ingest", "calls"), _log_bounds(store, portfolio.settings))
    store.run(
        f"UPDATE calls SET duplicate_of = d.repeats FROM ({sql_text('pipeline.ingest', 'duplicates')}) d "  # noqa: S608
        "WHERE d.call_id = calls.call_id"
    )
    store.run(
        f"UPDATE calls SET part_of = p.parent FROM ({sql_text('pipeline.ingest', 'parents')}) p "  # noqa: S608
        "WHERE p.call_id = calls.call_id"
    )
    store.fill("rejected_rows", "SELECT file_id, row_number, reject_reason AS reason, raw FROM parsed_rows "
               "WHERE reject_reason IS NOT NULL ORDER BY file_id, row_number")  # fmt: skip
    _fill_source_files(store, files)
    tell_files(store, files)
    tell_overlaps(store)
    tell_work_types(store)
    store.run("DROP VIEW parsed_rows; DROP TABLE lighting_verdicts; DROP TABLE worded_types")


def _define_clock_changes(store: Store, time_zone: str) -> None:
    """``left_out_by_clocks(t)``: an hour that the change to summer time skips; ``comes_twice(t)``: one it gives back.

    Clocks change between midnight and four, so other hours are not looked at (common practice, no source).
    """
    zone = literal(time_zone)
    there_and_back = f"timezone({zone}, timezone({zone}, t)"
    store.run(
        f"""
        CREATE OR REPLACE TEMP MACRO left_out_by_clocks(t) AS
          CASE WHEN hour(t) < 4 THEN {there_and_back}) <> t ELSE false END;
        CREATE OR REPLACE TEMP MACRO comes_twice(t) AS
          CASE WHEN hour(t) < 4
            THEN {there_and_back} + INTERVAL 1 HOUR) = t OR {there_and_back} - INTERVAL 1 HOUR) = t ELSE false END
        """
    )


def _recognise_all(store: Store, portfolio: Portfolio) -> list[Recognised]:
    """Every export with its layout; raises all faults together."""
    layouts = read_layouts(portfolio)
    paths = portfolio.export_files()
    if not paths:
        raise InputFaults.one(
            "calls/", "holds no export.", f"Put the work-order exports into {portfolio.calls}: {READABLE}."
        )
    found: list[Recognised] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            exports = open_exports(path, _name_of(path, portfolio))
        except InputFaults as error:
            faults += error.faults
            continue
        for export in exports:
            twin = next((one.export for one in found if one.export.sha256 == export.sha256), None)
            if twin:
                store.notice(
                    "ingest", export.name, f"is the same file as {twin.name}, byte for byte; read once."
                )
                continue
            try:
                found += recognise(export, layouts, str(portfolio.folder))
            except InputFaults as error:
                faults += error.faults
    if faults:
        raise InputFaults(faults)
    return found


def _name_of(path: Path, portfolio: Portfolio) -> str:
    return path.relative_to(portfolio.folder).as_posix()


def _parse_all(recognised: list[Recognised], portfolio: Portfolio, progress: Progress) -> list[ReadFile]:
    files: list[ReadFile] = []
    keys: set[str] = set()
    faults: list[Fault] = []
    for done, one in enumerate(recognised):
        progress.step(f"Reading {one.export.name}")
        progress.share(done, len(recognised))
        try:
            key, parsed = parse_export(one, portfolio)
        except InputFaults as error:
            faults += error.faults
            continue
        keys.add(key)
        files.append(ReadFile(one, parsed))
    if faults:
        raise InputFaults(faults)
    forget_others(portfolio.cache, keys)
    return files


def _offer_parsed_rows(store: Store, portfolio: Portfolio, files: list[ReadFile]) -> None:
    """A temporary view of all files' parsed rows with the file's id and name and the system it speaks for."""
    selects = []
    for one in files:
        layout, export = one.recognised.layout, one.recognised.export
        has_completion = str("completed_at" in layout.columns).lower()
        selects.append(
            # Every value is a quoted literal of ours.
            f"SELECT {literal(export.file_id)} AS file_id, {literal(export.name)} AS file_name, "  # noqa: S608
            f"{literal(layout.source_of(export.name))} AS source, {has_completion} AS has_completion, * "
            f"FROM read_parquet({literal(str(portfolio.cache / one.parsed.rows_file))})"
        )
    store.run("CREATE TEMP VIEW parsed_rows AS " + " UNION ALL BY NAME ".join(selects))


def _log_bounds(store: Store, settings: Settings) -> dict[str, Any]:
    """The span outside which a date is no fact: the settings', else around the body of the reports."""
    low, high = store.row(
        """
        SELECT CASE WHEN n >= 400 THEN b[1] ELSE b[2] - (b[3] - b[2]) * 3 END,
               CASE WHEN n >= 400 THEN b[4] ELSE b[3] + (b[3] - b[2]) * 3 END
        FROM (SELECT count(*) AS n, quantile_disc(reported_at, [0.005, 0.25, 0.75, 0.995]) AS b
              FROM parsed_rows WHERE reject_reason IS NULL)
        """
    )
    log, far = settings.log, timedelta(days=_FAR_REPORT_DAYS)
    first = datetime.combine(log.start, time()) if log.start else (low or datetime(2000, 1, 1)) - far
    last = datetime.combine(log.end, time(23, 59, 59)) if log.end else (high or datetime(2000, 1, 1)) + far
    latest = last + timedelta(days=_FAR_COMPLETION_DAYS)  # orders are closed after the last report, too
    return {
        "log_from": first.date(),
        "log_to": last.date(),
        "latest_completion": latest,
        "default_rows": _DEFAULT_ROWS,
        "default_places": _DEFAULT_PLACES,
    }


def _fill_source_files(store: Store, files: list[ReadFile]) -> None:
    rows = [_source_row(one.recognised.export, one) for one in files]
    with store.frame_as("files_read", pd.DataFrame(rows)) as name:
        store.fill(
            "source_files",
            f"""
            SELECT f.*,
              coalesce(c.calls, 0) AS calls, coalesce(c.superseded, 0) AS superseded,
              coalesce(c.flagged, 0) AS flagged, coalesce(r.rejected, 0) AS rejected
            FROM {name} f
            LEFT JOIN (SELECT file_id, count(*) FILTER (superseded_by IS NULL) AS calls,
                         count(*) FILTER (superseded_by IS NOT NULL) AS superseded,
                         count(*) FILTER (superseded_by IS NULL AND len(flags) > 0) AS flagged
                       FROM calls GROUP BY file_id) c USING (file_id)
            LEFT JOIN (SELECT file_id, count(*) AS rejected FROM rejected_rows GROUP BY file_id) r USING (file_id)
            ORDER BY f.name
            """,  # noqa: S608 - the name of a frame of ours
        )


def _source_row(export: Export, one: ReadFile) -> dict[str, Any]:
    layout, parsed = one.recognised.layout, one.parsed
    return {
        "file_id": export.file_id,
        "name": export.name,
        "sha256": export.sha256,
        "layout": layout.name,
        "source": layout.source_of(export.name),
        "sheet": parsed.sheet,
        "header_row": parsed.header_row,
        "rows_read": parsed.rows_read,
        "not_data": parsed.not_data,
        "date_order": parsed.date_order,
        "unused_columns": list(layout.unused()),
        "withheld_columns": list(layout.withheld),
    }

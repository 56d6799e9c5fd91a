"""One meter file -> its judged readings in the cache, as Parquet: one row per row of the file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from pipeline.faults import InputFaults
from pipeline.ingest.privacy import literal, masked_sql
from pipeline.ingest.read import limit_memory
from pipeline.meters.clocks import clock_stretches
from pipeline.meters.files import MeterFile, decoded_copy
from pipeline.numerals import count_text
from pipeline.store import Store, sql_text

# Raise it whenever the judged readings of the same file could come out differently.
READER_VERSION = 2
LENGTHS_MIN = (5, 10, 15, 20, 30, 60)
_PACKAGE = "pipeline.meters"
# Of what is kept out, no cell is known to be what its column says: it may hold a person.
_KEPT = f"""
SELECT row_number, start_s, interval_s, has_offset, kw, reason,
       CASE WHEN reason = 'not an account of the registers' THEN {masked_sql("account_id")} ELSE account_id END
         AS account_id,
       CASE WHEN reason IS NOT NULL THEN {masked_sql("stamp")} END AS stamp
FROM judged
"""  # noqa: S608 - patterns of ours


def read_meter_file(
    meter_file: MeterFile, folder: Path, zones: Mapping[str, str], absurd_times: float
) -> Path:
    """The file's readings as Parquet, from the cache in ``folder`` or judged now.

    zones : time zone by account; readings of other accounts are kept out. Columns: row_number, account_id,
    start_s (UTC), interval_s, has_offset, kw, reason (why kept out), stamp (as written, where kept out).
    """
    parts = [READER_VERSION, meter_file.export.sha256, meter_file.unit, sorted(zones.items()), absurd_times]
    rows_file = folder / f"{hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:32]}.parquet"
    if rows_file.is_file():
        return rows_file
    folder.mkdir(parents=True, exist_ok=True)
    with closing(Store.scratch()) as scratch, TemporaryDirectory(prefix="dayburn-") as spill:
        limit_memory(scratch, spill)
        _load(scratch, meter_file, Path(spill), zones)
        _judge(scratch, meter_file, absurd_times)
        partial = rows_file.with_suffix(".parquet.partial")
        scratch.run(f"COPY ({_KEPT}) TO {literal(str(partial))} (FORMAT parquet, COMPRESSION zstd)")
        partial.replace(rows_file)
    return rows_file


def _load(scratch: Store, meter_file: MeterFile, spill: Path, zones: Mapping[str, str]) -> None:
    """Fill ``timed``: every row with its instant; raises InputFaults when lines were lost on the way."""
    form, places = meter_file.export.text, meter_file.places
    assert form is not None
    lines = sql_text(_PACKAGE, "lines").format(
        columns=meter_file.width,
        account=places["account_id"],
        start=places["interval_start"],
        reading=places[meter_file.unit],
        delimiter=literal(form.delimiter),
        path=literal(str(decoded_copy(meter_file, spill))),
        header_row=meter_file.header_row,
    )
    scratch.run(f"CREATE TABLE lines AS {lines}")
    _check_lines(scratch, meter_file, form.lines)
    scratch.run(sql_text(_PACKAGE, "stamps"))
    _offer_clocks(scratch, zones)
    scratch.run(sql_text(_PACKAGE, "instants"))


def _check_lines(scratch: Store, meter_file: MeterFile, lines: int) -> None:
    arrived = scratch.count("lines") + meter_file.header_row
    if arrived != lines:
        raise InputFaults.one(
            meter_file.export.name,
            f"has {count_text(lines)} lines, but {count_text(arrived)} arrived.",
            "Save it again with one kind of line end; nothing of it was used.",
        )


def _offer_clocks(scratch: Store, zones: Mapping[str, str]) -> None:
    """Tables account_zones and clock_stretches, for the span of the file."""
    frame = pd.DataFrame(sorted(zones.items()), columns=["account_id", "time_zone"]).astype(str)
    first, last = scratch.row("SELECT min(local_at), max(local_at) FROM stamped")
    with scratch.frame_as("zones_given", frame) as name:
        scratch.run(f"CREATE TABLE account_zones AS SELECT * FROM {name}")  # noqa: S608 - a name of ours
    spans = [clock_stretches(zone, first, last) for zone in sorted(set(zones.values()))] if first else []
    scratch.run(
        "CREATE TABLE clock_stretches (time_zone VARCHAR, local_from TIMESTAMP, local_to TIMESTAMP,"
        " offset_s DOUBLE, again_s DOUBLE, skipped BOOLEAN)"
    )
    if spans:
        scratch.fill_frame("clock_stretches", pd.concat(spans, ignore_index=True))


def _judge(scratch: Store, meter_file: MeterFile, absurd_times: float) -> None:
    """Fill ``judged``: each row's load, or why it is kept out."""
    form = meter_file.export.text
    assert form is not None
    reading = "reading" if form.delimiter == "," else "replace(reading, ',', '.')"
    scratch.run(
        sql_text(_PACKAGE, "readings").format(
            reading=reading,
            kw_factor="3600.0 / g.interval_s" if meter_file.unit == "kwh" else "1.0",
            lengths_s=", ".join(str(minutes * 60) for minutes in LENGTHS_MIN),
            absurd_times=float(absurd_times),
        )
    )

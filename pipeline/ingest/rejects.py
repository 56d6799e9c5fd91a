"""Rows that cannot become calls: set aside with their reason, and shown as JSON without people."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from pipeline.ingest.layouts import Layout
from pipeline.ingest.privacy import literal
from pipeline.ingest.reading import Reading
from pipeline.ingest.texts import cells_of, text_sql
from pipeline.store import Store

_BREAKS, _MARKS = "chr(10) || chr(13) || chr(9)", "'\ue010\ue011\ue012'"
_ESCAPED = "replace(replace(replace(TEXT, chr(10), '\\n'), chr(13), '\\r'), chr(9), '\\t')"


def set_rejected_aside(store: Store, reading: Reading, time_zone: str, who: str) -> None:
    """The table ``rejected`` of the rows that cannot become calls, still with people in them.

    ``who``: SQL over ``raw`` of what tells a row's people.
    """
    dates, layout = reading.column("reported_at"), reading.layout
    undated = dates.is_unread(reading.times("reported_at", time_zone))
    # The numbers first: only of these rows is all that follows wanted.
    store.run(
        f"""
        CREATE TEMP TABLE rejected_numbers AS
        SELECT row_number, {undated} AS undated FROM texts {dates.join}
        WHERE surplus IS NOT NULL OR {undated}
          OR (call_number_t IS NULL AND problem_text_t IS NULL AND action_text_t IS NULL);
        CREATE TEMP TABLE rejected_raw AS SELECT * FROM raw JOIN rejected_numbers USING (row_number);
        CREATE TEMP TABLE rejected AS
        SELECT row_number, {who} AS who, surplus, undated, left({text_sql(layout, "reported_at")}, 40) AS date_shown,
          {_raw_sql(layout, cells_of(layout, layout.withheld))} AS raw_row
        FROM rejected_raw;
        DROP TABLE rejected_raw; DROP TABLE rejected_numbers
        """  # noqa: S608 - names of ours
    )


def explain_rejected(store: Store, layout: Layout, changed: Collection[str]) -> None:
    """The table ``reasons``: each rejected row's reason and the row as JSON, masked."""
    shown = {column: shown_text(column, changed) for column in ("raw_row", "date_shown")}
    joins = "".join(f" LEFT JOIN masked_{column} USING (row_number)" for column in shown if column in changed)
    store.run(
        f"CREATE TEMP TABLE reasons AS SELECT row_number, {_reject_sql(layout, shown['date_shown'])} "  # noqa: S608
        f"AS reject_reason, {_ESCAPED.replace('TEXT', shown['raw_row'])} AS raw FROM rejected{joins}"
    )


def shown_text(column: str, changed: Collection[str]) -> str:
    """SQL: a text as it may be shown."""
    return f"coalesce(masked_{column}.text, {column})" if column in changed else column


def _reject_sql(layout: Layout, date_shown: str) -> str:
    """SQL: why a row of ``rejected`` cannot become a call."""
    columns = " + ".join(layout.columns["reported_at"])
    order = f" read {layout.date_order}" if layout.date_order else ""
    return f"""CASE
    WHEN surplus IS NOT NULL
      THEN 'has ' || json_array_length(surplus) || ' more ' || if(json_array_length(surplus) = 1, 'cell', 'cells')
        || ' than the header ({len(layout.header)})'
    WHEN date_shown IS NULL THEN {literal(f"no report date: column {columns} is empty")}
    WHEN undated
      THEN 'report date ''' || {date_shown} || ''' in column ' || {literal(columns)}
        || ' is not a date' || {literal(order)}
    ELSE 'neither a call number nor any text'
  END"""


def _raw_sql(layout: Layout, withheld: Sequence[str]) -> str:
    """SQL: the row as JSON text, column name to cell; withheld cells only say so, blank ones are left out.

    A row with surplus cells is shifted somewhere: from the first withheld column on, any cell may hold a person.
    """
    pairs = []
    doubtful = False
    for place, column in enumerate(layout.header, start=1):
        cell = f"c{place}"
        doubtful = doubtful or cell in withheld
        when = f"{cell} IS NOT NULL" if cell in withheld else f"{cell} IS NOT NULL AND surplus IS NOT NULL"
        text = f"translate({cell}, {_BREAKS}, {_MARKS})"
        shown = f"CASE WHEN {when} THEN '[withheld]' ELSE {text} END" if doubtful else text
        pairs.append(f"{literal(column)}, {shown}")
    beyond = (
        "CASE WHEN surplus IS NOT NULL THEN '[withheld]' END"
        if withheld
        else r"regexp_replace(surplus, '\\[nrt]', ' ', 'g')"
    )
    pairs.append(f"'cells beyond the header', {beyond}")
    row = f"json_merge_patch('{{}}', json_object({', '.join(pairs)}))::VARCHAR"
    # The letter of an escaped line break would stand right before a name or number and hide it from masking.
    return f"translate({row}, {_MARKS}, {_BREAKS})"

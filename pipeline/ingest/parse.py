"""One export's raw rows as parsed, masked rows: the SELECT that reads every field by its layout.

The parsed rows of a file are what the cache keeps; docs/layouts.md says what each rule is. What many rows share (a day
and hour, a status, an amount, a text to mask) is read once and joined.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass

from pipeline.ingest.date_columns import DateColumn, evidence_of, gather_keys, read_keys
from pipeline.ingest.dates import AM_PM_LOST, DateEvidence, formats_for, timestamp_sql
from pipeline.ingest.fields import CHOICES, FIELDS, NUMBERS
from pipeline.ingest.layouts import Layout
from pipeline.ingest.masking import Masker
from pipeline.ingest.numbers import hours_sql, money_sql, number_sql
from pipeline.ingest.privacy import literal
from pipeline.ingest.remnants import without_remnants_sql
from pipeline.ingest.synonyms import Synonyms
from pipeline.settings import Settings
from pipeline.store import Store

_TIMES = ("reported_at", "completed_at")
_MASKED = ("problem_text", "action_text", "site_text", "address_text", "category_text", "asset_text")
_MASKED_CHOICES = ("status", "work_type")  # read by their whole value, and shown where that has no meaning


@dataclass(frozen=True)
class Reading:
    """How a file is read: its layout, whether it is a workbook (of days from 1904), its dates' evidence."""

    layout: Layout
    is_workbook: bool
    evidence: dict[str, DateEvidence]
    from_1904: bool = False

    @property
    def all_dates(self) -> DateEvidence:
        """The evidence of all date columns together."""
        return sum(self.evidence.values(), DateEvidence())

    def statement(self) -> str:
        """The order of day and month and what it rests on; fields whose times of day are not believed."""
        lost = [field for field, found in self.evidence.items() if found.half_days_lost]
        said = self.all_dates.statement(self.layout.date_order)
        return f"{said}; {AM_PM_LOST} ({', '.join(lost)})" if lost else said


def read_file_evidence(store: Store, layout: Layout, is_workbook: bool, from_1904: bool = False) -> Reading:
    """Look over the whole of ``raw`` for what its dates prove; keeps their distinct days and hours in tables."""
    evidence = {}
    for field in _TIMES:
        if layout.columns.get(field):
            texts = f"(SELECT {text_sql(layout, field)} AS {field}_t FROM raw)"  # noqa: S608 - names of ours
            evidence[field] = evidence_of(store, gather_keys(store, texts, f"{field}_t"))
    return Reading(layout, is_workbook, evidence, from_1904)


def text_sql(layout: Layout, field: str) -> str:
    """SQL: the text of a field, its columns joined; NULL where all are blank or the field is not mapped."""
    cells = [f"c{place}" for place in layout.places(field)]
    if not cells:
        return "NULL::VARCHAR"
    if FIELDS[field].kind == "time" and len(cells) > 1:
        # A workbook's pure date may carry midnight before the time of day from the other column.
        cells = [f"regexp_replace(trim({cell}), ' 00:00:00$', '')" for cell in cells]
    is_words = FIELDS[field].kind in ("text", "label", "choice")
    texts = [without_remnants_sql(cell) if is_words else cell for cell in cells]
    visible = [
        f"CASE WHEN regexp_matches({cell}, '\\S') THEN {text} END"
        for cell, text in zip(cells, texts, strict=True)
    ]
    if len(visible) == 1:
        return visible[0]
    if field == "address_text":
        # A house number and its street are one address, not two parts of one.
        joined = f"concat_ws({literal(FIELDS[field].joint)}, {', '.join(visible)})"
        return rf"nullif(regexp_replace({joined}, '^\s*([0-9]+[A-Za-z]?)\s*, ', '\1 '), '')"
    return f"nullif(concat_ws({literal(FIELDS[field].joint)}, {', '.join(visible)}), '')"


def prepare_parsed_rows(store: Store, reading: Reading, settings: Settings, synonyms: Synonyms) -> str:
    """Read what rows share, in tables of the scratch store; gives the SELECT over ``raw`` of the parsed rows."""
    layout = reading.layout
    masker = Masker(
        store, settings.privacy, _cells(layout, layout.withheld), _cells(layout, layout.technicians)
    )
    _offer_texts(store, layout, masker)
    for field in reading.evidence:
        read_keys(store, _date_column(field), _time_reader(reading, field, settings))
    shared = {field: _choice_sql(layout, field, synonyms) for field in CHOICES if layout.columns.get(field)}
    shared |= {field: _number_sql(layout, field) for field in NUMBERS if layout.columns.get(field)}
    for field, value in shared.items():
        store.run(
            f"CREATE TEMP TABLE read_{field} AS SELECT {field}_t, {value} AS value "  # noqa: S608 - names of ours
            f"FROM (SELECT DISTINCT {field}_t FROM texts WHERE {field}_t IS NOT NULL)"
        )
    _set_rejected_aside(store, reading, settings)
    mapped = [f"{field}_t" for field in (*_MASKED, *_MASKED_CHOICES) if layout.columns.get(field)]
    changed = masker.masked_cells(
        [
            *(("texts", column) for column in mapped),
            ("worded_numbers", "call_number_t"),
            ("rejected", "raw_row"),
            ("rejected", "date_shown"),
        ]
    )
    _explain_rejected(store, layout, changed)
    return _select_sql(reading, settings, list(shared), changed)


def _cells(layout: Layout, columns: Sequence[str]) -> list[str]:
    """Columns of the header as columns of ``raw``."""
    return [f"c{layout.header.index(column) + 1}" for column in columns]


def _offer_texts(store: Store, layout: Layout, masker: Masker) -> None:
    """A view of ``raw`` with the text of every field (FIELD_t), the row's people and the row as JSON."""
    texts = ",\n    ".join(f"{text_sql(layout, field)} AS {field}_t" for field in FIELDS)
    store.run(
        f"CREATE TEMP VIEW texts AS SELECT row_number, surplus, missing, {masker.who_sql()} AS who, "  # noqa: S608
        f"{_raw_sql(layout, _cells(layout, layout.withheld))} AS raw_row, {texts} FROM raw"
    )
    # What has neither blank nor @ is a number or a tag, however much it may look like a telephone's.
    store.run(
        "CREATE TEMP VIEW worded_numbers AS SELECT row_number, who, trim(call_number_t) AS call_number_t FROM texts "
        "WHERE contains(trim(call_number_t), ' ') OR contains(call_number_t, '@')"
    )


def _date_column(field: str) -> DateColumn:
    return DateColumn(f"dates_of_{field}_t", f"{field}_t")


def _join_dates(fields: Iterable[str]) -> str:
    """SQL: to ``texts``, the keys of its dates."""
    columns = [_date_column(field) for field in fields]
    return "".join(f" LEFT JOIN {one.table} ON {one.table}.key = {one.key}" for one in columns)


def _set_rejected_aside(store: Store, reading: Reading, settings: Settings) -> None:
    """The table ``rejected`` of the rows that cannot become calls, still with people in them."""
    time = _date_column("reported_at").time(_time_reader(reading, "reported_at", settings))
    store.run(
        f"""
        CREATE TEMP TABLE rejected AS
        SELECT row_number, who, surplus, raw_row, left(reported_at_t, 40) AS date_shown, {time} IS NULL AS undated
        FROM texts {_join_dates(["reported_at"])}
        WHERE surplus IS NOT NULL OR {time} IS NULL
          OR (call_number_t IS NULL AND problem_text_t IS NULL AND action_text_t IS NULL)
        """  # noqa: S608 - names of ours
    )


def _explain_rejected(store: Store, layout: Layout, changed: Collection[str]) -> None:
    """The table ``reasons``: each rejected row's reason and the row as JSON, masked."""
    shown = {column: _shown(column, changed) for column in ("raw_row", "date_shown")}
    joins = "".join(f" LEFT JOIN masked_{column} USING (row_number)" for column in shown if column in changed)
    store.run(
        f"CREATE TEMP TABLE reasons AS SELECT row_number, {_reject_sql(layout, shown['date_shown'])} "  # noqa: S608
        f"AS reject_reason, {_ESCAPED.replace('TEXT', shown['raw_row'])} AS raw FROM rejected{joins}"
    )


def _shown(column: str, changed: Collection[str]) -> str:
    """SQL: a text as it may be shown."""
    return f"coalesce(masked_{column}.text, {column})" if column in changed else column


def _select_sql(reading: Reading, settings: Settings, shared: Sequence[str], changed: Collection[str]) -> str:
    times = {
        field: _date_column(field).time(_time_reader(reading, field, settings))
        if field in reading.evidence
        else "NULL::TIMESTAMP"
        for field in _TIMES
    }
    masked = ",\n  ".join(
        f"{_shown_field(field, changed)} AS {field if field in _MASKED else f'{field}_text'}"
        for field in (*_MASKED, *_MASKED_CHOICES)
    )
    values = {field: f"read_{field}.value" for field in shared}
    numbers = ", ".join(f"{values.get(field, 'NULL::DOUBLE')} AS {field}" for field in NUMBERS)
    choices = ", ".join(f"{values.get(field, 'NULL::VARCHAR')} AS {field}" for field in CHOICES)
    odd_numbers = " OR ".join(f"({field}_t IS NOT NULL AND {field} IS NULL)" for field in NUMBERS)
    joins = _join_dates(reading.evidence)
    joins += "".join(f" LEFT JOIN read_{field} USING ({field}_t)" for field in shared)
    kept = ", ".join(f"{field}_t" for field in (*NUMBERS, "site_text", "problem_text"))
    masks = sorted(column for column in changed if column not in ("raw_row", "date_shown"))
    joins += "".join(f" LEFT JOIN masked_{column} USING (row_number)" for column in masks)
    call_number, odd_call_number = "trim(call_number_t)", "false"
    if "call_number_t" in changed:  # it holds a person, so it is no number
        odd_call_number = "masked_call_number_t.text IS NOT NULL"
        call_number = f"CASE WHEN NOT {odd_call_number} THEN {call_number} END"
    return f"""
WITH joined AS (
  SELECT row_number, reject_reason, reasons.raw, missing, completed_at_t,
    {kept},
    {call_number} AS call_number, {odd_call_number} AS odd_call_number,
    {times["reported_at"]} AS reported_at, {times["completed_at"]} AS completed_at,
    {choices},
    {masked},
    {numbers}
  FROM texts {joins} LEFT JOIN reasons USING (row_number)
)
SELECT * EXCLUDE (missing, completed_at_t, odd_call_number, {kept}),
  -- Only a call without a number is known by its content.
  CASE WHEN call_number IS NULL
    THEN md5(concat_ws(chr(31), reported_at, coalesce(site_text_t, ''), coalesce(problem_text_t, '')))
  END AS content_key,
  list_concat(
    CASE WHEN missing > 0 THEN ['cells missing'] ELSE [] END,
    CASE WHEN completed_at_t IS NOT NULL AND completed_at IS NULL THEN ['date to check'] ELSE [] END,
    CASE WHEN {odd_numbers} THEN ['number to check'] ELSE [] END,
    CASE WHEN odd_call_number THEN ['call number to check'] ELSE [] END
  ) AS flags
FROM joined
"""  # noqa: S608 - names of ours and quoted literals


def _shown_field(field: str, changed: Collection[str]) -> str:
    """SQL: a text field, masked; tags and values of a choice without the blanks around them."""
    text = _shown(f"{field}_t", changed)
    return text if field.endswith("_text") and field != "asset_text" else f"trim({text})"


def _time_reader(reading: Reading, field: str, settings: Settings) -> Callable[[str], str]:
    """SQL of a text -> SQL of its time, by the formats that the column's evidence gives."""
    evidence = reading.evidence[field]
    formats = formats_for(list(evidence.shapes), reading.layout.date_order)

    def read(text: str) -> str:
        return timestamp_sql(
            text, formats, settings.time_zone, serials=reading.is_workbook, evidence=evidence,
            from_1904=reading.from_1904,
        )  # fmt: skip

    return read


def _number_sql(layout: Layout, field: str) -> str:
    reader = {"hours": hours_sql, "money": money_sql}.get(FIELDS[field].kind, number_sql)
    return reader(f"{field}_t", layout.decimal)


def _reject_sql(layout: Layout, date_shown: str) -> str:
    """SQL: why a row of ``rejected`` cannot become a call."""
    columns = " + ".join(layout.columns["reported_at"])
    order = f" read {layout.date_order}" if layout.date_order else ""
    return f"""CASE
    WHEN surplus IS NOT NULL
      THEN 'has ' || json_array_length(surplus) || ' more cells than the header ({len(layout.header)})'
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


_BREAKS, _MARKS = "chr(10) || chr(13) || chr(9)", "'\ue010\ue011\ue012'"
_ESCAPED = "replace(replace(replace(TEXT, chr(10), '\\n'), chr(13), '\\r'), chr(9), '\\t')"


def _choice_sql(layout: Layout, field: str, synonyms: Synonyms) -> str:
    """SQL: a value of a choice by the layout's own meanings, then by the synonyms; NULL where none fits."""
    meanings = synonyms.meanings(field) | {
        key.lower(): value for key, value in layout.values.get(field, {}).items()
    }
    text = rf"lower(regexp_replace(trim({field}_t), '\s+', ' ', 'g'))"
    branches = []
    for meaning in CHOICES[field]:
        values = sorted(value for value, said in meanings.items() if said == meaning)
        if values:
            branches.append(f"WHEN {text} IN ({', '.join(map(literal, values))}) THEN '{meaning}'")
    return f"CASE {' '.join(branches)} END" if branches else "NULL::VARCHAR"

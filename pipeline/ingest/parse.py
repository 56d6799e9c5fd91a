"""One export's raw rows as parsed, masked rows: the SELECT that reads every field by its layout.

The parsed rows of a file are what the cache keeps; docs/layouts.md says what each rule is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.ingest.dates import AM_PM_LOST, DateEvidence, formats_for, read_evidence, timestamp_sql
from pipeline.ingest.fields import CHOICES, FIELDS, NUMBERS
from pipeline.ingest.layouts import Layout
from pipeline.ingest.numbers import hours_sql, money_sql, number_sql
from pipeline.ingest.privacy import literal, own_names_sql
from pipeline.ingest.remnants import without_remnants_sql
from pipeline.ingest.synonyms import Synonyms
from pipeline.settings import Settings
from pipeline.store import Store

_TIMES = ("reported_at", "completed_at")
_MASKED = ("problem_text", "action_text", "site_text", "address_text", "category_text", "asset_text")
_MASKED_CHOICES = ("status", "work_type")  # read by their whole value, and shown where that has no meaning


@dataclass(frozen=True)
class Reading:
    """How a file is read: its layout, whether it is a workbook (of days from 1904), the evidence of its date columns."""

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
    """Look over the whole of ``raw`` for what its dates prove."""
    evidence = {
        field: read_evidence(store, "raw", text_sql(layout, field))
        for field in _TIMES
        if layout.columns.get(field)
    }
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


def parsed_rows_sql(reading: Reading, settings: Settings, synonyms: Synonyms) -> str:
    """The SELECT over ``raw`` (see module text); ``mask`` must have been prepared in the same database."""
    layout = reading.layout
    withheld = [f"c{layout.header.index(column) + 1}" for column in layout.withheld]
    texts = ",\n    ".join(f"{text_sql(layout, field)} AS {field}_t" for field in FIELDS)
    numbers = ",\n    ".join(f"{_number_sql(layout, field)} AS {field}" for field in NUMBERS)
    # All texts of a row in one list, so that the long mask is written, and its patterns compiled, once.
    mapped = [field for field in (*_MASKED, *_MASKED_CHOICES) if layout.columns.get(field)]
    texts_to_mask = ", ".join(["raw_if_rejected", *(f"{field}_t" for field in mapped)])
    hidden = {
        field: f"masked[{place}]"
        if field.endswith("_text") and field != "asset_text"
        else f"trim(masked[{place}])"
        for place, field in enumerate(mapped, start=2)
    }
    masked = ",\n  ".join(
        f"{hidden.get(field, 'NULL::VARCHAR')} AS {field if field in _MASKED else f'{field}_text'}"
        for field in (*_MASKED, *_MASKED_CHOICES)
    )
    odd_numbers = " OR ".join(f"({field}_t IS NOT NULL AND {field} IS NULL)" for field in NUMBERS)
    return f"""
WITH texts AS (
  SELECT row_number, surplus, missing, {own_names_sql(withheld, settings.privacy)} AS own,
    {_raw_sql(layout, withheld)} AS raw_row,
    {texts}
  FROM raw
), typed AS (
  SELECT *,
    {_time_sql(reading, "reported_at", settings)} AS reported_at,
    {_time_sql(reading, "completed_at", settings)} AS completed_at,
    {numbers}
  FROM texts
), judged AS (
  SELECT *, {_reject_sql(layout)} AS reject_reason FROM typed
), hidden AS (
  SELECT *, list_transform([{texts_to_mask}], lambda text: mask(text, own)) AS masked
  FROM (SELECT *, CASE WHEN reject_reason IS NOT NULL THEN raw_row END AS raw_if_rejected FROM judged)
)
SELECT
  row_number, reject_reason,
  masked[1] AS raw,
  trim(call_number_t) AS call_number, reported_at, completed_at,
  {_choice_sql(layout, "status", synonyms)} AS status,
  {_choice_sql(layout, "work_type", synonyms)} AS work_type,
  {masked},
  {", ".join(NUMBERS)},
  md5(concat_ws(chr(31), reported_at, coalesce(site_text_t, ''), coalesce(problem_text_t, ''))) AS content_key,
  list_filter([
    CASE WHEN missing > 0 THEN 'cells missing' END,
    CASE WHEN completed_at_t IS NOT NULL AND completed_at IS NULL THEN 'date to check' END,
    CASE WHEN {odd_numbers} THEN 'number to check' END
  ], lambda flag: flag IS NOT NULL) AS flags
FROM hidden
ORDER BY row_number
"""  # noqa: S608 - names of ours and quoted literals


def _time_sql(reading: Reading, field: str, settings: Settings) -> str:
    evidence = reading.evidence.get(field)
    if evidence is None:
        return "NULL::TIMESTAMP"
    formats = formats_for(list(evidence.shapes), reading.layout.date_order)
    return timestamp_sql(
        f"{field}_t", formats, settings.time_zone, serials=reading.is_workbook, evidence=evidence,
        from_1904=reading.from_1904,
    )  # fmt: skip


def _number_sql(layout: Layout, field: str) -> str:
    if not layout.columns.get(field):
        return "NULL::DOUBLE"
    reader = {"hours": hours_sql, "money": money_sql}.get(FIELDS[field].kind, number_sql)
    return reader(f"{field}_t", layout.decimal)


def _reject_sql(layout: Layout) -> str:
    """SQL: why a row cannot become a call, NULL when it can."""
    columns = " + ".join(layout.columns["reported_at"])
    order = f" read {layout.date_order}" if layout.date_order else ""
    return f"""CASE
    WHEN surplus IS NOT NULL
      THEN 'has ' || json_array_length(surplus) || ' more cells than the header ({len(layout.header)})'
    WHEN reported_at_t IS NULL THEN {literal(f"no report date: column {columns} is empty")}
    WHEN reported_at IS NULL
      THEN 'report date ''' || mask(left(reported_at_t, 40), own) || ''' in column ' || {literal(columns)}
        || ' is not a date' || {literal(order)}
    WHEN call_number_t IS NULL AND problem_text_t IS NULL AND action_text_t IS NULL
      THEN 'neither a call number nor any text'
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
        shown = f"CASE WHEN {when} THEN '[withheld]' ELSE {cell} END" if doubtful else cell
        pairs.append(f"{literal(column)}, {shown}")
    beyond = "CASE WHEN surplus IS NOT NULL THEN '[withheld]' END" if withheld else "surplus"
    pairs.append(f"'cells beyond the header', {beyond}")
    return f"json_merge_patch('{{}}', json_object({', '.join(pairs)}))::VARCHAR"


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

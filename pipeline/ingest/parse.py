"""One export's raw rows as parsed, masked rows: the SELECT that reads every field by its layout.

The parsed rows of a file are what the cache keeps; docs/layouts.md says what each rule is. What many rows share (a day
and hour, a status, an amount, a text to mask) is read once and joined.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from pipeline.ingest.date_columns import read_keys
from pipeline.ingest.fields import CHOICES, FIELDS, NUMBERS
from pipeline.ingest.layouts import Layout
from pipeline.ingest.masking import Masker
from pipeline.ingest.numbers import hours_sql, money_sql, number_sql
from pipeline.ingest.privacy import literal
from pipeline.ingest.reading import TIMES, Reading
from pipeline.ingest.rejects import explain_rejected, set_rejected_aside, shown_text
from pipeline.ingest.synonyms import Synonyms
from pipeline.ingest.texts import cells_of, offer_texts
from pipeline.settings import Settings
from pipeline.store import Store

_MASKED = ("problem_text", "action_text", "site_text", "address_text", "category_text", "asset_text")
# Kept only where it looks like a number of a call: nothing else may stand in it.
_PARENT_NUMBER = (
    "CASE WHEN regexp_full_match(trim(parent_number_t), '[A-Za-z]{0,5}[ #.:-]{0,2}[0-9][0-9A-Za-z-]{0,20}')"
    " THEN trim(parent_number_t) END"
)
_MASKED_CHOICES = ("status", "work_type")  # read by their whole value, and shown where that has no meaning


def prepare_parsed_rows(store: Store, reading: Reading, settings: Settings, synonyms: Synonyms) -> str:
    """Read what rows share, in tables of the scratch store; gives the SELECT over ``raw`` of the parsed rows."""
    layout = reading.layout
    masker = Masker(
        store, settings.privacy, cells_of(layout, layout.withheld), cells_of(layout, layout.technicians)
    )
    offer_texts(store, layout, masker.who_sql())
    for field in reading.evidence:
        read_keys(store, reading.column(field), reading.times(field, settings.time_zone))
    shared = {field: _choice_sql(layout, field, synonyms) for field in CHOICES if layout.columns.get(field)}
    shared |= {field: _number_sql(layout, field) for field in NUMBERS if layout.columns.get(field)}
    for field, value in shared.items():
        store.run(
            f"CREATE TEMP TABLE read_{field} AS SELECT {field}_t, {value} AS value "  # noqa: S608 - names of ours
            f"FROM (SELECT DISTINCT {field}_t FROM texts WHERE {field}_t IS NOT NULL)"
        )
    set_rejected_aside(store, reading, settings.time_zone, masker.who_sql())
    mapped = [f"{field}_t" for field in (*_MASKED, *_MASKED_CHOICES) if layout.columns.get(field)]
    changed = masker.masked_cells(
        [
            *(("texts", column) for column in mapped),
            ("worded_numbers", "call_number_t"),
            ("rejected", "raw_row"),
            ("rejected", "date_shown"),
        ]
    )
    explain_rejected(store, layout, changed)
    return _select_sql(reading, settings, list(shared), changed)


def _select_sql(reading: Reading, settings: Settings, shared: Sequence[str], changed: Collection[str]) -> str:
    times = {
        field: reading.column(field).time(reading.times(field, settings.time_zone))
        if field in reading.evidence
        else "NULL::TIMESTAMP"
        for field in TIMES
    }
    masked = ",\n  ".join(
        f"{_shown_field(field, changed)} AS {field if field in _MASKED else f'{field}_text'}"
        for field in (*_MASKED, *_MASKED_CHOICES)
    )
    values = {field: f"read_{field}.value" for field in shared}
    numbers = ", ".join(f"{values.get(field, 'NULL::DOUBLE')} AS {field}" for field in NUMBERS)
    choices = ", ".join(f"{values.get(field, 'NULL::VARCHAR')} AS {field}" for field in CHOICES)
    joins = "".join(reading.column(field).join for field in reading.evidence)
    joins += "".join(f" LEFT JOIN read_{field} USING ({field}_t)" for field in shared)
    kept = ", ".join(f"{field}_t" for field in (*NUMBERS, "site_text", "problem_text"))
    masks = sorted(column for column in changed if column not in ("raw_row", "date_shown"))
    joins += "".join(f" LEFT JOIN masked_{column} USING (row_number)" for column in masks)
    call_number, odd_call_number = "trim(call_number_t)", "false"
    if "call_number_t" in changed:  # it holds a person, so it is no number
        odd_call_number = "masked_call_number_t.text IS NOT NULL"
        call_number = f"CASE WHEN NOT {odd_call_number} THEN {call_number} END"
    flags = {
        "date to check": "(completed_at_t IS NOT NULL AND completed_at IS NULL)",
        "number to check": " OR ".join(f"({one}_t IS NOT NULL AND {one} IS NULL)" for one in NUMBERS),
        "call number to check": "odd_call_number",
    }
    return f"""
WITH joined AS (
  SELECT row_number, reject_reason, reasons.raw, missing, completed_at_t,
    {kept},
    {call_number} AS call_number, {odd_call_number} AS odd_call_number,
    {_PARENT_NUMBER} AS parent_number,
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
  CASE WHEN missing > 0 OR {" OR ".join(flags.values())} THEN list_concat(
    CASE WHEN missing > 0 THEN ['cells missing'] ELSE [] END,
    {", ".join(f"CASE WHEN {holds} THEN ['{flag}'] ELSE [] END" for flag, holds in flags.items())}
  ) ELSE [] END AS flags
FROM joined
"""  # noqa: S608 - names of ours and quoted literals


def _shown_field(field: str, changed: Collection[str]) -> str:
    """SQL: a text field, masked; tags and values of a choice without the blanks around them."""
    text = shown_text(f"{field}_t", changed)
    return text if field.endswith("_text") and field != "asset_text" else f"trim({text})"


def _number_sql(layout: Layout, field: str) -> str:
    reader = {"hours": hours_sql, "money": money_sql}.get(FIELDS[field].kind, number_sql)
    return reader(f"{field}_t", layout.decimal_of(field))


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

"""What intake writes: files, rejected rows and calls."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

SOURCE_FILES = Table(
    "source_files", "ingest", "an export that was read", key=("file_id",),
    columns=columns("""
    file_id text! first 16 hex digits of the file's SHA-256; where several sheets of a workbook are read, of that and the sheet's name
    name text! path inside calls/
    sha256 text! SHA-256 of the file's bytes; of a table in an archive, of its unpacked bytes
    layout text! name of the column layout that applied
    source text! work-order system that the layout speaks for; call numbers are unique within it
    sheet text worksheet read, for workbooks
    header_row integer row of the header, counted from 1; 0 for JSON, whose objects name their values
    rows_read integer! data rows read (titles, blanks and totals are not data)
    calls integer! rows that are a call's latest state
    superseded integer! rows whose call has a later state elsewhere, or that repeat a row exactly
    rejected integer! rows that could not become a call
    not_data integer! titles, headers, blank lines and totals
    flagged integer! calls of this file that carry at least one flag
    date_order text day/month order decided over the whole column, and how
    unused_columns texts columns of the file that the layout does not use
    withheld_columns texts columns never loaded because they hold names or contact data
    """),
)  # fmt: skip

REJECTED_ROWS = Table(
    "rejected_rows", "ingest", "a row that could not become a call", key=("file_id", "row_number"),
    columns=columns("""
    file_id text! the export
    row_number integer! row in the file, counted from 1 (for workbooks: the sheet's row)
    reason text! why it could not be used, and which column
    raw text! the row as masked JSON, column name to text; the original stays in the file at that row
    """),
)  # fmt: skip

CALLS = Table(
    "calls", "ingest", "a call, in one of its states; superseded_by is empty for the latest", key=("call_id",),
    columns=columns("""
    call_id text! made from source and call number (without one: report time, site, problem text, occurrence)
    file_id text! export it came from
    row_number integer! row in that export, counted from 1
    source text! work-order system
    call_number text the system's own number
    reported_at time when it was reported, local wall clock
    completed_at time completion stamp, local wall clock
    status text! open, completed, cancelled or unknown
    work_type text! reactive, planned, inspection or project
    is_work_type_by_words flag the export gives no work type; its words or category tell it
    site_text text the site as written
    asset_text text the asset tag as written
    address_text text the address as written
    latitude number degrees north as written
    longitude number degrees east as written
    problem_text text what was reported, masked
    action_text text what was done, masked
    category_text text the system's own category columns, joined by ' | '
    labour_hours number hours booked
    labour_cost money labour, portfolio currency
    material_cost money material, portfolio currency
    contract_cost money contractor's invoice, portfolio currency
    is_lighting flag! the call concerns exterior lighting, judged by category columns and text
    is_lighting_by_text flag! the same, judged by problem and action text alone
    lighting_evidence text the words or the category that decided
    superseded_by text call_id of the later state of the same call
    duplicate_of text call_id of the call that this one says it repeats
    part_of text call_id of the call under which its system files this one (parent and child requests)
    no_finding_reason text why a lighting call yields no finding (cancelled, superseded)
    flags texts what is odd about it (completed before reported, default coordinate, outside the log …)
    """),
)  # fmt: skip

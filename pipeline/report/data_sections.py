"""The sections on which the others rest: data, checks, assumptions."""

from __future__ import annotations

from pipeline import figures
from pipeline.figures import Facts
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store


def sections(store: Store, info: Facts) -> tuple[Section, ...]:
    """What was read, what was checked, what was assumed."""
    return read(store), checked(store), assumed(store)


def read(store: Store) -> Section:
    """Files and rejected rows."""
    files = Table(
        "files_read", "Files", (
            Column("name", "File"),
            Column("layout", "Layout"),
            Column("rows_read", "Rows read", "count"),
            Column("calls", "Calls", "count"),
            Column("superseded", "Superseded", "count"),
            Column("rejected", "Rejected", "count"),
            Column("not_data", "Titles, blanks, totals", "count"),
            Column("flagged", "Flagged calls", "count"),
            Column("date_order", "Order of dates"),
        ),
        figures.files_read(store), if_empty="No file was read.",
    )  # fmt: skip
    rejected = Table(
        "rejected_rows", "Rows that could not become a call", (
            Column("source_file", "File"),
            Column("row_number", "Row", "row"),
            Column("reason", "Why"),
            Column("raw", "The row, masked"),
        ),
        figures.rejected(store), limit=10, if_empty="None.",
    )  # fmt: skip
    lead = "For each file, rows read = calls + superseded + rejected. Every row can be found again by file and row."
    return Section("read", "What was read", lead, (files, rejected))


def checked(store: Store) -> Section:
    """Checks and notices."""
    checks = Table(
        "checks", "Checks at the end of the build",
        (Column("name", "What must hold"), Column("holds", "Holds", "yes or no"), Column("detail", "Compared")),
        figures.checks(store), if_empty="No check was made.",
    )  # fmt: skip
    notices = Table(
        "notices", "Notices", (Column("stage", "Stage"), Column("place", "Where"), Column("message", "What")),
        figures.notices(store), limit=30, if_empty="None.",
    )  # fmt: skip
    return Section("checked", "What was checked", "What does not hold stands first.", (checks, notices))


def assumed(store: Store) -> Section:
    """Every setting in force."""
    columns = (Column("setting", "Setting"), Column("value", "Value"), Column("unit", "Unit"))
    table = Table(
        "assumptions", "Settings in force", columns, figures.assumptions_in_force(store), limit=200,
        if_empty="No settings are kept in this database.",
    )  # fmt: skip
    lead = "Each can be changed in portfolio.toml; the next build uses it."
    return Section("assumed", "What was assumed", lead, (table,))

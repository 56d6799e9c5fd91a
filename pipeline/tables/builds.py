"""What a build says of itself."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

BUILD_INFO = Table(
    "build_info", "build", "this build", key=("build_id",),
    columns=columns("""
    build_id text! made from the inputs' content and the version
    dayburn_version text! version that built it
    portfolio_name text! name
    currency text! ISO 4217 code
    fiscal_year_start integer! first month of the fiscal year
    log_from date first day of the log
    log_to date last day of the log
    settings text! the settings in force, as JSON
    """),
)  # fmt: skip

CHECKS = Table(
    "checks", "build", "an invariant tested at the end of the build", key=("name",),
    columns=columns("""
    name text! what must hold
    holds flag! whether it does
    detail text! the figures compared
    """),
)  # fmt: skip

NOTICES = Table(
    "notices", "build", "something a stage or a register reader wants a person to know",
    columns=columns("""
    stage text! who says it
    place text! file, row, column or table
    message text! what, and what to do
    """),
)  # fmt: skip

"""A command's summary as lines for a person."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pipeline.cautions import CAUTION
from pipeline.figures import Figure
from pipeline.numerals import count_text, counted
from pipeline.plain_text import plain
from pipeline.summary import Intake, Summary
from pipeline.terminal import say


def show_summary(summary: Summary) -> None:
    """Print a summary: what was read, what holds, the figures and their limits, and what to do next."""
    _show_files(summary.files)
    if summary.intake:
        _show_intake(summary.intake, summary.files)
    _show_checks(summary.checks)
    _show_figures(summary.log)
    _show_figures([figure for figure in summary.headline if figure.value is not None])
    _show_unknown([figure for figure in summary.headline if figure.value is None])
    _show_notices(summary.notices)
    say("")
    say(f"Data level {summary.level.level}, {summary.level.name}. {summary.level.statement}")
    if any(figure.value is not None for figure in summary.headline):
        say(CAUTION)
    say("Next:")
    for step in summary.next_steps:
        say(f"  - {step}")


def _show_files(files: Sequence[dict[str, Any]]) -> None:
    """The reconciliation, one line a file: a plain table, whole on any terminal and in any log."""
    columns = ("rows_read", "calls", "superseded", "rejected", "not_data", "flagged")
    counts = [(plain(str(file["name"])), [int(file[column]) for column in columns]) for file in files]
    if len(counts) > 1:
        counts.append(
            ("all files", [sum(numbers) for numbers in zip(*(row for _, row in counts), strict=True)])
        )
    table = [["file", *(column.replace("_", " ") for column in columns)]]
    table += [[name, *map(count_text, numbers)] for name, numbers in counts]
    widths = [max(map(len, cells)) for cells in zip(*table, strict=True)]
    say("What was read")
    for name, *cells in table:
        numbers_shown = "  ".join(cell.rjust(width) for cell, width in zip(cells, widths[1:], strict=True))
        say(f"  {name.ljust(widths[0])}  {numbers_shown}")


def _show_intake(intake: Intake, files: Sequence[dict[str, Any]]) -> None:
    """Rows refused and flagged with their reasons, columns not used, and what the calls say."""
    _lines("Rejected", [f"{row['source_file']}: {counted(int(row['rows']), 'row')}, {row['reason']} "
                        f"({_rows(row)})" for row in intake.rejected])  # fmt: skip
    _lines("Flagged", [f"{row['source_file']}: {counted(int(row['calls']), 'call')}, {row['flag']} "
                       f"({_rows(row)})" for row in intake.flagged])  # fmt: skip
    _lines("Columns not used", [f"{file['name']}: {', '.join(file['unused_columns'])}" for file in files
                                if file["unused_columns"] is not None and len(file["unused_columns"])])  # fmt: skip
    _lines("What the calls say", [_said(row) for row in intake.coverage])
    _lines("Register rows left out", [f"{row['file_name']}: {counted(int(row['rows']), 'row')}, {row['reason']} "
                                      f"({_rows(row)})" for row in intake.left_out])  # fmt: skip
    _lines("Meter files", [_metered(row) for row in intake.meter_files])
    _lines("Silences that chance does not explain (windows of record to confirm)",
           [f"site {row['site_id']}: {row['evidence']}" for row in intake.windows_proposed])  # fmt: skip


def _rows(row: dict[str, Any]) -> str:
    """Which rows: row 10, or rows 10, 12 and 3 more."""
    return f"{'rows' if ' ' in row['row_numbers'] else 'row'} {row['row_numbers']}"


def _said(row: dict[str, Any]) -> str:
    """Shares of a file's calls with site, tag, completion and text; of its lighting calls, where they were tied."""
    fields = ("site", "tag", "completion", "problem", "action")
    shares = ", ".join(f"{name} {_percent(row[f'with_{name}'])}" for name in fields)
    with_finding = row["lighting_with_finding"]
    tied = (
        f"; of {counted(int(row['lighting_calls']), 'lighting call')} {_count(with_finding)} "
        f"{'holds' if with_finding == 1 else 'hold'} a finding, {_percent(row['lighting_at_a_site'])} of these tied to "
        f"a site, {_percent(row['lighting_at_a_control'])} to a control"
    )
    return f"{row['source_file']}: {shares}{tied if with_finding else '; no lighting call to tie'}"


def _metered(row: dict[str, Any]) -> str:
    """A meter file's readings, and what was inferred of its times."""
    used = f"{_count(row['kept'])} of {_count(row['rows_read'])} readings used"
    if not row["kept"]:
        return f"{row['name']}: {used}"
    accounts = f"{_count(row['accounts'])} {'account' if row['accounts'] == 1 else 'accounts'}"
    return (
        f"{row['name']}: {used}, {accounts}, intervals of {row['interval_min']} min (inferred), {row['clock']} times, "
        f"{row['first_at']:%Y-%m-%d} to {row['last_at']:%Y-%m-%d}"
    )


def _lines(title: str, lines: Sequence[str]) -> None:
    if lines:
        say(title)
    for line in lines:
        say(f"  {line}")


def _count(number: Any) -> str:
    return count_text(int(number))


def _percent(share: Any) -> str:
    return "–" if share is None or math.isnan(share) else f"{share:.0%}"


def _show_checks(checks: Sequence[dict[str, Any]]) -> None:
    failed = [check for check in checks if not check["holds"]]
    say(f"{count_text(len(checks) - len(failed))} of {count_text(len(checks))} checks hold.")
    for check in failed:
        say(f"  DOES NOT HOLD: {check['name']} ({check['detail']})")


def _show_figures(shown: Sequence[Figure]) -> None:
    if shown:
        say("")
    for figure in shown:
        say(f"{figure.label}: {figure.text()}")
        for beside in figure.beside:
            reason = f" ({beside.note})" if beside.value is None and beside.note else ""
            say(f"    {beside.label}: {beside.text()}{reason}")
        if figure.note:
            say(f"    {figure.note}")


def _show_unknown(missing: Sequence[Figure]) -> None:
    if missing:
        say("")
        say("Not to be had from these data:")
    for figure in missing:
        say(f"  - {figure.label}. {figure.note}")


def _show_notices(notices: Sequence[dict[str, Any]]) -> None:
    if notices:
        say("")
        say("To know:")
    for notice in notices:
        say(f"  - {notice['place']}: {notice['message']}")

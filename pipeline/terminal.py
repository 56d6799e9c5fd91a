"""What the commands print: progress, faults, and a build's result for a person or a script."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import pandas as pd
from rich.console import Console
from rich.progress import BarColumn, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.progress import Progress as RichProgress

from pipeline import figures
from pipeline.cautions import CAUTION
from pipeline.faults import InputFaults
from pipeline.figures import Figure
from pipeline.numerals import count_text, counted
from pipeline.plain_text import plain
from pipeline.portfolio import as_typed
from pipeline.store import Store
from pipeline.windows import SiteWindows

# Text from calls and files is never markup: a call that holds "[red]" or ":warning:" is shown as it is.
_out = Console(markup=False, emoji=False, highlight=False, soft_wrap=True)
_err = Console(stderr=True, markup=False, emoji=False, highlight=False, soft_wrap=True)


@dataclass(frozen=True)
class Intake:
    """How well the files were read, in full: what ``check`` shows beyond a build."""

    rejected: list[dict[str, Any]]
    flagged: list[dict[str, Any]]
    coverage: list[dict[str, Any]]
    left_out: list[dict[str, Any]]
    windows_proposed: list[dict[str, Any]]
    meter_files: list[dict[str, Any]]
    meter_gaps: list[dict[str, Any]]


@dataclass(frozen=True)
class Summary:
    """What a command shows at its end, as data: the same for text and for --json."""

    files: list[dict[str, Any]]
    level: figures.DataLevel
    checks: list[dict[str, Any]]
    notices: list[dict[str, Any]]
    log: list[Figure]
    headline: list[Figure] = field(default_factory=list)
    next_steps: list[str] = field(default_factory=list)
    intake: Intake | None = None


def say(line: str) -> None:
    """One line of plain output; what would act on the terminal is shown as an escape."""
    _out.print(plain(line))


def _say_aside(line: str) -> None:
    _err.print(plain(line))


def print_faults(faults: InputFaults) -> None:
    """Every fault on a line of its own, on standard error."""
    for fault in faults.faults:
        _say_aside(f"dayburn: {fault}")
    if len(faults.faults) > 1:
        _say_aside(f"dayburn: {count_text(len(faults.faults))} things need mending; nothing was changed.")


class _Bar:
    """Progress as a moving bar on a terminal."""

    def __init__(self, bar: RichProgress) -> None:
        self._bar = bar
        self._task: TaskID | None = None

    def step(self, message: str) -> None:
        """Close the present piece of work and begin another."""
        self._finish()
        self._task = self._bar.add_task(plain(message), total=None)

    def share(self, done: int, total: int) -> None:
        """Move the bar."""
        if self._task is not None:
            self._bar.update(self._task, completed=done, total=total)

    def _finish(self) -> None:
        if self._task is not None:
            self._bar.update(self._task, total=1, completed=1)


class _Lines:
    """Progress as plain lines, where nobody watches a terminal."""

    def step(self, message: str) -> None:
        """Say what begins."""
        _say_aside(f"{message} ...")

    def share(self, done: int, total: int) -> None:
        """A log needs no share."""


@contextmanager
def progress() -> Iterator[_Bar | _Lines]:
    """Progress fit for where standard error goes."""
    if not _err.is_terminal:
        yield _Lines()
        return
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TimeElapsedColumn(),
    )
    with RichProgress(*columns, console=_err, transient=True) as bar:
        yield _Bar(bar)


def build_summary(store: Store, folder: Path) -> Summary:
    """The result of a build: reconciliation, headline figures, and what to do next."""
    steps = [
        f"See it all: dayburn dashboard {as_typed(folder)}",
        f"Write it down: dayburn report {as_typed(folder)} --for director --out report.html",
    ]
    level = figures.data_level(store)
    return _summary(store, figures.headline(store), [level.next_step, *steps])


def check_summary(store: Store) -> Summary:
    """What the data support and what is odd in them."""
    windows = _records(figures.windows_proposed(store))
    steps = [figures.data_level(store).next_step]
    if windows:
        steps.append("See the silences of sites, and confirm their windows of record: dayburn windows DIR")
    intake = Intake(
        rejected=_records(figures.rejected_reasons(store)),
        flagged=_records(figures.flagged_reasons(store)),
        coverage=_records(figures.coverage(store)),
        left_out=_records(figures.left_out_reasons(store)),
        windows_proposed=windows,
        meter_files=_records(figures.meter_files(store)),
        meter_gaps=_records(figures.meter_gaps(store)),
    )
    return replace(_summary(store, [], steps), intake=intake)


def _summary(store: Store, headline: list[Figure], next_steps: list[str]) -> Summary:
    return Summary(
        files=_records(figures.files_read(store)),
        level=figures.data_level(store),
        checks=_records(figures.checks(store)),
        notices=_records(figures.notices(store)),
        log=figures.log_summary(store),
        headline=headline,
        next_steps=next_steps,
    )


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    frame = frame.astype(object).where(frame.notna(), None)
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def show(summary: Summary, as_json: bool) -> None:
    """Print a summary as text, or as JSON for a script."""
    if as_json:
        content = asdict(summary)
        if summary.intake is None:  # a build does not tell it
            del content["intake"]
        print(json.dumps(_finite(content), default=_plain, indent=2, allow_nan=False))
        return
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


def show_windows(proposal: Sequence[SiteWindows]) -> None:
    """The windows of record that the calls suggest, with their evidence."""
    if not proposal:
        say("The calls leave no silence that chance would not explain: nothing to propose.")
    for one in proposal:
        say(f"site {one.site_id}: {', '.join(f'{span.first} to {span.last}' for span in one.windows)}")
        say(f"    {one.evidence}")


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


def _finite(value: Any) -> Any:
    """The same with missing and infinite numbers as None: JSON has no word for them."""
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _plain(value: Any) -> Any:
    """JSON for what pandas and decimals give."""
    if hasattr(value, "tolist"):
        return value.tolist()
    return float(value) if hasattr(value, "as_tuple") else str(value)

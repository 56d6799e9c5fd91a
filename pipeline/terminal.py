"""What every command shares on a terminal: plain lines, faults, and progress."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.progress import Progress as RichProgress

from pipeline.faults import InputFaults
from pipeline.numerals import count_text
from pipeline.plain_text import plain

# Text from calls and files is never markup: a call that holds "[red]" or ":warning:" is shown as it is.
_out = Console(markup=False, emoji=False, highlight=False, soft_wrap=True)
_err = Console(stderr=True, markup=False, emoji=False, highlight=False, soft_wrap=True)


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

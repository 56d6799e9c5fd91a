"""What a command shows at its end, as data: the same for a person's text and for a script's JSON."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline import figures
from pipeline.figures import Figure
from pipeline.portfolio import as_typed
from pipeline.store import Store


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
    """The files, checks, figures and notices of a build; lists of rows hold one dict a row, missing values as None."""

    files: list[dict[str, Any]]
    level: figures.DataLevel
    checks: list[dict[str, Any]]
    notices: list[dict[str, Any]]
    log: list[Figure]
    headline: list[Figure] = field(default_factory=list)
    next_steps: list[str] = field(default_factory=list)
    intake: Intake | None = None


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


def json_text(summary: Summary) -> str:
    """A summary as JSON; a number that is missing or infinite is null, for JSON has no word for it."""
    content = asdict(summary)
    if summary.intake is None:  # a build does not tell it
        del content["intake"]
    return json.dumps(_finite(content), default=_plain, indent=2, allow_nan=False)


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

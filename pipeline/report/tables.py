"""A table of a document: a frame with, for each column, its heading, its unit and how it is written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal

import numpy as np
import pandas as pd

from pipeline.figures import wording

Style = Literal["text", "count", "row", "estimate", "money", "share", "chance", "date", "time", "yes or no"]
NUMERIC: tuple[Style, ...] = ("count", "row", "estimate", "money", "share", "chance")
EMPTY_CELL = wording.EN_DASH
NO_LIMIT = "no limit"


@dataclass(frozen=True)
class Column:
    """One column: its name in the frame, what stands above it, how a value is written, and its unit.

    ``low`` and ``high`` name the columns of its limits: a page writes them behind the value, a workbook gives
    each a column of its own. ``on_page`` False: in the workbook only.
    """

    name: str
    title: str
    style: Style = "text"
    unit: str = ""
    low: str = ""
    high: str = ""
    on_page: bool = True

    @property
    def numeric(self) -> bool:
        """Whether its cells line up on the right."""
        return self.style in NUMERIC

    @property
    def heading(self) -> str:
        """Title with its unit: 'Cost per day [USD]'."""
        return f"{self.title} [{self.unit}]" if self.unit else self.title

    def parts(self) -> Iterator[Column]:
        """The column itself and those of its limits, each on its own."""
        yield replace(self, low="", high="")
        for name, which in ((self.low, "low"), (self.high, "high")):
            if name:
                yield Column(name, f"{self.title}, {which}", self.style, self.unit)


@dataclass(frozen=True)
class Table:
    """Rows for people. ``limit``: how many rows a page shows; the workbook holds them all."""

    key: str
    title: str
    columns: tuple[Column, ...]
    frame: pd.DataFrame
    note: str = ""
    limit: int = 50
    if_empty: str = "Nothing to show."

    @property
    def total(self) -> int:
        """Rows in all."""
        return len(self.frame)

    @property
    def more(self) -> int:
        """Rows that a page leaves to the workbook."""
        return max(0, self.total - self.limit)

    @property
    def page_columns(self) -> list[Column]:
        """The columns that a page shows."""
        return [column for column in self.columns if column.on_page]

    def flat_columns(self) -> list[Column]:
        """Every column of the workbook's sheet, limits on their own."""
        return [part for column in self.columns for part in column.parts()]

    def values(self, limit: int) -> list[list[Any]]:
        """The first rows by ``flat_columns``, as plain Python values; None where a cell is empty."""
        shown = self.frame[[column.name for column in self.flat_columns()]].head(limit)
        return [[plain(value) for value in row] for row in shown.itertuples(index=False, name=None)]

    def sheet_values(self, limit: int) -> list[list[Any]]:
        """The same for a workbook: where a column has limits, what is not known of them stands in words."""
        names = [column.name for column in self.flat_columns()]
        rows = (dict(zip(names, row, strict=True)) for row in self.values(limit))
        return [[cell for column in self.columns for cell in _sheet_cells(row, column)] for row in rows]

    def texts(self) -> list[list[str]]:
        """The rows that a page shows, written out, by ``page_columns``."""
        names = [column.name for column in self.flat_columns()]
        rows = (dict(zip(names, row, strict=True)) for row in self.values(self.limit))
        return [[cell_text(row, column) for column in self.page_columns] for row in rows]

    def cells(self) -> list[list[tuple[str, Column]]]:
        """The same, each text with its column."""
        return [list(zip(row, self.page_columns, strict=True)) for row in self.texts()]


def plain(value: Any) -> Any:
    """A cell as a plain Python value: None where pandas has NaN, NaT or NA; a list as text."""
    if isinstance(value, list | tuple | np.ndarray):
        return ", ".join(str(part) for part in value)
    if value is None or pd.isna(value):
        return None
    if isinstance(value, pd.Timestamp):
        return value.to_pydatetime()
    return value.item() if isinstance(value, np.generic) else value


def cell_text(row: dict[str, Any], column: Column) -> str:
    """One cell as a reader sees it, limits in brackets behind it."""
    value, low, high = (row.get(name) for name in (column.name, column.low, column.high))
    limits = _limits(low, high, column)
    if not _known(value):
        return limits or EMPTY_CELL
    written = _written(value, column)
    return (
        written if not limits or limits == f"{written}{wording.EN_DASH}{written}" else f"{written} ({limits})"
    )


def _sheet_cells(row: dict[str, Any], column: Column) -> list[Any]:
    """Cells of a column and its limits: numbers, and words where one is missing."""
    if not (column.low or column.high):
        return [row[column.name]]
    value, limits = row[column.name], [row[name] for name in (column.low, column.high) if name]
    missing = NO_LIMIT if any(_known(limit) for limit in limits) else EMPTY_CELL
    return [
        value if _known(value) else _limits(row.get(column.low), row.get(column.high), column) or EMPTY_CELL,
        *(limit if _known(limit) else missing for limit in limits),
    ]


def _limits(low: Any, high: Any, column: Column) -> str:
    if _known(low) and _known(high):
        return wording.span_text(_written(low, column), _written(high, column))
    if _known(low):
        return f"at least {_written(low, column)}"
    return f"at most {_written(high, column)}" if _known(high) else ""


def _known(value: Any) -> bool:
    """Whether there is something to write; a life without end is no number."""
    if value is None or value == "":
        return False
    return wording.is_known(value) if isinstance(value, float | Decimal) else True


def _written(value: Any, column: Column) -> str:
    match column.style:
        case "count":
            return wording.count_text(round(value))
        case "row":
            return str(value)  # as it must be typed to find it
        case "estimate":
            return wording.number_text(value)  # limits of a count are whole
        case "money":
            return wording.money_amount_text(value)
        case "share":
            return wording.percent_text(value)
        case "chance":
            return wording.chance_text(value)
        case "date":
            return wording.date_text(value)
        case "time":
            return f"{wording.date_text(value)} {value:%H:%M}"
        case "yes or no":
            return "yes" if value else "no"
        case _:
            return str(value)

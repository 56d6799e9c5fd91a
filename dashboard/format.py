"""How a column is shown: its label with the unit, and its numbers written as everywhere else."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from pandas.api.types import is_bool_dtype, is_datetime64_any_dtype, is_numeric_dtype
from pandas.io.formats.style import Styler

from pipeline.figures import wording
from pipeline.figures.lifespans import YEAR_DAYS

Write = Callable[[Any], str]
NOTHING = "–"
_MARKS = f"{wording.THIN_SPACE}{wording.NO_BREAK_SPACE}{wording.EN_DASH}{wording.MINUS}"
_NUMBER = re.compile(f"(at (least|most) )?[0-9.,%{_MARKS}]*")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def _known(write: Write) -> Write:
    return lambda value: write(value) if _is_known(value) else NOTHING


def _is_known(value: Any) -> bool:
    """Whether there is something to write; an age without end is no number to show."""
    if value is None or pd.isna(value):
        return False
    return not isinstance(value, float) or math.isfinite(value)


def _time_text(moment: datetime) -> str:
    return f"{wording.date_text(moment)}, {moment:%H:%M}"


count = _known(lambda value: wording.count_text(int(value)))
estimate = _known(lambda value: wording.estimate_text(float(value)))
money = _known(lambda value: wording.money_amount_text(float(value)))
chance = _known(lambda value: wording.chance_text(float(value)))
percent = _known(lambda value: wording.percent_text(float(value)))
day = _known(wording.date_text)
moment = _known(_time_text)
row = _known(lambda value: str(int(value)))  # as it must be typed to find it
text = _known(str)
verdict = _known(lambda value: "✓ holds" if value else "✗ does not hold")
yes_no = _known(lambda value: "yes" if value else "no")


class Shown(NamedTuple):
    """A column's label with its unit ({money}: the currency), how its values are written, help, and width, px."""

    label: str
    write: Write = text
    help: str | None = None
    width: int | None = None


def label_of(shown: Shown, currency: str) -> str:
    """The label with the portfolio's currency in its place."""
    return shown.label.replace("{money}", currency)


def span_text(first: date | None, last: date | None) -> str:
    """1 Jul 2016 to 30 Jun 2024; one day stands alone."""
    if first is None or last is None:
        return "no dates in the log"
    return (
        wording.date_text(first)
        if first == last
        else f"{wording.date_text(first)} to {wording.date_text(last)}"
    )


def in_years(days: pd.Series) -> pd.Series:
    """Ages in years for a reader; the figures carry days."""
    return days.astype(float) / YEAR_DAYS


def with_years(frame: pd.DataFrame, *names: str) -> pd.DataFrame:
    """The frame with ``b10_years`` beside ``b10_days``, and so on, limits included."""
    years = {
        f"{name}_years{end}": in_years(frame[f"{name}_days{end}"])
        for name in names
        for end in ("", "_lower", "_upper")
    }
    return frame.assign(**years)


def with_limits(
    frame: pd.DataFrame, name: str, low: str, high: str, unit: str = "", whole: bool = False
) -> pd.DataFrame:
    """The frame with a column ``name`` that holds the limits as text: 9.1–12.4; ``whole``: they are counts."""
    limits = [
        wording.range_text(_limit(a, whole), _limit(b, whole), unit) or NOTHING
        for a, b in zip(frame[low], frame[high], strict=True)
    ]
    return frame.assign(**{name: limits})


def _limit(value: Any, whole: bool) -> float | int | None:
    number = _number(value)
    return int(number) if whole and number is not None else number


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def styled(frame: pd.DataFrame, columns: dict[str, Shown]) -> Styler:
    """The chosen columns with written values; the values themselves stay, so that a reader can sort."""
    chosen = frame.reindex(columns=list(columns))
    sortable = [name for name in columns if _sorts_by_value(chosen[name])]
    for name in columns:
        if name not in sortable:
            chosen[name] = [columns[name].write(value) for value in chosen[name]]
    return chosen.style.format({name: columns[name].write for name in sortable})


def _sorts_by_value(values: pd.Series) -> bool:
    """Numbers and times; a truth value would be drawn as a box to tick."""
    if is_bool_dtype(values):
        return False
    return bool(is_numeric_dtype(values) or is_datetime64_any_dtype(values))


def written(frame: pd.DataFrame, columns: dict[str, Shown], currency: str) -> pd.DataFrame:
    """The chosen columns as text under their labels."""
    return pd.DataFrame(
        {
            label_of(shown, currency): [shown.write(value) for value in frame[name]]
            for name, shown in columns.items()
        },
        index=frame.index,
    )


def plain_table(frame: pd.DataFrame, columns: dict[str, Shown], currency: str, caption: str = "") -> str:
    """An HTML table to print; every text is escaped, so that nothing in a call can act as markup."""
    cells = written(frame, columns, currency)
    labels = [html.escape(str(name), quote=True) for name in cells.columns]
    marks = [" class='number'" if _all_numbers(cells[name]) else "" for name in cells.columns]
    head = "".join(f"<th scope='col'{mark}>{label}</th>" for label, mark in zip(labels, marks, strict=True))
    body = "".join(
        "<tr>" + "".join(_cell(*cell) for cell in zip(labels, row, marks, strict=True)) + "</tr>"
        for row in cells.itertuples(index=False)
    )
    above = f"<caption>{html.escape(caption)}</caption>" if caption else ""
    return f"<table class='plain'>{above}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _all_numbers(column: pd.Series) -> bool:
    """Whether every cell is a written number, limits of one, or nothing, and some number is there."""
    texts = column.astype(str)
    return bool(texts.str.fullmatch(_NUMBER).all() and texts.str.contains(r"\d").any())


def _cell(label: str, value: object, mark: str) -> str:
    """A cell that carries its column's label, for narrow screens where a row becomes a list."""
    return f"<td data-label='{label}'{mark}>{html.escape(str(value))}</td>"


def csv_bytes(frame: pd.DataFrame, columns: dict[str, Shown] | None = None, currency: str = "") -> bytes:
    """A CSV for a spreadsheet, raw numbers under labels; a text that would be taken for a formula gets a quote
    mark before it."""
    if columns is not None:
        frame = frame.reindex(columns=list(columns)).rename(
            columns={name: label_of(shown, currency) for name, shown in columns.items()}
        )
    safe = frame.apply(lambda values: values.map(_not_a_formula) if values.dtype == object else values)
    return str(safe.to_csv(index=False)).encode("utf-8-sig")


def _not_a_formula(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA_STARTS) else value


def joined(values: Any) -> str:
    """A list of names as text; a dash for none."""
    return ", ".join(values) if isinstance(values, Sequence | np.ndarray) and len(values) else NOTHING

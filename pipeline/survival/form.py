"""The one form in which lives travel, and the check that refuses the impossible."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.faults import Fault
from pipeline.keys import LONGEST_NAME
from pipeline.survival.refusals import ImpossibleLives

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

COLUMNS = ("entry_days", "exit_days", "failed", "quantity")
FAULTS_SHOWN = 20
MOST_ALIKE = 10**12  # far above any fleet; sums of such numbers are still exact

_EXIT_REMEDY = (
    "A failure on the day of installation has exit_days 0.5; leave out a life with no time at risk."
)
_LOW_REMEDY = "exit_low_days is the last age at which the control is known to have worked."


def check_lives(lives: pd.DataFrame) -> pd.DataFrame:
    """Return the lives in their normal form, or refuse them naming every impossible row.

    ``lives`` has one row per life, or per several alike:

    - ``entry_days``: age at which it came under observation, days, >= 0
    - ``exit_days``: age at its end, days, > entry_days
    - ``failed``: True where it ended by failure, False where it was still working (boolean)
    - ``quantity``: controls alike, a whole number >= 1
    - ``exit_low_days`` (optional): the failure happened after this age and by exit_days; missing where
      the age at failure is known; entry_days <= exit_low_days <= exit_days

    The result is a copy with float64 ages, bool ``failed`` and int64 ``quantity``; other columns and the
    row order are kept. Raises ImpossibleLives.
    """
    require_columns(lives, COLUMNS, "lives")
    faults: list[Fault] = []
    ages = {name: _numbers(lives, name, faults) for name in ("entry_days", "exit_days")}
    quantity = _numbers(lives, "quantity", faults)
    failed = _flags(lives, faults)
    low = _low_ages(lives, faults)
    if not faults:
        faults.extend(_impossible(lives, ages["entry_days"], ages["exit_days"], failed, quantity, low))
    refuse(faults)
    checked = lives.copy()
    checked["entry_days"] = ages["entry_days"]
    checked["exit_days"] = ages["exit_days"]
    checked["failed"] = failed
    checked["quantity"] = quantity.astype(np.int64)
    if "exit_low_days" in lives.columns:
        checked["exit_low_days"] = low
    return checked


def check_group_names(frame: pd.DataFrame, by: str) -> None:
    """Refuse rows whose group in column ``by`` is missing or is a text too long to be a name."""
    absent = frame[by].isna().to_numpy()
    distinct = [value for value in frame[by].unique() if isinstance(value, str) and len(value) > LONGEST_NAME]
    long = frame[by].isin(distinct).to_numpy() if distinct else np.zeros(len(frame), dtype=bool)
    refuse(
        [
            *mark(frame, absent, lambda i: f"{by} is missing.", "Leave the row out or name its group."),
            *mark(
                frame,
                long,
                lambda i: (
                    f"{by} {frame[by].iloc[i][:40]!r}... has {len(frame[by].iloc[i])} characters; "
                    f"a name has at most {LONGEST_NAME}."
                ),
                "Look for a text in the wrong column.",
            ),
        ]
    )


def require_columns(frame: pd.DataFrame, names: Sequence[str], what: str) -> None:
    """Refuse a frame that lacks a column, naming each one that is missing."""
    missing = [name for name in names if name not in frame.columns]
    if missing:
        raise ImpossibleLives(
            [
                Fault(f"{what}, column {name}", "is missing.", f"Needed are {', '.join(names)}.")
                for name in missing
            ]
        )


def refuse(faults: Sequence[Fault]) -> None:
    """Raise ImpossibleLives if there is any fault; a very long list is cut and says so."""
    if not faults:
        return
    shown = list(faults[:FAULTS_SHOWN])
    if len(faults) > FAULTS_SHOWN:
        shown.append(Fault("lives", f"{len(faults) - FAULTS_SHOWN} more faults like these."))
    raise ImpossibleLives(shown)


def finite_numbers(frame: pd.DataFrame, name: str, what: str = "row") -> FloatArray:
    """Column ``name`` as float64, or ImpossibleLives naming each row that holds no finite number."""
    faults: list[Fault] = []
    values = _numbers(frame, name, faults, what)
    refuse(faults)
    return values


def _where(frame: pd.DataFrame, position: int, what: str = "row") -> str:
    """The row as its owner knows it: the index label, and the life_id if there is one."""
    label = f"{what} {frame.index[position]}"
    return f"{label} (life {frame['life_id'].iloc[position]})" if "life_id" in frame.columns else label


def mark(
    frame: pd.DataFrame, bad: BoolArray, problem: Callable[[int], str], remedy: str = "", what: str = "row"
) -> Iterator[Fault]:
    """A fault for every bad row, the problem said for its position."""
    for position in np.flatnonzero(bad):
        yield Fault(_where(frame, int(position), what), problem(int(position)), remedy)


def _as_float(column: pd.Series) -> tuple[FloatArray, BoolArray]:
    """Values as float64 and where a value is present but is no number (text, dates, booleans)."""
    if pd.api.types.is_bool_dtype(column.dtype) or not (
        pd.api.types.is_numeric_dtype(column.dtype) or column.dtype == object
    ):
        return np.full(len(column), np.nan), np.ones(len(column), dtype=bool)
    text = np.zeros(len(column), dtype=bool)
    if column.dtype == object:
        text = np.array([isinstance(value, str | bool | np.bool_) for value in column], dtype=bool)
        column = column.mask(pd.Series(text, index=column.index))
    numbers = pd.to_numeric(column, errors="coerce")
    values = numbers.to_numpy(dtype=np.float64, na_value=np.nan)
    return values, text | (np.isnan(values) & ~column.isna().to_numpy())


def _numbers(frame: pd.DataFrame, name: str, faults: list[Fault], what: str = "row") -> FloatArray:
    values, not_number = _as_float(frame[name])
    raw = frame[name]
    missing = np.isnan(values) & ~not_number
    infinite = np.isinf(values)
    faults.extend(mark(frame, not_number, lambda i: f"{name} {raw.iloc[i]!r} is not a number.", what=what))
    faults.extend(mark(frame, missing, lambda i: f"{name} is missing.", what=what))
    faults.extend(mark(frame, infinite, lambda i: f"{name} is infinite.", what=what))
    return values


def _flags(lives: pd.DataFrame, faults: list[Fault]) -> BoolArray:
    column = lives["failed"]
    if column.dtype == np.bool_:
        return column.to_numpy(dtype=bool)
    good = np.array([isinstance(value, bool | np.bool_) for value in column], dtype=bool)
    faults.extend(
        mark(
            lives,
            ~good,
            lambda i: f"failed {column.iloc[i]!r} is neither True nor False.",
            "Give failed as a boolean column.",
        )
    )
    return np.array(
        [bool(value) if ok else False for value, ok in zip(column, good, strict=True)], dtype=bool
    )


def _low_ages(lives: pd.DataFrame, faults: list[Fault]) -> FloatArray:
    """exit_low_days as float64, NaN where the age at failure is known."""
    if "exit_low_days" not in lives.columns:
        return np.full(len(lives), np.nan)
    raw = lives["exit_low_days"]
    if raw.isna().all():
        return np.full(len(lives), np.nan)
    values, not_number = _as_float(raw)
    faults.extend(mark(lives, not_number, lambda i: f"exit_low_days {raw.iloc[i]!r} is not a number."))
    return values


def _impossible(
    lives: pd.DataFrame,
    entry: FloatArray,
    exit_: FloatArray,
    failed: BoolArray,
    quantity: FloatArray,
    low: FloatArray,
) -> list[Fault]:
    faults = [
        *mark(lives, entry < 0, lambda i: f"entry_days {entry[i]:g} is negative."),
        *mark(
            lives,
            exit_ <= entry,
            lambda i: f"exit_days {exit_[i]:g} is not after entry_days {entry[i]:g}.",
            _EXIT_REMEDY,
        ),
        *mark(
            lives,
            quantity > MOST_ALIKE,
            lambda i: (
                f"quantity {quantity[i]:g} is more controls than can be counted ({MOST_ALIKE:g} at most)."
            ),
            "Look for a number in the wrong column.",
        ),
        *mark(lives, quantity < 1, lambda i: f"quantity {quantity[i]:g} is less than 1."),
        *mark(
            lives,
            (quantity >= 1) & (quantity != np.floor(quantity)),
            lambda i: f"quantity {quantity[i]:g} is not a whole number of controls.",
        ),
    ]
    given = ~np.isnan(low)
    outside = given & ((low < entry) | (low > exit_))
    faults += mark(
        lives,
        outside,
        lambda i: (
            f"exit_low_days {low[i]:g} is not between entry_days {entry[i]:g} and exit_days {exit_[i]:g}."
        ),
        _LOW_REMEDY,
    )
    idle = given & ~outside & ~failed & (low < exit_)
    faults += mark(
        lives,
        idle,
        lambda i: f"exit_low_days {low[i]:g} is before exit_days {exit_[i]:g}, but the life did not fail.",
        _LOW_REMEDY,
    )
    return faults

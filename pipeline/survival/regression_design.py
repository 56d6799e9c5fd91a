"""Columns of a lives frame as the numbers of a regression: no formula, nothing that could be run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.faults import Fault
from pipeline.survival.form import (
    COLUMNS,
    FloatArray,
    check_group_names,
    finite_numbers,
    refuse,
    require_columns,
)
from pipeline.survival.refusals import CannotFit

_LEAST_APART = 1e-12


@dataclass(frozen=True)
class Term:
    """One number of the design: a numeric column as it is, or whether a column has a level."""

    column: str
    level: object = None
    compared_with: object = None

    @property
    def name(self) -> str:
        """The column, or column=level."""
        return self.column if self.level is None else f"{self.column}={self.level}"

    def of(self, column: pd.Series) -> FloatArray:
        """This term for every row of its column."""
        if self.level is None:
            return column.to_numpy(dtype=np.float64)
        return np.asarray(column == self.level, dtype=np.float64)

    def value(self, values: Mapping[str, object]) -> float:
        """This term for one control described by its columns."""
        given = values[self.column]
        return float(given == self.level) if self.level is not None else float(str(given))


def make_terms(lives: pd.DataFrame, covariates: Sequence[str]) -> list[Term]:
    """The terms of the named columns: numeric ones as they are, others level by level against the commonest.

    ``lives`` in the form of ``check_lives``. Refuses a formula, unknown columns, missing values (naming the
    rows), columns that do not vary, and levels in which nothing failed.
    """
    if isinstance(covariates, str):
        raise TypeError(f"covariates must be a list of column names, not one text such as {covariates!r}")
    names = list(covariates)
    if not names:
        raise ValueError("covariates is empty: name at least one column")
    if len(set(names)) < len(names) or set(names) & {*COLUMNS, "exit_low_days"}:
        raise ValueError(
            f"covariates must be different columns, none of them part of the lives form; got {names}"
        )
    require_columns(lives, names, "lives")
    refuse([fault for name in names for fault in _missing(lives, name)])
    for name in names:
        check_group_names(lives, name)
    return [term for name in names for term in _terms_of(lives, name)]


def _missing(lives: pd.DataFrame, name: str) -> list[Fault]:
    rows = lives.index[lives[name].isna().to_numpy()].tolist()
    return [
        Fault(f"row {row}", f"{name} is missing.", "Leave the row out or give the value.") for row in rows
    ]


def _terms_of(lives: pd.DataFrame, name: str) -> list[Term]:
    column = lives[name]
    if column.nunique() < 2:
        raise CannotFit(
            f"Column {name} has the same value in every row, so it can explain nothing. Leave it out."
        )
    if pd.api.types.is_numeric_dtype(column.dtype) and not pd.api.types.is_bool_dtype(column.dtype):
        finite_numbers(lives, name)
        return [Term(name)]
    units = (
        lives.groupby(name, observed=True)["quantity"]
        .sum()
        .sort_index()
        .sort_values(ascending=False, kind="stable")
    )
    failures = lives[lives["failed"]].groupby(name, observed=True)["quantity"].sum()
    for level in units.index:
        if failures.get(level, 0) == 0:
            raise CannotFit(
                f"No control with {name} = {level} failed, so its life ratio has no estimate. Merge it with another "
                "level, or leave its rows out."
            )
    baseline = units.index[0]
    return [Term(name, level, baseline) for level in units.index[1:]]


def design_matrix(lives: pd.DataFrame, terms: Sequence[Term]) -> FloatArray:
    """Rows of 1 and the terms, shape (lives, 1 + terms); refuses terms that determine one another."""
    matrix = np.column_stack([np.ones(len(lives)), *(term.of(lives[term.column]) for term in terms)])
    if _determine_one_another(matrix[:, 1:]):
        names = ", ".join(term.name for term in terms)
        raise CannotFit(
            f"The covariates determine one another ({names}): their effects cannot be told apart."
        )
    return np.asarray(matrix, dtype=np.float64)


def _determine_one_another(columns: FloatArray) -> bool:
    """Whether some column is, to a part in a million of its spread, a sum of others and a constant.

    By the least eigenvalue of the columns' correlations: a small matrix, however many the rows.
    """
    spread = columns.std(axis=0)
    if (spread <= 1e-12 * np.abs(columns).max(axis=0)).any():
        return True
    standard = (columns - columns.mean(axis=0)) / spread
    return bool(np.linalg.eigvalsh(standard.T @ standard / len(columns))[0] < _LEAST_APART)

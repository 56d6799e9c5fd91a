"""A figure: one number that somebody acts on, with its unit, its limits and what it assumes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pandas as pd

from pipeline.figures import wording

Value = int | float | Decimal | None


@dataclass(frozen=True)
class Figure:
    """A number for people.

    ``value``, ``low`` and ``high`` are in ``unit``; an int is a count, anything else an estimate; None: not
    known, and ``note`` says why. Money has its ISO 4217 code as unit (``USD``, ``USD/day``). ``beside`` are
    figures that must be read with it.
    """

    key: str
    label: str
    unit: str
    value: Value
    low: Value = None
    high: Value = None
    note: str = ""
    beside: tuple[Figure, ...] = ()

    def text(self) -> str:
        """Number, limits and unit as every screen and document writes them."""
        return wording.quantity_text(self.value, self.unit, self.low, self.high)

    def flat(self) -> list[Figure]:
        """This figure and those beside it, in reading order."""
        return [self, *self.beside]


def missing(key: str, label: str, unit: str, why: str) -> Figure:
    """A figure that the data do not support, with the reason as its note."""
    return Figure(key, label, unit, None, note=why)


def known(value: Any) -> float | None:
    """A cell of a frame as a figure takes it: None where it is missing."""
    return None if pd.isna(value) else float(value)

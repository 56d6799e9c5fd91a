"""Forecasts of groups of controls put together by site or model, with spares."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.payback.spares import spares_from_counts
from pipeline.survival.form import FloatArray
from pipeline.survival.joint_forecast import DRAWS, interval


@dataclass(frozen=True)
class Part:
    """The forecast of controls that one life or rate speaks for.

    ``own``: of their own model on its lamps, fully known. ``rows``: the controls as rows of in_service, with place: the
    number of their row in ``expected`` (places,) and ``counts`` (places, DRAWS).
    """

    rows: pd.DataFrame
    expected: FloatArray
    counts: FloatArray
    source: str
    own: bool
    by_age: bool

    @property
    def controls(self) -> int:
        """Controls that it forecasts."""
        return int(self.rows["quantity"].sum())


def summed(pieces: Iterable[tuple[FloatArray, FloatArray]]) -> tuple[float, FloatArray]:
    """Expected number and drawn counts (DRAWS,) of all rows of the pieces together."""
    expected, counts = 0.0, np.zeros(DRAWS)
    for rows_expected, rows_counts in pieces:
        expected += float(rows_expected.sum())
        counts = counts + rows_counts.sum(axis=0)
    return expected, counts


def table(
    parts: list[Part], service: pd.DataFrame, by: list[str], confidence: float, level: float | None = None
) -> pd.DataFrame:
    """A row for each of what ``by`` names among the rows of in_service; with a ``level``, spares too."""
    columns = [*by, "controls", "by_age", "by_rate", "unforeseen", "expected", "lower", "upper"]
    pieces: dict[_Key, list[_Piece]] = {}
    for part in parts:
        for key, members in part.rows.groupby(by, dropna=False):
            pieces.setdefault(_key(key), []).append(_piece(part, members))
    rows = [
        dict(zip(by, key, strict=True)) | _row(pieces.get(_key(key), []), members, confidence, level)
        for key, members in service.groupby(by, dropna=False, sort=True)
    ]
    frame = pd.DataFrame(rows, columns=columns if level is None else [*columns, "stock"])
    return frame.sort_values(["expected", *by], ascending=[False, *[True] * len(by)], ignore_index=True)


_Key = tuple[str | None, ...]


def _key(values: tuple[Any, ...]) -> _Key:
    """A row's name as a key: what is missing is None, for NaN is unequal to itself."""
    return tuple(None if pd.isna(value) else str(value) for value in values)


@dataclass(frozen=True)
class _Piece:
    """What a part says of some of its controls, whole places: sites, kinds and models never share one."""

    controls: int
    by_age: bool
    expected: FloatArray
    counts: FloatArray


def _piece(part: Part, members: pd.DataFrame) -> _Piece:
    at = np.unique(members["place"].to_numpy(dtype=np.int64))
    return _Piece(int(members["quantity"].sum()), part.by_age, part.expected[at], part.counts[at])


def _row(
    pieces: list[_Piece], members: pd.DataFrame, confidence: float, level: float | None
) -> dict[str, float | None]:
    """The forecast of some controls of in_service; without numbers where nothing speaks for any of them."""
    expected, counts = summed((piece.expected, piece.counts) for piece in pieces)
    controls = int(members["quantity"].sum())
    by_age, by_rate = (
        sum(piece.controls for piece in pieces if piece.by_age is aged) for aged in (True, False)
    )
    row = {
        "controls": controls,
        "by_age": by_age,
        "by_rate": by_rate,
        "unforeseen": controls - by_age - by_rate,
    }
    if not by_age + by_rate:
        return row | dict.fromkeys(("expected", "lower", "upper", "stock"))
    stock = None if level is None else spares_from_counts(counts, level)
    return row | interval(expected, counts, confidence)._asdict() | {"stock": stock}

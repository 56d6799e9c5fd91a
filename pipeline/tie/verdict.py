"""How likely it is that the control itself failed: a table kept as data in verdicts.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from pipeline.tie.reading import Reading

_LISTS = ("symptom", "component", "action", "cause")
_FLAGS = ("alone", "bad")


@dataclass(frozen=True)
class Verdict:
    """The probability that the control failed, how it fails if it did, and the rule that said so."""

    probability: float
    failure_mode: str
    why: str


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    table = tomllib.loads(files("pipeline.tie").joinpath("verdicts.toml").read_text(encoding="utf-8"))
    for row in table["verdict"]:
        unknown = set(row) - {*_LISTS, *_FLAGS, "probability", "why"}
        if unknown or not 0 <= row["probability"] <= 1:
            raise ValueError(f"verdicts.toml, row '{row.get('why')}': unknown keys {unknown} or probability")
    if set(table["verdict"][-1]) != {"probability", "why"}:
        raise ValueError("verdicts.toml: the last row must fit everything")
    return table


@lru_cache(maxsize=100_000)
def verdict_of(reading: Reading) -> Verdict:
    """The first row of the table that fits a reading."""
    table = _table()
    for row in table["verdict"]:
        listed = all(getattr(reading, key) in row[key] for key in _LISTS if key in row)
        if listed and all(getattr(reading, key) is row[key] for key in _FLAGS if key in row):
            return Verdict(row["probability"], table["failure_mode"][reading.symptom], row["why"])
    raise AssertionError("the last row fits everything")

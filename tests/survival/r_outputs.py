"""Outputs of R (packages survival 3.5.8, cmprsk 2.2.11, npsurv 0.5.0) that surpyval 0.25 ships in its own tests."""

from __future__ import annotations

import importlib.resources
import json

import pandas as pd


def _read(name):
    folder = importlib.resources.files("surpyval.tests.reference.data")
    return json.loads((folder / name).read_text(encoding="utf-8"))


def r_values(name, file="r_survival.json"):
    """The numbers R printed for the reference of that name, with R's call beside them in that file."""
    return _read(file)["references"][name]["values"]


def r_data(name):
    """The data set of that name as R had it."""
    return pd.DataFrame(_read("fixtures.json")[name]["columns"])


def as_lives(data, age="x", censored="c", entry=None):
    """A fixture with a censoring flag (1 = censored) as a lives frame, its other columns kept."""
    return data.assign(
        entry_days=0.0 if entry is None else data[entry],
        exit_days=data[age].astype(float),
        failed=data[censored] == 0,
        quantity=1,
    )

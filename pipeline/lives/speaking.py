"""Which group's life speaks for a control: the nearest of its groups that knows enough.

A control belongs to a group of its model on its lamps, within one of its model, within one of its kind. The first of
these with a full Weibull fit speaks; where none has one, the first in which anything failed does, with its stated
shape and its limit from below. All controls together mix kinds of device, so they speak, in the same order, only
where nothing of the control's own kind has failed. Whatever is not the life of the model on its lamps says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from pipeline.keys import joined
from pipeline.lives.groups import FULL_FITS, Group

EVERYONE: Group = ("all", "all")


@dataclass(frozen=True)
class Spoken:
    """A group's fitted life. ``scale_days_upper`` None: the limits are one-sided. ``source`` says it in words."""

    group: Group
    method: str
    failures: int
    shape: float
    scale_days: float
    scale_days_lower: float
    scale_days_upper: float | None
    source: str

    @property
    def two_sided(self) -> bool:
        """Whether the life is bounded from above too."""
        return self.scale_days_upper is not None


def groups_of(kind: str | None, model: str | None, lamp: str | None) -> list[Group]:
    """The groups that a control belongs to, the most particular first; without what is not known of it."""
    groups = []
    if model is not None and lamp is not None:
        groups.append(("model and lamp", joined(model, lamp)))
    if model is not None:
        groups.append(("model", model))
    if kind is not None:
        groups.append(("kind", kind))
    return groups


def speaker(
    groups: Sequence[Group], enough: Callable[[Group], bool], anything: Callable[[Group], bool]
) -> Group | None:
    """The group that speaks for a control of ``groups``: the first that knows enough, else anything, else all."""
    order = [
        (group, knows) for place in (groups, [EVERYONE]) for knows in (enough, anything) for group in place
    ]
    return next((group for group, knows in order if knows(group)), None)


def words(group: Group) -> str:
    """A group in words that say what it mixes: 'every timer, models mixed'."""
    grouping, name = group
    mixed = {"model": f"{name} whatever its lamps", "kind": f"every {name}, models mixed"}
    return "all controls, kinds mixed" if group == EVERYONE else mixed.get(grouping, name)


def failures_text(count: int) -> str:
    """'1 failure', '12 failures'."""
    return f"{count} {'failure' if count == 1 else 'failures'}"


class SpeakingFits:
    """The lives of ``life_fits`` (a frame of that table), looked up for a control."""

    def __init__(self, fits: pd.DataFrame) -> None:
        known = fits[fits["scale_days"].notna()]
        self._fits = {(row["grouping"], row["group_name"]): _spoken(row) for row in known.to_dict("records")}

    def of(self, kind: str | None, model: str | None, lamp: str | None) -> Spoken | None:
        """The life that speaks for a control; None where nothing failed from which to tell."""
        group = speaker(
            groups_of(kind, model, lamp),
            lambda group: self.full(group) is not None,
            lambda group: group in self._fits and self._fits[group].failures > 0,
        )
        return None if group is None else self._fits[group]

    def full(self, group: Group) -> Spoken | None:
        """A group's life where it has a full Weibull fit."""
        fit = self._fits.get(group)
        return fit if fit and fit.method in FULL_FITS else None


def _spoken(row: dict[Any, Any]) -> Spoken:
    group, failures, upper = (
        (row["grouping"], row["group_name"]),
        int(row["failures"]),
        row["scale_days_upper"],
    )
    full = row["method"] in FULL_FITS
    return Spoken(
        group,
        row["method"],
        failures,
        float(row["shape"]),
        float(row["scale_days"]),
        float(row["scale_days_lower"]),
        None if pd.isna(upper) else float(upper),
        f"fitted to {words(group)} ({failures_text(failures)}{'' if full else ', shape not its own, no upper limit'})",
    )

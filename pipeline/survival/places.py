"""Places and what was found there: the check of the frames, and their form for drawing lives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.faults import Fault
from pipeline.survival.form import BoolArray, FloatArray, finite_numbers, mark, refuse, require_columns

GOES_ON, ENDS = "goes on", "ends"


@dataclass(frozen=True)
class Places:
    """Places with something to draw, those with most findings first; slots are their controls.

    ``entry, exit, quantity, known`` have one element per place; ``slot_start`` (places + 1) says where its
    slots begin; ``event_start`` likewise for its events, which stand in order of age.
    """

    entry: FloatArray
    exit: FloatArray
    quantity: np.ndarray
    known: BoolArray
    slot_start: np.ndarray
    event_start: np.ndarray
    event_days: FloatArray
    renewed_days: FloatArray
    chance: FloatArray
    ends: BoolArray
    labels: np.ndarray


def check_places(places: pd.DataFrame, events: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Both frames in their normal form, or ImpossibleLives naming every row that cannot be.

    Columns: see ``pipeline.survival.fit_weibull_imputed``. Optional columns get their default.
    """
    require_columns(places, ("place_id", "entry_days", "exit_days", "quantity"), "places")
    require_columns(events, ("place_id", "age_days"), "events")
    entry, exit_, quantity = (
        finite_numbers(places, name, "places row") for name in ("entry_days", "exit_days", "quantity")
    )
    refuse(_place_faults(places, entry, exit_, quantity))
    known = (
        places["start_known"].to_numpy(dtype=bool)
        if "start_known" in places.columns
        else (entry <= 0) | (quantity <= 1)
    )
    good = places[["place_id"]].assign(
        entry_days=entry, exit_days=exit_, quantity=quantity.astype(np.int64), start_known=known
    )
    return good.reset_index(drop=True), _checked_events(good, events)


def _place_faults(
    places: pd.DataFrame, entry: FloatArray, exit_: FloatArray, quantity: FloatArray
) -> list[Fault]:
    twice = places["place_id"].duplicated().to_numpy() | places["place_id"].isna().to_numpy()
    whole = (quantity >= 1) & (quantity == np.floor(quantity))
    what = "places row"
    return [
        *mark(places, twice, lambda i: "place_id is missing or stands twice.", what=what),
        *mark(places, entry < 0, lambda i: f"entry_days {entry[i]:g} is negative.", what=what),
        *mark(
            places,
            exit_ <= entry,
            lambda i: f"exit_days {exit_[i]:g} is not after entry_days {entry[i]:g}.",
            what=what,
        ),
        *mark(places, ~whole, lambda i: f"quantity {quantity[i]:g} is not a whole number >= 1.", what=what),
    ]


def _checked_events(places: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    what = "events row"
    ages = finite_numbers(events, "age_days", what)
    filled = events.assign(
        failed_probability=events.get("failed_probability", 1.0),
        if_not_failed=events.get("if_not_failed", GOES_ON),
        renewed_days=events["renewed_days"].fillna(events["age_days"])
        if "renewed_days" in events.columns
        else ages,
    )
    chance = finite_numbers(filled, "failed_probability", what)
    renewed = finite_numbers(filled, "renewed_days", what)
    at = pd.Index(places["place_id"]).get_indexer(pd.Index(events["place_id"]))
    entry = places["entry_days"].to_numpy()[at]
    exit_ = places["exit_days"].to_numpy()[at]
    inside = (ages > entry) & (ages <= exit_)
    faults = [
        *mark(
            events, at < 0, lambda i: f"place_id {events['place_id'].iloc[i]!r:.80} is no place.", what=what
        ),
        *mark(
            events,
            (at >= 0) & ~inside,
            lambda i: (
                f"age_days {ages[i]:g} is not after {entry[i]:g} and by {exit_[i]:g}, while its place was watched."
            ),
            what=what,
        ),
        *mark(
            events,
            ~((chance >= 0) & (chance <= 1)),
            lambda i: f"failed_probability {chance[i]:g} is not between 0 and 1.",
            what=what,
        ),
        *mark(
            events, renewed < ages, lambda i: f"renewed_days {renewed[i]:g} is before age_days.", what=what
        ),
        *mark(
            events,
            ~filled["if_not_failed"].isin([GOES_ON, ENDS]).to_numpy(),
            lambda i: (
                f"if_not_failed {filled['if_not_failed'].iloc[i]!r:.80} is neither {GOES_ON!r} nor {ENDS!r}."
            ),
            what=what,
        ),
    ]
    refuse(faults)
    certain = chance >= 1
    refuse(_crowded(places, at[certain], ages[certain]))
    return pd.DataFrame(
        {
            "place": at,
            "age_days": ages,
            "renewed_days": renewed,
            "chance": chance,
            "ends": filled["if_not_failed"].to_numpy() == ENDS,
        }
    )


def _crowded(places: pd.DataFrame, at: np.ndarray, ages: FloatArray) -> list[Fault]:
    """More certain failures at one age than the place has controls."""
    distinct, counts = np.unique(np.column_stack([at, ages]), axis=0, return_counts=True)
    quantity = places["quantity"].to_numpy()[distinct[:, 0].astype(np.int64)]
    return [
        Fault(
            f"events of place {str(places['place_id'].iloc[int(distinct[i, 0])])[:80]}",
            f"{counts[i]} at {distinct[i, 1]:g} days, but there are {quantity[i]} controls.",
            "Give each failure its own age, or leave repeated reports of one failure out.",
        )
        for i in np.flatnonzero(counts > quantity).tolist()
    ]


def arrange(places: pd.DataFrame, events: pd.DataFrame) -> Places:
    """The checked frames, restricted to places with events or an unknown start, in their form for drawing."""
    number = np.bincount(events["place"], minlength=len(places))
    chosen = np.flatnonzero((number > 0) | ~places["start_known"].to_numpy())
    order = chosen[np.argsort(-number[chosen], kind="stable")]
    rank = np.empty(len(places), dtype=np.int64)
    rank[order] = np.arange(order.size)
    sorted_events = events.assign(rank=rank[events["place"]]).sort_values(["rank", "age_days"], kind="stable")
    part = places.iloc[order]
    return Places(
        entry=part["entry_days"].to_numpy(np.float64),
        exit=part["exit_days"].to_numpy(np.float64),
        quantity=part["quantity"].to_numpy(np.int64),
        known=part["start_known"].to_numpy(bool),
        slot_start=np.concatenate([[0], np.cumsum(part["quantity"].to_numpy(np.int64))]),
        event_start=np.concatenate([[0], np.cumsum(number[order])]),
        event_days=sorted_events["age_days"].to_numpy(np.float64),
        renewed_days=sorted_events["renewed_days"].to_numpy(np.float64),
        chance=sorted_events["chance"].to_numpy(np.float64),
        ends=sorted_events["ends"].to_numpy(bool),
        labels=part["place_id"].to_numpy(),
    )

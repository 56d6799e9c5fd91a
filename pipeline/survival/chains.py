"""Lives as the verdicts stand, and the findings behind them, as places and events with open verdicts."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.survival.form import check_lives, finite_numbers, mark, refuse, require_columns
from pipeline.survival.places import ENDS, GOES_ON

_SAME_DAY = 0.75  # a failure on its first day has exit 0.5 and a finding on day 0 or 1


class OpenVerdicts(NamedTuple):
    """Frames for ``fit_weibull_imputed``, and how many findings fell on no known life (left out)."""

    places: pd.DataFrame
    events: pd.DataFrame
    findings_outside: int


def open_verdicts(lives: pd.DataFrame, findings: pd.DataFrame) -> OpenVerdicts:
    """Join successive lives at a place, so that each verdict between them can be drawn instead of taken.

    ``lives``: the form of ``check_lives`` for single controls (quantity 1) of known age, as the verdicts stand, with

    - ``place_id``: where it was
    - ``from_day``: calendar day, as a number from any origin, of its ``entry_days``

    ``findings``: one row per finding that may have been a control failure, also those judged to be none:
    ``place_id``, ``day`` (same origin), ``failed_probability``, and optionally ``if_not_failed`` (as there).

    Lives that follow one another at a place without being seen elsewhere become one place on one clock, which
    starts as the first of them was installed. Between them stands an event: the finding of that day with its
    probability; without one, a failure counts as certain, and a change that was no failure as a certain
    replacement. A life that goes on at the age where the one before stopped (its load changed) adds no
    event. Findings within a life become events of their own.

    The verdict that ended a life *before* the first one given at a place is taken as it stands.
    """
    require_columns(lives, ("place_id", "from_day"), "lives")
    require_columns(findings, ("place_id", "day", "failed_probability"), "findings")
    good = check_lives(lives)
    refuse(
        list(
            mark(
                good,
                (good["quantity"] != 1).to_numpy(),
                lambda i: f"quantity {good['quantity'].iloc[i]} is not 1.",
                "Give a batch to fit_weibull_imputed as a place of its own.",
            )
        )
    )
    chained = _chained(good.assign(from_day=finite_numbers(lives, "from_day")))
    first = chained.groupby("chain", sort=False).first()
    last = chained.groupby("chain", sort=False)["to_clock"].max()
    places = pd.DataFrame(
        {"place_id": first.index, "entry_days": first["entry_days"], "exit_days": last, "quantity": 1}
    ).reset_index(drop=True)
    seen, outside = _placed(chained, findings.assign(day=finite_numbers(findings, "day", "findings row")))
    return OpenVerdicts(places, _events(chained, seen), outside)


def _chained(lives: pd.DataFrame) -> pd.DataFrame:
    """The lives in order, with their chain, its clock at both ends, and how each leads to the next."""
    rows = lives.sort_values(["place_id", "from_day"], kind="stable").reset_index(drop=True)
    to_day = rows["from_day"] + rows["exit_days"] - rows["entry_days"]
    same = rows["place_id"].eq(rows["place_id"].shift())
    stopped = rows["exit_days"].shift()
    goes_on = same & (rows["entry_days"] == stopped) & (rows["from_day"] == to_day.shift())
    renewed = same & (rows["entry_days"] == 0) & (rows["from_day"] >= to_day.shift() - _SAME_DAY)
    chain = (~(goes_on | renewed)).cumsum()
    origin = (rows["from_day"] - rows["entry_days"]).groupby(chain).transform("first")
    return rows.assign(
        chain=rows["place_id"].astype(str) + "/" + chain.astype(str),
        origin=origin,
        from_clock=rows["from_day"] - origin,
        to_clock=to_day - origin,
        next_goes_on=goes_on.shift(-1, fill_value=False),
        next_renewed=renewed.shift(-1, fill_value=False),
        next_from_clock=(rows["from_day"].shift(-1) - origin).where(renewed.shift(-1, fill_value=False)),
    )


def _placed(chained: pd.DataFrame, findings: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Each finding with the row of the life it falls into: after its entry and by its end."""
    spans = chained.reset_index(names="life")[["place_id", "life", "from_day", "origin", "to_clock"]]
    both = findings.reset_index(names="finding").merge(spans, on="place_id")
    clock = both["day"] - both["origin"]
    inside = (both["day"] >= both["from_day"]) & (clock <= both["to_clock"] + _SAME_DAY)
    found = both[inside].drop_duplicates("finding", keep="first")
    return found.assign(clock=found["day"] - found["origin"]), len(findings) - len(found)


def _events(chained: pd.DataFrame, seen: pd.DataFrame) -> pd.DataFrame:
    """Events at the ends of lives, then those within them."""
    at_end = (seen["to_clock"] - seen["clock"]).abs() <= _SAME_DAY
    verdict = seen[at_end].drop_duplicates("life", keep="last").set_index("life")
    ended = chained[(chained["failed"] | chained["next_renewed"]) & ~chained["next_goes_on"]]
    chance = verdict["failed_probability"].astype(float).reindex(ended.index)
    otherwise = (
        pd.Series(GOES_ON, index=verdict.index)
        if "if_not_failed" not in verdict
        else verdict["if_not_failed"]
    )
    ends = pd.DataFrame(
        {
            "place_id": ended["chain"],
            "age_days": ended["to_clock"],
            "failed_probability": chance.fillna(ended["failed"].astype(float)),
            "if_not_failed": otherwise.reindex(ended.index).fillna(ENDS),
            "renewed_days": np.maximum(ended["next_from_clock"].fillna(ended["to_clock"]), ended["to_clock"]),
        }
    )
    within = seen[~(at_end & seen["life"].isin(ended.index))]
    within = within[(within["clock"] > 0) & (within["clock"] <= within["to_clock"])]
    inner = pd.DataFrame(
        {
            "place_id": chained["chain"].reindex(within["life"]).to_numpy(),
            "age_days": within["clock"].to_numpy(),
            "failed_probability": within["failed_probability"].to_numpy(),
            "if_not_failed": within["if_not_failed"].to_numpy() if "if_not_failed" in within else GOES_ON,
            "renewed_days": within["clock"].to_numpy(),
        }
    )
    both = pd.concat([part for part in (ends, inner) if len(part)] or [ends], ignore_index=True)
    entry = chained.groupby("chain")["from_clock"].min()
    return both[both["age_days"] > both["place_id"].map(entry)].reset_index(drop=True)

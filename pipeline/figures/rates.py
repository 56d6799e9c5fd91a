"""Incidents and control failures per time under observation, ages known or not."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.lives.groups import poisson_limits
from pipeline.store import Store
from pipeline.survival.group_tests import holm

RATE_PARTS = ("kind", "model", "switching", "lamp", "model and lamp", "site")
_LIMITED = ("", "_lower", "_upper")
_LIMITED = ("", "_lower", "_upper")
COLUMNS = (
    "part", "label", "control_years", "incidents", *(f"incidents_per_100_control_years{end}" for end in _LIMITED),
    "failures", *(f"failures_per_100_control_years{end}" for end in _LIMITED), "unlike_the_rest_p",
)  # fmt: skip


def incident_rates(store: Store, by: str = "kind", filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Incidents, and control failures, per 100 control-years of each part; the highest rate of failures first.

    ``by``: one of RATE_PARTS. Columns: part (a site by its site_id), label (a site by its
    name, with its id where another has the same), control_years under observation, incidents (of any
    cause, at controls of the part; at a site also those tied to no control), failures (controls), both per 100
    control-years with exact Poisson limits, and unlike_the_rest_p: the two-sided probability that the
    part's failures differ so much from those of all others by chance alone, adjusted for the number of parts (Holm);
    missing where there is nothing to compare with. A period cuts the time and chooses by date of report.
    """
    _check(by)
    time = query.frame(store, "rate_time", filters, by_group=by)
    events = query.frame(store, "rate_events", filters, by_group=by, by_site=by == "site")
    counted = pd.DataFrame(
        {
            "incidents": events.dropna(subset="incident_id").groupby("group_name")["incident_id"].nunique(),
            "failures": events[events["control_failed"].astype(bool)].groupby("group_name")["units"].sum(),
        }
    )
    frame = time.rename(columns={"group_name": "part"}).join(counted, on="part")
    frame[["incidents", "failures"]] = frame[["incidents", "failures"]].fillna(0).astype("int64")
    for name in ("incidents", "failures"):
        lower, upper = poisson_limits(frame[name], facts(store).confidence)
        for end, count in (("", frame[name]), ("_lower", lower), ("_upper", upper)):
            frame[f"{name}_per_100_control_years{end}"] = count * 100 / frame["control_years"]
    frame["label"] = _site_labels(store, frame["part"]) if by == "site" else frame["part"]
    frame["unlike_the_rest_p"] = _unlike_the_rest(frame)
    rate = "failures_per_100_control_years"
    return frame[list(COLUMNS)].sort_values([rate, "part"], ascending=[False, True], ignore_index=True)


def incidents_of_part(
    store: Store, by: str, part: str, filters: Filters = EVERYTHING, failures_only: bool = False
) -> list[str]:
    """Incident ids that a row of ``incident_rates`` counts."""
    _check(by)
    events = query.frame(store, "rate_events", filters, by_group=by, by_site=by == "site")
    mine = events[(events["group_name"] == part) & events["incident_id"].notna()]
    if failures_only:
        mine = mine[mine["control_failed"].astype(bool)]
    return sorted(set(mine["incident_id"]))


def _site_labels(store: Store, site_ids: pd.Series[str]) -> list[str]:
    names: dict[str, str] = dict(store.rows("SELECT site_id, coalesce(name, site_id) FROM sites"))
    shown = [names.get(site_id, site_id) for site_id in site_ids]
    return [
        f"{one} ({key})" if shown.count(one) > 1 else one for one, key in zip(shown, site_ids, strict=True)
    ]


def _check(by: str) -> None:
    if by not in RATE_PARTS:
        raise ValueError(f"by {by!r} is not one of {', '.join(RATE_PARTS)}")


def _unlike_the_rest(frame: pd.DataFrame) -> list[float | None]:
    """Exact conditional test of each part's rate against all others', with Holm's adjustment.

    Given all failures, those of a part are binomial with its share of the time (Przyborowski and Wilenski 1940; from
    memory).
    """
    failures, years = int(frame["failures"].sum()), float(frame["control_years"].sum())
    if len(frame) < 2 or not failures:
        return [None] * len(frame)
    raw = [
        binomtest(count, failures, own / years).pvalue
        for count, own in zip(frame["failures"].tolist(), frame["control_years"].tolist(), strict=True)
    ]
    return [float(value) for value in holm(np.array(raw))]

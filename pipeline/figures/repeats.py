"""Repeat calls: how many a site has had after a time of record, and whether they come faster as time goes on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import pandas as pd
from statsmodels.stats.multitest import multipletests

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.numerals import count_text
from pipeline.store import Store
from pipeline.survival import CannotFit, mean_cumulative_function, trend_test

COUNTED = ("incidents", "control failures", "calls")
"""What can be counted: faults, those that convict a control, or every call about a fault."""
YEAR_DAYS = 365.25
# Laplace's statistic is near normal from about four events (Cox and Lewis 1966; from memory).
FEWEST_FOR_TREND = 4
SMALL_P = 0.05
_TRENDS = {"faster": "ever faster", "slower": "ever slower", "no trend shown": "no trend shown"}
_CURVE = ("age_days", "mean_count", "lower", "upper")
_SITES = (
    "site_id", "site", "events", "years", "per_year", "power_law_shape", "power_law_shape_lower",
    "power_law_shape_upper", "laplace_z", "p_value", "p_value_holm", "trend",
)  # fmt: skip


@dataclass(frozen=True)
class RepeatCalls:
    """How often sites are called again. ``sentences``: the finding in plain words, or why there is none.

    ``curve``: the mean number per site by days of record (age_days, mean_count, with robust limits; these are
    missing with a single site). ``sites``: site_id, site, events, years (of record), per_year, power_law_shape with
    exact limits (1: steady, above: faster and faster), laplace_z, p_value, p_value_holm (adjusted for the number of
    sites tested), trend ("faster", "slower", "no trend shown", or "too few"), the most events first.
    """

    counted: str
    sentences: tuple[str, ...]
    curve: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=list(_CURVE), dtype=float), repr=False
    )
    sites: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(_SITES)), repr=False)


def repeat_calls(store: Store, counted: str = "incidents", filters: Filters = EVERYTHING) -> RepeatCalls:
    """Mean number of incidents (or what ``counted`` says) per site by time of record, and each site's trend.

    Time is that in which the site's log was kept, from its first day on; gaps are no time. Planned work that reports no
    fault is left out. ``counted``: one of COUNTED; calls of one incident come in clusters, so a trend of them is
    easily mistaken. The robust limits allow for that.
    """
    if counted not in COUNTED:
        raise ValueError(f"counted {counted!r} is not one of {', '.join(COUNTED)}")
    spans = _spans(query.frame(store, "watched_sites", filters))
    if spans.empty:
        return RepeatCalls(counted, ("No site's log was kept here, so nothing can be counted per site.",))
    events = _placed(query.frame(store, "repeat_events", filters, counted=counted), spans)
    if events.empty:
        return RepeatCalls(counted, (f"No site has {counted} on record here.",))
    confidence = facts(store).confidence
    curve = mean_cumulative_function(events, spans.rename(columns={"site_id": "unit"}), confidence)
    sites = _sites(events, spans, confidence)
    return RepeatCalls(counted, tuple(_sentences(counted, curve, sites)), curve, sites)


def _spans(kept: pd.DataFrame) -> pd.DataFrame:
    """Each span of a site's record on its own clock, which stands still in gaps: entry_days, exit_days."""
    first, last = pd.to_datetime(kept["first_day"]), pd.to_datetime(kept["last_day"])
    days = (last - first).dt.days + 1
    ends = days.groupby(kept["site_id"]).cumsum()
    return kept.assign(
        first=first, last=last, entry_days=(ends - days).astype(float), exit_days=ends.astype(float)
    )


def _placed(events: pd.DataFrame, spans: pd.DataFrame) -> pd.DataFrame:
    """Events within a span of their site: unit, age_days (the middle of the day)."""
    days = events.assign(day=pd.to_datetime(events["day"])).merge(spans, on="site_id")
    inside = days[(days["day"] >= days["first"]) & (days["day"] <= days["last"])]
    age = inside["entry_days"] + (inside["day"] - inside["first"]).dt.days + 0.5
    return pd.DataFrame({"unit": inside["site_id"], "age_days": age.astype(float)}).reset_index(drop=True)


def _sites(events: pd.DataFrame, spans: pd.DataFrame, confidence: float) -> pd.DataFrame:
    times = {str(unit): ages for unit, ages in events.groupby("unit")["age_days"]}
    rows = []
    for site_id, own in spans.groupby("site_id"):
        ages, end = times.get(str(site_id), pd.Series(dtype=float)), float(own["exit_days"].max())
        row = {"site_id": site_id, "site": own["site"].iloc[0], "events": len(ages), "years": end / YEAR_DAYS}
        rows.append(row | {"per_year": len(ages) / end * YEAR_DAYS} | _trend(ages, end, confidence))
    sites = pd.DataFrame(rows, columns=[name for name in _SITES if name not in ("p_value_holm", "trend")])
    known = sites["p_value"].notna()
    sites["p_value_holm"] = float("nan")
    if known.any():
        sites.loc[known, "p_value_holm"] = multipletests(
            sites.loc[known, "p_value"].astype(float), method="holm"
        )[1]
    sites["trend"] = [
        _trend_word(z, p) for z, p in zip(sites["laplace_z"], sites["p_value_holm"], strict=True)
    ]
    return sites.sort_values(["events", "site_id"], ascending=[False, True], ignore_index=True)[list(_SITES)]


def _trend(ages: pd.Series, end: float, confidence: float) -> dict[str, float]:
    if len(ages) < FEWEST_FOR_TREND:
        return {}
    try:
        found = trend_test(ages, end, confidence)
    except CannotFit:
        return {}
    low, high = found.power_law_shape_limits
    return {
        "power_law_shape": found.power_law_shape,
        "power_law_shape_lower": low,
        "power_law_shape_upper": high,
        "laplace_z": found.laplace_z,
        "p_value": found.p_value,
    }


def _trend_word(z: float, p_value_holm: float) -> str:
    if math.isnan(p_value_holm):
        return "too few"
    if p_value_holm >= SMALL_P:
        return "no trend shown"
    return "faster" if z > 0 else "slower"


def _sentences(counted: str, curve: pd.DataFrame, sites: pd.DataFrame) -> list[str]:
    tested = int((sites["trend"] != "too few").sum())
    total, least, most = (count_text(int(each)) for each in sites["events"].agg(["sum", "min", "max"]))
    one = len(sites) == 1
    where = (
        f"at {sites['site'].iloc[0]}"
        if one
        else f"at {count_text(len(sites))} sites: from {least} to {most} a site"
    )
    said = [f"{total} {counted} {where}." + ("" if one else f" {_at_end(curve, sites)}")]
    if not tested:
        return [*said, f"No site has the {FEWEST_FOR_TREND} {counted} that a trend needs."]
    number = {word: sites.loc[sites["trend"] == word, "site"].tolist() for word in _TRENDS}
    told = [
        f"{_TRENDS[word]} at {count_text(len(names))}{_named(word, names)}"
        for word, names in number.items()
        if names
    ]
    tested_said = (
        f"{count_text(tested)} {'site' if tested == 1 else 'sites'} with enough {counted} for a test"
    )
    grown = " More controls or more lamps at a site are a reason too." if number["faster"] else ""
    return [
        *said,
        f"Of {tested_said}: {', '.join(told)} (Laplace's test, all sites allowed for by Holm).{grown}",
    ]


def _at_end(curve: pd.DataFrame, sites: pd.DataFrame) -> str:
    """The mean number after the time of record that most sites reach."""
    middle = float(sites["years"].median())
    reached = curve[curve["age_days"] <= middle * YEAR_DAYS]
    if reached.empty:
        return ""
    last = reached.iloc[-1]
    limits = f" ({last['lower']:.1f} to {last['upper']:.1f})" if pd.notna(last["lower"]) else ""
    return f"After {middle:.1f} years of record a site has had {last['mean_count']:.1f}{limits} on average."


def _named(word: str, sites: list[str]) -> str:
    """The first three by name, but of those without a trend."""
    if word not in ("faster", "slower"):
        return ""
    return f" ({', '.join(sites[:3])}{', …' if len(sites) > 3 else ''})"

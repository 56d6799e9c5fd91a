"""Campaigns: planned replacements of many controls at once, named in the settings or found in the data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import Facts
from pipeline.figures.filters import EVERYTHING
from pipeline.settings import NamedCampaign
from pipeline.store import Store


@dataclass(frozen=True)
class Campaign:
    """``ends``: the controls it replaced, rows of planned_ends.sql. ``named``: it stands in portfolio.toml."""

    name: str
    first: date
    last: date
    named: bool
    ends: pd.DataFrame

    @property
    def sites(self) -> list[str]:
        """Their site_ids."""
        return sorted(set(self.ends["site_id"]))


def campaigns_of(store: Store, info: Facts) -> list[Campaign]:
    """Campaigns of the whole portfolio in order of time: those named, and others found in the data.

    Found is: at least campaign_least_controls of a site replaced as planned work within campaign_within_days. Sites
    whose spans lie within that time of each other are one campaign. A named one takes what was replaced without
    failure at its sites between its days; what it takes is not found again.
    """
    ends = query.frame(store, "planned_ends", EVERYTHING)
    days = pd.to_datetime(ends["ended_on"])
    ends = ends.assign(ended_on=days, renewed_on=pd.to_datetime(ends["renewed_on"]))
    found, left = [], ends
    for page in info.settings.get("campaigns", []):
        campaign = _named(NamedCampaign.model_validate(page), left)
        found.append(campaign)
        left = left.drop(campaign.ends.index)
    within = timedelta(days=info.assumptions.campaign_within_days)
    found += _found(left[left["end_reason"] == "planned"], info.assumptions.campaign_least_controls, within)
    return sorted(found, key=lambda campaign: (campaign.first, campaign.name))


def _named(page: NamedCampaign, ends: pd.DataFrame) -> Campaign:
    inside = ends["ended_on"].between(pd.Timestamp(page.first), pd.Timestamp(page.last))
    if page.sites:
        inside &= ends["site_id"].isin(page.sites)
    return Campaign(page.name, page.first, page.last, True, ends[inside])


def _found(planned: pd.DataFrame, least: int, within: timedelta) -> list[Campaign]:
    """The widest runs of planned ends at each site that are campaigns, joined over sites."""
    at_sites = [
        part.loc[rows] for _, part in planned.groupby("site_id") for rows in _windows(part, least, within)
    ]
    at_sites.sort(key=lambda part: (part["ended_on"].min(), str(part["site_id"].iloc[0])))
    joined: list[pd.DataFrame] = []
    for part in at_sites:
        if joined and part["ended_on"].min() - joined[-1]["ended_on"].min() <= within:
            joined[-1] = pd.concat([joined[-1], part])
        else:
            joined.append(part)
    return [_campaign(part) for part in joined]


def _windows(part: pd.DataFrame, least: int, within: timedelta) -> list[pd.Index]:
    """Row labels of a site's planned ends that lie within the time from the first of them, where they are enough."""
    part = part.sort_values("ended_on", kind="stable")
    found = []
    while len(part):
        inside = part["ended_on"] <= part["ended_on"].iloc[0] + within
        if part.loc[inside, "quantity"].sum() >= least:
            found.append(part.index[inside])
            part = part[~inside]
        else:
            part = part.iloc[1:]
    return found


def _campaign(ends: pd.DataFrame) -> Campaign:
    first, last = ends["ended_on"].min().date(), ends["ended_on"].max().date()
    done = ends["renewed_on"].fillna(ends["ended_on"]).median()  # an order is older than its work
    return Campaign(f"Planned replacement of {done:%B %Y}", first, last, False, ends)

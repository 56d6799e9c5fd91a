"""What campaigns did: failures after each against the fitted life's forecast for like-for-like replacement."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import pandas as pd

from pipeline.figures import query
from pipeline.figures.campaign_finding import Campaign, campaigns_of
from pipeline.figures.facts import Facts, facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import count_text
from pipeline.keys import joined
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.groups import fit_row, life_model
from pipeline.numerals import counted
from pipeline.store import Store
from pipeline.survival import (
    CampaignEffect,
    CannotFit,
    campaign_effect,
)
from pipeline.survival.forecasting import LifeModel

_LONGEST_WAIT_DAYS = 120  # from a planned end to its successor's start; later it is another job


@dataclass(frozen=True)
class CampaignResult:
    """A campaign and what it did.

    ``controls`` replaced at ``sites`` (names), of the models and lamps ``replaced`` so far as known; ``followed`` of
    them from their replacement on, to ``until`` at the latest. ``effect`` None: ``note`` says why. ``note`` also
    says what was left out. ``incident_ids``: the failures seen.
    """

    name: str
    first: date
    last: date
    named: bool
    sites: tuple[str, ...]
    replaced: tuple[str, ...]
    controls: int
    followed: int
    until: date | None
    effect: CampaignEffect | None
    note: str
    incident_ids: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """The result in words, or why there is none."""
        return " ".join(filter(None, (self.effect.sentence if self.effect else "", self.note)))


def campaign_results(store: Store, filters: Filters = EVERYTHING) -> list[CampaignResult]:
    """Every campaign that replaced a control at the chosen sites and of the chosen kinds, whole, in order of time.

    Each is judged with lives fitted to what was seen before it, at all sites, per model and lamps replaced. The places
    whose controls it replaced are followed from their new control on (age 0), on the same load. The
    campaign_selection_days before it, at every site with controls of the replaced kinds of model and lamps, say how
    much sites differ; with 0 days that period is left out. A period does not apply.
    """
    info = facts(store)
    if info.log_to is None:
        return []
    shown = [c for c in campaigns_of(store, info) if _wanted(c, filters)]
    return [_result(store, info, campaign) for campaign in shown]


def _wanted(campaign: Campaign, filters: Filters) -> bool:
    ends = campaign.ends
    if campaign.named and ends.empty:
        return not filters.sites and not filters.kinds
    if filters.sites:
        ends = ends[ends["site_id"].isin(filters.sites)]
    if filters.kinds:
        ends = ends[ends["kind"].isin(filters.kinds)]
    return len(ends) > 0


def _result(store: Store, info: Facts, campaign: Campaign) -> CampaignResult:
    ends = campaign.ends
    sure = ends[~ends["model_unsure"].astype(bool)]
    blank = CampaignResult(
        campaign.name, campaign.first, campaign.last, campaign.named, tuple(sorted(set(ends["site"]))),
        tuple(sorted(_names(sure))),
        int(ends["quantity"].sum()), 0, None, None, "",
    )  # fmt: skip
    if ends.empty:
        return replace(blank, note="No control was replaced without failure at its sites between its days.")
    waited = sure["renewed_on"] - sure["ended_on"]
    treated = sure[waited <= timedelta(days=_LONGEST_WAIT_DAYS)]
    note = _left_out(ends, sure, treated)
    if treated.empty:
        return replace(blank, note=note)
    try:
        return _judged(store, info, replace(blank, note=note), treated)
    except CannotFit as refusal:
        return replace(blank, note=f"{refusal} {note}".strip())


def _judged(store: Store, info: Facts, blank: CampaignResult, treated: pd.DataFrame) -> CampaignResult:
    """The result of a campaign whose treated places are known."""
    cut = treated["ended_on"].min().date()
    fits, unfitted = _lives_before(store, info, treated, cut)
    after = _after(store, info, treated)
    after = after[after["life"].isin(fits)]
    if after.empty:
        raise CannotFit(f"No life could be fitted from before it. {unfitted}".strip())
    before, note = _before(store, info, after, fits, cut), unfitted
    if before is None and info.assumptions.campaign_selection_days > 0:
        note = f"{note} No site has a record of like controls before it.".strip()
    if before is not None:
        known = after["site"].isin(before["site"])
        if not known.all():
            lost = int(after.loc[~known, "quantity"].sum())
            note = f"{note} Left out: {counted(lost, 'control')} at sites without a record before it.".strip()
            after = after[known]
    effect = campaign_effect(fits, after, before, confidence=info.confidence)
    ids = sorted({one for row in after["incident_ids"] for one in row if one})
    return replace(
        blank,
        followed=int(after["quantity"].sum()),
        until=max(pd.to_datetime(after["until"])).date(),
        effect=effect,
        note=" ".join(filter(None, (blank.note, note))),
        incident_ids=tuple(ids),
    )


def _left_out(ends: pd.DataFrame, sure: pd.DataFrame, treated: pd.DataFrame) -> str:
    """What of a campaign cannot be judged, in a sentence; empty where all can."""
    unsure = int(ends["quantity"].sum()) - int(sure["quantity"].sum())
    alone = int(sure["quantity"].sum()) - int(treated["quantity"].sum())
    said = []
    if unsure:
        said.append(
            f"{count_text(unsure)} whose former model is not known, the register being a later snapshot"
        )
    if alone:
        said.append(f"{count_text(alone)} without a new control in the record at the same place")
    return f"Left out: {'; '.join(said)}." if said else ""


def _life_name(model: str, lamp: str | None) -> str:
    return joined(model, "lamps unknown" if lamp is None or pd.isna(lamp) else lamp)


def _lives_before(
    store: Store, info: Facts, treated: pd.DataFrame, cut: date
) -> tuple[dict[str, LifeModel], str]:
    """The lives of the replaced models on their lamps, from what was seen before a day, and a sentence on the rest."""
    seen = Filters(end=cut - timedelta(days=1))
    lives = query.frame(store, "group_lives", seen, by_group="model and lamp", group=None)
    fits: dict[str, LifeModel] = {}
    missing = []
    for name in sorted(_names(treated)):
        own = GroupLives(lives[lives["group_name"] == name])
        row = fit_row(own, info.assumptions)
        if not row["failures"] or row["method"] == "none":
            missing.append(name)
        else:
            fits[name] = life_model(own, info.assumptions, row["method"], float(row["shape"]))
    return fits, f"No life can be fitted for {', '.join(missing)}: left out." if missing else ""


def _names(frame: pd.DataFrame) -> set[str]:
    return {_life_name(*pair) for pair in zip(frame["model"], frame["lamp"], strict=True)}


def _after(store: Store, info: Facts, treated: pd.DataFrame) -> pd.DataFrame:
    """The treated places from their new controls on; ``life`` is that of what was replaced."""
    places = treated.drop_duplicates(["position", "kind"]).set_index(["position", "kind"])
    rows = query.frame(
        store, "followed_places", EVERYTHING, first_day=None, last_day=info.log_to,
        positions=[position for position, _ in places.index], kinds_at=[kind for _, kind in places.index],
        since=[day.date() for day in places["renewed_on"]],
    )  # fmt: skip
    # A later change of model or load begins another run: only the first after the campaign is like for like.
    first = rows.sort_values("begins", kind="stable").drop_duplicates(["position", "kind"])
    at = places.loc[list(zip(first["position"], first["kind"], strict=True))]
    replaced = [_life_name(*pair) for pair in zip(at["model"], at["lamp"], strict=True)]
    started = pd.to_datetime(first["begins"]).to_numpy() == at["renewed_on"].to_numpy()
    same_load = first["lamp"].fillna("").to_numpy() == at["lamp"].fillna("").to_numpy()
    followed: pd.DataFrame = first.assign(site=first["site_id"], life=replaced)[started & same_load]
    return followed.reset_index(drop=True)


def _before(
    store: Store, info: Facts, after: pd.DataFrame, fits: dict[str, LifeModel], cut: date
) -> pd.DataFrame | None:
    """Places of the replaced models and lamps at all sites in the period before; None where it is left out."""
    days = info.assumptions.campaign_selection_days
    if not days:
        return None
    rows = query.frame(
        store, "followed_places", EVERYTHING, first_day=cut - timedelta(days=days), last_day=cut,
        positions=None, kinds_at=None, since=None,
    )  # fmt: skip
    lives = [_life_name(*pair) for pair in zip(rows["model"], rows["lamp"], strict=True)]
    rows = rows.assign(site=rows["site_id"], life=lives)
    like = rows["life"].isin(set(after["life"])) & rows["life"].isin(fits)
    rows = rows[like & rows["kind"].isin(set(after["kind"]))]
    return rows.reset_index(drop=True) if len(rows) else None

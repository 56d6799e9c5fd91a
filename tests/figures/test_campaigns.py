"""Campaigns found in the data or named in the settings, and what they did."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest

import demo_data
from figures.small_store import LOG_FROM, LOG_TO, SETTINGS, add
from pipeline import figures
from pipeline.figures import CampaignResult, Filters
from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.survival import StatedLife, campaign_effect

TRUTH = demo_data.truth_folder()
CAMPAIGN_DAY = date(2022, 8, 8)


def the_demos(store: Store) -> CampaignResult:
    (result,) = figures.campaign_results(store)
    return result


def test_the_demos_campaign_is_found_whole_and_judged_within_limits_of_the_truth(demo_store: Store) -> None:
    """Six sites had their relay photocontrols on LED replaced by photocontrol C on 2022-08-08 (docs/demo-model.md)."""
    result = the_demos(demo_store)
    truth = pd.read_csv(TRUTH / "lives.csv.gz", parse_dates=["ended_at"])
    planned = truth[truth["end_reason"] == "planned"]
    assert set(planned["ended_at"].dt.date) == {CAMPAIGN_DAY}
    assert len(result.sites) == planned["site_id"].nunique() == 6
    assert result.name == "Planned replacement of August 2022"
    # One site's register is a later snapshot, so the batch that its new one replaced was never listed.
    controls = demo_store.frame("SELECT control_id, as_of IS NOT NULL AS is_snapshot FROM controls")
    hidden = planned.merge(controls, on="control_id")
    listed = len(planned) - int((hidden["is_snapshot"] & (hidden["quantity_of_row"] > 1)).sum())
    assert result.controls == pytest.approx(listed, rel=0.03)
    assert result.effect is not None
    expected = {model: _true_failures(model, len(planned)) for model in ("photocontrol A", "photocontrol C")}
    true_ratio = expected["photocontrol C"] / (
        _true_failures("photocontrol A", int((planned["model"] == "photocontrol A").sum()))
        + _true_failures("photocontrol B", int((planned["model"] == "photocontrol B").sum()))
    )
    assert 0.25 < true_ratio < 0.35
    assert result.effect.lower < true_ratio < result.effect.upper
    assert result.effect.upper < 1
    assert result.effect.naive_ratio is not None
    assert (
        result.effect.naive_ratio < 0.75 * result.effect.ratio
    )  # before and after alone would claim far too much
    # The sites were not chosen for their record: the choice by itself gives nothing.
    assert result.effect.regression_factor == pytest.approx(1, abs=0.15)


def _true_failures(model: str, controls: int) -> float:
    """Of so many new controls on LED, each renewed by its like, from the campaign to the log's end."""
    groups = pd.read_csv(TRUTH / "groups.csv.gz").set_index(["model", "lamp"])
    life = StatedLife(*groups.loc[(model, "LED"), ["shape", "scale_days"]].astype(float))
    days = (date(2025, 12, 31) - CAMPAIGN_DAY).days
    rows = pd.DataFrame({"site": ["S"], "age_days": 0, "days": days, "quantity": controls, "failures": 0})
    return campaign_effect(life, rows).expected


def test_what_a_snapshot_cannot_tell_is_left_out_and_said(demo_store: Store) -> None:
    result = the_demos(demo_store)
    assert result.replaced == ("photocontrol A / LED", "photocontrol B / LED")
    assert "whose former model is not known, the register being a later snapshot" in result.note
    assert result.followed < result.controls


def test_the_failures_seen_open_to_their_calls(demo_store: Store) -> None:
    result = the_demos(demo_store)
    assert result.effect is not None
    assert len(result.incident_ids) == result.effect.observed  # single controls and units of one
    calls = figures.calls_behind(demo_store, list(result.incident_ids))
    assert set(calls["incident_id"]) == set(result.incident_ids)
    assert calls["reported_at"].min() > pd.Timestamp(CAMPAIGN_DAY)


def test_filters_choose_campaigns_whole(demo_store: Store) -> None:
    whole = the_demos(demo_store)
    site = demo_store.value("SELECT site_id FROM sites WHERE name = ?", [whole.sites[0]])
    (same,) = figures.campaign_results(demo_store, Filters(sites=(site,)))
    assert same.effect is not None
    assert whole.effect is not None
    assert (same.effect.observed, same.effect.ratio) == (whole.effect.observed, whole.effect.ratio)
    assert figures.campaign_results(demo_store, Filters(kinds=("timer",))) == []


def yards(settings: Settings = SETTINGS, sites: int = 3) -> Store:
    """Three yards of twenty controls, model R on LED, begun 800 days before the log; every other one fails in its first
    year and is renewed. On day 500 the first yard's are all replaced by model Z, of which two fail on day 800."""
    store = Store.create()
    add(
        store, "build_info", build_id="b", dayburn_version="0", portfolio_name="Yards", currency="USD",
        fiscal_year_start=1, log_from=LOG_FROM, log_to=LOG_TO, settings=settings.model_dump_json(),
    )  # fmt: skip
    for number in range(sites):
        site = f"y{number}"
        add(store, "sites", site_id=site, name=f"Yard {number}", time_zone="America/Denver")
        for place in range(20):
            add(
                store, "controls", control_id=f"{site}-{place}", site_id=site, position=f"{site} / {place}",
                kind="photocontrol", model="R", switching="plain relay", quantity=1, row_number=place,
            )  # fmt: skip
            _place(store, site, place, ends_planned=number == 0)
    fill_groups(store, settings.assumptions, Silent())
    return store


def _place(store: Store, site: str, place: int, ends_planned: bool) -> None:
    start, control = LOG_FROM - timedelta(days=800), f"{site}-{place}"
    fails, planned, later = (LOG_FROM + timedelta(days=days) for days in (270 + 3 * place, 500, 800))
    after = planned if ends_planned else LOG_TO
    lives = [(start, LOG_FROM, after, False, "R")]
    if place % 2:
        lives = [(start, LOG_FROM, fails, True, "R"), (fails, fails, after, False, "R")]
    if ends_planned:
        broke = place < 2
        lives.append((planned, planned, later if broke else LOG_TO, broke, "Z"))
        if broke:
            lives.append((later, later, LOG_TO, False, "Z"))
    for number, (started, entered, ended, failed, model) in enumerate(lives):
        reason = "fails on" if failed else "planned" if ended == planned else "in service"
        add(
            store, "lives", life_id=f"{control}#{number}", segment=1, control_id=control, position=f"{site} / {place}",
            site_id=site, kind="photocontrol", model=model, switching="plain relay", lamp="LED",
            register_case="keeps removed", started_on=started, entered_on=entered, ended_on=ended,
            entry_days=float((entered - started).days), exit_days=float((ended - started).days),
            exit_central_days=float((ended - started).days), failed=failed,
            end_reason=reason, quantity=1, imputed=False, incident_id=f"{control}!" if failed else None,
        )  # fmt: skip


def test_a_campaign_is_followed_from_its_day_to_the_logs_end() -> None:
    (result,) = figures.campaign_results(yards())
    assert (result.sites, result.replaced, result.controls, result.followed) == (
        ("Yard 0",),
        ("R / LED",),
        20,
        20,
    )
    assert (result.first, result.until) == (LOG_FROM + timedelta(days=500), LOG_TO)
    assert result.effect is not None
    assert result.effect.observed == 2
    assert set(result.incident_ids) == {"y0-0!", "y0-1!"}
    # Two failures in 20 x 410 days after, ten in 20 x 500 before.
    days = (LOG_TO - LOG_FROM).days
    assert result.effect.naive_ratio == pytest.approx((2 / (20 * (days - 500))) / (10 / (20 * 500)), rel=1e-6)
    assert result.effect.ages_factor is not None
    assert result.effect.ages_factor < 0.9
    assert "younger" not in result.sentence
    assert "the change in the controls' ages gives" in result.sentence


def test_the_period_before_can_be_left_out() -> None:
    page = SETTINGS.model_dump()
    page["assumptions"]["campaign_selection_days"] = 0
    (result,) = figures.campaign_results(yards(Settings.model_validate(page)))
    assert result.effect is not None
    assert result.effect.naive_ratio is None
    assert "No period before is given" in result.sentence


def test_fewer_replacements_than_asked_for_or_spread_out_are_no_campaign() -> None:
    page = SETTINGS.model_dump()
    page["assumptions"]["campaign_least_controls"] = 21
    assert figures.campaign_results(yards(Settings.model_validate(page))) == []
    store = yards()
    for place in range(20):  # four weeks apart: at most three within 60 days
        store.run(
            "UPDATE lives SET ended_on = ended_on - ?::INTEGER WHERE control_id = ? AND end_reason = 'planned'",
            [place * 20, f"y0-{place}"],
        )
    assert figures.campaign_results(store) == []


def test_a_named_campaign_takes_its_sites_and_days_and_is_not_found_again() -> None:
    page = SETTINGS.model_dump()
    day = LOG_FROM + timedelta(days=500)
    dates = {"from": (day - timedelta(days=10)).isoformat(), "to": (day + timedelta(days=10)).isoformat()}
    page["campaigns"] = [
        {"name": "Spring", "sites": ["y0"], **dates},
        {"name": "Nothing", "sites": ["y2"], **dates},
    ]
    results = {
        result.name: result for result in figures.campaign_results(yards(Settings.model_validate(page)))
    }
    assert set(results) == {"Spring", "Nothing"}
    assert results["Spring"].named
    assert results["Spring"].controls == 20
    assert results["Nothing"].effect is None
    assert "No control was replaced without failure" in results["Nothing"].sentence


def test_lives_from_before_without_a_failure_give_no_forecast_and_say_so() -> None:
    store = yards()
    store.run("UPDATE lives SET failed = false, incident_id = NULL WHERE model = 'R'")
    (result,) = figures.campaign_results(store)
    assert result.effect is None
    assert "No life can be fitted for R / LED" in result.sentence


def test_a_change_of_load_after_the_campaign_ends_what_is_compared() -> None:
    store = yards()
    changed = LOG_FROM + timedelta(days=700)
    store.run("UPDATE lives SET ended_on = ? WHERE model = 'Z' AND control_id = 'y0-5'", [changed])
    store.run(
        "INSERT INTO lives SELECT * REPLACE (2 AS segment, 'HPS' AS lamp, ?::DATE AS entered_on, ?::DATE AS ended_on)"
        " FROM lives WHERE model = 'Z' AND control_id = 'y0-5'",
        [changed, LOG_TO],
    )
    (result,) = figures.campaign_results(store)
    whole = figures.campaign_results(yards())[0]
    assert result.effect is not None
    assert whole.effect is not None
    assert result.followed == 20
    assert result.effect.expected < whole.effect.expected


def test_without_a_campaign_there_is_none(small: Store, empty: Store) -> None:
    assert figures.campaign_results(small) == []
    assert figures.campaign_results(empty) == []


def test_the_yards_expectation_is_the_fitted_lifes_renewal() -> None:
    """Without the period before: 20 new controls for the days left, by the life fitted to R before the campaign."""
    page = SETTINGS.model_dump()
    page["assumptions"]["campaign_selection_days"] = 0
    store = yards(Settings.model_validate(page))
    (result,) = figures.campaign_results(store)
    cut = Filters(end=LOG_FROM + timedelta(days=499))
    row = figures.failure_groups(store, "model and lamp", cut).set_index("group_name").loc["R / LED"]
    days = (LOG_TO - LOG_FROM).days - 500
    rows = pd.DataFrame({"site": ["y0"], "age_days": 0, "days": days, "quantity": 20, "failures": 2})
    assert result.effect is not None
    assert result.effect.expected == pytest.approx(
        campaign_effect(StatedLife(row["shape"], row["scale_days"]), rows).expected, rel=1e-9
    )

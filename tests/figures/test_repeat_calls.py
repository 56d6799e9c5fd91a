"""Repeat calls per site, on a portfolio that can be reckoned by hand."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from figures.small_store import LOG_FROM, LOG_TO, SETTINGS, add, small_store
from figures.test_rates_and_trends import watched
from pipeline import figures
from pipeline.figures import Filters
from pipeline.store import Store
from pipeline.survival import trend_test

DAYS = (LOG_TO - LOG_FROM).days + 1


def test_the_mean_per_site_counts_incidents_by_days_of_record() -> None:
    found = figures.repeat_calls(watched())
    assert found.sites.set_index("site_id")["events"].to_dict() == {"north": 5, "south": 4}
    assert found.curve["mean_count"].iloc[-1] == pytest.approx(9 / 2)
    first = found.curve.iloc[0]
    assert first["age_days"] == (date(2022, 8, 3) - LOG_FROM).days + 0.5
    assert first["mean_count"] == 0.5
    assert (found.curve["lower"] <= found.curve["mean_count"]).all()
    assert found.sentences[0].startswith("9 incidents at 2 sites: from 4 to 5 a site.")


def test_failures_and_calls_are_counted_apart() -> None:
    failures = figures.repeat_calls(watched(), "control failures").sites.set_index("site_id")["events"]
    assert failures.to_dict() == {"north": 5, "south": 2}
    calls = figures.repeat_calls(watched(), "calls").sites.set_index("site_id")["events"]
    assert calls.to_dict() == {"north": 6, "south": 4}  # i01 was called in twice


def test_each_sites_trend_is_that_of_its_own_times() -> None:
    row = figures.repeat_calls(watched()).sites.set_index("site_id").loc["north"]
    days = [date(2022, 8, 3), date(2023, 2, 1), date(2024, 1, 15), date(2024, 3, 1), date(2024, 6, 10)]
    alone = trend_test([(day - LOG_FROM).days + 0.5 for day in days], DAYS)
    assert row["laplace_z"] == pytest.approx(alone.laplace_z)
    assert row["power_law_shape"] == pytest.approx(alone.power_law_shape)
    assert row["power_law_shape_lower"] == pytest.approx(alone.power_law_shape_limits[0])
    assert row["p_value"] == pytest.approx(alone.p_value)
    assert row["trend"] == "no trend shown"


def test_trends_are_adjusted_for_the_number_of_sites() -> None:
    sites = figures.repeat_calls(watched()).sites.sort_values("p_value")
    smaller, greater = sites["p_value"].tolist()
    assert sites["p_value_holm"].tolist() == pytest.approx([2 * smaller, max(2 * smaller, greater)])


def test_the_clock_stands_still_in_a_gap_of_the_record() -> None:
    store = small_store()
    add(
        store,
        "observation_windows",
        site_id="north",
        observed_from="2022-01-01",
        observed_to="2022-12-31",
        origin="x",
    )
    add(
        store,
        "observation_windows",
        site_id="north",
        observed_from="2024-01-01",
        observed_to="2024-06-30",
        origin="x",
    )
    found = figures.repeat_calls(store)
    assert found.sites["events"].tolist() == [4]  # i02 of February 2023 lies in the gap
    assert found.sites["years"].iloc[0] == pytest.approx((365 + 182) / 365.25)
    assert found.curve["age_days"].tolist() == [214.5, 365 + 14.5, 365 + 60.5, 365 + 161.5]
    assert found.curve["lower"].isna().all()  # one site: no scatter between sites to take limits from


def test_calls_that_come_faster_are_told_and_steady_ones_are_not() -> None:
    store, rng = Store.create(), np.random.default_rng(4)
    add(store, "build_info", build_id="b", dayburn_version="0", portfolio_name="p", currency="USD", fiscal_year_start=1,
        log_from=LOG_FROM, log_to=LOG_TO, settings=SETTINGS.model_dump_json())  # fmt: skip
    for site, power in (("growing", 0.4), ("steady", 1.0), ("quiet", 1.0)):
        add(store, "sites", site_id=site, name=site.title(), time_zone="America/Denver")
        add(
            store,
            "observation_windows",
            site_id=site,
            observed_from=LOG_FROM,
            observed_to=LOG_TO,
            origin="settings",
        )
        for number, share in enumerate(rng.uniform(size=60 if site != "quiet" else 3) ** power):
            day = LOG_FROM + timedelta(days=int(share * DAYS))
            add(store, "incidents", incident_id=f"{site}{number}", site_id=site, symptom="out", component="lamp",
                action="replaced", failed_probability=0.0, control_failed=False, units=1, first_reported_at=day,
                is_open=False, calls=1, callbacks=0, no_fault_found=False, flags=[])  # fmt: skip
    found = figures.repeat_calls(store)
    assert found.sites.set_index("site_id")["trend"].to_dict() == {
        "growing": "faster", "steady": "no trend shown", "quiet": "too few",
    }  # fmt: skip
    said = "Of 2 sites with enough incidents for a test: ever faster at 1 (Growing), no trend shown at 1 ("
    assert said in found.sentences[1]


def test_without_a_record_or_without_incidents_there_is_a_sentence(small: Store, empty: Store) -> None:
    for store in (small, empty):  # the small one has no windows of record
        found = figures.repeat_calls(store)
        assert found.curve.empty
        assert "No site's log was kept" in found.sentences[0]
    before = Filters(start=date(2022, 1, 1), end=date(2022, 2, 1))
    assert figures.repeat_calls(watched(), filters=before).sentences == (
        "No site has incidents on record here.",
    )
    with pytest.raises(ValueError, match="is not one of"):
        figures.repeat_calls(small, "complaints")


def test_a_period_starts_the_clock_anew() -> None:
    found = figures.repeat_calls(watched(), filters=Filters(start=date(2024, 1, 1), end=date(2024, 6, 30)))
    assert found.sites.set_index("site_id")["events"].to_dict() == {"north": 3, "south": 2}
    assert found.sites["years"].iloc[0] == pytest.approx(182 / 365.25)
    assert found.curve["age_days"].iloc[0] == 14.5

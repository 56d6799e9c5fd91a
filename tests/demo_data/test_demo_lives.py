"""Lives follow the present load, and the district's lives are those that the model states."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from math import inf, log
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, kstest

from demo_data.events import Life
from demo_data.lives import LoadSpan, failure_day, gathered_hazard
from demo_data.make import District
from demo_data.model import GROUPS, Weibull

FAILED = ("fails on", "fails off", "erratic")
SHAPE_2 = Weibull(2.0, 1000.0)
SHAPE_2_QUICK = Weibull(2.0, 500.0)


def two_loads(change_day: float) -> list[LoadSpan]:
    return [LoadSpan(-inf, change_day, "HPS", SHAPE_2), LoadSpan(change_day, inf, "LED", SHAPE_2_QUICK)]


def test_one_load_fails_where_the_weibull_quantile_says() -> None:
    spans = [LoadSpan(-inf, inf, "HPS", SHAPE_2)]
    assert failure_day(0.0, 0.0, spans, log(2)) == pytest.approx(1000 * log(2) ** 0.5, abs=1e-9)


def test_hazard_follows_the_present_load() -> None:
    # By hand, installed on day 0, load changed at age 600: (600/1000)^2 = 0.36 is gathered before. A threshold of
    # 1.0 leaves 0.64 = (a/500)^2 - (600/500)^2, so a = 500 * sqrt(0.64 + 1.44) = 721.1103 days.
    assert failure_day(0.0, 0.0, two_loads(600.0), 1.0) == pytest.approx(721.1102551, abs=1e-6)
    assert failure_day(0.0, 0.0, two_loads(600.0), 0.25) == pytest.approx(500.0, abs=1e-9)


def test_delayed_entry_gathers_only_from_the_day_last_known_good() -> None:
    # Good at age 800: fails at a with (a/1000)^2 - 0.64 = 0.36, so at a = 1000; installed 300 days before the log.
    spans = [LoadSpan(-inf, inf, "HPS", SHAPE_2)]
    assert failure_day(-300.0, 500.0, spans, 0.36) == pytest.approx(700.0, abs=1e-9)


def test_no_failure_within_the_spans_is_said() -> None:
    assert failure_day(0.0, 0.0, [LoadSpan(0.0, 100.0, "HPS", SHAPE_2)], 1.0) is None


@given(
    change=st.floats(1, 5000), known_good=st.floats(0, 4000), threshold=st.floats(1e-3, 8),
    shape=st.floats(0.6, 4), quick=st.floats(200, 4000),
)  # fmt: skip
def test_hazard_gathered_up_to_the_failure_is_the_threshold(
    change: float, known_good: float, threshold: float, shape: float, quick: float
) -> None:
    first, second = Weibull(shape, 2000.0), Weibull(shape, quick)
    spans = [LoadSpan(-inf, change, "HPS", first), LoadSpan(change, inf, "LED", second)]
    day = failure_day(-10.0, known_good, spans, threshold)
    assert day is not None
    before = gathered_hazard(first, known_good + 10, min(day, change) + 10) if known_good < change else 0.0
    after = gathered_hazard(second, max(change, known_good) + 10, day + 10) if day > change else 0.0
    assert before + after == pytest.approx(threshold, rel=1e-6, abs=1e-9)


def gathered_in_life(life: Life) -> dict[str, float]:
    """Hazard that a life gathered under observation, by lamp."""
    parts: dict[str, float] = {}
    for span in life.place.spans(life.model, life.entry_day):
        begins, ends = max(span.begins, life.entry_day), min(span.ends, life.end_day)
        if begins < ends:
            ages = begins - life.installed_day, ends - life.installed_day
            parts[span.lamp] = gathered_hazard(span.life, *ages)
    return parts


def test_each_group_fails_as_often_as_its_stated_weibull_expects(district: District) -> None:
    # Failures less gathered hazard is a martingale: the count is close to Poisson with that mean.
    # Exact Poisson limits at 99.9 %, Bonferroni over the 17 groups (from memory: Garwood 1936).
    expected: dict[tuple[str, str], float] = defaultdict(float)
    failed: dict[tuple[str, str], int] = defaultdict(int)
    for life in district.lives:
        parts = gathered_in_life(life)
        for lamp, hazard in parts.items():
            expected[life.model, lamp] += hazard
        if life.reason in FAILED:
            failed[life.model, list(parts)[-1]] += 1
    assert set(expected) == set(GROUPS)
    tail = 0.001 / len(GROUPS) / 2
    for group, mean in expected.items():
        count = failed[group]
        assert chi2.ppf(tail, 2 * count) / 2 < mean < chi2.ppf(1 - tail, 2 * count + 2) / 2, group


def test_hazard_gathered_by_whole_lives_is_unit_exponential(district: District) -> None:
    # A life is seen to fail only if its draw fell below the hazard possible before the log ends, so the share
    # (1 - exp(-gathered)) / (1 - exp(-possible)) is uniform. Sites with the campaign end lives early: left out.
    shares = []
    for life in district.lives:
        if life.reason in FAILED and not life.place.site.campaign:
            horizon = min(life.place.site.ends, 2922.0)
            spans = life.place.spans(life.model, life.entry_day)
            possible = sum(
                gathered_hazard(span.life, begins - life.installed_day, ends - life.installed_day)
                for span in spans
                if (begins := max(span.begins, life.entry_day)) < (ends := min(span.ends, horizon))
            )
            gathered = sum(gathered_in_life(life).values())
            shares.append(np.expm1(-gathered) / np.expm1(-possible))
    assert len(shares) > 1500
    assert kstest(shares, "uniform").pvalue > 1e-3


def test_every_group_has_enough_failures_to_be_estimated(district: District) -> None:
    counts: dict[tuple[str, str], int] = defaultdict(int)
    for life in district.lives:
        if life.reason in FAILED and life.place.quantity == 1:
            counts[life.model, list(gathered_in_life(life))[-1]] += 1
    assert set(counts) == set(GROUPS)
    assert min(counts.values()) >= 20


def test_successor_begins_at_restoration_with_age_zero(district: District) -> None:
    by_seat: dict[tuple[int, int], list[Life]] = defaultdict(list)
    for life in district.lives:
        by_seat[id(life.place), life.member].append(life)
    successions = 0
    for lives in by_seat.values():
        for old, new in pairwise(lives):
            successions += 1
            assert new.installed_day == new.entry_day == old.removed_day
            assert old.end_day <= new.installed_day
            campaign = old.place.campaign_day()
            crossed = campaign is not None and new.installed_day >= campaign
            assert new.model == ("photocontrol C" if crossed else old.place.model)
    assert successions > 2000


def test_the_page_states_the_groups_that_the_script_uses() -> None:
    page = (Path(__file__).parents[2] / "docs" / "demo-model.md").read_text(encoding="utf-8")
    stated = {}
    for line in page.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and (cells[0], cells[1]) in GROUPS:
            stated[cells[0], cells[1]] = Weibull(float(cells[2]), float(cells[3]))
    assert stated == GROUPS
    assert pd.DataFrame(list(stated)).nunique()[0] == 9

"""The school calendar and the delay until somebody reports."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from demo_data.model import LOG_DAYS, MEAN_DAY_BURNING_DELAY_DAYS, day_of, moment_of
from demo_data.school_year import (
    Noticing,
    kind_of_day,
    mean_delay_days,
    month_end_moment,
    next_working_moment,
    noticing_by_day,
)


def test_mean_delay_at_one_rate_is_its_inverse() -> None:
    assert mean_delay_days(np.full(50, 0.125)) == pytest.approx(8.0, abs=1e-12)


def test_mean_delay_of_a_quiet_day_before_busy_ones_by_hand() -> None:
    # Nothing can be noticed on the first day (rate near 0): half a day to wait on average, then 1/r with r = 2.
    # The second day, with the rate going on, has mean 1/2. Over both days: (0.5 + 0.5 + 0.5) / 2.
    assert mean_delay_days(np.array([1e-9, 2.0])) == pytest.approx(0.75, abs=1e-6)


def test_drawn_delays_have_the_stated_mean() -> None:
    rng = np.random.default_rng(5)
    onsets = rng.uniform(0, LOG_DAYS, 20_000)
    delays = np.array([noticing_by_day().noticed(float(onset), rng) - onset for onset in onsets])
    assert (delays > 0).all()
    assert abs(delays.mean() - MEAN_DAY_BURNING_DELAY_DAYS) < 4 * delays.std() / np.sqrt(len(delays))


def test_summer_faults_wait_longer() -> None:
    rng = np.random.default_rng(6)
    notice = noticing_by_day()
    june, october = day_of(date(2021, 6, 10)) + 0.5, day_of(date(2021, 10, 4)) + 0.5
    summer = np.mean([notice.noticed(june, rng) - june for _ in range(2000)])
    autumn = np.mean([notice.noticed(october, rng) - october for _ in range(2000)])
    assert summer > 1.4 * autumn


def test_rates_can_be_scaled_to_another_mean() -> None:
    same_every_day = {"school day": 1.0, "staff day": 1.0, "weekend": 1.0, "summer weekday": 1.0}
    assert Noticing(same_every_day, 20.0).rates_per_day == pytest.approx(0.05, rel=1e-9)


@pytest.mark.parametrize(
    ("day", "kind"),
    [
        (date(2022, 10, 5), "school day"),
        (date(2022, 10, 8), "weekend"),
        (date(2022, 7, 6), "summer weekday"),
        (date(2022, 12, 27), "staff day"),
        (date(2022, 3, 22), "staff day"),
    ],
)
def test_kinds_of_day(day: date, kind: str) -> None:
    assert kind_of_day(day) == kind


def test_crews_finish_on_weekdays_in_working_hours_and_never_earlier() -> None:
    rng = np.random.default_rng(7)
    for start in rng.uniform(0, 2000, 300):
        moment = moment_of(next_working_moment(float(start), rng))
        assert moment.weekday() < 5
        assert 8 <= moment.hour < 16
        assert moment > moment_of(float(start)) or moment == moment_of(float(start))


def test_month_end_closing_is_the_last_day_at_five() -> None:
    closed = moment_of(month_end_moment(day_of(date(2020, 2, 3)) + 0.4))
    assert (closed.month, closed.day, closed.hour, closed.minute) == (2, 29, 17, 0)

"""Readings of two faults, and the calls beside them."""

from __future__ import annotations

from datetime import UTC, datetime

from core import small_portfolio

from .made_readings import Burnt, made_readings

FIRST, LAST = datetime(2021, 1, 20, tzinfo=UTC), datetime(2021, 6, 1, tzinfo=UTC)
REPORTED = Burnt(datetime(2021, 2, 20, 9, tzinfo=UTC), datetime(2021, 3, 5, 22, tzinfo=UTC), 0.2)
UNREPORTED = Burnt(datetime(2021, 5, 1, 19, tzinfo=UTC), datetime(2021, 5, 20, 18, tzinfo=UTC), 0.1)
NOT_BURNING = (
    "107,2021-04-01 09:00,2021-04-12 10:00,Closed,North Yard,PC-0002,Light on all day,Replaced photocell\n"
)
CALLS = small_portfolio.CALLS + NOT_BURNING
MADE = made_readings(FIRST, LAST, [REPORTED, UNREPORTED], lamps_kw=0.3, noise_kw=0.005)
QUIET = made_readings(FIRST, LAST, lamps_kw=0.1)

"""What a kilowatt-hour burnt when lamps should be off costs at each site, at the prices in force on the log's last day.

The payback of a replacement rests on this price: that of the hours outside the schedule through a year, and no
average over hours in which lamps should be lit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.instants import utc_seconds_from_local
from pipeline.energy.placing import schedule_at
from pipeline.energy.tariff_parts import ENERGY, TariffClocks
from pipeline.settings import Assumptions, Settings
from pipeline.store import Store
from pipeline.tariffs import Tariff
from pipeline.tariffs.wall import DAY_S

_DAYS = 365
_ASKED = """
SELECT DISTINCT c.site_id, c.kind, l.tariff, s.latitude, s.longitude, s.time_zone
FROM control_loads l
JOIN controls c USING (control_id)
JOIN sites s USING (site_id)
WHERE l.metered AND l.tariff IS NOT NULL AND c.kind IS NOT NULL
ORDER BY ALL
"""


def fill_waste_prices(store: Store, settings: Settings) -> None:
    """Fill waste_prices for every site, kind of control and tariff that pays for lamps behind it there."""
    asked = store.frame(_ASKED)
    if asked.empty:
        return
    log_to = store.value("SELECT log_to FROM build_info")
    tariffs = {name: tariff.as_of(log_to) for name, tariff in settings.tariffs.items()}
    schedules = list(settings.schedules.values())
    prices = [
        _price(row, tariffs, log_to, settings.assumptions, schedules) for row in asked.itertuples(index=False)
    ]
    keys = asked[["site_id", "kind", "tariff"]]
    store.fill_frame("waste_prices", keys.assign(price_per_kwh=pd.Series(prices, dtype=float)))


def _price(
    row: Any,
    tariffs: Mapping[str, Tariff],
    log_to: date,
    assumptions: Assumptions,
    schedules: Sequence[Schedule],
) -> float | None:
    """Mean price of the hours outside the schedule in the year to the log's end; None where no price or no daylight
    is known."""
    flat = tariffs[row.tariff].price_per_kwh
    if flat is not None:
        return float(flat)
    if pd.isna(row.latitude) or pd.isna(row.longitude):
        return None
    end = pd.Timestamp(log_to) + pd.Timedelta(days=1)
    year = pd.DatetimeIndex([end - pd.Timedelta(days=_DAYS), end])
    first_s, last_s = (np.full((1, 1), edge) for edge in utc_seconds_from_local(year, row.time_zone))
    own = [schedule for schedule in schedules if schedule.holds_for(row.site_id, row.kind)]
    schedule = schedule_at(
        row.latitude, row.longitude, row.time_zone,
        float(first_s[0, 0]), float(last_s[0, 0]), assumptions, own,
    )  # fmt: skip
    clocks = TariffClocks(tariffs, float(first_s[0, 0]) - DAY_S, float(last_s[0, 0]) + DAY_S)
    hours = clocks.hours(ENERGY, row.tariff, row.time_zone, schedule.day_hours_between, first_s, last_s)[0, 0]
    per_kwh = [float(period.price or 0) for period in clocks.periods(ENERGY, row.tariff, row.time_zone)]
    priced = hours[:-1].sum()
    return float(hours[:-1] @ np.array(per_kwh) / priced) if priced > 0 else None

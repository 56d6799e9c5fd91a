"""Fixture groups behind each control row, for the days on which that row's control switched them."""

from __future__ import annotations

from demo_data.model import LOG_DAYS, date_of
from demo_data.world import FOREVER, FixtureGroup, Place

FIXTURE_COLUMNS = (
    "fixture_id", "control_id", "account_id", "lamp", "luminaires", "watts_each", "watts_basis",
    "drivers", "inrush_peak_a_each", "inrush_width_us_each", "rated_life_h", "replacement_cost",
    "installed_on", "removed_on",
)  # fmt: skip
RATED_LIFE_H = {"HPS": 24000, "MH": 15000, "CFL": 12000, "LED": 100000}
_EARLIEST_DAY = -4400.0  # older groups are listed from here on: nobody remembers when they were hung
Row = dict[str, object]


class FixtureRows:
    """Builds fixtures.csv. Where controls succeed each other, each row has the group for its own days."""

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def add(self, place: Place, tag: str, begins: float, ends: float) -> None:
        """List the place's groups behind the control row ``tag`` from day ``begins`` to ``ends``."""
        closing = place.site.ends if place.site.closed else FOREVER
        for group in place.fixtures:
            first, last = max(group.begins, begins), min(group.ends, ends, closing)
            if first < last and first < LOG_DAYS:
                self.rows.append(self._fixture(group, tag, first, last, place.installed_day))

    def _fixture(
        self, group: FixtureGroup, tag: str, first: float, last: float, place_installed: float
    ) -> Row:
        led = group.lamp == "LED"
        begins = place_installed if first == -FOREVER else max(first, _EARLIEST_DAY)
        return {
            "fixture_id": f"F{len(self.rows) + 1:05d}",
            "control_id": tag,
            "account_id": group.account,
            "lamp": group.lamp,
            "luminaires": group.luminaires,
            "watts_each": group.watts_each,
            "watts_basis": group.watts_basis,
            "drivers": group.drivers if led else "",
            "inrush_peak_a_each": group.inrush_peak_a or "",
            "inrush_width_us_each": group.inrush_width_us or "",
            "rated_life_h": RATED_LIFE_H[group.lamp],
            "replacement_cost": 240 if led else 22,
            "installed_on": date_of(begins),
            "removed_on": date_of(last) if last < FOREVER else "",
        }

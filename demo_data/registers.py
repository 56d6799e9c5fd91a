"""Tags of controls, and the control register as the district keeps it: kept up at some sites, a snapshot at others."""

from __future__ import annotations

import numpy as np

from demo_data.events import Life
from demo_data.fixture_rows import FixtureRows
from demo_data.model import AS_OF, LOG_DAYS, MODELS, date_of, day_of
from demo_data.world import FOREVER, Place, Site

PREFIX = {
    "photocontrol": "PC",
    "time switch": "TS",
    "timer": "TM",
    "occupancy sensor": "OS",
    "contactor": "CT",
}
CONTROL_COLUMNS = (
    "control_id", "site_id", "position", "kind", "model", "mounting", "switching", "rated_inrush_a",
    "rated_load_a", "voltage", "quantity", "installed_on", "removed_on", "removal_reason", "purchased_on",
    "warranty_years", "operations_per_year", "switched_by", "as_of", "latitude", "longitude",
)  # fmt: skip


def assign_tags(lives: list[Life]) -> None:
    """Number the controls. A kept-up register gives each its own tag; a snapshot's tag belongs to the place."""
    number = 1
    of_place: dict[tuple[int, str], str] = {}
    for life in sorted(lives, key=lambda life: max(life.installed_day, life.place.starts - 1)):
        place = life.place
        own_tag = place.site.keeps_removed and place.quantity == 1
        era = life.model if place.site.keeps_removed else ""
        key = (id(place), f"{life.order}" if own_tag else era)
        if key not in of_place:
            of_place[key] = f"{PREFIX[place.kind]}-{number:05d}"
            number += 1
        life.tag = of_place[key]


Row = dict[str, object]


class Registers:
    """Builds the register rows from what truly happened."""

    def __init__(self, sites: list[Site], lives: list[Life], seed: int) -> None:
        self.sites = sites
        self._rng = np.random.default_rng([seed, 5])
        self._by_place: dict[int, list[Life]] = {}
        for life in lives:
            self._by_place.setdefault(id(life.place), []).append(life)
        self._starts: dict[str, float] = {}  # first day of each tag that succeeded another
        for life in lives:
            if life.order > 1:
                self._starts[life.tag] = min(life.entry_day, self._starts.get(life.tag, FOREVER))
        self._old_tags = 0
        self.controls: list[Row] = []
        self.fixtures = FixtureRows()
        for site in sites:
            for place in site.places:
                self._add_place(place)

    def _add_place(self, place: Place) -> None:
        lives = self._by_place.get(id(place), [])
        keeps = place.site.keeps_removed
        if not keeps and place.starts > day_of(AS_OF):
            return
        if place.quantity > 1:
            rows = self._batch_rows(place, lives)
        elif keeps:
            rows = [self._kept_row(life) for life in lives]
        else:
            rows = [self._snapshot_row(place, lives)]
        self.controls += rows
        if keeps and place.quantity == 1 and self._rng.random() < 0.02:
            self.controls.append(self._predecessor(rows[0], lives[0]))
        for row, begins, ends in zip(rows, *self._reach(rows), strict=True):
            self.fixtures.add(place, str(row["control_id"]), begins, ends)

    def _reach(self, rows: list[Row]) -> tuple[list[float], list[float]]:
        """Days from and to which each row's fixture groups are listed behind it; the first reaches back."""
        begins = [-FOREVER if n == 0 else self._starts[str(row["control_id"])] for n, row in enumerate(rows)]
        return begins, [*begins[1:], FOREVER]

    def _predecessor(self, row: Row, life: Life) -> Row:
        """A control that had left before the log began: it was never under observation."""
        self._old_tags += 1
        tag = f"{PREFIX[life.place.kind]}-{90000 + self._old_tags:05d}"
        installed, removed = date_of(life.installed_day - 1400), date_of(life.installed_day)
        return row | {
            "control_id": tag,
            "installed_on": installed,
            "purchased_on": installed,
            "removed_on": removed,
            "removal_reason": "failed",
            "model": life.place.model,
        }

    def _kept_row(self, life: Life) -> Row:
        reason = {
            "planned": "planned",
            "damage": "damage",
            "changed with lamp": "changed with lamp",
            "site closed": "site closed",
        }
        row = self._row(life, life.place.quantity)
        if life.removed_day is not None and life.removed_day < LOG_DAYS:
            row["removed_on"] = date_of(life.removed_day)
            row["removal_reason"] = reason.get(life.reason, "failed" if self._rng.random() < 0.7 else "")
        if self._rng.random() < 0.03 and life.order == 1:
            row["installed_on"] = row["purchased_on"] = ""
        return row

    def _snapshot_row(self, place: Place, lives: list[Life]) -> Row:
        as_of = float(day_of(AS_OF))
        current = [life for life in lives if life.order == 1 or life.installed_day < as_of][-1]
        row = self._row(current, place.quantity)
        row["as_of"] = AS_OF
        if self._rng.random() < 0.12:
            row["installed_on"] = row["purchased_on"] = ""
        return row

    def _batch_rows(self, place: Place, lives: list[Life]) -> list[Row]:
        """A batch keeps its row when single members are changed; the campaign makes it a new batch."""
        first = lives[0]
        row, campaign = self._row(first, place.quantity), place.campaign_day()
        renewed = next((life for life in lives if life.model != place.model), None)
        if not place.site.keeps_removed:
            row = self._row(renewed or first, place.quantity)
            row["as_of"] = AS_OF
            if campaign is not None and renewed is not None:
                row["installed_on"] = row["purchased_on"] = date_of(campaign)
            return [row]
        if place.site.closed:
            row["removed_on"], row["removal_reason"] = date_of(place.site.ends), "site closed"
        if campaign is None or renewed is None:
            return [row]
        row["removed_on"], row["removal_reason"] = date_of(campaign), "planned"
        second = self._row(renewed, place.quantity)
        second["installed_on"] = second["purchased_on"] = date_of(campaign)
        return [row, second]

    def _row(self, life: Life, quantity: int) -> Row:
        place, spec = life.place, MODELS[life.model]
        installed = date_of(life.installed_day)
        return dict.fromkeys(CONTROL_COLUMNS, "") | {
            "control_id": life.tag,
            "site_id": place.site.site_id,
            "position": f"{place.label_code} {place.label}".strip(),
            "kind": spec.kind,
            "model": life.model,
            "mounting": spec.mounting,
            "switching": spec.switching,
            "rated_inrush_a": spec.rated_inrush_a or "",
            "rated_load_a": spec.rated_load_a,
            "voltage": 120 if spec.kind == "timer" else 277,
            "quantity": quantity,
            "installed_on": installed,
            "purchased_on": date_of(life.installed_day - 40) if life.order == 1 else installed,
            "warranty_years": spec.warranty_years,
            "operations_per_year": spec.operations_per_year,
            "switched_by": self._carrier(life),
            "latitude": "",
            "longitude": "",
        }

    def _carrier(self, life: Life) -> str:
        """Tag of the contactor that carried this pilot's lamps at the end of the pilot's life."""
        if life.place.switched_by is None:
            return ""
        carriers = self._by_place[id(life.place.switched_by)]
        return [c for c in carriers if c.order == 1 or c.installed_day <= life.end_day][-1].tag

"""The district as it stands: sites, places for controls, and the loads behind them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import numpy as np

from demo_data.lives import LoadSpan
from demo_data.model import CAMPAIGN, GROUPS, LOG_DAYS, MODELS, day_of
from demo_data.names import OTHER_SITES, STEMS

FOREVER = 1e6


@dataclass
class Site:
    """A school or other property. Days count from the log's first day."""

    site_id: str
    name: str
    aliases: list[str]
    kind: str
    latitude: float
    longitude: float
    starts: float = 0.0  # first day of its log
    ends: float = float(LOG_DAYS)
    closed: bool = False
    retrofit_day: float | None = None
    photocontrol: str = "photocontrol A"
    keeps_removed: bool = True
    has_automation: bool = False
    closes_monthly: bool = False
    unmetered: bool = False
    campaign: bool = False
    places: list[Place] = field(default_factory=list)


@dataclass
class FixtureGroup:
    """Luminaires behind a place for a span of days."""

    lamp: str
    luminaires: int
    watts_each: float
    watts_basis: str
    begins: float
    ends: float
    account: str
    drivers: int = 0
    inrush_peak_a: float | None = None
    inrush_width_us: float | None = None


@dataclass
class Place:
    """Where a control sits. A batch place holds ``quantity`` alike controls in one register row."""

    site: Site
    label: str
    model: str
    quantity: int
    installed_day: float
    fixtures: list[FixtureGroup]
    starts: float
    switched_by: Place | None = None
    label_code: str = ""

    @property
    def kind(self) -> str:
        """Kind of control."""
        return MODELS[self.model].kind

    def spans(self, model: str, since: float) -> list[LoadSpan]:
        """The loads that a control of ``model`` meets here from day ``since``, one after the other."""
        if self.switched_by is not None:
            return [LoadSpan(-FOREVER, FOREVER, "contactor coil", GROUPS[model, "contactor coil"])]
        return [
            LoadSpan(g.begins, g.ends, g.lamp, GROUPS[model, g.lamp]) for g in self.fixtures if g.ends > since
        ]

    def lamp_on(self, day: float) -> str:
        """Lamp technology behind the place on a day."""
        return self.fixtures_on(day).lamp

    def fixtures_on(self, day: float) -> FixtureGroup:
        """The fixture group lit by this place on a day; a pilot lights its contactor's."""
        groups = self.fixtures if self.switched_by is None else self.switched_by.fixtures
        return next(g for g in groups if g.begins <= day < g.ends)

    def campaign_day(self) -> float | None:
        """Day of the planned replacement, if this place is in the campaign."""
        day = float(day_of(CAMPAIGN)) + 0.4
        relay = self.model in ("photocontrol A", "photocontrol B")
        return day if self.site.campaign and relay and self.lamp_on(day) == "LED" else None


def build_sites(rng: np.random.Generator) -> list[Site]:
    """The district's 45 sites, without their places."""
    sites = [_school(number, stem, rng) for number, stem in enumerate(STEMS)]
    for number, (name, aliases) in enumerate(OTHER_SITES, start=len(STEMS)):
        sites.append(_site(number, name, aliases.split(";"), "other", rng))
    _set_retrofits(sites, rng)
    for number, site in enumerate(sites):
        site.keeps_removed = number % 2 == 0
        site.closes_monthly = number % 6 == 3
        site.has_automation = number % 9 == 4
        site.unmetered = number % 5 == 2
    _set_exceptions(sites)
    return sites


def _school(number: int, stem: str, rng: np.random.Generator) -> Site:
    level = ("High School", "Middle School", "Elementary School")[
        0 if number < 6 else 1 if number < 14 else 2
    ]
    short = {"High School": "HS", "Middle School": "MS", "Elementary School": "Elem"}[level]
    first = stem.split()[0]
    aliases = [f"{stem} {short}", first if " " in stem else f"{stem} School"]
    return _site(number, f"{stem} {level}", aliases, level.split()[0].lower(), rng)


def _site(number: int, name: str, aliases: list[str], kind: str, rng: np.random.Generator) -> Site:
    latitude, longitude = 39.6 + rng.uniform(-0.18, 0.18), -102.9 + rng.uniform(-0.25, 0.25)
    return Site(
        f"Q{101 + number}", name, aliases, kind, round(float(latitude), 5), round(float(longitude), 5)
    )


def _set_retrofits(sites: list[Site], rng: np.random.Generator) -> None:
    """LED by summers and winters, 2019 to 2024; some before the log, some never."""
    for number, site in enumerate(sites):
        turn = number % 9
        if turn == 7:
            site.retrofit_day = -float(rng.integers(200, 700))
        elif turn == 3:
            site.retrofit_day = float(rng.integers(350, 900))
        elif turn != 8:
            site.retrofit_day = float(rng.integers(500, 2300))
        site.photocontrol = ("A", "B", "A", "C", "B", "B", "A", "A", "C")[turn]
        site.photocontrol = "photocontrol " + site.photocontrol


def _set_exceptions(sites: list[Site]) -> None:
    sites[11].starts, sites[29].starts = float(day_of(date(2019, 7, 1))), float(day_of(date(2020, 1, 1)))
    sites[22].ends, sites[22].closed = float(day_of(date(2023, 7, 1))), True
    sites[22].retrofit_day = float(day_of(date(2020, 7, 1)))
    candidates = [s for s in sites if s.retrofit_day is not None and s.retrofit_day < 1450 and not s.closed]
    chosen = [s for s in candidates if s.photocontrol == "photocontrol A"]
    for site in [s for s in chosen if s.keeps_removed][:5] + [s for s in chosen if not s.keeps_removed][:1]:
        site.campaign = True

"""What portfolio.toml may say: every setting with its unit, default and bounds.

An unknown key is a fault, never ignored: a misspelt assumption that silently falls back to a
default is worse than none. All faults of the page are reported together.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    Field,
    ValidationError,
    field_validator,
    model_serializer,
    model_validator,
)

from pipeline.day_settings import DetectionDelay, Schedule
from pipeline.emission_settings import FactorsByYear, LossesByYear
from pipeline.energy.emissions import emission_factors
from pipeline.faults import InputFaults
from pipeline.page_model import Page
from pipeline.pages import read_toml
from pipeline.setting_terms import Currency, Kind, TimeZone
from pipeline.settings_faults import fault_of
from pipeline.tariffs.faults import tariff_faults
from pipeline.tariffs.form import Tariff

Days = Annotated[float, Field(ge=0, le=36_525)]
Metres = Annotated[float, Field(gt=0, le=500)]
Money = Annotated[Decimal, Field(ge=0, le=Decimal(10_000_000))]
Share = Annotated[float, Field(ge=0, le=1)]


class Log(Page):
    """The span in which calls were kept; empty ends come from the data."""

    start: date | None = None
    end: date | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Log:
        if self.start and self.end and self.start >= self.end:
            raise ValueError(f"start {self.start} is not before end {self.end}")
        return self


class Privacy(Page):
    """What is kept of people who appear in call text."""

    mask_free_text: bool = True
    keep_technician_initials: bool = False


class Assumptions(Page):
    """Everything that is assumed rather than measured, with its unit in its name."""

    detection_delay: Literal["assumed", "estimated"] = "assumed"
    detection_delay_days: Days = 14.0
    detection_delay_spread: Annotated[float, Field(ge=1, le=20)] = 2.5
    onset_cap_days: Days = 60.0
    stale_after_days: Days = 90.0
    same_fault_days: Days = 30.0
    callback_days: Days = 30.0
    place_within_m: Metres = 20.0
    same_place_within_m: Metres = 8.0
    control_failed_threshold: Share = 0.5
    verdict_prior_cases: Annotated[float, Field(gt=0, le=100_000)] = 10.0
    lights_on_after_sunset_min: Annotated[float, Field(ge=-120, le=240)] = 15.0
    lights_off_before_sunrise_min: Annotated[float, Field(ge=-120, le=240)] = 15.0
    ballast_factor_hid: Annotated[float, Field(ge=1, le=2)] = 1.2
    confidence: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    few_failures: Annotated[int, Field(ge=1, le=100)] = 5
    shape_when_few: Annotated[float, Field(gt=0, le=10)] = 2.0
    spares_service_level: Annotated[float, Field(ge=0.5, lt=1)] = 0.95
    source_impedance_mohm: Annotated[float, Field(ge=0, le=10_000)] = 430.0
    campaign_least_controls: Annotated[int, Field(ge=2, le=100_000)] = 10
    campaign_within_days: Annotated[float, Field(gt=0, le=730)] = 60.0
    campaign_selection_days: Annotated[float, Field(ge=0, le=36_525)] = 730.0


class Meters(Page):
    """How day burning is looked for in interval readings."""

    least_step_kw: Annotated[float, Field(gt=0, le=1000)] = 0.05
    least_days: Annotated[int, Field(ge=2, le=60)] = 2
    margin_min: Annotated[float, Field(ge=0, le=180)] = 45.0
    match_days: Annotated[float, Field(ge=0, le=30)] = 3.0
    absurd_times: Annotated[float, Field(ge=2, le=1000)] = 10.0


class Prices(Page):
    """What work and parts cost, in the portfolio's currency."""

    repair_visit_cost: Money = Decimal("160")
    planned_replacement_labour_cost: Money = Decimal("55")
    control_cost: dict[Kind, Money] = Field(default_factory=dict)
    rated_control_cost: dict[Kind, Money] = Field(default_factory=dict)


class Payback(Page):
    """How the replacement case is reckoned."""

    years: Annotated[int, Field(ge=1, le=40)] = 15
    discount_rate_percent: Annotated[float, Field(gt=-5, le=30)] = 3.0
    rated_life_ratio: Annotated[float, Field(gt=0, le=20)] = 2.0


class NamedCampaign(Page):
    """A planned replacement of controls that the reader wants judged; without sites it is all of them."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    sites: tuple[Annotated[str, Field(min_length=1)], ...] = ()
    first: Annotated[date, Field(alias="from")]
    last: Annotated[date, Field(alias="to")]

    @model_validator(mode="after")
    def _in_order(self) -> NamedCampaign:
        if self.first > self.last:
            raise ValueError(f"from {self.first} is after to {self.last}")
        return self

    @model_serializer
    def _as_written(self) -> dict[str, object]:
        first, last = self.first.isoformat(), self.last.isoformat()
        return {"name": self.name, "sites": list(self.sites), "from": first, "to": last}


class Settings(Page):
    """portfolio.toml, whole."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    currency: Currency
    time_zone: TimeZone
    fiscal_year_start: Annotated[int, Field(ge=1, le=12)] = 1
    default_grid_region: str | None = None
    emission_edition: str | None = None
    log: Log = Log()
    privacy: Privacy = Privacy()
    assumptions: Assumptions = Assumptions()
    meters: Meters = Meters()
    detection_delays: dict[str, DetectionDelay] = Field(default_factory=dict)
    schedules: dict[str, Schedule] = Field(default_factory=dict)
    prices: Prices = Prices()
    payback: Payback = Payback()
    tariffs: dict[str, Tariff] = Field(default_factory=dict)
    default_tariff: str | None = None
    emissions: dict[str, FactorsByYear] = Field(default_factory=dict)
    supplier_emissions: dict[str, FactorsByYear] = Field(default_factory=dict)
    grid_losses: dict[str, LossesByYear] = Field(default_factory=dict)
    campaigns: tuple[NamedCampaign, ...] = ()

    @model_validator(mode="after")
    def _campaigns_have_names_of_their_own(self) -> Settings:
        names = [campaign.name for campaign in self.campaigns]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two [[campaigns]] are named '{twice[0]}': give each a name of its own")
        return self

    @field_validator("emission_edition")
    @classmethod
    def _edition_is_published(cls, edition: str | None) -> str | None:
        known = list(dict.fromkeys(factor.edition for factor in emission_factors()))
        if edition is not None and edition.strip().lower() not in [name.lower() for name in known]:
            raise ValueError(f"'{edition}' is not an edition that is shipped ({', '.join(known)})")
        return edition

    @model_validator(mode="after")
    def _tariff_exists(self) -> Settings:
        if self.default_tariff is not None and self.default_tariff not in self.tariffs:
            known = ", ".join(sorted(self.tariffs)) or "none"
            raise ValueError(f"default_tariff '{self.default_tariff}' is not among [tariffs] ({known})")
        return self


def read_settings(path: Path) -> Settings:
    """Read and check portfolio.toml; raises InputFaults with every fault on the page."""
    try:
        content = read_toml(path)
    except FileNotFoundError:
        raise InputFaults.one(
            path.name,
            f"not found in '{path.parent}'.",
            "Is this a portfolio folder? `dayburn new DIR` makes one.",
        ) from None
    try:
        settings, faults = Settings.model_validate(content), []
    except ValidationError as error:
        settings, faults = None, [fault_of(path.name, item, Settings) for item in error.errors()]
    faults += tariff_faults(content.get("tariffs"))
    if settings is None or faults:
        raise InputFaults(faults)
    return settings

"""How a tariff is written in portfolio.toml: a flat price, or prices by season, day and hour, in dated versions."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from pipeline.clock_spans import check_hours
from pipeline.day_sets import WEEKDAYS, check_days
from pipeline.page_model import Page

HOLIDAY = "holiday"
DAY_KINDS = (*WEEKDAYS, HOLIDAY)
"""Kinds of day in the order of their numbers; a holiday is no weekday besides."""
ALL_HOURS = "all hours"
"""The name of the one period of a flat price."""

PricePerKwh = Annotated[Decimal, Field(ge=0, le=Decimal(1000))]
DayKind = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun", "holiday"]
HoursText = Annotated[str, AfterValidator(check_hours)]
HolidayText = Annotated[str, AfterValidator(check_days)]


def _season(text: str) -> str:
    check_days(text)
    if text.strip()[4:5] == "-":
        raise ValueError(f"'{text}' holds for one year only; a season comes every year: '06-01 to 09-30'")
    return text


SeasonText = Annotated[str, AfterValidator(_season)]


class Times(Page):
    """Hours of the local clock on some days; what is left out holds for all."""

    days: tuple[SeasonText, ...] = ()
    weekdays: tuple[DayKind, ...] = ()
    hours: tuple[HoursText, ...] = ()


class TariffPeriod(Times):
    """Hours of one price. ``other_times``: all hours that no other period of its version names."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    price_per_kwh: PricePerKwh
    other_times: bool = False


class DemandCharge(Times):
    """A price of a month's highest load within these times."""

    price_per_kw_month: Annotated[Decimal, Field(ge=0, le=Decimal(100_000))]


class TariffVersion(Page):
    """The prices in force from ``since`` (local midnight; left out: from ever) until the next version's."""

    since: date | None = None
    price_per_kwh: PricePerKwh | None = None
    periods: tuple[TariffPeriod, ...] = ()
    demand: DemandCharge | None = None


class Tariff(TariffVersion):
    """A tariff: one version written at the top, or several under ``versions``.

    ``taxes_included``: whether its prices hold taxes; None: not said. ``tax_percent``: the rate, of the price
    without taxes. ``holidays``: days that are no weekday for it.
    """

    versions: tuple[TariffVersion, ...] = ()
    holidays: tuple[HolidayText, ...] = ()
    taxes_included: bool | None = None
    tax_percent: Annotated[float, Field(ge=0, le=100)] | None = None

    def dated(self) -> tuple[TariffVersion, ...]:
        """Its versions, oldest first."""
        versions = self.versions or (self,)
        return tuple(sorted(versions, key=lambda version: version.since or date.min))

    def as_of(self, day: date) -> Tariff:
        """The version in force on a day as a tariff of its own, from ever; without prices where none is."""
        known = [version for version in self.dated() if version.since is None or version.since <= day]
        last = known[-1] if known else TariffVersion()
        prices = {name: getattr(last, name) for name in TariffVersion.model_fields}
        return self.model_copy(update=prices | {"since": None, "versions": ()})

    def periods_of(self, version: TariffVersion) -> tuple[TariffPeriod, ...]:
        """The periods of a version, of which a flat price has one; none where it gives no price."""
        if version.price_per_kwh is None:
            return version.periods
        return (TariffPeriod(name=ALL_HOURS, price_per_kwh=version.price_per_kwh, other_times=True),)

"""Everything that is wrong with the tariffs of a settings page, all of it at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from pipeline.faults import Fault
from pipeline.tariffs.coverage import coverage_faults
from pipeline.tariffs.form import HOLIDAY, Tariff, TariffPeriod, TariffVersion

FILE = "portfolio.toml"


def tariff_faults(page: object) -> list[Fault]:
    """Faults of the section [tariffs] as read, of those tariffs whose values can stand (the form names the others)."""
    faults: list[Fault] = []
    for name, raw in page.items() if isinstance(page, Mapping) else ():
        tariff = _read(raw)
        if tariff is not None:
            faults += faults_of(str(name), tariff)
    return faults


def faults_of(name: str, tariff: Tariff) -> list[Fault]:
    """What is wrong with one tariff: versions, prices, taxes, and hours priced twice or not at all."""
    where = f"{FILE}, setting tariffs.{name}"
    faults = [Fault(where, problem, remedy) for problem, remedy in _whole(tariff)]
    for number, version in enumerate(tariff.versions or (tariff,)):
        place = f"{where}.versions.{number}" if tariff.versions else where
        faults += [Fault(place, problem, remedy) for problem, remedy in _version(tariff, version)]
    return faults


def _read(raw: Any) -> Tariff | None:
    try:
        return Tariff.model_validate(raw)
    except ValidationError:
        return None


def _whole(tariff: Tariff) -> Iterator[tuple[str, str]]:
    own = tariff.price_per_kwh is not None or tariff.periods or tariff.demand
    if tariff.versions and (own or tariff.since):
        yield "gives a price, periods, demand or since beside its versions.", "Move them all under versions."
    since = [version.since for version in tariff.versions]
    for day in sorted({str(one) for one in since if one and since.count(one) > 1}):
        yield f"has two versions since {day}.", "Give each a day of its own, or join them."
    if since.count(None) > 1:
        yield "has two versions without since.", "Only the oldest may leave it out."
    timed = any(version.periods for version in tariff.dated())
    if tariff.taxes_included is None and (timed or tariff.versions or tariff.tax_percent is not None):
        yield "does not say whether its prices hold taxes.", "Add taxes_included = true or false."


def _version(tariff: Tariff, version: TariffVersion) -> Iterator[tuple[str, str]]:
    if tariff.versions and version is tariff:
        return
    periods = version.periods
    if version.price_per_kwh is not None and periods:
        yield "gives both price_per_kwh and periods.", "Keep one: a flat price, or prices by time."
    elif version.price_per_kwh is None and not periods:
        yield "gives no price.", "Add price_per_kwh, or periods with theirs."
    yield from _periods(periods)
    if not tariff.holidays and any(HOLIDAY in times.weekdays for times in _timed(version)):
        yield "prices holidays, but the tariff lists none.", 'Add holidays = ["01-01", ...] to it.'
    if periods:
        remedy = "Change days, weekdays or hours; one period may have other_times = true."
        yield from ((f"{problem}.", remedy) for problem in coverage_faults(tariff, periods))


def _periods(periods: tuple[TariffPeriod, ...]) -> Iterator[tuple[str, str]]:
    if sum(period.other_times for period in periods) > 1:
        yield "has two periods of other_times.", "Keep one."
    for period in periods:
        if period.other_times and (period.days or period.weekdays or period.hours):
            yield (
                f"period '{period.name}' has other_times and times of its own.",
                "Keep other_times, or days, weekdays and hours.",
            )
    for name in dict.fromkeys(period.name for period in periods):
        if len({period.price_per_kwh for period in periods if period.name == name}) > 1:
            yield f"period '{name}' has two prices.", "Give each price a name of its own."


def _timed(version: TariffVersion) -> list[Any]:
    return [*version.periods, *([version.demand] if version.demand else [])]

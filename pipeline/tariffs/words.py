"""Tariffs in words: when a period holds, and whether its prices hold taxes."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.tariffs.form import Tariff, TariffVersion, Times

ALL_TIMES, OTHER_TIMES = "at all times", "at all other times"


def when_text(tariff: Tariff, version: TariffVersion, period: str) -> str:
    """The times of a period: 'mon, tue 12:00 to 18:00 (06-01 to 09-30)'; lines of one name are parted by semicolons."""
    lines = [line for line in tariff.periods_of(version) if line.name == period]
    if len(tariff.periods_of(version)) == 1 and lines and lines[0].other_times:
        return ALL_TIMES
    return "; ".join(OTHER_TIMES if line.other_times else times_text(line) for line in lines)


def times_text(times: Times) -> str:
    """Kinds of day, hours and season, as far as they are limited."""
    parts = [", ".join(times.weekdays), ", ".join(times.hours)]
    if times.days:
        parts.append(f"({', '.join(times.days)})")
    return " ".join(part for part in parts if part) or ALL_TIMES


def taxes_text(tariff: Tariff) -> str:
    """What its prices hold: with taxes, without, or not said."""
    rate = "" if tariff.tax_percent is None else f" ({tariff.tax_percent:g} %)"
    if tariff.taxes_included is None:
        return "not said whether taxes are in"
    return f"taxes in{rate}" if tariff.taxes_included else f"taxes not in{rate}"


def taxes_of_all(tariffs: Mapping[str, Tariff]) -> str:
    """The same of several tariffs as one sentence; empty without a tariff."""
    by_text: dict[str, list[str]] = {}
    for name, tariff in tariffs.items():
        by_text.setdefault(_taxes_clause(tariff), []).append(name)
    if len(by_text) == 1:
        return f"{_capital(next(iter(by_text)))}."
    told = "; ".join(f"{text} at {', '.join(names)}" for text, names in by_text.items())
    return f"{_capital(told)}." if by_text else ""


def _taxes_clause(tariff: Tariff) -> str:
    rate = "" if tariff.tax_percent is None else f" of {tariff.tax_percent:g} %"
    if tariff.taxes_included is None:
        return "it is not said whether prices hold taxes"
    return f"prices hold taxes{rate}" if tariff.taxes_included else f"prices are without taxes{rate}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def tax_share(tariff: Tariff) -> float | None:
    """Taxes as a share of the cost by its prices: on top of it, or within it; None where no rate is given."""
    if tariff.tax_percent is None or tariff.taxes_included is None:
        return None
    rate = tariff.tax_percent / 100
    return rate / (1 + rate) if tariff.taxes_included else rate

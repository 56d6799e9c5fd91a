"""How numbers are written for people: in the commands, the documents and on screen alike.

Thousands are parted by a narrow no-break space (U+202F), limits by an en dash (by "to" where one is negative),
estimates carry three significant digits and counts are whole.
"""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from decimal import Decimal

from pipeline.numerals import MINUS, THIN_SPACE, count_text

__all__ = [
    "EN_DASH", "MINUS", "NOTHING", "NO_BREAK_SPACE", "THIN_SPACE", "Number", "chance_text", "count_text", "date_text",
    "estimate_text", "is_known", "money_amount_text", "money_text", "number_text", "percent_text", "quantity_text",
    "range_text", "span_text",
]  # fmt: skip

NO_BREAK_SPACE = "\u00a0"
EN_DASH = "\u2013"
NOTHING = "not available"

Number = int | float | Decimal

_MONEY = re.compile(r"^(?P<code>[A-Z]{3})(?:/(?P<per>\w+))?$")
_SIGNIFICANT_DIGITS = 3
_LEAST_CHANCE = 0.001
_CENTS_BELOW = 100  # money this small is written to the cent


def is_known(value: Number | None) -> bool:
    """Whether there is a finite number to write."""
    return value is not None and math.isfinite(value)


def estimate_text(value: Number) -> str:
    """An estimate to three significant digits: 0.0123, 4.56, 12 300."""
    number = float(value)
    if number == 0:
        return "0"
    rounded = float(f"{number:.{_SIGNIFICANT_DIGITS - 1}e}")
    places = _SIGNIFICANT_DIGITS - 1 - math.floor(math.log10(abs(rounded)))
    return _grouped(rounded, max(0, places))


def money_amount_text(value: Number) -> str:
    """An amount without its currency: to the cent below 100, else to three significant digits."""
    return _grouped(float(value), 2) if 0 < abs(float(value)) < _CENTS_BELOW else estimate_text(value)


def money_text(value: Number | None, currency: str) -> str:
    """An amount with its ISO 4217 code before it: USD 12 300."""
    return quantity_text(value, currency)


def percent_text(share: Number | None) -> str:
    """A share (0 to 1) as a percentage: 12.3 %."""
    if share is None or not is_known(share):
        return NOTHING
    return f"{_trimmed(estimate_text(float(share) * 100))}{NO_BREAK_SPACE}%"


def chance_text(p_value: Number | None) -> str:
    """A p-value: 0.0123; below 0.001 its size says nothing more."""
    if p_value is None or not is_known(p_value):
        return NOTHING
    return "below 0.001" if p_value < _LEAST_CHANCE else estimate_text(p_value)


def date_text(day: date | datetime | None) -> str:
    """A day that no reader can take for another: 5 Mar 2024."""
    return NOTHING if day is None or day != day else f"{day.day} {day:%b %Y}"  # NaT is unequal to itself


def number_text(value: Number | None, unit: str = "") -> str:
    """One number by its nature: an int is a count, money follows its rule, anything else is an estimate."""
    if value is None or not is_known(value):
        return NOTHING
    if _MONEY.match(unit):
        return money_amount_text(value)
    return count_text(value) if isinstance(value, int) else estimate_text(value)


def span_text(low: str, high: str) -> str:
    """Two written ends: 9.1–12.4; parted by a word where a minus sign beside the dash could be misread."""
    return f"{low} to {high}" if MINUS in low + high else f"{low}{EN_DASH}{high}"


def range_text(low: Number | None, high: Number | None, unit: str = "") -> str:
    """Limits: 9.1–12.4; one that is missing is said in words. Empty when there is neither."""
    known_low, known_high = low is not None and is_known(low), high is not None and is_known(high)
    if known_low and known_high:
        return span_text(number_text(low, unit), number_text(high, unit))
    if known_low:
        return f"at least {number_text(low, unit)}"
    return f"at most {number_text(high, unit)}" if known_high else ""


def quantity_text(
    value: Number | None, unit: str, low: Number | None = None, high: Number | None = None
) -> str:
    """A number with limits and unit: 12.3 (9.1–14.2) kWh, USD 1 230 (900–1 400) per day, 1 control."""
    limits = range_text(low, high, unit)
    if value is None or not is_known(value):
        if not limits:
            return NOTHING
        return _with_unit(limits, unit, one=False)
    written = number_text(value, unit) + (f" ({limits})" if limits else "")
    return _with_unit(written, unit, one=value == 1 and not limits)


def _with_unit(written: str, unit: str, one: bool) -> str:
    money = _MONEY.match(unit)
    if money:
        per = f" per {money['per']}" if money["per"] else ""
        return f"{money['code']}{NO_BREAK_SPACE}{written}{per}"
    if not unit:
        return written
    return f"{written}{NO_BREAK_SPACE}{unit.removesuffix('s') if one else unit}"


def _grouped(number: float, places: int) -> str:
    return f"{number:,.{places}f}".replace(",", THIN_SPACE).replace("-", MINUS)


def _trimmed(written: str) -> str:
    """Without zeros that say nothing: 95.0 -> 95."""
    return written.rstrip("0").rstrip(".") if "." in written else written

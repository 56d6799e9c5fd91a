"""What may stand in each column of the registers: one reader per column, which refuses what does not fit."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from pipeline.keys import LONGEST_NAME
from pipeline.numerals import count_text
from pipeline.setting_terms import KINDS

SWITCHING = ("zero-cross", "plain relay", "solid state", "unknown")
WATTS_BASIS = ("input", "lamp", "unknown")

Cell = Callable[[str], Any]
_SHOWN = 60


def _text(cell: str) -> str:
    return cell


def _name(cell: str) -> str:
    if len(cell) > LONGEST_NAME:
        raise ValueError(f"has {count_text(len(cell))} characters; a name has at most {LONGEST_NAME}")
    return cell


def shown(cell: str) -> str:
    """A cell as a message quotes it: a long one by its beginning."""
    return f"'{cell}'" if len(cell) <= _SHOWN else f"'{cell[:_SHOWN]}…'"


def _texts(cell: str) -> list[str]:
    return [part.strip() for part in cell.split(";") if part.strip()]


def read_day(cell: str) -> date:
    """An ISO date between 1900 and 2200; raises ValueError with what is wrong."""
    try:
        day = datetime.strptime(cell, "%Y-%m-%d").date()
    except ValueError:
        raise ValueError("is not a date written YYYY-MM-DD") from None
    if not 1900 <= day.year <= 2200:
        raise ValueError("is not a date between 1900 and 2200")
    return day


def _number(low: float, high: float) -> Cell:
    def read(cell: str) -> float:
        try:
            number = float(cell)
        except ValueError:
            raise ValueError("is not a number") from None
        if not low <= number <= high:
            raise ValueError(f"is not between {_bound(low)} and {_bound(high)}")
        return number

    return read


def _bound(limit: float) -> str:
    """A limit as it may be typed: thousands parted, but a plain minus."""
    sign = "-" if limit < 0 else ""
    return sign + (count_text(int(abs(limit))) if float(limit).is_integer() else f"{abs(limit):g}")


def _whole(low: int, high: int) -> Cell:
    def read(cell: str) -> int:
        if not cell.isascii() or not cell.isdigit() or not low <= int(cell) <= high:
            raise ValueError(f"is not a whole number from {count_text(low)} to {count_text(high)}")
        return int(cell)

    return read


def _money(cell: str) -> Decimal:
    try:
        amount = Decimal(cell)
    except InvalidOperation:
        raise ValueError("is not an amount") from None
    if not (amount.is_finite() and 0 <= amount <= 10_000_000):
        raise ValueError(f"is not between 0 and {count_text(10_000_000)}")
    return amount


def _flag(cell: str) -> bool:
    known = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
    if cell.lower() not in known:
        raise ValueError("is not yes or no")
    return known[cell.lower()]


def _one_of(*allowed: str) -> Cell:
    def read(cell: str) -> str:
        if cell.lower() not in allowed:
            raise ValueError("is not one of " + ", ".join(allowed))
        return cell.lower()

    return read


# Wider than the Earth, and than any lamp draws: what cannot be true is set aside and told (register_doubts.py), so that
# one slip does not stop a build.
_LATITUDE = _LONGITUDE = _number(-1_000_000_000, 1_000_000_000)
_WATTS = _number(0, 100_000_000)

COLUMNS: dict[str, dict[str, Cell]] = {
    "sites": {
        "site_id": _name, "name": _name, "aliases": _texts, "latitude": _LATITUDE, "longitude": _LONGITUDE,
        "time_zone": _name, "grid_region": _name, "account_id": _name,
        "observed_from": read_day, "observed_to": read_day,
    },
    "accounts": {"account_id": _name, "tariff": _name, "metered": _flag},
    "controls": {
        "control_id": _name, "site_id": _name, "position": _name, "kind": _one_of(*KINDS), "model": _name,
        "mounting": _name, "switching": _one_of(*SWITCHING), "rated_inrush_a": _number(0, 100_000),
        "rated_load_a": _number(0, 10_000), "voltage": _number(0, 1000), "quantity": _whole(1, 100_000),
        "installed_on": read_day, "removed_on": read_day, "removal_reason": _text, "purchased_on": read_day,
        "warranty_years": _number(0, 50), "operations_per_year": _number(0, 1_000_000), "switched_by": _name,
        "as_of": read_day, "latitude": _LATITUDE, "longitude": _LONGITUDE,
    },
    "fixtures": {
        "fixture_id": _name, "control_id": _name, "account_id": _name, "lamp": _name,
        "luminaires": _number(0, 100_000), "watts_each": _WATTS, "watts_basis": _one_of(*WATTS_BASIS),
        "drivers": _number(0, 100_000), "inrush_peak_a_each": _number(0, 10_000),
        "inrush_width_us_each": _number(0, 1_000_000), "rated_life_h": _number(0, 500_000),
        "replacement_cost": _money, "installed_on": read_day, "removed_on": read_day,
    },
}  # fmt: skip
"""By register and column, the reader of a cell: raises ValueError with what is wrong with it."""
KEYS = {"sites": "site_id", "accounts": "account_id", "controls": "control_id", "fixtures": "fixture_id"}
NEEDED = {
    "sites": ("site_id",),
    "accounts": ("account_id",),
    "controls": ("control_id", "site_id"),
    "fixtures": ("fixture_id", "control_id", "luminaires"),
}

"""The terms in which settings name things: time zones, currencies and kinds of control."""

from __future__ import annotations

import re
from functools import cache
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def is_known_zone(name: str) -> bool:
    """Whether a name is an IANA time zone."""
    return name in _zones()


def is_currency_code(code: str) -> bool:
    """Whether a text has the form of an ISO 4217 alphabetic code: three capital letters from A to Z."""
    return re.fullmatch("[A-Z]{3}", code) is not None


def _currency_code(code: str) -> str:
    if not is_currency_code(code):
        raise ValueError(f"'{code}' is not an ISO 4217 code: three capital letters such as 'USD' or 'EUR'")
    return code


def _known_zone(name: str) -> str:
    if not is_known_zone(name):
        raise ValueError(f"'{name}' is not an IANA time zone such as 'America/Denver' or 'Europe/Madrid'")
    return name


TimeZone = Annotated[str, AfterValidator(_known_zone)]
Currency = Annotated[str, AfterValidator(_currency_code)]

KINDS = ("photocontrol", "time switch", "timer", "occupancy sensor", "contactor")
Kind = Literal["photocontrol", "time switch", "timer", "occupancy sensor", "contactor"]

"""What a build knows of itself: name, currency, the log's span and the settings in force."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from pipeline.settings import Assumptions
from pipeline.store import Store


@dataclass(frozen=True)
class Facts:
    """build_info of a built database; the defaults stand for a database without one."""

    build_id: str = ""
    dayburn_version: str = ""
    portfolio_name: str = ""
    currency: str = ""
    fiscal_year_start: int = 1
    log_from: date | None = None
    log_to: date | None = None
    settings: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def assumptions(self) -> Assumptions:
        """[assumptions] as they were in force."""
        return Assumptions.model_validate(self.settings.get("assumptions", {}))

    @property
    def confidence(self) -> float:
        """Confidence of limits, 0 to 1."""
        return self.assumptions.confidence

    @property
    def money(self) -> str:
        """The currency code as a unit; 'currency' where none is known."""
        return self.currency or "currency"


def facts(store: Store) -> Facts:
    """The facts of a built database."""
    found = store.rows(
        "SELECT build_id, dayburn_version, portfolio_name, currency, fiscal_year_start, log_from, log_to, settings"
        " FROM build_info"
    )
    if not found:
        return Facts()
    build_id, version, name, currency, month, log_from, log_to, settings = found[0]
    return Facts(build_id, version, name, currency, month, log_from, log_to, json.loads(settings or "{}"))


def twelve_months_to(last: date) -> tuple[date, date]:
    """First and last day of the twelve months that end on ``last``."""
    try:
        year_before = last.replace(year=last.year - 1)
    except ValueError:  # 29 February
        year_before = last.replace(year=last.year - 1, day=28)
    return year_before + timedelta(days=1), last

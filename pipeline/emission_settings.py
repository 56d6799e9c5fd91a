"""Emission factors and grid losses of the user's own, as portfolio.toml gives them: each with its year and source."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BeforeValidator, Field

from pipeline.page_model import Page


class Yearly(Page):
    """A value that holds for a calendar year, and who published it."""

    year: Annotated[int, Field(ge=1990, le=2100)]
    source: Annotated[str, Field(min_length=3)]


class EmissionFactor(Yearly):
    """A factor of the user's own: of a grid region (location-based), or of an account's supplier (market-based)."""

    kg_co2e_per_kwh: Annotated[float, Field(ge=0, le=3)]


class GridLoss(Yearly):
    """The share of the energy fed into a region's grid that is lost before it is used."""

    loss_percent: Annotated[float, Field(ge=0, lt=50)]


Y = TypeVar("Y", bound=Yearly)


def _as_list(given: Any) -> Any:
    """One year may be written as a section of its own: [emissions.RMPA] for [[emissions.RMPA]]."""
    return [given] if isinstance(given, dict) else given


def _once_a_year(given: Sequence[Y]) -> Sequence[Y]:
    twice = sorted(year for year, times in Counter(one.year for one in given).items() if times > 1)
    if twice:
        raise ValueError(f"gives {twice[0]} twice: keep one")
    return given


FactorsByYear = Annotated[tuple[EmissionFactor, ...], BeforeValidator(_as_list), AfterValidator(_once_a_year)]
LossesByYear = Annotated[tuple[GridLoss, ...], BeforeValidator(_as_list), AfterValidator(_once_a_year)]

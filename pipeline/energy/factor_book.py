"""The emission factor in force for a place or an account in a year: the only place where one is chosen.

Location-based: the portfolio's own factors of the region, else the published ones. A year without a factor takes the
nearest earlier edition, and says so; where none is earlier, the first there is, and says that. Market-based: a
supplier's factor holds for its own year alone, as the instrument behind it does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.emission_settings import EmissionFactor as OwnFactor
from pipeline.emission_settings import GridLoss, Yearly
from pipeline.energy.emissions import PublishedValue, emission_factor, emission_factors, grid_losses
from pipeline.settings import Settings

OWN = "portfolio.toml"
KG_PER_KWH, PERCENT = "kg CO2e/kWh", "%"


@dataclass(frozen=True)
class InForce:
    """A value in force in a year, of which year and edition it is, and ``stands_in``: why not the year's own."""

    value: float
    unit: str
    factor_year: int
    edition: str
    source: str
    stands_in: str = ""


class FactorBook:
    """The factors of a portfolio's settings and of the published tables."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings

    def location(self, region: str, year: int) -> InForce | None:
        """The location-based factor of a grid region; None where neither the settings nor the tables have one."""
        own = self._settings.emissions.get(region, ())
        chosen, said = _nearest(own or self._published(region), year)
        return None if chosen is None else _in_force(chosen, said)

    def supplier(self, account_id: str, year: int) -> InForce | None:
        """The market-based factor of an account's supplier for this very year."""
        own = self._settings.supplier_emissions.get(account_id, ())
        return next((_in_force(factor, "") for factor in own if factor.year == year), None)

    def loss(self, region: str, year: int) -> InForce | None:
        """The rate of loss of a region's grid, of what is fed in [%]; None where none is given or published."""
        own = self._settings.grid_losses.get(region, ())
        published = [loss for loss in grid_losses() if _same(loss.region, region)]
        chosen, said = _nearest(own or published, year)
        return None if chosen is None else _in_force(chosen, said)

    def why_none(self, region: str) -> str:
        """Why a region has no location-based factor, and what is known instead."""
        edition = self._settings.emission_edition
        if edition is not None:
            try:
                emission_factor(edition, region)
            except ValueError as error:
                return str(error)
        regions = ", ".join(sorted({factor.region for factor in emission_factors()}))
        return (
            f"no emission factor for grid region '{region}' in any edition; known regions: {regions}. "
            "A factor of your own can be given in the settings, with its year and source"
        )

    def _published(self, region: str) -> list[PublishedValue]:
        """Of the one edition that the settings name, else of all."""
        edition = self._settings.emission_edition
        return [
            factor
            for factor in emission_factors()
            if _same(factor.region, region) and (edition is None or _same(factor.edition, edition))
        ]


def _nearest(
    known: Iterable[Yearly | PublishedValue], year: int
) -> tuple[Yearly | PublishedValue | None, str]:
    """The value of a year, else of the nearest earlier one, else the first; and what is to be said of it."""
    by_year = sorted(known, key=lambda one: one.year)
    if not by_year:
        return None, ""
    earlier = [one for one in by_year if one.year <= year]
    chosen = earlier[-1] if earlier else by_year[0]
    if chosen.year == year:
        return chosen, ""
    why = "the nearest earlier one" if earlier else "none is earlier, so the first"
    return chosen, f"no value of {year}: that of {chosen.year} stands in ({why})"


def _in_force(chosen: Yearly | PublishedValue, said: str) -> InForce:
    if isinstance(chosen, PublishedValue):
        unit = PERCENT if chosen.unit == PERCENT else KG_PER_KWH
        source = f"{chosen.source} ({chosen.certainty})"
        return InForce(chosen.in_our_unit, unit, chosen.year, chosen.edition, source, said)
    if isinstance(chosen, GridLoss):
        return InForce(chosen.loss_percent, PERCENT, chosen.year, OWN, chosen.source, said)
    assert isinstance(chosen, OwnFactor)
    return InForce(chosen.kg_co2e_per_kwh, KG_PER_KWH, chosen.year, OWN, chosen.source, said)


def _same(one: str, other: str) -> bool:
    return one.strip().lower() == other.strip().lower()

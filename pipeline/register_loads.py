"""What a fixture draws and what its energy costs: the columns that the registers and settings give together."""

from __future__ import annotations

from typing import Any

from pipeline.energy import input_watts
from pipeline.settings import Settings


class Prices:
    """What a kilowatt-hour costs behind each fixture: its account's tariff, else its site's, else the default."""

    def __init__(
        self,
        sites: list[dict[str, Any]],
        accounts: list[dict[str, Any]],
        controls: list[dict[str, Any]],
        settings: Settings,
    ) -> None:
        self._account_of_site = {row["site_id"]: row["account_id"] for row in sites}
        self._site_of_control = {row["control_id"]: row["site_id"] for row in controls}
        self._accounts = {row["account_id"]: row for row in accounts}
        self._settings = settings

    def per_kwh(self, fixture: dict[str, Any]) -> float | None:
        """Price in the portfolio's currency; 0 on an unmetered account; None where no tariff is named."""
        site = self._site_of_control.get(fixture["control_id"])
        account = self._accounts.get(fixture["account_id"] or self._account_of_site.get(site), {})
        if account.get("metered") is False:
            return 0.0
        tariff = self._settings.tariffs.get(account.get("tariff") or self._settings.default_tariff or "")
        return None if tariff is None else float(tariff.price_per_kwh)


def with_load(row: dict[str, Any], prices: Prices, settings: Settings) -> dict[str, Any]:
    """A fixture's row with the watts that it draws, its ballast or driver included, and the price of a kWh there."""
    watts, basis = row["watts_each"], row["watts_basis"] or "unknown"
    factor = settings.assumptions.ballast_factor_hid
    drawn = float(input_watts(watts, basis, row["lamp"] or "", factor)) if watts else None
    return row | {"watts_basis": basis, "input_watts_each": drawn, "price_per_kwh": prices.per_kwh(row)}

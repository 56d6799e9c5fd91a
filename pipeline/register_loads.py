"""What a fixture draws and who is billed for it: the columns that the registers and settings give together."""

from __future__ import annotations

from typing import Any

from pipeline.energy import input_watts
from pipeline.settings import Settings


class Bills:
    """The account that pays for each fixture, its own or its site's, and the tariff: the account's or the default."""

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

    def of(self, fixture: dict[str, Any]) -> dict[str, Any]:
        """bill_account_id, metered, and tariff (None where none is named); who has no account is metered."""
        site = self._site_of_control.get(fixture["control_id"])
        account_id = fixture["account_id"] or self._account_of_site.get(site)
        account = self._accounts.get(account_id, {})
        tariff = account.get("tariff") or self._settings.default_tariff
        return {
            "bill_account_id": account_id,
            "metered": account.get("metered") is not False,
            "tariff": tariff if tariff in self._settings.tariffs else None,
        }


def with_load(row: dict[str, Any], bills: Bills, settings: Settings) -> dict[str, Any]:
    """A fixture's row with the watts that it draws, its ballast or driver included, and who is billed for it."""
    watts, basis = row["watts_each"], row["watts_basis"] or "unknown"
    factor = settings.assumptions.ballast_factor_hid
    drawn = float(input_watts(watts, basis, row["lamp"] or "", factor)) if watts else None
    return row | {"watts_basis": basis, "input_watts_each": drawn} | bills.of(row)

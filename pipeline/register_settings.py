"""Sites and accounts that the settings page names must stand in the registers."""

from __future__ import annotations

from pipeline.faults import Fault
from pipeline.settings import Settings


def unknown_sites(settings: Settings, known: set[str]) -> list[Fault]:
    """Faults of campaigns at sites that no register knows."""
    return [
        Fault(
            f"portfolio.toml, setting campaigns, '{campaign.name}'",
            f"'{site}' is not in sites.csv.",
            "Add it there, or correct sites.",
        )
        for campaign in settings.campaigns
        for site in campaign.sites
        if site not in known
    ]


def unknown_accounts(settings: Settings, known: set[str]) -> list[Fault]:
    """Faults of suppliers' factors for accounts that no register knows."""
    return [
        Fault(
            f"portfolio.toml, setting supplier_emissions.{account}",
            f"'{account}' is not in accounts.csv.",
            "Add it there, or correct the name of the section.",
        )
        for account in settings.supplier_emissions
        if account not in known
    ]

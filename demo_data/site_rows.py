"""sites.csv and accounts.csv, and how every register is written."""

from __future__ import annotations

import csv
from pathlib import Path

from demo_data.model import date_of
from demo_data.world import Site

SITE_COLUMNS = (
    "site_id", "name", "aliases", "latitude", "longitude", "time_zone", "grid_region", "account_id",
    "observed_from", "observed_to",
)  # fmt: skip
ACCOUNT_COLUMNS = ("account_id", "tariff", "metered")
Row = dict[str, object]


def account_rows(sites: list[Site]) -> list[Row]:
    """Metered building accounts, and unmetered area-lighting accounts at some sites."""
    rows: list[Row] = []
    for site in sites:
        rows.append({"account_id": f"{site.site_id}-BLDG", "tariff": "school service", "metered": "yes"})
        if site.unmetered:
            rows.append({"account_id": f"{site.site_id}-AREA", "tariff": "area lighting", "metered": "no"})
    return rows


def site_row(site: Site) -> Row:
    """A row of sites.csv."""
    return {
        "site_id": site.site_id,
        "name": site.name,
        "aliases": ";".join(site.aliases),
        "latitude": site.latitude,
        "longitude": site.longitude,
        "time_zone": "America/Denver",
        "grid_region": "RMPA",
        "account_id": f"{site.site_id}-BLDG",
        "observed_from": date_of(site.starts) if site.starts else "",
        "observed_to": date_of(site.ends - 0.5) if site.closed else "",
    }


def write_csv(path: Path, columns: tuple[str, ...], rows: list[Row]) -> None:
    """UTF-8, comma, one header line, LF line ends."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)

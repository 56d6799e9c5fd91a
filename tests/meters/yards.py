"""The two yards of the small portfolio with electricity accounts, for tests of meter readings."""

from __future__ import annotations

from pathlib import Path

from core import small_portfolio

SITES = (
    "site_id,name,latitude,longitude,account_id\n"
    "S1,North Yard,39.6,-102.9,AC-1\nS2,South Yard,39.7,-102.8,AC-2\n"
)
ACCOUNTS = "account_id,tariff,metered\nAC-1,flat,yes\nAC-2,flat,yes\n"
HEADER = "account_id,interval_start,kwh"


def make(folder: Path, meters: dict[str, str] | None = None, calls: str = small_portfolio.CALLS) -> Path:
    """The small portfolio with accounts and these files in meters/."""
    small_portfolio.make(folder, calls)
    (folder / "sites.csv").write_text(SITES, encoding="utf-8")
    (folder / "accounts.csv").write_text(ACCOUNTS, encoding="utf-8")
    (folder / "meters").mkdir()
    for name, text in (meters or {}).items():
        (folder / "meters" / name).write_text(text, encoding="utf-8")
    return folder

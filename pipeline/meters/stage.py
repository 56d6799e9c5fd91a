"""The meter stage: readings -> day burning found in them, laid beside the incidents, and the delay that they show."""

from __future__ import annotations

from pipeline.meters.delays import fill_delays
from pipeline.meters.finding import find_episodes
from pipeline.meters.reconcile import reconcile
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Store


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill the tables of meters."""
    if store.count("meter_files"):
        find_episodes(store, portfolio.settings, progress)
        reconcile(store, portfolio.settings.meters)
    fill_delays(store, portfolio.settings)

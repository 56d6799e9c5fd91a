"""Fixtures: an empty portfolio, and the stage run on one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pipeline.ingest import run
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio


@pytest.fixture
def portfolio(tmp_path: Path) -> Portfolio:
    """An empty portfolio folder."""
    return make_portfolio(tmp_path / "portfolio")


@pytest.fixture
def intake() -> Iterator[Callable[[Portfolio], Store]]:
    """Run the stage on a portfolio and give its store."""
    stores: list[Store] = []

    def run_stage(portfolio: Portfolio) -> Store:
        store = Store.create()
        stores.append(store)
        run(store, portfolio, Silent())
        return store

    yield run_stage
    for store in stores:
        store.close()

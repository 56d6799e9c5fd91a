from __future__ import annotations

from collections.abc import Iterator

import pytest
from figures.small_store import small_store

from pipeline.store import Store


@pytest.fixture(scope="session")
def small() -> Iterator[Store]:
    """The small portfolio of the figures' tests; read only by agreement."""
    store = small_store()
    yield store
    store.close()


@pytest.fixture(scope="session")
def empty() -> Iterator[Store]:
    """Every table, no row."""
    store = Store.create()
    yield store
    store.close()

"""What several folders of tests share: the demo, built once for a whole run, and the small portfolio."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from once import made_once

import demo_data
from pipeline.build import build
from pipeline.store import Store

# Cases a property is tried with: some always, more on demand (--hypothesis-profile=deep).
settings.register_profile("always", max_examples=50)
settings.register_profile("deep", max_examples=1_000)
settings.load_profile("always")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put one test that uses the built demo first, and the others a third of the way in.

    One worker builds the demo while the others need not wait; and the long tests, which use it, do not come last, when
    a worker would be left alone with them.
    """
    using = [item for item in items if "demo_folder" in getattr(item, "fixturenames", ())]
    chosen = set(using)
    others = [item for item in items if item not in chosen]
    third = len(others) // 3
    items[:] = using[:1] + others[:third] + using[1:] + others[third:]


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo portfolio, copied and built once for the run; tests must not change it."""
    return made_once(tmp_path_factory, "demo", _demo_built)


def _demo_built(folder: Path) -> None:
    shutil.copytree(demo_data.portfolio_folder(), folder)
    build(folder)


@pytest.fixture(scope="session")
def small() -> Iterator[Store]:
    """The small portfolio of the figures' tests, in memory; read only by agreement."""
    from figures.small_store import small_store

    store = small_store()
    yield store
    store.close()


@pytest.fixture(scope="session")
def empty() -> Iterator[Store]:
    """Every table, no row."""
    store = Store.create()
    yield store
    store.close()


@pytest.fixture
def demo_store(demo_folder: Path) -> Iterator[Store]:
    """The built demo, read-only."""
    from pipeline.build import current_database

    store = Store.open(current_database(demo_folder))
    yield store
    store.close()

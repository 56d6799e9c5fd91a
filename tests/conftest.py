"""What several folders of tests share: the demo, built once for a whole run, and the small portfolio."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import demo_data
from pipeline.build import build
from pipeline.store import Store

_LONGEST_WAIT_S = 600


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put what uses the built demo last, and one of it first: one worker builds while the others need not wait."""
    using = [item for item in items if "demo_folder" in getattr(item, "fixturenames", ())]
    others = [item for item in items if item not in set(using)]
    items[:] = using[:1] + others + using[1:]


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo portfolio, copied and built once for the run; tests must not change it.

    Parallel workers share it: the first to come builds, the others wait for its mark.
    """
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base
    folder, done = shared / "demo", shared / "demo-is-built"
    try:
        (shared / "demo-claimed").mkdir()
    except FileExistsError:
        _wait_for(done)
        return folder
    try:
        shutil.copytree(demo_data.portfolio_folder(), folder)
        build(folder)
        done.write_text("built", encoding="utf-8")
    except BaseException:
        done.write_text("failed", encoding="utf-8")
        raise
    return folder


def _wait_for(done: Path) -> None:
    until = time.monotonic() + _LONGEST_WAIT_S
    while not done.exists():
        if time.monotonic() > until:
            pytest.fail(f"the demo was not built within {_LONGEST_WAIT_S} s by another worker")
        time.sleep(0.2)
    if done.read_text(encoding="utf-8") != "built":
        pytest.fail("building the demo failed in another worker")


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

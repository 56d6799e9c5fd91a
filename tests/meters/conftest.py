"""The yards with readings, built once: a fault called in, one that nobody called in, a call that the meter denies."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.build import build, current_database
from pipeline.store import Store

from . import yards
from .made_readings import as_csv
from .two_faults import CALLS, MADE, QUIET


@pytest.fixture(scope="session")
def metered_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built; tests must not change it."""
    text = f"{yards.HEADER}\n{as_csv('AC-1', MADE)}{as_csv('AC-2', QUIET)}AC-2,2021-03-01T00:07Z,1\n"
    folder = yards.make(tmp_path_factory.mktemp("metered") / "yards", {"readings.csv": text}, CALLS)
    build(folder)
    return folder


@pytest.fixture(scope="session")
def store(metered_folder: Path) -> Iterator[Store]:
    """Its database."""
    opened = Store.open(current_database(metered_folder))
    yield opened
    opened.close()

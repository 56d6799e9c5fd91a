"""Folders that the dashboard is started on. (No __init__.py here: a package named ``dashboard`` would hide ours.)"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

sys.path.append(str(Path(__file__).parents[1]))  # for figures.small_store when this folder is run alone

from dashboard_folders import empty_but_built, publish
from figures.small_store import small_store
from opening import APP, Open

from dashboard.data import PORTFOLIO_VARIABLE


@pytest.fixture(scope="session")
def small_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small portfolio of tests/figures as a built folder."""
    folder = tmp_path_factory.mktemp("portfolios") / "small"
    publish(small_store(), folder)
    return folder


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A built folder whose build read nothing."""
    folder = tmp_path_factory.mktemp("portfolios") / "empty"
    publish(empty_but_built(), folder)
    return folder


@pytest.fixture(autouse=True, scope="module")
def fresh_caches() -> Iterator[None]:
    """Nothing kept from one module to the next. Within one, answers are kept by database, as for real readers."""
    yield
    st.cache_data.clear()
    st.cache_resource.clear()


@pytest.fixture
def open_page(monkeypatch: pytest.MonkeyPatch) -> Open:
    """Opens a page of the dashboard on a folder and fails on any exception."""

    def opened(folder: Path, page: str = "overview", **address: str | list[str]) -> AppTest:
        monkeypatch.setenv(PORTFOLIO_VARIABLE, str(folder))
        app = AppTest.from_file(str(APP), default_timeout=30)
        for name, value in address.items():
            app.query_params[name] = value
        app.run()
        if page != "overview":
            app.switch_page(f"screens/{page}.py").run()
        assert not app.exception, [one.value for one in app.exception]
        return app

    return opened

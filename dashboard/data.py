"""The way to the built database: which one is current, one cursor per call, small results kept."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from threading import Lock
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

import streamlit as st
from duckdb import Error as DatabaseError

from pipeline.build import current_database, last_database, previous_database
from pipeline.faults import InputFaults
from pipeline.figures import EVERYTHING, Facts, Filters, facts
from pipeline.store import StageError, Store

P = ParamSpec("P")
T = TypeVar("T")

PORTFOLIO_VARIABLE = "DAYBURN_PORTFOLIO"
_FILTERS = "filters_in_force"
_BUILD = "build_in_force"
_opening = Lock()


class Build(NamedTuple):
    """A finished database as it lay on disk; a new build is another one."""

    path: str
    modified_ns: int


def portfolio_folder() -> Path:
    """The folder named after ``--`` on the command line, or by the variable DAYBURN_PORTFOLIO."""
    named = os.environ.get(PORTFOLIO_VARIABLE) or (sys.argv[1] if len(sys.argv) > 1 else "")
    if not named:
        raise InputFaults.one(
            "the dashboard", "was started without a portfolio.", "Run `dayburn dashboard DIR`."
        )
    return Path(named)


def current_build(folder: Path) -> Build:
    """The last good build of a folder; raises InputFaults where there is none."""
    database = current_database(folder)
    return Build(str(database), database.stat().st_mtime_ns)


def is_built(folder: Path) -> bool:
    """Whether a folder has a good build; raises InputFaults for a folder that is no portfolio."""
    return last_database(folder) is not None


def previous_build(folder: Path) -> Build | None:
    """The build before the last good one, if it is still there."""
    database = previous_database(folder)
    return None if database is None else Build(str(database), database.stat().st_mtime_ns)


def use(build: Build, filters: Filters) -> None:
    """Make a build and filters those that this session's pages ask of."""
    st.session_state[_BUILD], st.session_state[_FILTERS] = build, filters


def use_none() -> None:
    """There is no build to ask of: only the page Intake can be shown."""
    st.session_state.pop(_BUILD, None)


def has_build() -> bool:
    """Whether this session has a build to ask of."""
    return _BUILD in st.session_state


def filters_in_force() -> Filters:
    """What the reader chose in the sidebar."""
    chosen: Filters = st.session_state.get(_FILTERS, EVERYTHING)
    return chosen


def build_in_force() -> Build:
    """The build that this session shows."""
    build: Build = st.session_state[_BUILD]
    return build


def ask(figure: Callable[Concatenate[Store, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
    """A figure of the build in force; the same question is answered from memory until there is a new build."""
    return ask_of(build_in_force(), figure, *args, **kwargs)


def ask_of(build: Build, figure: Callable[Concatenate[Store, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
    """A figure of a given build."""
    name = f"{figure.__module__}.{figure.__qualname__}"
    answer: T = _answered(build.path, build.modified_ns, name, args, kwargs, figure)
    return answer


def ask_anew(figure: Callable[Concatenate[Store, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
    """A figure that may be long (calls with their texts): never kept."""
    with _opening:
        store = _opened(*build_in_force()).cursor()
    try:
        return figure(store, *args, **kwargs)
    finally:
        store.close()


def build_facts() -> Facts:
    """Name, currency and span of the build in force."""
    return ask(facts)


@st.cache_resource(max_entries=2, show_spinner=False)
def _opened(path: str, modified_ns: int) -> Store:
    try:
        return Store.open(Path(path))
    except DatabaseError as error:
        raise StageError(str(error)) from error


@st.cache_data(max_entries=300, show_spinner="Reckoning …")
def _answered(
    path: str, modified_ns: int, name: str, args: Any, kwargs: Any, _figure: Callable[..., Any]
) -> Any:
    # One connection must not be used from two threads: each call has a cursor of its own.
    with _opening:
        store = _opened(path, modified_ns).cursor()
    try:
        return _figure(store, *args, **kwargs)
    finally:
        store.close()

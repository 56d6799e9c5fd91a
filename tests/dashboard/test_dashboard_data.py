"""The way to the database: safe from many threads, kept per build, local by default."""

from __future__ import annotations

import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pandas as pd
import pytest
from dashboard_folders import empty_but_built, publish
from opening import APP, Open
from reading import words

from dashboard.data import Build, ask_of, current_build
from pipeline.faults import InputFaults
from pipeline.figures import Filters, calls_behind, energy_by, headline
from pipeline.store import Store
from pipeline.template import lay_out


def test_many_sessions_at_once_get_the_rows_of_one(small_folder: Path, small: Store) -> None:
    """One connection used from several threads gives wrong rows; a cursor for each must not."""
    build = current_build(small_folder)
    sites = [(), ("north",), ("south",), ("north", "south")]
    expected = {chosen: energy_by(small, "month", Filters(chosen)) for chosen in sites}

    def one(number: int) -> bool:
        chosen = sites[number % len(sites)]
        # A build of its own for each question, so that none is answered from memory.
        asked = ask_of(Build(build.path, build.modified_ns + number), energy_by, "month", Filters(chosen))
        pd.testing.assert_frame_equal(asked, expected[chosen])
        return True

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(one, range(40)))


def test_the_same_question_is_answered_from_memory_until_there_is_a_new_build(small_folder: Path) -> None:
    build, asked = current_build(small_folder), []

    def figure(store: Store, key: str) -> int:
        asked.append(key)
        return len(calls_behind(store, key))

    first = ask_of(build, figure, "wasted_energy")
    assert ask_of(build, figure, "wasted_energy") == first > 0
    assert asked == ["wasted_energy"]
    ask_of(Build(build.path, build.modified_ns + 1), figure, "wasted_energy")
    assert len(asked) == 2


def test_a_new_build_is_another_one(tmp_path: Path, small: Store) -> None:
    folder = tmp_path / "portfolio"
    publish(empty_but_built(), folder, "b0")
    before = current_build(folder)
    publish(small, folder, "b1")
    assert current_build(folder) != before


def test_without_a_build_the_fault_names_the_command(tmp_path: Path) -> None:
    lay_out(tmp_path / "new", "USD", "America/Denver")
    with pytest.raises(InputFaults, match="dayburn build"):
        current_build(tmp_path / "new")


def test_it_listens_on_this_computer_only_and_sends_nothing_home() -> None:
    settings = tomllib.loads((APP.parent / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    assert settings["server"]["address"] == "localhost"
    assert settings["browser"]["gatherUsageStats"] is False


def test_the_dashboard_shows_the_demo_figures_that_the_commands_show(
    open_page: Open, demo_folder: Path, demo_store: Store
) -> None:
    said = words(open_page(demo_folder))
    shown = headline(demo_store)
    figures = [one for figure in shown for one in figure.flat()]
    assert len(figures) > 6
    for figure in figures:
        assert " ".join(figure.label.split()) in said
    for beside in (one for figure in shown for one in figure.beside):
        assert " ".join(beside.text().split()) in said

from __future__ import annotations

from figures.small_store import add, small_store
from pipeline import figures
from pipeline.store import Store


def call(store: Store) -> None:
    add(
        store, "calls", call_id="k1", file_id="f1", row_number=2, source="orders", status="open", work_type="reactive",
        is_lighting=True, is_lighting_by_text=True,
    )  # fmt: skip


def test_no_lighting_call_supports_nothing(empty: Store) -> None:
    level = figures.data_level(empty)
    assert level.level == 0
    assert "calls/" in level.next_step


def test_calls_alone_support_no_lives_and_the_register_is_the_next_step() -> None:
    store = Store.create()
    call(store)
    level = figures.data_level(store)
    assert (level.level, level.name) == (1, "calls only")
    assert "no life" in level.statement
    assert "controls.csv" in level.next_step


def test_counts_support_rates_and_dates_are_the_next_step() -> None:
    store = Store.create()
    call(store)
    add(
        store, "controls", control_id="C1", site_id="s", position="s / C1", switching="unknown", quantity=12,
        row_number=2,
    )  # fmt: skip
    level = figures.data_level(store)
    assert (level.level, "12" in level.statement) == (2, True)
    assert "installed_on" in level.next_step


def test_installation_dates_support_lives_and_what_lacks_for_energy_is_said() -> None:
    level = figures.data_level(small_store())
    assert level.level == 3
    assert "fixtures.csv" in level.next_step

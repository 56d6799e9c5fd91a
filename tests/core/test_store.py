"""The database as a stage uses it."""

from __future__ import annotations

from contextlib import closing

import pytest

from pipeline.store import StageError, Store


def _limit_bytes(store: Store) -> int:
    return int(store.value("SELECT parse_formatted_bytes(current_setting('memory_limit'))"))


def test_memory_is_bounded_within_a_block_and_as_before_after_it() -> None:
    with closing(Store.scratch()) as store:
        before = _limit_bytes(store)
        with store.within_memory("300MB"):
            assert _limit_bytes(store) <= 300e6
        assert _limit_bytes(store) == pytest.approx(before, rel=0.01)


def test_memory_is_as_before_also_where_the_block_fails() -> None:
    with closing(Store.scratch()) as store:
        before = _limit_bytes(store)
        with pytest.raises(StageError):
            _fail_within(store)
        assert _limit_bytes(store) == pytest.approx(before, rel=0.01)


def _fail_within(store: Store) -> None:
    with store.within_memory("300MB"):
        store.run("SELECT * FROM no_such_table")


def test_a_smaller_bound_that_is_already_set_is_kept() -> None:
    with closing(Store.scratch()) as store:
        store.run("SET memory_limit = '200MB'")
        with store.within_memory("300MB"):
            assert _limit_bytes(store) <= 200e6

"""Keys of several parts: readable, and never the same for different parts."""

from __future__ import annotations

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.keys import joined, joined_sql

PARTS = st.text(alphabet="a/ \n\\", max_size=8)
SEVERAL = st.lists(PARTS, min_size=2, max_size=3)


def test_ordinary_parts_are_joined_as_they_are() -> None:
    assert joined("North Yard", "AC/DC pole 4") == "North Yard / AC/DC pole 4"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("A / B", "C"), ("A", "B / C")),
        (("X / Y", "LED"), ("X", "Y / LED")),
        (("X /", "Y"), ("X", "/ Y")),
        (("A // B", "C"), ("A", "B / C")),
    ],
)
def test_a_separator_within_a_part_does_not_make_two_keys_one(
    one: tuple[str, str], other: tuple[str, str]
) -> None:
    assert joined(*one) != joined(*other)


@given(SEVERAL, SEVERAL)
def test_equal_keys_have_equal_parts(one: list[str], other: list[str]) -> None:
    assert (joined(*one) == joined(*other)) == (one == other)


@given(PARTS, PARTS)
def test_sql_and_python_make_the_same_key(one: str, other: str) -> None:
    query = f"SELECT {joined_sql('a', 'b')} FROM (SELECT ?::VARCHAR AS a, ?::VARCHAR AS b)"
    assert duckdb.execute(query, [one, other]).fetchall() == [(joined(one, other),)]


def test_a_missing_part_gives_no_key() -> None:
    assert duckdb.execute(f"SELECT {joined_sql('NULL', chr(39) + 'x' + chr(39))}").fetchall() == [(None,)]

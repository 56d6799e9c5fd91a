"""What the register says of a removal: only a stated failure is a failure."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lives.removals import MOST_NAMED, meaning, unknown_reasons


@pytest.mark.parametrize(
    ("reason", "end"),
    [
        ("failed", "failed"),
        ("Failed in service", "failed"),
        ("FAILURE - stuck on", "failed"),
        ("not working", "failed"),
        ("faulty", "failed"),
        ("not damaged but failed", "failed"),
        ("unplanned: failed", "failed"),
        ("did not fail", "removed"),
        ("didn't fail", "removed"),
        ("never failed", "removed"),
        ("no failure", "removed"),
        ("No known failures; moved", "removed"),
        ("not due to failure", "removed"),
        ("removed, working", "removed"),
        ("moved", "removed"),
        ("site closed", "removed"),
        ("changed with lamp", "removed"),
        ("", "removed"),
        ("  ", "removed"),
        (None, "removed"),
        ("planned - LED retrofit", "planned"),
        ("planned campaign", "planned"),
        ("did not fail; LED upgrade", "planned"),
        ("pole damage", "damage"),
        ("vandalism", "damage"),
        ("???", None),
        ("see file 12", None),
        ("failed: no", None),
        ("failover test", None),
        ("plane strike", None),
    ],
)
def test_a_reason_means_what_it_says(reason: str | None, end: str | None) -> None:
    assert meaning(reason) == end


@given(st.text(max_size=60))
def test_any_text_is_read(reason: str) -> None:
    assert meaning(reason) in ("failed", "planned", "damage", "removed", None)


def test_reasons_without_meaning_are_named_with_their_rows() -> None:
    rows = [(5, "???"), (2, "failed"), (9, "???"), (3, "see file"), (4, "")]
    first, second = unknown_reasons(rows)
    assert first.startswith(
        "'???' (rows 5, 9) says nothing that is known: taken as a removal without failure."
    )
    assert second.startswith("'see file' (row 3) says")


def test_a_hundred_reasons_do_not_make_a_hundred_notices() -> None:
    told = unknown_reasons([(number, f"code {number}") for number in range(100)])
    assert len(told) == MOST_NAMED + 1
    assert told[-1].startswith("90 more removal reasons (rows ")


def test_the_guides_words_mean_what_it_says() -> None:
    guide = (Path(__file__).parents[2] / "docs" / "user-guide.md").read_text(encoding="utf-8")
    table = guide.split("| it says | words | the life |")[1].split("\n\n")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]
    assert [row[0] for row in rows] == ["failed", "planned", "damage", "removed", "removed", "removed"]
    for says, words, _ in rows:
        for word in words.removesuffix("…").split(","):
            assert meaning("" if word == "(empty)" else word.strip()) == says, word

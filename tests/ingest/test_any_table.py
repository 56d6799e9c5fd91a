"""For any table, in any supported format: no row is lost, and with masking off every text comes back exact."""

from __future__ import annotations

import tempfile
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.ingest import run
from pipeline.ingest.layouts import Layout, write_layout
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio, reconciles, write_csv, write_xlsx

HEADER = ("Number", "Day", "Said", "Done", "Nobody's")
LAYOUT = Layout(
    name="any",
    source="any",
    header=HEADER,
    columns={
        "call_number": ("Number",), "reported_at": ("Day",), "problem_text": ("Said",), "action_text": ("Done",),
    },
)  # fmt: skip

# Any text that a spreadsheet can hold: no control characters but tab and line feed, no lone surrogates; a carriage
# return is left out because XML readers turn it into a line feed (XML 1.0, 2.11).
TEXTS = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Co", "Cn"), include_characters="\t\n"), max_size=30
)
DAYS = st.one_of(
    st.dates(date(2020, 1, 1), date(2024, 12, 31)).map(str),
    st.sampled_from(["", " ", "soon", "2024-02-31", "Total"]),
)
NUMBERS = st.one_of(st.integers(1, 6).map(str), st.just(""), st.just("00012"), st.just("1E5"))
TABLES = st.lists(st.tuples(NUMBERS, DAYS, TEXTS, TEXTS, TEXTS).map(list), min_size=1, max_size=12)


def _visible(text: str) -> bool:
    """Whether RE2's \\S, by which blank cells are told, finds anything (it knows ASCII blanks only)."""
    return bool(text.strip(" \t\n\f\r"))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=TABLES, workbook=st.booleans(), delimiter=st.sampled_from(",;\t|"))
def test_no_row_is_lost_and_no_text_is_changed(rows: list[list[str]], workbook: bool, delimiter: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        portfolio = make_portfolio(Path(folder) / "p", "[privacy]\nmask_free_text = false\n")
        write_layout(portfolio, LAYOUT)
        if workbook:
            write_xlsx(portfolio.calls / "any.xlsx", [HEADER, *rows])
        else:
            write_csv(portfolio.calls / "any.csv", [HEADER, *rows], delimiter=delimiter)
        with closing(Store.create()) as store:
            run(store, portfolio, Silent())
            _check(store, rows)


def _check(store: Store, rows: list[list[str]]) -> None:
    assert reconciles(store)
    rows_read, not_data = store.row("SELECT rows_read, not_data FROM source_files")
    blank_at_the_end = len(rows) + 1 - rows_read - not_data
    # A workbook does not keep rows that hold nothing at its end.
    assert blank_at_the_end >= 0
    assert not any(any(row) for row in rows[len(rows) - blank_at_the_end :])
    for number, problem, action in store.rows("SELECT row_number, problem_text, action_text FROM calls"):
        written = rows[number - 2]
        assert problem == (written[2] if _visible(written[2]) else None)
        assert action == (written[3] if _visible(written[3]) else None)
    days = {(date(2020, 1, 1) + timedelta(days=n)).isoformat() for n in range(1827)}
    calls = {number for (number,) in store.rows("SELECT row_number FROM calls")}
    usable = {
        number
        for number, row in enumerate(rows, start=2)
        if row[1] in days and (row[0] or _visible(row[2]) or _visible(row[3]))
    }
    assert calls == usable
    # What is neither a call nor rejected is blank or a total without a report date; nothing else is set aside.
    rejected = {number for (number,) in store.rows("SELECT row_number FROM rejected_rows")}
    for number, row in enumerate(rows, start=2):
        if number not in calls | rejected:
            assert not row[1].strip()
            assert not row[0]

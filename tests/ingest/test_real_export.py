"""A real city's export, where it is at hand: proposed, accepted, read and reconciled without hand-written help."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from pipeline.ingest import LayoutProposal, propose_layout, run, save_layout
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio, reconciles

EXPORT = Path(__file__).parents[2] / ".." / "shared" / "real" / "boston_2011H2_calls.csv"
ROWS, LIGHTING_ROWS = 12_087, 6_087  # the file's own count of requests, and of its reason "Street Lights"

pytestmark = pytest.mark.skipif(not EXPORT.exists(), reason="the real export is not at hand (../shared/real)")


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, LayoutProposal]]:
    portfolio = make_portfolio(tmp_path_factory.mktemp("real") / "portfolio")
    shutil.copy(EXPORT, portfolio.calls)
    proposal = propose_layout(portfolio.calls / EXPORT.name, portfolio)
    save_layout(portfolio, proposal.layout)
    with closing(Store.create()) as store:
        run(store, portfolio, Silent())
        yield store, proposal


def test_its_columns_are_proposed_rightly(read: tuple[Store, LayoutProposal]) -> None:
    columns = read[1].layout.columns
    assert {field: columns[field] for field in columns if field != "category_text"} == {
        "call_number": ("case_enquiry_id",), "reported_at": ("open_dt",), "completed_at": ("closed_dt",),
        "status": ("case_status",), "address_text": ("location",), "latitude": ("latitude",),
        "longitude": ("longitude",), "problem_text": ("case_title",), "action_text": ("closure_reason",),
    }  # fmt: skip
    assert "reason" in columns["category_text"]
    assert "target_dt" in read[1].layout.unused()


def test_every_row_is_reconciled(read: tuple[Store, LayoutProposal]) -> None:
    store = read[0]
    assert reconciles(store)
    assert store.row("SELECT rows_read, calls + superseded + rejected FROM source_files") == (ROWS, ROWS)
    assert store.value("SELECT count(*) FROM calls WHERE completed_at < reported_at") == 0


def test_lighting_is_found_with_and_without_the_category_columns(read: tuple[Store, LayoutProposal]) -> None:
    store = read[0]
    store.run(
        "CREATE TABLE truth AS SELECT case_enquiry_id AS n, reason = 'Street Lights' AS lit FROM "
        f"read_csv('{EXPORT}', header = true, delim = ',', quote = '\"', all_varchar = true, auto_detect = false, "
        f"columns = {dict.fromkeys(EXPORT.open().readline().strip().split(','), 'VARCHAR')})"
    )
    assert store.row("SELECT count(*), count(*) FILTER (lit) FROM truth") == (ROWS, LIGHTING_ROWS)
    for column, least_recall, least_precision in (
        ("is_lighting", 0.999, 0.99),
        ("is_lighting_by_text", 0.93, 0.99),
    ):
        both, said = store.row(
            f"SELECT count(*) FILTER (lit AND {column}), count(*) FILTER ({column}) "
            "FROM calls JOIN truth ON n = call_number"
        )
        assert both / LIGHTING_ROWS >= least_recall
        assert both / said >= least_precision


def test_its_default_coordinate_and_stated_duplicates_are_seen(read: tuple[Store, LayoutProposal]) -> None:
    store = read[0]
    coordinates, most = store.row(
        "SELECT count(DISTINCT (latitude, longitude)), count(*) FROM calls "
        "WHERE list_contains(flags, 'default coordinate')"
    )
    assert coordinates == 1
    assert most >= 346
    stated, tied = store.row(
        "SELECT count(*) FILTER (regexp_matches(action_text, '(?i)duplicate.*[0-9]{6}')), count(duplicate_of) "
        "FROM calls"
    )
    assert 0.8 * stated <= tied <= stated


def test_no_telephone_or_mail_address_is_left(read: tuple[Store, LayoutProposal]) -> None:
    left = r"\(?[2-9]\d{2}\)?[-. ]\d{3}[-.]\d{4}\b|[A-Za-z0-9]@[A-Za-z0-9]+\.[a-z]{2,}"
    texts = "concat_ws(' ', problem_text, action_text)"
    assert (
        read[0].rows(f"SELECT {texts} FROM calls WHERE regexp_matches({texts}, $left)", {"left": left}) == []
    )

"""Verdicts on texts are kept for later builds, as long as words, code and texts are the same."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.lexicon import Lexicon
from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import HEADER, accept, write_csv

Intake = Callable[[Portfolio], Store]
ROWS = [HEADER, ["1", "2024-01-02", "", "Open", "A", "Lot light on all day", ""]]
LATER = [HEADER, ["2", "2024-02-02", "", "Open", "A", "Sink leaking", ""]]


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[str | None]:
    """The problem texts that are judged from now on."""
    texts: list[str | None] = []
    original = Lexicon.lighting

    def lighting(self: Lexicon, problem: str | None, action: str | None, category: str | None) -> object:
        texts.append(problem)
        return original(self, problem, action, category)

    monkeypatch.setattr(Lexicon, "lighting", lighting)
    return texts


def _verdicts(store: Store) -> list[tuple[object, ...]]:
    return store.rows("SELECT problem_text, is_lighting, lighting_evidence FROM calls ORDER BY call_number")


def test_only_texts_of_a_new_export_are_judged(
    portfolio: Portfolio, intake: Intake, judged: list[str | None]
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", ROWS))
    first = _verdicts(intake(portfolio))
    assert judged == ["Lot light on all day"]
    write_csv(portfolio.calls / "b.csv", LATER)
    assert _verdicts(intake(portfolio))[:1] == first
    assert judged[1:] == ["Sink leaking"]


def test_a_word_of_the_portfolios_own_has_all_judged_anew(
    portfolio: Portfolio, intake: Intake, judged: list[str | None]
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", ROWS))
    intake(portfolio)
    (portfolio.folder / "lexicon.toml").write_text(
        'format = 1\n[forms]\npole = ["stave"]\n', encoding="utf-8"
    )
    intake(portfolio)
    assert len(judged) == 2


def test_a_damaged_file_of_verdicts_is_made_anew(
    portfolio: Portfolio, intake: Intake, judged: list[str | None]
) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", ROWS))
    first = _verdicts(intake(portfolio))
    (kept,) = (portfolio.cache / "lighting").glob("*.parquet")
    kept.write_bytes(b"PAR1 cut off")
    assert _verdicts(intake(portfolio)) == first
    assert len(judged) == 2


def test_texts_of_a_file_that_is_gone_leave_the_cache(portfolio: Portfolio, intake: Intake) -> None:
    accept(portfolio, write_csv(portfolio.calls / "a.csv", ROWS))
    later: Path = write_csv(portfolio.calls / "b.csv", LATER)
    intake(portfolio)
    later.unlink()
    store = intake(portfolio)
    found = store.rows(f"SELECT problem FROM read_parquet('{portfolio.cache}/lighting/*.parquet')")
    assert found == [("Lot light on all day",)]

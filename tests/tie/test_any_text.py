"""Any text at all: an answer, never an exception, and work in proportion to its length."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.lexicon import load_lexicon
from pipeline.lexicon.words import LONGEST_TEXT, split_words
from pipeline.tie.dates import dates_in
from pipeline.tie.reading import Reader
from pipeline.tie.verdict import verdict_of

LEXICON = load_lexicon()
READER = Reader(LEXICON)
SYMPTOMS = {
    "day burning",
    "out",
    "circuit out",
    "cycling",
    "dim",
    "flicker",
    "wrong time",
    "damage",
    "unknown",
}
COMPONENTS = {"control", "lamp", "driver", "wiring", "supply", "pole", "other", "unknown"}
ACTIONS = {"replaced", "reset", "repaired", "cleaned", "bypassed", "none found", "referred", "duplicate", "planned",
           "unknown"}  # fmt: skip

WORDS = st.sampled_from(
    [
        "replaced",
        "photocell",
        "lamp",
        "and",
        "not",
        "ok",
        "bad",
        "the",
        "pole",
        "14",
        "3",
        ",",
        ".",
        "--",
        "needs",
        "reset",
        "clock",
        "lights",
        "on",
        "all",
        "day",
        "out",
        "1/2/20",
        "P/C",
        "<b>",
        "&nbsp;",
        "🙂",
        "repaired",
        "found",
        "in",
        "hand",
        "contactor",
        "no",
        "problem",
        "x",
        "2",
        "(4)",
        "new",
    ]
)
TEXTS = st.one_of(st.none(), st.text(max_size=200), st.lists(WORDS, max_size=40).map(" ".join))


@settings(max_examples=400, deadline=None)
@given(TEXTS, TEXTS, TEXTS)
def test_every_text_gets_an_answer_in_the_tables_words(problem: str, action: str, category: str) -> None:
    told = READER.read(problem, action, category)
    assert told
    for reading in told:
        assert reading.symptom in SYMPTOMS
        assert reading.component in COMPONENTS
        assert reading.action in ACTIONS
        assert reading.units >= 1
        assert 0 <= verdict_of(reading).probability <= 1
    verdict = LEXICON.lighting(problem, action, category)
    assert isinstance(verdict.is_lighting, bool)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=300))
def test_words_lie_where_they_say_in_the_text(text: str) -> None:
    words = split_words(text)
    for start, end in zip(words.starts, words.ends, strict=True):
        assert 0 <= start < end <= len(words.text)
    assert list(words.starts) == sorted(words.starts)
    assert list(words.clauses) == sorted(words.clauses)
    assert list(words.sentences) == sorted(words.sentences)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_dates_in_any_text_are_real_days(text: str) -> None:
    for (start, end), days in dates_in(text):
        assert start < end
        assert 1 <= len(days) <= 2


@pytest.mark.parametrize(
    "piece",
    [
        "photo ",
        "not ",
        "replaced photocell, ",
        "<" * 10,
        "&amp;",
        "all all ",
        "on _ day ",
        "1/",
        "a.b.",
        "🙂",
        "lights on on on ",
    ],
)
def test_long_repetitive_text_is_read_in_work_proportional_to_its_length(piece: str) -> None:
    """Counts the steps of the phrase walk rather than seconds: doubling the text at most about doubles them."""
    short, long = (piece * LONGEST_TEXT)[: LONGEST_TEXT // 2], (piece * LONGEST_TEXT)[:LONGEST_TEXT]
    few, many = _steps(short), _steps(long)
    assert many <= 2.5 * few + 1000


def _steps(text: str) -> int:
    from pipeline.lexicon.phrases import PhraseBook

    steps = 0
    walk = PhraseBook._walk

    def counting(self: PhraseBook, *arguments: object) -> None:
        nonlocal steps
        steps += 1
        walk(self, *arguments)  # type: ignore[arg-type]

    PhraseBook._walk = counting  # type: ignore[assignment, method-assign]
    try:
        Reader(LEXICON).read(text, text, "")
    finally:
        PhraseBook._walk = walk  # type: ignore[method-assign]
    return steps


def test_what_comes_after_the_longest_text_is_not_read() -> None:
    far = " " * LONGEST_TEXT + "replaced photocell"
    assert READER.read("lights on", far, "")[0].component == "unknown"

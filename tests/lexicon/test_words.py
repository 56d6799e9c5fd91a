"""Splitting text, mending slips and finding phrases."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lexicon import load_lexicon, words
from pipeline.lexicon.phrases import PhraseBook
from pipeline.lexicon.spelling import Spelling
from pipeline.lexicon.words import split_words

LEXICON = load_lexicon()


def test_html_and_entities_are_not_words() -> None:
    assert split_words("<p>photo&nbsp;cell <b>bad</b></p>").words == ("photo", "cell", "bad")


def test_a_line_break_tag_ends_a_sentence_and_bold_does_not() -> None:
    assert split_words("a<br>b").sentences == (0, 1)
    assert split_words("a <b>b</b>").sentences == (0, 0)


def test_trade_abbreviations_stay_one_word() -> None:
    assert split_words("P/C w/o P.C. 24/7").words == ("p/c", "w/o", "pc", "24", "/", "7")


def test_a_comma_ends_a_clause_and_a_stop_a_sentence() -> None:
    split = split_words("one, two. three")
    assert (split.clauses, split.sentences) == ((0, 1, 2), (0, 0, 1))


def test_an_abbreviations_stop_ends_nothing() -> None:
    assert split_words("repl. photocell").sentences == (0, 0)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("photcell", "photocell"),
        ("PHOTOCEL", "photocell"),
        ("ballest", "ballast"),
        ("lihgts", "light"),
        ("burnng", "burn"),
    ],
)
def test_a_slip_in_a_word_that_matters_is_mended(written: str, meant: str) -> None:
    assert LEXICON.split(written).words == (meant,)


@pytest.mark.parametrize(
    "word", ["contractor", "lightning", "marking", "warning", "senior", "beaker", "limits", "recycling"]
)
def test_a_word_that_only_looks_like_one_is_left(word: str) -> None:
    assert LEXICON.split(word).words == (word,)


def test_a_word_near_two_known_words_is_left() -> None:
    assert Spelling({}, ["mended", "tended"], []).form_of("mended") == "mended"
    assert Spelling({}, ["abcdef", "abcdeg"], []).form_of("abcdex") == "abcdex"


def test_the_longest_phrase_wins_and_none_overlap() -> None:
    book = PhraseBook()
    book.add("layer", "short", ["traffic"])
    book.add("layer", "long", ["traffic", "light"])
    book.add("layer", "light", ["light"])
    found = book.find(split_words("traffic light light"))
    assert [(item.value, item.first, item.last) for item in found] == [("long", 0, 2), ("light", 2, 3)]


def test_a_gap_takes_up_to_three_words_of_one_clause() -> None:
    book = PhraseBook()
    book.add("layer", "day", ["on", "_", "day"])
    assert book.find(split_words("on a b c day"))
    assert not book.find(split_words("on a b c d day"))
    assert not book.find(split_words("on, a day"))


def test_where_two_ways_to_a_phrase_end_alike_the_one_without_a_gap_counts() -> None:
    book = PhraseBook()
    book.add("layer", "gapped", ["on", "_", "all", "day"])
    book.add("layer", "plain", ["on", "all", "day"])
    assert [item.value for item in book.find(split_words("on all day"))] == ["plain"]


@given(st.text(st.characters(max_codepoint=127)))
def test_plain_text_is_split_alike_with_and_without_the_short_way(text: str) -> None:
    lowered = text.lower()
    short, general = (
        [(found.group(), found.span()) for found in pattern.finditer(lowered)]
        for pattern in (words._PLAIN_TOKEN, words._TOKEN)
    )
    assert short == general

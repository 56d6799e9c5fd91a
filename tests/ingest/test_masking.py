"""Looking first whether a text may hold a person changes nothing of what is masked, however many people there are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing

import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from pipeline.ingest.masking import Masker
from pipeline.ingest.privacy import own_words_sql
from pipeline.settings import Privacy
from pipeline.store import Store

from .unfiltered import mask_unfiltered, unfiltered_steps

PEOPLE = [
    ("Quendle, Tarka", "Bram Ostwick"),
    ("Nell Park", "Head Custodian"),
    ("Anne-Maud O'Grell", "Ösk Şelk"),
    ("J Moss", "Σωσς Ta"),
    ("Moss Green Tarka", "Bram Ostwick"),
    (None, "Front Office"),
]
# What names, cues and numbers are made of, in every place that a pattern could look at.
PARTS = st.sampled_from(
    ["Tarka", "QUENDLE", "quendle", "Bram", "Ostwick", "Nell", "PARK", "Anne-Maud", "O'Grell", "GRELL", "Maud", "Ösk",
     "ŞELK", "şelk", "J", "T", "q", "B.", "Moss", "moſs", "Σωσς", "ΣΩΣΣ", "Green", "x", "1", "٣", "contact", "Call",
     "PER", "reported by", "the Principal", "attn", "phone", "Dana", "Vex", "DANA", "school", "at", "on",
     "415-555-0143", "(415) 555-0143", "4155550143", "555-0143", "x555-0143", "+44 20 7946 0958", "a.b@c.example",
     "é@b.coquendle",
     "[phone]", "[name]", "[e-mail]", "7/4/2024", "PC-00633", "light out", "'s", "’", "_"]
)  # fmt: skip
JOINTS = st.sampled_from(
    [" ", " ", " ", "  ", "", ", ", ",", ".", ". ", "-", ":", ": ", "\n", "(", "/", "@", "#", "\t"]
)
TEXTS = st.lists(st.tuples(PARTS, JOINTS), min_size=1, max_size=7).map(
    lambda parts: "".join(part + joint for part, joint in parts)
)


@pytest.fixture(scope="module")
def people() -> Iterator[Store]:
    with closing(_store(PEOPLE)) as store:
        yield store


def _store(people: Sequence[tuple[str | None, str | None]]) -> Store:
    store = Store.create()
    store.run("CREATE TABLE raw (row_number BIGINT, c1 VARCHAR, c2 VARCHAR)")
    rows = [(number, *names) for number, names in enumerate(people)]
    store.fill_frame("raw", pd.DataFrame(rows, columns=["row_number", "c1", "c2"]).astype({"c1": "object"}))
    return store


def mask_rows(store: Store, masker: Masker, texts: Sequence[tuple[int, str]]) -> list[str]:
    """Texts of rows of ``raw``, masked."""
    frame = pd.DataFrame([(place, row, text) for place, (row, text) in enumerate(texts)],
                         columns=["row_number", "row", "said"])  # fmt: skip
    with store.frame_as("said_rows", frame) as name:
        store.run(
            f"CREATE OR REPLACE TEMP TABLE said_by AS SELECT s.row_number, s.said, {masker.who_sql()} AS who "
            f"FROM {name} s JOIN raw ON raw.row_number = s.row"
        )
    if not masker.masked_cells([("said_by", "said")]):
        return [text for _, text in texts]
    changed = dict(store.rows("SELECT row_number, text FROM masked_said"))
    store.run("DROP TABLE masked_said")
    return [str(changed.get(place, text)) for place, (_, text) in enumerate(texts)]


@pytest.fixture(scope="module")
def masker(people: Store) -> Masker:
    return Masker(people, Privacy(), ["c1", "c2"], ["c2"])


@pytest.fixture(scope="module")
def steps_by_row(people: Store) -> dict[int, list[tuple[str, str]]]:
    owned = people.rows(f"SELECT row_number, {own_words_sql(['c1', 'c2'])} FROM raw ORDER BY 1")
    return {row: unfiltered_steps(people, ["c1", "c2"], own) for row, own in owned}


# A failure is not made smaller: every try compiles the long patterns anew.
@settings(max_examples=4, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(texts=st.lists(st.tuples(st.integers(0, len(PEOPLE) - 1), TEXTS), min_size=40, max_size=80))
def test_looking_first_changes_nothing(
    people: Store,
    masker: Masker,
    steps_by_row: dict[int, list[tuple[str, str]]],
    texts: list[tuple[int, str]],
) -> None:
    masked = mask_rows(people, masker, texts)
    for row in range(len(PEOPLE)):
        places = [place for place, (number, _) in enumerate(texts) if number == row]
        if places:
            whole = mask_unfiltered(people, [texts[place][1] for place in places], steps_by_row[row])
            assert [(texts[place][1], masked[place]) for place in places] == [
                (texts[place][1], said) for place, said in zip(places, whole, strict=True)
            ]


def test_tens_of_thousands_of_people_are_masked_like_a_few() -> None:
    syllables = ["ba", "ce", "do", "fi", "gu", "ja", "ke", "lo", "mi"]
    firsts = [a + b + "l" for a in syllables for b in syllables]
    many = [(f"{first} {second}nd", None) for first in firsts for second in firsts]
    with closing(_store(many)) as store:
        masker = Masker(store, Privacy(), ["c1", "c2"], [])
        texts = [
            (7, f"{many[6000][0]} saw it"),
            (7, f"{many[7][0].split()[1].upper()} SAW IT"),
            (8, "doorbell rings"),
        ]
        assert mask_rows(store, masker, texts) == ["[name] saw it", "[name] SAW IT", "doorbell rings"]

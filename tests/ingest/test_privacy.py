"""Masking: people go, everything else stays to the letter."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.masking import Masker
from pipeline.settings import Privacy
from pipeline.store import Store

from .test_masking import mask_rows

PEOPLE = [("Quendle, Tarka", "Bram Ostwick"), ("Nell Park", "Head Custodian"), (None, "Front Office")]
Masks = tuple[Store, Masker]


def _masker(privacy: Privacy) -> Masks:
    store = Store.create()
    store.run("CREATE TABLE raw (row_number BIGINT, c1 VARCHAR, c2 VARCHAR)")
    for row, people in enumerate(PEOPLE):
        store.run("INSERT INTO raw VALUES (?, ?, ?)", [row, *people])
    return store, Masker(store, privacy, ["c1", "c2"], ["c2"])


@pytest.fixture(scope="module")
def masker() -> Masks:
    return _masker(Privacy())


def _mask(masks: Masks, text: str, row: int | None = None) -> str:
    store, masker = masks
    return masker.masked_texts([text])[0] if row is None else mask_rows(store, masker, [(row, text)])[0]


MASKED = [
    ("call 415-555-0143 now", "call [phone] now"),
    ("(415) 555-0143 x12", "[phone]"),
    ("+44 20 7946 0958", "[phone]"),
    ("555-0143 555-0144", "[phone] [phone]"),
    ("x555-0143", "[phone]"),
    ("phone: 4155550143", "phone: [phone]"),
    ("mail t.quendle@school.example.org, thanks", "mail [e-mail], thanks"),
    ("Contact Arlo Benn. Light out", "Contact [name]. Light out"),
    ("CONTACT ARLO BENN RE LIGHT", "CONTACT [name] RE LIGHT"),
    ("CONTACT PRINCIPAL BENN", "CONTACT PRINCIPAL [name]"),
    ("reported by: Arlo on 4/5", "reported by: [name] on 4/5"),
    ("call arlo at 555-0143 re pole", "call [name] at [phone] re pole"),
    ("per Arlo, lights on", "per [name], lights on"),
    ("Arlo Benn 555-0143", "[name] [phone]"),
    ("TARKA QUENDLE says on", "[name] says on"),
    ("quendle, tarka says on", "[name] says on"),
    ("T. Quendle says on", "[name] says on"),
    ("Quendle at 555-0143", "[name] at [phone]"),
    ("ask Ostwick, Bram", "ask [name]"),
    ("312–555–0143, 312 - 555 - 0144, 312/555/0145", "[phone], [phone], [phone]"),
    ("lights on, my name is Arlo Benn", "lights on, my name is [name]"),
    ("seen by Arlo Benn; speak with Nurse Quill", "seen by [name]; speak with Nurse [name]"),
    ("Wall lights on since Herr Benn called", "Wall lights on since Herr [name] called"),
    ("FRAU BENN CALLED", "FRAU [name] CALLED"),
    ("Llamar a la Sra. Olmedo Prieto", "Llamar a la Sra. [name]"),
    ("Mme Benné signale un lampadaire", "Mme [name] signale un lampadaire"),
    ("gemeldet von Jens Benn", "gemeldet von [name]"),
    ("contacter Jean Benn", "contacter [name]"),
    ("Informed by Dana Benn that lights are on", "Informed by [name] that lights are on"),
]
UNTOUCHED = [
    "POLE LIGHT ON ALL DAY AT NORTH LOT POLE 4. TAG PC-00633",
    "Duplicate of 18-01051, see WO 4155550143 and CRM # 355105",
    "277 V, 20 A, 12/05/2011 10:30, zip 02131-4567, unit 2011-0001234, PC-123-4567",
    "CONTACT THE OFFICE BEFORE WORK",
    "CONTACT WELDED CLOSED, REPLACED CONTACT BLOCK",
    "LLAMAR A LA OFICINA",
    "12 Larch Dr. Quill Hall; Sr. Center; 277/480 V, 200 - 400 W",
    "PER CODE, CALL BEFORE DIGGING",
    "contactor welded; contact office",
    "Park lights on. Head custodian saw it; front office too",
    "INTERSECTION of Larch St & Quill St   (two   spaces kept)  ",
    "called in Tuesday",
    "",
]


@pytest.fixture(scope="module")
def masked_at_once(masker: Masks) -> dict[str, str]:
    """Every example, masked at once."""
    texts = [text for text, _ in MASKED] + UNTOUCHED
    return dict(zip(texts, masker[1].masked_texts(texts), strict=True))


@pytest.mark.parametrize(("text", "masked"), MASKED)
def test_people_are_masked(masked_at_once: dict[str, str], text: str, masked: str) -> None:
    assert masked_at_once[text] == masked


@pytest.mark.parametrize("text", UNTOUCHED)
def test_everything_else_stays_to_the_letter(masked_at_once: dict[str, str], text: str) -> None:
    assert masked_at_once[text] == text


def test_a_single_name_is_masked_in_the_rows_own_text_only(masker: Masks) -> None:
    assert _mask(masker, "Ostwick replaced it", row=0) == "[name] replaced it"
    assert _mask(masker, "Ostwick replaced it", row=1) == "Ostwick replaced it"


def test_in_a_text_without_a_row_the_single_names_of_all_rows_are_masked(masker: Masks) -> None:
    assert _mask(masker, "Ostwick replaced it") == "[name] replaced it"


def test_a_name_that_is_an_ordinary_word_is_masked_only_with_its_first_name(masker: Masks) -> None:
    assert _mask(masker, "NELL PARK: park lights on", row=1) == "[name]: park lights on"


def test_masking_can_be_switched_off() -> None:
    store = _masker(Privacy(mask_free_text=False))
    text = "Tarka Quendle 415-555-0143 t@school.example.org"
    assert _mask(store, text) == text


def test_technicians_can_be_kept_as_initials() -> None:
    store = _masker(Privacy(keep_technician_initials=True))
    assert _mask(store, "Bram Ostwick for Tarka Quendle") == "[B.O.] for [name]"


def test_masking_twice_changes_nothing_more(masker: Masks) -> None:
    once = _mask(masker, "Contact Arlo Benn at 415-555-0143 or a@b.example")
    assert _mask(masker, once) == once


# Lower-case letters without any cue word: nothing in them can be a name.
_AROUND = st.text("abc xyz.,;!?éß漢\n", max_size=20)


# Many texts at once: a mask's patterns take longer to make than to use.
@settings(max_examples=2, deadline=None)
@given(around=st.lists(st.tuples(_AROUND, _AROUND), min_size=15, max_size=30))
def test_text_around_a_masked_number_is_exact(masker: Masks, around: list[tuple[str, str]]) -> None:
    texts = [f"{before} (415) 555-0143 {after}" for before, after in around]
    assert masker[1].masked_texts(texts) == [f"{before} [phone] {after}" for before, after in around]


def test_a_hostile_text_takes_no_more_than_linear_work(masker: Masks) -> None:
    # A backtracking matcher would not come back from this; the mask gives it back unchanged.
    hostile = "contact " + "a" * 200_000 + "@" * 50
    assert _mask(masker, hostile) == hostile

"""Which column of an inventory is which of a register: by its name, checked against its values."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.files import Export
from pipeline.ingest.fits import confidence_word
from pipeline.ingest.headers import Header
from pipeline.ingest.known import Known, key_of
from pipeline.ingest.people_columns import SAY_LITTLE
from pipeline.ingest.profile import EMAIL_CELL, PHONE_CELL
from pipeline.ingest.register_layouts import (
    DAYS,
    NUMBERS,
    RegisterLayout,
    known_columns,
    register_words,
)
from pipeline.ingest.rows import rows_of
from pipeline.ingest.synonyms import Synonyms
from pipeline.register_columns import KEYS

_LEAST = 0.35
_SAMPLE_CHARACTERS, _SAMPLES = 28, 3


@dataclass(frozen=True)
class ColumnMatch:
    """A column proposed for one of ours, with a confidence from 0 to 1, examples, and what it rests on."""

    ours: str
    theirs: str
    confidence: float
    examples: tuple[str, ...]
    why: str = ""

    @property
    def confidence_word(self) -> str:
        """The confidence as a word."""
        return confidence_word(self.confidence)


class Table:
    """The rows below a header, as columns of filled cells."""

    def __init__(self, export: Export, sheet: str | None, header: Header) -> None:
        self.labels = header.labels
        self.rows = [
            [cell.strip() for cell in row] + [""] * (len(header.labels) - len(row))
            for number, row in rows_of(export, sheet)
            if number > header.row_number and any(cell.strip() for cell in row)
        ]
        self.columns = {label: [row[n] or None for row in self.rows] for n, label in enumerate(header.labels)}

    def filled(self, label: str) -> list[str]:
        """The cells of a column that hold something."""
        return [cell for cell in self.columns[label] if cell]

    def examples(self, label: str) -> tuple[str, ...]:
        """The first different cells of a column, shortened."""
        return tuple(cell[:_SAMPLE_CHARACTERS] for cell in dict.fromkeys(self.filled(label)))[:_SAMPLES]


def match_columns(
    table: Table,
    register: str,
    words: Synonyms,
    known: Known,
    given: Mapping[str, Sequence[str]],
    saved: RegisterLayout | None,
) -> list[ColumnMatch]:
    """Columns for ours: as told, as saved, else the best by name and values, each column once."""
    told = {ours: tuple(theirs) for ours, theirs in (saved.columns if saved else {}).items()} | {
        ours: tuple(theirs) for ours, theirs in given.items()
    }
    _check_told(table, register, told)
    matches = [
        ColumnMatch(ours, theirs, 1.0, table.examples(theirs))
        for ours, several in told.items()
        for theirs in several
    ]
    taken = {match.theirs for match in matches}
    candidates = [] if saved else [
        match
        for ours in known_columns(register)
        for theirs in table.labels
        if ours not in told and theirs not in taken
        and (match := _candidate(table, register, ours, theirs, words, known))
    ]  # fmt: skip
    for match in sorted(candidates, key=lambda one: -one.confidence):
        if not any(one.ours == match.ours or one.theirs == match.theirs for one in matches):
            matches.append(match)
    order = known_columns(register)
    return sorted(matches, key=lambda match: order.index(match.ours))


def columns_of_people(table: Table, words: Synonyms, used: Collection[str]) -> tuple[str, ...]:
    """Columns beside the ``used`` ones that hold people or their numbers, by their names or most of their cells."""
    names = {name for several in words.people.values() for name in several}
    telling = [name for name in names if name not in (*SAY_LITTLE, "tech")]
    return tuple(
        label
        for label in table.labels
        if label not in used
        and (
            words.plain(label) in names
            or any(f" {name} " in f" {words.plain(label)} " for name in telling)
            or _are_contacts(table.filled(label))
        )
    )


def _are_contacts(filled: Sequence[str]) -> bool:
    """Whether most cells are telephone numbers or e-mail addresses."""
    found = sum(bool(re.search(PHONE_CELL, cell) or re.search(EMAIL_CELL, cell)) for cell in filled)
    return found > 0.5 * len(filled)


def _check_told(table: Table, register: str, told: Mapping[str, Sequence[str]]) -> None:
    own = known_columns(register)
    faults = [Fault("--column", f"'{ours}' is not a column of {register}.csv.", f"Columns are: {', '.join(own)}.")
              for ours in told if ours not in own]  # fmt: skip
    faults += [
        Fault(
            "--column",
            f"'{one}' is not a column of the file.",
            f"Its columns are: {', '.join(table.labels)}.",
        )
        for several in told.values()
        for one in several
        if one not in table.labels
    ]
    if faults:
        raise InputFaults(faults)


def _candidate(
    table: Table, register: str, ours: str, theirs: str, words: Synonyms, known: Known
) -> ColumnMatch | None:
    filled = table.filled(theirs)
    if not filled or _are_contacts(filled):
        return None
    by_values, why = _registered(register, ours, filled, known)
    score = max(_by_name(register, ours, theirs, words) * _fit(table, register, ours, filled), by_values)
    return ColumnMatch(ours, theirs, score, table.examples(theirs), why) if score >= _LEAST else None


def _registered(register: str, ours: str, filled: Sequence[str], known: Known) -> tuple[float, str]:
    """How surely a column names what the portfolio's registers already hold."""
    keys = {"control_id": known.controls, "site_id": known.sites}.get(ours, frozenset())
    if not keys or KEYS[register] == ours:
        return 0.0, ""
    share = sum(key_of(cell) in keys for cell in filled) / len(filled)
    return (0.97, f"{share:.0%} of its cells are registered") if share >= 0.5 else (0.0, "")


def _by_name(register: str, ours: str, theirs: str, words: Synonyms) -> float:
    """1 for the most telling name down to 0.8 for the least; less where the name only contains one."""
    plain = words.plain(theirs)
    names = register_words().names[register].get(ours, ("site id", "site", "building"))
    if set(plain.split()) & set(register_words().never.get(ours, ())):
        return 0.0
    if plain in names:
        return 1.0 - 0.2 * names.index(plain) / len(names)
    inside = [
        len(name.split()) / len(plain.split())
        for name in names
        if f" {name} " in f" {plain} " and len(name) > 2
    ]
    return 0.4 + 0.4 * max(inside) if inside else 0.0


def _fit(table: Table, register: str, ours: str, filled: Sequence[str]) -> float:
    """How well a column's values fit, 0 to 1. A key must be there in every row, each value once."""
    if ours == KEYS[register]:
        unique = len(set(filled)) / len(table.rows)
        return unique if unique > 0.999 else 0.3 * unique
    if ours in DAYS:
        return sum(any(letter.isdigit() for letter in cell) and len(cell) >= 4 for cell in filled) / len(
            filled
        )
    if ours in ("latitude", "longitude"):
        limit = 90 if ours == "latitude" else 180
        return float(all(_within(cell, limit) for cell in filled))
    if ours in NUMBERS:
        return sum(cell[0].isdigit() or cell[0] in ".$€£" for cell in filled) / len(filled)
    meanings = register_words().values.get(ours)
    if meanings and ours != "lamp":
        share = sum(cell.lower() in meanings for cell in filled) / len(filled)
        return share if share > 0.2 else 0.0
    if meanings:
        return 0.5 + 0.5 * sum(cell.lower() in meanings for cell in filled) / len(filled)
    return 1.0


def _within(cell: str, limit: float) -> bool:
    try:
        return abs(float(cell)) <= limit
    except ValueError:
        return False

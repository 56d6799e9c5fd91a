"""Which column is which field: by its name in many trades' usage, checked against its values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.evidence import (
    DatePair,
    Find,
    find_completion,
    find_labels,
    find_report,
    find_texts,
    registered,
)
from pipeline.ingest.fields import FIELDS
from pipeline.ingest.fits import confidence, confidence_word, empty_columns
from pipeline.ingest.joins import house_number, numbered, time_of_day
from pipeline.ingest.people_columns import role_of, unnamed_people
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms

_LEAST_CONFIDENCE = 0.35
_EMPTY = 0.5
# How many of their columns one of our fields may take by name.
_MOST_COLUMNS = {"category_text": 4}
_TEXTS = ("problem_text", "action_text")


@dataclass(frozen=True)
class Match:
    """A column proposed for a field, with a confidence from 0 to 1 and what it rests on.

    ``rank`` orders the columns of one field: a house number stands before its street, a time after its day.
    """

    field: str
    column: str
    confidence: float
    why: str = "its name"
    rank: int = 0

    @property
    def confidence_word(self) -> str:
        """The confidence as a word."""
        return confidence_word(self.confidence)


@dataclass(frozen=True)
class Matched:
    """All matches, in the order of our fields, and the columns that hold people."""

    matches: tuple[Match, ...]
    withheld: tuple[str, ...]
    technicians: tuple[str, ...]

    def columns(self) -> dict[str, tuple[str, ...]]:
        """Columns by field."""
        found: dict[str, tuple[str, ...]] = {}
        for match in self.matches:
            found[match.field] = (*found.get(match.field, ()), match.column)
        return found


def match_columns(
    profiles: Mapping[str, ColumnProfile],
    synonyms: Synonyms,
    given: Mapping[str, Sequence[str]],
    only_given: bool = False,
    pairs: Mapping[tuple[str, str], DatePair] | None = None,
    rows: int = 0,
    serials: bool = False,
) -> Matched:
    """Match columns to fields. ``given``: columns that a person named; raises InputFaults for unknown ones.

    ``only_given``: propose nothing beyond them. ``pairs``: the date columns compared; ``rows``: rows of the file.
    ``serials``: numbers may be days, as in a workbook.
    """
    _check_given(profiles, given)
    taken = {column for columns in given.values() for column in columns}
    people = {
        column: role
        for column in profiles
        if column not in taken and (role := role_of(profiles[column], synonyms))
    }
    matches = [Match(field, column, 1.0, "as told", place) for field, columns in given.items()
               for place, column in enumerate(columns)]  # fmt: skip
    if not only_given:
        free = [column for column in profiles if column not in people and column not in taken]
        matches += _by_names(profiles, synonyms, free, set(given), serials)
        people |= unnamed_people(profiles, [column for column in free if not _uses(matches, column)])
        _Filler(profiles, synonyms, matches, people, set(given)).fill(pairs or {}, rows)
    places, order = list(profiles), list(FIELDS)
    matches.sort(key=lambda match: (order.index(match.field), match.rank, places.index(match.column)))
    return Matched(
        tuple(matches),
        tuple(column for column in profiles if column in people),
        tuple(column for column, role in people.items() if role == "technician"),
    )


def _uses(matches: Sequence[Match], column: str) -> bool:
    return any(match.column == column for match in matches)


def _by_names(
    profiles: Mapping[str, ColumnProfile],
    synonyms: Synonyms,
    free: Sequence[str],
    given: set[str],
    serials: bool,
) -> list[Match]:
    """Matches by name, checked against the values; and columns that the registers recognise."""
    candidates = [
        Match(field, column, score)
        for column in free
        for field in FIELDS
        if field not in given
        and (score := confidence(field, profiles[column], synonyms, serials)) >= _LEAST_CONFIDENCE
    ]
    candidates += [
        Match(find.field, find.column, find.confidence, find.why)
        for find in registered(profiles, free)
        if find.field not in given
    ]
    return _assign(candidates)


class _Filler:
    """Adds to matches by name what the values show: fields still missing, and columns that go together."""

    def __init__(
        self,
        profiles: Mapping[str, ColumnProfile],
        synonyms: Synonyms,
        matches: list[Match],
        people: Mapping[str, str],
        given: set[str],
    ) -> None:
        self._profiles, self._synonyms, self._matches = profiles, synonyms, matches
        self._people, self._given = people, given

    def fill(self, pairs: Mapping[tuple[str, str], DatePair], rows: int) -> None:
        """Dates, texts and labels that no name gave; then parts of what was found."""
        self._dates(pairs, rows)
        self._join_times()
        self._join_numbered()  # before a further text of the same name is taken for another field
        self._add(find_texts(self._profiles, self._free(), self._missing(), self._synonyms))
        self._add(find_labels(self._profiles, self._free(), self._missing(), self._synonyms, rows))
        self._join_numbered()
        self._join_house_numbers()
        self._matches += [
            Match(field, column, _EMPTY, "its name; empty in this file")
            for field, column in empty_columns(self._profiles, self._free(), self._missing(), self._synonyms)
        ]

    def _free(self) -> list[str]:
        return [c for c in self._profiles if c not in self._people and not _uses(self._matches, c)]

    def _missing(self) -> set[str]:
        """Fields without a column; one that a person left without any is none of them."""
        return set(FIELDS) - {match.field for match in self._matches} - self._given

    def _column_of(self, field: str) -> str | None:
        """The column of a field that has just one, and that no person gave."""
        found = [match.column for match in self._matches if match.field == field]
        return found[0] if len(found) == 1 and field not in self._given else None

    def _add(self, finds: Sequence[Find], field: str = "", rank: int = 0) -> None:
        self._matches += [
            Match(find.field or field, find.column, find.confidence, find.why, rank) for find in finds
        ]

    def _dates(self, pairs: Mapping[tuple[str, str], DatePair], rows: int) -> None:
        if "reported_at" in self._missing():
            found = find_report(self._profiles, self._free(), pairs, self._synonyms, rows)
            self._add([found] if found else [])
        report = next((match.column for match in self._matches if match.field == "reported_at"), None)
        if report and "completed_at" in self._missing():
            found = find_completion(self._profiles, self._free(), pairs, self._synonyms, report)
            self._add([found] if found else [])

    def _join_times(self) -> None:
        for field in ("reported_at", "completed_at"):
            day = self._column_of(field)
            time = time_of_day(day, self._profiles, self._free(), self._synonyms) if day else None
            self._add([time] if time else [], field, rank=1)

    def _join_numbered(self) -> None:
        for field in _TEXTS:
            text = self._column_of(field)
            if text:
                self._add(numbered(field, text, self._profiles, self._free(), self._synonyms), field)

    def _join_house_numbers(self) -> None:
        address = self._column_of("address_text")
        house = house_number(address, self._profiles, self._free(), self._synonyms) if address else None
        self._add([house] if house else [], rank=-1)


def _check_given(profiles: Mapping[str, ColumnProfile], given: Mapping[str, Sequence[str]]) -> None:
    faults = [Fault("--column", f"'{field}' is not a field of a call.", f"Fields are: {', '.join(FIELDS)}.")
              for field in given if field not in FIELDS]  # fmt: skip
    faults += [
        Fault(
            "--column", f"'{column}' is not a column of the file.", f"Its columns are: {', '.join(profiles)}."
        )
        for columns in given.values()
        for column in columns
        if column not in profiles
    ]
    if faults:
        raise InputFaults(faults)


def _assign(candidates: list[Match]) -> list[Match]:
    """Best matches first, each column once; only categories take several columns by their names."""
    chosen: list[Match] = []
    for match in sorted(candidates, key=lambda one: -one.confidence):
        mine = [one for one in chosen if one.field == match.field]
        if not _uses(chosen, match.column) and len(mine) < _MOST_COLUMNS.get(match.field, 1):
            chosen.append(match)
    parts = {match.field for match in chosen} & {"labour_cost", "material_cost"}
    return [match for match in chosen if not (parts and match.field == "contract_cost" and _is_total(match))]


def _is_total(match: Match) -> bool:
    """A total beside labour or material holds them: as an amount of its own they would count twice."""
    return "total" in match.column.lower()

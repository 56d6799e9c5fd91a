"""Which column is which field: by its name in many trades' usage, checked against its values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.fields import FIELDS, Kind
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms

_LEAST_CONFIDENCE = 0.35
# How many of their columns one of our fields may take by proposal.
_MOST_COLUMNS = {"category_text": 4, "reported_at": 2, "completed_at": 2, "address_text": 2}


@dataclass(frozen=True)
class Match:
    """A column proposed for a field, with a confidence from 0 to 1."""

    field: str
    column: str
    confidence: float

    @property
    def confidence_word(self) -> str:
        """The confidence as a word."""
        return "sure" if self.confidence >= 0.85 else "likely" if self.confidence >= 0.6 else "a guess"


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
) -> Matched:
    """Match columns to fields. ``given``: columns that a person named; raises InputFaults for unknown ones.

    ``only_given``: propose nothing beyond them.
    """
    _check_given(profiles, given)
    taken = {column for columns in given.values() for column in columns}
    people = {
        column: role
        for column in profiles
        if column not in taken and (role := _role(profiles[column], synonyms))
    }
    candidates = [
        Match(field, column, score)
        for column, profile in profiles.items()
        if column not in people and column not in taken
        for field in FIELDS
        if not only_given
        and field not in given
        and (score := confidence(field, profile, synonyms)) >= _LEAST_CONFIDENCE
    ]
    matches = [Match(field, column, 1.0) for field, columns in given.items() for column in columns]
    matches += _assign(candidates, synonyms)
    places, order = list(profiles), list(FIELDS)
    matches.sort(key=lambda match: (order.index(match.field), places.index(match.column)))
    return Matched(
        tuple(matches),
        tuple(people),
        tuple(column for column, role in people.items() if role == "technician"),
    )


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


def _assign(candidates: list[Match], synonyms: Synonyms) -> list[Match]:
    """Best matches first, each column once; a field takes a second column only where parts or categories are meant."""
    chosen: list[Match] = []
    for match in sorted(candidates, key=lambda one: -one.confidence):
        mine = [one for one in chosen if one.field == match.field]
        if any(one.column == match.column for one in chosen) or len(mine) >= _MOST_COLUMNS.get(
            match.field, 1
        ):
            continue
        if mine and match.field != "category_text" and not _is_part(mine[0].column, match.column, synonyms):
            continue
        chosen.append(match)
    return chosen


def _is_part(first: str, second: str, synonyms: Synonyms) -> bool:
    """Whether two columns are a date and its time of day."""
    one, other = synonyms.plain(first).split(), synonyms.plain(second).split()
    return {*one} - {"date"} == {*other} - {"time"} and "time" in other and "time" not in one


def _role(profile: ColumnProfile, synonyms: Synonyms) -> str | None:
    """Whose column it is when it holds people or their numbers, by its values or its name."""
    if profile.phones > 0.5 or profile.emails > 0.5:
        return "contact"
    plain = synonyms.plain(profile.column)
    for role, names in synonyms.people.items():
        if plain in names:
            return role
    words = f" {plain} "
    for role, names in synonyms.people.items():
        if any(
            f" {name} " in words
            for name in names
            if name not in ("name", "contact", "customer", "cell", "extension")
        ):
            return role if profile.dates < 0.5 and profile.mean_length < 60 else None
    return "requester" if profile.names > 0.7 and "name" in plain.split() and "site" not in plain else None


def confidence(field: str, profile: ColumnProfile, synonyms: Synonyms) -> float:
    """From 0 to 1: how well a column's name and values fit a field; 0 when either rules it out."""
    if not profile.filled:
        return 0.0
    by_name = _by_name(field, synonyms.plain(profile.column), synonyms)
    return by_name * _by_values(field, profile) if by_name else 0.0


def _by_name(field: str, plain: str, synonyms: Synonyms) -> float:
    """1 for the most telling name down to 0.8 for the least; less when the name only contains one."""
    words = plain.split()
    if any(word in words for word in synonyms.never.get(field, ())):
        return 0.0
    names = synonyms.fields[field]
    if plain in names:
        return 1.0 - 0.2 * names.index(plain) / len(names)
    inside = [
        (len(name.split()) / len(words), -place)
        for place, name in enumerate(names)
        if f" {name} " in f" {plain} " and len(name) > 2
    ]
    return 0.4 + 0.4 * max(inside)[0] if inside else 0.0


def _by_values(field: str, profile: ColumnProfile) -> float:
    """How well the values fit the field's kind, 0 to 1."""
    kind: Kind = FIELDS[field].kind
    if kind == "time":
        clock_only = "time" in profile.column.lower() and profile.dates < 0.5
        return 0.6 if clock_only else profile.dates
    if profile.dates > 0.8:
        return 0.0
    if kind in ("hours", "money"):
        return profile.numbers if profile.numbers > 0.5 else 0.0
    if kind == "coordinate":
        limit = 90 if field == "latitude" else 180
        return float(profile.numbers > 0.5 and -limit <= profile.least and profile.most <= limit)
    return _TEXT_FIT[field](profile)


def _call_number(profile: ColumnProfile) -> float:
    return profile.distinct_share if profile.distinct_share > 0.5 and profile.mean_length < 30 else 0.0


def _status(profile: ColumnProfile) -> float:
    """A status column may use words of its own; that its values are few is enough."""
    few = profile.distinct <= 60 and profile.mean_length < 40
    return (0.7 + 0.3 * profile.meant["status"]) if few else 0.0


def _work_type(profile: ColumnProfile) -> float:
    """Many columns are called a type: only the values tell that it is the type of work."""
    return profile.meant["work_type"] if profile.meant["work_type"] > 0.5 else 0.0


def _category(profile: ColumnProfile) -> float:
    """Repeated short values; those that all name a status or a type of work belong there first."""
    if profile.distinct_share >= 0.2 or profile.distinct > 1000 or profile.mean_length >= 60:
        return 0.0
    return 0.5 if max(profile.meant.values()) > 0.8 else 1.0


def _text(profile: ColumnProfile) -> float:
    """Free text: letters, and more different values than a list of categories has."""
    if profile.numbers > 0.5 or profile.mean_length < 5:
        return 0.0
    variety = min(1.0, profile.distinct_share / 0.2) if profile.distinct > 30 else 0.1
    return 0.7 + 0.3 * variety if profile.filled < 100 else 0.45 + 0.55 * variety


def _address(profile: ColumnProfile) -> float:
    return 0.0 if profile.numbers > 0.5 else 0.6 + 0.4 * min(1.0, 2 * profile.addresses)


def _site(profile: ColumnProfile) -> float:
    return (
        0.0
        if profile.numbers > 0.9 and profile.mean_length > 8
        else 1.0 - 0.7 * min(1.0, 1.5 * profile.addresses)
    )


def _asset(profile: ColumnProfile) -> float:
    return 1.0 if profile.mean_length < 25 else 0.0


_TEXT_FIT = {
    "call_number": _call_number,
    "status": _status,
    "work_type": _work_type,
    "category_text": _category,
    "problem_text": _text,
    "action_text": _text,
    "address_text": _address,
    "site_text": _site,
    "asset_text": _asset,
}

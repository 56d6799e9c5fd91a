"""How well a column's name, checked against its values, fits a field."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from pipeline.ingest.fields import FIELDS, Kind
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms

_MUST_BE_FILLED = ("reported_at", "call_number", "problem_text")


def confidence(field: str, profile: ColumnProfile, synonyms: Synonyms, serials: bool = False) -> float:
    """From 0 to 1: how well a column's name and values fit a field; 0 when either rules it out.

    ``serials``: numbers may be days, as in a workbook.
    """
    if not profile.filled:
        return 0.0
    by_name = max(
        _by_name(field, synonyms.plain(profile.column), synonyms),
        0.95 * _by_name(field, synonyms.stem(profile.column), synonyms),
    )
    return by_name * _by_values(field, profile, serials) if by_name else 0.0


def confidence_word(confidence: float) -> str:
    """A confidence from 0 to 1 as a word."""
    return "sure" if confidence >= 0.85 else "likely" if confidence >= 0.6 else "a guess"


def empty_columns(
    profiles: Mapping[str, ColumnProfile], free: Sequence[str], missing: Collection[str], synonyms: Synonyms
) -> list[tuple[str, str]]:
    """Fields with a column that is called exactly so and is empty in this file: a later one may fill it.

    Not for what a call must have: that is looked for in the values.
    """
    found: dict[str, str] = {}
    for column in free:
        plain = synonyms.plain(column)
        for field in (name for name in FIELDS if name in missing and name not in _MUST_BE_FILLED):
            if (
                not profiles[column].filled
                and plain in synonyms.fields[field]
                and column not in found.values()
            ):
                found.setdefault(field, column)
    return list(found.items())


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


def _by_values(field: str, profile: ColumnProfile, serials: bool) -> float:
    """How well the values fit the field's kind, 0 to 1."""
    kind: Kind = FIELDS[field].kind
    if kind == "time":
        # A workbook's days may be bare numbers; the name has told already that they are days.
        return max(profile.dates, profile.serial_days if serials else 0.0)
    if profile.dates > 0.8:
        return 0.0
    if kind == "hours":
        return profile.looks.hours if profile.looks.hours > 0.5 else 0.0
    if kind == "money":
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
    """Free text: letters, and more different values than a list of categories has.

    A name that tells is believed where the texts are few and short ("out", "on"), though less.
    """
    if profile.numbers > 0.5 or profile.mean_length < 1.5:
        return 0.0
    if profile.mean_length < 5:
        return 0.5
    variety = min(1.0, profile.distinct_share / 0.2) if profile.distinct > 30 else 0.1
    return 0.7 + 0.3 * variety if profile.filled < 100 else 0.55 + 0.45 * variety


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


def _parent_number(profile: ColumnProfile) -> float:
    return 1.0 if profile.mean_length < 30 else 0.0


_TEXT_FIT = {
    "call_number": _call_number,
    "parent_number": _parent_number,
    "status": _status,
    "work_type": _work_type,
    "category_text": _category,
    "problem_text": _text,
    "action_text": _text,
    "address_text": _address,
    "site_text": _site,
    "asset_text": _asset,
}

"""Several of their columns that make one of ours: a day and its time, a house number and its street, numbered texts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.ingest.evidence import Find
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms

_TIME_WORDS = {"time", "hour", "hora", "heure", "uhrzeit", "zeit", "clock"}
_HOUSE_NAMES = {
    "house", "house number", "street number", "st number", "address number", "hausnr", "hausnummer", "haus number",
    "numero de calle", "numero exterior", "numero de rue", "number rue", "number exterior",
}  # fmt: skip
_DATE_WORDS = {"date", "day", "fecha", "datum", "jour", "tag"}


def time_of_day(
    day: str, profiles: Mapping[str, ColumnProfile], free: Sequence[str], synonyms: Synonyms
) -> Find | None:
    """The column with the times of a column of days: of the same name but for the word, or the next one."""
    if profiles[day].looks.timed > 0.1:
        return None
    labels = list(profiles)
    mine = _words(day, synonyms) - _DATE_WORDS
    for column in free:
        words = _words(column, synonyms)
        if _is_clock(profiles[column], words):
            alike = words - _TIME_WORDS == mine
            if alike or labels.index(column) == labels.index(day) + 1:
                return Find("", column, 0.85 if alike else 0.6, f"times of day that belong to '{day}'")
    return None


def _words(column: str, synonyms: Synonyms) -> set[str]:
    return set(synonyms.plain(column).split())


def _is_clock(profile: ColumnProfile, words: set[str]) -> bool:
    """Times with a colon; four digits without one only where the name says that they are times."""
    return profile.looks.clocks > 0.9 or (
        bool(words & _TIME_WORDS) and profile.looks.clocks + profile.looks.four_digits > 0.9
    )


def house_number(
    address: str, profiles: Mapping[str, ColumnProfile], free: Sequence[str], synonyms: Synonyms
) -> Find | None:
    """The column beside a street's that holds its house numbers: called so, or beside what can only be streets."""
    street = profiles[address]
    if street.looks.starts_with_digit > 0.2:
        return None
    labels = list(profiles)
    place = labels.index(address)
    for column in labels[max(0, place - 1) : place] + labels[place + 1 : place + 2]:
        named = synonyms.plain(column) in _HOUSE_NAMES
        if (
            column in free
            and (named or street.addresses >= 0.4)
            and profiles[column].looks.houses > 0.9
            and profiles[column].mean_length < 6.5
        ):
            return Find("address_text", column, 0.7, f"house numbers beside the streets of '{address}'")
    return None


def numbered(
    field: str, text: str, profiles: Mapping[str, ColumnProfile], free: Sequence[str], synonyms: Synonyms
) -> list[Find]:
    """Columns of the same telling name with a further number (DESC1, DESC2 …) that go on with a text."""
    stem = synonyms.stem(text)
    if stem not in synonyms.fields[field]:
        return []
    return [
        Find("", column, 0.7, f"goes on with '{text}'")
        for column in free
        if synonyms.stem(column) == stem and profiles[column].looks.words > 0 and profiles[column].dates < 0.5
    ][:4]

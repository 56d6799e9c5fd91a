"""Which columns hold people or their numbers, by their names and their values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms

# Alone they name a column of people; in a longer name they say nothing.
SAY_LITTLE = ("name", "contact", "customer", "cell", "extension")


def role_of(profile: ColumnProfile, synonyms: Synonyms) -> str | None:
    """Whose column it is when it holds people or their numbers, by its values or its name."""
    if profile.phones > 0.5 or profile.emails > 0.5:
        return "contact"
    plain = synonyms.plain(profile.column)
    for role, names in synonyms.people.items():
        if plain in names:
            return role
    if any(plain in names for names in synonyms.fields.values()) and profile.looks.people <= 0.7:
        return None  # a column called after a text of theirs (technician notes) is that text
    words = f" {plain} "
    for role, names in synonyms.people.items():
        if any(f" {name} " in words for name in names if name not in SAY_LITTLE):
            return role if profile.dates < 0.5 and profile.mean_length < 60 else None
    return "requester" if profile.names > 0.7 and "name" in plain.split() and "site" not in plain else None


def unnamed_people(profiles: Mapping[str, ColumnProfile], columns: Sequence[str]) -> dict[str, str]:
    """Columns nobody recognised by name whose cells are mostly first and last names."""
    return {
        column: "requester"
        for column in columns
        if profiles[column].looks.people > 0.7 and profiles[column].distinct >= 3
    }

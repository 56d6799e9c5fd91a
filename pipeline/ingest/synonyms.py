"""What columns and their values are called in work-order systems: the data of synonyms.toml, ready to ask."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pipeline.ingest.headers import normalised


@dataclass(frozen=True)
class Synonyms:
    """Names of columns by field, people's columns by role, values by their meaning; all in plain lower-case words."""

    fields: dict[str, tuple[str, ...]]
    people: dict[str, tuple[str, ...]]
    never: dict[str, tuple[str, ...]]
    values: dict[str, dict[str, tuple[str, ...]]]
    short_forms: dict[str, str]

    def plain(self, column: str) -> str:
        """A column's name in lower-case words, its short forms written out."""
        words = (self.short_forms.get(word, word) for word in normalised(column).split())
        return " ".join(word for word in words if word)

    def meanings(self, field: str) -> dict[str, str]:
        """Every known value of a choice, in lower case, with its meaning."""
        return {value: meaning for meaning, values in self.values.get(field, {}).items() for value in values}

    def names(self) -> set[str]:
        """Every known name of a column, to tell a header from other rows."""
        known = (*self.fields.values(), *self.people.values())
        return {name for names in known for name in names}


@cache
def read_synonyms() -> Synonyms:
    """The synonyms that ship with the package."""
    content = tomllib.loads(files("pipeline.ingest").joinpath("synonyms.toml").read_text(encoding="utf-8"))
    return Synonyms(
        fields={field: tuple(names) for field, names in content["fields"].items()},
        people={role: tuple(names) for role, names in content["people"].items()},
        never={field: tuple(words) for field, words in content["never"].items()},
        values={
            field: {meaning: tuple(values) for meaning, values in meanings.items()}
            for field, meanings in content["values"].items()
        },
        short_forms=content["short_forms"],
    )

"""What columns and their values are called in work-order systems: the data of synonyms.toml, ready to ask."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pipeline.ingest.headers import normalised


@dataclass(frozen=True)
class Synonyms:
    """Names of columns by field, people's columns by role, values by their meaning; all in plain lower-case words.

    ``telling``: words in cells by what a column that holds them is (action, problem, place).
    """

    fields: dict[str, tuple[str, ...]]
    people: dict[str, tuple[str, ...]]
    never: dict[str, tuple[str, ...]]
    values: dict[str, dict[str, tuple[str, ...]]]
    short_forms: dict[str, str]
    telling: dict[str, tuple[str, ...]]

    def plain(self, column: str) -> str:
        """A column's name in lower-case words without accents, its short forms written out: DESC2 is description 2."""
        spaced = re.sub(r"([^\W\d_])(\d+)$", r"\1 \2", normalised(without_accents(column)))
        words = (self.short_forms.get(word, word) for word in spaced.split())
        return " ".join(word for word in words if word)

    def stem(self, column: str) -> str:
        """The plain name without a number at its end."""
        return re.sub(r" \d+$", "", self.plain(column))

    def meanings(self, field: str) -> dict[str, str]:
        """Every known value of a choice, in lower case, with its meaning."""
        return {value: meaning for meaning, values in self.values.get(field, {}).items() for value in values}

    def names(self) -> set[str]:
        """Every known name of a column, to tell a header from other rows."""
        known = (*self.fields.values(), *self.people.values())
        return {name for names in known for name in names}


def without_accents(text: str) -> str:
    """Letters without accents; ligatures and sharp s as two letters."""
    for mark, letters in (
        ("œ", "oe"),
        ("æ", "ae"),
        ("ß", "ss"),
        ("Œ", "OE"),
        ("Æ", "AE"),
        ("ø", "o"),
        ("Ø", "O"),
    ):
        text = text.replace(mark, letters)
    plain = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


@cache
def read_synonyms() -> Synonyms:
    """The synonyms that ship with the package, English first, then the other languages' in the file's order."""
    content = tomllib.loads(files("pipeline.ingest").joinpath("synonyms.toml").read_text(encoding="utf-8"))
    pages = [content, *content["languages"].values()]
    return Synonyms(
        fields=_joined(page["fields"] for page in pages),
        people=_joined(page["people"] for page in pages),
        never=_joined(page["never"] for page in pages),
        values={
            field: _joined(page["values"].get(field, {}) for page in pages) for field in content["values"]
        },
        short_forms=content["short_forms"],
        telling=_joined(page["telling"] for page in pages),
    )


def _joined(tables: Iterable[dict[str, list[str]]]) -> dict[str, tuple[str, ...]]:
    """Lists of several tables by key, one after another."""
    found: dict[str, tuple[str, ...]] = {}
    for table in tables:
        for key, words in table.items():
            found[key] = (*found.get(key, ()), *words)
    return found


@cache
def ordinary_words() -> tuple[str, ...]:
    """Words that are no part of a person's name, in the order of privacy.toml."""
    content = tomllib.loads(files("pipeline.ingest").joinpath("privacy.toml").read_text(encoding="utf-8"))
    return (*content["not_names"], *content["titles"])

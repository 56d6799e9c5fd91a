"""Read lexicon.toml, ours and the portfolio's, and say everything that is wrong in it at once."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from rapidfuzz import process

from pipeline.faults import Fault, InputFaults
from pipeline.lexicon.phrases import GAP, LONGEST_PHRASE
from pipeline.lexicon.words import split_words
from pipeline.pages import read_toml

FILE = "lexicon.toml"
Phrases = dict[tuple[str, str], str]  # (layer, phrase as written) -> value


@dataclass
class Content:
    """What the pages say together: forms, spelling lists and phrases."""

    forms: dict[str, str] = field(default_factory=dict)
    place_forms: dict[str, str] = field(default_factory=dict)
    mended: set[str] = field(default_factory=set)
    known: set[str] = field(default_factory=set)
    phrases: Phrases = field(default_factory=dict)
    values: dict[str, list[str]] = field(default_factory=dict)  # layer -> the values it may have


def read_content(folder: Path | None) -> Content:
    """The built-in words, and the portfolio's on top where it has a page of its own."""
    content = Content()
    own = files("pipeline.lexicon").joinpath(FILE).read_text(encoding="utf-8")
    faults = list(_take(content, tomllib.loads(own), FILE, built_in=True))
    page = folder / FILE if folder else None
    if page is not None and page.is_file():
        faults += _take(content, read_toml(page), str(page.name), built_in=False)
    if faults:
        raise InputFaults(faults)
    return content


def _take(content: Content, page: Mapping[str, Any], file: str, *, built_in: bool) -> Iterator[Fault]:
    """Add a page to the content; yields what is wrong in it."""
    if page.get("format") != 1:
        yield Fault(
            f"{file}, format", f"must be 1 (found {page.get('format')!r}).", "Put `format = 1` at the top."
        )
    for key in page:
        if key not in ("format", "forms", "place_forms", "spelling", "phrases", "remove"):
            yield Fault(
                f"{file}, {key}",
                "is not a part of a lexicon.",
                "Parts: forms, place_forms, spelling, phrases, remove.",
            )
    yield from _take_forms(content.forms, page.get("forms", {}), f"{file}, forms")
    yield from _take_forms(content.place_forms, page.get("place_forms", {}), f"{file}, place_forms")
    yield from _take_spelling(content, page.get("spelling", {}), file)
    yield from _take_phrases(content, page.get("phrases", {}), file, built_in=built_in)
    yield from _remove_phrases(content, page.get("remove", {}), file)


def _take_forms(forms: dict[str, str], table: Any, part: str) -> Iterator[Fault]:
    if not isinstance(table, dict):
        yield Fault(part, "must be a table of lists.")
        return
    claimed: dict[str, str] = {}
    for known_form, variants in table.items():
        where = f"{part}.{known_form}"
        words, fault = _texts(variants, where)
        if fault:
            yield fault
        for word in words:
            if len(split_words(word).words) != 1:
                yield Fault(where, f"'{word}' is not one word.", "Put phrases of several words in [phrases].")
            elif word in claimed and claimed[word] != known_form:
                yield Fault(where, f"'{word}' is also a form of '{claimed[word]}'.", "Keep one of the two.")
            claimed[word] = known_form
            forms[word.lower()] = known_form.lower()


def _take_spelling(content: Content, table: Any, file: str) -> Iterator[Fault]:
    if not isinstance(table, dict):
        yield Fault(f"{file}, spelling", "must be a table with lists 'mended' and 'known'.")
        return
    for key, listed in table.items():
        where = f"{file}, spelling.{key}"
        words, fault = _texts(listed, where)
        if fault:
            yield fault
        if key == "mended":
            content.mended.update(word.lower() for word in words)
        elif key == "known":
            content.known.update(word.lower() for word in words)
        else:
            yield Fault(where, "is not a spelling list.", "Use 'mended' or 'known'.")


def _take_phrases(content: Content, tables: Any, file: str, *, built_in: bool) -> Iterator[Fault]:
    mine: Phrases = {}
    for layer, value, phrase, where in _phrases(content, tables, file, "phrases", built_in=built_in):
        if isinstance(phrase, Fault):
            yield phrase
            continue
        other = mine.get((layer, phrase))
        if other not in (None, value):
            yield Fault(where, f"'{phrase}' is also in '{other}'.", "A phrase has one meaning in a table.")
        mine[layer, phrase] = value
    content.phrases.update(mine)


def _remove_phrases(content: Content, tables: Any, file: str) -> Iterator[Fault]:
    for layer, value, phrase, where in _phrases(content, tables, file, "remove", built_in=False):
        if isinstance(phrase, Fault):
            yield phrase
        elif content.phrases.get((layer, phrase)) != value:
            yield Fault(where, f"'{phrase}' is not there to remove.", "Write it as the built-in list does.")
        else:
            del content.phrases[layer, phrase]


def _phrases(
    content: Content, tables: Any, file: str, part: str, *, built_in: bool
) -> Iterator[tuple[str, str, str | Fault, str]]:
    """(layer, value, phrase or what is wrong with it, where) of every phrase in a part of the page."""
    if not isinstance(tables, dict):
        yield "", "", Fault(f"{file}, {part}", "must hold tables of lists."), ""
        return
    for layer, table in tables.items():
        if not isinstance(table, dict):
            yield layer, "", Fault(f"{file}, {part}.{layer}", "must be a table of lists."), ""
            continue
        for value, listed in table.items():
            where = f'{file}, {part}.{layer}."{value}"'
            if built_in:
                content.values.setdefault(layer, []).append(value)
            elif value not in content.values.get(layer, ()):
                yield layer, value, _unknown(content, layer, value, where), where
                continue
            words, fault = _texts(listed, where)
            if fault:
                yield layer, value, fault, where
            for phrase in words:
                yield layer, value, _checked(phrase, where), where


def _checked(phrase: str, where: str) -> str | Fault:
    words = phrase.lower().split()
    if len(words) > LONGEST_PHRASE:
        return Fault(where, f"'{phrase}' has more than {LONGEST_PHRASE} words.", "Shorten it.")
    if not words or words[0] == GAP or words[-1] == GAP:
        return Fault(where, f"'{phrase}' needs a word at each end.", f"'{GAP}' stands between words only.")
    if any(not split_words(word).words for word in words if word != GAP):
        return Fault(where, f"'{phrase}' holds something that is not a word.", "Use letters and digits.")
    return " ".join(words)


def _unknown(content: Content, layer: str, value: str, where: str) -> Fault:
    if layer not in content.values:
        return Fault(where, f"'{layer}' is not a table of phrases.", f"Tables: {', '.join(content.values)}.")
    near = process.extractOne(value, content.values[layer], score_cutoff=60)
    known = f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(content.values[layer])}."
    return Fault(where, f"'{value}' is not a value of '{layer}'.", known)


def _texts(listed: Any, where: str) -> tuple[list[str], Fault | None]:
    if isinstance(listed, list) and all(isinstance(item, str) and item.strip() for item in listed):
        return [item.strip() for item in listed], None
    return [], Fault(where, "must be a list of words in quotes, none of them empty.")

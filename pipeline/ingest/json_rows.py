"""Calls as JSON: one array of objects, or one object after another (JSON lines), as rows of text cells.

Streamed, one object in memory at a time. Nested names are joined by dots, the items of a list by `` | ``; numbers
keep their digits as written. The columns are the names of all objects, sorted, because an object has no order
(RFC 8259, section 4).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from pipeline.faults import InputFaults
from pipeline.ingest.dialect import LARGEST_CELL_CHARACTERS, LARGEST_LINE_CHARACTERS
from pipeline.ingest.encodings import text_encoding
from pipeline.numerals import count_text

ITEM_JOINT = " | "
_MOST_NAMES = 2_000
_DEEPEST = 20
_CHUNK = 1 << 18
_BLANK = re.compile(r"[ \t\r\n]*")
_LONE_SURROGATE = re.compile("[\ud800-\udfff]")
_AGAIN = "Export one array of objects, or one object a line."


@dataclass(frozen=True)
class JsonForm:
    """Encoding (a Python codec name) and the columns: the names of all objects, sorted."""

    encoding: str
    names: tuple[str, ...]

    def __str__(self) -> str:
        return "JSON objects"


class _Refused(Exception):
    """What is wrong with an object, while it is parsed; the place is known further out."""


def json_form(path: Path, name: str) -> JsonForm:
    """Read a JSON file once for its columns; raises InputFaults naming the object that cannot be read."""
    encoding = text_encoding(path, name)
    names: set[str] = set()
    number = 0
    for number, cells in _flat_objects(path, name, encoding):
        names.update(cells)
        if len(names) > _MOST_NAMES:
            raise InputFaults.one(
                f"{name}, object {count_text(number)}",
                f"brings the columns to over {count_text(_MOST_NAMES)}, as many as can be read.",
                "Export fewer of them, or objects that share their names.",
            )
    if not number:
        raise InputFaults.one(name, "holds no object.", _AGAIN)
    return JsonForm(encoding, tuple(sorted(names)))


def json_rows(path: Path, name: str, form: JsonForm) -> Iterator[tuple[int, list[str]]]:
    """Row 0: the columns' names; then object 1, 2 …, blank where it lacks a name."""
    yield 0, list(form.names)
    for number, cells in _flat_objects(path, name, form.encoding):
        yield number, [cells.get(column, "") for column in form.names]


def _flat_objects(path: Path, name: str, encoding: str) -> Iterator[tuple[int, dict[str, str]]]:
    number = 0
    with path.open(encoding=encoding, newline="") as file:
        objects = _objects(file)
        while True:
            try:
                found = next(objects, None)
                if found is None:
                    return
                cells = flattened(found)
            except _Refused as error:
                raise InputFaults.one(
                    f"{name}, object {count_text(number + 1)}", str(error), _AGAIN
                ) from error
            number += 1
            yield number, cells


def _objects(file: IO[str]) -> Iterator[dict[str, Any]]:
    """The objects of an array, or those that follow one another; raises _Refused."""
    text = _Ahead(file)
    in_array = text.next_is("[")
    if in_array:
        text.take()
    count = 0
    while text.peek() and not (in_array and text.next_is("]")):
        if count and in_array:
            text.take_comma()
        if not text.next_is("{"):
            raise _Refused("is not an object with named values.")
        found = text.value()
        count += 1
        if count == 1 and not in_array:
            # One object that wraps the list of calls looks like the first of several: told apart by what follows.
            wrapped = next((key for key, value in found.items() if _is_list_of_objects(value)), None)
            if wrapped is not None and not text.peek():
                raise _Refused(f"is the only one and wraps a list ('{wrapped}'): the list alone can be read.")
        yield found
    if in_array:
        text.end_array()


def _is_list_of_objects(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(item, dict) for item in value)


class _Ahead:
    """Text read in pieces, of which no more is held than one object needs."""

    def __init__(self, file: IO[str]) -> None:
        self._file, self._held, self._place, self._ended = file, "", 0, False
        self._decoder = json.JSONDecoder(
            object_pairs_hook=_unrepeated, parse_int=str, parse_float=str, parse_constant=str
        )

    def _read_more(self) -> None:
        held = self._held[self._place :]
        more = self._file.read(max(_CHUNK, len(held)))
        self._held, self._place, self._ended = held + more, 0, not more

    def peek(self) -> str:
        """The next character that is no blank; empty at the end of the file."""
        while True:
            self._place = _BLANK.match(self._held, self._place).end()  # type: ignore[union-attr]
            if self._place < len(self._held) or self._ended:
                return self._held[self._place : self._place + 1]
            self._read_more()

    def next_is(self, character: str) -> bool:
        return self.peek() == character

    def take(self) -> None:
        self._place += 1

    def take_comma(self) -> None:
        if not self.next_is(","):
            raise _Refused("does not follow a comma: the array is damaged there.")
        self.take()

    def end_array(self) -> None:
        if not self.peek():
            raise _Refused("is missing: the array breaks off without its closing bracket.")
        self.take()
        if self.peek():
            raise _Refused("follows the end of the array.")

    def value(self) -> dict[str, Any]:
        """The object that begins here, reading on while it is incomplete."""
        while True:
            try:
                found, self._place = self._decoder.raw_decode(self._held, self._place)
                return found  # type: ignore[no-any-return]
            except RecursionError:
                raise _Refused("is nested too deep.") from None
            except json.JSONDecodeError as error:
                if self._ended:
                    raise _Refused(f"is no well-formed JSON or breaks off ({error.msg}).") from error
                if len(self._held) - self._place > LARGEST_LINE_CHARACTERS:
                    raise _Refused(
                        "is damaged, wraps all the others, or is longer than "
                        f"{count_text(LARGEST_LINE_CHARACTERS)} characters."
                    ) from error
            self._read_more()


def _unrepeated(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [key for key, _ in pairs]
        repeated = next(key for key in names if names.count(key) > 1)
        raise _Refused(f"has the name '{repeated}' twice, and which value counts is unknown.")
    return found


def flattened(record: dict[str, Any]) -> dict[str, str]:
    """One object as cells: names of nested ones joined by dots, items of lists by ITEM_JOINT; null is blank."""
    found: dict[str, list[str]] = {}
    _collect(record, "", found, 0)
    return {path: ITEM_JOINT.join(texts) for path, texts in found.items()}


def _collect(value: Any, path: str, found: dict[str, list[str]], depth: int) -> None:
    if depth > _DEEPEST:
        raise _Refused("is nested too deep.")
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            _collect(inner, f"{path}.{key}" if depth else key, found, depth + 1)
    elif isinstance(value, list) and value:
        for item in value:
            _collect(item, path, found, depth + 1)
    elif value is None or isinstance(value, dict | list):
        if depth == 0:  # an object of nothing is a blank row, not a column without a name
            return
        found.setdefault(_whole(path), [])
    else:
        text = str(value).lower() if isinstance(value, bool) else value
        if len(text) > LARGEST_CELL_CHARACTERS:
            raise _Refused(
                f"has a value longer than {count_text(LARGEST_CELL_CHARACTERS)} characters ('{path}')."
            )
        found.setdefault(_whole(path), []).append(_whole(text))


def _whole(text: str) -> str:
    """Half a surrogate pair is no character and cannot be stored: it becomes U+FFFD, as Unicode advises."""
    return text if text.isascii() else _LONE_SURROGATE.sub("\ufffd", text)

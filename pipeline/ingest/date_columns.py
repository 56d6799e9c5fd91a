"""A date column read by its distinct days and hours: a log of millions of rows has few of them.

The minutes and seconds of a text are set to fixed ones; what the text so made (its key) proves and gives is asked of
pipeline/ingest/dates.py, and the minutes are added again. A key whose time does not go with its minutes (a clock
change within the hour) is known by its first and last minute, and its rows are read one by one. Where a format of the
column fits a text letter by letter, neither is needed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.store import Store

# A round time stays round and any other does not become so: some systems write midnight for a day alone.
_ROUND, _OTHER = "00", "30"


def _never(text: str) -> str:
    return "NULL::TIMESTAMP"


@dataclass(frozen=True)
class DateColumn:
    """A date text of a relation: the SQL of the text, and the table of its keys.

    The table has key and rows, and once it was read also time, pace and seconds. ``written``: of a text, SQL of its
    time where one of the column's formats fits it letter by letter, as it does in most rows; NULL elsewhere.
    """

    table: str
    text: str
    written: Callable[[str], str] = _never

    @property
    def as_written(self) -> str:
        """SQL: a row's time, where a format fits its text letter by letter."""
        return self.written(self.text)

    @property
    def key(self) -> str:
        """SQL: the key of a text that has none of the formats letter by letter."""
        return f"CASE WHEN {self.as_written} IS NULL THEN {_key(self.text)} END"

    @property
    def join(self) -> str:
        """SQL: joins the key's row to a row of the relation."""
        return f" LEFT JOIN {self.table} ON {self.table}.key = {self.key}"

    def time(self, read: Callable[[str], str]) -> str:
        """SQL: the TIMESTAMP of a row to which the key's row of ``table`` is joined."""
        return (
            f"coalesce({self.as_written}, "
            f"CASE WHEN {self.text} IS NULL THEN NULL WHEN {self.table}.pace = 0 THEN {self.table}.time "
            f"WHEN {self.table}.pace = 1 "
            f"THEN {self.table}.time + to_seconds({_seconds(self.text)} - {self.table}.seconds) "
            f"ELSE {read(self.text)} END)"
        )

    def is_unread(self, read: Callable[[str], str]) -> str:
        """SQL: whether a row has no time, where the key's row of ``table`` is joined."""
        return (
            f"CASE WHEN {self.text} IS NULL THEN true WHEN {self.as_written} IS NOT NULL THEN false "
            f"WHEN {self.table}.pace IS NULL THEN {read(self.text)} IS NULL ELSE {self.table}.time IS NULL END"
        )


def gather_keys(store: Store, relation: str, text: str, unless: str = "false") -> DateColumn:
    """Make the table of the distinct keys of a column of a relation, with the number of rows of each.

    ``unless``: SQL of the rows that are left out.
    """
    column = DateColumn(f"dates_of_{text}", text)
    store.run(
        f"CREATE OR REPLACE TEMP TABLE {column.table} AS SELECT key, count(*) AS rows FROM "  # noqa: S608 - names of ours
        f"(SELECT CASE WHEN ({unless}) IS NOT TRUE THEN {_key(text)} END AS key FROM {relation}) "
        "WHERE key IS NOT NULL GROUP BY key"
    )
    return column


def read_keys(store: Store, column: DateColumn, read: Callable[[str], str]) -> None:
    """Add the time and pace of each key that is needed.

    Pace: 1 where minutes go on as written, 0 where they do not count, else NULL.
    """
    early, late = _with_minute("key", "'01'"), _with_minute("key", "'59'")
    store.run(
        f"""
        CREATE OR REPLACE TEMP TABLE {column.table} AS
        SELECT key, time, seconds, CASE
            WHEN NOT has_minutes OR (time IS NULL AND early IS NULL AND late IS NULL) THEN 0
            WHEN late = early AND time = early THEN 0
            WHEN late - early = to_minutes(58) AND time - early = to_minutes(seconds // 60 - 1) THEN 1
          END AS pace
        FROM (
          SELECT key, {_HAS_MINUTES.replace("TEXT", "key")} AS has_minutes, {_seconds("key")} AS seconds,
            {read("key")} AS time, {read("early_text")} AS early, {read("late_text")} AS late
          FROM (SELECT key, {early} AS early_text, {late} AS late_text FROM {column.table}
                WHERE {column.written("key")} IS NULL)
        )
        """  # noqa: S608 - names of ours
    )


# Two digits from 00 to 59 after the first colon, and after the second.
_HAS_MINUTES = (
    "(substr(TEXT, strpos(TEXT, ':') + 1, 1) BETWEEN '0' AND '5' AND substr(TEXT, strpos(TEXT, ':') + 2, 1) "
    "BETWEEN '0' AND '9' AND substr(TEXT, strpos(TEXT, ':') + 3, 1) NOT BETWEEN '0' AND '9' AND contains(TEXT, ':'))"
)
_HAS_SECONDS = "regexp_matches(TEXT, '^[^:]*:[0-5][0-9]:[0-5][0-9](?:[^0-9]|$)')"
_COLON = "strpos(TEXT, ':')"
_MINUTE, _SECOND = f"substr(TEXT, {_COLON} + 1, 2)", f"substr(TEXT, {_COLON} + 4, 2)"


def _key(text: str) -> str:
    """SQL: a text with fixed minutes and seconds; unchanged where it has none."""
    end = (
        f"CASE WHEN substr(TEXT, {_COLON} + 3, 1) = ':' AND {_HAS_SECONDS} "
        f"THEN ':' || {_fixed(_SECOND)} || substr(TEXT, {_COLON} + 6) ELSE substr(TEXT, {_COLON} + 3) END"
    )
    return _with_minute(text, _fixed(_MINUTE), end)


def _fixed(digits: str) -> str:
    return f"CASE WHEN {digits} = '{_ROUND}' THEN '{_ROUND}' ELSE '{_OTHER}' END"


def _with_minute(text: str, minute: str, end: str = f"substr(TEXT, {_COLON} + 3)") -> str:
    """SQL: a text with another minute, and what comes after it."""
    changed = f"left(TEXT, {_COLON}) || {minute} || {end}"
    return f"CASE WHEN {_HAS_MINUTES} THEN {changed} ELSE TEXT END".replace("TEXT", text)


def _seconds(text: str) -> str:
    """SQL: seconds after the full hour, of a text that has minutes."""
    seconds = (
        f"CASE WHEN substr(TEXT, {_COLON} + 3, 1) = ':' AND {_HAS_SECONDS} THEN {_SECOND}::INTEGER ELSE 0 END"
    )
    return f"CASE WHEN {_HAS_MINUTES} THEN {_MINUTE}::INTEGER * 60 + {seconds} END".replace("TEXT", text)

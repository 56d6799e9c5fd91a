"""Money, hours and coordinates as text, and the SQL that reads them; the decimal sign is decided per column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from pipeline.store import Store

Decimal = Literal["point", "comma"]


@dataclass(frozen=True)
class Decimals:
    """The decimal sign of a table's columns: ``usual`` for all but those that prove the other one."""

    usual: Decimal = "point"
    others: dict[str, Decimal] = field(default_factory=dict)

    @classmethod
    def of(cls, proven: Mapping[str, Decimal | None]) -> Decimals:
        """Each column's own sign where it proves one, else the usual one.

        The usual sign is the comma where some column proves it and none the point.
        """
        usual: Decimal = "comma" if set(proven.values()) - {None} == {"comma"} else "point"
        return cls(usual, {name: sign for name, sign in proven.items() if sign and sign != usual})


def proven_decimal(store: Store, table: str, expression: str) -> Decimal | None:
    """The sign that a column's values prove; None where they prove none, or both.

    What stands before the last one or two digits parts no thousands, nor what stands before four or more.
    """
    text, last = f"trim({expression})", r"[0-9]{1,2}(?:[^0-9].*)?$|[0-9]{4,}(?:[^0-9].*)?$"
    commas, points = store.row(
        f"SELECT count(*) FILTER (regexp_matches({text}, '[0-9],(?:{last})')), "  # noqa: S608 - a name of ours
        f"count(*) FILTER (regexp_matches({text}, '[0-9]?\\.(?:{last})')) FROM {table}"
    )
    return None if bool(commas) == bool(points) else "comma" if commas else "point"


def plain_number_sql(expression: str, decimal: Decimal) -> str:
    """SQL: the digits, sign and point of a number's text, NULL when something else stands there.

    Accepts currency signs and codes, thousands separated by comma, point, space or apostrophe, and negative amounts
    with a minus before or behind or in accounting brackets.
    """
    # A sign or code: letters and currency signs (Unicode class Sc), with blanks between them and the digits.
    sign, inside = (
        r"[\p{L}\p{Sc} \x{a0}\x{202f}.]*[\p{L}\p{Sc} \x{a0}\x{202f}]",
        r"[\p{L}\p{Sc} \x{a0}\x{202f}]*",
    )
    text = rf"regexp_replace(trim({expression}), '^({inside})\((.*)\)({inside})$', '-\1\2\3')"
    text = rf"regexp_replace({text}, '^(.*[0-9].*)-$', '-\1')"
    text = rf"regexp_replace({text}, '^(-?){sign}(-?)', '\1\2')"
    text = rf"regexp_replace({text}, '(?:[\p{{L}}\p{{Sc}} \x{{a0}}\x{{202f}}]+\.?)?$', '')"
    thousands, point = (",", ".") if decimal == "point" else (".", ",")
    grouped = rf"^-?[0-9]{{1,3}}([{thousands} ''’\x{{a0}}\x{{202f}}][0-9]{{3}})+({chr(92)}{point}[0-9]*)?$"
    text = (
        f"CASE WHEN regexp_matches({text}, '{grouped}') "
        rf"THEN regexp_replace({text}, '[{thousands} ''’\x{{a0}}\x{{202f}}]', '', 'g') ELSE {text} END"
    )
    if decimal == "comma":
        text = f"replace({text}, ',', '.')"
    return f"nullif(regexp_extract({text}, '^-?[0-9]*\\.?[0-9]+$|^-?[0-9]+\\.$'), '')"


def money_sql(expression: str, decimal: Decimal) -> str:
    """SQL: an amount as DECIMAL(18,4), NULL where unreadable."""
    return f"try_cast({plain_number_sql(expression, decimal)} AS DECIMAL(18,4))"


def number_sql(expression: str, decimal: Decimal) -> str:
    """SQL: a number as DOUBLE, NULL where unreadable."""
    return f"try_cast({plain_number_sql(expression, decimal)} AS DOUBLE)"


def hours_sql(expression: str, decimal: Decimal) -> str:
    """SQL: hours as DOUBLE from ``1.5``, ``1:30``, ``1h 30m``, ``90 min``; NULL where unreadable."""
    text = f"lower(trim({expression}))"
    clock = r"^([0-9]{1,4}):([0-9]{2})(?::[0-9]{2})?$"
    worded = (
        r"^(?:([0-9]+) ?(?:h|hr|hrs|hour|hours|std)\.?)? ?(?:([0-9]+) ?(?:m|min|mins|minute|minutes)\.?)?$"
    )
    joined = r"^([0-9]+) ?h ?([0-5][0-9])$"

    def parts(pattern: str) -> str:
        hours = f"coalesce(try_cast(regexp_extract({text}, '{pattern}', 1) AS DOUBLE), 0)"
        minutes = f"coalesce(try_cast(regexp_extract({text}, '{pattern}', 2) AS DOUBLE), 0)"
        return f"{hours} + {minutes} / 60"

    return (
        f"CASE WHEN regexp_matches({text}, '{clock}') THEN {parts(clock)} "
        f"WHEN regexp_matches({text}, '{joined}') THEN {parts(joined)} "
        f"WHEN {text} <> '' AND regexp_matches({text}, '{worded}') THEN {parts(worded)} "
        f"ELSE {number_sql(expression, decimal)} END"
    )

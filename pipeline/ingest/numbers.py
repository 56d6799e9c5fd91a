"""Money, hours and coordinates as text, and the SQL that reads them; the decimal sign is decided per file."""

from __future__ import annotations

from typing import Literal

from pipeline.store import Store

Decimal = Literal["point", "comma"]


def decide_decimal(store: Store, table: str, expressions: list[str]) -> Decimal:
    """``comma`` when values end in a comma and one or two digits and none in a point and one or two digits."""
    commas = points = 0
    for expression in expressions:
        with_comma, with_point = store.row(
            f"SELECT count(*) FILTER (regexp_matches(trim({expression}), ',[0-9]{{1,2}}[^0-9]*$')), "  # noqa: S608
            f"count(*) FILTER (regexp_matches(trim({expression}), '\\.[0-9]{{1,2}}[^0-9]*$')) FROM {table}"
        )
        commas, points = commas + with_comma, points + with_point
    return "comma" if commas and not points else "point"


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
    text = f"regexp_replace({text}, '{inside}$', '')"
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

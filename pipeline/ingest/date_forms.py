"""How a date's text is formed, and the format that reads each form.

A value is first reduced to its shape (``7/4/2011 1:05 PM`` becomes ``d/d/y d:d p``); each shape has at most one format.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

from pipeline.ingest.months import MONTH_WORD, WEEKDAY, english_month_sql

DateOrder = Literal["day first", "month first"]
DATE_ORDERS: tuple[DateOrder, ...] = ("day first", "month first")

_MONTHS = "JANUARY|FEBRUARY|MARCH|APRIL|MAY|JUNE|JULY|AUGUST|SEPTEMBER|OCTOBER|NOVEMBER|DECEMBER"
_SHORT_MONTHS = "JAN|FEB|MAR|APR|JUN|JUL|AUG|SEP|OCT|NOV|DEC"
# Offsets from UTC of the abbreviations that North American systems print (common usage, from memory).
_ZONES = {"UTC": "+00:00", "GMT": "+00:00", "EST": "-05:00", "EDT": "-04:00", "CST": "-06:00", "CDT": "-05:00",
          "MST": "-07:00", "MDT": "-06:00", "PST": "-08:00", "PDT": "-07:00"}  # fmt: skip


def date_text(expression: str) -> str:
    """SQL: a date's text in upper case, spaces single, UTC's Z as an offset, SEPT as SEP, and odd ends made plain.

    The name of a weekday before it goes.
    """
    text = rf"regexp_replace(upper(trim({expression}, ' ' || chr(9) || chr(160))), '\s+', ' ', 'g')"
    text = rf"regexp_replace({text}, '([0-9])Z$', '\1+00:00')"
    text = rf"regexp_replace({text}, '\bSEPT\b', 'SEP')"
    text = f"regexp_replace({text}, '{WEEKDAY}', '')"
    # Few columns have these ends, so that one look spares the rest the work.
    odd = r"(?: [A-Z]{3}|[/.\-][0-9]{2,4} [0-9]{3,4}|[0-9] ?[AP](?:\. ?M\.?)?)$"
    named, ended = f"regexp_matches(d, '{MONTH_WORD}')", _plain_end("d")
    plain = (
        f"CASE WHEN regexp_matches(d, '{odd}') "
        f"THEN CASE WHEN {named} THEN {english_month_sql(ended)} ELSE {ended} END "
        f"WHEN {named} THEN {english_month_sql('d')} ELSE d END"
    )
    return f"list_transform([{text}], lambda d: {plain})[1]"


def _plain_end(text: str) -> str:
    """SQL: ``P.M.`` and ``P`` as PM, 1430 after a date as 14:30, and a zone's abbreviation as its offset."""
    text = rf"regexp_replace({text}, '([0-9]) ?([AP])(?:\. ?M\.?)?$', '\1 \2M')"
    text = rf"regexp_replace({text}, '([0-9][/.\-][0-9]{{2,4}}) ([0-9]{{1,2}})([0-9]{{2}})$', '\1 \2:\3')"
    for zone, offset in _ZONES.items():
        text = rf"regexp_replace({text}, '([0-9]|[AP]M) {zone}$', '\1{offset}')"
    return text


def shape_sql(text: str) -> str:
    """SQL: a date text's shape: years y, one or two digits d, eight e, month names n or b, AM/PM p, fractions f."""
    steps = (
        (r"\b(?:19|20)[0-9]{6}\b", "e"),
        (r"\.[0-9]{1,9}\b(\s?[AP]M|[+\-][0-9:]+)?$", r".f\1"),
        (r"[0-9]{4}", "y"),
        (r"[0-9]{1,2}", "d"),
        (rf"\b(?:{_SHORT_MONTHS})\b", "b"),
        (rf"\b(?:{_MONTHS})\b", "n"),
        (r"\b([d ])[AP]M\b", r"\1p"),
    )
    # Fractions follow seconds only: in 04.07.11 the last part is a year.
    for pattern, token in steps:
        if token.startswith(".f"):
            text = (
                rf"CASE WHEN regexp_matches({text}, ':[0-9]{{2}}\.') "
                rf"THEN regexp_replace({text}, '{pattern}', '{token}') ELSE {text} END"
            )
        else:
            text = f"regexp_replace({text}, '{pattern}', '{token}', 'g')"
    return text


def formats_for(shapes: Sequence[str], order: DateOrder | None) -> list[str]:
    """The formats of the shapes that are dates, in the given order of day and month; years of two digits first.

    A format with a year of four digits would read one of two as a year of antiquity; the other way round it refuses.
    """
    formats = (format_of(shape, order) for shape in shapes)
    return sorted(dict.fromkeys(found for found in formats if found), key=lambda found: "%Y" in found)


def format_of(shape: str, order: DateOrder | None) -> str | None:
    """A shape's format for strptime, or None when it is no date (or needs an order that is not given)."""
    match = re.match(r"(?P<date>e|[dybn][dybn/.,\- ]*?)(?:(?P<gap>[T ])(?P<time>d:d.*))?$", shape)
    if not match:
        return None
    day, clock = _date_format(match["date"], order), _time_format(match["time"])
    if day is None or clock is None:
        return None
    return f"{day}{match['gap']}{clock}" if match["time"] else day


def _date_format(shape: str, order: DateOrder | None) -> str | None:
    known = re.fullmatch(
        r"(?P<iso>y([/.\-])d\2d)|(?P<whole>e)|(?P<numeric>d([/.\-])d\5[dy])"
        r"|d[ \-.]{0,2}[bn][ \-.,]{0,2}[dy]|[bn][. \-]{1,2}d,?[ \-]?[dy]|y[ \-][bn][ \-]d",
        shape,
    )
    if not known or (known["numeric"] and order is None):
        return None
    if known["whole"]:
        return "%Y%m%d"
    if known["iso"]:
        parts = ["%Y", "%m", "%d"]
    elif known["numeric"]:
        year = "%Y" if shape.endswith("y") else "%y"
        parts = ["%d", "%m", year] if order == "day first" else ["%m", "%d", year]
    else:
        parts = _named_month_parts(shape)
    tokens = iter(parts)
    return re.sub("[dybn]", lambda _: next(tokens), shape)


def _named_month_parts(shape: str) -> list[str]:
    """Formats of the parts of a date whose month is a name: the year is the four digits, or the last part."""
    letters = re.findall("[dybn]", shape)
    numbers = ["%d", "%y"] if "y" not in letters else ["%d"]
    return [
        {"y": "%Y", "b": "%b", "n": "%B"}.get(letter) or numbers.pop(0)
        for letter in letters
    ]  # fmt: skip


def _time_format(shape: str | None) -> str | None:
    if shape is None:
        return ""
    clock = re.fullmatch(r"d:d(?P<s>:d)?(?P<f>\.f)?(?P<p> ?p)?(?P<z> ?[+\-](?:d:d|y|d))?", shape)
    if not clock:
        return None
    hour = "%I" if clock["p"] else "%H"
    parts = [hour + ":%M", ":%S" if clock["s"] else "", ".%f" if clock["f"] else ""]
    parts.append((clock["p"] or "").replace("p", "%p"))
    parts.append(" %z" if (clock["z"] or "").startswith(" ") else "%z" if clock["z"] else "")
    return "".join(parts)

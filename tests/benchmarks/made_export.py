"""A large call export, made by rule from a seed: invented phrases, people and places only.

Each value is picked by a hash of row number, column and seed, so that a file of any size is written by one query and
comes out the same again.
"""

from __future__ import annotations

from pathlib import Path

import duckdb

from pipeline.ingest.layouts import Layout

HEADER = (
    "WO NO", "DATE REQ", "DATE COMP", "STATUS", "LOC", "ASSET", "REQUESTOR", "DESCRIPTION", "WORK DONE",
)  # fmt: skip
LAYOUT = Layout(
    name="benchmark",
    source="benchmark",
    header=HEADER,
    date_order="month first",
    withheld=("REQUESTOR",),
    columns={
        "call_number": ("WO NO",), "reported_at": ("DATE REQ",), "completed_at": ("DATE COMP",),
        "status": ("STATUS",), "site_text": ("LOC",), "asset_text": ("ASSET",),
        "problem_text": ("DESCRIPTION",), "action_text": ("WORK DONE",),
    },
)  # fmt: skip

_PROBLEMS = (
    "LIGHT OUT", "Lights on all day", "WALL PACK OUT", "Pole light flickering", "PARKING LOT LIGHTS ON IN DAYTIME",
    "exterior lights stay on", "Lights do not come on", "SECURITY LIGHT CYCLING", "Canopy lights out", "DIM LIGHT",
    "SINK CLOGGED", "Door closer leaking", "NO HEAT", "Roof leak", "TOILET RUNNING", "Broken window", "AC TOO COLD",
    "Paint peeling", "PROJECTOR DEAD", "Outlet loose",
)  # fmt: skip
_PLACES = (
    "NORTH LOT",
    "south lot",
    "BUS LOOP",
    "main entry",
    "GYM",
    "Track",
    "PLAZA",
    "rear drive",
    "WING B",
    "walk",
)
_ACTIONS = (
    "REPLACED PHOTOCELL", "Replaced lamp", "REPLACED BALLAST", "Reset breaker", "ADJUSTED CLOCK", "Checked, ok",
    "REPLACED LAMP AND PHOTO CELL", "Cleared drain", "COMPLETED", "Tightened", "REPLACED FIXTURE", "Nothing found",
)  # fmt: skip
_FIRST = ("ba", "ce", "do", "fi", "gu", "ja", "ke", "lo", "mi", "nu", "pe", "qua", "ri", "so", "tu", "ve")
_MIDDLE = ("l", "nd", "rr", "st", "v", "zz", "m", "k")
_LAST = ("an", "el", "ik", "o", "ur", "ette", "is", "a")
_STATUSES = ("CLOSED", "CLOSED", "CLOSED", "CLOSED", "COMPLETED", "OPEN", "VOID")
_SITES, _TAGS, _REQUESTERS, _OTHERS = 900, 20_000, 5_000, 100_000
_FIRST_REPORT, _MINUTES = "2012-01-01", 10 * 365 * 24 * 60


def make_export(path: Path, rows: int, seed: int, first_number: int = 1) -> None:
    """Write ``rows`` calls as comma-separated UTF-8 text (about 115 bytes a row), numbered from ``first_number``."""
    with duckdb.connect() as connection:
        connection.execute(
            f"COPY ({_rows_sql(rows, seed, first_number)}) TO '{path}' (FORMAT csv, HEADER true)"
        )


def _rows_sql(rows: int, seed: int, first_number: int) -> str:
    def listed(words: tuple[str, ...]) -> str:
        return "[" + ", ".join(f"'{word}'" for word in words) + "]"

    def pick(words: tuple[str, ...], salt: int) -> str:
        return f"{listed(words)}[{number(len(words), salt)} + 1]"

    def number(below: int, salt: int) -> str:
        return f"(hash(n * 1000 + {salt} + {seed}::BIGINT * 1_000_000_000_000) % {below})::INTEGER"

    def person(who: str) -> str:
        """First and last name of the person with a number: a word of three parts each."""

        def name(salt: int) -> str:
            word = " || ".join(
                f"{listed(words)}[(hash({who} * 10 + {salt + place}) % {len(words)})::INTEGER + 1]"
                for place, words in enumerate((_FIRST, _MIDDLE, _LAST))
            )
            return f"upper(left({word}, 1)) || substr({word}, 2)"

        return f"{name(0)} || ' ' || {name(3)}"

    return f"""
    WITH numbered AS (
      SELECT n,
        TIMESTAMP '{_FIRST_REPORT}' + to_minutes((n::DOUBLE * {_MINUTES} / {max(rows, 1)})::BIGINT) AS reported,
        {number(100, 1)} AS kind, {person(number(_REQUESTERS, 20))} AS requester,
        {person(number(_OTHERS, 21))} AS other_person,
        {pick(_PROBLEMS, 2)} || ' ' || {pick(_PLACES, 3)} AS problem, {pick(_ACTIONS, 4)} AS done
      FROM range({first_number}, {first_number + rows}) AS t(n)
    )
    SELECT lpad(n::VARCHAR, 8, '0') AS "WO NO",
      strftime(reported, '%-m/%-d/%Y %-I:%M %p') AS "DATE REQ",
      CASE WHEN {number(10, 5)} > 0
        THEN strftime(reported + to_minutes({number(20_000, 6)}), '%-m/%-d/%Y %-I:%M %p') END AS "DATE COMP",
      {pick(_STATUSES, 7)} AS "STATUS",
      'Site ' || {number(_SITES, 8)} AS "LOC",
      CASE WHEN {number(4, 9)} = 0 THEN 'PC-' || lpad({number(_TAGS, 10)}::VARCHAR, 5, '0') END AS "ASSET",
      requester AS "REQUESTOR",
      CASE
        WHEN kind < 40 THEN problem
        WHEN kind < 65 THEN problem || ' pole ' || {number(400, 11)}
        WHEN kind < 80 THEN problem || '. TAG PC-' || lpad({number(_TAGS, 12)}::VARCHAR, 5, '0')
        WHEN kind < 90 THEN problem || ', ROOM ' || {number(400, 13)} || ' AND ' || {number(400, 14)}
        WHEN kind < 92 THEN problem || '. Contact ' || other_person
        WHEN kind < 94 THEN problem || '. CALL ' || upper(requester)
          || ' 415-555-' || lpad({number(10_000, 15)}::VARCHAR, 4, '0')
        WHEN kind < 95 THEN problem || ' (' || split_part(requester, ' ', 2) || ')'
        WHEN kind < 96 THEN problem || ' "again", see ' || other_person
        WHEN kind < 97 THEN problem || chr(10) || 'since monday'
        ELSE problem || ' per ' || split_part(other_person, ' ', 1)
          || ', 555-' || lpad({number(10_000, 16)}::VARCHAR, 4, '0')
      END AS "DESCRIPTION",
      CASE WHEN {number(4, 17)} > 0 THEN done || CASE
        WHEN {number(100, 18)} < 10 THEN '. DONE ' || strftime(reported, '%m/%d/%y')
        WHEN {number(100, 18)} < 12 THEN ' by ' || split_part(other_person, ' ', 2)
        ELSE '' END END AS "WORK DONE"
    FROM numbered ORDER BY n
    """

"""What the values of each column look like: the evidence beside its name."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from pipeline.ingest.dates import DateEvidence, read_evidence, readable_share
from pipeline.ingest.fields import CHOICES
from pipeline.ingest.known import Known, key_sql
from pipeline.ingest.synonyms import Synonyms, ordinary_words
from pipeline.store import Store

_SAMPLES = 5
_CELLS_LOOKED_AT = 20_000  # for what a column's cells look like; dates, counts and samples look at all
PHONE_CELL = (
    r"^\D{0,3}(?:1\D?)?[2-9]\d{2}\D{0,3}\d{3}\D?\d{4}(?:\D.*)?$|^\d{3}[-.]\d{4}$|^(?:x|ext\.?)\s?\d{2,6}$"
)
# Signs, and codes that cannot be the beginning of a tag.
_CURRENCY = r"(?:\p{Sc}|USD|CAD|AUD|EUR|GBP|CHF|SEK|NOK|DKK|MXN|kr\.?|Fr\.?)?"
EMAIL_CELL = r"^\S+@\S+\.[A-Za-z]{2,}$"
_ADDRESS = r"(?i)\b(?:st|street|ave|avenue|rd|road|blvd|dr|drive|ln|lane|ct|court|hwy|pkwy|pl|place|way|intersection)\b"
_NAME = r"^\p{Lu}[\pL'’\-]+,? (?:\p{Lu}\.? )?\p{Lu}[\pL'’.\-]*$"
_CLOCK = r"^(?:[01]?[0-9]|2[0-4]):[0-5][0-9](?::[0-5][0-9])?(?: ?[AaPp]\.?[Mm]\.?)?$"
_FOUR_DIGITS = r"^(?:[01]?[0-9]|2[0-4])[0-5][0-9]$"
_HOURS = (
    r"^-?[0-9]+(?:[.,][0-9]+)?$|^[0-9]{1,4}:[0-9]{2}(?::[0-9]{2})?$"
    r"|(?i)^[0-9.,]+ ?(?:h|hrs?|hours?|horas?|heures?|m|min|mins|minutes?|std|stunden?)(?:\b|[0-9])[. 0-9a-z]*$"
)
_TAG = r"^[A-Za-z]{1,6}[\-_. ]?[0-9][A-Za-z0-9\-_.]*$"
_HOUSE = r"^[0-9]{1,6}[A-Za-z]?$"
_TIMED = r"[0-9]{1,2}:[0-9]{2}"
_NOTHING_KNOWN = Known()


@dataclass(frozen=True)
class Looks:
    """Shares (0 to 1) of a column's filled cells that look like something; ``words``: mean words in a cell.

    ``sites`` and ``controls``: cells that are a registered site's name or a registered control's tag.
    """

    words: float = 0.0
    clocks: float = 0.0
    four_digits: float = 0.0
    hours: float = 0.0
    tags: float = 0.0
    houses: float = 0.0
    timed: float = 0.0
    actions: float = 0.0
    problems: float = 0.0
    places: float = 0.0
    people: float = 0.0
    starts_with_digit: float = 0.0
    fractions: float = 0.0
    sites: float = 0.0
    controls: float = 0.0


@dataclass(frozen=True)
class ColumnProfile:
    """A column's values: counts, and shares (0 to 1) of the filled cells that look like something.

    ``meant``: for each choice (status, work_type) the share of cells whose value has a known meaning.
    ``meanings``: how many different meanings those values have.
    ``least`` and ``most`` leave the outermost two in a hundred numbers out.
    """

    column: str
    filled: int
    distinct: int
    mean_length: float
    dates: float
    numbers: float
    phones: float
    emails: float
    addresses: float
    names: float
    meant: dict[str, float]
    least: float
    most: float
    samples: tuple[str, ...]
    looks: Looks = Looks()
    serial_days: float = 0.0
    evidence: DateEvidence = field(default_factory=DateEvidence)
    meanings: Mapping[str, int] = field(default_factory=dict)

    def with_samples(self, samples: tuple[str, ...]) -> ColumnProfile:
        """The same with other samples."""
        return replace(self, samples=samples)

    @property
    def distinct_share(self) -> float:
        """Different values per filled cell."""
        return self.distinct / self.filled if self.filled else 0.0


def profile_columns(
    store: Store, labels: Sequence[str], synonyms: Synonyms, known: Known = _NOTHING_KNOWN
) -> dict[str, ColumnProfile]:
    """Profile every column of ``raw``."""
    cells = [f"c{place}" for place in range(1, len(labels) + 1)]
    looks = _looks(store, cells, synonyms, known)
    return {
        label: _profile(store, label, cell, synonyms, looks.get(cell, Looks()))
        for label, cell in zip(labels, cells, strict=True)
    }


def _looks(store: Store, cells: Sequence[str], synonyms: Synonyms, known: Known) -> dict[str, Looks]:
    """What the first cells of each column look like; empty columns are left out.

    Of all columns at once: to make the patterns ready takes longer than to match them.
    """
    patterns = {
        "clocks": _CLOCK, "four_digits": _FOUR_DIGITS, "hours": _HOURS, "tags": _TAG, "houses": _HOUSE, "timed": _TIMED,
        "actions": _any_word(synonyms.telling["action"]), "problems": _any_word(synonyms.telling["problem"]),
        "places": _any_word(synonyms.telling["place"]), "starts_with_digit": "^[0-9]", "fractions": r"[.,][0-9]{3,}$",
    }  # fmt: skip
    shares = ", ".join(f"avg(regexp_matches(t, ${name})::INT) AS {name}" for name in patterns)
    ordinary = _any_word(ordinary_words())
    first_cells = " UNION ALL ".join(
        rf"(SELECT '{cell}' AS cell, regexp_replace(trim({cell}), '\s+', ' ', 'g') AS t FROM raw"  # noqa: S608 - c1, c2 …
        rf" WHERE regexp_matches({cell}, '\S') LIMIT {_CELLS_LOOKED_AT})"
        for cell in cells
    )
    rows = store.rows(
        rf"""
        SELECT cell, avg(len(string_split(t, ' '))), {shares},
          avg((regexp_matches(t, $name) AND NOT regexp_matches(t, $ordinary)
               AND NOT regexp_matches(t, $places))::INT),
          avg(list_contains($sites::VARCHAR[], {key_sql("t")})::INT),
          avg(list_contains($controls::VARCHAR[], {key_sql("t")})::INT)
        FROM ({first_cells}) GROUP BY cell
        """,  # noqa: S608 - names and patterns of ours
        patterns
        | {
            "name": _NAME,
            "ordinary": ordinary,
            "sites": sorted(known.sites),
            "controls": sorted(known.controls),
        },
    )
    looks = {}
    for cell, *shares_found in rows:
        words, *found, people, sites, controls = (float(share or 0.0) for share in shares_found)
        looks[cell] = Looks(
            words=words,
            people=people,
            sites=sites,
            controls=controls,
            **dict(zip(patterns, found, strict=True)),
        )
    return looks


def _any_word(words: Sequence[str]) -> str:
    """A pattern for any of some words, whole."""
    return rf"(?i)(?:^|[^\pL])(?:{'|'.join(map(re.escape, words))})(?:$|[^\pL])"


def _choices(store: Store, cell: str, synonyms: Synonyms) -> dict[str, list[tuple[str, int]]]:
    """For each choice (status, work_type) what the values of a column mean, and how many cells hold each value."""
    known = {field: synonyms.meanings(field) for field in CHOICES}
    values = store.rows(
        f"SELECT lower(trim({cell})) AS v, count(*) FROM raw WHERE list_contains($known::VARCHAR[], v) GROUP BY v",  # noqa: S608
        {"known": sorted({word for words in known.values() for word in words})},
    )
    return {
        field: [(meanings[value], count) for value, count in values if value in meanings]
        for field, meanings in known.items()
    }


def _profile(store: Store, label: str, cell: str, synonyms: Synonyms, looks: Looks) -> ColumnProfile:
    plain = rf"^[-(]?{_CURRENCY}\s?-?[0-9][0-9,. ’\x{{a0}}\x{{202f}}]*\)?\s?{_CURRENCY}-?$"
    row = store.row(
        rf"""
        SELECT count(*), approx_count_distinct(t), coalesce(avg(length(t)), 0),
          coalesce(avg(regexp_matches(t, '{plain}')::INT), 0), coalesce(avg(regexp_matches(t, '{PHONE_CELL}')::INT), 0),
          coalesce(avg(regexp_matches(t, '{EMAIL_CELL}')::INT), 0),
          coalesce(avg(regexp_matches(t, '{_ADDRESS}')::INT), 0),
          coalesce(avg(regexp_matches(t, $name)::INT), 0),
          coalesce(quantile_disc(try_cast(t AS DOUBLE), 0.02), 0),
          coalesce(quantile_disc(try_cast(t AS DOUBLE), 0.98), 0)
        FROM (SELECT trim({cell}) AS t FROM raw WHERE regexp_matches({cell}, '\S'))
        """,  # noqa: S608 - cell is c1, c2 …
        {"name": _NAME},
    )
    filled, distinct, length, numbers, phones, emails, addresses, names, least, most = row
    samples = store.rows(
        f"SELECT v FROM (SELECT trim({cell}) AS v, min(row_number) AS n FROM raw "  # noqa: S608
        f"WHERE regexp_matches({cell}, '\\S') GROUP BY v ORDER BY count(*) DESC, n LIMIT {_SAMPLES})"
    )
    evidence, choices = read_evidence(store, "raw", cell), _choices(store, cell, synonyms)
    return ColumnProfile(
        column=label,
        filled=int(filled),
        distinct=min(int(distinct), int(filled)),
        mean_length=float(length),
        dates=readable_share(evidence, serials=False),
        numbers=float(numbers),
        phones=float(phones),
        emails=float(emails),
        addresses=float(addresses),
        names=float(names),
        meant={field: sum(count for _, count in found) / max(filled, 1) for field, found in choices.items()},
        least=float(least),
        most=float(most),
        samples=tuple(str(value) for (value,) in samples),
        looks=looks,
        serial_days=readable_share(evidence, serials=True),
        evidence=evidence,
        meanings={field: len({meaning for meaning, _ in found}) for field, found in choices.items()},
    )

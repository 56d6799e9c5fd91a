"""What the values of each column look like: the evidence beside its name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.ingest.dates import read_evidence, readable_share
from pipeline.ingest.fields import CHOICES
from pipeline.ingest.synonyms import Synonyms
from pipeline.store import Store

_SAMPLES = 5
_PHONE = (
    r"^\D{0,3}(?:1\D?)?[2-9]\d{2}\D{0,3}\d{3}\D?\d{4}(?:\D.*)?$|^\d{3}[-.]\d{4}$|^(?:x|ext\.?)\s?\d{2,6}$"
)
_EMAIL = r"^\S+@\S+\.[A-Za-z]{2,}$"
_ADDRESS = r"(?i)\b(?:st|street|ave|avenue|rd|road|blvd|dr|drive|ln|lane|ct|court|hwy|pkwy|pl|place|way|intersection)\b"
_NAME = r"^\p{Lu}[\pL'’\-]+,? (?:\p{Lu}\.? )?\p{Lu}[\pL'’.\-]*$"


@dataclass(frozen=True)
class ColumnProfile:
    """A column's values: counts, and shares (0 to 1) of the filled cells that look like something.

    ``meant``: for each choice (status, work_type) the share of cells whose value has a known meaning.
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

    def with_samples(self, samples: tuple[str, ...]) -> ColumnProfile:
        """The same with other samples."""
        return replace(self, samples=samples)

    @property
    def distinct_share(self) -> float:
        """Different values per filled cell."""
        return self.distinct / self.filled if self.filled else 0.0


def profile_columns(store: Store, labels: Sequence[str], synonyms: Synonyms) -> dict[str, ColumnProfile]:
    """Profile every column of ``raw``."""
    return {
        label: _profile(store, label, f"c{place}", synonyms) for place, label in enumerate(labels, start=1)
    }


def _meant(store: Store, cell: str, field: str, synonyms: Synonyms) -> float:
    known = list(synonyms.meanings(field))
    share = store.value(
        f"SELECT avg(list_contains($known::VARCHAR[], lower(trim({cell})))::INT) FROM raw "  # noqa: S608
        f"WHERE regexp_matches({cell}, '\\S')",
        {"known": known},
    )
    return float(share or 0.0)


def _profile(store: Store, label: str, cell: str, synonyms: Synonyms) -> ColumnProfile:
    plain = r"^-?[$£€]?\s?[0-9][0-9,. ]*$"
    row = store.row(
        rf"""
        SELECT count(*), approx_count_distinct(t), coalesce(avg(length(t)), 0),
          coalesce(avg(regexp_matches(t, '{plain}')::INT), 0), coalesce(avg(regexp_matches(t, '{_PHONE}')::INT), 0),
          coalesce(avg(regexp_matches(t, '{_EMAIL}')::INT), 0), coalesce(avg(regexp_matches(t, '{_ADDRESS}')::INT), 0),
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
    evidence = read_evidence(store, "raw", cell)
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
        meant={field: _meant(store, cell, field, synonyms) for field in CHOICES},
        least=float(least),
        most=float(most),
        samples=tuple(str(value) for (value,) in samples),
    )

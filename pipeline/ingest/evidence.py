"""Which column is which field by what it holds, where its name says nothing.

Every find is at most likely, never sure, and says what it rests on. The limits are choices of ours, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from pipeline.ingest.date_forms import formats_for
from pipeline.ingest.dates import timestamp_sql
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.synonyms import Synonyms
from pipeline.store import Store

_ROWS_COMPARED = 20_000
_MOSTLY = 0.95
_REGISTERED = 0.5

# How surely (0 to 1) a column fits a field, of how many rows the file has, and why.
Fits = Callable[[ColumnProfile, int], tuple[float, str]]


@dataclass(frozen=True)
class Find:
    """A column found for a field by its values: how surely (0 to 1), and why."""

    field: str
    column: str
    confidence: float
    why: str


@dataclass(frozen=True)
class DatePair:
    """Two date columns compared: shares (0 to 1) of rows with both in which the first is no later, and in which the
    commonest distance in days occurs."""

    ordered: float
    same_distance: float


def registered(profiles: Mapping[str, ColumnProfile], columns: Collection[str]) -> list[Find]:
    """Columns whose cells are names of registered sites or tags of registered controls: surer than any name."""
    finds = []
    for column in columns:
        looks = profiles[column].looks
        if looks.sites >= _REGISTERED:
            finds.append(
                Find("site_text", column, 0.97, f"{looks.sites:.0%} of its cells are sites of sites.csv")
            )
        elif looks.controls >= _REGISTERED:
            why = f"{looks.controls:.0%} of its cells are tags of controls.csv"
            finds.append(Find("asset_text", column, 0.97, why))
    return finds


def compare_dates(
    store: Store, profiles: Mapping[str, ColumnProfile], labels: Sequence[str]
) -> dict[tuple[str, str], DatePair]:
    """Every pair of date columns compared over the first rows of ``raw``."""
    dated = [label for label in labels if profiles[label].dates > 0.8][:12]
    order = (
        sum((profiles[label].evidence for label in dated[1:]), profiles[dated[0]].evidence).decided()
        if dated
        else None
    )
    read = {}
    for label in dated:
        formats = formats_for(list(profiles[label].evidence.shapes), order or "month first")
        read[label] = timestamp_sql(f"c{list(labels).index(label) + 1}", formats, "Etc/UTC", serials=False)
    if len(read) < 2:
        return {}
    columns = ", ".join(f"{sql} AS d{place}" for place, sql in enumerate(read.values()))
    first_rows = f"(FROM raw LIMIT {_ROWS_COMPARED})"
    store.run(f"CREATE OR REPLACE TEMP TABLE dates_read AS SELECT {columns} FROM {first_rows}")  # noqa: S608
    pairs = {}
    for one, first in enumerate(read):
        for other, second in enumerate(read):
            if one != other:
                pairs[first, second] = _pair(store, f"d{one}", f"d{other}")
    return pairs


def _pair(store: Store, first: str, second: str) -> DatePair:
    ordered, most, count = store.row(
        f"""
        SELECT coalesce(sum(n) FILTER (days >= 0), 0), coalesce(max(n), 0), coalesce(sum(n), 0)
        FROM (SELECT date_diff('day', {first}, {second}) AS days, count(*) AS n FROM dates_read
              WHERE {first} IS NOT NULL AND {second} IS NOT NULL GROUP BY 1)
        """  # noqa: S608 - d0, d1 …
    )
    return DatePair(ordered / count, most / count) if count >= 5 else DatePair(0.0, 1.0)


def find_report(
    profiles: Mapping[str, ColumnProfile],
    free: Sequence[str],
    pairs: Mapping[tuple[str, str], DatePair],
    synonyms: Synonyms,
    rows: int,
) -> Find | None:
    """The date column that is filled throughout and lies before the others."""
    able = [
        c
        for c in free
        if _can_date(profiles[c], synonyms, "reported_at") and profiles[c].filled >= 0.9 * rows
    ]
    if not able:
        return None
    before = {
        one: [b for (a, b), pair in pairs.items() if a == one and pair.ordered >= _MOSTLY] for one in able
    }
    best = max(able, key=lambda column: len(before[column]))
    if not before[best]:
        return Find("reported_at", best, 0.45, "dates in every row") if len(able) == 1 else None
    why = f"dates in every row, before those of '{before[best][0]}'"
    return Find("reported_at", best, 0.65, why)


def find_completion(
    profiles: Mapping[str, ColumnProfile],
    free: Sequence[str],
    pairs: Mapping[tuple[str, str], DatePair],
    synonyms: Synonyms,
    report: str,
) -> Find | None:
    """A date column after the report, empty in some rows, at no fixed distance: a due date keeps its distance."""
    able = [
        column
        for column in free
        if _can_date(profiles[column], synonyms, "completed_at")
        and profiles[column].filled < profiles[report].filled
        and (pair := pairs.get((report, column)))
        and pair.ordered >= _MOSTLY
        and pair.same_distance < 0.5
    ]
    if not able:
        return None
    best = max(able, key=lambda column: profiles[column].filled)
    return Find("completed_at", best, 0.55, f"dates after those of '{report}', empty where it is not done")


def _can_date(profile: ColumnProfile, synonyms: Synonyms, field: str) -> bool:
    return profile.dates > 0.8 and not _is_ruled_out(profile.column, field, synonyms)


def _is_ruled_out(column: str, field: str, synonyms: Synonyms) -> bool:
    """Whether the column's name says that it is not this field."""
    words = synonyms.plain(column).split()
    return any(word in words for word in synonyms.never.get(field, ()))


def find_texts(
    profiles: Mapping[str, ColumnProfile], free: Sequence[str], wanted: Collection[str], synonyms: Synonyms
) -> list[Find]:
    """Free text by its words: what was done speaks of doing; what was reported is longest and most varied."""
    able = [column for column in free if _is_text(profiles[column])]
    finds = []
    actions = [
        column
        for column in able
        if profiles[column].looks.actions > max(0.4, profiles[column].looks.problems)
        and not _is_ruled_out(column, "action_text", synonyms)
    ]
    if "action_text" in wanted and actions:
        best = max(actions, key=lambda column: profiles[column].looks.actions)
        share = profiles[best].looks.actions
        finds.append(Find("action_text", best, 0.5, f"{share:.0%} of its cells say what was done"))
        able.remove(best)
    able = [column for column in able if not _is_ruled_out(column, "problem_text", synonyms)]
    if "problem_text" in wanted and able:
        best = max(able, key=lambda column: _richness(profiles[column]))
        finds.append(Find("problem_text", best, 0.55, "the longest and most varied words"))
    return finds


def _is_text(profile: ColumnProfile) -> bool:
    looks = profile.looks
    return (
        looks.words >= 2 and profile.distinct >= 5 and profile.dates < 0.2 and profile.numbers < 0.2
        and looks.people < 0.5 and looks.sites < 0.2 and profile.addresses < 0.7
        and (looks.words >= 3 or looks.actions > 0.4 or looks.problems > 0.4)
        and (looks.places < 0.8 or looks.words >= 4)
    )  # fmt: skip


def _richness(profile: ColumnProfile) -> float:
    return profile.looks.words * (0.2 + profile.distinct_share) * (1 + profile.looks.problems)


def find_labels(
    profiles: Mapping[str, ColumnProfile],
    free: Sequence[str],
    wanted: Collection[str],
    synonyms: Synonyms,
    rows: int,
) -> list[Find]:
    """Call number, status, work type, tag and site by what their cells look like; each column and field once."""
    finds: list[Find] = []
    for field, fits in _LABELS.items():
        taken = {find.column for find in finds}
        left = [c for c in free if c not in taken and not _is_ruled_out(c, field, synonyms)]
        best = max(left, key=lambda column: fits(profiles[column], rows)[0], default=None)
        if field in wanted and best is not None:
            confidence, why = fits(profiles[best], rows)
            if confidence:
                finds.append(Find(field, best, confidence, why))
    return finds


def _number(profile: ColumnProfile, rows: int) -> tuple[float, str]:
    good = (
        profile.filled >= 0.99 * rows and rows >= 2 and profile.distinct_share >= 0.95 and profile.mean_length <= 24
        and profile.dates < 0.2 and profile.looks.words < 1.2 and profile.looks.fractions < 0.2
        and (profile.numbers > 0.9 or profile.looks.tags > 0.9 or profile.looks.starts_with_digit > 0.9)
    )  # fmt: skip
    return (0.5, "different in every row") if good else (0.0, "")


def _choice(field: str) -> Fits:
    def fits(profile: ColumnProfile, rows: int) -> tuple[float, str]:
        good = profile.meant[field] > 0.9 and 2 <= profile.distinct <= 20 and profile.meanings[field] >= 2
        return (0.5, f"its words are those of a {field.replace('_', ' ')}") if good else (0.0, "")

    return fits


def _tag(profile: ColumnProfile, rows: int) -> tuple[float, str]:
    good = profile.looks.tags > 0.8 and profile.distinct >= 3 and profile.distinct_share < 0.8
    return (0.4, "tags of letters and digits that recur") if good else (0.0, "")


def _site(profile: ColumnProfile, rows: int) -> tuple[float, str]:
    good = profile.looks.places > 0.5 and profile.distinct_share < 0.5 and profile.looks.words < 5
    good = good and profile.looks.problems < 0.2 and profile.addresses < 0.5
    return (0.4, "names of places that recur") if good else (0.0, "")


_LABELS: dict[str, Fits] = {
    "call_number": _number, "status": _choice("status"), "work_type": _choice("work_type"), "asset_text": _tag,
    "site_text": _site,
}  # fmt: skip

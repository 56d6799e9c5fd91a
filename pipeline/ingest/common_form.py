"""The evidence of a whole date column: its commonest form counted from the times it gives, the rest by distinct keys.

Nearly every export writes all dates of a column alike. What is written so is read once and counted; only the rows that
this form does not fit are looked at letter by letter (pipeline/ingest/date_columns.py and dates.py).
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ingest.date_columns import gather_keys
from pipeline.ingest.date_forms import DateOrder, format_of
from pipeline.ingest.dates import DateEvidence, read_evidence
from pipeline.store import Store

# Enough rows to see how a column is written; a choice of ours, for speed only.
_ROWS_SAMPLED = 20_000
_FIRST_YEAR_OF_FOUR_DIGITS = 1000


@dataclass(frozen=True)
class CommonForm:
    """A shape of a date's text, the order of day and month in it (None where it needs none), and its format."""

    shape: str
    order: DateOrder | None
    format: str

    def time(self, text: str) -> str:
        """SQL: a text's time where it has this form, else NULL."""
        time = f"try_strptime({text}, '{self.format}')"
        # A year of two digits would be read as one of antiquity, and has another form.
        return f"CASE WHEN year({time}) >= {_FIRST_YEAR_OF_FOUR_DIGITS} THEN {time} END"

    @property
    def has_bare_clock(self) -> bool:
        """Whether its times of day have neither AM nor PM nor an offset."""
        return "%H" in self.format


def column_evidence(store: Store, relation: str, text: str, order: DateOrder | None) -> DateEvidence:
    """The evidence of all rows of a column of a relation; makes the table of keys of the rows not in its common form.

    ``order`` of day and month, as the layout says.
    """
    form = _common_form(store, relation, text, order)
    if form is None:
        return read_evidence(store, gather_keys(store, relation, text).table, "key", weight="rows")
    counted, texts = _counted(store, relation, text, form)
    all_fit = sum(counted.shapes.values()) == texts
    others = gather_keys(
        store, relation, text, unless="true" if all_fit else f"{form.time(text)} IS NOT NULL"
    )
    return counted + read_evidence(store, others.table, "key", weight="rows")


def _common_form(store: Store, relation: str, text: str, order: DateOrder | None) -> CommonForm | None:
    """The form of most dates among the first rows; None where that is no date in local time."""
    store.run(
        f"CREATE OR REPLACE TEMP TABLE dates_sampled AS SELECT {text} FROM {relation} LIMIT {_ROWS_SAMPLED}"  # noqa: S608
    )
    evidence = read_evidence(store, gather_keys(store, "dates_sampled", text).table, "key", weight="rows")
    store.run("DROP TABLE dates_sampled")
    likely = order or evidence.decided() or "month first"
    for shape in evidence.shapes:
        needed = None if format_of(shape, None) else likely
        found = format_of(shape, needed)
        return CommonForm(shape, needed, found) if found and "%z" not in found else None
    return None


def _counted(store: Store, relation: str, text: str, form: CommonForm) -> tuple[DateEvidence, int]:
    """What the rows of a form prove, and how many rows have any text."""
    proofs: dict[str, str] = {}
    if form.order:
        proofs["both"] = "day(t) <= 12 AND day(t) <> month(t)"
        proofs[f"{form.order.replace(' ', '_')}_only"] = "day(t) > 12"
    if form.has_bare_clock:
        # midnight is what a system writes that knows the day alone
        proofs["bare_times"] = "hour(t) > 0 OR minute(t) > 0"
        proofs["full_times"] = "hour(t) > 12 OR (hour(t) = 0 AND minute(t) > 0)"
    counts = "".join(f", count(*) FILTER ({proof})" for proof in proofs.values())
    texts, rows, *found = store.row(
        f"SELECT count({text}), count(t){counts} FROM (SELECT {text}, {form.time(text)} AS t FROM {relation})"  # noqa: S608
    )
    return DateEvidence({form.shape: rows} if rows else {}, **dict(zip(proofs, found, strict=True))), texts

"""How one file is read: its layout, and what the whole of its date columns proves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.ingest.common_form import column_evidence
from pipeline.ingest.date_columns import DateColumn
from pipeline.ingest.date_forms import formats_for
from pipeline.ingest.dates import AM_PM_LOST, DateEvidence, as_written_sql, timestamp_sql
from pipeline.ingest.layouts import Layout
from pipeline.ingest.texts import text_sql
from pipeline.store import Store

TIMES = ("reported_at", "completed_at")


@dataclass(frozen=True)
class Reading:
    """How a file is read: its layout, whether it is a workbook (of days from 1904), its dates' evidence."""

    layout: Layout
    is_workbook: bool
    evidence: dict[str, DateEvidence]
    from_1904: bool = False

    @property
    def all_dates(self) -> DateEvidence:
        """The evidence of all date columns together."""
        return sum(self.evidence.values(), DateEvidence())

    def times(self, field: str, time_zone: str) -> Callable[[str], str]:
        """SQL of a text -> SQL of its local time, by the formats that the field's evidence gives."""
        evidence = self.evidence[field]
        formats = formats_for(list(evidence.shapes), self.layout.date_order)

        def read(text: str) -> str:
            return timestamp_sql(
                text,
                formats,
                time_zone,
                serials=self.is_workbook,
                evidence=evidence,
                from_1904=self.from_1904,
            )

        return read

    def column(self, field: str) -> DateColumn:
        """The column of a date field's texts (FIELD_t) and the table of its keys."""
        evidence = self.evidence[field]
        formats = formats_for(list(evidence.shapes), self.layout.date_order)
        return DateColumn(
            f"dates_of_{field}_t", f"{field}_t", lambda text: as_written_sql(text, formats, evidence)
        )

    def statement(self) -> str:
        """The order of day and month and what it rests on; fields whose times of day are not believed."""
        lost = [field for field, found in self.evidence.items() if found.half_days_lost]
        said = self.all_dates.statement(self.layout.date_order)
        return f"{said}; {AM_PM_LOST} ({', '.join(lost)})" if lost else said


def read_file_evidence(store: Store, layout: Layout, is_workbook: bool, from_1904: bool = False) -> Reading:
    """Look over the whole of ``raw`` for what its dates prove; keeps what is oddly written in tables of keys."""
    evidence = {}
    for field in TIMES:
        if layout.columns.get(field):
            texts = f"(SELECT {text_sql(layout, field)} AS {field}_t FROM raw)"  # noqa: S608 - names of ours
            evidence[field] = column_evidence(store, texts, f"{field}_t", layout.date_order)
    return Reading(layout, is_workbook, evidence, from_1904)

"""A part of a document."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.report.charts import Chart
from pipeline.report.tables import Table


@dataclass(frozen=True)
class Section:
    """A heading, a sentence that says how to read what follows, charts and tables."""

    key: str
    title: str
    lead: str
    tables: tuple[Table, ...] = ()
    charts: tuple[Chart, ...] = ()

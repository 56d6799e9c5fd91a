"""What a document holds: the same sections for every reader, each reader's own question first."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline import figures
from pipeline.figures import Behind, DataLevel, Facts, Figure
from pipeline.report import data_sections, life_sections, next_sections, sections
from pipeline.report.energy_section import energy
from pipeline.report.evidence import Evidence, evidence
from pipeline.report.meter_section import meters
from pipeline.report.savings_section import savings
from pipeline.report.section import Section
from pipeline.report.statement_section import statements
from pipeline.report.words import QUESTIONS, TITLES
from pipeline.store import Store

ORDER = {
    "director": (
        "burning", "failures", "lives", "trust", "causes", "repeats", "inrush", "next year", "rates", "campaigns",
        "restore", "energy", "statement", "meters", "savings",
    ),
    "sustainability": (
        "statement", "energy", "meters", "burning", "savings", "failures", "lives", "trust", "causes", "repeats",
        "next year", "campaigns", "rates", "inrush", "restore",
    ),
    "contractor": (
        "savings", "inrush", "lives", "trust", "causes", "next year", "burning", "campaigns", "energy",
        "statement", "meters", "failures", "repeats", "rates", "restore",
    ),
}  # fmt: skip
# The headline figure that answers each section's question.
ANSWERED_BY = {
    "burning": "burning_now",
    "failures": "failures_12_months",
    "lives": "soonest_to_fail",
    "next year": "expected_next_12_months",
    "energy": "wasted_energy",
    "savings": "net_savings",
}


@dataclass(frozen=True)
class Document:
    """A document for one reader, ready to be laid out."""

    reader: str
    title: str
    question: str
    facts: Facts
    level: DataLevel
    headline: tuple[Figure, ...]
    log: tuple[Figure, ...]
    sections: tuple[Section, ...]
    data: tuple[Section, ...]
    evidence: tuple[Evidence, ...]

    def behind(self, key: str) -> Behind | None:
        """How much stands behind a headline figure."""
        return next((part.behind for part in self.evidence if part.key == key), None)


def document(store: Store, reader: str, before: Store | None = None) -> Document:
    """Everything for one reader, from the figures that commands and screens call too.

    ``before``: the build before, to say what moved since.
    """
    info = figures.facts(store)
    ahead = figures.outlook(store)
    shown = {figure.key: figure for figure in figures.headline(store, ahead=ahead)}
    order = ORDER[reader]
    forecast = shown["expected_next_12_months"]
    made = (
        sections.sections(store, info)
        | life_sections.sections(store)
        | next_sections.sections(store, info, forecast, ahead)
        | {
            "energy": energy(store, info),
            "savings": savings(store, info),
            "meters": meters(store),
            "statement": statements(store, info, before),
        }
    )
    return Document(
        reader=reader,
        title=TITLES[reader],
        question=QUESTIONS[reader],
        facts=info,
        level=figures.data_level(store),
        headline=tuple(shown[ANSWERED_BY[key]] for key in order if key in ANSWERED_BY),
        log=tuple(figures.log_summary(store)),
        sections=tuple(made[key] for key in order),
        data=data_sections.sections(store, info),
        evidence=evidence(store, list(shown.values())),
    )

"""The page: one file that needs nothing else, on screen and on paper."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from plotly.offline import get_plotlyjs

from pipeline.figures import wording
from pipeline.numerals import counted
from pipeline.report import words
from pipeline.report.content import Document
from pipeline.report.tables import EMPTY_CELL


def html_page(document: Document) -> str:
    """The document as HTML. Everything that comes from data is escaped; only our own chart code is not."""
    charts = any(section.charts for section in document.sections)
    return (
        _environment()
        .get_template("page.html.j2")
        .render(
            document=document,
            facts=document.facts,
            empty_cell=EMPTY_CELL,
            boundary=words.BOUNDARY,
            cautions=words.CAUTIONS,
            methods=words.METHODS,
            plotly_js=get_plotlyjs() if charts else "",
        )
    )


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("pipeline.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["day"] = wording.date_text
    environment.filters["count"] = wording.count_text
    environment.filters["counted"] = counted
    return environment

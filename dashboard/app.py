"""The dashboard: ``streamlit run app.py -- DIR``, as `dayburn dashboard DIR` does."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import streamlit as st

from dashboard import data, parts
from dashboard.filters import choose
from dashboard.style import SHEET
from pipeline.faults import InputFaults
from pipeline.figures import choices, facts, periods
from pipeline.portfolio import as_typed
from pipeline.store import StageError

PAGES = (
    ("overview", "Overview"),
    ("burning_now", "Burning now"),
    ("failure_trends", "Failure trends"),
    ("wasted_energy", "Wasted energy"),
    ("business_case", "Business case"),
    ("next_year", "What comes next"),
    ("calls_behind", "Calls behind a figure"),
    ("review", "Review"),
    ("what_was_read", "What was read"),
    ("intake", "Intake"),
)
# A lamp that burns: drawn here, because named icons would be fetched from elsewhere.
ICON = (
    "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'><rect width='16' height='16' rx='3' fill='#0b4f7d'/>"
    "<circle cx='8' cy='7' r='4' fill='#ffd166'/><rect x='6' y='11.5' width='4' height='2' fill='#fff'/></svg>"
)


def main() -> None:
    """One run of a session: find the current build, read the filters, show the chosen page; without a build, Intake."""
    st.set_page_config(page_title="dayburn", page_icon=ICON, layout="wide")
    st.html(SHEET)
    page = st.navigation(_pages(), position="sidebar")
    try:
        folder = data.portfolio_folder()
        if not data.is_built(folder):
            _before_a_build(page, folder)
            return
        _sidebar(data.current_build(folder))
        page.run()
    except InputFaults as faults:
        parts.box("Nothing can be shown", *(str(fault) for fault in faults.faults))
        st.button("Look again")
    except StageError as error:
        _other_version(error)
        if _is_intake(page):  # a new build mends it
            data.use_none()
            page.run()


def _before_a_build(page: Any, folder: Path) -> None:
    """Without a build there is only the page that makes one."""
    data.use_none()
    if _is_intake(page):
        page.run()
    elif page.url_path == "":
        st.switch_page(parts.INTAKE_PAGE)
    else:
        todo = f"Run `dayburn build {as_typed(folder)}`, or add files and build on the page Intake."
        parts.box("Nothing can be shown", f"{folder}: has not been built yet. {todo}")
        st.page_link(parts.INTAKE_PAGE, label="Go to Intake")
        st.button("Look again")


def _is_intake(page: Any) -> bool:
    return bool(page.url_path == "intake")


def _pages() -> list[Any]:
    return [
        st.Page(
            f"screens/{name}.py", title=title, url_path=name.replace("_", "-"), default=name == "overview"
        )
        for name, title in PAGES
    ]


def _sidebar(build: data.Build) -> None:
    """Filters, and which build they look at."""
    info = data.ask_of(build, facts)
    filters = choose(data.ask_of(build, choices), data.ask_of(build, periods), info)
    data.use(build, filters)
    with st.sidebar:
        st.divider()
        st.caption("Portfolio")
        st.text(info.portfolio_name or "without a name")
        st.caption(
            f"Build {info.build_id or 'unknown'}, made with dayburn {info.dayburn_version or 'unknown'}"
        )


def _other_version(error: StageError) -> None:
    first = str(error).splitlines()[0]
    parts.box(
        "This build cannot be read",
        "It was made by another version of dayburn, or is damaged. Run `dayburn build DIR` again, then reload.",
        first,
    )


main()

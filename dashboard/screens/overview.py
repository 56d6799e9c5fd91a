"""Overview: the figures that matter, what the data support, and where to go next."""

from __future__ import annotations

import streamlit as st

from dashboard import parts
from dashboard.data import ask, build_facts
from pipeline.figures import data_level


def main() -> None:
    """The landing page."""
    parts.head(
        "Lights that burn by day",
        "Which controls fail, what the light they left on has cost, and whether replacing them pays.",
    )
    level = ask(data_level)
    if level.level < 3:
        parts.box(f"What the data support: {level.name}", level.statement, level.next_step)
    parts.cards()
    st.caption(
        f"Limits are {build_facts().confidence:.0%} limits where a fit gives them; for energy they are the low and "
        "high ends of what the records allow. Every figure opens to its calls, every call to its file and row."
    )


main()

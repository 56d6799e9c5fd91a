"""What comes next: circuits to look at, next year's failures and spares, rates and growth, campaigns."""

from __future__ import annotations

import streamlit as st

from dashboard import campaigns_block, inrush_block, outlook_block, parts, rates_block


def main() -> None:
    """The page."""
    parts.head(
        "What comes next",
        "Which circuits strain their control, what fails in the next twelve months, is it getting worse, and did "
        "campaigns help?",
    )
    st.caption("A period applies to rates and growth only; sites and kinds of control apply to all.")
    inrush_block.circuits_above_rating()
    outlook_block.next_twelve_months()
    rates_block.rates_and_growth()
    campaigns_block.campaigns()


main()

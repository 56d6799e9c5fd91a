"""A block on campaigns: what each did beyond making controls younger."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, filters_in_force
from pipeline.figures import CampaignResult, campaign_results, wording


def campaigns() -> None:
    """What each campaign did beyond making controls younger."""
    st.header("Did campaigns work?", anchor=False)
    results = ask(campaign_results, filters_in_force())
    if not results:
        parts.nothing(
            "No campaign is on record here.",
            "A campaign is many controls of a site replaced at once as planned work. Name one in portfolio.toml under "
            "[[campaigns]], or choose other sites and kinds.",
        )
        return
    st.caption(
        "Compared with what the lives fitted before the campaign forecast for new controls of the old model on the "
        "same dates: 1 means the campaign did nothing beyond making controls younger."
    )
    for number, result in enumerate(results):
        _campaign(result, number)


def _campaign(result: CampaignResult, number: int) -> None:
    where = ", ".join(result.sites) or "no site"
    replaced = f" of {', '.join(result.replaced)}" if result.replaced else ""
    origin = "named in portfolio.toml" if result.named else "found in the data"
    with st.container(border=True):
        st.subheader(result.name, anchor=False)
        st.text(
            f"{wording.count_text(result.controls)} controls{replaced} at {where}, "
            f"{write.span_text(result.first, result.last)} ({origin})."
        )
        if result.until is not None:
            st.text(
                f"{wording.count_text(result.followed)} of them followed, to {wording.date_text(result.until)} at the "
                "latest."
            )
        st.text(result.sentence)
        if result.incident_ids and st.button("Calls of the failures since", key=f"campaign_{number}"):
            parts.look_at(list(result.incident_ids), f"Failures since: {result.name}")

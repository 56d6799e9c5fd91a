"""What decisions changed: headline figures before and after, and what the rules learnt."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import (
    ask,
    ask_of,
    build_facts,
    build_in_force,
    filters_in_force,
    portfolio_folder,
    previous_build,
)
from dashboard.format import Shown
from pipeline.faults import InputFaults
from pipeline.figures import before_and_now, headline, rules_learnt, verdict_accuracy, wording
from pipeline.store import StageError

RULES = {
    "rule": Shown("Rule"),
    "origin": Shown("Origin"),
    "prior_probability": Shown("Prior", write.percent),
    "decided_yes": Shown("Decided: failed", write.count),
    "decided_no": Shown("Decided: not", write.count),
    "probability": Shown("Now", write.percent, "Posterior mean"),
    "limits": Shown("Limits, %"),
    "findings": Shown("Findings it speaks for", write.count),
}
ACCURACY = {
    "measure": Shown("Measure"), "share": Shown("Share", write.percent), "limits": Shown("Limits, %"),
    "right": Shown("Right", write.count), "of": Shown("Of cases", write.count),
}  # fmt: skip
EFFECT = {"label": Shown("Figure"), "before": Shown("Build before"), "now": Shown("This build")}


def before_and_after() -> None:
    """Headline figures of the build before and of this one, where they differ."""
    st.header("Before and after", anchor=False)
    before = previous_build(portfolio_folder())
    if before is None:
        parts.nothing(
            "There is no earlier build to compare with.",
            "Decide, then build again with `dayburn build DIR`: its figures then stand beside these.",
        )
        return
    try:
        old = ask_of(before, headline, filters_in_force())
    except (StageError, InputFaults):
        parts.nothing(
            "The build before was made by another version.", "Build again after your next decision."
        )
        return
    frame = before_and_now(old, ask_of(build_in_force(), headline, filters_in_force()))
    st.caption(
        "All that changed in the folder between the two builds moves these figures, not decisions alone."
    )
    moved = frame[frame["moved"]]
    if moved.empty:
        parts.nothing(
            "No headline figure differs between the two builds.", "Choose other filters to look closer."
        )
    else:
        parts.prose_table(moved, EFFECT, "before-and-after")


def learnt() -> None:
    """Rules with prior, decided cases and posterior; how well the table's verdict agreed with what was decided."""
    st.header("What decided cases taught", anchor=False)
    rules = ask(rules_learnt)
    if rules.empty:
        parts.nothing("No rule has judged a finding.", "Put exports into calls/ and build again.")
        return
    with st.expander("The rules that spoke, with prior, decided cases and what they say now"):
        parts.prose_table(_limits(rules), RULES, "rules")
    accuracy = ask(verdict_accuracy)
    if accuracy.empty:
        st.caption("Precision and recall of the table's verdict are shown from 10 decided cases on.")
        return
    confidence = wording.percent_text(build_facts().confidence)
    st.caption(
        f"The table's hard verdict, before it learnt, against what was decided ({confidence} Wilson limits). "
        "People decide what is doubtful, so this is not its accuracy on all findings."
    )
    parts.prose_table(_limits(accuracy), ACCURACY, "verdict-accuracy")


def _limits(frame: pd.DataFrame) -> pd.DataFrame:
    """With limits in whole per cent: more digits of a doubt mean nothing."""
    pairs = zip(frame["lower"].astype(float), frame["upper"].astype(float), strict=True)
    limits = [
        wording.span_text(f"{low * 100:.0f}", f"{high * 100:.0f}") if low == low else "–"
        for low, high in pairs
    ]
    return frame.assign(limits=limits)

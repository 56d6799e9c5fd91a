"""A block on what shortens lives: life ratios with limits, how many failures speak, and the checks in plain words."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import ALL_KINDS, LifeCauses, cause_scopes, life_causes, wording

RATIOS = {
    "cause": Shown("What goes with it"),
    "compared_with": Shown("Compared with"),
    "life_ratio": Shown("Times the life", write.estimate, "Factor on every age of failure, all else alike"),
    "limits": Shown("Limits"),
    "said": Shown("Said"),
    "failures": Shown("Failures that speak", write.count, "As the verdicts stand"),
    "p_value_holm": Shown("p, adjusted", write.chance, "Chance of such a ratio if it had no effect, all rows counted"),
}  # fmt: skip


def what_shortens_lives() -> None:
    """Life ratios of one kind of control, or of all."""
    st.header("What shortens lives", anchor=False)
    scopes = ask(cause_scopes, filters_in_force())
    if not scopes:
        parts.nothing(
            "No control of known age and kind can be followed here.",
            "Lives need a register with kinds and installation dates: see What was read, or choose other sites and "
            "kinds.",
        )
        return
    scope = str(
        st.selectbox("Controls", scopes, key="causes_scope", help="Models are compared within a kind")
    )
    found = ask(life_causes, scope, filters_in_force())
    parts.box("In short", *found.sentences)
    if not found.ratios.empty:
        parts.prose_table(
            write.with_limits(found.ratios, "limits", "lower", "upper"),
            RATIOS,
            f"causes-{scope.replace(' ', '-')}",
        )
        st.caption(_how_to_read(found))
    for title, lines in (
        ("Does the regression hold?", found.checks),
        ("What it cannot tell", found.left_out),
    ):
        if lines:
            parts.box(title, *lines)


def _how_to_read(found: LifeCauses) -> str:
    limits = wording.percent_text(build_facts().confidence)
    pooled = (
        f" Pooled over {found.draws} draws of doubtful verdicts; the checks take verdicts as they stand."
        if found.draws
        else ""
    )
    across = " Kinds are compared here; models within each kind." if found.scope == ALL_KINDS else ""
    return (
        f"Weibull accelerated-life regression on {wording.count_text(found.failures)} failures, {limits} limits: 0.5 "
        f"means that controls live half as long, all else alike.{across} An association among controls as they are, "
        f"not a trial.{pooled} Limits are each row's own; what is said allows for all rows. A period does not apply."
    )

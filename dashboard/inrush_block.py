"""A block on circuits whose drivers draw more than their control is rated for."""

from __future__ import annotations

import streamlit as st

from dashboard import format as write
from dashboard import parts
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.format import Shown
from pipeline.figures import above_rating, incidents_of_circuit, inrush_circuits, inrush_figure, stress_effect

INRUSH = {
    "site": Shown("Site"),
    "position": Shown("Position"),
    "stress_sum": Shown(
        "Stress, plain sum", write.estimate, "Sum of the drivers' peaks over the control's rated peak"
    ),
    "stress_source_limited": Shown(
        "Stress, source-limited", write.estimate, "The same with the supply's impedance before the drivers"
    ),
    "lamps": Shown("Lamps"),
    "drivers": Shown("Drivers", write.estimate, "Behind one control"),
    "unknown": Shown("Unknown or supposed", width=260),
    "control_id": Shown("Control"),
    "kind": Shown("Kind"),
    "model": Shown("Model"),
    "circuits": Shown("Circuits alike", write.count),
    "rated_inrush_a": Shown("Rated peak, A", write.estimate),
    "peak_sum_a": Shown("Peak, plain sum, A", write.estimate),
    "peak_source_limited_a": Shown("Peak, source-limited, A", write.estimate),
    "voltage_v": Shown("Line, V", write.estimate),
    "failures": Shown("Failures there", write.count, "Controls that failed at the place, in the whole log"),
}


def circuits_above_rating() -> None:
    """The screening list, and what stress does to life."""
    st.header("Circuits above rated inrush", anchor=False)
    parts.cautions()
    figure = ask(inrush_figure, filters_in_force())
    if figure.value is None:
        parts.nothing("No circuit could be screened here.", f"{figure.note} Or choose other sites and kinds.")
        return
    parts.card_rows([figure])
    circuits = ask(inrush_circuits, filters_in_force())
    above = above_rating(circuits)
    everything = st.toggle("Show every circuit, not only those above rating", key="every_circuit")
    shown = circuits if everything else above
    if shown.empty:
        parts.nothing(
            "No circuit here is above its control's rated peak.",
            "Show every circuit to see how near they come.",
        )
    else:
        with parts.screen_only("inrush"):
            row = parts.table(shown, INRUSH, "inrush", pick=True)
            st.caption(
                "The most stressed first. Choose a row to open the calls of the failures at that place."
            )
        if row is not None and st.button("Calls at the chosen circuit"):
            place = str(shown["position"].iloc[row])
            parts.look_at(
                ask(incidents_of_circuit, str(shown["control_id"].iloc[row])), f"Failures at {place}"
            )
        on_paper = {name: INRUSH[name] for name in list(INRUSH)[:8]}
        parts.paper_only(
            write.plain_table(shown, on_paper, build_facts().money, "Circuits above rated inrush")
        )
    effect = ask(stress_effect, filters_in_force())
    said = effect if isinstance(effect, str) else effect.sentence
    parts.box("What stress does to life here", said)

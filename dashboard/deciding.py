"""How the Review page takes a decision: who, what and why, added to decisions.csv and nowhere else."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

import streamlit as st

from dashboard import parts
from dashboard.data import portfolio_folder
from pipeline.decision_file import append_decisions
from pipeline.decision_privacy import decisions_of, masked_columns, without_people
from pipeline.decisions import Decision
from pipeline.faults import InputFaults
from pipeline.portfolio import Portfolio

WHO, LINE = "review_who", "review_line_"
_JUST_DONE, _FAULTS = "review_just_done", "review_faults"
USUAL_REASON = "read on review"
"""Stands in the field, so that two clicks decide; whoever knows more writes it there."""
_ALL_SEEN = 6  # answers up to so many stand side by side, to be chosen with one click
NO_NAME = "Write your name, initials or role first, at the top of this page."


def decisions_file() -> Path:
    """decisions.csv of the portfolio shown."""
    return Portfolio.read(portfolio_folder()).decisions_file


def decisions_written() -> list[Decision]:
    """Every row of the file as it is now, people masked; the build may not have seen it yet. Raises InputFaults."""
    return decisions_of(Portfolio.read(portfolio_folder()))


def ask_who() -> None:
    """Who decides: asked once, for every decision of the visit."""
    st.text_input(
        "Your name, initials or role", key=WHO, max_chars=80, autocomplete="off",
        help="Kept as you write it in decisions.csv, and shown as evidence beside what you decide.",
    )  # fmt: skip


def tell() -> None:
    """What became of the last press of a button."""
    done = st.session_state.pop(_JUST_DONE, None)
    if done:
        # the next line that nobody has decided comes up
        for key in [str(key) for key in st.session_state if str(key).startswith(LINE)]:
            del st.session_state[key]
        parts.box(
            "Written to decisions.csv",
            done,
            "Build again to see its effect: on the page Intake, or with `dayburn build DIR`.",
        )
    faults = st.session_state.pop(_FAULTS, None)
    if faults:
        parts.box("Nothing was written", *faults)


def form(
    name: str,
    targets: Mapping[str, tuple[str, str]],
    values: Sequence[tuple[str, str, str]] | Mapping[str, str],
    question: str,
    field: str = "",
) -> None:
    """Choose and confirm. ``targets``: words for what it is about -> target and key.

    ``values``: (words, field, value) to choose from, or a mapping of value to words for the one ``field``.
    """
    with st.form(f"decide_{name}", border=True):
        about = _one("For", list(targets), f"{name}_for") if len(targets) > 1 else next(iter(targets))
        chosen = _chosen(values, question, name, field)
        why = st.text_input("Reason", USUAL_REASON, key=f"{name}_why", max_chars=500, autocomplete="off")
        label = "Confirm" if len(targets) > 1 else f"Confirm for {about}"
        if st.form_submit_button(label, type="primary"):
            target, key = targets[about]
            _confirm(target, key, chosen, why)


def _one(label: str, options: list[str], key: str) -> str:
    return str(st.radio(label, options, key=key))


def _chosen(
    values: Sequence[tuple[str, str, str]] | Mapping[str, str], question: str, name: str, field: str
) -> tuple[str, str] | None:
    """(field, value) that the reader chose; None as long as nothing is."""
    key = f"{name}_value"
    if isinstance(values, Mapping):
        words: Callable[[str], str] = lambda value: str(values[value])  # noqa: E731
        if len(values) <= _ALL_SEEN:
            picked = st.radio(question, list(values), index=None, format_func=words, key=key)
        else:
            picked = st.selectbox(
                question, list(values), index=None, format_func=words, key=key, placeholder="Choose"
            )
        return None if picked is None else (field, str(picked))
    said = st.radio(question, [label for label, _, _ in values], index=None, key=key, horizontal=True)
    return next(((of, value) for label, of, value in values if label == said), None)


def _confirm(target: str, key: str, chosen: tuple[str, str] | None, why: str) -> None:
    who = str(st.session_state.get(WHO, "")).strip()
    missing = [
        sentence
        for wanting, sentence in (
            (not who, NO_NAME), (chosen is None, "Choose what is right."), (not why.strip(), "Write a reason."),
        )
        if wanting
    ]  # fmt: skip
    if chosen is None or missing:
        parts.box("Nothing was written", *missing)
        return
    field, value = chosen
    decision = Decision(datetime.now(), who, target, key, field, value, why)
    _write(decision, f"{field} = {value}{_masked(decision)}")


def _masked(decision: Decision) -> str:
    """What a person is told whose reason holds somebody's number, address or name."""
    (kept,) = without_people([decision], Portfolio.read(portfolio_folder()).settings.privacy)
    columns = masked_columns(decision, kept)
    if not columns:
        return ""
    shown = "; ".join(f"{column} is shown as '{getattr(kept, column)}'" for column in columns)
    return f". People are masked: {shown}. decisions.csv itself keeps what you typed"


def undo(decision: Decision) -> None:
    """Add the row that withdraws a decision; nothing is erased."""
    who = str(st.session_state.get(WHO, "")).strip()
    if not who:
        parts.box("Nothing was written", NO_NAME)
        return
    row = Decision(datetime.now(), who, decision.target, decision.key, decision.field, "", "")
    _write(row, f"row {decision.row_number} withdrawn")


def _write(decision: Decision, done: str) -> None:
    try:
        append_decisions(decisions_file(), [decision])
    except InputFaults as faults:
        st.session_state[_FAULTS] = [str(fault) for fault in faults.faults]
    except OSError as error:
        st.session_state[_FAULTS] = [f"decisions.csv cannot be written ({error.strerror})."]
    else:
        st.session_state[_JUST_DONE] = done
    st.rerun()

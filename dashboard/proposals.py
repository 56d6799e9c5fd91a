"""A proposed layout on screen: what stands for what, how sure, masked examples, and what a person changes in it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard import parts
from dashboard.format import Shown
from pipeline.faults import Fault
from pipeline.ingest.fields import FIELDS
from pipeline.ingest.proposal import LayoutProposal
from pipeline.ingest.register_layouts import known_columns
from pipeline.intake_actions import Proposal, Told
from pipeline.numerals import count_text

ORDERS = {"MDY": "Month first: 3/4 is March 4", "DMY": "Day first: 3/4 is 3 April"}
_MATCHES = {
    "ours": Shown("Our field"),
    "theirs": Shown("Their column"),
    "sure": Shown("How sure"),
    "examples": Shown("Examples, masked"),
    "why": Shown("Found by"),
}
_SAMPLES, _CHARACTERS, _MOST_COLUMNS = 3, 40, 8
_ONE_COLUMN = ("coordinate", "hours", "money")


@dataclass(frozen=True)
class View:
    """What both kinds of proposal have in common. ``fields``: ours with meaning and how many columns each takes."""

    rows: pd.DataFrame
    lines: tuple[str, ...]
    header: tuple[str, ...]
    withheld: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]
    fields: dict[str, tuple[str, int]]
    needs: tuple[Fault, ...]
    order_open: bool


def view(proposal: Proposal) -> View:
    """A proposal of either kind, ready to be drawn."""
    return _of_calls(proposal) if isinstance(proposal, LayoutProposal) else _of_register(proposal)


def draw(shown: View) -> None:
    """The proposal and what it leaves open."""
    parts.listing(shown.rows, _MATCHES, "What stands for what")
    st.text("\n".join(shown.lines))
    if shown.needs:
        parts.box("Still to decide, below", *(f"{need.where}: {need.problem}" for need in shown.needs))


def ask_order(shown: View, told: Told, key: str) -> str | None:
    """The order of day and month, asked in plain words where the dates leave it open."""
    if not shown.order_open and told.date_order is None:
        return None
    orders = list(ORDERS)
    index = orders.index(told.date_order) if told.date_order in orders else None
    chosen = st.radio(
        "How this file writes dates",
        orders,
        index=index,
        format_func=ORDERS.__getitem__,
        horizontal=True,
        key=f"{key}_order",
    )
    return None if chosen is None else str(chosen)


def ask_changes(shown: View, told: Told, source: str | None, key: str) -> Told | None:
    """A form to change columns (and the system's name); what was told with the changes, once it is sent."""
    opened = bool(shown.needs) and not shown.order_open
    with st.expander("Change which column is which", expanded=opened), st.form(f"{key}_form", border=False):
        st.caption(
            "Several columns become one field, in the order chosen. An empty field is read from no column."
        )
        chosen = _pickers(shown, key)
        system = source and st.text_input(
                "Work-order system", source, max_chars=60, key=f"{key}_source",
                help="Call numbers are unique within it. Give two kinds of export from one system the same name.",
            )  # fmt: skip
        sent = st.form_submit_button("Propose with these columns")
    if not sent:
        return None
    changed = {name: columns for name, columns in chosen.items() if columns != shown.columns.get(name, ())}
    new_source = system if system and system != source else told.source
    return Told(told.date_order, {**told.columns, **changed}, new_source)


def _pickers(shown: View, key: str) -> dict[str, tuple[str, ...]]:
    """One box for each of our fields, two side by side where there is room."""
    chosen: dict[str, tuple[str, ...]] = {}
    for number, (name, (meaning, most)) in enumerate(shown.fields.items()):
        if number % 2 == 0:
            sides = st.columns(2)
        picked = sides[number % 2].multiselect(
            f"`{name}`: {meaning}" if meaning else f"`{name}`",
            shown.header,
            default=shown.columns.get(name, ()),
            max_selections=max(most, len(shown.columns.get(name, ()))),
            format_func=lambda column: f"{column} (people, withheld)" if column in shown.withheld else column,
            placeholder="no column",
            key=f"{key}_{name}",
        )
        chosen[name] = tuple(picked)
    return chosen


def _of_calls(proposal: LayoutProposal) -> View:
    draft = proposal.draft
    rows = [
        {
            "ours": f"{FIELDS[match.field].meaning} ({match.field})",
            "theirs": match.column,
            "sure": match.confidence_word,
            "examples": _examples(proposal.profiles[match.column].samples),
            "why": match.why,
        }
        for match in proposal.matches
    ]
    missing = [name for name in FIELDS if name not in draft.columns]
    lines = [
        f"Read as: {proposal.read_as}",
        f"Dates: {proposal.date_statement}",
        *(said.capitalize() for said in proposal.decimals_said()),
        f"Not found: {', '.join(missing) or 'nothing'}",
        f"Withheld (people; never loaded): {', '.join(draft.withheld) or 'none'}",
        f"Not used: {', '.join(draft.unused()) or 'none'}",
    ]
    lines += [
        f"No meaning known, {name}: {', '.join(values)}. After confirming, write it into layouts/{draft.name}.toml."
        for name, values in proposal.unknown_values.items()
    ]
    fields = {
        name: (one.meaning, 1 if one.kind in _ONE_COLUMN else _MOST_COLUMNS) for name, one in FIELDS.items()
    }
    return View(
        pd.DataFrame(rows, columns=list(_MATCHES)), tuple(lines), draft.header, draft.withheld,
        dict(draft.columns), fields, proposal.needs, proposal.order_open,
    )  # fmt: skip


def _of_register(proposal: Proposal) -> View:
    assert not isinstance(proposal, LayoutProposal)
    draft = proposal.draft
    rows = [
        {
            "ours": match.ours,
            "theirs": match.theirs,
            "sure": match.confidence_word,
            "examples": _examples(match.examples),
            "why": match.why or "its name",
        }
        for match in proposal.matches
    ]
    rows += [
        {"ours": ours, "theirs": "(every row)", "sure": "", "examples": value, "why": "fixed"}
        for ours, value in draft.fixed.items()
    ]
    own = known_columns(draft.table)
    missing = [name for name in own if name not in draft.columns and name not in draft.fixed]
    lines = [
        f"Read as: {draft.table}, {proposal.read_as}, {count_text(proposal.rows)} rows",
        f"Not found: {', '.join(missing) or 'nothing'}",
        f"Withheld (people; never loaded): {', '.join(draft.withheld) or 'none'}",
        f"Not used: {', '.join(draft.unused()) or 'none'}",
        *(f"To know: {remark}" for remark in proposal.remarks),
    ]
    return View(
        pd.DataFrame(rows, columns=list(_MATCHES)), tuple(lines), draft.header, draft.withheld, dict(draft.columns),
        dict.fromkeys(own, ("", 1)), proposal.needs, proposal.order_open,
    )  # fmt: skip


def _examples(samples: tuple[str, ...]) -> str:
    return " ¦ ".join(" ".join(sample.split())[:_CHARACTERS] for sample in samples[:_SAMPLES])

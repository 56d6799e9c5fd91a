"""What the pages are made of: head, cards, tables, charts, cautions. Text from data is always escaped here."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd
import plotly.graph_objects as go
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import format as write
from dashboard.data import ask, build_facts, filters_in_force
from dashboard.filters import said
from dashboard.format import Shown
from pipeline.cautions import CAUTION
from pipeline.figures import Figure, choices, headline, headline_keys, wording

BEHIND_PAGE = "screens/calls_behind.py"
INTAKE_PAGE = "screens/intake.py"
LOOK_BEHIND = "look_behind"
LOOK_AT = "look_at"
MOST_ROWS = 1000
_CHART = {"displaylogo": False, "displayModeBar": False, "responsive": True}


def head(title: str, question: str, with_period: bool = True) -> None:
    """A page's title, the question it answers and the part of the portfolio it shows."""
    st.title(title, anchor=False)
    scope = said(filters_in_force(), ask(choices), build_facts(), with_period)
    _html(f"<p class='scope'>{html.escape(question)}<br><b>Shown:</b> {html.escape(scope)}</p>")


def box(title: str, *lines: str) -> None:
    """A boxed message; its lines may hold any text."""
    _html(f"<div class='box' role='note'><strong>{html.escape(title)}</strong>{_paragraphs(lines)}</div>")


def cautions() -> None:
    """The usual cautions, on screen and on paper, wherever a page leads to work on equipment."""
    box("Before anyone works on this", CAUTION)


def screen_only(name: str) -> DeltaGenerator:
    """A container that is not printed."""
    return st.container(key=f"screen-only-{name}")


def nothing(what: str, todo: str = "") -> None:
    """An empty state: what is not there, and what to do where something is."""
    box(what, *filter(None, [todo]))


def card(figure: Figure) -> None:
    """A headline figure with limits, what must be read with it, and the way to the calls behind it."""
    with st.container(border=True, height="stretch"):
        _html(_card(figure))
        if figure.value is not None and figure.key in headline_keys():
            with st.container(horizontal=True, key=f"ways-{figure.key}"):
                for key, label in _ways_behind(figure):
                    if st.button(label, key=f"behind_{key}", type="tertiary"):
                        look_behind(figure=key)


def cards(*keys: str) -> None:
    """The headline figures of these keys (all, without any), side by side where there is room."""
    figures = ask(headline, filters_in_force())
    card_rows([figure for figure in figures if not keys or figure.key in keys])


def card_rows(chosen: list[Figure], at_most: int = 3) -> None:
    """Figures as cards, ``at_most`` to a row."""
    per_row = min(at_most, len(chosen)) or 1
    for start in range(0, len(chosen), per_row):
        for column, figure in zip(st.columns(per_row), chosen[start : start + per_row], strict=False):
            with column:
                card(figure)


def look_behind(**target: str) -> None:
    """Go to the calls behind a figure, an incident (``incident=``) or a group (``grouping=``, ``group=``)."""
    st.session_state[LOOK_BEHIND] = target
    st.switch_page(BEHIND_PAGE)


def look_at(incident_ids: list[str], label: str) -> None:
    """Go to the calls of several incidents, under a label that says what they are."""
    st.session_state[LOOK_AT] = (label, tuple(incident_ids))
    look_behind(listed="yes")


def calls_of(incident_ids: Sequence[str], label: str, key: str) -> None:
    """A way to the calls of some incidents, named by what they are; nothing where there are none."""
    if len(incident_ids) and st.button(f"Calls behind: {label}", key=key, type="tertiary"):
        look_at(list(incident_ids), label)


def table(
    frame: pd.DataFrame, columns: dict[str, Shown], name: str, *, most: int = MOST_ROWS, pick: bool = False
) -> int | None:
    """A table that scrolls inside itself, with a CSV of all of it; with ``pick``, the row that the reader chose."""
    currency = build_facts().money
    shown = frame.head(most)
    settings = {
        key: st.column_config.Column(write.label_of(column, currency), help=column.help, width=column.width)
        for key, column in columns.items()
    }
    event: Any = st.dataframe(
        write.styled(shown, columns), column_config=settings, hide_index=True, key=f"table_{name}",
        placeholder=write.NOTHING, on_select="rerun" if pick else "ignore", selection_mode="single-row",
    )  # fmt: skip
    picked = event["selection"]["rows"] if pick else []
    if len(frame) > most:
        st.caption(
            f"The first {wording.count_text(most)} of {wording.count_text(len(frame))} rows; the CSV has all."
        )
    download(frame, columns, name)
    return int(picked[0]) if picked and picked[0] < len(shown) else None


def prose_table(frame: pd.DataFrame, columns: dict[str, Shown], name: str) -> None:
    """A short table of sentences: its cells wrap, so that nothing is cut off; on a phone, a row is a list.

    Every text is escaped.
    """
    _html(f"<div class='wide listed'>{write.plain_table(frame, columns, build_facts().money)}</div>")
    download(frame, columns, name)


def listing(frame: pd.DataFrame, columns: dict[str, Shown], caption: str) -> None:
    """A short table that needs no build: cells wrap, and on a phone each row becomes a list. Every text is escaped."""
    _html(f"<div class='wide phone-too'>{write.plain_table(frame, columns, '', caption)}</div>")


def name(text: str) -> None:
    """A heading that is a name from outside: never markup."""
    _html(f"<h3>{html.escape(text)}</h3>")


def alive(text: str) -> str:
    """Markup of a line that a screen reader speaks when it changes."""
    return f"<p role='status' aria-live='polite' class='scope'>{html.escape(text)}</p>"


def download(
    frame: pd.DataFrame, columns: dict[str, Shown], name: str, label: str = "Download as CSV"
) -> None:
    """A CSV of the columns shown."""
    currency = build_facts().money
    st.download_button(
        label, write.csv_bytes(frame, columns, currency), file_name=f"{name}.csv", mime="text/csv",
        key=f"csv_{name}", on_click="ignore",
    )  # fmt: skip


def chart(figure: go.Figure, name: str) -> None:
    """A chart; its numbers stand in a table nearby."""
    st.plotly_chart(figure, theme=None, key=f"chart_{name}", config=_CHART)


def print_only(markup: str) -> None:
    """Markup of plain_table for paper, and on a phone as a list; on a desk the sortable table stands instead."""
    _html(f"<div class='only-print phone-too'>{markup}</div>")


def paper_only(markup: str) -> None:
    """Markup of plain_table that is printed in place of a table that scrolls."""
    _html(f"<div class='only-print'>{markup}</div>")


def text_block(label: str, text: str | None) -> None:
    """A text from a call under its label, shown as it is."""
    st.caption(label)
    st.text(text if text else "nothing written")


def _card(figure: Figure) -> str:
    limits = wording.range_text(figure.low, figure.high, figure.unit)
    parts = [
        f"<div class='label'>{html.escape(figure.label)}</div>",
        f"<div class='value'>{html.escape(wording.quantity_text(figure.value, figure.unit))}</div>",
    ]
    if limits:
        parts.append(f"<div class='limits'>limits {html.escape(limits)}</div>")
    if figure.beside:
        rows = "".join(
            f"<div><span>{html.escape(one.label)}</span><b>{html.escape(one.text())}</b></div>"
            for one in figure.beside
        )
        parts.append(f"<div class='beside'>{rows}</div>")
    notes = [figure.note, *(f"{one.label}: {one.note}" for one in figure.beside if one.note)]
    parts += [f"<p class='note'>{html.escape(note)}</p>" for note in notes if note]
    return f"<div class='card'>{''.join(parts)}</div>"


def _ways_behind(figure: Figure) -> list[tuple[str, str]]:
    """The figure's own calls, and those of a figure beside it that has calls of its own."""
    ways = [(figure.key, "Calls behind this")]
    ways += [(one.key, "Calls of the longest-lived") for one in figure.beside if one.key == "longest_lived"]
    ways += [
        (one.key, "Calls of the year before")
        for one in figure.beside
        if one.key == "failures_12_months_before" and one.value is not None
    ]
    return ways


def _paragraphs(lines: Iterable[str]) -> str:
    return "".join(f"<p>{html.escape(line)}</p>" for line in lines)


def _html(markup: str) -> None:
    st.html(markup)

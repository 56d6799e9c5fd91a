"""Sites, kinds and period: chosen in the sidebar, kept across pages, written into the page's address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import cast

import streamlit as st

from dashboard.format import span_text
from pipeline.figures import EVERYTHING, Choices, Facts, Filters, Period

WHOLE_LOG, CUSTOM = "Whole log", "Custom span"
SITES, KINDS, PERIOD, FIRST, LAST = "site_picker", "kind_picker", "period_picker", "first_day", "last_day"
_KEPT = "filters_kept"


def choose(offered: Choices, periods: list[Period], info: Facts) -> Filters:
    """The sidebar's filters, drawn and read. What the address or an earlier page said is the start."""
    kept, unknown = _known(_kept_or_addressed(), offered)
    with st.sidebar:
        st.header("Filters", anchor=False)
        for name in unknown:
            st.warning("The address names something that this build does not have; it is left out:")
            st.text(name)
        sites = _several(SITES, "Sites", kept.sites, offered.sites, "Every site")
        kinds = _several(KINDS, "Kinds of control", kept.kinds, {k: k for k in offered.kinds}, "Every kind")
        first, last = _period(kept, periods, info)
        st.button("Show everything", on_click=_clear, disabled=kept.everything)
    chosen = Filters(sites, kinds, first, last)
    st.session_state[_KEPT] = chosen
    _write_address(chosen)
    return chosen


def said(filters: Filters, offered: Choices, info: Facts, with_period: bool = True) -> str:
    """The filters in words, for the head of every page and of every printed sheet."""
    sites = _named((offered.sites.get(site, site) for site in filters.sites), "all sites")
    kinds = _named(filters.kinds, "all kinds of control")
    first, last = filters.start or info.log_from, filters.end or info.log_to
    span = span_text(first, last) if with_period else f"as of {span_text(info.log_to, info.log_to)}"
    return f"{sites} · {kinds} · {span}"


def _named(names: Iterable[str], otherwise: str) -> str:
    listed = list(names)
    if len(listed) > 4:
        return f"{len(listed)} chosen: {', '.join(listed[:3])} …"
    return ", ".join(listed) or otherwise


def _kept_or_addressed() -> Filters:
    """The filters of this session; a session that has none reads the address."""
    if _KEPT in st.session_state:
        return cast(Filters, st.session_state[_KEPT])
    address = st.query_params
    return Filters(
        tuple(address.get_all("site")), tuple(address.get_all("kind")),
        _day(address.get("from")), _day(address.get("to")),
    )  # fmt: skip


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None


def _known(wanted: Filters, offered: Choices) -> tuple[Filters, list[str]]:
    """The part of the filters that this build can answer, and the names that it does not know."""
    unknown = [site for site in wanted.sites if site not in offered.sites]
    unknown += [kind for kind in wanted.kinds if kind not in offered.kinds]
    sites = tuple(site for site in wanted.sites if site in offered.sites)
    kinds = tuple(kind for kind in wanted.kinds if kind in offered.kinds)
    if wanted.start and wanted.end and wanted.start > wanted.end:
        wanted = replace(wanted, start=None, end=None)
    return replace(wanted, sites=sites, kinds=kinds), unknown


def _several(
    key: str, label: str, kept: tuple[str, ...], offered: dict[str, str], otherwise: str
) -> tuple[str, ...]:
    """A choice of none, one or several; none means all."""
    before = st.session_state.get(key, kept)
    st.session_state[key] = [one for one in before if one in offered]
    chosen = st.multiselect(
        label, list(offered), key=key, format_func=lambda one: offered.get(one, one),
        placeholder=otherwise if offered else "None in the register", disabled=not offered,
    )  # fmt: skip
    return tuple(chosen)


def _period(kept: Filters, periods: list[Period], info: Facts) -> tuple[date | None, date | None]:
    """First and last day: a calendar or fiscal year that the log covers, or a span of one's own."""
    named = {(p.start, p.end): p.label if p.complete else f"{p.label}, in part" for p in periods}
    spans = {label: span for span, label in named.items()}
    labels = [WHOLE_LOG, *spans, *([CUSTOM] if info.log_from and info.log_to else [])]
    if st.session_state.get(PERIOD) not in labels:
        st.session_state[PERIOD] = _label_of(kept, named) if len(labels) > 1 else WHOLE_LOG
    label = st.selectbox("Period", labels, key=PERIOD)
    if label == CUSTOM and info.log_from and info.log_to:
        return _own_span(kept, info.log_from, info.log_to)
    return spans.get(label, (None, None))


def _label_of(kept: Filters, named: dict[tuple[date, date], str]) -> str:
    if kept.start is None and kept.end is None:
        return WHOLE_LOG
    if kept.start and kept.end:
        return named.get((kept.start, kept.end), CUSTOM)
    return CUSTOM


def _own_span(kept: Filters, earliest: date, latest: date) -> tuple[date | None, date | None]:
    days = {}
    for key, label, start in (
        (FIRST, "First day", kept.start or earliest),
        (LAST, "Last day", kept.end or latest),
    ):
        st.session_state[key] = min(max(st.session_state.get(key, start), earliest), latest)
        days[key] = st.date_input(label, key=key, min_value=earliest, max_value=latest, format="YYYY-MM-DD")
    first, last = days[FIRST], days[LAST]
    if first > last:
        st.warning("The span ends before it begins: the whole log is shown until you mend it.")
        return None, None
    return first, last


def _clear() -> None:
    for key in (SITES, KINDS, PERIOD, FIRST, LAST):
        st.session_state.pop(key, None)
    st.session_state[_KEPT] = EVERYTHING


def _write_address(chosen: Filters) -> None:
    """Keep the filters in the address, so that a link or a reload shows the same part."""
    wanted: dict[str, list[str]] = {
        "site": list(chosen.sites),
        "kind": list(chosen.kinds),
        "from": [chosen.start.isoformat()] if chosen.start else [],
        "to": [chosen.end.isoformat()] if chosen.end else [],
    }
    for name, values in wanted.items():
        if st.query_params.get_all(name) == values:
            continue
        if values:
            st.query_params[name] = values
        else:
            del st.query_params[name]

"""Intake: drop files in, see how they would be read, confirm, build, and see what became of every row."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import building, dropped, kept_files, parts, proposals, reconciliation, windows_of_record
from dashboard.data import ask, has_build, portfolio_folder
from dashboard.dropped import Item
from dashboard.saying import doing, say, tell
from pipeline.faults import Fault, InputFaults
from pipeline.figures import files_read
from pipeline.intake_actions import (
    Kind,
    Proposal,
    Table,
    Told,
    accept,
    add_known,
    propose,
    tables_of,
)
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio

KINDS: dict[Kind, str] = {
    "calls": "Calls (work orders)",
    "controls": "Inventory of controls",
    "fixtures": "Inventory of fixtures",
    "sites": "List of sites",
    "accounts": "List of accounts",
}
_TOLD = "intake_told"
_LOOK_EVERY_SECONDS = 0.3


def main() -> None:
    """The page."""
    st.title("Intake", anchor=False)
    st.caption("Add exports, confirm how they are read, build. Filters do not apply on this page.")
    # In containers of their own, what comes and goes does not move what is open below it, which would close it.
    with st.container():
        tell()
    portfolio = Portfolio.read(portfolio_folder())
    _add(portfolio)
    job, place = _build(portfolio)
    _result(portfolio)
    if job is not None:  # last, so that the old result stays on screen meanwhile
        with place:
            _watch(job)
        st.rerun()


def _result(portfolio: Portfolio) -> None:
    """What the last good build read, and the windows of record that it suggests."""
    if not has_build():
        parts.nothing("Nothing has been built yet.", "Add an export above, then press Build.")
        return
    reconciliation.level_box()
    reconciliation.files()
    reconciliation.reasons()
    reconciliation.left_out()
    windows_of_record.confirm(portfolio)


def _add(portfolio: Portfolio) -> None:
    st.header("Add files", anchor=False)
    uploaded = st.file_uploader(
        "Work-order exports and inventories", accept_multiple_files=True, key=dropped.widget_key(),
        help="Text tables, workbooks and JSON, also in gzip or zip. Nothing in them is run.",
    )  # fmt: skip
    limit = st.get_option("server.maxUploadSize")
    st.caption(
        f"Up to {limit} MB each; put a larger one into calls/ yourself, or use `dayburn layout DIR FILE`. "
        "Files wait in a private temporary folder until you confirm them."
    )
    items, refused = dropped.items(uploaded or [])
    with st.container():
        _refused("Refused", refused)
        _look_at_all(portfolio, items, dropped.waiting(portfolio, _names_read()))
    kept_files.change(portfolio)


def _names_read() -> list[str]:
    return [str(name) for name in ask(files_read)["name"]] if has_build() else []


def _look_at_all(portfolio: Portfolio, items: list[Item], waiting: list[Item]) -> None:
    """Every file: those that are known together, the others one by one, and all faults at once."""
    looks = [
        (item, dropped.once(item, portfolio, "tables", lambda item=item: tables_of(item.path, portfolio)))  # type: ignore[misc]
        for item in (*items, *waiting)
    ]
    faults = [fault for _, look in looks if isinstance(look, InputFaults) for fault in look.faults]
    _refused("Cannot be read; nothing was changed", faults)
    tables = [(item, look) for item, look in looks if isinstance(look, list)]
    known = [(item, look) for item, look in tables if all(table.layout for table in look)]
    _known(portfolio, known, len(items))
    unknown = [(item, table) for item, look in tables for table in look if not table.layout]
    for number, (item, table) in enumerate(unknown, start=1):
        with st.container(border=True, key=f"file-{number}"):
            _unknown(
                portfolio, item, table, f"{count_text(number)} of {count_text(len(unknown))}", len(items)
            )


def _refused(title: str, faults: list[Fault]) -> None:
    if faults:
        parts.box(title, *(str(fault) for fault in faults))


def _known(portfolio: Portfolio, known: list[tuple[Item, list[Table]]], dropped_files: int) -> None:
    """Files whose header a saved layout describes: added together with one press."""
    if known:
        st.text("\n".join(_known_line(item, look) for item, look in known))
    to_add = [(item, look[0].kind) for item, look in known if not item.in_calls]
    noun = "file" if len(to_add) == 1 else "files"
    if to_add and st.button(f"Add {count_text(len(to_add))} known {noun}", type="primary"):
        doing(lambda: _add_known(portfolio, to_add, dropped_files), "Not all files were added")


def _known_line(item: Item, look: list[Table]) -> str:
    place = "in calls/, read by the next build" if item.in_calls else "known"
    return (
        f"{item.path.name}: {place}; layout {', '.join(dict.fromkeys(str(table.layout) for table in look))}"
    )


def _add_known(portfolio: Portfolio, to_add: list[tuple[Item, Kind]], dropped_files: int) -> None:
    added: list[Item] = []
    faults: list[Fault] = []
    for item, kind in to_add:
        try:
            add_known(portfolio, item.path, kind)
        except InputFaults as error:
            faults += error.faults
        else:
            added.append(item)
    dropped.done(added, dropped_files - len(added))
    if faults:
        raise InputFaults(faults)
    say("Added", *(item.path.name for item in added), "Press Build when all files are there.")


def _unknown(portfolio: Portfolio, item: Item, table: Table, which: str, dropped_files: int) -> None:
    """A table that no saved layout knows: how it would be read, what to change, and the button that confirms it."""
    parts.name(table.name)
    st.caption(f"File {which}: no saved layout knows its header.")
    key = f"intake_{item.key}_{table.name}"
    kind = st.selectbox(
        f"What file {which} lists", list(KINDS), format_func=KINDS.__getitem__, key=f"{key}_kind",
        disabled=item.in_calls,
    )  # fmt: skip
    all_told: dict[str, Told] = st.session_state.setdefault(_TOLD, {})
    name = f"{key}_{kind}"
    told = all_told.get(name, Told())
    found = dropped.once(
        item, portfolio, (table.name, kind, told), lambda: propose(table.path, portfolio, kind, told)
    )
    if isinstance(found, InputFaults):
        parts.box("Cannot be read like this", *(str(fault) for fault in found.faults))
        if told != Told() and st.button("Forget the changes", key=f"{name}_forget"):
            del all_told[name]
            st.rerun()
        return
    answer = _questions(found, told, f"{name}_{abs(hash(repr(told)))}")
    if answer is not None and answer != told:
        all_told[name] = answer
        st.rerun()
    wait = "Decide what is still open first." if found.needs else None
    if st.button(
        f"Confirm file {which}", type="primary", disabled=bool(found.needs), key=f"{name}_confirm", help=wait
    ):
        doing(lambda: _confirm(portfolio, item, table, found, dropped_files), "Nothing was saved")


def _questions(proposal: Proposal, told: Told, key: str) -> Told | None:
    """The proposal drawn; what a person answers to it."""
    shown = proposals.view(proposal)
    proposals.draw(shown)
    order = proposals.ask_order(shown, told, key)
    if order is not None and order != told.date_order:
        return replace(told, date_order=order)
    return proposals.ask_changes(shown, told, getattr(proposal.draft, "source", None), key)


def _confirm(portfolio: Portfolio, item: Item, table: Table, proposal: Proposal, dropped_files: int) -> None:
    accepted = accept(portfolio, table.path, proposal)
    was_dropped = not item.in_calls
    dropped.done([item] if was_dropped else [], dropped_files - was_dropped)
    inside = [path.relative_to(portfolio.folder).as_posix() for path in (accepted.layout, accepted.file)]
    say("Confirmed", f"Saved {inside[0]}; the file is {inside[1]}.", "Press Build when all files are there.")


def _build(portfolio: Portfolio) -> tuple[building.Job | None, DeltaGenerator]:
    """The button, and what became of the last build; gives one that is at work, and where to show it."""
    st.header("Build", anchor=False)
    job = building.latest(portfolio.folder)
    at_work = job is not None and job.running
    if st.button("Build", type="primary", disabled=at_work, help="Reads what is new, computes everything."):
        job = building.start(portfolio.folder)
    place = st.container()
    if job is None or job.running:
        return job, place
    if job.told:
        kept = "The result below is that of the last good build." if has_build() else "Nothing was built."
        parts.box("The build stopped", *job.told, kept)
    else:
        building.forget(portfolio.folder)
        parts.box("Built", "The reconciliation below and all other pages show the new build.")
    return None, place


def _watch(job: building.Job) -> None:
    """Show how far a build is until it ends. Whoever leaves the page does not end it."""
    line, bar = st.empty(), st.progress(0.0)
    shown: tuple[str, float | None] | None = None
    with st.spinner("Building. You may look at other pages meanwhile."):
        while True:
            ended = job.wait(_LOOK_EVERY_SECONDS)
            now = (job.message, job.done_share)
            if now != shown:
                line.html(parts.alive(f"{now[0]} …"))
                bar.progress(now[1] or 0.0)
                shown = now
            if ended:
                return


main()

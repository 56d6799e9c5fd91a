"""Files dropped on the page Intake: kept in a private temporary folder of the session until they are accepted."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

import streamlit as st

from pipeline.faults import Fault, InputFaults
from pipeline.intake_actions import safe_name, unread_exports
from pipeline.plain_text import plain
from pipeline.portfolio import Portfolio

T = TypeVar("T")
_FOLDER, _DROPPED, _LOOKS, _ROUND, _DONE = (
    "intake_folder", "intake_dropped", "intake_looks", "intake_round", "intake_done",
)  # fmt: skip


@dataclass(frozen=True)
class Item:
    """A file to look at. ``key`` tells it from every other of the session; ``in_calls``: it lies in calls/ already."""

    key: str
    path: Path
    in_calls: bool = False


def widget_key() -> str:
    """The uploader's key: a new one empties it."""
    return f"intake_drop_{st.session_state.setdefault(_ROUND, 0)}"


def items(uploaded: Iterable[Any]) -> tuple[list[Item], list[Fault]]:
    """The dropped files, not yet accepted, under safe names in the session's folder; and those that were refused."""
    found: list[Item] = []
    faults: list[Fault] = []
    for file in uploaded:
        if file.file_id in st.session_state.setdefault(_DONE, set()):
            continue
        try:
            found.append(Item(file.file_id, _kept(file)))
        except InputFaults as error:
            faults += error.faults
    return found, faults


def waiting(portfolio: Portfolio, names_read: Iterable[str]) -> list[Item]:
    """Files that lie in calls/ and that no build has read."""
    unread = unread_exports(portfolio, names_read)
    # A name that is no text cannot be shown: the build names it and stops.
    return [Item(str(path), path, True) for path in unread if plain(str(path)) == str(path)]


def done(accepted: Iterable[Item], left: int) -> None:
    """These were accepted: what was known of any file is looked at anew; with none ``left`` the uploader is emptied."""
    st.session_state.setdefault(_DONE, set()).update(item.key for item in accepted)
    st.session_state.pop(_LOOKS, None)
    if not left:
        st.session_state[_ROUND] = st.session_state.get(_ROUND, 0) + 1
        st.session_state.pop(_DROPPED, None)
        st.session_state.pop(_FOLDER, None)  # its files go with it


def once(item: Item, portfolio: Portfolio, question: Any, look: Callable[[], T]) -> T | InputFaults:
    """What a look at a file gave, faults included; looked anew when the file or the saved layouts have changed."""
    layouts = sorted(portfolio.layouts.glob("*.toml")) if portfolio.layouts.is_dir() else []
    stamp = tuple((path.name, path.stat().st_mtime_ns) for path in layouts)
    status = item.path.stat()
    key = (item.key, status.st_size, status.st_mtime_ns, stamp, repr(question))
    kept: dict[Any, Any] = st.session_state.setdefault(_LOOKS, {})
    if key not in kept:
        with st.spinner("Looking at the file …"):
            try:
                kept[key] = look()
            except InputFaults as error:
                kept[key] = error
    answer: T | InputFaults = kept[key]
    return answer


def _kept(file: Any) -> Path:
    """The file on disk; each in a folder of its own, so that two of one name stay apart."""
    known: dict[str, Path] = st.session_state.setdefault(_DROPPED, {})
    if file.file_id not in known:
        name = safe_name(file.name)
        if _FOLDER not in st.session_state:
            st.session_state[_FOLDER] = TemporaryDirectory(prefix="dayburn-intake-")
        folder = Path(st.session_state[_FOLDER].name) / str(len(known) + 1)
        folder.mkdir(exist_ok=True)
        (folder / name).write_bytes(file.getbuffer())
        known[file.file_id] = folder / name
    return known[file.file_id]

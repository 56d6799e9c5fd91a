"""The files that a portfolio holds: one taken out, or one put back, by a person on the page Intake."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import streamlit as st

from dashboard.saying import doing, say
from pipeline.numerals import count_text
from pipeline.plain_text import plain
from pipeline.portfolio import Portfolio
from pipeline.removing import put_back, removable_files, remove_file, removed_files


def change(portfolio: Portfolio) -> None:
    """Choose a file to remove, and one to put back; nothing where the portfolio never had any."""
    kept, removed = removable_files(portfolio), removed_files(portfolio)
    if not kept and not removed:
        return
    told = f"{count_text(len(kept))} in use" + (f", {count_text(len(removed))} removed" if removed else "")
    with st.expander("Files of this portfolio"):  # a label that changed would close it
        st.caption(f"{told}. A removed file moves to removed/ in the portfolio folder. It is not deleted.")
        _choose(portfolio, kept, "File to remove", "Remove", remove_file)
        _choose(portfolio, removed, "File to put back", "Put back", put_back)


def _choose(
    portfolio: Portfolio,
    files: Sequence[Path],
    label: str,
    verb: str,
    move: Callable[[Portfolio, Path], Path],
) -> None:
    if not files:
        return

    def name(path: Path) -> str:
        return plain(path.relative_to(portfolio.folder).as_posix())

    key = verb.lower().replace(" ", "_")
    chosen = st.selectbox(
        label, files, index=None, format_func=name, placeholder="none", key=f"kept_files_{key}"
    )
    if st.button(verb, disabled=chosen is None, key=f"kept_files_{key}_now") and chosen is not None:
        doing(lambda: _move(portfolio, chosen, name(chosen), move), "Nothing was moved")


def _move(portfolio: Portfolio, file: Path, name: str, move: Callable[[Portfolio, Path], Path]) -> None:
    place = move(portfolio, file).relative_to(portfolio.folder).as_posix()
    say(
        "Moved",
        f"{name} is now {plain(place)}.",
        "Press Build to compute without what is gone, with what is back.",
    )

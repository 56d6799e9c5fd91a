"""What the press of a button did, told once at the head of the page that is drawn anew."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from dashboard import parts
from pipeline.faults import InputFaults, system_fault

_SAID = "said_of_button"


def tell() -> None:
    """What the last press of a button did."""
    title, lines = st.session_state.pop(_SAID, ("", ()))
    if title:
        parts.box(title, *lines)


def say(title: str, *lines: str) -> None:
    """Keep a title and sentences for ``tell``."""
    st.session_state[_SAID] = (title, lines)


def doing(work: Callable[[], None], failure: str) -> None:
    """Do what a button asks for and draw the page anew; what stands against it is told."""
    try:
        work()
    except InputFaults as error:
        say(failure, *(str(fault) for fault in error.faults))
    except OSError as error:
        say(failure, str(system_fault(error)))
    st.rerun()

"""People in what a person typed on review: masked by the rules for calls before anything is made or shown of it.

decisions.csv keeps what was typed, as exports keep theirs. ``who`` names the person who decided, on purpose: only
telephone numbers and e-mail addresses go from it. The texts in a pattern's key are masked like the texts of the calls
that it is to find.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pipeline.decision_file import read_decisions
from pipeline.decisions import Decision
from pipeline.ingest.privacy import EMAIL, PHONE
from pipeline.ingest.register_privacy import masked_rows
from pipeline.portfolio import Portfolio
from pipeline.settings import Privacy


def decisions_of(portfolio: Portfolio) -> list[Decision]:
    """Every decision of a portfolio with people masked, in the order of the file; raises InputFaults."""
    return without_people(read_decisions(portfolio.decisions_file), portfolio.settings.privacy)


def without_people(decisions: Sequence[Decision], privacy: Privacy) -> list[Decision]:
    """The same decisions as they may be kept and shown; unchanged where masking is switched off."""
    typed = [[one.who, one.key if one.target == "pattern" else "", one.why] for one in decisions]
    return [
        replace(one, who=_who(one.who, who), key=key or one.key, why=why)
        for one, (who, key, why) in zip(decisions, masked_rows(typed, privacy), strict=True)
    ]


def _who(typed: str, masked: str) -> str:
    """Who decided: a name stays, a number or an address at which the person is reached does not."""
    return masked if PHONE in masked or EMAIL in masked else typed


def masked_columns(typed: Decision, kept: Decision) -> list[str]:
    """The columns of a decision in which people were masked."""
    return [column for column in ("who", "key", "why") if getattr(typed, column) != getattr(kept, column)]

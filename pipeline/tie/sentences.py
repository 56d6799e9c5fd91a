"""The state of reading one sentence, and what it leaves when it ends: bare deeds, and parts still asked for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pipeline.tie.accounts import Account, Mention


@dataclass
class Sentence:
    """The state of reading one sentence."""

    deed: str = ""
    deed_clause: int = -1
    deed_last: int = -1
    backward: bool = False  # the deed was used up by parts before it
    needed: bool = False
    need_clause: int = -1
    need_first: int = -1
    denial_ends: int = -1
    denied_until: int = -1
    denied_clause: int = -1
    bad_until: int = -1
    parts: list[Mention] = field(default_factory=list)
    used: bool = False


def close(account: Account, sentence: Sentence) -> None:
    """End of a sentence: a deed that found no part stays bare, parts without a deed take the last one."""
    for part in sentence.parts:
        if not (part.deed or part.sound or part.needed) and sentence.deed and not part.bad:
            part.deed, part.deed_clause, sentence.used = sentence.deed, sentence.deed_clause, True
    _want_anew(account, sentence)
    leave_bare(account, sentence)


def _want_anew(account: Account, sentence: Sentence) -> None:
    """'Freed contactor. Will need replacement': what a sentence of its own asks for is the part before it."""
    asked = sentence.needed and sentence.deed == "replaced" and sentence.deed_last > sentence.need_first
    if not asked or sentence.used or sentence.parts or not account.mentions:
        return
    before = account.mentions[-1]
    if before.deed in ("", "reset", "cleaned", "completed") and not before.sound:
        anew = replace(before, deed="", needed=True, wanted=sentence.deed)
        account.mentions[-1:] = [before, anew] if before.deed else [anew]


def leave_bare(account: Account, sentence: Sentence) -> None:
    """A deed that named no part of its sentence."""
    before_need = not sentence.needed or sentence.deed_last <= sentence.need_first
    if sentence.deed and not sentence.used and before_need:
        account.bare_deeds.append(sentence.deed)
        _settle(account, sentence.deed)


def _settle(account: Account, deed: str) -> None:
    """'Needs photocell. Repaired.' means the photocell: a bare deed settles what was needed or found bad."""
    for part in account.mentions:
        if (part.needed or part.bad) and not part.deed and not part.sound:
            asked = part.wanted or "replaced"
            settled = asked if part.needed and deed in ("repaired", "completed") else deed
            part.deed, part.needed = settled, False

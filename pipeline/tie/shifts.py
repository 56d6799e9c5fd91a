"""By how much lights of the wrong time are shifted, where the words say so: 'comes on an hour early', 'off by 3 hours'.

Lights that come on too early or go off too late burn outside their hours; lights that come on too late or go off too
early leave dark hours within them. A clock that is wrong by some hours does both, for it shifts both ends alike.
"""

from __future__ import annotations

from typing import NamedTuple

from pipeline.lexicon.words import Words
from pipeline.tie.time_spans import TimeSpan, names_a_unit, time_spans

ON, OFF = "on", "off"


class Shift(NamedTuple):
    """Hours a night of burning and of darkness (None: none said). ``burning_edge`` says where the burning hours lie:
    'on', before the lights should come on; 'off', after they should go off; '' where it is not said."""

    burning_h: float | None
    dark_h: float | None
    burning_edge: str
    said: str
    of_clock: bool = False  # said of a clock, not of the lights


_EARLY = frozenset(("early", "earlier", "soon", "sooner", "before", "prior"))
_LATE = frozenset(("late", "later", "after", "past", "long", "longer"))
_AGAINST = frozenset(("before", "prior", "after", "past"))  # of these, what they are said against is needed
_TOO_LONG = frozenset(("long", "longer"))
_FAST, _SLOW = frozenset(("ahead", "fast", "forward")), frozenset(("behind", "slow", "back"))
_SETTING = frozenset((
    "set", "move", "moved", "turn", "turned", "advance", "advanced", "put", "adjust", "adjusted", "reset", "changed",
    "roll", "rolled",
))  # fmt: skip
_DUSK = frozenset(("sunset", "sundown", "dusk", "dark", "nightfall", "darkness"))
_DAWN = frozenset(("sunrise", "sunup", "dawn", "day", "daybreak"))
_ENDING = frozenset(("off", "out", "down"))
_KEEPING = frozenset(
    ("stay", "stays", "staying", "stayed", "left", "still", "burn", "keep", "keeps", "remain")
)
_CLOCKS = frozenset(
    ("clock", "timeclock", "timer", "time", "times", "timing", "schedule", "tc", "program", "switch")
)
_UNTIL = frozenset(("until", "till", "til"))
_BEHIND, _AHEAD = 12, 4  # words searched before and after a span


def shift_in(words: Words) -> Shift | None:
    """The first shift that a text states; None where it states none. Hours over 0, at most 24."""
    if not names_a_unit(words):
        return None
    for span in time_spans(words):
        shift = _shift_of(words, span)
        if shift is not None:
            return shift
    return None


def _shift_of(words: Words, span: TimeSpan) -> Shift | None:
    clause = words.clauses[span.first]
    first, last = max(span.first - _BEHIND, 0), min(span.last + _AHEAD, len(words.words))
    behind = [
        w
        for w, c in zip(words.words[first : span.first], words.clauses[first : span.first], strict=True)
        if c == clause
    ]
    ahead = [
        w
        for w, c in zip(words.words[span.last : last], words.clauses[span.last : last], strict=True)
        if c == clause
    ]
    if _denied(behind):
        return None
    said = words.said(span.first, min(span.last + 1, len(words.words)) if ahead else span.last)
    sentence = words.sentences[span.first]
    subject = {
        w
        for w, s in zip(words.words[first : span.first], words.sentences[first:], strict=False)
        if s == sentence
    }
    by_clock = _clock_shift(behind, ahead, span.hours, said, clocked=bool(_CLOCKS & subject))
    if by_clock is not None:
        return by_clock
    how = _how(behind, ahead)
    return _of_edges(_edges(behind, ahead), how, _anchor(ahead), span.hours, said) if how else None


def _denied(behind: list[str]) -> bool:
    """'not 2 hours late', 'no longer an hour early'; but not 'not on until an hour after dark'."""
    near = behind[-3:]
    return bool({"not", "no", "never"} & set(near)) and not _UNTIL & set(behind)


def _clock_shift(
    behind: list[str], ahead: list[str], hours: float, said: str, *, clocked: bool
) -> Shift | None:
    """'clock 2 hrs fast', 'set clock ahead an hour', 'off by 3 hours', 'timer is 3 hrs off'."""
    turned = bool(_SETTING & set(behind)) and not {"is", "was", "were", "are"} & set(behind[-2:])
    near = ahead[:1] + behind[-1:] if behind[-1:] != ["by"] else ahead[:1] + behind[-2:-1]
    for word in near:
        if word in _FAST or word in _SLOW:
            fast = (word in _FAST) != turned  # a clock that is set ahead was behind
            return Shift(hours, hours, ON if fast else OFF, said, of_clock=True)
    wrong = behind[-2:] in (["off", "by"], ["out", "by"], ["wrong", "by"]) or ahead[:1] == ["off"]
    if (
        (wrong and not turned)
        or (clocked and behind[-1:] == ["off"])
        or (clocked and ahead[:1] in (["wrong"], ["out"]))
    ):
        return Shift(hours, hours, "", said, of_clock=clocked)
    return None


def _how(behind: list[str], ahead: list[str]) -> str:
    """The word for early or late that is said of the span; '' where there is none."""
    before = (
        behind[-2:-1] if behind[-1:] == ["by"] else [word for word in behind[-1:] if word not in _AGAINST]
    )
    return next((word for word in (*ahead[:2], *before) if word in _EARLY or word in _LATE), "")


def _anchor(ahead: list[str]) -> str:
    """'before sunset', 'after it gets light': the edge that a span is reckoned from."""
    said = next((at for at, word in enumerate(ahead) if word in _AGAINST), len(ahead))
    for before, word in zip(ahead[said:], ahead[said + 1 :], strict=False):
        if before not in ("every", "each", "a", "all", "this", "that") and (word in _DUSK or word in _DAWN):
            return ON if word in _DUSK else OFF
    return ""


def _edges(behind: list[str], ahead: list[str]) -> set[str]:
    """Which of coming on and going off is spoken of: the verb nearest before the span, else the one behind it."""
    for at in range(len(behind) - 1, -1, -1):
        word = behind[at]
        if word != ON and word not in _ENDING:
            continue
        both = {ON if w == ON else OFF for w in behind[max(at - 4, 0) : at + 1] if w == ON or w in _ENDING}
        if len(both) == 2 and {"and", "&", "/"} & set(behind[max(at - 4, 0) : at]):
            return both
        if word == ON and (_KEEPING & set(behind[max(at - 2, 0) : at]) or _stays_until(behind, at)):
            return {OFF}
        return {ON if word == ON else OFF}
    if _KEEPING & set(behind):
        return {OFF}
    return {ON if word == ON else OFF for word in ahead if word == ON or word in _ENDING}


def _stays_until(behind: list[str], at: int) -> bool:
    """'on until': it goes off too late; but 'not on until': it comes on too late."""
    return bool(_UNTIL & set(behind[at:])) and not {"not", "don't", "dont", "won't", "wont"} & set(
        behind[:at]
    )


def _of_edges(edges: set[str], how: str, anchor: str, hours: float, said: str) -> Shift | None:
    if how in _TOO_LONG:
        edges = {OFF}
    if anchor and edges and edges != {anchor}:
        return None  # 'go off 2 hours after dark': against which hour is not said
    if not anchor and not edges and how not in ("early", "late", "soon"):
        return None  # '2 hours later', 'an hour after': nothing says what
    edges = edges or ({anchor} if anchor else {ON, OFF})  # 'lights an hour late': the whole clock
    burning, dark = (OFF, ON) if how in _LATE else (ON, OFF)
    return Shift(
        hours if burning in edges else None,
        hours if dark in edges else None,
        burning if burning in edges else "",
        said,
    )

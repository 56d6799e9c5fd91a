"""Which part was spoken of, and what was done to it or said of it.

A small grammar of the way crews write: a verb governs the parts after it ('replaced lamp and
photocell'), or the parts before it where the clause begins with a part ('photo eye and 4 lamps
replaced'). 'OK' after a part clears it unless that part was just worked on; 'not' and 'no' before a
part or a verb strike it out.
"""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.lexicon.phrases import Found
from pipeline.lexicon.words import Words
from pipeline.tie.accounts import DEEDS, Account, Mention
from pipeline.tie.counts import count_after, count_before, whole_number
from pipeline.tie.sentences import Sentence, close, leave_bare

_PROMISING = ("referred", "bypassed")  # 'will replace', 'on constant until': what follows is still to be done
_REACH = 3  # words over which 'not' and 'bad' reach
_PLACING = frozenset((
    "on", "in", "at", "for", "of", "by", "near", "from", "inside", "under", "behind", "to", "off", "above",
    "below", "next",
))  # fmt: skip


def account_of(text: Words, found: Iterable[Found]) -> Account:
    """Read a text's phrases, in order, into an account."""
    account = Account()
    items = sorted(
        (item for item in found if item.layer in ("component", "action", "state") and item.value != "none"),
        key=lambda item: (item.first, -item.last, _ORDER[item.layer]),
    )
    covered = _spans(item for item in items if item.layer == "action")
    promising = _spans(item for item in items if item.layer == "action" and item.value in _PROMISING)
    sentence, number = Sentence(), -1
    for item in items:
        if _is_hour(text, item) or (item.layer == "state" and _is_covered(item, covered, promising)):
            continue
        if text.sentences[item.first] != number:
            close(account, sentence)
            sentence, number = Sentence(), text.sentences[item.first]
        _READERS[item.layer](account, sentence, text, item)
    close(account, sentence)
    return account


def _is_hour(text: Words, item: Found) -> bool:
    """'8 pm' is an hour, not preventive maintenance."""
    return text.words[item.first] == "pm" and item.first > 0 and text.words[item.first - 1].isdecimal()


_ORDER = {"action": 0, "state": 1, "component": 2}


def _spans(items: Iterable[Found]) -> list[tuple[int, int]]:
    """Stretches of several words that stand for one thing: their words mean nothing apart."""
    return [(item.first, item.last) for item in items if item.last - item.first > 1]


def _is_covered(item: Found, covered: list[tuple[int, int]], promising: list[tuple[int, int]]) -> bool:
    """A state's word within a phrase of an action means nothing apart; 'need' in a promise does."""
    hiding = [span for span in covered if span not in promising] if item.value == "need" else covered
    return _lies_in(item, hiding)


def _lies_in(item: Found, spans: Iterable[tuple[int, int]]) -> bool:
    return any(first <= item.first < last for first, last in spans)


def _denied(sentence: Sentence, item: Found, clause: int) -> bool:
    # A phrase that holds the 'not' itself ('is not city owned') is not struck out by it.
    within = sentence.denial_ends <= item.first <= sentence.denied_until
    denied = within and clause == sentence.denied_clause
    sentence.denied_until = -1 if denied else sentence.denied_until
    return denied


def _read_action(account: Account, sentence: Sentence, text: Words, item: Found) -> None:
    clause = text.clauses[item.first]
    denied = _denied(sentence, item, clause)
    if item.value not in DEEDS:
        if not denied:
            account.outcomes.append(item.value)
            account.said.setdefault(item.value, text.said(item.first, item.last))
        return
    if denied:
        return
    if sentence.needed and (clause != sentence.need_clause or _then_done(text, sentence, item)):
        sentence.needed = False
    if item.value == "completed" and sentence.deed:
        return
    leave_bare(account, sentence)
    sentence.deed, sentence.deed_clause, sentence.deed_last = item.value, clause, item.last
    account.said.setdefault(item.value, text.said(item.first, item.last))
    waiting = [
        part
        for part in sentence.parts
        if not part.sound and (part.deed in ("", "completed") or _is_passive(text, part, item, clause))
    ]
    for part in waiting:
        if sentence.needed:
            part.needed, part.wanted = True, item.value
        else:
            part.deed, part.deed_clause = item.value, clause
    sentence.backward = bool(waiting)
    sentence.used = bool(waiting)


def _then_done(text: Words, sentence: Sentence, item: Found) -> bool:
    """'ordered and installed new photocell': what was ordered is no longer wanted."""
    between = text.words[sentence.need_first : item.first]
    return between in (("ordered", "and"), ("ordered", "&"), ("ordered", "/"))


def _is_passive(text: Words, part: Mention, item: Found, clause: int) -> bool:
    """'replaced lamp, photocell reset': the part's own clause gives it a deed of its own."""
    if part.clause != clause or part.deed_clause == clause:
        between = text.words[part.last : item.first]
        return (
            bool(between)
            and len(between) <= 2
            and between[0] in ("was", "were", "has", "have", "been", "is", "got")
        )
    return True


def _read_component(account: Account, sentence: Sentence, text: Words, item: Found) -> None:
    clause = text.clauses[item.first]
    if _denied(sentence, item, clause) or _is_numbered(text, item):
        return
    if _tells_where(text, item.first, sentence):
        last = sentence.parts[-1]
        last.count = last.count or count_before(text, item.first)  # 'photocell on 3 poles': three
        return
    if (
        text.words[item.last - 1] in ("light", "fixture")
        and item.value == "lamp"
        and not _is_object(text, item, sentence)
    ):
        return
    mention = Mention(item.value, item.first, item.last, clause, said=text.said(item.first, item.last))
    behind_deed = sentence.deed_last if sentence.deed_clause == clause else 0
    mention.count = count_before(text, item.first, behind_deed) or count_after(text, item.last)
    if item.first <= sentence.bad_until:
        mention.bad = True
    if sentence.needed:
        mention.needed = True
        mention.wanted = sentence.deed if sentence.deed_last > sentence.need_first else ""
    elif sentence.deed not in ("", "completed") and not sentence.backward:
        mention.deed, mention.deed_clause, sentence.used = sentence.deed, sentence.deed_clause, True
    sentence.parts.append(mention)
    account.mentions.append(mention)


def _is_numbered(text: Words, item: Found) -> bool:
    """'pole 14' names a place, not a part that was worked on."""
    after = text.words[item.last : item.last + 1]
    return item.value == "pole" and (after == ("#",) or (bool(after) and after[0].isdecimal()))


def _is_object(text: Words, item: Found, sentence: Sentence) -> bool:
    """A bare 'light' is a part only as what was replaced: 'replaced 2 pole lights', not 'repaired lights'."""
    near = sentence.deed == "replaced" and 0 <= item.first - sentence.deed_last <= _REACH
    return bool(near) and not sentence.parts and text.clauses[item.first] == sentence.deed_clause


def _tells_where(text: Words, place: int, sentence: Sentence) -> bool:
    """'replaced photocell on pole': a part behind a preposition says where, once another part was named."""
    if not sentence.parts:
        return False
    before = text.words[max(place - 3, 0) : place]
    for word in reversed(before):
        if word in _PLACING:
            return True
        silent = word in ("the", "a", "that", "this", "same", "each", "all", "light")
        if not silent and whole_number(word) is None:
            return False
    return False


def _read_state(account: Account, sentence: Sentence, text: Words, item: Found) -> None:
    clause = text.clauses[item.first]
    if item.value == "not":
        sentence.denial_ends, sentence.denied_until = item.last, item.last + _REACH - 1
        sentence.denied_clause = clause
    elif item.value == "need":
        if not sentence.needed:
            sentence.need_first = item.first
        sentence.needed, sentence.need_clause = True, clause
        for part in sentence.parts:
            if part.clause == clause and not part.deed and item.first - part.last <= 1:
                part.needed = True
    elif item.value in ("checked", "found"):  # a deed before it does not govern what was looked at or found
        account.checked = account.checked or item.value == "checked"
        leave_bare(account, sentence)
        sentence.needed = False
        sentence.backward = bool(sentence.parts)
        sentence.deed, sentence.used = "", True
    elif item.value == "sound":
        _find_sound(sentence, clause, denied=_denied(sentence, item, clause))
    elif item.value == "bad":
        _find_bad(sentence, clause, item, denied=_denied(sentence, item, clause))


def _find_sound(sentence: Sentence, clause: int, *, denied: bool) -> None:
    parts = [part for part in sentence.parts if part.clause == clause]
    if not parts and sentence.parts and not sentence.parts[-1].deed:
        parts = sentence.parts[-1:]
    for part in parts:
        worked_on = part.deed and part.deed_clause == part.clause
        if not worked_on:
            part.bad, part.sound = (True, False) if denied else (False, True)
            part.deed = part.deed if denied else ""


def _find_bad(sentence: Sentence, clause: int, item: Found, *, denied: bool) -> None:
    near = [
        part
        for part in sentence.parts
        if part.clause == clause and item.first - part.last <= _REACH and not part.sound
    ]
    for part in near[-1:]:
        part.bad, part.sound = not denied, denied
    if not near and not denied:
        sentence.bad_until = item.last + 1


_READERS = {"action": _read_action, "component": _read_component, "state": _read_state}

"""From an incident and a visit to the words of an order."""

from __future__ import annotations

import numpy as np

from demo_data import phrases
from demo_data.events import Incident, Visit
from demo_data.model import date_of
from demo_data.names import GIVEN, SURNAMES, email, phone
from demo_data.world import Place


def pick(rng: np.random.Generator, options: tuple[str, ...]) -> str:
    """One of several wordings."""
    return options[int(rng.integers(len(options)))]


def noun_of(place: Place, rng: np.random.Generator) -> str:
    """What people call the lights at a place."""
    for word, nouns in phrases.NOUNS:
        if word in place.label:
            return pick(rng, nouns)
    return "exterior light"


def problem_text(incident: Incident, place_text: str, tag_text: str, rng: np.random.Generator) -> str:
    """What was reported; ``place_text`` and ``tag_text`` may be empty."""
    assert incident.place is not None
    what = f"{noun_of(incident.place, rng)} {pick(rng, phrases.PROBLEMS[incident.symptom])}"
    parts = [
        f"{place_text}: {what}"
        if place_text and rng.random() < 0.4
        else f"{what} {place_text and '- ' + place_text}".strip()
    ]
    if tag_text:
        parts.append(f"tag {tag_text}" if rng.random() < 0.5 else tag_text)
    if rng.random() < 0.25:
        parts.append(pick(rng, phrases.POLITE))
    if rng.random() < 0.03:
        parts.append(_contact(rng))
    return ". ".join(part for part in parts if part)


def _contact(rng: np.random.Generator) -> str:
    given, surname = pick(rng, GIVEN), pick(rng, SURNAMES)
    number = phone(int(rng.integers(100)))
    return pick(
        rng,
        (f"call {given} {surname} at {number}", f"contact {email(given, surname)}", f"{surname} x{number}"),
    )


def action_text(incident: Incident, visit: Visit, rng: np.random.Generator) -> str:
    """What the crew wrote when it closed the order."""
    text = _action(incident, visit, rng)
    if rng.random() < 0.06 and text not in phrases.BARE:
        text += f". done {date_of(visit.done):%m/%d/%y}"
    return text


def _action(incident: Incident, visit: Visit, rng: np.random.Generator) -> str:
    assert incident.place is not None
    control = pick(rng, phrases.CONTROL_NAMES[incident.place.kind])
    if not visit.cured:
        return pick(rng, phrases.FIRST_TRIES[visit.action]).format(control=control)
    if incident.control_failed:
        return _control_action(incident, control, rng)
    if incident.changed_with_lamp:
        return pick(rng, phrases.TOGETHER).format(control=control)
    if incident.changes_control:
        return pick(rng, phrases.DAMAGE_WITH_CONTROL)
    if rng.random() < 0.04:
        return pick(rng, phrases.BARE)
    return pick(rng, phrases.ACTIONS[incident.component, incident.cause])


def _control_action(incident: Incident, control: str, rng: np.random.Generator) -> str:
    assert incident.place is not None
    if incident.text_quality == "bare":
        return pick(rng, phrases.BARE)
    if incident.text_quality == "misleading":
        return pick(rng, phrases.MISLEADING)
    if incident.text_quality == "together":
        return pick(rng, phrases.TOGETHER).format(control=control)
    special = phrases.BY_MODE.get((incident.place.kind, incident.mode))
    if special and rng.random() < 0.25:
        return pick(rng, special)
    return pick(rng, phrases.CONTROL_REPLACED).format(control=control)


def misspell(text: str, rng: np.random.Generator) -> str:
    """One slip of the keyboard in a longer word."""
    words = text.split(" ")
    long = [n for n, word in enumerate(words) if len(word) >= 6 and word.isalpha()]
    if not long:
        return text
    at = long[int(rng.integers(len(long)))]
    word, spot = words[at], int(rng.integers(1, len(words[at]) - 2))
    swapped = word[:spot] + word[spot + 1] + word[spot] + word[spot + 2 :]
    words[at] = swapped if rng.random() < 0.5 else word[:spot] + word[spot + 1 :]
    return " ".join(words)


def written_tag(tag: str, rng: np.random.Generator) -> str:
    """An asset tag as people write it: other padding, other separators, now and then another prefix."""
    prefix, number = tag.split("-")
    short = str(int(number))
    forms = (
        tag,
        tag,
        tag,
        tag,
        f"{prefix}{number}",
        f"{prefix} {short}",
        f"{prefix}-{short}",
        f"{prefix}-0{short}",
        f"{prefix}E-{number}",
    )
    return pick(rng, forms)


def written_place(label: str, rng: np.random.Generator) -> str:
    """A place label as people write it."""
    words = label.split(" ")
    if words[-1].isdigit() and rng.random() < 0.35:
        return " ".join([*words[:-1], "#" + words[-1]])
    return label

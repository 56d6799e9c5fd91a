"""Does a call concern exterior lighting?

The problem text counts first; the action text speaks where the problem names no trade. The
system's own category columns, where mapped, overrule the text; only where they say indoor lighting and the
report plainly names exterior lighting is the category taken for the slip.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.lexicon.words import Words

if TYPE_CHECKING:
    from pipeline.lexicon.lexicon import Lexicon

# A masked number, address or name, with the word for it before: 'cell phone [phone]' speaks of no telephone at fault.
_MASKED = re.compile(
    r"(?:\b(?:cell|mobile|phone|telephone|tel|ph|fax)\b[\s.:#]{0,3}){0,2}\[(?:phone|e-mail|name)\]",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class LightingVerdict:
    """Whether a call concerns exterior lighting, by everything and by text alone, and what decided."""

    is_lighting: bool
    by_text: bool
    evidence: str


@dataclass(frozen=True)
class _Signs:
    """What a text holds, each as the first words that said so (empty: nothing did)."""

    outdoor: str = ""
    control: str = ""
    lighting: str = ""
    lamp: str = ""
    device: str = ""
    none: str = ""
    outdoors: str = ""
    indoors: str = ""
    other_trade: str = ""
    fault: str = ""

    @property
    def names_a_trade(self) -> bool:
        return bool(
            self.outdoor or self.control or self.lighting or self.lamp
            or self.none or self.other_trade or self.device
        )  # fmt: skip

    def helped_by(self, action: _Signs) -> _Signs:
        """These signs, with the action's where the problem named lamps and no more."""
        if self.none or self.other_trade or self.indoors or not (self.lamp or self.lighting or self.device):
            return self
        return replace(
            self,
            outdoor=self.outdoor or action.outdoor,
            control=self.control or action.control,
            outdoors=self.outdoors or action.outdoors,
            indoors=action.indoors,
            fault=self.fault or action.fault,
        )


_SIGN_OF = {
    ("lighting", "outdoor"): "outdoor",
    ("lighting", "control"): "control",
    ("lighting", "lighting"): "lighting",
    ("lighting", "lamp"): "lamp",
    ("lighting", "switching device"): "device",
    ("lighting", "none"): "none",
    ("place", "outdoors"): "outdoors",
    ("place", "indoors"): "indoors",
    ("trade", "other"): "other_trade",
    ("fault", "lamp"): "fault",
}


def judge_lighting(
    lexicon: Lexicon, problem: str | None, action: str | None, category: str | None
) -> LightingVerdict:
    """The verdict on one call; see the module's text for the order in which things count."""
    reported = _signs(lexicon, problem)
    by_text, words = _by_text(reported, _signs(lexicon, action))
    filed, named = _filed_under(lexicon, category)
    plainly = by_text and bool(reported.outdoor or reported.control)
    if not filed or (filed == "indoor lighting" and plainly):
        return LightingVerdict(by_text, by_text, f"text: {words}" if words else "nothing about lighting")
    return LightingVerdict(filed == "lighting", by_text, f"category: {named}")


def _signs(lexicon: Lexicon, text: str | None) -> _Signs:
    if text and "[" in text:
        text = _MASKED.sub(" ; ", text)
    words = lexicon.split(text)
    signs: dict[str, str] = {}
    for found in lexicon.find(words):
        sign = _SIGN_OF.get((found.layer, found.value))
        if sign and sign not in signs:
            signs[sign] = words.said(found.first, found.last)
    return _Signs(**signs)


def _by_text(problem: _Signs, action: _Signs) -> tuple[bool, str]:
    if problem.names_a_trade:
        return _judge(problem.helped_by(action))
    if problem.indoors:
        return False, problem.indoors
    return _judge(action)


def _judge(signs: _Signs) -> tuple[bool, str]:
    """One text alone."""
    if signs.outdoor or signs.control:
        said = signs.outdoor or signs.control
        # A control beside another trade's words and nothing of lamps is that trade's: 'photocell on auto flush toilet'.
        of_lamps = signs.outdoor or signs.lamp or signs.lighting or signs.outdoors
        if signs.other_trade and not (signs.fault or (signs.control and of_lamps)):
            return False, signs.other_trade
        return True, said
    lamp = signs.lamp or signs.lighting
    if lamp and not signs.other_trade and not signs.none:
        if signs.outdoors:
            return True, f"{lamp} … {signs.outdoors}"
        if signs.indoors:
            return False, signs.indoors
        return bool(signs.lighting or signs.fault), f"{lamp} … {signs.fault}" if signs.fault else lamp
    if signs.device and signs.outdoors and not signs.other_trade and not signs.none:
        return True, f"{signs.device} … {signs.outdoors}"
    return False, signs.none or signs.other_trade or lamp


def _filed_under(lexicon: Lexicon, category: str | None) -> tuple[str, str]:
    """What the category columns say (lighting, indoor lighting, other, or nothing), and their words."""
    words: Words = lexicon.split(category)
    said: dict[str, str] = {}
    for found in lexicon.find(words):
        if found.layer == "category":
            said.setdefault(found.value, words.said(found.first, found.last))
    for filed in ("lighting", "indoor lighting", "other"):
        if filed in said:
            return filed, said[filed]
    return "", ""

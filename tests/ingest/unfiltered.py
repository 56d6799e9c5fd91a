"""Masking as one chain of patterns over every text, nothing looked for before: what the fast way must equal."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.ingest.privacy import NAME, contact_steps, cue_steps, in_steps, names_in, ordinary_words
from pipeline.store import Store

_REACHED = r"(?:\s+(?i:at|on)\s+\[(?:phone|e-mail)\]|\s*[@:,(\-]?\s*\[(?:phone|e-mail)\])"


def unfiltered_steps(store: Store, columns: Sequence[str], own: Sequence[str]) -> list[tuple[str, str]]:
    """Every replacement for a text whose row has the names ``own``, in order; ``columns`` of ``raw`` hold people."""
    names = names_in(store, "raw", columns)
    steps = contact_steps()
    if names:
        steps += [_apart("|".join(map(_full_name, names)))] * 2
        singles = sorted({word for name in names for word in name} - ordinary_words())
        single = (rf"(^|[^\pL\pN]|[0-9])(?i:{'|'.join(map(re.escape, singles))})({_REACHED})", rf"\1{NAME}\2")
        steps += [single] * 2
    if own:
        words = "|".join(map(re.escape, own))
        steps += [(rf"(^|[^\pL\pN])(?i:{words})($|[^\pL\pN])", rf"\1{NAME}\2")] * 2
    return [*steps, *cue_steps()]


def mask_unfiltered(store: Store, texts: Sequence[str], steps: list[tuple[str, str]]) -> list[str]:
    """Texts after the steps."""
    listed = f"list_transform($texts::VARCHAR[], lambda t: {in_steps('t', steps)})"
    return [str(text) for text in store.value(f"SELECT {listed}", {"texts": list(texts)})]


def _apart(pattern: str) -> tuple[str, str]:
    return rf"(^|[^\pL\pN\-.])(?i:{pattern})($|[^\pL\pN\-])", rf"\1{NAME}\2"


def _full_name(words: Sequence[str]) -> str:
    first, last, inner = re.escape(words[0]), re.escape(words[-1]), r"\s+".join(map(re.escape, words))
    return (
        rf"{first}(?:\s+[a-z]\.?)?\s+{last}|{inner}|{last},?\s+{first}"
        rf"|{re.escape(words[0][0])}(?:\.\s*|\s+){last}|{first}\s+{re.escape(words[-1][0])}\.?"
    )

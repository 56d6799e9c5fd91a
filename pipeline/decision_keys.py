"""Keys of patterns in decisions.csv, made alike by the build that applies them and the page that offers them.

``site text = TEXT``, ``asset = SITE / TEXT``, ``rule = symptom | component | action | why`` and
``text = PROBLEM || ACTION``. Case and runs of blanks do not count; a text of more than 300 characters is named by its
beginning and a hash, so that a key fits a cell. Each ``*_sql`` gives an SQL expression.
"""

from __future__ import annotations

_WHOLE_UP_TO = 300


def pattern_kind(key: str) -> str:
    """What a pattern is about: site text, asset, rule or text; whatever stands before the first ' = ' otherwise."""
    return key.partition(" = ")[0].strip().lower() if " = " in key else ""


def normal_key(key: str) -> str:
    """The key by which two writings of one pattern are equal; ``normal_sql`` is the same in SQL."""
    return " ".join(key.lower().split())


def normal_sql(expression: str) -> str:
    """A text expression in lower case with single blanks, as ``normal_key`` has it."""
    return f"trim(regexp_replace(lower({expression}), '[\\s\\p{{Z}}\\x1c-\\x1f\\x85]+', ' ', 'g'))"


def site_text_key_sql(site_text: str) -> str:
    """The pattern of what calls write for a site."""
    return normal_sql(f"'site text = ' || coalesce({site_text}, '')")


def asset_key_sql(site_id: str, asset_text: str) -> str:
    """The pattern of what calls at a site write for a control; null without an asset text."""
    return normal_sql(f"'asset = ' || coalesce({site_id}, '') || ' / ' || {asset_text}")


def rule_key_sql(symptom: str, component: str, action: str, rule: str) -> str:
    """The pattern of all findings that are read alike and judged by one rule."""
    return normal_sql(f"'rule = ' || concat_ws(' | ', {symptom}, {component}, {action}, {rule})")


def text_key_sql(problem: str, action: str) -> str:
    """The pattern of all calls that say the same."""
    return f"trim('text = ' || {_short_sql(problem)} || ' || ' || {_short_sql(action)})"


def _short_sql(text: str) -> str:
    # '||' parts the two texts, so within one it cannot stand.
    whole = normal_sql(f"regexp_replace(coalesce({text}, ''), '\\|+', '|', 'g')")
    named = f"left({whole}, {_WHOLE_UP_TO}) || ' … ' || left(sha256({whole}), 12)"
    return f"CASE WHEN length({whole}) > {_WHOLE_UP_TO} THEN {named} ELSE {whole} END"

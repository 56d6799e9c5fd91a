"""How likely it is that the control itself failed: rules kept as data, built in and of the portfolio.

``verdicts.toml`` beside this module is the built-in table; a ``verdicts.toml`` in the portfolio's folder holds rows
that go before it. The first row that fits a reading gives the prior probability; docs/reading.md has the format.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from operator import attrgetter
from pathlib import Path
from typing import Any

from rapidfuzz import process

from pipeline.faults import Fault, InputFaults
from pipeline.pages import read_toml
from pipeline.tie.reading import Reading

FILE = "verdicts.toml"
_KNOWN = {
    "symptom": (
        "day burning", "out", "circuit out", "wrong time", "cycling", "flicker", "dim", "damage", "unknown",
    ),
    "component": ("control", "lamp", "driver", "wiring", "supply", "pole", "other", "unknown"),
    "action": (
        "replaced", "reset", "repaired", "cleaned", "bypassed", "none found", "referred", "duplicate", "planned",
        "unknown",
    ),
    "cause": (
        "hand", "bypass", "building automation", "covered eye", "daylight saving", "power outage", "storm",
        "vandalism", "vehicle",
    ),
}  # fmt: skip
_FLAGS = ("alone", "bad")
_conditions = attrgetter(*_KNOWN, *_FLAGS)


@dataclass(frozen=True)
class Rule:
    """A row of the table: what it fits (a missing condition fits anything), the prior, and its name ``why``."""

    why: str
    probability: float
    lists: tuple[tuple[str, frozenset[str]], ...]
    flags: tuple[tuple[str, bool], ...]
    origin: str

    def fits(self, reading: Reading) -> bool:
        """Whether every condition holds."""
        listed = all(getattr(reading, key) in values for key, values in self.lists)
        return listed and all(getattr(reading, key) is value for key, value in self.flags)


@dataclass(frozen=True)
class Verdict:
    """The prior probability that the control failed, how it fails if it did, and the rule that said so."""

    probability: float
    failure_mode: str
    why: str


class Verdicts:
    """The rules in force for one portfolio, in their order."""

    def __init__(self, rules: tuple[Rule, ...], failure_modes: Mapping[str, str]) -> None:
        self.rules = rules
        self._modes = failure_modes
        self._seen: dict[
            tuple[object, ...], Verdict
        ] = {}  # as many as conditions can be met, however many readings

    def of(self, reading: Reading) -> Verdict:
        """The verdict of the first rule that fits."""
        conditions = _conditions(reading)
        verdict = self._seen.get(conditions)
        if verdict is None:
            rule = next(rule for rule in self.rules if rule.fits(reading))  # the last one fits everything
            verdict = self._seen[conditions] = Verdict(
                rule.probability, self._modes[reading.symptom], rule.why
            )
        return verdict


def load_verdicts(folder: Path | None = None) -> Verdicts:
    """The built-in rules, after the portfolio's own where it has a page; raises InputFaults with all its faults."""
    built_in = _built_in()
    page = folder / FILE if folder else None
    if page is None or not page.is_file():
        return built_in
    content = read_toml(page)
    faults = list(_faults(content, {rule.why for rule in built_in.rules}))
    if faults:
        raise InputFaults(faults)
    own = tuple(_rule(row, f"portfolio: {content['origin']}") for row in content.get("verdict", []))
    return Verdicts(own + built_in.rules, built_in._modes)


def verdict_of(reading: Reading) -> Verdict:
    """The verdict of the built-in rules."""
    return _built_in().of(reading)


@cache
def _built_in() -> Verdicts:
    content = tomllib.loads(files("pipeline.tie").joinpath(FILE).read_text(encoding="utf-8"))
    faults = list(_faults(content, set()))
    if faults:
        raise InputFaults(faults)
    rules = tuple(_rule(row, "built in") for row in content["verdict"])
    if rules[-1].lists or rules[-1].flags:
        raise ValueError(f"{FILE}: the last built-in row must fit everything")
    return Verdicts(rules, content["failure_mode"])


def _rule(row: Mapping[str, Any], origin: str) -> Rule:
    lists = tuple((key, frozenset(row[key])) for key in _KNOWN if key in row)
    flags = tuple((key, row[key]) for key in _FLAGS if key in row)
    return Rule(" ".join(row["why"].split()), float(row["probability"]), lists, flags, origin)


def _faults(content: Mapping[str, Any], taken: set[str]) -> Iterator[Fault]:
    if content.get("format") != 1:
        yield Fault(
            f"{FILE}, format",
            f"must be 1 (found {content.get('format')!r}).",
            "Put `format = 1` at the top.",
        )
    origin = content.get("origin")
    if not (isinstance(origin, str) and origin.strip()):
        yield Fault(
            f"{FILE}, origin", "is missing.", 'Say where the probabilities come from: `origin = "…"`.'
        )
    for key in set(content) - {"format", "origin", "verdict", *(() if taken else ("failure_mode",))}:
        yield Fault(f"{FILE}, {key}", "is not a part of this page.", "Parts: format, origin, [[verdict]].")
    rows = content.get("verdict", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        yield Fault(f"{FILE}, verdict", "must be rows.", "Begin each with `[[verdict]]`.")
        return
    names: set[str] = set(taken)
    for number, row in enumerate(rows, start=1):
        yield from _row_faults(row, f"{FILE}, verdict {number}", names)


def _row_faults(row: Mapping[str, Any], where: str, names: set[str]) -> Iterator[Fault]:
    known = (*_KNOWN, *_FLAGS, "probability", "why")
    for key in row:
        if key not in known:
            near = process.extractOne(key, known, score_cutoff=60)
            yield Fault(
                f"{where}, {key}",
                "is no condition.",
                f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(known)}.",
            )
    probability = row.get("probability")
    if not isinstance(probability, int | float) or isinstance(probability, bool) or not 0 <= probability <= 1:
        yield Fault(
            f"{where}, probability",
            f"must be a number from 0 to 1 (found {probability!r}).",
            "0.5: as likely as not.",
        )
    why = row.get("why")
    if not (isinstance(why, str) and why.strip()):
        yield Fault(f"{where}, why", "is missing.", "Every row says in a few words why.")
    elif " ".join(why.split()) in names:
        yield Fault(
            f"{where}, why", f"'{why}' is also another row's.", "It is the rule's name: word it otherwise."
        )
    else:
        names.add(" ".join(why.split()))
    for key in _KNOWN:
        yield from _list_faults(row, where, key)
    for key in _FLAGS:
        if key in row and not isinstance(row[key], bool):
            yield Fault(f"{where}, {key}", f"must be true or false (found {row[key]!r}).", "")


def _list_faults(row: Mapping[str, Any], where: str, key: str) -> Iterator[Fault]:
    listed = row.get(key, [])
    if not isinstance(listed, list):
        yield Fault(f"{where}, {key}", "must be a list.", f"Write {key} = [{listed!r}].".replace("'", '"'))
        return
    for value in listed:
        if value not in _KNOWN[key]:
            near = process.extractOne(str(value), _KNOWN[key], score_cutoff=60)
            yield Fault(
                f"{where}, {key}",
                f"{value!r} is not a {key}.",
                f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(_KNOWN[key])}.",
            )

"""A proposed layout: how a file would be read, what is still to decide, and how that is shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.fields import FIELDS, NUMBERS
from pipeline.ingest.layouts import Layout
from pipeline.ingest.match import Match
from pipeline.ingest.profile import ColumnProfile
from pipeline.ingest.register_layouts import RegisterLayout

_SAMPLES_SHOWN, _SAMPLE_CHARACTERS = 3, 40


AnyLayout = TypeVar("AnyLayout", Layout, RegisterLayout)


def settled(draft: AnyLayout, needs: Sequence[Fault]) -> AnyLayout:
    """The drafted layout; raises InputFaults with what a person must still decide."""
    if needs:
        raise InputFaults(needs)
    return draft


def columns_left(missing: Sequence[str], draft: Layout | RegisterLayout) -> list[str]:
    """Lines on our columns that nothing gives, and on theirs that are withheld or not used."""
    return [
        "",
        f"  not found: {', '.join(missing) or 'nothing'}",
        f"  withheld (people; never loaded): {', '.join(draft.withheld) or 'none'}",
        f"  not used: {', '.join(draft.unused()) or 'none'}",
    ]


@dataclass(frozen=True)
class LayoutProposal:
    """How a file would be read. ``needs`` is what a person must still decide before it can be saved.

    ``order_open``: the order of day and month is among it.
    """

    file_name: str
    draft: Layout
    matches: tuple[Match, ...]
    profiles: Mapping[str, ColumnProfile]
    date_statement: str
    read_as: str
    needs: tuple[Fault, ...]
    unknown_values: Mapping[str, tuple[str, ...]]
    order_open: bool = False

    @property
    def layout(self) -> Layout:
        """The layout to save; raises InputFaults with ``needs`` while there are any."""
        return settled(self.draft, self.needs)

    def lines(self) -> list[str]:
        """The proposal as plain lines for a terminal; samples are masked."""
        draft = self.draft
        shown = [
            f"{self.file_name}: {self.read_as}",
            f"layout '{draft.name}', work-order system '{draft.source}' (call numbers are unique within a system)",
            "",
            f"  {'our field':<15} {'their column':<32} {'sure':<9} examples",
        ]
        shown += [self._match_line(match) for match in self.matches]
        missing = [field for field in FIELDS if field not in draft.columns]
        shown += [
            *columns_left(missing, draft),
            f"  dates: {self.date_statement}",
            *(f"  {said}" for said in self.decimals_said()),
        ]
        for field, values in self.unknown_values.items():
            shown.append(f"  {field}: no meaning known for {', '.join(repr(value) for value in values)}")
        return [*shown, *(f"  to decide: {need}" for need in self.needs)]

    def decimals_said(self) -> list[str]:
        """How numbers are read, where the file has any."""
        numbers = [field for field in NUMBERS if field in self.draft.columns]
        signs = {
            sign: [f for f in numbers if self.draft.decimal_of(f) == sign] for sign in ("point", "comma")
        }
        told = [f"decimal {sign} in {', '.join(fields)}" for sign, fields in signs.items() if fields]
        return [f"numbers: {'; '.join(told)}"] if told else []

    def _match_line(self, match: Match) -> str:
        samples = self.profiles[match.column].samples[:_SAMPLES_SHOWN]
        examples = " ¦ ".join(" ".join(sample.split())[:_SAMPLE_CHARACTERS] for sample in samples)
        basis = "" if match.why in ("its name", "as told") else f" ({match.why})"
        return f"  {match.field:<15} {match.column[:32]:<32} {match.confidence_word:<9} {examples}{basis}"

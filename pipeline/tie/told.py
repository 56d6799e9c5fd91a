"""What each distinct call says: its places and its readings put together, one row per finding.

Everything here is done once per distinct combination of site, asset, texts and work type.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from pipeline.lexicon import Lexicon
from pipeline.tie.places import Place, PlaceBook
from pipeline.tie.reading import Reader, Reading
from pipeline.tie.verdict import Verdicts

LEAST_CONFIDENCE = 0.6
"""Below this a place is left open, and the evidence names the candidate."""
MOST_FINDINGS = 200


class Told(NamedTuple):
    """One finding of a distinct call, before its control row on the day is known."""

    part_number: int
    site_id: str | None
    position: str | None
    member: str
    tagged_control_id: str | None
    method: str
    confidence: float
    symptom: str
    component: str
    kind: str
    action: str
    cause: str
    units: int
    alone: bool
    bad: bool
    rule: str
    probability: float
    failure_mode: str
    evidence: str
    is_round: bool
    share_of_lamps: float | None
    burning_shift_h: float | None
    dark_shift_h: float | None
    burning_edge: str
    tested_dark: bool


class _Piece(NamedTuple):
    """A place with the stretch of each text that is about it."""

    place: Place | None
    problem: str
    action: str


class Teller:
    """Reads distinct calls against one register, and judges them by one table of verdicts."""

    def __init__(self, lexicon: Lexicon, places: PlaceBook, verdicts: Verdicts) -> None:
        self._reader, self._places, self._verdicts = Reader(lexicon), places, verdicts

    def tell(
        self,
        site_id: str | None,
        asset: str,
        address: str,
        problem: str,
        action: str,
        category: str,
        work_type: str,
    ) -> list[Told]:
        """The findings of one distinct call, at least one."""
        told: list[Told] = []
        pieces = self._pieces(site_id, asset, address, problem, action)
        for piece in pieces:
            for reading in self._reader.read(piece.problem, piece.action, category):
                if len(pieces) > 1:  # a share of all the places that a call lists is no share of one of them
                    reading = reading._replace(share_of_lamps=None)
                is_round = work_type == "inspection" and _found_nothing(reading, piece)
                ordered = _as_ordered(reading, work_type)
                told.append(self._told(len(told) + 1, site_id, piece, ordered, is_round=is_round))
                if len(told) == MOST_FINDINGS:
                    return told
        return told

    def _told(
        self, number: int, site_id: str | None, piece: _Piece, reading: Reading, *, is_round: bool
    ) -> Told:
        place = piece.place
        verdict = self._verdicts.of(reading)
        evidence = f"{reading.evidence} [{verdict.why}]"
        if place is not None and place.confidence < LEAST_CONFIDENCE:
            evidence += f" (perhaps at {place.position}: {place.method}, {place.confidence:.2f})"
            place = None
        return Told(
            number,
            place.site_id if place else site_id,
            place.position if place else None,
            place.member if place else "",
            place.control_id if place else None,
            place.method if place else "",
            place.confidence if place else 0.0,
            reading.symptom,
            reading.component,
            reading.kind,
            reading.action,
            reading.cause,
            reading.units,
            reading.alone,
            reading.bad,
            verdict.why,
            verdict.probability,
            verdict.failure_mode,
            evidence,
            is_round,
            reading.share_of_lamps,
            reading.burning_shift_h,
            reading.dark_shift_h,
            reading.burning_edge,
            reading.tested_dark,
        )

    def _pieces(
        self, site_id: str | None, asset: str, address: str, problem: str, action: str
    ) -> list[_Piece]:
        named = self._places.by_column(site_id, asset)
        if not (named and named.confidence >= LEAST_CONFIDENCE):
            named = self._places.by_column(site_id, address) or named
        if named and named.confidence >= LEAST_CONFIDENCE:
            if not named.member:
                named = named._replace(member=self._places.member(named, address, problem))
            return [_Piece(named, problem, action)]
        reported = self._places.in_text(site_id, problem)
        if len(reported) > 1:
            return list(self._split(reported, self._places.in_text(site_id, action), problem, action))
        done = [] if reported else self._places.in_text(site_id, action)
        if len(done) > 1:
            actions = self._stretches(action, done)
            return [_Piece(place, problem, actions[place.position, place.member]) for place in done]
        places = reported or done
        best = max((*places, *([named] if named else [])), key=lambda place: place.confidence, default=None)
        return [_Piece(best, problem, action)]

    def _split(self, reported: list[Place], done: list[Place], problem: str, action: str) -> Iterator[_Piece]:
        """'pole 3 out, pole 7 day burning': each place with its own stretch of the problem, and of the
        action where that names the places too."""
        problems = self._stretches(problem, reported)
        actions = self._stretches(action, done) if done else {}
        for place in reported:
            key = (place.position, place.member)
            yield _Piece(place, problems[key], actions.get(key, "" if actions else action))

    def _stretches(self, text: str, places: list[Place]) -> dict[tuple[str, str], str]:
        """The text from each place's name to the next, headed by what stands before the first.

        One that says nothing of its own ('3, 7 and 9 out') shares the next one's. A name that heads a
        statement of its own ('canopy timer - replaced lamp') is left out: its 'timer' is a place.
        """
        words = self._places.split(text)
        starts = [words.starts[place.first] for place in places] + [len(words.text)]
        lead = words.text[: starts[0]].strip()
        pieces = []
        for place, (start, end) in zip(places, pairwise(starts), strict=True):
            rest = words.text[words.ends[place.last - 1] : end]
            pieces.append(rest if self._reader.names_a_part(rest) else words.text[start:end])
        for at in range(len(pieces) - 2, -1, -1):
            if len(pieces[at].split()) <= 4 and pieces[at].rstrip().lower().endswith((",", "and", "&", "/")):
                pieces[at] = f"{pieces[at]} {pieces[at + 1]}"
        keys = [(place.position, place.member) for place in places]
        return {key: f"{piece} . {lead}" for key, piece in zip(keys, pieces, strict=True)}


def _as_ordered(reading: Reading, work_type: str) -> Reading:
    """Project and planned orders replace parts that had not failed, unless they report a fault."""
    if reading.action in ("replaced", "repaired", "unknown") and (
        work_type == "project" or (work_type == "planned" and reading.symptom == "unknown")
    ):
        return reading._replace(action="planned")
    return reading


def _found_nothing(reading: Reading, piece: _Piece) -> bool:
    """A round of inspection that found nothing, or whose faults stand in orders of their own."""
    nothing = reading.action in ("none found", "referred") or (
        reading.action == "unknown" and reading.symptom == "unknown"
    )
    return nothing and piece.place is None and reading.component == "unknown" and not reading.reported

"""Which incident reports which stretch of day burning on a meter: by time, and by how well the loads fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

MOST_TIMES_APART = 3.0  # loads farther apart than this factor are not taken for one fault
_UNKNOWN_LOAD = 0.7  # stands for the distance of a load that no register knows
_PER_DAY_OUTSIDE = 0.3
_PER_DAY_OF_ENDS, _MOST_OF_ENDS = 0.02, 1.0
_LEFT_OVER = (
    0.5  # a further incident joins a stretch where at least this share of its load is left unexplained
)


@dataclass(frozen=True)
class Reported:
    """An incident: when it was reported and ended by the calls [days], its load [kW] where a register knows it."""

    incident_id: str
    reported: float
    ended: float
    load_kw: float | None


@dataclass(frozen=True)
class Seen:
    """A stretch on the meter: earliest onset, latest end [days] and its step [kW]."""

    episode_id: str
    onset: float
    ended: float
    step_kw: float


def matched(
    incidents: Sequence[Reported], episodes: Sequence[Seen], match_days: float
) -> dict[str, tuple[str, float]]:
    """By incident its episode and its share of it; incidents and episodes of one account.

    A report must lie between the onset and the end, or ``match_days`` outside. The nearest pair goes first, and each
    episode to one incident; then further incidents join an episode whose step is larger than what explains it. They
    share it by their loads.
    """
    pairs = sorted(
        (distance, incident.incident_id, episode.episode_id)
        for incident in incidents
        for episode in episodes
        if (distance := _distance(incident, episode, match_days)) is not None
    )
    members: dict[str, list[str]] = {}
    taken: set[str] = set()
    for _, incident_id, episode_id in pairs:
        if incident_id not in taken and episode_id not in members:
            members[episode_id] = [incident_id]
            taken.add(incident_id)
    by_id = {incident.incident_id: incident for incident in incidents}
    steps = {episode.episode_id: episode.step_kw for episode in episodes}
    for _, incident_id, episode_id in pairs:
        load = by_id[incident_id].load_kw
        left = steps[episode_id] - sum(by_id[one].load_kw or 0.0 for one in members.get(episode_id, ()))
        if incident_id not in taken and load and left >= _LEFT_OVER * load:
            members.setdefault(episode_id, []).append(incident_id)
            taken.add(incident_id)
    return {
        incident_id: (episode_id, share)
        for episode_id, joined in members.items()
        for incident_id, share in _shares([by_id[one] for one in joined]).items()
    }


def _distance(incident: Reported, episode: Seen, match_days: float) -> float | None:
    """How badly they fit; None where they cannot be the same."""
    outside = max(episode.onset - incident.reported, incident.reported - episode.ended, 0.0)
    if outside > match_days:
        return None
    if incident.load_kw:
        apart = abs(log(episode.step_kw / incident.load_kw))
        if apart > log(MOST_TIMES_APART):
            # a part of a larger step, where several began at once
            if incident.load_kw > episode.step_kw:
                return None
            apart = 2 * log(MOST_TIMES_APART)
    else:
        apart = _UNKNOWN_LOAD
    ends = min(abs(incident.ended - episode.ended) * _PER_DAY_OF_ENDS, _MOST_OF_ENDS)
    return apart + outside * _PER_DAY_OUTSIDE + ends


def _shares(incidents: Sequence[Reported]) -> dict[str, float]:
    known = [incident.load_kw for incident in incidents if incident.load_kw]
    usual = sum(known) / len(known) if known else 1.0
    weights = {incident.incident_id: incident.load_kw or usual for incident in incidents}
    return {incident_id: weight / sum(weights.values()) for incident_id, weight in weights.items()}

"""When a control fails: a hazard that follows the load it has now.

While a load of group g is behind a control of age a, its hazard is that of g's Weibull at age a. The
control fails when the hazard gathered since it was last known good reaches a unit exponential draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from demo_data.model import Weibull


@dataclass(frozen=True)
class LoadSpan:
    """One load from ``begins`` to ``ends`` (days of the log; may be negative or infinite)."""

    begins: float
    ends: float
    lamp: str
    life: Weibull


def gathered_hazard(life: Weibull, from_age_days: float, to_age_days: float) -> float:
    """Cumulative hazard of a Weibull between two ages (dimensionless)."""
    return float(
        (to_age_days / life.scale_days) ** life.shape - (from_age_days / life.scale_days) ** life.shape
    )


def failure_day(
    installed_day: float, known_good_day: float, spans: Sequence[LoadSpan], threshold: float
) -> float | None:
    """Day on which the hazard gathered after ``known_good_day`` reaches ``threshold``; None = never in the spans.

    ``spans`` follow each other without gaps and cover ``known_good_day``.
    """
    left = threshold
    for span in spans:
        begins = max(span.begins, known_good_day)
        if span.ends <= begins:
            continue
        young, old = begins - installed_day, span.ends - installed_day
        here = gathered_hazard(span.life, young, old)
        if here >= left:
            start = (young / span.life.scale_days) ** span.life.shape
            return float(installed_day + span.life.scale_days * (start + left) ** (1 / span.life.shape))
        left -= here
    return None

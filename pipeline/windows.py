"""Each site's windows of record, proposed from the silences in its calls for a person to confirm.

A site may have joined the work-order system late, left it early, or lie between two systems. Such spans hold no calls
whatever fails there, so they are no time at risk. The test: were a site's n days with calls spread evenly over the T
days of the log, a stated gap would be g days or longer with probability (1 - g/T)^n, and one of its n + 1 gaps with at
most (n + 1) times that (spacings of uniform points; equal to exponential gaps given their number). Probabilities are
multiplied by the number of sites tested. Calls in seasons and bursts make long gaps likelier than this: a proposal is
therefore only that, until a person confirms it. Each end is set one mean interval into the silence.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from pipeline.numerals import count_text
from pipeline.store import Store

# Choices of ours, no source.
FEWEST_CALL_DAYS, SHORTEST_GAP_DAYS, LARGEST_PROBABILITY, MOST_GAPS = 8, 90, 0.001, 4
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Span:
    """A span of days, both included."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """Its days."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True)
class SiteWindows:
    """The windows proposed for a site, and the evidence in words; ``probability`` of the least likely gap."""

    site_id: str
    windows: tuple[Span, ...]
    evidence: str
    probability: float


def propose_windows(call_days: Mapping[str, Sequence[date]], log: Span) -> list[SiteWindows]:
    """Windows for the sites whose calls leave gaps that chance does not explain; others are observed throughout.

    ``call_days``: days with calls by site. A gap that all sites share is found first and taken out of the time in which
    each site is tested. Raises nothing; sites with fewer than FEWEST_CALL_DAYS different days are not tested.
    """
    tested = {
        site: sorted(set(days)) for site, days in call_days.items() if len(set(days)) >= FEWEST_CALL_DAYS
    }
    everything = sorted({day for days in call_days.values() for day in days if log.first <= day <= log.last})
    silent = _gaps(everything, [log], 1) if len(call_days) > 1 else []
    shared = [gap for gap, _ in silent if gap.first > log.first and gap.last < log.last]
    open_spans = _without(log, shared)
    found = []
    for site, days in sorted(tested.items()):
        gaps = _gaps(days, open_spans, len(tested))
        if gaps or shared:
            found.append(_site_windows(site, days, log, shared, gaps))
    for site in sorted(set(call_days) - set(tested)):
        if shared:
            found.append(_site_windows(site, [], log, shared, []))
    return found


def _gaps(days: Sequence[date], spans: Sequence[Span], tests: int) -> list[tuple[Span, float]]:
    """Gaps between days, within spans laid end to end, that chance does not explain: longest first."""
    inside = [day for day in days if any(span.first <= day <= span.last for span in spans)]
    if len(inside) < FEWEST_CALL_DAYS:
        return []
    # Once a gap is found it is taken out of the time, so that the next is judged by the rate of the rest.
    found: list[tuple[Span, float]] = []
    left = list(spans)
    while len(found) < MOST_GAPS:
        total, count = sum(span.days for span in left), len(inside)
        gaps = [gap for span in left for gap in _silences(inside, span)]
        longest = max(gaps, key=lambda gap: gap.days, default=None)
        if longest is None or longest.days < SHORTEST_GAP_DAYS:
            break
        probability = min(1.0, (count + 1) * (1 - longest.days / total) ** count * tests)
        if probability > LARGEST_PROBABILITY:
            break
        found.append((longest, probability))
        left = [piece for span in left for piece in _without(span, [longest])]
    return found


def _silences(days: Sequence[date], span: Span) -> list[Span]:
    """The spans without calls inside a span, its beginning and end included."""
    edges = [span.first - _DAY, *(day for day in days if span.first <= day <= span.last), span.last + _DAY]
    return [Span(a + _DAY, b - _DAY) for a, b in pairwise(edges) if (b - a).days > 1]


def _without(span: Span, gaps: Iterable[Span]) -> list[Span]:
    """What is left of a span when gaps are taken out."""
    left = [span]
    for gap in gaps:
        left = [
            piece
            for one in left
            for piece in (
                Span(one.first, min(one.last, gap.first - _DAY)),
                Span(max(one.first, gap.last + _DAY), one.last),
            )
            if piece.first <= piece.last and not (gap.first <= piece.first and piece.last <= gap.last)
        ]
        left = sorted(set(left), key=lambda one: one.first)
    return [one for one in left if not any(gap.first <= one.last and gap.last >= one.first for gap in gaps)]


def _site_windows(
    site: str, days: Sequence[date], log: Span, shared: Sequence[Span], gaps: Sequence[tuple[Span, float]]
) -> SiteWindows:
    """The windows between the gaps, and what speaks for them."""
    own = [gap for gap, _ in gaps]
    told = [
        f"no call of any site from {gap.first} to {gap.last} ({count_text(gap.days)} days)" for gap in shared
    ]
    open_days = sum(span.days for span in _without(log, [*shared, *own]))
    for gap, probability in gaps:
        expected = len(days) * gap.days / max(open_days, 1)
        told.append(
            f"no call from {gap.first} to {gap.last} where about {expected:.0f} days with calls were to be expected "
            f"(chance {_small(probability)})"
        )
    interval = round(open_days / max(len(days), 1))
    windows = _without(log, [*shared, *(_shrunk(gap, interval, log) for gap in own)])
    least = min((probability for _, probability in gaps), default=0.0)
    return SiteWindows(site, tuple(windows), "; ".join(told), least)


def _shrunk(gap: Span, interval: int, log: Span) -> Span:
    """The gap less a site's mean interval between calls at either end: record begins that long before its first call,
    on average, and a window that began on a call would count that call in no time."""
    first = gap.first if gap.first == log.first else gap.first + timedelta(days=interval)
    last = gap.last if gap.last == log.last else gap.last - timedelta(days=interval)
    return Span(first, last) if first <= last else gap


def _small(probability: float) -> str:
    return "below 1 in a million" if probability < 1e-6 else f"1 in {count_text(round(1 / probability))}"


def call_days(store: Store) -> dict[str, list[date]]:
    """Days with calls of any kind by site: by the site texts that tie has matched, of lighting calls or not."""
    found: defaultdict[str, list[date]] = defaultdict(list)
    for site, day in store.rows(
        """
        WITH matched AS (
          SELECT c.site_text, mode(f.site_id) AS site_id
          FROM findings f JOIN calls c USING (call_id)
          WHERE f.site_id IS NOT NULL AND c.site_text IS NOT NULL GROUP BY 1
        ), tied AS (SELECT call_id, min(site_id) AS site_id FROM findings WHERE site_id IS NOT NULL GROUP BY 1)
        SELECT DISTINCT coalesce(t.site_id, m.site_id) AS site, c.reported_at::DATE AS day
        FROM calls c LEFT JOIN tied t USING (call_id) LEFT JOIN matched m ON m.site_text = c.site_text
        WHERE coalesce(t.site_id, m.site_id) IS NOT NULL AND c.superseded_by IS NULL
          AND NOT list_contains(coalesce(c.flags, []), 'outside the log')
        ORDER BY ALL
        """
    ):
        found[str(site)].append(day)
    return dict(found)


def proposed(store: Store) -> list[SiteWindows]:
    """The proposal for a finished build, without the sites whose windows a person or the site register has set."""
    log_from, log_to = store.row("SELECT log_from, log_to FROM build_info")
    if log_from is None or log_to is None or log_from > log_to:
        return []
    settled = {
        str(site)
        for (site,) in store.rows(
            "SELECT site_id FROM observation_windows WHERE origin IN ('windows.csv', 'site register')"
        )
    }
    found = propose_windows(call_days(store), Span(log_from, log_to))
    return [one for one in found if one.site_id not in settled and one.windows]

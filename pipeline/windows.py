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
    shared = [gap.span for gap in silent if gap.span.first > log.first and gap.span.last < log.last]
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


@dataclass(frozen=True)
class _Gap:
    """A span without calls that chance does not explain; ``open_days`` of it lie in the time that was tested."""

    span: Span
    open_days: int
    probability: float


def _gaps(days: Sequence[date], spans: Sequence[Span], tests: int) -> list[_Gap]:
    """Gaps between days, within spans laid end to end, that chance does not explain: longest first.

    A gap goes on over what lies between two spans: a site that joined after them was silent on either side.
    """
    inside = [day for day in days if any(span.first <= day <= span.last for span in spans)]
    if len(inside) < FEWEST_CALL_DAYS:
        return []
    edges = [spans[0].first - _DAY, *inside, spans[-1].last + _DAY]
    silences = [Span(a + _DAY, b - _DAY) for a, b in pairwise(edges) if (b - a).days > 1]
    lengths = sorted(
        ((_days_within(silence, spans), silence) for silence in silences), key=lambda one: -one[0]
    )
    total, count = sum(span.days for span in spans), len(inside)
    found: list[_Gap] = []
    for length, silence in lengths[:MOST_GAPS]:
        if length < SHORTEST_GAP_DAYS:
            break
        probability = min(1.0, (count + 1) * (1 - length / total) ** count * tests)
        if probability > LARGEST_PROBABILITY:
            break
        found.append(_Gap(silence, length, probability))
        total -= length  # so that the next is judged by the rate of the rest
    return found


def _days_within(gap: Span, spans: Iterable[Span]) -> int:
    """The days of a gap that lie in some of the spans, which do not overlap."""
    shared = ((min(gap.last, span.last) - max(gap.first, span.first)).days + 1 for span in spans)
    return sum(days for days in shared if days > 0)


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
    site: str, days: Sequence[date], log: Span, shared: Sequence[Span], gaps: Sequence[_Gap]
) -> SiteWindows:
    """The windows between the gaps, and what speaks for them."""
    own = [gap.span for gap in gaps]
    told = [
        f"no call of any site from {gap.first} to {gap.last} ({count_text(gap.days)} days)" for gap in shared
    ]
    open_days = sum(span.days for span in _without(log, [*shared, *own]))
    for gap in gaps:
        expected = len(days) * gap.open_days / max(open_days, 1)
        told.append(
            f"no call from {gap.span.first} to {gap.span.last} where about {expected:.0f} days with calls were to be "
            f"expected (chance {_small(gap.probability)})"
        )
    interval = round(open_days / max(len(days), 1))
    windows = _without(log, [*shared, *(_shrunk(gap, interval, log) for gap in own)])
    least = min((gap.probability for gap in gaps), default=0.0)
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

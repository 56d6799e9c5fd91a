"""Headline figures of failures: those of the last twelve months, the shortest life, and those to expect."""

from __future__ import annotations

from datetime import date

from pipeline.figures.counts import FailureCount, failures_between
from pipeline.figures.facts import Facts
from pipeline.figures.figure import Figure, missing
from pipeline.figures.filters import Filters
from pipeline.figures.forecasting import NextYear, most_without_failures
from pipeline.figures.lifespans import Lifespan, soonest_and_longest
from pipeline.figures.sources import failure_span
from pipeline.figures.wording import count_text, date_text, percent_text
from pipeline.numerals import counted
from pipeline.store import Store

Span = tuple[date, date]
MOST_SOURCES = 3  # that a note names; the rest are summed


def recent_failures(store: Store, info: Facts, filters: Filters) -> Figure:
    """Control failures in the last twelve months of the log, and in the twelve before."""
    key, span = "failures_12_months", failure_span(store, filters)
    if span is None:
        return missing(key, "Control failures, last 12 months", "controls", "The log is empty.")
    count = failures_between(store, *span, filters)
    note = (
        f"{_begins(info, span)}{counted(count.incidents, 'incident')}, each weighed by how far its texts say that "
        "the control failed. The limits hold that doubt and how well each rule's odds are known (see Review), "
        "nothing else. The hard count takes those at "
        f"{info.assumptions.control_failed_threshold:g} or more."
    )
    label = f"Control failures, 12 months to {date_text(count.last)}"
    beside = (_hard(f"{key}_hard", "Hard count", count), *_year_before(store, info, filters))
    return Figure(key, label, "controls", count.expected, count.lower, count.upper, note, beside)


def _year_before(store: Store, info: Facts, filters: Filters) -> tuple[Figure, ...]:
    """Expected and hard count of the twelve months before; no value where the log does not reach back."""
    key, span = "failures_12_months_before", failure_span(store, filters, years_back=1)
    if span is None or info.log_from is None:
        return ()
    label = f"The 12 months before, to {date_text(span[1])}"
    if info.log_from > span[1]:
        return (missing(key, label, "controls", "The log begins later."),)
    count = failures_between(store, *span, filters)
    return (
        Figure(key, label, "controls", count.expected, count.lower, count.upper, _begins(info, span).strip()),
        _hard(f"{key}_hard", "The 12 months before, hard count", count),
    )


def _begins(info: Facts, span: Span) -> str:
    """A warning where the log does not cover the whole span; empty where it does."""
    if info.log_from is None or info.log_from <= span[0]:
        return ""
    return f"The log begins only on {date_text(info.log_from)}. "


def lifespans(store: Store, info: Facts, filters: Filters) -> Figure:
    """The group that fails soonest, with the longest-lived beside it."""
    key = "soonest_to_fail"
    soonest, longest, ranked = soonest_and_longest(store, filters)
    if soonest is None:
        why = "No group of model and lamp has enough failures at known ages for a life of its own."
        return missing(key, "Fails soonest: age by which 10 % have failed (B10)", "years", why)
    note = (
        f"Age by which 10 % have failed (B10). {count_text(soonest.failures)} failures among "
        f"{count_text(soonest.units)} controls; Weibull fit, {percent_text(info.confidence)} limits. "
        f"{count_text(ranked)} groups of model and lamp have enough failures to be ranked."
    )
    beside = () if longest is None else (_life(longest, "longest_lived", "Lasts longest"),)
    return _life(soonest, key, "Fails soonest", note, beside)


def _life(span: Lifespan, key: str, label: str, note: str = "", beside: tuple[Figure, ...] = ()) -> Figure:
    limits = span.lower_years, span.upper_years
    return Figure(key, f"{label}: {span.name}", "years", span.b10_years, *limits, note, beside)


def next_failures(store: Store, info: Facts, filters: Filters, year: NextYear | None) -> Figure:
    """Failures to expect in the twelve months after the log's end, with a prediction interval."""
    key, label = "expected_next_12_months", "Control failures expected in the next 12 months"
    if year is None:
        return missing(key, label, "controls", "No control in service is on record.")
    if not year.controls_by_age + year.controls_by_rate:
        return _nothing_failed(key, label, most_without_failures(store, filters))
    note = (
        f"{count_text(year.controls_by_age)} controls in service by age and fitted life, "
        f"{count_text(year.controls_by_rate)} by rate (age unknown, or no fitted life). "
        f"What fails is replaced at once and may fail again. {percent_text(info.confidence)} prediction interval for "
        "the number itself, if controls live as they did."
    )
    note += _less_particular(year)
    if year.unforeseen:
        note += f" {count_text(year.unforeseen)} more are left out: nothing like them has failed yet."
    return Figure(key, label, "controls", year.expected, year.lower, year.upper, note)


def _nothing_failed(key: str, label: str, most: int | None) -> Figure:
    """No forecast, but what the time worked without a failure excludes."""
    note = "Nothing has failed yet from which to forecast."
    if most is not None:
        note += " The limit is what the time worked without any failure leaves possible, of controls of known age."
    return Figure(key, label, "controls", None, high=most, note=note)


def _less_particular(year: NextYear) -> str:
    """A sentence on the controls for which another group than their own model on its lamps speaks."""
    if not year.less_particular:
        return ""
    named, rest = year.less_particular[:MOST_SOURCES], year.less_particular[MOST_SOURCES:]
    told = [f"{count_text(controls)} by the {source}" for source, controls in named]
    if rest:
        told.append(f"{count_text(sum(controls for _, controls in rest))} by others")
    return f" Where model and lamps have too few failures of their own: {', '.join(told)}."


def _hard(key: str, label: str, count: FailureCount) -> Figure:
    return Figure(key, label, "controls", count.hard)

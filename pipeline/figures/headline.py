"""The six figures that matter, each with its limits and what it assumes."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from pipeline.figures.activity import burning_now, open_without_symptom
from pipeline.figures.business import WHERE_IT_PAYS, business_case
from pipeline.figures.carbon import market_based
from pipeline.figures.counts import FailureCount, failures_between
from pipeline.figures.delays import delay_text
from pipeline.figures.energy import energy_by, energy_left_out
from pipeline.figures.facts import Facts, facts
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.forecasting import NextYear, Outlook, most_without_failures, outlook
from pipeline.figures.lifespans import Lifespan, soonest_and_longest
from pipeline.figures.meters import unreported_text
from pipeline.figures.sources import failure_span
from pipeline.figures.tariff_costs import taxes_statement
from pipeline.figures.wording import count_text, date_text, percent_text
from pipeline.payback.flows import REPLACE_NOW
from pipeline.store import Store

Span = tuple[date, date]
MOST_SOURCES = 3  # that a note names; the rest are summed
BOUNDARY = "Day burning that nobody reported is outside this figure."


def headline(store: Store, filters: Filters = EVERYTHING, ahead: Outlook | None = None) -> list[Figure]:
    """Six figures, always in this order; a figure that the data do not support has no value and says why.

    ``ahead``: the outlook for the same filters, where it is at hand.

    burning_now, failures_12_months, soonest_to_fail, expected_next_12_months, wasted_energy, net_savings.
    """
    info = facts(store)
    return [
        burning(store, info, filters),
        recent_failures(store, info, filters),
        lifespans(store, info, filters),
        next_failures(store, info, filters, (ahead or outlook(store, filters)).total),
        wasted_energy(store, info, filters),
        net_savings(store, info, filters),
    ]


def burning(store: Store, info: Facts, filters: Filters) -> Figure:
    """Controls burning by day at the log's end, with what each further day costs."""
    key, label = "burning_now", "Controls burning by day now"
    if info.log_to is None:
        return _missing(key, label, "controls", "The log is empty.")
    frame = burning_now(store, filters)
    per_day = frame[["kwh_per_day", "cost_per_day"]].astype(float)
    unknown = int(per_day.isna().all(axis=1).sum())
    kwh, cost = (_known_sum(per_day[name]) for name in per_day.columns)
    note = f"{_incidents(len(frame))} open at the log's end, {date_text(info.log_to)}. {BOUNDARY}"
    unread = open_without_symptom(store, filters)
    if unread:
        note += (
            f" Of {_incidents(unread)} more still open the calls do not say whether they burn or are dark."
        )
    if unknown:
        note += f" For {count_text(unknown)} of them the load is unknown, so the true cost is higher."
    beside = (
        Figure("burning_cost_per_day", "Cost of one more day", f"{info.money}/day", cost),
        Figure("burning_kwh_per_day", "Energy of one more day", "kWh/day", kwh),
    )
    return Figure(key, label, "controls", int(frame["controls"].sum()), note=note, beside=beside)


def recent_failures(store: Store, info: Facts, filters: Filters) -> Figure:
    """Control failures in the last twelve months of the log, and in the twelve before."""
    key, span = "failures_12_months", failure_span(store, filters)
    if span is None:
        return _missing(key, "Control failures, last 12 months", "controls", "The log is empty.")
    count = failures_between(store, *span, filters)
    note = (
        f"{_begins(info, span)}{_incidents(count.incidents)}, each weighed by how far its texts say that the control "
        "failed. The limits hold that doubt and how well each rule's odds are known (see Review), nothing else. "
        "The hard count takes those at "
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
        return (_missing(key, label, "controls", "The log begins later."),)
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
        return _missing(key, "Fails soonest: age by which 10 % have failed (B10)", "years", why)
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
        return _missing(key, label, "controls", "No control in service is on record.")
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


def wasted_energy(store: Store, info: Facts, filters: Filters) -> Figure:
    """Energy wasted by day burning, with cost and emissions."""
    key, label = "wasted_energy", "Energy wasted by day burning"
    total = energy_by(store, "all", filters)
    if total.empty:
        why = f"No incident with a known load and place wasted energy. {BOUNDARY}"
        return _missing(key, label, "kWh", why)
    row = total.iloc[0]
    left_out = energy_left_out(store, filters).groupby("symptom")["incidents"].sum()
    note = (
        f"{_incidents(int(row['incidents']))}. The range holds 90 % of the draws of when each began and ended, with "
        f"one mean detection delay for all ({delay_text(store, info)}). {BOUNDARY}"
    )
    unreported = unreported_text(store, filters)
    if unreported:
        note += f" {unreported}"
    if len(left_out):
        told = " and ".join(f"{_incidents(int(count))} of {symptom}" for symptom, count in left_out.items())
        note += f" Left out because it could not be reckoned: {told}."
    bounds = (
        "Low: all lit only from the first report to the earliest end that fits the records. High: all lit back to the "
        "last visit that could have seen it, and to the latest end."
    )
    beside = (
        Figure(
            "wasted_cost",
            "Cost of the wasted energy",
            info.money,
            *_ranged(row, "cost"),
            f"Metered accounts only. {taxes_statement(store)}".strip(),
        ),
        Figure(
            "wasted_co2e",
            "Emissions of the wasted energy",
            "kg CO2e",
            *_ranged(row, "co2e_kg"),
            "Location-based.",
        ),
        *market_based(row),
        Figure("wasted_bounds", "Bounds of the wasted energy", "kWh", None, *_three(row, "kwh")[1:], bounds),
    )
    return Figure(key, label, "kWh", *_ranged(row, "kwh"), note, beside)


def net_savings(store: Store, info: Facts, filters: Filters) -> Figure:
    """What replacing all now saves over the study period, in the groups where it pays."""
    key, label = "net_savings", "Net savings of replacing now, where it pays"
    totals = business_case(store, filters)
    now = totals[totals["option"] == REPLACE_NOW]
    if now.empty:
        why = "No replacement could be priced: that needs controls with a life, and the price of a rated control."
        return _missing(key, label, info.money, why)
    paying = now[now["scope"] == WHERE_IT_PAYS]
    if paying.empty:
        note = "In no group does replacing all now save more than it costs."
        return Figure(key, label, info.money, 0, note=note)
    row = paying.iloc[0]
    note = (
        f"Against repair like for like over {int(row['years'])} years at a real discount rate of "
        f"{row['discount_rate'] * 100:.1f} %, present value. Limits: all groups at one end of their fits together. "
        "The groups are those whose estimate says that it pays, so their sum leans high; the total over all stands in "
        "the business case."
    )
    value, low, high = (_known(row[f"net_savings{part}_cost"]) for part in ("", "_lower", "_upper"))
    if low is None:
        note += " How little is saved is not known: a life of few failures is bounded from below only."
    beside = (
        Figure("paying_groups", "Groups of site and model where it pays", "groups", int(row["groups"])),
        Figure("paying_controls", "Controls in them", "controls", int(row["controls"])),
        Figure("paying_investment", "To be paid at the start", info.money, float(row["investment_cost"])),
    )
    return Figure(key, label, info.money, value, low, high, note, beside)


def _three(row: pd.Series, name: str) -> tuple[float | None, float | None, float | None]:
    """Central, low and high of one quantity."""
    return _known(row[f"{name}_central"]), _known(row[f"{name}_low"]), _known(row[f"{name}_high"])


def _ranged(row: pd.Series, name: str) -> tuple[float | None, float | None, float | None]:
    """Central and 90 % range of one quantity."""
    return _known(row[f"{name}_central"]), _known(row[f"{name}_p5"]), _known(row[f"{name}_p95"])


def _known_sum(values: pd.Series) -> float | None:
    """Sum of what is known; None where there are values and none is known."""
    total = values.sum(min_count=1 if len(values) else 0)
    return None if pd.isna(total) else float(total)


def _known(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _incidents(count: int) -> str:
    return f"{count_text(count)} {'incident' if count == 1 else 'incidents'}"


def _hard(key: str, label: str, count: FailureCount) -> Figure:
    return Figure(key, label, "controls", count.hard)


def _missing(key: str, label: str, unit: str, why: str) -> Figure:
    return Figure(key, label, unit, None, note=why)

"""Life-cycle cost of two alternatives and the measures by which one is judged against the other.

Definitions: NIST Handbook 135, Life-Cycle Costing Manual, and 10 CFR 436 subpart A. The alternative is
cost-effective where net savings > 0, or SIR > 1, or AIRR > the discount rate: the three always agree
where all are defined.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import pandas as pd
from pandas.api.types import is_numeric_dtype

from pipeline.payback.internal_rate import internal_rate_of_return
from pipeline.payback.present_value import Floats, check_rate, single_present_value

INVESTMENT_KINDS = ("investment", "replacement", "residual")
OPERATING_KINDS = ("energy", "maintenance")
KINDS = INVESTMENT_KINDS + OPERATING_KINDS
MAX_YEARS = 100
_ROUNDING = 1e-9  # of the amounts concerned: a smaller difference is one of floating point, not of money


@dataclass(frozen=True)
class LifeCycleCost:
    """Result for one alternative against its base; amounts at present value, in the currency given.

    A measure that is not defined is None, and ``undefined`` says why, by name. ``cautions`` are things
    that a reader of a defined measure must know.
    """

    base_lcc: float
    alternative_lcc: float
    net_savings: float
    sir: float | None
    airr: float | None
    irr: float | None
    simple_payback_years: int | None
    discounted_payback_years: int | None
    undefined: dict[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()


def life_cycle_cost(
    base: pd.DataFrame,
    alternative: pd.DataFrame,
    years: int,
    discount_rate: float,
    timing: Literal["end", "mid"] = "end",
) -> LifeCycleCost:
    """Compare an alternative with a base over a study period.

    base, alternative : frames with columns year (whole, 0 = base date), kind and amount, in constant
        money of the base date, any number of rows per year. Costs are positive. ``residual`` is value
        received, also positive, and is deducted. Energy is money: its price changes are the caller's.
    years : length of the study period [a]. discount_rate : real, a fraction (0.03).
    timing : "end" discounts every amount from the end of its year; "mid" discounts energy and
        maintenance from the middle of theirs, and the rest from its end.

    SIR = PV of operating savings / PV of extra investment (investment + replacement - residual);
    AIRR = (1 + d) * SIR^(1/n) - 1. Payback is the first year by whose end the savings (discounted, or
    not) have met all extra cost so far. Raises ValueError with every fault of the frames.
    """
    _check(base, alternative, years, discount_rate, timing)
    base_costs, own_costs = _yearly(base, years), _yearly(alternative, years)
    factors = _factors(years, discount_rate, timing)
    base_lcc, own_lcc = float((base_costs * factors).sum()), float((own_costs * factors).sum())
    saved = base_costs - own_costs
    investment = [KINDS.index(kind) for kind in INVESTMENT_KINDS]
    operating = [KINDS.index(kind) for kind in OPERATING_KINDS]
    undefined: dict[str, str] = {}
    extra_investment = _without_rounding(-(saved * factors)[investment].sum(), base_costs, own_costs)
    sir = _sir(float((saved * factors)[operating].sum()), extra_investment, undefined)
    cautions: list[str] = []
    return LifeCycleCost(
        base_lcc,
        own_lcc,
        base_lcc - own_lcc,
        sir,
        _airr(sir, years, discount_rate, undefined),
        _irr(saved, timing, undefined),
        _payback(saved.sum(axis=0), "simple_payback_years", undefined, cautions),
        _payback((saved * factors).sum(axis=0), "discounted_payback_years", undefined, cautions),
        undefined,
        tuple(cautions),
    )


def _without_rounding(amount: float, *costs: Floats) -> float:
    return 0.0 if abs(amount) < _ROUNDING * sum(np.abs(each).sum() for each in costs) else float(amount)


def _yearly(flows: pd.DataFrame, years: int) -> Floats:
    """Costs by kind (rows, in the order of KINDS) and year 0..n (columns); a residual counts negative."""
    costs = np.zeros((len(KINDS), years + 1))
    kinds = flows["kind"].map(KINDS.index).to_numpy(dtype=np.intp)
    np.add.at(costs, (kinds, flows["year"].to_numpy(dtype=np.intp)), flows["amount"].to_numpy(dtype=float))
    costs[KINDS.index("residual")] *= -1
    return costs


def _times(years: int, timing: str) -> Floats:
    """Years from the base date at which each kind's amounts of each year fall, as ``_yearly`` is laid out."""
    times = np.tile(np.arange(years + 1, dtype=np.float64), (len(KINDS), 1))
    if timing == "mid":
        for kind in OPERATING_KINDS:
            times[KINDS.index(kind), 1:] -= 0.5
    return times


def _factors(years: int, discount_rate: float, timing: str) -> Floats:
    return single_present_value(_times(years, timing), discount_rate)


def _sir(operating_savings: float, extra_investment: float, undefined: dict[str, str]) -> float | None:
    if extra_investment > 0:
        return operating_savings / extra_investment
    undefined["sir"] = "the alternative needs no extra investment over the study period"
    return None


def _airr(sir: float | None, years: int, discount_rate: float, undefined: dict[str, str]) -> float | None:
    if sir is None:
        undefined["airr"] = undefined["sir"]
        return None
    if sir < 0:
        undefined["airr"] = "operating costs rise instead of falling, so the investment earns nothing"
        return None
    return float((1 + discount_rate) * sir ** (1 / years) - 1)


def _irr(saved: Floats, timing: str, undefined: dict[str, str]) -> float | None:
    times = _times(saved.shape[1] - 1, timing)
    moments, place = np.unique(times, return_inverse=True)
    amounts = np.zeros(moments.size)
    np.add.at(amounts, place.ravel(), saved.ravel())
    rate, reason = internal_rate_of_return(amounts, moments)
    if rate is None:
        undefined["irr"] = reason
    return rate


def _payback(saved_by_year: Floats, name: str, undefined: dict[str, str], cautions: list[str]) -> int | None:
    """First year by whose end the running sum is not negative, if it began negative."""
    running = np.cumsum(saved_by_year)
    running[np.abs(running) < _ROUNDING * np.abs(saved_by_year).sum()] = 0
    if running[0] >= 0:
        undefined[name] = "the alternative costs no more at the start, so there is nothing to pay back"
        return None
    paid = np.flatnonzero(running >= 0)
    if not paid.size:
        undefined[name] = "the savings do not meet the extra cost within the study period"
        return None
    first = int(paid[0])
    if np.any(running[first:] < 0):
        again = first + int(np.flatnonzero(running[first:] < 0)[0])
        cautions.append(
            f"{name}: paid back in year {first}, but later costs exceed the savings from year {again}"
        )
    return first


def _check(base: pd.DataFrame, alternative: pd.DataFrame, years: int, rate: float, timing: str) -> None:
    if isinstance(years, bool) or years != int(years) or not 1 <= years <= MAX_YEARS:
        raise ValueError(f"years {years} is not a whole number from 1 to {MAX_YEARS}")
    check_rate(rate)
    if timing not in ("end", "mid"):
        raise ValueError(f"timing '{timing}' is not 'end' or 'mid'")
    faults = _faults(base, "base", years) + _faults(alternative, "alternative", years)
    if faults:
        raise ValueError("; ".join(faults))


def _numbers(column: pd.Series) -> Floats:
    """A column as numbers, NaN for what is none; a column of numbers needs no look at each."""
    known = column if is_numeric_dtype(column) else pd.to_numeric(column, errors="coerce")
    return known.to_numpy(dtype=np.float64)


def _faults(flows: pd.DataFrame, name: str, years: int) -> list[str]:
    """What is wrong with a frame of flows, each with its row counted from 1."""
    absent = [column for column in ("year", "kind", "amount") if column not in flows.columns]
    if absent:
        return [f"{name} has no column {', '.join(absent)} (needs year, kind, amount)"]
    year, amount, kinds = _numbers(flows["year"]), _numbers(flows["amount"]), flows["kind"].tolist()
    bad = {
        f"year is not a whole number from 0 to {years}": ~((year >= 0) & (year <= years) & (year % 1 == 0)),
        f"kind is not one of {', '.join(KINDS)}": np.array([kind not in KINDS for kind in kinds], dtype=bool),
        "amount is not a number": ~np.isfinite(amount),
        "a residual is value received, not negative (a disposal cost is a replacement)": (
            np.array([kind == "residual" for kind in kinds], dtype=bool) & (amount < 0)
        ),
    }
    return [
        f"{name} row {', '.join(str(row + 1) for row in np.flatnonzero(rows)[:5])}: {what}"
        for what, rows in bad.items()
        if rows.any()
    ]

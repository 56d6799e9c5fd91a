"""What shortens the lives of controls: a Weibull accelerated-life regression, with its checks, in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline.figures import query
from pipeline.figures.carried import OPERATIONS, STRESS, Carried, carried
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import estimate_text, percent_text
from pipeline.numerals import count_text
from pipeline.store import Store
from pipeline.survival import (
    CannotFit,
    LifeRegression,
    PooledRegression,
    RegressionDiagnostics,
    check_life_regression,
    fit_life_regression,
    fit_life_regression_imputed,
)
from pipeline.survival.group_tests import holm
from pipeline.survival.regression_design import Term
from pipeline.survival.residuals import SMALL_P

ALL_KINDS = "all kinds"
_NUMBERS = {
    STRESS: "each doubling of inrush stress",
    OPERATIONS: "each doubling of switching operations a year",
}
_COLUMNS = ("cause", "compared_with", "life_ratio", "lower", "upper", "p_value_holm", "failures", "said")


@dataclass(frozen=True)
class LifeCauses:
    """What goes with shorter or longer lives.

    ``ratios``: cause, compared_with, life_ratio with limits (the factor on every age of failure, all other causes
    alike), p_value_holm (adjusted for the number of causes), failures (that speak for it, as read), said ("shorter
    lives", "longer lives", "no difference shown", or "no one ratio" where the checks speak against it).
    ``sentences``: the finding in plain words, or why there is none. ``checks``: whether the regression describes the
    lives. ``left_out``: what it cannot tell, and why. ``draws``: of the open verdicts that it is pooled over; 0
    where nothing is open.
    """

    scope: str
    sentences: tuple[str, ...]
    ratios: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(_COLUMNS)), repr=False)
    checks: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    failures: int = 0
    draws: int = 0


def cause_scopes(store: Store, filters: Filters = EVERYTHING) -> list[str]:
    """Kinds of control whose lives are known, that with most failures first; ALL_KINDS last where there are several."""
    lives = query.frame(store, "described_lives", filters.without_period(), kind=None)
    read = lives[(lives["draw"] == 0) & lives["kind"].notna()]
    failures = read["quantity"].where(read["failed"].astype(bool), 0).groupby(read["kind"]).sum()
    kinds = [str(kind) for kind in failures.sort_index().sort_values(ascending=False, kind="stable").index]
    return [*kinds, ALL_KINDS] if len(kinds) > 1 else kinds


def life_causes(store: Store, scope: str = ALL_KINDS, filters: Filters = EVERYTHING) -> LifeCauses:
    """Life ratios of a kind's models, lamps, inrush stress, switching and operations; or of kinds, with ALL_KINDS.

    Within a kind models are compared; over all kinds, the kinds, for a model is of one kind only. Pooled over the
    draws of open verdicts by Rubin's rules, as the headline fits are; the checks take verdicts as they stand. A
    period does not apply.
    """
    whole = scope == ALL_KINDS
    lives = query.frame(store, "described_lives", filters.without_period(), kind=None if whole else scope)
    if lives.empty:
        return LifeCauses(scope, ("No control of known age can be followed here.",))
    found = carried(lives, ["kind" if whole else "model", "lamps", "switching"])
    left_out = tuple(found.left_out)
    if not found.covariates:
        return LifeCauses(
            scope, ("The failures here cannot tell what shortens lives: nothing they differ in has enough of them.",),
            left_out=left_out,
        )  # fmt: skip
    try:
        return _told(scope, found, facts(store).confidence)
    except CannotFit as refusal:
        return LifeCauses(scope, (refusal.why,), left_out=left_out)


def _told(scope: str, found: Carried, confidence: float) -> LifeCauses:
    read, drawn = found.as_read, found.drawn()
    fit = fit_life_regression(read, found.covariates, confidence)
    checks = check_life_regression(read, fit)
    pooled = fit_life_regression_imputed(drawn, found.covariates, confidence) if drawn else None
    ratios = _ratios(fit, pooled, read, checks)
    return LifeCauses(
        scope=scope,
        sentences=tuple(_sentences(ratios, checks, confidence)),
        ratios=ratios,
        checks=checks.sentences,
        left_out=tuple(found.left_out),
        failures=fit.failures,
        draws=len(drawn),
    )


def _ratios(
    fit: LifeRegression, pooled: PooledRegression | None, read: pd.DataFrame, checks: RegressionDiagnostics
) -> pd.DataFrame:
    table = (pooled or fit).life_ratios
    adjusted = holm(table["p_value"].to_numpy(dtype=float))
    doubted = checks.proportionality.set_index("covariate")["p_value_holm"]
    rows = [
        {
            "cause": _NUMBERS.get(term.column, f"{term.column} {term.level}"),
            "compared_with": term.compared_with,
            "life_ratio": row["life_ratio"],
            "lower": row["lower"],
            "upper": row["upper"],
            "p_value_holm": p_value,
            "failures": _speaking(term, read),
            "said": _said(row["life_ratio"], p_value, float(doubted[term.column])),
        }
        for term, row, p_value in zip(fit.terms, table.to_dict("records"), adjusted, strict=True)
    ]
    return pd.DataFrame(rows, columns=list(_COLUMNS))


def _speaking(term: Term, read: pd.DataFrame) -> int:
    """Failures at a level, or where a number tells anything."""
    at = read[term.column] == term.level if term.level is not None else read[term.column] != 0.0
    return int(read.loc[at & read["failed"].astype(bool), "quantity"].sum())


def _said(ratio: float, p_value: float, p_one_shape: float) -> str:
    if p_value >= SMALL_P:
        return "no difference shown"
    if not math.isnan(p_one_shape) and p_one_shape < SMALL_P:
        return "no one ratio"
    return "shorter lives" if ratio < 1 else "longer lives"


def _sentences(ratios: pd.DataFrame, checks: RegressionDiagnostics, confidence: float) -> list[str]:
    rows = ratios.to_dict("records")
    told = [row for row in rows if row["said"] in ("shorter lives", "longer lives")]
    told.sort(key=lambda row: row["life_ratio"])
    said = [_ratio_sentence(row, confidence) for row in told]
    several = [str(row["cause"]) for row in rows if row["said"] == "no one ratio"]
    if several:
        too = " too" if said else ""
        named = ", ".join(several)
        said.append(f"Lives differ by {named}{too}, but not by one ratio at every age: see the checks.")
    if not said:
        said.append("The data do not show that anything here shortens or lengthens lives.")
    if checks.residual_p_value < SMALL_P:
        said.append(
            "The regression as a whole does not describe these lives well: take ratios for a rough guide."
        )
    return said


def _ratio_sentence(row: Mapping[Any, Any], confidence: float) -> str:
    limits = (
        f"{percent_text(confidence)} limits {estimate_text(row['lower'])} to {estimate_text(row['upper'])}"
    )
    basis = f"{limits}; {count_text(row['failures'])} failures speak for it"
    against = f" of those on {row['compared_with']}" if row["compared_with"] else ""
    cause = str(row["cause"])
    return f"{cause[0].upper()}{cause[1:]}: {estimate_text(row['life_ratio'])} times the life{against} ({basis})."

"""Whether a Weibull describes the lives of a group: probability plot, other distributions, residuals."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.failures import check_grouping
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import estimate_text
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.groups import full_fit
from pipeline.lives.pooled_life import PooledLife
from pipeline.numerals import count_text
from pipeline.settings import Assumptions
from pipeline.store import Store
from pipeline.survival import (
    CannotFit,
    WeibullFit,
    compare_distributions,
    dense_from,
    fit_weibull,
    probability_plot,
)
from pipeline.survival.probability_plot import paper_height
from pipeline.survival.residuals import cox_snell, residual_bins, residual_p_value, residual_sentence

MOST_POINTS = 40
PAPER_SHARES = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.99)
"""Failed shares at which Weibull paper has a line."""
# Burnham and Anderson, Model Selection and Multimodel Inference (2002), from memory: below 2 a difference of AIC
# decides nothing, above 10 the worse one has next to no support.
_UNDECIDED, _DECIDED = 2.0, 10.0
_DISTRIBUTIONS = ("distribution", "aic", "aic_above_best", "log_likelihood", "bic")
_POINTS = ("age_days", "failed_share", "lower", "upper", "x", "y", "y_lower", "y_upper")
_NAMES = {
    "exponential": "exponential (failures no likelier with age)",
    "lognormal": "lognormal",
    "loglogistic": "loglogistic",
}
_ROWS = ("group_name", "failures", "best", "weibull_aic_above_best", "residual_p_value", "said")
_STRETCHES = ("from_residual", "to_residual", "failures", "expected")


@dataclass(frozen=True)
class WeibullCheck:
    """How well the Weibull describes a group's lives, as their verdicts stand.

    ``sentences``: the finding in plain words, or why there is none. ``distributions``: distribution, aic,
    aic_above_best, log_likelihood, bic, the best first. ``points``, ``line`` (fit of the lives as read) and
    ``headline`` (the fit that draws open verdicts; empty where nothing is open): age_days, failed_share and its
    limits (0 to 1), and where they stand on Weibull paper: x, y, y_lower, y_upper. ``stretches``: failures and those
    expected, along the fitted hazard.
    """

    sentences: tuple[str, ...]
    failures: int = 0
    starts_at_days: float = 0.0
    distributions: pd.DataFrame = field(default_factory=lambda: _empty(_DISTRIBUTIONS), repr=False)
    points: pd.DataFrame = field(default_factory=lambda: _empty(_POINTS), repr=False)
    line: pd.DataFrame = field(default_factory=lambda: _empty(_POINTS), repr=False)
    headline: pd.DataFrame = field(default_factory=lambda: _empty(_POINTS), repr=False)
    stretches: pd.DataFrame = field(default_factory=lambda: _empty(_STRETCHES), repr=False)


def weibull_check(store: Store, grouping: str, group: str, filters: Filters = EVERYTHING) -> WeibullCheck:
    """How well the Weibull describes the lives of one group.

    Verdicts as they stand: the draws of open ones suppose a Weibull, and would flatter it. Failures at their
    central age in points and residuals, within their interval in the fits. Under delayed entry the points begin where
    enough controls are watched (``dense_from``). At most MOST_POINTS points, evenly chosen.
    """
    check_grouping(grouping)
    rows = query.frame(store, "group_lives", filters, by_group=grouping, group=group)
    lives, assumptions = GroupLives(rows), facts(store).assumptions
    try:
        found = _tried(lives, assumptions)
        return _with_plot(lives, found, assumptions)
    except CannotFit as refusal:
        return WeibullCheck((refusal.why,), lives.failures)


def weibull_checks(
    store: Store, grouping: str = "model and lamp", filters: Filters = EVERYTHING
) -> pd.DataFrame:
    """The same in a row for every group, worst first: no plot.

    Columns: group_name, failures, best (distribution by AIC), weibull_aic_above_best, residual_p_value, said.
    """
    check_grouping(grouping)
    rows = query.frame(store, "group_lives", filters, by_group=grouping, group=None)
    assumptions = facts(store).assumptions
    parts = [_row(str(name), GroupLives(part), assumptions) for name, part in rows.groupby("group_name")]
    frame = pd.DataFrame(parts, columns=list(_ROWS))
    order = ["weibull_aic_above_best", "residual_p_value", "group_name"]
    return frame.sort_values(order, ascending=[False, True, True], na_position="last", ignore_index=True)


def _row(name: str, lives: GroupLives, assumptions: Assumptions) -> dict[str, object]:
    row: dict[str, object] = {"group_name": name, "failures": lives.failures}
    try:
        found = _tried(lives, assumptions)
    except CannotFit as refusal:
        return row | {"said": refusal.why}
    above = found.distributions.set_index("distribution")["aic_above_best"]
    return row | {
        "best": found.distributions["distribution"].iloc[0],
        "weibull_aic_above_best": float(above["weibull"]),
        "residual_p_value": residual_p_value(found.stretches),
        "said": " ".join(found.sentences),
    }


@dataclass(frozen=True)
class _Tried:
    """A fit of lives as read beside other distributions and the failures seen along it."""

    fit: WeibullFit
    distributions: pd.DataFrame
    stretches: pd.DataFrame

    @property
    def sentences(self) -> tuple[str, str]:
        p_value = residual_p_value(self.stretches)
        return (
            distribution_sentence(self.distributions),
            residual_sentence(p_value, self.stretches, "the Weibull"),
        )


def _tried(lives: GroupLives, assumptions: Assumptions) -> _Tried:
    if lives.failures < assumptions.few_failures:
        few = count_text(assumptions.few_failures)
        raise CannotFit(
            f"Too few failures ({lives.failures}) to tell whether a Weibull fits; {few} are needed."
        )
    fit = fit_weibull(lives.margins, assumptions.confidence)
    central = lives.at_central_ages()
    standard = central.assign(
        entry_days=central["entry_days"] / fit.scale_days, exit_days=central["exit_days"] / fit.scale_days
    )
    return _Tried(fit, _distributions(lives), residual_bins(cox_snell(standard, fit.shape)))


def _with_plot(lives: GroupLives, found: _Tried, assumptions: Assumptions) -> WeibullCheck:
    central = lives.at_central_ages()
    start = dense_from(central)
    plot = probability_plot(central, found.fit, start, assumptions.confidence)
    return WeibullCheck(
        sentences=found.sentences,
        failures=lives.failures,
        starts_at_days=start,
        distributions=found.distributions,
        points=_thinned(plot.points),
        line=plot.line,
        headline=_headline(lives, plot.line["age_days"], assumptions),
        stretches=found.stretches,
    )


def _distributions(lives: GroupLives) -> pd.DataFrame:
    with warnings.catch_warnings():
        warnings.simplefilter(
            "ignore", UserWarning
        )  # one without a maximum stands in the table without numbers
        found = compare_distributions(lives.margins)
    return found.assign(aic_above_best=found["aic"] - found["aic"].min())[list(_DISTRIBUTIONS)]


def distribution_sentence(found: pd.DataFrame) -> str:
    """Which distribution the lives favour, in plain words. ``found``: distributions of ``WeibullCheck``."""
    above = found.set_index("distribution")["aic_above_best"].dropna()
    if "weibull" not in above.index or len(above) < 2:
        return "The Weibull cannot be compared with other distributions here."
    others = above.drop("weibull")
    nearest, mine = _NAMES[str(others.idxmin())], float(above["weibull"])
    if mine < _UNDECIDED and others.min() < _UNDECIDED:
        return (
            f"Weibull and {nearest} describe these lives equally well (AIC {estimate_text(abs(mine - others.min()))} "
            "apart, and less than 2 decides nothing)."
        )
    if mine < _UNDECIDED:
        return (
            f"Of four life distributions the Weibull describes these lives best; next comes the {nearest} (AIC "
            f"{estimate_text(others.min())} higher)."
        )
    much = "far better" if mine >= _DECIDED else "somewhat better"
    return (
        f"The {nearest} describes these lives {much} than the Weibull (AIC {estimate_text(mine)} lower): trust the "
        "Weibull within the ages seen, and forecasts beyond them less."
    )


def paper_span(check: WeibullCheck) -> tuple[float, float]:
    """Lowest and highest height of a plot: the points and the line, with room; wide limits are cut there."""
    heights = np.concatenate([check.points["y"], check.line["y"]]).astype(np.float64)
    heights = heights[np.isfinite(heights)]
    return float(heights.min()) - 0.7, float(heights.max()) + 0.4


def paper_marks(span: tuple[float, float]) -> tuple[list[float], list[str]]:
    """Heights of the failed shares within a span that Weibull paper names, and their names in percent."""
    heights = paper_height(PAPER_SHARES).tolist()
    inside = [
        (at, share) for at, share in zip(heights, PAPER_SHARES, strict=True) if span[0] <= at <= span[1]
    ]
    return [at for at, _ in inside], [f"{100 * share:g}" for _, share in inside]


def _headline(lives: GroupLives, ages: pd.Series, assumptions: Assumptions) -> pd.DataFrame:
    """The line of the fit that draws what is open; empty where that is the fit as read."""
    fit = full_fit(lives, assumptions)
    if not isinstance(fit, PooledLife):
        return _empty(_POINTS)
    days = ages.to_numpy(np.float64)
    share = -np.expm1(-((days / fit.scale_days) ** fit.shape))
    return pd.DataFrame(
        {"age_days": days, "failed_share": share, "x": np.log(days), "y": paper_height(share)}
    ).reindex(columns=list(_POINTS))


def _thinned(points: pd.DataFrame) -> pd.DataFrame:
    if len(points) <= MOST_POINTS:
        return points
    chosen = np.unique(np.linspace(0, len(points) - 1, MOST_POINTS).round().astype(int))
    return points.iloc[chosen].reset_index(drop=True)


def _empty(columns: tuple[str, ...]) -> pd.DataFrame:
    return pd.DataFrame(columns=list(columns), dtype=float)

"""Did a campaign work? Failures after it against what like-for-like replacement would have given."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy.optimize import brentq
from scipy.stats import gamma

from pipeline.faults import Fault
from pipeline.survival.campaign_words import CampaignEffect
from pipeline.survival.forecasting import LifeModel
from pipeline.survival.form import FloatArray, finite_numbers, refuse, require_columns
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.renewal import renewals_of_fleet
from pipeline.survival.site_spread import SiteSpread, fit_site_spread

DRAWS = 1000
STEPS, STEPS_DRAWN = 400, 60
_THE_ONE = ""  # name of the life where there is only one
_Pairs = tuple[FloatArray, FloatArray]  # shapes and log scales
_COLUMNS = ("site", "age_days", "days", "quantity", "failures")


def campaign_effect(
    fit: LifeModel | Mapping[str, LifeModel],
    after: pd.DataFrame,
    before: pd.DataFrame | None = None,
    renewed_by: LifeModel | None = None,
    confidence: float = 0.95,
    seed: int = 0,
) -> CampaignEffect:
    """Compare the failures after a campaign with the fitted life's forecast on the same dates.

    ``fit``: life of the controls as they were, fitted to lives that end before the campaign; or several by name, and
    then the column ``life`` of both frames names each row's.
    ``after``: rows of controls at the treated sites from their treatment on:

    - ``site``
    - ``age_days`` (>= 0): age as the period began: 0 for what was replaced, the present age for what stayed
    - ``days`` (> 0): how long they were followed
    - ``quantity`` (>= 1) controls alike, and ``failures`` seen among them and their replacements

    ``before``: the same columns for the period *that led to the choice*, at ALL sites that could have been
    chosen, not only those that were. From it comes how much sites truly differ (a gamma spread around the
    fitted life), and each treated site's forecast is multiplied by what is believed of that site: its record shrunk
    towards 1 (empirical Bayes). Without ``before`` the period of selection is left out altogether and
    every site is taken to be as the fit says: right where sites were not chosen for their record.

    ``renewed_by``: life of what replaces a failed control; default ``fit``. What is replaced is renewed at once.
    Raises ImpossibleLives, and CannotFit where nothing was to be expected.
    Source: Robbins, Proc. 3rd Berkeley Symposium 1 (1956) 157-163; Hauer, Observational Before-After
    Studies in Road Safety (1997) for shrinking by a gamma spread (from memory).
    """
    check_confidence(confidence)
    fits = dict(fit) if isinstance(fit, Mapping) else {_THE_ONE: fit}
    if any(one.scale_days is None for one in fits.values()):
        raise CannotFit("The fit has no scale (nothing failed), so there is no forecast to compare with.")
    rows = _checked(after, "after", fits)
    rng = np.random.default_rng(seed)
    sites = _by_site(fits, renewed_by, rows)
    record = None if before is None else _by_site(fits, renewed_by, _checked(before, "before", fits))
    spread = None if record is None else fit_site_spread(record["failures"], record["expected"])
    believed = _believed(sites, record, spread)
    expected = float(sites["expected"] @ believed[0])
    observed = int(sites["failures"].sum())
    if not expected > 0:
        raise CannotFit(
            "No failures were to be expected after the campaign, so there is nothing to compare with."
        )
    drawn = _drawn_expectation(fits, renewed_by, rows, sites, believed, rng)
    if record is not None:  # the level of all sites is itself a count over an expectation
        total = max(float(record["failures"].sum()), 0.5)
        drawn = drawn * rng.gamma(total, size=DRAWS) / total
    low, high = _limits(observed, drawn, confidence)
    naive, ages, regression = _factors(sites, record, believed[0])
    ratio = observed / expected
    return CampaignEffect(observed, expected, ratio, low, high, confidence, naive, ages, regression, spread)


def _checked(frame: pd.DataFrame, what: str, fits: Mapping[str, LifeModel]) -> pd.DataFrame:
    require_columns(frame, _COLUMNS, what)
    row = f"{what} row"
    values = {name: finite_numbers(frame, name, row) for name in _COLUMNS[1:]}
    least = {"age_days": 0.0, "quantity": 1.0, "failures": 0.0}
    faults = [
        Fault(f"{row} {frame.index[i]}", f"{name} {values[name][i]:g} is less than {bound:g}.")
        for name, bound in least.items()
        for i in np.flatnonzero(values[name] < bound).tolist()
    ]
    faults += [
        Fault(f"{row} {frame.index[i]}", f"days {values['days'][i]:g} is not above 0.", "Leave the row out.")
        for i in np.flatnonzero(values["days"] <= 0).tolist()
    ]
    faults += [
        Fault(f"{row} {frame.index[i]}", "site is missing.")
        for i in np.flatnonzero(frame["site"].isna()).tolist()
    ]
    lives = pd.Series(_THE_ONE, index=frame.index) if _THE_ONE in fits else frame["life"]
    faults += [
        Fault(f"{row} {frame.index[i]}", f"life {str(lives.iloc[i])[:80]!r} is not among the fits.")
        for i in np.flatnonzero(~lives.isin(list(fits))).tolist()
    ]
    refuse(faults)
    if len(frame) == 0:
        raise CannotFit(f"The frame `{what}` has no rows.")
    return frame[["site"]].assign(life=lives, **values).reset_index(drop=True)


def _by_site(fits: Mapping[str, LifeModel], renewed_by: LifeModel | None, rows: pd.DataFrame) -> pd.DataFrame:
    """site: failures, expected by the fits, control-days."""
    points = {name: (_point(fit), _point(renewed_by or fit)) for name, fit in fits.items()}
    expected = _renewals(rows, points, STEPS)[:, 0]
    return (
        rows.assign(expected=expected, control_days=rows["days"] * rows["quantity"])
        .groupby("site", sort=True)[["failures", "expected", "control_days"]]
        .sum()
    )


def _renewals(rows: pd.DataFrame, lives: Mapping[str, tuple[_Pairs, _Pairs]], steps: int) -> FloatArray:
    """Expected failures of each row, for each pair of parameters of its life and of what follows it."""
    result = np.zeros((len(rows), next(iter(lives.values()))[0][0].size))
    for name, part in rows.groupby("life"):
        result[part.index] = renewals_of_fleet(part, *lives[str(name)], steps)
    return result


def _point(model: LifeModel) -> tuple[FloatArray, FloatArray]:
    scale = math.inf if model.scale_days is None else math.log(model.scale_days)
    return np.array([model.shape]), np.array([scale])


def _believed(
    sites: pd.DataFrame, record: pd.DataFrame | None, spread: SiteSpread | None
) -> tuple[FloatArray, FloatArray]:
    """Mean of each treated site's factor on the fit, and the parameter of its gamma law (inf: known)."""
    if record is None or spread is None:
        return np.ones(len(sites)), np.full(len(sites), math.inf)
    unknown = sites.index.difference(record.index)
    if len(unknown):
        raise CannotFit(
            f"{len(unknown)} treated sites, such as {str(unknown[0])[:80]}, are not in the period before. Give all "
            "sites that could have been chosen."
        )
    own = record.loc[sites.index]
    return spread.believed(own["failures"].to_numpy(np.float64), own["expected"].to_numpy(np.float64))


def _drawn_expectation(
    fits: Mapping[str, LifeModel],
    renewed_by: LifeModel | None,
    rows: pd.DataFrame,
    sites: pd.DataFrame,
    believed: tuple[FloatArray, FloatArray],
    rng: np.random.Generator,
) -> FloatArray:
    """Failures to expect after, for each draw of the life and of the sites' factors."""
    drawn_lives = {name: fit.draw_parameters(DRAWS, rng) for name, fit in fits.items()}
    later = None if renewed_by is None else renewed_by.draw_parameters(DRAWS, rng)
    place = sites.index.get_indexer(pd.Index(rows["site"]))
    pairs = {name: (first, first if later is None else later) for name, first in drawn_lives.items()}
    by_row = _renewals(rows, pairs, STEPS_DRAWN)
    by_site = np.zeros((len(sites), DRAWS))
    np.add.at(by_site, place, by_row)
    mean, law = believed
    factor = np.broadcast_to(mean[:, None], by_site.shape).copy()
    drawn = np.isfinite(law)
    if drawn.any():
        factor[drawn] *= rng.gamma(law[drawn, None], size=(int(drawn.sum()), DRAWS)) / law[drawn, None]
    return np.asarray((by_site * factor).sum(axis=0), dtype=np.float64)


def _limits(observed: int, expected: FloatArray, confidence: float) -> tuple[float, float]:
    """Limits of the ratio: Garwood's for the count, averaged over the drawn expectations."""
    tail = (1 - confidence) / 2

    def at(parameter: float, chance: float) -> float:
        ends = gamma.ppf(chance, parameter) / np.array([expected.max(), expected.min()])
        if ends[1] - ends[0] <= 1e-12 * ends[1]:
            return float(ends[0])
        return float(brentq(lambda ratio: gamma.cdf(ratio * expected, parameter).mean() - chance, *ends))

    return (at(observed, tail) if observed else 0.0), at(observed + 1, 1 - tail)


def _factors(
    sites: pd.DataFrame, record: pd.DataFrame | None, factor: FloatArray
) -> tuple[float | None, float | None, float | None]:
    """Naive ratio of rates, and the parts of it that ages and the choice of sites explain."""
    if record is None:
        return None, None, None
    own = record.loc[sites.index].sum()
    total = sites.sum()
    if own["failures"] == 0:
        return None, None, None
    rate_before, rate_after = own["failures"] / own["control_days"], total["failures"] / total["control_days"]
    ages = (total["expected"] / total["control_days"]) / (own["expected"] / own["control_days"])
    believed = float(sites["expected"] @ factor) / total["expected"]
    return (
        float(rate_after / rate_before),
        float(ages),
        float(believed / (own["failures"] / own["expected"])),
    )

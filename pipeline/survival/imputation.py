"""Weibull lives where the data leave open which control failed, or whether one failed at all."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from pipeline.survival.form import BoolArray, FloatArray
from pipeline.survival.margins import LifeMargins, count_by_age
from pipeline.survival.member_draws import MemberDraws
from pipeline.survival.places import Places, arrange, check_places
from pipeline.survival.pooled import ImputedWeibull, pool
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.weibull import WeibullFit, fit_weibull

# Rounds before the first imputation, and from one to the next. Successive rounds resemble each other the more, the
# more is drawn: with batches older than their observation, log shape is correlated .9 from round to round
# and .1 after 24; else at most .4, and .03 after 4 (measured on simulated batches).
BURN_IN_ROUNDS, ROUNDS_BETWEEN = 40, 4
BURN_IN_ROUNDS_OLDER, ROUNDS_BETWEEN_OLDER = 80, 24


def fit_weibull_imputed(
    places: pd.DataFrame,
    events: pd.DataFrame,
    lives: pd.DataFrame | LifeMargins | None = None,
    imputations: int = 20,
    seed: int = 0,
    confidence: float = 0.95,
) -> ImputedWeibull:
    """Weibull life of controls in batches, and of controls whose findings may not have been failures.

    ``places``: one row per position (quantity 1) or batch. Ages run on the place's own clock: days since
    its first control, or all controls of the batch, were installed.

    - ``place_id``, ``quantity`` (whole number >= 1, constant while watched)
    - ``entry_days``, ``exit_days``: the clock when watching began and ended; 0 <= entry < exit
    - ``start_known`` (optional): True where the first controls are known still to work at ``entry_days``.
      Missing column: True for a single control and for a batch watched from the start. False (an older
      batch: earlier failures, if any, are unknown) draws the present ages from the renewal process of the
      fitted life, as if every earlier failure had been replaced at once by the same model.

    ``events``: one row per finding that may have been a failure of one control there.

    - ``place_id``, ``age_days`` (on the clock; entry < age <= exit)
    - ``failed_probability`` (optional, default 1): calibrated chance that a control failed
    - ``if_not_failed`` (optional): "goes on" (default: the control works on) or "ends" (it was replaced all
      the same, so its life is censored there and a new one begins)
    - ``renewed_days`` (optional, default the age): the clock when the new control began

    ``lives``: further lives that are known as they are. Findings that are no failures are taken to fall on
    every age alike, so that a finding at an age of high hazard is likelier a failure than its words alone
    say; drawing by the words alone would leave false failures at young ages and bias the shape.

    Method: data augmentation. In turn the members and verdicts are drawn given shape and scale
    (``MemberDraws``), and shape and scale given those lives, from the normal approximation around their
    fit; some rounds apart, one is kept as an imputation. Limits by Rubin's rules, so that they
    hold chance, the unknown members and the unknown verdicts. Repeats for a seed.
    Source: Tanner and Wong, JASA 82 (1987) 528-540; Rubin (1987); Celeux and Diebolt, Computational
    Statistics Quarterly 2 (1985) 73-82 for the stochastic EM that it extends (from memory).

    Raises ImpossibleLives, naming row and reason, and CannotFit where an imputation has no fit.
    """
    check_confidence(confidence)
    if imputations < 2:
        raise ValueError(f"imputations must be at least 2 (20 or more for limits); got {imputations!r}")
    good, found = check_places(places, events)
    quiet = good[good["start_known"] & (np.bincount(found["place"], minlength=len(good)) == 0)]
    fixed = _fixed(quiet, lives)
    arranged = arrange(good, found)
    rng = np.random.default_rng(seed)
    expected = float(found["chance"].sum())
    days = float(((good["exit_days"] - good["entry_days"]) * good["quantity"]).sum())
    _refuse_nothing(expected, fixed)
    draws = MemberDraws(arranged, max(expected, 0.5) / max(days, 1.0), rng) if arranged.labels.size else None
    point = _start(expected, days, fixed)
    kept = _burn_in_and_apart(older=not good["start_known"].all())
    fits, counts = _imputed(draws, point, fixed, rng, kept, imputations, confidence)
    return pool(
        fits, counts, _lives_frame(draws, arranged, quiet), confidence, draws.unplaced if draws else 0
    )


def _burn_in_and_apart(older: bool) -> tuple[int, int]:
    """Rounds before the first that may be kept, and from one that is kept to the next."""
    return (BURN_IN_ROUNDS_OLDER, ROUNDS_BETWEEN_OLDER) if older else (BURN_IN_ROUNDS, ROUNDS_BETWEEN)


def _imputed(
    draws: MemberDraws | None,
    point: FloatArray,
    fixed: LifeMargins,
    rng: np.random.Generator,
    kept: tuple[int, int],
    imputations: int,
    confidence: float,
) -> tuple[list[WeibullFit], list[tuple[float, float]]]:
    """The fits of the rounds that are kept, and how many failures and lives each saw; ``draws`` is moved along."""
    burn_in, between = kept
    fits: list[WeibullFit] = []
    counts: list[tuple[float, float]] = []
    for count in range(burn_in + between * imputations):
        margins = fixed if draws is None else _margins(draws, point, fixed)
        fit = _fit(margins, confidence)
        point = rng.multivariate_normal(
            [math.log(fit.shape), math.log(fit.scale_days)], fit.log_covariance, method="cholesky"
        )
        if count >= burn_in and (count - burn_in) % between == between - 1:
            fits.append(fit)
            counts.append(_seen(draws, fixed))
    return fits, counts


def _margins(draws: MemberDraws, point: FloatArray, fixed: LifeMargins) -> LifeMargins:
    draws.sweep(math.exp(point[0]), float(point[1]))
    entry, exit_, failed = draws.for_fit()
    return _joined(fixed, entry, exit_, failed, np.ones(entry.size))


def _seen(draws: MemberDraws | None, fixed: LifeMargins) -> tuple[float, float]:
    """Failures and lives within the watch of their places; a drawn history before it counts in neither."""
    if draws is None:
        return float(fixed.failures), float(fixed.units)
    failed = draws.lives()[2]
    return float(fixed.failures + failed.sum()), float(fixed.units + failed.size)


def _fit(margins: LifeMargins, confidence: float) -> WeibullFit:
    try:
        return fit_weibull(margins, confidence)
    except CannotFit as reason:
        raise CannotFit(
            f"One way of filling in what is unknown leaves no fit: {reason} There are too few failures to draw from."
        ) from reason


def _start(expected: float, days: float, fixed: LifeMargins) -> FloatArray:
    """Shape 1 and the mean time per failure: where the rounds begin, forgotten by the first imputation."""
    total = days + fixed.days_at_risk
    return np.array([0.0, math.log(total / (expected + fixed.failures))])


def _refuse_nothing(expected: float, fixed: LifeMargins) -> None:
    if expected + fixed.failures < 2:
        raise CannotFit(
            f"Only {expected + fixed.failures:.2g} failures are expected among these findings, so shape and scale "
            "cannot both be estimated. fit_weibull_fixed_shape gives a limit for a shape that you state."
        )


def _fixed(quiet: pd.DataFrame, lives: pd.DataFrame | LifeMargins | None) -> LifeMargins:
    """Margins of what no draw changes: known lives, and places without findings and with a known start."""
    none = np.empty(0)
    if lives is None:
        known = LifeMargins(none, none, none, none, none, none)
    else:
        known = lives if isinstance(lives, LifeMargins) else LifeMargins.from_lives(lives)
    entry, exit_, number = (
        quiet[name].to_numpy(np.float64) for name in ("entry_days", "exit_days", "quantity")
    )
    return _joined(known, entry, exit_, np.zeros(len(quiet), dtype=bool), number)


def _joined(
    margins: LifeMargins, entry: FloatArray, exit_: FloatArray, failed: BoolArray, number: FloatArray
) -> LifeMargins:
    """The margins with more lives of known ages counted in."""
    together = np.concatenate
    return LifeMargins(
        *count_by_age(
            together([margins.failure_days, exit_[failed]]),
            together([margins.failure_counts, number[failed]]),
        ),
        *count_by_age(together([margins.exit_days, exit_]), together([margins.exit_counts, number])),
        *count_by_age(together([margins.entry_days, entry]), together([margins.entry_counts, number])),
        margins.interval_low_days,
        margins.interval_high_days,
        margins.interval_counts,
    )


def _lives_frame(draws: MemberDraws | None, arranged: Places, quiet: pd.DataFrame) -> pd.DataFrame:
    """The last drawn lives, then those of quiet places: place_id, the columns of ``check_lives``, imputed."""
    known = quiet[["place_id", "entry_days", "exit_days", "quantity"]].assign(failed=False, imputed=False)
    if draws is None:
        return known
    entry, exit_, failed, place = draws.lives()
    drawn = pd.DataFrame(
        {
            "place_id": arranged.labels[place],
            "entry_days": entry,
            "exit_days": exit_,
            "failed": failed,
            "quantity": 1,
            "imputed": True,
        }
    )
    return pd.concat([drawn, known], ignore_index=True) if len(known) else drawn

"""The Weibull probability plot."""

from __future__ import annotations

import numpy as np
import pytest
from published_lives import NIST, frame, simulated_lives

from pipeline.survival import CannotFit, fit_weibull, kaplan_meier, probability_plot


def test_points_stand_at_the_middle_of_each_step():
    # NIST/SEMATECH e-Handbook 8.4.1.3: steps of one twentieth, so the points are (i - 1/2) / 20 (Hazen's position).
    plot = probability_plot(NIST, fit_weibull(NIST))
    assert plot.points["failed_share"].tolist() == pytest.approx((np.arange(1, 11) - 0.5) / 20, abs=1e-12)
    curve = kaplan_meier(NIST)
    assert plot.points["upper"].tolist() == pytest.approx((1 - curve["lower"]).tolist(), abs=1e-12)


def test_the_line_is_straight_with_the_shape_as_its_slope():
    fit = fit_weibull(NIST)
    line = probability_plot(NIST, fit).line
    assert np.diff(line["y"]) / np.diff(line["x"]) == pytest.approx(fit.shape, rel=1e-9)
    assert (line["lower"] < line["failed_share"]).all()
    assert (line["failed_share"] < line["upper"]).all()
    low, high = fit.survival_limits(float(line["age_days"].iloc[20]))
    assert line[["lower", "upper"]].iloc[20].tolist() == pytest.approx([1 - high, 1 - low], abs=1e-12)


def test_under_delayed_entry_the_points_join_the_line_where_watching_begins():
    lives = simulated_lives(2.5, 1500, 8000, seed=5)
    late = lives[lives["exit_days"] > 800].assign(entry_days=lives["entry_days"].clip(lower=800))
    fit = fit_weibull(late)
    plot = probability_plot(late, fit, start_days=800)
    apart = plot.points["failed_share"] - (1 - fit.survival(plot.points["age_days"]))
    # Some 3000 failures: the curve stays within 0.03 of the life (four standard errors).
    assert abs(apart).max() < 0.03
    assert plot.points["failed_share"].iloc[0] > 0.15  # what failed before anybody watched
    assert plot.starts_at_days == 800


def test_nothing_failed_is_refused():
    with pytest.raises(CannotFit, match="no points to plot"):
        probability_plot(frame([], [100, 200]), fit_weibull(NIST))

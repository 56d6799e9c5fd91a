"""Lives to curves, fits and forecasts: pure functions of frames and arrays, no input or output."""

from pipeline.survival.campaign import campaign_effect
from pipeline.survival.campaign_words import CampaignEffect
from pipeline.survival.chains import OpenVerdicts, open_verdicts
from pipeline.survival.competing import cumulative_incidence
from pipeline.survival.count_trend import CountTrend, fit_count_trend
from pipeline.survival.curves import (
    Estimate,
    dense_from,
    kaplan_meier,
    median_life,
    restricted_mean_life,
    survival_at,
)
from pipeline.survival.diagnostics import RegressionDiagnostics, check_life_regression
from pipeline.survival.distributions import compare_distributions
from pipeline.survival.fixed_shape import FixedShapeFit, fit_weibull_fixed_shape
from pipeline.survival.forecasting import Forecast, forecast
from pipeline.survival.form import check_lives
from pipeline.survival.group_tests import LogRank, log_rank
from pipeline.survival.imputation import fit_weibull_imputed
from pipeline.survival.margins import LifeMargins
from pipeline.survival.pooled import ImputedWeibull
from pipeline.survival.pooled_regression import PooledRegression, fit_life_regression_imputed
from pipeline.survival.probability_plot import ProbabilityPlot, probability_plot
from pipeline.survival.recurrence import mean_cumulative_function
from pipeline.survival.refusals import CannotFit, ImpossibleLives, SmallRiskSetWarning
from pipeline.survival.regression import LifeRegression, fit_life_regression
from pipeline.survival.stress import DoublingEffect, life_ratio_per_doubling
from pipeline.survival.trend import Trend, trend_test
from pipeline.survival.turnbull_estimate import turnbull
from pipeline.survival.weibull import WeibullFit, fit_weibull
from pipeline.survival.weibull_life import StatedLife, WeibullLife

__all__ = [
    "CampaignEffect",
    "CannotFit",
    "CountTrend",
    "DoublingEffect",
    "Estimate",
    "FixedShapeFit",
    "Forecast",
    "ImpossibleLives",
    "ImputedWeibull",
    "LifeMargins",
    "LifeRegression",
    "LogRank",
    "OpenVerdicts",
    "PooledRegression",
    "ProbabilityPlot",
    "RegressionDiagnostics",
    "SmallRiskSetWarning",
    "StatedLife",
    "Trend",
    "WeibullFit",
    "WeibullLife",
    "campaign_effect",
    "check_life_regression",
    "check_lives",
    "compare_distributions",
    "cumulative_incidence",
    "dense_from",
    "fit_count_trend",
    "fit_life_regression",
    "fit_life_regression_imputed",
    "fit_weibull",
    "fit_weibull_fixed_shape",
    "fit_weibull_imputed",
    "forecast",
    "kaplan_meier",
    "life_ratio_per_doubling",
    "log_rank",
    "mean_cumulative_function",
    "median_life",
    "open_verdicts",
    "probability_plot",
    "restricted_mean_life",
    "survival_at",
    "trend_test",
    "turnbull",
]

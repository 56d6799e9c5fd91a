"""Lives to curves, fits and forecasts: pure functions of frames and arrays, no input or output."""

from pipeline.survival.curves import (
    Estimate,
    kaplan_meier,
    median_life,
    restricted_mean_life,
    survival_at,
)
from pipeline.survival.fixed_shape import FixedShapeFit, fit_weibull_fixed_shape
from pipeline.survival.forecasting import Forecast, forecast
from pipeline.survival.form import check_lives
from pipeline.survival.margins import LifeMargins
from pipeline.survival.refusals import CannotFit, ImpossibleLives, SmallRiskSetWarning
from pipeline.survival.weibull import WeibullFit, fit_weibull
from pipeline.survival.weibull_life import StatedLife, WeibullLife

__all__ = [
    "CannotFit",
    "Estimate",
    "FixedShapeFit",
    "Forecast",
    "ImpossibleLives",
    "LifeMargins",
    "SmallRiskSetWarning",
    "StatedLife",
    "WeibullFit",
    "WeibullLife",
    "check_lives",
    "fit_weibull",
    "fit_weibull_fixed_shape",
    "forecast",
    "kaplan_meier",
    "median_life",
    "restricted_mean_life",
    "survival_at",
]

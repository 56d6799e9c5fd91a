"""What energy costs by the local clock: how a tariff is written, what is wrong with it, and the price in force when."""

from pipeline.tariffs.faults import tariff_faults
from pipeline.tariffs.form import Tariff
from pipeline.tariffs.wall import NO_PRICE, PricedPeriod, WallPrices, WallSteps, wall_demand, wall_prices

__all__ = [
    "NO_PRICE",
    "PricedPeriod",
    "Tariff",
    "WallPrices",
    "WallSteps",
    "tariff_faults",
    "wall_demand",
    "wall_prices",
]

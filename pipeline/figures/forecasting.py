"""Control failures to expect in the twelve months after the log's end."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival import fit_weibull, fit_weibull_fixed_shape, forecast
from pipeline.survival.forecasting import Forecast, LifeModel

YEAR_DAYS = 365.25
# The nearest group that has a fit speaks for a control: its model on its lamps, its kind, all controls.
_GROUPINGS = ("model and lamp", "kind", "all")


@dataclass(frozen=True)
class NextYear:
    """Failures expected in twelve months, with a prediction interval for the number itself.

    Controls of unknown age, and those of batches whose members' ages are mixed, are reckoned by rate.
    ``unforeseen``: controls in service of which neither fit nor rate says anything.
    """

    expected: float
    lower: int
    upper: int
    controls_by_age: int
    controls_by_rate: int
    expected_by_rate: float
    unforeseen: int


def next_year(store: Store, filters: Filters = EVERYTHING) -> NextYear | None:
    """The forecast for the controls in service at the log's end; None where there are none.

    Fits and rates come from the whole portfolio; sites and kinds choose the controls at risk, and a period does
    not apply. Each group is forecast on its own; the groups' half-widths are joined by the root of the sum of
    squares, as for independent errors.
    """
    service = query.frame(store, "in_service", filters.without_period(), by_group=_GROUPINGS[0])
    if service.empty:
        return None
    known = service["age_days"].notna()
    models = _Models(store)
    aged, foreseen = _by_age(service[known], models)
    rated, rated_controls = _by_rate(service[~known], models)
    spared = service["quantity"].sum() - foreseen - rated_controls
    expected = sum(part.expected for part in (*aged, *rated))
    below = math.hypot(*(part.expected - part.lower for part in (*aged, *rated)))
    above = math.hypot(*(part.upper - part.expected for part in (*aged, *rated)))
    return NextYear(
        expected=expected,
        lower=max(0, math.floor(expected - below)),
        upper=math.ceil(expected + above),
        controls_by_age=foreseen,
        controls_by_rate=rated_controls,
        expected_by_rate=sum(part.expected for part in rated),
        unforeseen=int(spared),
    )


class _Models:
    """The life models and rates of the build's groups, made when first asked for."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.confidence = facts(store).confidence
        self._fits = {
            (grouping, name): (method, shape)
            for grouping, name, method, shape in store.rows(
                "SELECT grouping, group_name, method, shape FROM life_fits"
                " WHERE method = 'weibull' OR (method = 'fixed shape' AND failures > 0)"
            )
        }
        self._rates = {
            (grouping, name): (int(failures), float(years) * YEAR_DAYS)
            for grouping, name, failures, years in store.rows(
                "SELECT grouping, group_name, failures, control_years FROM failure_rates WHERE control_years > 0"
            )
        }
        self._made: dict[tuple[str, str], LifeModel] = {}

    def nearest_fit(self, names: Iterable[str]) -> tuple[str, str] | None:
        """Key of the first grouping in _GROUPINGS that has a fit for these group names."""
        keys = zip(_GROUPINGS, names, strict=True)
        return next((key for key in keys if key in self._fits), None)

    def nearest_rate(self, names: Iterable[str]) -> tuple[str, str] | None:
        """The same for rates."""
        keys = zip(_GROUPINGS, names, strict=True)
        return next((key for key in keys if self._rates.get(key, (0, 0.0))[0] > 0), None)

    def life(self, key: tuple[str, str]) -> LifeModel:
        """The fitted life of a group, with the likelihood that the forecast draws from."""
        if key not in self._made:
            grouping, name = key
            lives = query.frame(self._store, "group_lives", EVERYTHING, by_group=grouping, group=name)
            method, shape = self._fits[key]
            if method == "weibull":
                self._made[key] = fit_weibull(lives, self.confidence)
            else:
                self._made[key] = fit_weibull_fixed_shape(lives, shape, self.confidence)
        return self._made[key]

    def constant_rate(self, key: tuple[str, str]) -> LifeModel:
        """A group's rate as a life whose hazard does not change with age (Weibull shape 1)."""
        failures, days = self._rates[key]
        share = days / (failures + 1)
        lives = pd.DataFrame(
            {"entry_days": 0.0, "exit_days": share, "failed": [True, False], "quantity": [failures, 1]}
        )
        return fit_weibull_fixed_shape(lives, 1.0, self.confidence)


def _by_age(service: pd.DataFrame, models: _Models) -> tuple[list[Forecast], int]:
    """Forecasts per life model, and the controls that they cover."""
    parts, covered = [], 0
    keys = [models.nearest_fit(names) for names in _names(service)]
    for key in dict.fromkeys(key for key in keys if key):
        at_risk = service.loc[[k == key for k in keys], ["age_days", "quantity"]]
        parts.append(forecast(models.life(key), at_risk, YEAR_DAYS, models.confidence))
        covered += int(at_risk["quantity"].sum())
    return parts, covered


def _by_rate(service: pd.DataFrame, models: _Models) -> tuple[list[Forecast], int]:
    """The same by rate; a constant hazard has no age, so age 0 stands for all."""
    parts, covered = [], 0
    keys = [models.nearest_rate(names) for names in _names(service)]
    for key in dict.fromkeys(key for key in keys if key):
        controls = int(service.loc[[k == key for k in keys], "quantity"].sum())
        at_risk = pd.DataFrame({"age_days": [0.0], "quantity": [controls]})
        parts.append(forecast(models.constant_rate(key), at_risk, YEAR_DAYS, models.confidence))
        covered += controls
    return parts, covered


def _names(service: pd.DataFrame) -> list[tuple[str, str, str]]:
    """Names of the groups that speak for each row, in the order of _GROUPINGS."""
    return [
        (str(lamp), str(kind), "all")
        for lamp, kind in zip(service["model_and_lamp"], service["kind"], strict=True)
    ]

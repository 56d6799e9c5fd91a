"""Control failures to expect in the twelve months after the log's end."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.lives.speaking import Group, SpeakingFits, Spoken, failures_text, groups_of, speaker, words
from pipeline.store import Store
from pipeline.survival import fit_weibull, fit_weibull_fixed_shape, forecast
from pipeline.survival.forecasting import Forecast, LifeModel

YEAR_DAYS = 365.25
Control = tuple[str | None, str | None, str | None]  # kind, model, lamp


@dataclass(frozen=True)
class NextYear:
    """Failures expected in twelve months, with a prediction interval for the number itself.

    Controls of unknown age, and those of batches whose members' ages are mixed, are reckoned by rate.
    ``unforeseen``: controls in service of which neither fit nor rate says anything. ``less_particular``: for the
    controls reckoned by anything else than the full fit, or the rate, of their own model and lamps, what it is in
    words and how many controls it speaks for, the most first.
    """

    expected: float
    lower: int
    upper: int
    controls_by_age: int
    controls_by_rate: int
    expected_by_rate: float
    unforeseen: int
    less_particular: tuple[tuple[str, int], ...] = ()


def next_year(store: Store, filters: Filters = EVERYTHING) -> NextYear | None:
    """The forecast for the controls in service at the log's end; None where there are none.

    Fits and rates come from the whole portfolio; sites and kinds choose the controls at risk, and a period does
    not apply. Each group is forecast on its own; the groups' half-widths are joined by the root of the sum of
    squares, as for independent errors.
    """
    service = query.frame(store, "in_service", filters.without_period())
    if service.empty:
        return None
    known = service["age_days"].notna()
    models = _Models(store)
    aged = _by_age(service[known], models)
    rated = _by_rate(service[~known], models)
    parts = [*aged, *rated]
    expected = sum(part.forecast.expected for part in parts)
    below = math.hypot(*(part.forecast.expected - part.forecast.lower for part in parts))
    above = math.hypot(*(part.forecast.upper - part.forecast.expected for part in parts))
    return NextYear(
        expected=expected,
        lower=max(0, math.floor(expected - below)),
        upper=math.ceil(expected + above),
        controls_by_age=sum(part.controls for part in aged),
        controls_by_rate=sum(part.controls for part in rated),
        expected_by_rate=sum(part.forecast.expected for part in rated),
        unforeseen=int(service["quantity"].sum()) - sum(part.controls for part in parts),
        less_particular=_less_particular(parts),
    )


@dataclass(frozen=True)
class _Part:
    """The forecast of controls that one group speaks for; ``own``: of their own model on its lamps, fully known."""

    forecast: Forecast
    controls: int
    source: str
    own: bool


def _less_particular(parts: Iterable[_Part]) -> tuple[tuple[str, int], ...]:
    found = [(part.source, part.controls) for part in parts if not part.own]
    return tuple(sorted(found, key=lambda each: (-each[1], each[0])))


class _Models:
    """The life models and rates that speak for controls, made when first asked for."""

    def __init__(self, store: Store) -> None:
        self._store = store
        known = facts(store)
        self.confidence, self._few = known.confidence, known.assumptions.few_failures
        self._fits = SpeakingFits(store.frame("SELECT * FROM life_fits"))
        self._rates = {
            (grouping, name): (int(failures), float(years) * YEAR_DAYS)
            for grouping, name, failures, years in store.rows(
                "SELECT grouping, group_name, failures, control_years FROM failure_rates WHERE control_years > 0"
            )
        }
        self._made: dict[Group, LifeModel] = {}

    def spoken(self, control: Control) -> Spoken | None:
        """The fitted life that speaks for a control."""
        return self._fits.of(*control)

    def speaking_rate(self, control: Control) -> Group | None:
        """The group whose rate speaks for a control, by the same preference: first one with enough failures."""
        return speaker(
            groups_of(*control),
            lambda group: self.failures(group) >= self._few,
            lambda group: self.failures(group) > 0,
        )

    def failures(self, group: Group) -> int:
        """Failures in a group's rate; 0 where it has none."""
        return self._rates.get(group, (0, 0.0))[0]

    def rate_is_own(self, group: Group) -> bool:
        """Whether a rate is that of a model on its lamps, with enough failures."""
        return group[0] == "model and lamp" and self.failures(group) >= self._few

    def life(self, spoken: Spoken) -> LifeModel:
        """The fitted life of a group, with the likelihood that the forecast draws from."""
        if spoken.group not in self._made:
            grouping, name = spoken.group
            lives = query.frame(self._store, "group_lives", EVERYTHING, by_group=grouping, group=name)
            if spoken.method == "weibull":
                self._made[spoken.group] = fit_weibull(lives, self.confidence)
            else:
                self._made[spoken.group] = fit_weibull_fixed_shape(lives, spoken.shape, self.confidence)
        return self._made[spoken.group]

    def constant_rate(self, group: Group) -> LifeModel:
        """A group's rate as a life whose hazard does not change with age (Weibull shape 1)."""
        failures, days = self._rates[group]
        share = days / (failures + 1)
        lives = pd.DataFrame(
            {"entry_days": 0.0, "exit_days": share, "failed": [True, False], "quantity": [failures, 1]}
        )
        return fit_weibull_fixed_shape(lives, 1.0, self.confidence)


def _by_age(service: pd.DataFrame, models: _Models) -> list[_Part]:
    """Forecasts of controls of known age, per life that speaks for them."""
    parts = []
    speaking = [models.spoken(control) for control in _controls(service)]
    for spoken in dict.fromkeys(spoken for spoken in speaking if spoken):
        at_risk = service.loc[[each == spoken for each in speaking], ["age_days", "quantity"]]
        expected = forecast(models.life(spoken), at_risk, YEAR_DAYS, models.confidence)
        own = spoken.group[0] == "model and lamp" and spoken.two_sided
        parts.append(_Part(expected, int(at_risk["quantity"].sum()), f"life {spoken.source}", own))
    return parts


def _by_rate(service: pd.DataFrame, models: _Models) -> list[_Part]:
    """The same by rate; a constant hazard has no age, so age 0 stands for all."""
    parts = []
    speaking = [models.speaking_rate(control) for control in _controls(service)]
    for group in dict.fromkeys(group for group in speaking if group):
        controls = int(service.loc[[each == group for each in speaking], "quantity"].sum())
        at_risk = pd.DataFrame({"age_days": [0.0], "quantity": [controls]})
        expected = forecast(models.constant_rate(group), at_risk, YEAR_DAYS, models.confidence)
        source = f"rate of {words(group)} ({failures_text(models.failures(group))})"
        parts.append(_Part(expected, controls, source, models.rate_is_own(group)))
    return parts


def _controls(service: pd.DataFrame) -> list[Control]:
    """Kind, model and lamp of each row; None where unknown."""
    known = service[["kind", "model", "lamp"]].astype(object)
    return list(known.where(known.notna(), None).itertuples(index=False, name=None))

"""The fitted lives and the rates that speak for controls, with the likelihoods that forecasts draw from."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.groups import Group, fixed_shape_fit, life_model
from pipeline.lives.speaking import SpeakingFits, Spoken, groups_of, speaker
from pipeline.store import Store
from pipeline.survival import fit_weibull_fixed_shape
from pipeline.survival.forecasting import LifeModel

YEAR_DAYS = 365.25
Control = tuple[str | None, str | None, str | None]  # kind, model, lamp


class LifeModels:
    """Of the whole portfolio, made when first asked for."""

    def __init__(self, store: Store) -> None:
        self._store = store
        known = facts(store)
        self._assumptions = known.assumptions
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
            rows = query.frame(self._store, "group_lives", EVERYTHING, by_group=grouping, group=name)
            lives = GroupLives(rows)
            self._made[spoken.group] = life_model(lives, self._assumptions, spoken.method, spoken.shape)
        return self._made[spoken.group]

    def unfailed(self) -> LifeModel | None:
        """The life of all controls together where none has failed: a lower limit for a stated shape, no estimate."""
        rows = query.frame(self._store, "group_lives", EVERYTHING, by_group="all", group="all")
        lives = GroupLives(rows)
        if rows.empty or lives.open or lives.failures or self.failures(("all", "all")):
            return None
        return fixed_shape_fit(lives, self._assumptions.shape_when_few, self.confidence)

    def constant_rate(self, group: Group) -> LifeModel:
        """A group's rate as a life whose hazard does not change with age (Weibull shape 1)."""
        failures, days = self._rates[group]
        share = days / (failures + 1)
        lives = pd.DataFrame(
            {"entry_days": 0.0, "exit_days": share, "failed": [True, False], "quantity": [failures, 1]}
        )
        return fit_weibull_fixed_shape(lives, 1.0, self.confidence)


def controls_of(frame: pd.DataFrame) -> list[Control]:
    """Kind, model and lamp of each row; None where unknown."""
    known = frame[["kind", "model", "lamp"]].astype(object)
    return list(known.where(known.notna(), None).itertuples(index=False, name=None))

"""What is known of the odds of each rule of the verdict: a beta distribution, of its prior and the decided cases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from pipeline.store import Store
from pipeline.survival.form import FloatArray

Cases = tuple[float, float]
"""Cases of failure and of none that a rule's odds rest on, those that its prior is worth included."""


def cases_of_rules(store: Store) -> dict[str, Cases]:
    """The parameters of every rule's beta distribution, by the rule's name."""
    rows = store.rows("SELECT rule, cases_failed, cases_not_failed FROM verdict_rules ORDER BY place")
    return {rule: (failed, not_failed) for rule, failed, not_failed in rows}


class Odds:
    """Draws of the chance that each finding was a failure; findings of one rule share its odds in every draw.

    ``probability`` and ``rule``: of each finding; ``cases``: of every rule that may be named. Certain findings, and
    those of no rule, keep their probability. So a rule that nobody has checked widens what is drawn by it, as one
    that many decided cases speak for does not.
    """

    def __init__(
        self, probability: FloatArray, rule: Sequence[str | None], cases: Mapping[str, Cases]
    ) -> None:
        self.mean = probability
        spoken = [
            number for number, name in enumerate(rule)
            if name is not None and 0 < probability[number] < 1 and min(cases.get(name, (0.0, 0.0))) > 0
        ]  # fmt: skip
        names = sorted({str(rule[number]) for number in spoken})
        place = {name: at for at, name in enumerate(names)}
        self._findings = np.array(spoken, dtype=np.int64)
        self._rule_of = np.array([place[str(rule[number])] for number in spoken], dtype=np.int64)
        self._failed = np.array([cases[name][0] for name in names])
        self._not_failed = np.array([cases[name][1] for name in names])

    def draw(self, rng: np.random.Generator) -> FloatArray:
        """A chance for each finding."""
        chance = self.mean.copy()
        if self._findings.size:
            odds = rng.beta(self._failed, self._not_failed)
            # Never quite 0 or 1: a draw of doubtful odds leaves a doubt.
            chance[self._findings] = np.clip(odds, 1e-9, 1 - 1e-9)[self._rule_of]
        return chance

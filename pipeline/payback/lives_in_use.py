"""Which life each option reckons with: the fit nearest to the controls, and where a rated control's comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from pipeline.store import Store


@dataclass(frozen=True)
class LifeInUse:
    """A Weibull life with the limits of its scale, and where it comes from in words."""

    shape: float
    scale_days: float
    scale_days_lower: float
    scale_days_upper: float
    source: str
    two_sided: bool = True

    def times(self, ratio: float, source: str) -> LifeInUse:
        """The same life stretched by a ratio: an assumption, named as one."""
        return LifeInUse(
            self.shape,
            self.scale_days * ratio,
            self.scale_days_lower * ratio,
            self.scale_days_upper * ratio,
            source,
            self.two_sided,
        )


class LivesInUse:
    """The build's fits, looked up from the most particular group to the most general."""

    def __init__(self, store: Store) -> None:
        fits = store.frame("SELECT * FROM life_fits WHERE scale_days IS NOT NULL")
        self._fits = {(row["grouping"], row["group_name"]): row for row in fits.to_dict("records")}
        self._rated = store.frame("""
            SELECT DISTINCT kind, lamp, model, model || ' / ' || lamp AS group_name
            FROM lives WHERE switching = 'zero-cross' AND model IS NOT NULL AND kind IS NOT NULL
        """)

    def present(self, kind: str, model: str, lamp: str | None) -> LifeInUse | None:
        """The life of controls in place: fitted to model and lamp, else model, else kind."""
        for key in (("model and lamp", f"{model} / {lamp}"), ("model", model), ("kind", kind)):
            if key in self._fits:
                return _life(self._fits[key], f"fitted to {key[1]}")
        return None

    def rated(self, kind: str, lamp: str | None, present: LifeInUse, assumed_ratio: float) -> LifeInUse:
        """The life of a control rated for inrush: the portfolio's own zero-cross controls on that load, if any failed
        often enough for a fit; otherwise the present life times an assumed ratio, said so."""
        same = self._rated[(self._rated["kind"] == kind) & (self._rated["lamp"] == lamp)]
        own: list[Mapping[Any, Any]] = [
            self._fits["model and lamp", name]
            for name in same["group_name"]
            if self._fits.get(("model and lamp", name), {}).get("method") == "weibull"
        ]
        if own:
            best = max(own, key=lambda fit: fit["failures"])
            return _life(best, f"fitted to {best['group_name']} in this portfolio")
        return present.times(assumed_ratio, f"assumed {assumed_ratio:g} times the present life")


def _life(fit: Mapping[Any, Any], source: str) -> LifeInUse:
    scale = float(fit["scale_days"])
    upper = fit["scale_days_upper"]
    return LifeInUse(
        float(fit["shape"]),
        scale,
        float(fit["scale_days_lower"]),
        scale if pd.isna(upper) else float(upper),
        f"{source} ({fit['failures']} failures)",
        two_sided=not pd.isna(upper),
    )

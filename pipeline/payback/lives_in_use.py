"""Which life each option reckons with: the one that speaks for the controls, and where a rated control's comes from."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.lives.speaking import SpeakingFits, Spoken, groups_of
from pipeline.store import Store


@dataclass(frozen=True)
class LifeInUse:
    """A Weibull life with the limits of its scale, and where it comes from in words.

    ``two_sided`` False: the data do not bound it from above, and ``scale_days_upper`` is the scale itself.
    ``assumed``: a multiple of another life, not seen in data.
    """

    shape: float
    scale_days: float
    scale_days_lower: float
    scale_days_upper: float
    source: str
    two_sided: bool = True
    assumed: bool = False

    def times(self, ratio: float, source: str) -> LifeInUse:
        """The same life stretched by a ratio: an assumption, named as one."""
        return LifeInUse(
            self.shape,
            self.scale_days * ratio,
            self.scale_days_lower * ratio,
            self.scale_days_upper * ratio,
            source,
            self.two_sided,
            assumed=True,
        )


class LivesInUse:
    """The build's lives, as they speak for a control."""

    def __init__(self, store: Store) -> None:
        self._fits = SpeakingFits(store.frame("SELECT * FROM life_fits"))
        self._rated = store.frame("""
            SELECT DISTINCT kind, lamp, model FROM lives
            WHERE switching = 'zero-cross' AND model IS NOT NULL AND kind IS NOT NULL
            ORDER BY ALL
        """)

    def present(self, kind: str, model: str | None, lamp: str | None) -> LifeInUse | None:
        """The life that speaks for controls in place; None where none does."""
        spoken = self._fits.of(kind, model, lamp)
        return None if spoken is None else _life(spoken)

    def rated(self, kind: str, lamp: str | None, present: LifeInUse, assumed_ratio: float) -> LifeInUse:
        """The life of a control rated for inrush: that of the portfolio's own zero-cross controls on that load where
        it has a full fit (of several, the one with most failures); otherwise the present life times an assumed ratio,
        said so. A few failures would bound that life from below only, and no rated control of another load or kind
        speaks for it."""
        same = self._rated[(self._rated["kind"] == kind) & (self._rated["lamp"] == lamp)]
        full = [self._fits.full(groups_of(kind, model, lamp)[0]) for model in same["model"]]
        own = [spoken for spoken in full if spoken]
        if own:
            best = max(own, key=lambda spoken: spoken.failures)
            return replace(_life(best), source=f"{best.source} in this portfolio")
        return present.times(assumed_ratio, f"assumed {assumed_ratio:g} times the present life")


def _life(spoken: Spoken) -> LifeInUse:
    upper = spoken.scale_days_upper
    return LifeInUse(
        spoken.shape,
        spoken.scale_days,
        spoken.scale_days_lower,
        spoken.scale_days if upper is None else upper,
        spoken.source,
        spoken.two_sided,
    )

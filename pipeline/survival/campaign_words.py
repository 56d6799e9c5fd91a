"""What a campaign did, as figures and in words."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.survival.site_spread import SiteSpread


@dataclass(frozen=True)
class CampaignEffect:
    """Failures seen after a campaign over those to expect had it changed nothing but ages.

    ``ratio`` 1: the campaign did nothing beyond making controls younger. Limits hold the chance in the count,
    the uncertainty of the fitted life and, with a selection period, of how bad each site truly is.
    ``naive_ratio`` = failures per control-day after over before, at the chosen sites (None without a before).
    It is the product ``ratio * ages_factor * regression_factor``: what younger controls alone
    would have done, and what choosing bad sites alone would have done (regression to the mean).
    """

    observed: int
    expected: float
    ratio: float
    lower: float
    upper: float
    confidence: float
    naive_ratio: float | None
    ages_factor: float | None
    regression_factor: float | None
    site_spread: SiteSpread | None = field(repr=False)

    @property
    def sentence(self) -> str:
        """The result in words; it claims an effect only where the limits exclude 1."""
        seen = (
            f"{self.observed} failures against {self.expected:.1f} expected for like-for-like replacement on the same "
            f"dates: {self.ratio:.2f} ({self.confidence:.0%} limits {self.lower:.2f} to {self.upper:.2f})."
        )
        if self.upper < 1:
            verdict = "The campaign lowered failures."
        elif self.lower > 1:
            verdict = "Failures are above the forecast."
        else:
            verdict = "The data do not show an effect of the campaign itself."
        return f"{verdict} {seen}{self._compared()}"

    def _compared(self) -> str:
        if self.naive_ratio is None or self.ages_factor is None:
            return (
                " No period before is given, so a choice of sites by their record is not taken into account."
            )
        text = (
            f" Before and after alone would say {self.naive_ratio:.2f}; of that, the change in the controls' ages "
            f"gives {self.ages_factor:.2f}"
        )
        if self.regression_factor is None:
            return text + ". The period that led to the choice is left out."
        return (
            f"{text} and the choice of sites by their bad record gives {self.regression_factor:.2f} "
            "(regression to the mean)."
        )

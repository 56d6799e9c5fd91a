"""Settings that hold on some days of the year or of the week only: detection delays, and when lamps should be lit."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from pipeline.day_sets import check_days
from pipeline.lit_periods import check_period
from pipeline.page_model import Page
from pipeline.setting_terms import Kind

DaysText = Annotated[str, AfterValidator(check_days)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]


class DetectionDelay(Page):
    """The mean detection delay on some days of the year or the week."""

    days: tuple[DaysText, ...] = ()
    weekdays: tuple[Weekday, ...] = ()
    delay_days: Annotated[float, Field(gt=0, le=36_525)]

    @model_validator(mode="after")
    def _says_when(self) -> DetectionDelay:
        if not self.days and not self.weekdays:
            raise ValueError("says on no days that it holds: give days, weekdays or both")
        return self


PeriodText = Annotated[str, AfterValidator(check_period)]


class Schedule(Page):
    """When lamps should be lit at some sites or behind some kinds of control, where not from dusk to dawn."""

    sites: tuple[str, ...] = ()
    kinds: tuple[Kind, ...] = ()
    days: tuple[DaysText, ...] = ()
    weekdays: tuple[Weekday, ...] = ()
    lit: tuple[PeriodText, ...] | None = None
    occupied: tuple[PeriodText, ...] | None = None

    def holds_for(self, site_id: str | None, kind: str | None) -> bool:
        """Whether it is meant for lamps at a site behind a kind of control."""
        return (not self.sites or site_id in self.sites) and (not self.kinds or kind in self.kinds)

    @model_validator(mode="after")
    def _says_when_lit(self) -> Schedule:
        if self.lit is None and self.occupied is None:
            raise ValueError("does not say when lamps should be lit: give lit, occupied or both")
        return self

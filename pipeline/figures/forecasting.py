"""Control failures to expect in the twelve months after the log's end: in all, by site and by model, and spares."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from zlib import crc32

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.life_models import YEAR_DAYS, LifeModels, controls_of
from pipeline.figures.outlook_tables import Part, summed, table
from pipeline.keys import joined
from pipeline.lives.speaking import failures_text, words
from pipeline.store import Store
from pipeline.survival import forecast
from pipeline.survival.forecasting import LifeModel
from pipeline.survival.joint_forecast import draw_part_counts, interval

MODEL_UNKNOWN = "model unknown"
_PLACE = ["site_id", "kind", "model"]


@dataclass(frozen=True)
class NextYear:
    """Failures expected in twelve months, with a prediction interval for the number itself.

    Controls of unknown age, those of batches whose members' ages are mixed, and those for which no fitted life speaks
    are reckoned by rate.
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


@dataclass(frozen=True)
class Outlook:
    """The next twelve months in ``total`` (None: no control in service), and the same by part.

    ``sites`` has site_id and site, ``models`` has kind and model; both have controls, by_age, by_rate and unforeseen
    (controls), expected, lower and upper (failures), the most failures first. The expected numbers of the sites, as of
    the models, add up to the total; their limits do not, for sites do not all have their worst year at once.
    ``models`` also has stock: spares that suffice for the year with the probability ``service_level``.
    """

    total: NextYear | None
    sites: pd.DataFrame
    models: pd.DataFrame
    service_level: float


def next_year(store: Store, filters: Filters = EVERYTHING) -> NextYear | None:
    """The forecast for the controls in service at the log's end; None where there are none."""
    return outlook(store, filters).total


def outlook(store: Store, filters: Filters = EVERYTHING) -> Outlook:
    """The forecast in all, by site and by model.

    Fits and rates come from the whole portfolio; sites and kinds choose the controls at risk, and a period does
    not apply. A control that has failed and is not yet replaced is not at risk; one that fails is replaced at once by
    its like, which may fail again. All controls for which one life speaks share its drawn parameters, at every site;
    different groups' lives are drawn independently. A site's forecast is the same whichever filters show it.
    """
    info = facts(store)
    service = query.frame(store, "in_service", filters.without_period())
    service["model"] = service["model"].astype(object).where(service["model"].notna(), MODEL_UNKNOWN)
    models = LifeModels(store)
    aged = service["age_days"].notna() & pd.Series(
        [models.spoken(control) is not None for control in _controls(service)],
        index=service.index,
        dtype=bool,
    )
    parts = [*_by_age(service[aged], models), *_by_rate(service[~aged], models)]
    level = info.assumptions.spares_service_level
    return Outlook(
        total=_total(parts, service, info.confidence) if len(service) else None,
        sites=table(parts, service, ["site_id", "site"], info.confidence),
        models=table(parts, service, ["kind", "model"], info.confidence, level),
        service_level=level,
    )


def most_without_failures(store: Store, filters: Filters = EVERYTHING) -> int | None:
    """Upper limit of next year's failures of the controls of known age where nothing has failed at all.

    None where something has, or may have, failed. With no failure there is no estimate, but a year's count above the
    prediction limit is excluded by the time that all controls have worked.
    """
    models = LifeModels(store)
    life = models.unfailed()
    service = query.frame(store, "in_service", filters.without_period())
    known = service[service["age_days"].notna()]
    if life is None or known.empty:
        return None
    return int(forecast(life, known[["age_days", "quantity"]], YEAR_DAYS, models.confidence).upper)


def _by_age(service: pd.DataFrame, models: LifeModels) -> list[Part]:
    """Forecasts of controls of known age, per life that speaks for them."""
    parts = []
    speaking = [models.spoken(control) for control in _controls(service)]
    for spoken in dict.fromkeys(spoken for spoken in speaking if spoken):
        rows = service[[each == spoken for each in speaking]]
        own = spoken.group[0] == "model and lamp" and spoken.two_sided
        name = joined("life", *spoken.group)
        parts.append(_part(rows, models.life(spoken), name, f"life {spoken.source}", own, by_age=True))
    return parts


def _by_rate(service: pd.DataFrame, models: LifeModels) -> list[Part]:
    """The same by rate; a constant hazard has no age, so age 0 stands for all."""
    parts = []
    speaking = [models.speaking_rate(control) for control in _controls(service)]
    for group in dict.fromkeys(group for group in speaking if group):
        rows = service[[each == group for each in speaking]].assign(age_days=0.0)
        source = f"rate of {words(group)} ({failures_text(models.failures(group))})"
        name = joined("rate", *group)
        own = models.rate_is_own(group)
        parts.append(_part(rows, models.constant_rate(group), name, source, own, by_age=False))
    return parts


def _part(rows: pd.DataFrame, life: LifeModel, name: str, source: str, own: bool, by_age: bool) -> Part:
    """Counts for each site, kind and model of the rows, drawn with one set of parameters."""
    keys = [joined(*(str(value) for value in place)) for place in rows[_PLACE].itertuples(index=False)]
    fleet = rows.assign(part=keys)
    drawn = draw_part_counts(life, fleet[["part", "age_days", "quantity"]], YEAR_DAYS, crc32(name.encode()))
    number = {part: at for at, part in enumerate(drawn.parts)}
    placed = rows.assign(place=[number[key] for key in keys])
    return Part(placed, drawn.expected, drawn.counts, source, own, by_age)


def _controls(service: pd.DataFrame) -> list[tuple[str | None, str | None, str | None]]:
    return controls_of(service.assign(model=service["model"].replace(MODEL_UNKNOWN, None)))


def _total(parts: list[Part], service: pd.DataFrame, confidence: float) -> NextYear:
    expected, counts = summed((part.expected, part.counts) for part in parts)
    found = interval(expected, counts, confidence)
    by_rate = [part for part in parts if not part.by_age]
    return NextYear(
        expected=found.expected,
        lower=found.lower,
        upper=found.upper,
        controls_by_age=sum(part.controls for part in parts if part.by_age),
        controls_by_rate=sum(part.controls for part in by_rate),
        expected_by_rate=float(sum(part.expected.sum() for part in by_rate)),
        unforeseen=int(service["quantity"].sum()) - sum(part.controls for part in parts),
        less_particular=_less_particular(parts),
    )


def _less_particular(parts: Iterable[Part]) -> tuple[tuple[str, int], ...]:
    found = [(part.source, part.controls) for part in parts if not part.own]
    return tuple(sorted(found, key=lambda each: (-each[1], each[0])))

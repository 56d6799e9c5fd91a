"""The sections about what comes next: inrush, the next twelve months, rates and growth, campaigns."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import figures
from pipeline.figures import Facts, Figure, Outlook
from pipeline.figures.wording import chance_text, percent_text
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store

_PER_100 = "per_100_control_years"
_YEARLY = "percent_a_year"


def sections(store: Store, info: Facts, forecast: Figure, ahead: Outlook) -> dict[str, Section]:
    """These sections by their key. ``forecast``: the headline figure of ``ahead``."""
    made = (inrush(store), next_year(info, forecast, ahead), rates(store), campaigns(store))
    return {section.key: section for section in made}


def inrush(store: Store) -> Section:
    """The screening list; the workbook holds every circuit."""
    circuits = figures.inrush_circuits(store)
    columns = (
        Column("site", "Site"),
        Column("position", "Position"),
        Column("control_id", "Control"),
        Column("model", "Model", on_page=False),
        Column("circuits", "Circuits alike", "count", on_page=False),
        Column("lamps", "Lamps"),
        Column("drivers", "Drivers", "estimate"),
        Column("rated_inrush_a", "Rated peak", "estimate", "A"),
        Column("peak_sum_a", "Peak, plain sum", "estimate", "A", on_page=False),
        Column("peak_source_limited_a", "Peak, source-limited", "estimate", "A", on_page=False),
        Column("stress_sum", "Stress, plain sum", "estimate", "times rated"),
        Column("stress_source_limited", "Stress, source-limited", "estimate", "times rated"),
        Column("failures", "Failures there", "count"),
        Column("unknown", "Unknown or supposed"),
    )
    above = Table(
        "inrush_above_rating", "Circuits above their control's rated peak, the most stressed first", columns,
        figures.above_rating(circuits), limit=25, if_empty="None of the circuits screened.",
    )  # fmt: skip
    everything = Table("inrush_circuits", "Every circuit with drivers", columns, circuits, limit=0,
                       if_empty="No circuit with drivers is on record.")  # fmt: skip
    figure, effect = figures.inrush_figure(store), figures.stress_effect(store)
    said = effect if isinstance(effect, str) else effect.sentence
    counted = f"{figure.text()}. " if figure.value is not None else ""
    lead = f"{counted}{figure.note} What stress does to life here: {said}"
    return Section("inrush", "Which circuits strain their control?", lead, (above, everything))


def next_year(info: Facts, forecast: Figure, found: Outlook) -> Section:
    """The forecast in all, by model with spares, and by site; or why there is none."""
    title = "What comes in the next twelve months?"
    if forecast.value is None:
        most = f" {forecast.text()[0].upper()}{forecast.text()[1:]}." if forecast.high is not None else ""
        return Section("next year", title, f"No forecast can be made.{most} {forecast.note}")
    counted = (
        Column("controls", "Controls in service", "count"),
        Column("by_age", "of them by age", "count"),
        Column("by_rate", "of them by rate", "count"),
        Column("unforeseen", "not forecast", "count"),
    )
    expected = Column("expected", "Failures expected", "estimate", "", "lower", "upper")
    spares = Table(
        "forecast_by_model", "By model, with spares for the year",
        (Column("model", "Model"), Column("stock", "Spares", "count"), expected, *counted, Column("kind", "Kind")),
        found.models, note=f"Spares suffice for the year with probability {percent_text(found.service_level)}, bought "
        "once and not refilled.",
    )  # fmt: skip
    sites = Table(
        "forecast_by_site", "By site", (Column("site", "Site"), expected, *counted), found.sites, limit=15
    )
    lead = (
        f"{forecast.text()}. {percent_text(info.confidence)} prediction intervals; sites add up to the total in what "
        "is expected, not at the ends of their intervals. Controls added, and changes of load, after the log's end are "
        "not included."
    )
    return Section("next year", title, lead, (spares, sites))


def rates(store: Store) -> Section:
    """Rates by part, and growth from year to year."""
    columns = (
        Column("control_years", "Time under observation", "estimate", "control-years"),
        Column("failures", "Failures", "count"),
        _limited(f"failures_{_PER_100}", "Failures", "per 100 control-years"),
        Column("incidents", "Incidents", "count"),
        _limited(f"incidents_{_PER_100}", "Incidents", "per 100 control-years"),
        Column("unlike_the_rest", "Unlike the rest, p"),
    )
    tables = [
        Table(
            f"rates_by_{by.replace(' ', '_')}", f"By {by}", (Column("label", by.capitalize()), *columns),
            _with_chances(figures.incident_rates(store, by)), limit=15 if by in ("kind", "model", "site") else 0,
            if_empty="No control is under observation.",
        )
        for by in figures.RATE_PARTS
    ]  # fmt: skip
    lead = (
        "Incidents of any cause, and control failures, ages known or not, with exact limits. The last column is the "
        "chance of so great a difference from all others, adjusted for the number of parts: below 0.05 a part truly "
        "differs. Growth is by whole months with the season taken out; per control, that of the fleet is taken out too."
    )
    return Section("rates", "How often, and is it growing?", lead, (_growth(store), *tables))


def _with_chances(rates: pd.DataFrame) -> pd.DataFrame:
    """With the p-values as text; empty where there is nothing to compare with."""
    said = ["" if pd.isna(p) else chance_text(p) for p in rates["unlike_the_rest_p"]]
    return rates.assign(unlike_the_rest=said)


def _growth(store: Store) -> Table:
    columns = (
        Column("what", "Counted"),
        Column("total", "Total", "count"),
        _limited(_YEARLY, "Change", "% a year"),
        _limited(f"{_YEARLY}_per_control", "Change per control", "% a year"),
        Column("model", "Regression"),
        Column("dispersion", "Dispersion", "estimate"),
        Column("note", "Note"),
    )
    return Table("growth", "From year to year", columns, figures.count_trends(store),
                 if_empty="The log has no whole month.")  # fmt: skip


def _limited(name: str, title: str, unit: str) -> Column:
    return Column(name, title, "estimate", unit, f"{name}_lower", f"{name}_upper")


def campaigns(store: Store) -> Section:
    """What each campaign did, in figures and in words."""
    rows = [_campaign(result) for result in figures.campaign_results(store)]
    names = (
        "name", "sites", "first", "last", "controls", "followed", "observed", "expected", "ratio", "lower", "upper",
        "naive", "said",
    )  # fmt: skip
    columns = (
        Column("name", "Campaign"),
        Column("sites", "Sites"),
        Column("first", "From", "date"),
        Column("last", "To", "date"),
        Column("controls", "Controls", "count"),
        Column("followed", "Followed", "count"),
        Column("observed", "Failures since", "count"),
        Column("expected", "Like for like", "estimate"),
        Column("ratio", "Ratio", "estimate", "", "lower", "upper"),
        Column("naive", "Before and after alone", "estimate"),
        Column("said", "In words"),
    )
    table = Table(
        "campaign_results", "Campaigns in order of time", columns, pd.DataFrame(rows, columns=list(names)),
        if_empty="No campaign is on record: name one in portfolio.toml under [[campaigns]].",
    )  # fmt: skip
    lead = (
        "Failures since each planned replacement, over what the lives fitted before it forecast for new controls of "
        "the old model on the same dates: a ratio of 1 means that it did nothing beyond making controls younger."
    )
    return Section("campaigns", "Did campaigns work?", lead, (table,))


def _campaign(result: figures.CampaignResult) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": result.name, "sites": ", ".join(result.sites), "first": result.first, "last": result.last,
        "controls": result.controls, "followed": result.followed, "said": result.sentence,
    }  # fmt: skip
    if result.effect is None:
        return row
    effect = result.effect
    return row | {
        "observed": effect.observed, "expected": effect.expected, "ratio": effect.ratio, "lower": effect.lower,
        "upper": effect.upper, "naive": effect.naive_ratio,
    }  # fmt: skip

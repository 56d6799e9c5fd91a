"""The sections that say how far the lives can be trusted, and which sites call again."""

from __future__ import annotations

import pandas as pd

from pipeline import figures
from pipeline.report import life_charts
from pipeline.report.section import Section
from pipeline.report.tables import Column, Table
from pipeline.store import Store


def sections(store: Store) -> dict[str, Section]:
    """These sections by their key."""
    made = (trust(store), causes(store), repeats(store))
    return {section.key: section for section in made}


def trust(store: Store) -> Section:
    """Do the groups really differ, and does the Weibull describe them?"""
    found, checks = figures.group_differences(store), figures.weibull_checks(store)
    judged = checks[checks["best"].notna()]
    group = _soonest(store, judged["group_name"].tolist())
    chart = (
        life_charts.weibull_paper(figures.weibull_check(store, "model and lamp", group), group)
        if group
        else ()
    )
    lead = (
        f"{found.sentence} Tests and checks take the verdicts as they stand; the headline fits draw doubtful ones. A "
        "difference of AIC below 2 decides nothing; above 10 the worse distribution has next to no support."
    )
    tables = (_pairs(found), _groups(found), _checks(checks))
    return Section("trust", "Do the groups really differ, and does the Weibull fit?", lead, tables, chart)


def _soonest(store: Store, judged: list[str]) -> str:
    """The soonest to fail of the groups that could be judged."""
    names = figures.failure_groups(store)["group_name"].tolist()
    return next((str(name) for name in names if name in judged), "")


def _pairs(found: figures.GroupDifferences) -> Table:
    columns = (
        Column("sooner", "Fails sooner"),
        Column("later", "than"),
        Column("said", "Said"),
        Column("p_value_holm", "p, adjusted for all pairs", "chance"),
        Column("draws_that_differ", f"Draws that say so, of {found.draws}", "count"),
        Column("p_value", "p, this pair alone", "chance", on_page=False),
        Column("statistic", "Chi-square", "estimate", on_page=False),
    )
    title = "Pairs of groups by model and lamps, the surest difference first (log-rank, Holm)"
    return Table("group_pairs", title, columns, found.pairs, limit=15, if_empty=found.sentence)


def _groups(found: figures.GroupDifferences) -> Table:
    columns = (
        Column("group_name", "Model / lamps"),
        Column("failures", "Failures seen", "count"),
        Column("expected", "Expected if all lived alike", "estimate"),
        Column("times_expected", "Seen over expected", "estimate"),
    )
    return Table(
        "group_differences", "Failures seen and expected, the soonest to fail first", columns, found.groups, limit=0,
        if_empty=found.sentence,
    )  # fmt: skip


def _checks(checks: pd.DataFrame) -> Table:
    columns = (
        Column("group_name", "Model / lamps"),
        Column("failures", "Failures", "count"),
        Column("best", "Best of four distributions"),
        Column("weibull_aic_above_best", "AIC of the Weibull above it", "estimate"),
        Column("residual_p_value", "p of the residuals", "chance"),
        Column("said", "In words"),
    )
    return Table(
        "weibull_checks", "How well the Weibull describes each group, the worst first", columns, checks, limit=8,
        if_empty="No group of controls could be followed.",
    )  # fmt: skip


def causes(store: Store) -> Section:
    """What shortens lives? Each kind of control by itself."""
    found = [figures.life_causes(store, scope) for scope in figures.cause_scopes(store)]
    ratios = pd.concat(
        [each.ratios.assign(scope=each.scope) for each in found] or [pd.DataFrame()], ignore_index=True
    )
    columns = (
        Column("scope", "Controls"),
        Column("cause", "What goes with it"),
        Column("compared_with", "Compared with"),
        Column("life_ratio", "Times the life", "estimate", "", "lower", "upper"),
        Column("said", "Said"),
        Column("failures", "Failures that speak", "count"),
        Column("p_value_holm", "p, adjusted within its controls", "chance"),
    )
    why = "No control of known age and kind can be followed."
    tables = (
        Table(
            "life_causes",
            "Life ratios, all else alike",
            columns,
            ratios.reindex(columns=_names(columns)),
            if_empty=why,
        ),
        _notes(found, why),
    )
    lead = (
        "A life ratio is the factor on every age of failure: 0.5 means half the life. It comes from a Weibull "
        "accelerated-life regression of each kind of control, pooled over the draws of doubtful verdicts, and is an "
        "association among controls as they are, not a trial. Over all kinds, kinds are compared in place of "
        "models. Limits are each row's own; what is said allows for all rows of its controls."
    )
    return Section("causes", "What shortens the lives of controls?", lead, tables)


def _names(columns: tuple[Column, ...]) -> list[str]:
    return [part.name for column in columns for part in column.parts()]


def _notes(found: list[figures.LifeCauses], why: str) -> Table:
    """Findings, checks and what is not told, a sentence to a row."""
    rows = [
        {"scope": each.scope, "about": about, "sentence": sentence}
        for each in found
        for about, sentences in (
            ("finding", each.sentences),
            ("check", each.checks),
            ("not told", each.left_out),
        )
        for sentence in sentences
    ]
    columns = (Column("scope", "Controls"), Column("about", "About"), Column("sentence", "In words"))
    frame = pd.DataFrame(rows, columns=_names(columns))
    told = frame[frame["about"] != "not told"]
    ordered = pd.concat([told, frame.drop(told.index)], ignore_index=True)  # a page shows findings and checks
    title = "The same in words, with the checks; what cannot be told stands in the workbook"
    return Table("life_causes_in_words", title, columns, ordered, limit=len(told), if_empty=why)


def repeats(store: Store) -> Section:
    """Which sites call again and again?"""
    found = figures.repeat_calls(store)
    columns = (
        Column("site", "Site"),
        Column("events", "Incidents", "count"),
        Column("per_year", "Per year of record", "estimate"),
        Column("trend", "Trend"),
        Column(
            "power_law_shape",
            "Power-law shape",
            "estimate",
            "",
            "power_law_shape_lower",
            "power_law_shape_upper",
        ),
        Column("p_value_holm", "p, adjusted for all sites", "chance"),
        Column("laplace_z", "Laplace's z", "estimate", on_page=False),
        Column("years", "Years of record", "estimate", on_page=False),
    )
    table = Table(
        "repeat_calls", "Incidents by site of any cause, the most first", columns, found.sites, limit=15,
        if_empty=found.sentences[0],
    )  # fmt: skip
    lead = (
        f"{' '.join(found.sentences)} A power-law shape of 1 means a steady stream, above 1 ever more. Limits of the "
        "mean come from the scatter between sites."
    )
    return Section("repeats", "Which sites call again and again?", lead, (table,), life_charts.repeats(found))

"""Charts of how well a fitted life holds and of repeat calls, for documents."""

from __future__ import annotations

from html import escape

import pandas as pd
import plotly.graph_objects as go

from pipeline.figures import RepeatCalls, WeibullCheck
from pipeline.figures.weibull_check import paper_marks, paper_span
from pipeline.report.charts import LINES, YEAR_DAYS, Chart, blank, faint

AGES_YEARS = [age * 10.0**power for power in range(-3, 3) for age in (1, 2, 5)]


def weibull_paper(check: WeibullCheck, group: str) -> tuple[Chart, ...]:
    """A group's failures on axes on which a Weibull life is a straight line."""
    if check.points.empty:
        return ()
    span, figure = paper_span(check), blank("share failed, %")
    ages = check.line["age_days"] / YEAR_DAYS
    _area(
        figure,
        ages,
        check.line["y_lower"].clip(*span),
        check.line["y_upper"].clip(*span),
        number=1,
        shape="linear",
    )
    for frame, name, number in ((check.line, "Weibull as read", 1), (check.headline, "headline fit", 3)):
        if len(frame):
            colour, dash = LINES[number]
            line = {"color": colour, "dash": dash, "width": 2}
            figure.add_scatter(
                x=frame["age_days"] / YEAR_DAYS, y=frame["y"], name=name, mode="lines", line=line
            )
    points, colour = check.points, LINES[0][0]
    figure.add_scatter(
        x=points["age_days"] / YEAR_DAYS, y=points["y"], name="failures seen", mode="markers",
        marker={"symbol": "diamond", "size": 6, "color": colour},
        error_y={
            "type": "data", "symmetric": False, "array": points["y_upper"].clip(*span) - points["y"],
            "arrayminus": points["y"] - points["y_lower"].clip(*span), "thickness": 1, "width": 2, "color": colour,
        },
    )  # fmt: skip
    marks, labels = paper_marks(span)
    figure.update_yaxes(range=span, rangemode="normal", tickvals=marks, ticktext=labels)
    figure.update_xaxes(
        type="log", title="age, years", tickvals=AGES_YEARS, ticktext=[f"{age:g}" for age in AGES_YEARS]
    )
    caption = (
        f"{group}: failures as their verdicts stand, with limits, on axes on which a Weibull life is a straight line; "
        "shaded: the limits of the fit as read."
    )
    return (Chart("weibull-paper", caption, figure),)


def repeats(found: RepeatCalls) -> tuple[Chart, ...]:
    """Mean number of incidents per site by time of record."""
    if found.curve.empty:
        return ()
    figure = blank(f"mean number of {found.counted} per site")
    steps = pd.concat(
        [pd.DataFrame([dict.fromkeys(found.curve.columns, 0.0)]), found.curve], ignore_index=True
    )
    years = steps["age_days"] / YEAR_DAYS
    _area(figure, years, steps["lower"], steps["upper"], number=1, shape="hv")
    for x, y, name, number in (
        (years, steps["mean_count"], "mean per site", 1),
        ([0.0, years.iloc[-1]], [0.0, steps["mean_count"].iloc[-1]], "as if steady", 2),
    ):
        colour, dash = LINES[number]
        figure.add_scatter(
            x=x, y=y, name=escape(name), mode="lines", line={"color": colour, "dash": dash, "width": 2}
        )
    figure.update_xaxes(title="time of record, years", rangemode="tozero")
    return (
        Chart("repeats", f"Mean cumulative number of {found.counted} per site, with robust limits.", figure),
    )


def _area(figure: go.Figure, x: pd.Series, low: pd.Series, high: pd.Series, number: int, shape: str) -> None:
    for values, fill in ((high, None), (low, "tonexty")):
        figure.add_scatter(
            x=x, y=values, mode="lines", line={"width": 0, "shape": shape}, fill=fill,
            fillcolor=faint(LINES[number][0]), showlegend=False, hoverinfo="skip",
        )  # fmt: skip

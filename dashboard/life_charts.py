"""Charts of how well fitted lives hold, and of repeat calls: a frame in, a plotly figure out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.charts import limit, line, plain
from dashboard.format import in_years
from dashboard.palette import faint, stroke
from pipeline.figures import WeibullCheck
from pipeline.figures.weibull_check import paper_marks, paper_span

AGES_YEARS = [age * 10.0**power for power in range(-3, 3) for age in (1, 2, 5)]


def weibull_paper(check: WeibullCheck) -> go.Figure:
    """Failed share by age on axes on which a Weibull life is a straight line; points and line with their limits."""
    figure = plain("Age, years", "Share failed, %")
    span = paper_span(check)
    look = stroke(0)
    ages = in_years(check.line["age_days"])
    for name, fill in (("y_lower", None), ("y_upper", faint(look.colour))):
        trace = limit(ages, check.line[name].clip(*span), "line", fill)
        figure.add_trace(trace.update(line={"width": 0, "shape": "linear"}))
    figure.add_trace(line(ages, check.line["y"], "Weibull as read", look).update(mode="lines"))
    if len(check.headline):
        drawn = line(in_years(check.headline["age_days"]), check.headline["y"], "headline fit", stroke(1))
        figure.add_trace(drawn.update(mode="lines"))
    figure.add_trace(_points(check.points, span))
    marks, labels = paper_marks(span)
    figure.update_yaxes(
        range=span, rangemode="normal", tickmode="array", tickvals=marks, ticktext=labels, tickformat=None
    )
    figure.update_xaxes(type="log", tickvals=AGES_YEARS, ticktext=[f"{age:g}" for age in AGES_YEARS])
    return figure


def _points(points: pd.DataFrame, span: tuple[float, float]) -> go.Scatter:
    look, height = stroke(2), points["y"].astype(float)
    low, high = (points[name].astype(float).clip(*span) for name in ("y_lower", "y_upper"))
    return go.Scatter(
        x=in_years(points["age_days"]), y=height, name="failures seen", mode="markers",
        marker={"symbol": look.marker, "size": 7, "color": look.colour},
        error_y={
            "type": "data", "symmetric": False, "array": high - height, "arrayminus": height - low,
            "thickness": 1, "width": 2, "color": look.colour,
        },
        hovertext=[
            f"{100 * share:.1f} % failed by {age / 365.25:.2f} years ({100 * least:.1f} to {100 * most:.1f})"
            for age, share, least, most in zip(
                points["age_days"], points["failed_share"], points["lower"], points["upper"], strict=True
            )
        ],
        hoverinfo="text",
    )  # fmt: skip


def repeats(curve: pd.DataFrame, counted: str) -> go.Figure:
    """Mean number per site by years of record, with robust limits. Frame as figures.repeat_calls gives it."""
    figure = plain("Time of record, years", f"Mean number of {counted} per site")
    look = stroke(0)
    steps = pd.concat([pd.DataFrame([dict.fromkeys(curve.columns, 0.0)]), curve], ignore_index=True)
    years = in_years(steps["age_days"])
    figure.add_trace(limit(years, steps["upper"], counted, None))
    figure.add_trace(limit(years, steps["lower"], counted, faint(look.colour)))
    drawn = line(years, steps["mean_count"], "mean per site", look, step=True)
    drawn.hovertemplate = "%{y:.1f} after %{x:.2f} years<extra></extra>"
    figure.add_trace(drawn)
    end = float(years.max())
    steady = pd.Series(np.array([0.0, end]))
    last = float(steps["mean_count"].iloc[-1])
    figure.add_trace(line(steady, steady * last / end, "as if steady", stroke(1)).update(mode="lines"))
    figure.update_xaxes(rangemode="tozero")
    return figure

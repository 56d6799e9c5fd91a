"""The few charts of a page. What they show stands in a table too: a chart is never the only place of a number."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from pipeline import figures
from pipeline.lives.groups import FULL_FITS
from pipeline.store import Store

YEAR_DAYS = 365.25
GROUPING = "model and lamp"
CURVES = 5
HEIGHT_PX = 340
INK, _GRID = "#1d2733", "#d7dde4"
# Told apart by dash as well as by hue, so that a grey print can be read.
LINES = (
    ("#9b2d1f", "solid"), ("#1f5f8b", "solid"), ("#3d7a3a", "dash"), ("#7a4b9a", "dot"), ("#6b6b6b", "dashdot"),
)  # fmt: skip


@dataclass(frozen=True)
class Chart:
    """A chart with a caption that also serves who cannot see it."""

    key: str
    caption: str
    figure: go.Figure

    def html(self) -> str:
        """The chart as an HTML fragment; the page brings plotly.js once."""
        fragment: str = self.figure.to_html(
            full_html=False,
            include_plotlyjs=False,
            div_id=f"chart-{self.key}",
            config={"displayModeBar": False, "responsive": True},
        )
        return fragment


def activity(months: pd.DataFrame) -> tuple[Chart, ...]:
    """Lighting calls, incidents and control failures by month."""
    if months.empty:
        return ()
    figure = blank("per month")
    for number, (column, name) in enumerate(
        [
            ("control_failures_expected", "control failures (expected)"),
            ("fault_calls", "lighting calls"),
            ("day_burning_incidents", "day-burning incidents"),
            ("planned_calls", "planned work orders"),
        ]
    ):
        colour, dash = LINES[number]
        line = {"color": colour, "dash": dash, "width": 2}
        figure.add_scatter(x=months["month"], y=months[column], name=name, mode="lines", line=line)
    caption = (
        "Lighting calls, day-burning incidents and expected control failures by month of report; planned work "
        "(relamping, campaigns) apart."
    )
    return (Chart("activity", caption, figure),)


def lives(store: Store, groups: pd.DataFrame) -> tuple[Chart, ...]:
    """Kaplan-Meier curves of the groups that fail soonest and of the longest-lived."""
    names = _chosen(groups)
    if not names:
        return ()
    figure = blank("share still working")
    for number, name in enumerate(names):
        curve = figures.curve(store, GROUPING, name)
        if not curve.empty:
            _add_curve(figure, curve, name, number, with_limits=number in (0, len(names) - 1))
    figure.update_xaxes(title="age, years", rangemode="tozero")
    figure.update_yaxes(range=[0, 1.02], tickformat=".0%")
    caption = (
        "Share of controls still working by age (Kaplan-Meier), the groups that fail soonest and the longest-lived; "
        "shaded: limits of the first and the last of them."
    )
    return (Chart("lives", caption, figure),)


def energy(years: pd.DataFrame, title: str) -> tuple[Chart, ...]:
    """Wasted energy by year, with its 90 % range."""
    if years.empty:
        return ()
    figure = blank("kWh")
    figure.add_bar(
        x=years["part"],
        y=years["kwh_central"],
        name="central",
        marker={"color": LINES[1][0]},
        error_y={
            "type": "data",
            "array": years["kwh_p95"] - years["kwh_central"],
            "arrayminus": years["kwh_central"] - years["kwh_p5"],
            "color": INK,
        },
    )
    figure.update_xaxes(type="category")
    figure.update_layout(showlegend=False)
    caption = f"Energy wasted by day burning, by {title.lower()}; the whiskers hold 90 % of the draws."
    return (Chart("energy", caption, figure),)


def measured(days: pd.DataFrame, episodes: pd.DataFrame, account: str) -> tuple[Chart, ...]:
    """An account's load by day beside what it draws if nothing burns, with the stretches found."""
    figure = blank("mean load in hours off, kW")
    lines = (
        ("day_kw", "measured", LINES[1][0], "solid"),
        ("expected_kw", "expected if nothing burns", LINES[0][0], "dash"),
    )
    for column, name, colour, dash in lines:
        line = {"color": colour, "dash": dash, "width": 1.5}
        figure.add_scatter(x=days["day"], y=days[column], name=name, mode="lines", line=line)
    for row in episodes.to_dict("records"):
        figure.add_vrect(
            x0=row["onset_central"], x1=row["ended_central"], line_width=0, layer="below",
            fillcolor=faint(LINES[2][0]),
            annotation_text="C" if row["found"] == "both" else "N", annotation_position="top left",
        )  # fmt: skip
    figure.update_xaxes(title="day")
    caption = (
        f"Load of account {account} well inside the hours in which its lamps should be off. Shaded: day burning; "
        "C: called in, N: never called in."
    )
    return (Chart("meters", caption, figure),)


def _chosen(groups: pd.DataFrame) -> list[str]:
    """Names of the groups drawn: the soonest to fail, and the longest-lived at the end."""
    if groups.empty:
        return []
    fitted = groups[groups["method"].isin(FULL_FITS)].sort_values(["b10_days", "group_name"])
    names = [str(name) for name in fitted["group_name"]]
    return names if len(names) <= CURVES else [*names[: CURVES - 1], names[-1]]


def _add_curve(figure: go.Figure, curve: pd.DataFrame, name: str, number: int, with_limits: bool) -> None:
    colour, dash = LINES[number]
    ages = [0.0, *(curve["age_days"] / YEAR_DAYS)]
    shown = escape(name)
    if with_limits:
        for column, fill in (("upper", None), ("lower", "tonexty")):
            figure.add_scatter(
                x=ages, y=[1.0, *curve[column]], mode="lines", line={"width": 0, "shape": "hv"}, fill=fill,
                fillcolor=faint(colour), showlegend=False, hoverinfo="skip",
            )  # fmt: skip
    line = {"color": colour, "dash": dash, "width": 2, "shape": "hv"}
    figure.add_scatter(x=ages, y=[1.0, *curve["survival"]], name=shown, mode="lines", line=line)


def faint(colour: str) -> str:
    """A colour for the area between limits."""
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.12)"


def blank(y_title: str) -> go.Figure:
    """An empty chart in the documents' look."""
    axis: dict[str, Any] = {"gridcolor": _GRID, "zeroline": False, "automargin": True}
    return go.Figure(
        layout={
            "template": "none",
            "height": HEIGHT_PX,
            "margin": {"l": 48, "r": 8, "t": 8, "b": 36},
            "font": {"family": "system-ui, sans-serif", "size": 13, "color": INK},
            "xaxis": axis,
            "yaxis": axis | {"title": y_title, "rangemode": "tozero"},
            "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
            "hovermode": "closest",
            "paper_bgcolor": "white",
            "plot_bgcolor": "white",
        }
    )

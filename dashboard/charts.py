"""Charts: a frame in, a plotly figure out. Every axis has a title with its unit."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
import plotly.graph_objects as go

from dashboard.format import in_years
from dashboard.palette import INK, LINE, PAPER, QUIET, Stroke, faint, stroke
from pipeline.figures import wording

HEIGHT_PX = 400
_FEW_POINTS = 40  # a line with more points than this carries no markers


def monthly(frame: pd.DataFrame, series: Mapping[str, str], unit: str) -> go.Figure:
    """Lines over months. ``series``: column to label; frame: month and those columns."""
    figure = plain("Month of first report", unit)
    for number, (column, label) in enumerate(series.items()):
        figure.add_trace(line(frame["month"], frame[column].astype(float), label, stroke(number)))
    figure.update_xaxes(hoverformat="%b %Y")
    return figure


def survival(curves: Mapping[str, pd.DataFrame]) -> go.Figure:
    """Kaplan-Meier curves by group, each with the area between its limits. Frames as figures.curve gives them."""
    figure = plain("Age, years", "Share still working, %")
    for number, (group, frame) in enumerate(curves.items()):
        look = stroke(number)
        # Nothing has failed at age 0: every curve begins at 100 %.
        ages = pd.concat([pd.Series([0.0]), in_years(frame["age_days"])], ignore_index=True)
        share = {
            name: pd.concat([pd.Series([100.0]), frame[name].astype(float) * 100], ignore_index=True)
            for name in ("survival", "lower", "upper")
        }
        figure.add_trace(limit(ages, share["upper"], group, None))
        figure.add_trace(limit(ages, share["lower"], group, faint(look.colour)))
        drawn = line(ages, share["survival"], group, look, step=True)
        drawn.hovertemplate = "%{y:.1f} % work at %{x:.2f} years<extra>" + plotly_text(group) + "</extra>"
        figure.add_trace(drawn)
    figure.update_yaxes(range=[0, 102])
    figure.update_xaxes(rangemode="tozero")
    return figure


def incidence(curves: Mapping[str, pd.DataFrame]) -> go.Figure:
    """Shares ended by age, one line per way of ending, each with its limits. Frames as figures.ends_of_lives gives."""
    figure = plain("Age, years", "Share ended so, %")
    for number, (end, frame) in enumerate(curves.items()):
        look = stroke(number)
        ages = pd.concat([pd.Series([0.0]), in_years(frame["age_days"])], ignore_index=True)
        share = {
            name: pd.concat([pd.Series([0.0]), frame[name].astype(float) * 100], ignore_index=True)
            for name in ("incidence", "lower", "upper")
        }
        figure.add_trace(limit(ages, share["upper"], end, None))
        figure.add_trace(limit(ages, share["lower"], end, faint(look.colour)))
        drawn = line(ages, share["incidence"], end, look, step=True)
        drawn.hovertemplate = "%{y:.1f} % by %{x:.2f} years<extra>" + plotly_text(end) + "</extra>"
        figure.add_trace(drawn)
    figure.update_yaxes(rangemode="tozero")
    figure.update_xaxes(rangemode="tozero")
    return figure


def wasted(
    frame: pd.DataFrame, name: str, unit: str, across: str, ends: tuple[str, str] = ("p5", "p95")
) -> go.Figure:
    """Bars of the central value, each with a whisker between its two ends. frame: part, {name}_central and the ends."""
    figure = plain(across, unit)
    low, central, high = (frame[f"{name}_{end}"].astype(float) for end in (ends[0], "central", ends[1]))
    figure.add_trace(
        go.Bar(
            x=[plotly_text(part) for part in frame["part"]], y=central, name="central",
            marker={"color": faint(stroke(0).colour, 0.45), "line": {"color": stroke(0).colour, "width": 1.2}},
            showlegend=False,
            error_y={
                "type": "data", "symmetric": False, "array": high - central, "arrayminus": central - low,
                "color": INK, "thickness": 1.3, "width": 0 if len(frame) > _FEW_POINTS else 4,
            },
            hovertext=[
                f"{plotly_text(part)}: {_estimate(mid)} ({_estimate(least)} to {_estimate(most)}), {unit}"
                for part, mid, least, most in zip(frame["part"], central, low, high, strict=True)
            ],
            hoverinfo="text",
        )
    )  # fmt: skip
    figure.update_xaxes(type="date" if across == "Month" else "category", title={"standoff": 12})
    return figure


def cash_flow(frame: pd.DataFrame, money: str, years: int) -> go.Figure:
    """Cumulative net cash flow of an option against repair like for like. frame as cumulative_net_flow gives it."""
    figure = plain("Year of the study period", f"Net cash flow, {money}")
    figure.add_trace(
        go.Bar(
            x=frame["year"], y=frame["net_flow_cost"].astype(float), name="in that year",
            marker={
                "line": {"color": stroke(1).colour, "width": 1},
                "pattern": {"shape": "/", "fgcolor": stroke(1).colour, "bgcolor": PAPER, "size": 7},
            },
        )
    )  # fmt: skip
    total = frame["cumulative_net_flow_cost"].astype(float)
    figure.add_trace(line(frame["year"], total, "added up since the start", stroke(0)))
    figure.add_hline(y=0, line={"color": INK, "width": 1})
    figure.update_xaxes(range=[-0.6, years + 0.6], dtick=1 if years <= 20 else 5)
    return figure


def measured_days(days: pd.DataFrame, episodes: pd.DataFrame) -> go.Figure:
    """An account's load by day beside what it draws if nothing burns; stretches of day burning shaded, with their sign.

    Frames as figures.account_days and figures.meter_episodes give them.
    """
    figure = plain("Day", "Mean load in hours off, kW")
    figure.add_trace(line(days["day"], days["day_kw"].astype(float), "measured", stroke(0)))
    figure.add_trace(
        line(
            days["day"], days["expected_kw"].astype(float), "expected if nothing burns", stroke(1), step=True
        )
    )
    for row in episodes.to_dict("records"):
        called = row["found"] == "both"
        figure.add_vrect(
            x0=row["onset_central"], x1=row["ended_central"], line_width=0, layer="below",
            fillcolor=faint(stroke(3 if called else 2).colour, 0.22), annotation_text="C" if called else "N",
            annotation_position="top left", annotation_font_size=11,
        )  # fmt: skip
    for trace in figure.data:
        trace.update(mode="lines", connectgaps=False)
    return figure


def measured_hours(hours: pd.DataFrame, days: pd.DataFrame) -> go.Figure:
    """An account's load by day and hour, with the times between which its lamps should be off.

    Frames as figures.account_hours and figures.account_days give them, of the same days.
    """
    figure = plain("Day", "Hour of the day, local time, h")
    figure.add_trace(
        go.Heatmap(
            x=hours["hour_at"].dt.normalize(), y=hours["hour_at"].dt.hour + 0.5, z=hours["kw"].astype(float),
            colorscale=[[0, PAPER], [1, stroke(0).colour]], zmin=0, colorbar={"title": "kW", "thickness": 12},
            hovertemplate="%{x|%d %b %Y}, hour %{y:.0f}: %{z:.2f} kW<extra></extra>",
        )
    )  # fmt: skip
    for name, label, number in (("off_at", "should go out", 1), ("on_at", "should light", 3)):
        at = days[name].dt.hour + days[name].dt.minute / 60
        figure.add_trace(line(days["day"], at, label, stroke(number)).update(mode="lines"))
    figure.update_yaxes(range=[0, 24], dtick=6)
    return figure


def plain(across: str, up: str) -> go.Figure:
    """An empty chart in this project's look."""
    figure = go.Figure()
    figure.update_layout(
        height=HEIGHT_PX, paper_bgcolor=PAPER, plot_bgcolor=PAPER, hovermode="closest",
        font={"family": "Source Sans, Source Sans Pro, sans-serif", "size": 13, "color": INK},
        margin={"l": 8, "r": 8, "t": 12, "b": 8}, separators="." + wording.THIN_SPACE,
        legend={"orientation": "h", "x": 0, "xanchor": "left", "y": 1.02, "yanchor": "bottom", "font": {"size": 13}},
        hoverlabel={"bgcolor": PAPER, "bordercolor": LINE, "font": {"color": INK, "size": 13}},
    )  # fmt: skip
    axis = {
        "automargin": True,
        "gridcolor": "#e4e9ed",
        "linecolor": QUIET,
        "showline": True,
        "zeroline": False,
    }
    figure.update_xaxes(
        title={"text": across, "font": {"size": 14}}, ticks="outside", tickcolor=QUIET, **axis
    )
    figure.update_yaxes(
        title={"text": up, "font": {"size": 14}}, rangemode="tozero", tickformat=",~f", **axis
    )
    return figure


def line(x: pd.Series, y: pd.Series, label: str, look: Stroke, step: bool = False) -> go.Scatter:
    """A labelled line, with markers where it has few points."""
    few = len(x) <= _FEW_POINTS
    return go.Scatter(
        x=x, y=y, name=plotly_text(label), legendgroup=label, mode="lines+markers" if few else "lines",
        line={"color": look.colour, "dash": look.dash, "width": 2.2, "shape": "hv" if step else "linear"},
        marker={"symbol": look.marker, "size": 7},
    )  # fmt: skip


def limit(x: pd.Series, y: pd.Series, group: str, fill: str | None) -> go.Scatter:
    """An unseen stepped line at a limit; with ``fill`` the area to the limit before it."""
    return go.Scatter(
        x=x, y=y, mode="lines", line={"width": 0, "shape": "hv"}, legendgroup=group, showlegend=False,
        hoverinfo="skip", fill="tonexty" if fill else None, fillcolor=fill,
    )  # fmt: skip


def _estimate(value: float) -> str:
    return wording.estimate_text(value) if wording.is_known(value) else wording.NOTHING


def plotly_text(text: object) -> str:
    """Text from data as plotly is to show it: it reads a few tags as markup."""
    return str(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")

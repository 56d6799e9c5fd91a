"""Charts as figures: what is drawn, in which unit, and never told by colour alone."""

from __future__ import annotations

import itertools

import pandas as pd
import plotly.graph_objects as go
import pytest

from dashboard import charts
from dashboard.palette import INK, PANEL, PAPER, QUIET, STROKES
from pipeline.figures import curve, energy_by, monthly_activity
from pipeline.figures.cumulative import cumulative_net_flow
from pipeline.store import Store

SERIES = {"lighting_calls": "calls", "incidents": "incidents"}


def axis_titles(figure: go.Figure) -> tuple[str, str]:
    return figure.layout.xaxis.title.text, figure.layout.yaxis.title.text


def test_monthly_lines_carry_the_months_numbers(small: Store) -> None:
    months = monthly_activity(small)
    figure = charts.monthly(months, SERIES, "Number per month")
    assert axis_titles(figure) == ("Month of first report", "Number per month")
    assert [trace.name for trace in figure.data] == ["calls", "incidents"]
    assert list(figure.data[0].y) == months["lighting_calls"].tolist()


def test_survival_is_a_step_in_percent_over_years_with_limits(small: Store) -> None:
    curves = {name: curve(small, "model and lamp", name) for name in ("A / LED", "B / HPS")}
    figure = charts.survival(curves)
    assert axis_titles(figure) == ("Age, years", "Share still working, %")
    upper, lower, line = figure.data[:3]
    assert (line.name, line.line.shape) == ("A / LED", "hv")
    assert line.x[0] == 0
    assert line.y[0] == 100
    assert line.x[1] == pytest.approx(200 / 365.25)
    assert line.y[1] == pytest.approx(600 / 7)  # 1 of 7 failed
    assert all(low <= mid <= high for low, mid, high in zip(lower.y, line.y, upper.y, strict=True))
    assert lower.fill == "tonexty"


def test_a_group_name_is_never_markup() -> None:
    frame = pd.DataFrame({"age_days": [10.0], "survival": [0.5], "lower": [0.1], "upper": [0.9]})
    figure = charts.survival({"<b>x</b>": frame})
    assert figure.data[2].name == "&lt;b&gt;x&lt;/b&gt;"
    assert "<b>" not in figure.data[2].hovertemplate


def test_wasted_energy_has_whiskers_over_the_90_percent_range(small: Store) -> None:
    years = energy_by(small, "calendar year")
    (bars,) = charts.wasted(years, "kwh", "Energy, kWh", "Calendar year").data
    assert list(bars.x) == ["2022", "2023", "2024"]
    assert list(bars.y) == [50, 200, 460]
    # draws evenly from half to double
    assert list(bars.error_y.array) == pytest.approx([0.925 * kwh for kwh in (50, 200, 460)], rel=0.01)
    assert list(bars.error_y.arrayminus) == pytest.approx([0.425 * kwh for kwh in (50, 200, 460)], rel=0.01)
    assert bars.hovertext[0] == "2022: 50.0 (28.9 to 96.1), Energy, kWh"


def test_years_are_categories_and_months_are_dates(small: Store) -> None:
    years = charts.wasted(energy_by(small, "calendar year"), "kwh", "Energy, kWh", "Calendar year")
    months = charts.wasted(energy_by(small, "month"), "kwh", "Energy, kWh", "Month")
    assert (years.layout.xaxis.type, months.layout.xaxis.type) == ("category", "date")


def test_cash_flow_shows_each_year_and_the_sum(small: Store) -> None:
    flow = cumulative_net_flow(small, "north", "photocontrol", "A")
    figure = charts.cash_flow(flow, "USD", 15)
    assert axis_titles(figure) == ("Year of the study period", "Net cash flow, USD")
    assert list(figure.data[0].x) == list(range(16))
    assert list(figure.data[1].y) == flow["cumulative_net_flow_cost"].tolist()


def test_series_differ_in_dash_and_marker_and_not_in_colour_alone() -> None:
    for one, other in itertools.combinations(STROKES, 2):
        assert one.dash != other.dash
        assert one.marker != other.marker
        assert one.pattern != other.pattern


@pytest.mark.parametrize("colour", [INK, QUIET, *(stroke.colour for stroke in STROKES)])
@pytest.mark.parametrize("ground", [PAPER, PANEL])
def test_text_and_lines_have_contrast(colour: str, ground: str) -> None:
    """At least 4.5:1, WCAG 2.1 success criterion 1.4.3 (AA)."""
    assert contrast(colour, ground) >= 4.5


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.1 defines it."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, as WCAG 2.1 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue

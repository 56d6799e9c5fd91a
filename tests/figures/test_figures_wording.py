from __future__ import annotations

from datetime import date

import pytest

from pipeline.figures import Figure, wording
from pipeline.figures.wording import EN_DASH, MINUS, NO_BREAK_SPACE, NOTHING, THIN_SPACE


def plain(text: str) -> str:
    """With ordinary characters, so that what is expected can be read."""
    return (
        text.replace(THIN_SPACE, " ").replace(NO_BREAK_SPACE, " ").replace(EN_DASH, "-").replace(MINUS, "-")
    )


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.0, "0"),
        (0.012345, "0.0123"),
        (5.0, "5.00"),
        (99.96, "100"),
        (123.4, "123"),
        (12345.6, "12 300"),
        (-1234567.0, "-1 230 000"),
    ],
)
def test_an_estimate_has_three_significant_digits(value: float, expected: str) -> None:
    assert plain(wording.estimate_text(value)) == expected


def test_a_count_is_whole_and_grouped_by_thin_spaces() -> None:
    assert wording.count_text(12087) == f"12{THIN_SPACE}087"


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        (Figure("k", "l", "kWh", 12345.0, 9870.0, 15432.0), "12 300 (9 870-15 400) kWh"),
        (Figure("k", "l", "USD", 41.2), "USD 41.20"),
        (Figure("k", "l", "USD/day", 1234.5, 900.0, 1500.0), "USD 1 230 (900-1 500) per day"),
        (Figure("k", "l", "controls", 1), "1 control"),
        (Figure("k", "l", "controls", 3), "3 controls"),
        (Figure("k", "l", "years", 4.5, 3.2, None), "4.50 (at least 3.20) years"),
        (Figure("k", "l", "years", None, 3.2, None), "at least 3.20 years"),
        (Figure("k", "l", "years", None), "not available"),
        (Figure("k", "l", "USD", -250.0, -900.0, 100.0), "USD -250 (-900 to 100)"),
    ],
)
def test_a_figure_is_written_with_limits_and_unit(figure: Figure, expected: str) -> None:
    assert plain(figure.text()) == expected


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_a_number_that_is_not_known_is_said_in_words(value: float | None) -> None:
    assert wording.number_text(value, "kWh") == NOTHING
    assert wording.percent_text(value) == NOTHING


def test_a_percentage_drops_zeros_that_say_nothing() -> None:
    assert plain(wording.percent_text(0.95)) == "95 %"
    assert plain(wording.percent_text(0.1234)) == "12.3 %"


def test_a_date_names_its_month() -> None:
    assert wording.date_text(date(2024, 3, 5)) == "5 Mar 2024"
    assert wording.date_text(None) == NOTHING


def test_a_p_value_is_not_written_to_digits_that_mean_nothing() -> None:
    assert wording.chance_text(3.2e-11) == "below 0.001"
    assert wording.chance_text(0.0123) == "0.0123"
    assert wording.chance_text(None) == "not available"

"""Money and hours as people write them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from pipeline.ingest.numbers import Decimals, hours_sql, money_sql, proven_decimal
from pipeline.store import Store

# Making every table of a store takes longer than reading a number: one store serves all.
_STORE = Store.create()


def _one(sql: str, text: str) -> object:
    return _STORE.value(f"SELECT {sql} FROM (SELECT $text::VARCHAR AS c1)", {"text": text})


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("78.88", "78.88"), ("$1,396.41", "1396.41"), ("USD 12", "12"), ("12.5 EUR", "12.5"), ("-$3.10", "-3.10"),
        ("($3.10)", "-3.10"), ("-3.10", "-3.10"), ("1,234,567.5", "1234567.5"), ("1 234.50", "1234.50"), (".5", "0.5"),
        ("USD (12.00)", "-12.00"), ("(12.00) USD", "-12.00"), ("12.50-", "-12.50"), ("₹1,200.00", "1200.00"),
        ("kr 12", "12"), ("Fr. 12.50", "12.50"), ("1’234.50", "1234.50"), ("1\u202f234.50", "1234.50"), ("-", None),
        ("$", None), ("()", None), ("12-50", None),
        ("12,34.5", None), ("see invoice", None), ("1.2.3", None), ("", None),
    ],
)  # fmt: skip
def test_money_with_a_decimal_point(text: str, amount: str | None) -> None:
    assert _one(money_sql("c1", "point"), text) == (None if amount is None else Decimal(amount))


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("1.234,56 €", "1234.56"),
        ("12,5", "12.5"),
        ("1.234", "1234"),
        ("7", "7"),
        ("(1.234,56 €)", "-1234.56"),
        ("€ -3,10", "-3.10"),
        ("12,50-", "-12.50"),
        ("1\u202f234,56 €", "1234.56"),
    ],
)
def test_money_with_a_decimal_comma(text: str, amount: str) -> None:
    assert _one(money_sql("c1", "comma"), text) == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "hours"),
    [("1.5", 1.5), ("1:30", 1.5), ("0:45:00", 0.75), ("1h 30m", 1.5), ("2 hrs", 2.0), ("90 min", 1.5),
     ("1h30", 1.5), ("2 Std.", 2.0), ("1.5 Std.", 1.5), ("1.5 hrs", 1.5), ("1 h 15 min", 1.25),
     ("h", None),
     ("half a day", None)],
)  # fmt: skip
def test_hours(text: str, hours: float | None) -> None:
    assert _one(hours_sql("c1", "point"), text) == hours


def test_the_decimal_sign_is_decided_over_the_column() -> None:
    store = Store.create()
    store.run(
        "CREATE TABLE raw AS FROM (VALUES ('1.234,50', '1,234.50', '-104,9903', '1.234', '1,5'), "
        "('12,5 €', '7', '', '2,345', '1.5'), ('3', '$.50', NULL, '7', '')) AS t(c1, c2, c3, c4, c5)"
    )
    proven = {column: proven_decimal(store, "raw", column) for column in ("c1", "c2", "c3", "c4", "c5")}
    assert proven == {"c1": "comma", "c2": "point", "c3": "comma", "c4": None, "c5": None}


def test_the_usual_sign_is_that_of_the_columns_which_prove_one() -> None:
    assert Decimals.of({"a": "comma", "b": None}) == Decimals("comma", {})
    assert Decimals.of({"a": "comma", "b": "point", "c": None}) == Decimals("point", {"a": "comma"})
    assert Decimals.of({"a": None}) == Decimals("point", {})

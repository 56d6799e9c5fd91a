"""Everything that was assumed in a build, each value with its unit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from pipeline.figures.facts import facts
from pipeline.store import Store

# End of a setting's name: its unit. The first that fits applies; {money} is the portfolio's currency.
_UNITS = (
    ("kg_co2e_per_kwh", "kg CO2e/kWh"),
    ("price_per_kwh", "{money}/kWh"),
    ("price_per_kw_month", "{money}/kW and month"),
    ("_days", "days"),
    ("_spread", "factor"),
    ("_kw", "kW"),
    ("_times", "times the usual highest"),
    ("_min", "minutes"),
    ("_within_m", "metres"),
    ("_percent", "%"),
    ("_years", "years"),
    ("_cost", "{money}"),
    ("payback.years", "years"),
    ("fiscal_year_start", "month, 1 to 12"),
    ("_threshold", "probability, 0 to 1"),
    ("confidence", "probability, 0 to 1"),
    ("few_failures", "failures"),
    ("verdict_prior_cases", "decided cases"),
    ("ballast_factor_hid", "input W per lamp W"),
    ("rated_life_ratio", "ratio"),
    ("shape_when_few", "Weibull shape"),
    ("spares_service_level", "probability, 0 to 1"),
    ("_mohm", "milliohms"),
    ("campaign_least_controls", "controls"),
)
# Settings that say how the folder is read, not what was assumed.
_NOT_ASSUMED = ("format", "name", "currency", "time_zone")


def assumptions_in_force(store: Store) -> pd.DataFrame:
    """Settings of the build, one row each: setting (dotted, as in portfolio.toml), value (text) and unit.

    A setting that was left open has the value 'not set'. Empty for a database without a build.
    """
    info = facts(store)
    rows = [
        {"setting": name, "value": _written(value), "unit": _unit(name, info.money)}
        for name, value in _leaves(info.settings)
        if name not in _NOT_ASSUMED
    ]
    return pd.DataFrame(rows, columns=["setting", "value", "unit"])


def _leaves(page: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in page.items():
        name = f"{above}{key}"
        if isinstance(value, dict):
            yield from _leaves(value, f"{name}.")
        elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
            for number, one in enumerate(value):
                label, rest = _labelled(one, str(number))
                yield from _leaves(rest, f"{name}.{label}.")
        elif not (above.startswith("tariffs.") and value is None) and not (
            value == [] and _may_be_none(name)
        ):
            yield name, value


def _may_be_none(name: str) -> bool:
    """Whether an empty list limits nothing: no campaign, and a tariff that says nothing of times or versions."""
    return name == "campaigns" or name.startswith("tariffs.")


def _labelled(entry: dict[str, Any], number: str) -> tuple[str, dict[str, Any]]:
    """What an entry of a list goes by, and the rest of it."""
    key = next((key for key in ("name", "since", "year") if entry.get(key) is not None), None)
    label = number if key is None else str(entry[key])
    return label, {name: value for name, value in entry.items() if name != key}


def _unit(name: str, money: str) -> str:
    """The unit of a setting; prices per kind of control are named by their table."""
    parts = [name, *name.split(".")[:-1]]
    for part in parts:
        for ending, unit in _UNITS:
            if part.endswith(ending):
                return unit.format(money=money)
    return ""


def _written(value: Any) -> str:
    if value is None:
        return "not set"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(part) for part in value) or "all"
    return f"{value:g}" if isinstance(value, float) else str(value)

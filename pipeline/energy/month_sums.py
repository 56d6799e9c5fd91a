"""What a month of an incident adds up, as text for burn_months.sql and burn_episodes.sql."""

from __future__ import annotations

from pipeline.energy.tariff_parts import LEVELS

QUANTITIES = (
    "excess_hours", "hours_without_load", "kwh", "cost", "co2e_kg", "co2e_market_kg", "supplied_kwh", "co2e_losses_kg",
)  # fmt: skip

# Of burn_costs, for a month. A value that is unknown for a part of the energy is unknown for the month: half a price is
# worse than none. Energy of an account without a supplier's factor takes the grid's.
_COSTS = (
    "CASE WHEN bool_and(cost_{l} IS NOT NULL OR kwh_{l} = 0) THEN coalesce(sum(cost_{l}), 0) END AS cost_{l}",
    "CASE WHEN bool_and(coalesce(supplier_kg_co2e_per_kwh, f.value) IS NOT NULL OR kwh_{l} = 0) THEN coalesce(sum("
    "(kwh_{l} * coalesce(supplier_kg_co2e_per_kwh, f.value))::DECIMAL(18, 6)), 0) END AS co2e_market_kg_{l}",
    "coalesce(sum(kwh_{l}) FILTER (supplier_kg_co2e_per_kwh IS NOT NULL), 0) AS supplied_kwh_{l}",
)
_OF_COSTS = "CASE WHEN bool_or(c.costed) THEN any_value(c.{name}_{l}) ELSE 0 END"
_WHERE_GIVEN = "CASE WHEN any_value(supplied.given) THEN {value} END"
_PARTS = {
    "cost": _OF_COSTS.replace("{name}", "cost"),
    "co2e_kg": "sum((kwh_{l} * f.value)::DECIMAL(18, 6))",
    "co2e_market_kg": _WHERE_GIVEN.replace("{value}", _OF_COSTS.replace("{name}", "co2e_market_kg")),
    "supplied_kwh": _WHERE_GIVEN.replace("{value}", _OF_COSTS.replace("{name}", "supplied_kwh")),
    "co2e_losses_kg": "sum((kwh_{l} * f.value * l.value)::DECIMAL(18, 6))",
}


def month_sums() -> dict[str, str]:
    """The marks of burn_months.sql."""
    sums = [
        f"{_PARTS.get(name, f'sum({name}_{{l}}::DECIMAL(18, 6))').format(l=level)} AS {name}_{level}"
        for name in QUANTITIES
        for level in LEVELS
    ]
    costs = [text.format(l=level) for text in _COSTS for level in LEVELS]
    return {"{sums}": ",\n  ".join(sums), "{costs}": ",\n    ".join(costs)}


def episode_sums() -> dict[str, str]:
    """The marks of burn_episodes.sql: a value that one month does not know the whole does not know either."""
    names = [f"{name}_{level}" for name in QUANTITIES for level in LEVELS]
    sums = [
        f"CASE WHEN bool_and(m.{name} IS NOT NULL) THEN sum(m.{name}::DECIMAL(18, 6)) END AS {name}"
        for name in names
    ]
    return {"{sums}": ",\n  ".join(sums)}

"""Energy wasted by day burning, and what replacing would save."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns, three

_BURN = "\n".join(
    three(name, kind, meaning)
    for name, kind, meaning in (
        ("excess_hours", "number", "hours lit outside the schedule, h"),
        (
            "hours_without_load",
            "number",
            "those of the hours for which no load with watts is on record: no energy, h",
        ),
        ("kwh", "energy", "energy wasted, kWh"),
        (
            "cost",
            "money",
            "cost of that energy, portfolio currency, the sum of burn_costs; empty where a part of it has no price",
        ),
        ("co2e_kg", "energy", "location-based emissions, kg CO2e"),
        (
            "co2e_market_kg",
            "energy",
            "market-based emissions: by the suppliers' factors, and location-based where an account has none for the year, "
            "kg CO2e; empty where the settings give no supplier's factor",
        ),
        ("supplied_kwh", "energy", "that of the energy which a supplier's factor covers, kWh"),
        (
            "co2e_losses_kg",
            "energy",
            "emissions of what the grid lost on the way, location-based, not part of Scope 2, kg CO2e; empty without a rate of loss",
        ),
    )
)

BURN_MONTHS = Table(
    "burn_months", "energy", "a calendar month of an incident that wasted energy", key=("incident_id", "month"),
    columns=columns("incident_id text! the incident\nsite_id text site\nmonth date! first day of the month\n"
                     "connected_w number load behind the failed control, W, where a meter measured the energy scaled to it; where it changed, its mean over the hours lit\n" + _BURN
                     + "\nkwh_draws draws energy wasted in each of 200 draws of onset and end, kWh; draw k belongs to draw k everywhere"),
)  # fmt: skip

BURN_COSTS = Table(
    "burn_costs", "energy", "what an incident cost an account in a month and a period of its tariff",
    columns=columns("""
    incident_id text! the incident
    site_id text site
    month date! first day of the month
    account_id text account that pays; empty where none is registered
    metered flag! false: billed by agreed burn hours, so no cost
    tariff text tariff of the account, as portfolio.toml names it; empty where it has none
    since date day from which the version of the tariff is in force; empty: from ever, or no version
    period text! period of the tariff; unmetered, no tariff or no price in force where there is none
    price_per_kwh number price of a kilowatt-hour in that period, portfolio currency; empty where none is known
    supplier_kg_co2e_per_kwh number factor of the account's supplier for the year, kg CO2e per kWh; empty where none is given
    """) + columns("\n".join((
        three("excess_hours", "number", "hours lit outside the schedule within the period, h"),
        three("kwh", "energy", "energy wasted in them, kWh"),
        three("cost", "money", "cost of that energy, portfolio currency; empty where it has no price"),
    ))),
)  # fmt: skip

BURN_DEMAND = Table(
    "burn_demand", "energy", "what an incident can have added at most to an account's demand charge of a month",
    columns=columns("""
    incident_id text! the incident
    site_id text site
    month date! first day of the month
    account_id text account that pays; empty where none is registered
    tariff text! its tariff, which has a demand charge
    connected_kw number load that burnt within the hours in which demand is measured, kW
    price_per_kw_month number price of the month's highest load in those hours, portfolio currency per kW
    """) + columns("\n".join((
        three("demand_hours", "number", "hours lit outside the schedule within those hours, h"),
        three("demand_cost", "money", "that load at that price, if the month's highest load fell into them, portfolio currency; never part of cost"),
    ))),
)  # fmt: skip

WASTE_PRICES = Table(
    "waste_prices", "energy", "what energy wasted at a site behind a kind of control costs under a tariff, for the payback of a replacement",
    key=("site_id", "kind", "tariff"),
    columns=columns("""
    site_id text! site
    kind text! kind of control, whose timetable says which hours are outside the schedule
    tariff text! tariff, as portfolio.toml names it
    price_per_kwh number mean price over the hours outside the schedule in the year to the log's end, at the prices in force on its last day, portfolio currency; empty where none is known
    """),
)  # fmt: skip

BURN_EPISODES = Table(
    "burn_episodes", "energy", "an incident that wasted energy: the sum of its months", key=("incident_id",),
    columns=columns("incident_id text! the incident\nsite_id text site\ncontrol_id text control row\n"
                     "connected_w number load behind the failed control at the onset (or the nearest on record), W, where a meter measured the energy scaled to it\n" + _BURN
                     + "\nkwh_per_day number energy of one more day lit, at the log's end, for open incidents, kWh\n"
                     "cost_per_day number cost of one more day lit, at the log's end, for open incidents\n"
                     "left_out_reason text why it carries no energy (no load known, no place …); empty when counted"),
)  # fmt: skip

LAMP_LOSSES = Table(
    "lamp_losses", "energy", "lamp life that an incident burnt out of schedule; apart from its energy", key=("incident_id",),
    columns=columns("incident_id text! the incident\nsite_id text site\n" + "\n".join((
        three("lamp_hours", "energy", "luminaires times the hours that they were lit outside the schedule, h"),
        three("lamp_lives", "energy", "those hours over the rated life of the lamps, in lives of one lamp; empty where no rated life is known"),
        three("lamp_cost", "money", "those lives at the cost of replacing the lamps, portfolio currency; empty where no rated life with a cost is known"),
    )) + "\nluminaires_without_life number! luminaires among them, at most at once, whose rated life is not known: no lives and no cost"
        "\nluminaires_without_cost number! those whose rated life or replacement cost is not known: no cost"),
)  # fmt: skip

UNLIT_EPISODES = Table(
    "unlit_episodes", "energy", "an incident whose control failed and left its lamps dark: a safety figure, never set off against energy",
    key=("incident_id",),
    columns=columns("incident_id text! the incident\nsite_id text site\ncontrol_id text control row\n"
                    + three("unlit_hours", "number", "hours in which its lamps should have been lit and were not, h; empty where the place is unknown")
                    + "\nluminaires number luminaires behind its control on the day when they went out; empty where none is known"),
)  # fmt: skip

OPTIONS = Table(
    "options", "payback", "a replacement option for a site and control group", key=("option_id",),
    columns=columns("""
    option_id text! site, group and option
    site_id text! site
    kind text! kind of control
    model text! model now in place
    option text! repair like for like, or replace all now with a rated control
    controls integer! controls concerned
    connected_w number load behind them, W; empty where none is known
    controls_without_energy integer! controls among them whose wasted energy, or its price, is not known and so left out
    years integer! study period, years
    discount_rate number! real discount rate per year
    investment money! paid at the start, portfolio currency
    expected_failures number failures over the study period
    expected_failures_lower number the same at the fit's longer-life limit; empty where there is none
    expected_failures_upper number the same at the fit's shorter-life limit
    kwh number energy wasted over the study period, kWh; empty where none is known
    co2e_kg number emissions over the study period, kg CO2e; empty where none is known
    lcc money life-cycle cost, portfolio currency, present value; empty where the part has no price
    net_savings money against repair like for like, present value
    net_savings_lower money at the fit's longer-life limit; empty where there is none
    net_savings_upper money at the fit's shorter-life limit
    sir number savings-to-investment ratio
    airr number adjusted internal rate of return per year
    irr number internal rate of return per year
    simple_payback_years number simple payback, years
    discounted_payback_years number discounted payback, years
    basis text! where the life of the present and of the new control comes from
    """),
)  # fmt: skip

CASH_FLOWS = Table(
    "cash_flows", "payback", "a kind of payment of an option in one year", key=("option_id", "year", "kind"),
    columns=columns("""
    option_id text! the option
    year integer! 0 is the start; other flows fall at the year's end
    kind text! investment, replacement, residual, energy or maintenance
    amount money! constant money, portfolio currency
    """),
)  # fmt: skip

"""Every figure that a person acts on: one function each, called alike by commands, documents and screens.

They read a built database through its store; the arithmetic is that of the stages. Money is in the portfolio's
currency (``facts(store).currency``); every other unit stands in the name of its column.
"""

from pipeline.figures.activity import burning_now, monthly_activity, open_without_symptom, time_to_restore
from pipeline.figures.also_lost import also_lost
from pipeline.figures.assumptions import assumptions_in_force
from pipeline.figures.business import business_case, cash_flow_table, options_table
from pipeline.figures.campaigns import CampaignResult, campaign_results
from pipeline.figures.carbon import carbon_by
from pipeline.figures.choices import Choices, choices
from pipeline.figures.counts import FailureCount, failures_between
from pipeline.figures.curve_readings import curve_readings
from pipeline.figures.delays import delay_text, detection_delays
from pipeline.figures.differences import GroupDifferences, group_differences
from pipeline.figures.ends_of_lives import ended_by_age, ends_of_lives
from pipeline.figures.energy import energy_by, energy_left_out
from pipeline.figures.entered import entered
from pipeline.figures.factors import factors_in_force
from pipeline.figures.facts import Facts, facts
from pipeline.figures.failures import curve, failure_groups, groupings
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters, Period, fiscal_year, periods
from pipeline.figures.forecasting import NextYear, Outlook, next_year, outlook
from pipeline.figures.headline import headline
from pipeline.figures.inrush import (
    above_rating,
    incidents_of_circuit,
    inrush_circuits,
    inrush_figure,
    stress_effect,
)
from pipeline.figures.intake import (
    coverage,
    flagged_reasons,
    left_out_reasons,
    rejected_reasons,
    rows_left_out,
    windows_in_force,
    windows_proposed,
)
from pipeline.figures.level import DataLevel, data_level
from pipeline.figures.life_causes import ALL_KINDS, LifeCauses, cause_scopes, life_causes
from pipeline.figures.lifespans import Lifespan, soonest_and_longest
from pipeline.figures.log_summary import log_summary
from pipeline.figures.meters import (
    ADD_METERS,
    account_days,
    account_hours,
    meter_accounts,
    meter_episodes,
    meter_files,
    meter_gaps,
    meter_incidents,
    meter_reconciliation,
    unreported_energy,
    unreported_text,
)
from pipeline.figures.partial_years import partial_years_text
from pipeline.figures.rates import RATE_PARTS, incident_rates, incidents_of_part
from pipeline.figures.repeats import COUNTED as REPEATS_COUNTED
from pipeline.figures.repeats import RepeatCalls, repeat_calls
from pipeline.figures.review import (
    By,
    before_and_now,
    controls_to_choose,
    decisions_made,
    doubtful_readings,
    open_ties,
    rules_learnt,
    verdict_accuracy,
)
from pipeline.figures.sources import (
    Behind,
    behind,
    calls_behind,
    checks,
    files_read,
    headline_keys,
    incidents_behind,
    incidents_of_group,
    notices,
    rejected,
)
from pipeline.figures.statement import (
    Statement,
    changed_inputs,
    changed_years,
    inputs_read,
    kind_of_year,
    statement,
    statements,
)
from pipeline.figures.statement_notes import statement_notes
from pipeline.figures.tariff_costs import (
    cost_by_period,
    demand_by_tariff,
    has_demand_charge,
    savings_prices,
    taxes_statement,
)
from pipeline.figures.trends import activity_with_exposure, count_trends
from pipeline.figures.weibull_check import WeibullCheck, weibull_check, weibull_checks

__all__ = [
    "ADD_METERS",
    "ALL_KINDS",
    "EVERYTHING",
    "RATE_PARTS",
    "REPEATS_COUNTED",
    "Behind",
    "By",
    "CampaignResult",
    "Choices",
    "DataLevel",
    "Facts",
    "FailureCount",
    "Figure",
    "Filters",
    "GroupDifferences",
    "LifeCauses",
    "Lifespan",
    "NextYear",
    "Outlook",
    "Period",
    "RepeatCalls",
    "Statement",
    "WeibullCheck",
    "above_rating",
    "account_days",
    "account_hours",
    "activity_with_exposure",
    "also_lost",
    "assumptions_in_force",
    "before_and_now",
    "behind",
    "burning_now",
    "business_case",
    "calls_behind",
    "campaign_results",
    "carbon_by",
    "cash_flow_table",
    "cause_scopes",
    "changed_inputs",
    "changed_years",
    "checks",
    "choices",
    "controls_to_choose",
    "cost_by_period",
    "count_trends",
    "coverage",
    "curve",
    "curve_readings",
    "data_level",
    "decisions_made",
    "delay_text",
    "demand_by_tariff",
    "detection_delays",
    "doubtful_readings",
    "ended_by_age",
    "ends_of_lives",
    "energy_by",
    "energy_left_out",
    "entered",
    "factors_in_force",
    "facts",
    "failure_groups",
    "failures_between",
    "files_read",
    "fiscal_year",
    "flagged_reasons",
    "group_differences",
    "groupings",
    "has_demand_charge",
    "headline",
    "headline_keys",
    "incident_rates",
    "incidents_behind",
    "incidents_of_circuit",
    "incidents_of_group",
    "incidents_of_part",
    "inputs_read",
    "inrush_circuits",
    "inrush_figure",
    "kind_of_year",
    "left_out_reasons",
    "life_causes",
    "log_summary",
    "meter_accounts",
    "meter_episodes",
    "meter_files",
    "meter_gaps",
    "meter_incidents",
    "meter_reconciliation",
    "monthly_activity",
    "next_year",
    "notices",
    "open_ties",
    "open_without_symptom",
    "options_table",
    "outlook",
    "partial_years_text",
    "periods",
    "rejected",
    "rejected_reasons",
    "repeat_calls",
    "rows_left_out",
    "rules_learnt",
    "savings_prices",
    "soonest_and_longest",
    "statement",
    "statement_notes",
    "statements",
    "stress_effect",
    "taxes_statement",
    "time_to_restore",
    "unreported_energy",
    "unreported_text",
    "verdict_accuracy",
    "weibull_check",
    "weibull_checks",
    "windows_in_force",
    "windows_proposed",
]

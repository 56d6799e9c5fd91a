"""Every table of a built database: its columns, their types, units and meaning.

The one description from which the tables are created and docs/data-model.md is written
(``python -m pipeline.tables`` prints that page; a test compares the two).
Times are the site's local wall clock; money is in the portfolio's currency.
"""

from __future__ import annotations

from pipeline.tables.builds import BUILD_INFO, CHECKS, NOTICES
from pipeline.tables.decided import DECIDED_CASES, DECISIONS, VERDICT_RULES
from pipeline.tables.emissions import FACTORS_IN_FORCE
from pipeline.tables.incidents import FINDINGS, INCIDENTS
from pipeline.tables.intake import CALLS, REJECTED_ROWS, SOURCE_FILES
from pipeline.tables.lives import (
    FAILURE_RATES,
    LIFE_CURVES,
    LIFE_DRAWS,
    LIFE_FITS,
    LIFE_FITS_AS_READ,
    LIVES,
)
from pipeline.tables.loads import CONTROL_LOADS, DRIVER_GROUPS
from pipeline.tables.meters import (
    DETECTION_DELAYS,
    METER_ACCOUNTS,
    METER_DAYS,
    METER_EPISODES,
    METER_FILES,
    METER_GAPS,
    METER_HOURS,
    METER_MATCHES,
)
from pipeline.tables.money import (
    BURN_COSTS,
    BURN_DEMAND,
    BURN_EPISODES,
    BURN_MONTHS,
    CASH_FLOWS,
    LAMP_LOSSES,
    OPTIONS,
    UNLIT_EPISODES,
    WASTE_PRICES,
)
from pipeline.tables.registers import (
    ACCOUNTS,
    CONTROLS,
    FIXTURES,
    OBSERVATION_WINDOWS,
    POSITIONS,
    REGISTER_ROWS_LEFT_OUT,
    SITES,
)
from pipeline.tables.schema import Table

TABLES: tuple[Table, ...] = (
    SOURCE_FILES, REJECTED_ROWS, CALLS,
    SITES, ACCOUNTS, POSITIONS, CONTROLS, FIXTURES, CONTROL_LOADS, DRIVER_GROUPS, REGISTER_ROWS_LEFT_OUT,
    OBSERVATION_WINDOWS,
    FINDINGS, INCIDENTS, DECISIONS, VERDICT_RULES, DECIDED_CASES,
    METER_FILES, METER_GAPS, METER_ACCOUNTS, METER_DAYS, METER_HOURS, METER_EPISODES, METER_MATCHES, DETECTION_DELAYS,
    LIVES, LIFE_DRAWS, LIFE_FITS, LIFE_FITS_AS_READ, LIFE_CURVES, FAILURE_RATES,
    FACTORS_IN_FORCE, BURN_MONTHS, BURN_COSTS, BURN_DEMAND, BURN_EPISODES, LAMP_LOSSES, UNLIT_EPISODES, WASTE_PRICES,
    OPTIONS, CASH_FLOWS,
    BUILD_INFO, CHECKS, NOTICES,
)  # fmt: skip

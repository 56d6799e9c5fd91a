"""The empty portfolio that ``dayburn new`` lays out."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.portfolio import REGISTERS
from pipeline.register_columns import COLUMNS

_SETTINGS = """\
# The settings of this portfolio. Every number carries its unit in its name.
# A line that is commented out shows the default; docs/user-guide.md explains each.
format = 1
name = {name}
currency = {currency}                 # ISO 4217
time_zone = {time_zone}        # IANA zone; call times are this wall clock
fiscal_year_start = 1             # month in which the fiscal year begins, 1 to 12
# default_grid_region = "RMPA"    # grid region for emission factors of sites that name none
# default_tariff = "area lighting"
# emission_edition = "eGRID2023"  # one published table for all years; without it each year takes its own

# [log]                           # when calls were kept; empty: first and last date in the calls
# start = 2020-01-01
# end = 2024-12-31

# [privacy]
# mask_free_text = true           # e-mail addresses, phone numbers and names in call text
# keep_technician_initials = false

# [assumptions]
# detection_delay = "assumed"     # or "estimated": from meters and rounds by day, where they can carry it
# detection_delay_days = 14.0     # mean days from the start of day burning to the first call
# detection_delay_spread = 2.5    # factor: 90 % sure that the true mean delay is within it, up or down
# onset_cap_days = 60.0           # day burning is never dated further back than this before its call
# stale_after_days = 90.0         # an order open longer than this does not date the repair
# same_fault_days = 30.0          # reports at one place within this many days are one fault
# callback_days = 30.0            # a visit this soon after a completed one is a callback
# place_within_m = 20.0           # a call this near to a registered place, and to no other, is tied to it
# same_place_within_m = 8.0       # without a register, calls this near to one another are at one place
# control_failed_threshold = 0.5  # probability from which an incident counts as a control failure
# verdict_prior_cases = 10.0      # decided cases that a rule's built-in probability is worth
# lights_on_after_sunset_min = 15.0
# lights_off_before_sunrise_min = 15.0
# ballast_factor_hid = 1.2        # input watts per lamp watt, for fixtures registered by lamp watts
# confidence = 0.95               # of every limit shown
# few_failures = 5                # below this a group borrows the shape of its life from its kind
# shape_when_few = 2.0            # Weibull shape where no kind can lend one
# spares_service_level = 0.95     # chance that a year's stock of a model suffices
# source_impedance_mohm = 430.0   # of the supply at the switching device, for the source-limited inrush
# campaign_least_controls = 10    # planned replacements at a site that make a campaign ...
# campaign_within_days = 60.0     # ... if they lie this close together
# campaign_selection_days = 730.0 # period before a campaign that may have led to the choice of its sites

# [meters]                        # how day burning is looked for in the readings of meters/
# least_step_kw = 0.05            # smaller steps of the load by day are not looked for
# least_days = 2                  # nor stretches shorter than this, in days
# margin_min = 45.0               # minutes around switching times that are left out
# match_days = 3.0                # a call may lie this many days outside the stretch that it reports
# absurd_times = 10.0             # a reading this many times the account's usual highest is kept out

# [detection_delays."summer"]     # days on which the delay is another; the first that fits a day holds
# days = ["06-05 to 08-14"]
# weekdays = ["mon", "tue", "wed", "thu", "fri"]
# delay_days = 25                 # the mean delay, if all days were like these

# [schedules."after curfew"]      # lamps lit otherwise than from dusk to dawn; the first that fits a day holds
# kinds = ["time switch"]         # and/or sites = ["S1"]; days and weekdays as above
# lit = ["sunset+15 to 23:00", "05:00 to sunrise-15"]
# occupied = ["06:00 to 22:00"]   # and only while somebody is there

# [prices]                        # in the portfolio's currency
# repair_visit_cost = 160
# planned_replacement_labour_cost = 55
# control_cost = {{ photocontrol = 25, "time switch" = 140 }}
# rated_control_cost = {{ photocontrol = 60, "time switch" = 220 }}

# [payback]
# years = 15                      # study period
# discount_rate_percent = 3.0     # real, per year
# rated_life_ratio = 2.0          # life of a rated control over the present one, where the log cannot tell

# [tariffs."area lighting"]
# price_per_kwh = 0.12
# taxes_included = false

# [tariffs."time of use"]         # prices by season, kind of day and hour: see docs/user-guide.md
# taxes_included = false
# tax_percent = 8.0               # of the price without taxes
# holidays = ["01-01", "2024-11-28"]
# [[tariffs."time of use".versions]]
# since = 2023-01-01              # prices before it stand under a line [[...versions]] of their own
# demand = {{ price_per_kw_month = 9.5, weekdays = ["mon", "tue", "wed", "thu", "fri"], hours = ["12:00 to 18:00"] }}
# periods = [
#   {{ name = "peak", price_per_kwh = 0.24, weekdays = ["mon", "tue", "wed"], hours = ["12:00 to 18:00"] }},
#   {{ name = "off-peak", price_per_kwh = 0.09, other_times = true }},
# ]

# [emissions.RMPA]                # a factor of your own for a grid region; several years: [[emissions.RMPA]]
# kg_co2e_per_kwh = 0.47
# year = 2023
# source = "who published it, and where"

# [supplier_emissions."ACCOUNT"]  # market-based: the factor of an account's supplier, by year
# kg_co2e_per_kwh = 0.0
# year = 2023
# source = "the supplier's statement"

# [grid_losses.RMPA]              # shown apart, never in Scope 2
# loss_percent = 5.0              # of the energy fed in
# year = 2023
# source = "who published it, and where"

# [[campaigns]]                   # a planned replacement to be judged; others are found in the data
# name = "Summer replacement"
# sites = ["S1", "S2"]            # site_id; leave the line out for all sites
# from = 2023-06-01
# to = 2023-08-31
"""


def contents(folder: Path) -> list[Path]:
    """What lies in a folder that is to be filled, none if it is not there yet; raises InputFaults if it is a file."""
    if not folder.is_dir():
        if os.path.lexists(folder):
            raise InputFaults.one(str(folder), "is not a folder.", "Name a new folder.")
        return []
    return list(folder.iterdir())


def lay_out(folder: Path, currency: str, time_zone: str) -> None:
    """Make an empty portfolio: settings page, register headers and the folders for calls and layouts."""
    if contents(folder):
        raise InputFaults.one(str(folder), "is not empty.", "Name a new folder.")
    for part in ("calls", "layouts"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    page = _SETTINGS.format(
        name=_toml(folder.resolve().name), currency=_toml(currency), time_zone=_toml(time_zone)
    )
    (folder / "portfolio.toml").write_text(page, encoding="utf-8")
    for register in REGISTERS:
        header = ",".join(COLUMNS[register]) + "\n"
        (folder / f"{register}.csv").write_text(header, encoding="utf-8", newline="")


def _toml(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'

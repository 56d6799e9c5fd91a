"""Interval readings of electricity accounts, the day burning found in them, and how it meets the calls."""

from __future__ import annotations

from textwrap import dedent

from pipeline.tables.schema import Table, columns, three

METER_FILES = Table(
    "meter_files", "meters", "a file of interval readings", key=("file_id",),
    columns=columns("""
    file_id text! first 16 hex digits of the file's SHA-256
    name text! path inside the portfolio
    unit text! kwh (energy of the interval) or kw (its mean load)
    rows_read integer! rows below the header, blank ones left out
    kept integer! readings that are used
    left_out integer! readings kept out, with their reasons in meter_gaps
    accounts integer! accounts with a reading that is used
    interval_min text lengths of its intervals, min, as inferred from the times
    clock text times as the local wall clock, with offsets, or both
    first_at time start of the first interval used
    last_at time end of the last interval used
    """),
)  # fmt: skip

METER_GAPS = Table(
    "meter_gaps", "meters", "a run of readings of an account that are kept out for one reason, or that are missing",
    columns=columns("""
    file_id text the file; empty for missing intervals
    account_id text account, as written
    reason text! why; 'missing' where no row stands for the intervals
    first_row integer first row in the file; empty for missing intervals
    last_row integer last row in the file
    intervals integer! readings, or intervals without one
    first_stamp text time of the first as written; for missing intervals their start, local wall clock
    last_stamp text time of the last
    """),
)  # fmt: skip

METER_ACCOUNTS = Table(
    "meter_accounts", "meters", "an account with readings, and whether its lighting can be told", key=("account_id",),
    columns=columns("""
    account_id text! the account
    sites texts sites whose lighting it pays
    interval_min number length of most of its intervals, min
    first_day date first day with readings
    last_day date last day with readings
    days integer! days with enough readings by day to be judged
    missing_intervals integer! intervals without a reading between its first and its last
    standing_kw number load by day when nothing burns, kW
    night_kw number median load at night, kW
    switch_kw number median step of the load where lighting switches at dusk and dawn, kW
    other_load flag it carries more than lighting: searched after season and weekday are taken out
    noise_kw number standard deviation of the daily mean load by day about its level, day-to-day correlation included, kW
    least_step_kw number smallest step that is found if it lasts a week, kW
    refused text why no day burning can be told from it; empty where it is searched
    """),
)  # fmt: skip

METER_DAYS = Table(
    "meter_days", "meters", "a solar day of an account with readings", key=("account_id", "day"),
    columns=columns("""
    account_id text! the account
    day date! local date of its noon
    off_at time! when its lamps should go out, local wall clock
    on_at time! when they should light
    off_hours number! hours between the two, h
    readings integer! readings well inside them
    day_kw number mean load well inside the hours in which lamps should be off, kW
    night_kw number mean load well inside the hours in which they should be on, kW
    switch_kw number mean of the load's rise at dusk and fall at dawn, kW
    expected_kw number load by day if nothing burns, kW; empty where the account is refused
    excess_kw number of the day's mean, what belongs to episodes of day burning, kW
    """),
)  # fmt: skip

METER_HOURS = Table(
    "meter_hours", "meters", "an hour of an account with readings", key=("account_id", "hour_s"),
    columns=columns("""
    account_id text! the account
    hour_s integer! its start, s since 1970-01-01 UTC: an hour that the clocks give twice is two
    hour_at time! its start, local wall clock
    kw number! mean load of its readings, kW
    """),
)  # fmt: skip

METER_EPISODES = Table(
    "meter_episodes", "meters", "a stretch of day burning found in an account's readings", key=("episode_id",),
    columns=columns("episode_id text! account and onset\naccount_id text! the account\n"
                    + three("onset", "time", "when it began: low the latest, high the earliest") + "\n"
                    + three("ended", "time", "when it ended") + dedent("""
    begins_before_data flag! it was there when the readings begin: its onset is not known
    is_open flag! it was there when the readings end: its end is not known
    step_kw number! rise of the load by day, kW
    days number! from onset to end, days
    excess_hours number! hours in which lamps should have been off, h
    kwh energy! energy used above the account's own level by day, kWh
    kwh_lower energy! its 95 % limit from the account's noise
    kwh_upper energy! likewise
    filled_hours number! of the excess hours, those without readings, taken at the episode's mean, h
    found text! both, never called in, or outside the log
    """)),
)  # fmt: skip

METER_MATCHES = Table(
    "meter_matches", "meters", "an incident of day burning whose lamps an account with readings pays", key=("incident_id",),
    columns=columns("""
    incident_id text! the incident
    account_id text! account of its lamps
    episode_id text the episode that it reports; empty without one
    verdict text! both, not on the meter, too small to see, no readings then, or account refused
    share number part of the episode's energy that is this incident's; several incidents share by their load
    delay_days number from the onset on the meter to the first report, days
    delay_lower_days number from the onset's latest to the report, days
    delay_upper_days number from the onset's earliest
    onset_measured flag! its onset is the meter's
    end_measured flag! its end is the meter's
    kwh_measured energy measured energy, kWh; empty where the meter did not see both ends
    kwh_measured_lower energy its 95 % limit
    kwh_measured_upper energy likewise
    """),
)  # fmt: skip

DETECTION_DELAYS = Table(
    "detection_delays", "meters", "the mean detection delay, as set and as estimated", key=("origin",),
    columns=columns("""
    origin text! assumed, or estimated
    in_force flag! it dates the onset of incidents that no meter measured
    delay_days number mean time from the start of day burning to its first call, days; empty where it cannot be estimated
    lower_days number 90 % limit; of the assumed delay by detection_delay_spread
    upper_days number likewise
    factor number over the assumed delays, season and weekday included
    measured integer! episodes on a meter, called in
    unreported integer! episodes on a meter that ended, or still burn, without a call
    patrol_reports integer! reports some time after a round by day that had found the place in order
    patrol_finds integer! faults that a round by day found first
    note text! what speaks for it, or why it cannot be estimated
    """),
)  # fmt: skip

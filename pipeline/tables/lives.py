"""Lives of controls, and what is fitted to them."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

LIVES = Table(
    "lives", "lives", "a stretch of a control's life (several alike by quantity)", key=("life_id", "segment"),
    columns=columns("""
    life_id text! control row and order of succession at the place
    segment integer! 1 for the first stretch; a new one where the load changes
    control_id text! control row of the register
    position text! place
    site_id text! site
    kind text kind of control
    model text model
    switching text switching
    lamp text lamp technology behind it in this stretch
    inrush_stress number combined driver peak over rated peak of the switching device; empty where either is unknown
    inrush_unverified flag a driver peak in that stress is a default by running current, or its drivers are not counted
    operations_per_year number switching operations per year
    register_case text! keeps removed, snapshot, or begun in the log: which rule set entry_days
    started_on date installation date; empty where unknown
    entered_on date! first day of the stretch under observation
    ended_on date! last day of the stretch
    entry_days number age at which it came under observation, days; empty where the start is unknown
    exit_days number age at its end, of a failure the latest it can have been (its report), days; empty where the start is unknown
    exit_low_days number age at which it is last known to have worked before its failure, days; empty where exit_days is exact
    exit_central_days number age at its end as best estimated, at ended_on, days; empty where the start is unknown
    failed flag! ended by failure of the control
    end_reason text! fails on, fails off, erratic, damage, planned, load changed, record interrupted, removed, in service or unknown
    quantity integer! controls alike
    imputed flag! a life in a batch as the last draw left it: which member failed is not known
    incident_id text incident that ended it
    excluded_reason text why it counts in rates only and not in ages; empty when it enters the age analyses
    """),
)  # fmt: skip

LIFE_DRAWS = Table(
    "life_draws", "lives", "a stretch that a draw takes out of lives (quantity below 0) or sets instead (above 0)",
    key=("draw", "row_in_draw"),
    columns=columns("""
    draw integer! number of the draw, from 1; lives with its rows added is one possible history
    row_in_draw integer! number of the row
    control_id text! control row of the register
    site_id text! site
    kind text kind of control
    model text model
    switching text switching
    lamp text lamp technology behind it in this stretch
    inrush_stress number as in lives
    operations_per_year number as in lives
    started_on date! when its life began
    entered_on date! first day of the stretch under observation
    ended_on date! last day of the stretch
    entry_days number! age at which it came under observation, days
    exit_days number! as in lives
    exit_low_days number as in lives
    exit_central_days number! as in lives
    failed flag! ended by failure of the control in this draw
    quantity integer! controls alike; below 0 where the stretch of lives is taken away
    incident_id text incident that ended it
    """),
)  # fmt: skip

_FIT_COLUMNS = """
    grouping text! what the groups are: all, kind, model, switching, lamp, or model and lamp
    group_name text! the group
    units integer! controls that enter; one whose life is cut where its load changes counts once
    failures integer! control failures that enter, as the verdicts stand
    failures_expected number control failures that enter, mean over the draws
    control_years number! time at risk, control-years
    method text! weibull, weibull pooled (over draws of what is open), fixed shape, or none
    imputations integer draws that the fit is pooled over; 0 where nothing was open
    shape number Weibull shape
    shape_lower number lower limit
    shape_upper number upper limit
    scale_days number Weibull scale, days
    scale_days_lower number lower limit, days
    scale_days_upper number upper limit, days
    b10_days number age by which 10 % have failed, days
    b10_days_lower number lower limit, days
    b10_days_upper number upper limit, days
    mean_life_days number mean life, days
    mean_life_days_lower number lower limit, days
    mean_life_days_upper number upper limit, days
    log_likelihood number log-likelihood at the fit (ages in days); empty where pooled
    confidence number! confidence of the limits, 0 to 1
    note text what a reader must know, or why there is no fit
    """

LIFE_FITS = Table(
    "life_fits", "lives", "a group's fit, doubtful failures and members of batches drawn",
    key=("grouping", "group_name"), columns=columns(_FIT_COLUMNS),
)  # fmt: skip

LIFE_FITS_AS_READ = Table(
    "life_fits_as_read", "lives", "a group's fit if every doubtful failure counts as read",
    key=("grouping", "group_name"), columns=columns(_FIT_COLUMNS),
)  # fmt: skip

LIFE_CURVES = Table(
    "life_curves", "lives", "a step of a group's Kaplan-Meier curve", key=("grouping", "group_name", "age_days"),
    columns=columns("""
    grouping text! as in life_fits
    group_name text! the group
    age_days number! age, days
    at_risk integer! controls at risk just before
    failures integer! failures at that age
    survival number! Kaplan-Meier estimate, 0 to 1
    lower number lower limit
    upper number upper limit
    """),
)  # fmt: skip

FAILURE_RATES = Table(
    "failure_rates", "lives", "a group's failures per time at risk, whatever their ages", key=("grouping", "group_name"),
    columns=columns("""
    grouping text! as in life_fits
    group_name text! the group
    failures integer! control failures tied to the group
    control_years number! time under observation, control-years
    failures_per_100_control_years number failures per 100 control-years
    lower number exact Poisson lower limit
    upper number exact Poisson upper limit
    confidence number! confidence of the limits, 0 to 1
    """),
)  # fmt: skip

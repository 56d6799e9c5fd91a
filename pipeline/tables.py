"""Every table of a built database: its columns, their types, units and meaning.

The one description from which the tables are created and docs/data-model.md is written
(``python -m pipeline.tables`` prints that page; a test compares the two).
Times are the site's local wall clock; money is in the portfolio's currency.
"""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import dedent

TEXT, TEXTS = "VARCHAR", "VARCHAR[]"
INTEGER, NUMBER, FLAG = "BIGINT", "DOUBLE", "BOOLEAN"
DATE, TIME = "DATE", "TIMESTAMP"
MONEY, ENERGY = "DECIMAL(18,4)", "DECIMAL(18,6)"


@dataclass(frozen=True)
class Column:
    """A column: name, DuckDB type and meaning (with unit)."""

    name: str
    type: str
    meaning: str
    required: bool = False


@dataclass(frozen=True)
class Table:
    """A table: what one row is, the stage that writes it, and its columns."""

    name: str
    stage: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    def create_sql(self) -> str:
        """CREATE TABLE text, with the meanings kept as comments in the database itself."""
        lines = [f'"{c.name}" {c.type}{" NOT NULL" if c.required else ""}' for c in self.columns]
        if self.key:
            lines.append("PRIMARY KEY (" + ", ".join(f'"{name}"' for name in self.key) + ")")
        body = ",\n  ".join(lines)
        comments = [f"COMMENT ON TABLE {self.name} IS {_quoted('a row is ' + self.row_is)};"]
        comments += [
            f'COMMENT ON COLUMN {self.name}."{c.name}" IS {_quoted(c.meaning)};' for c in self.columns
        ]
        return f"CREATE TABLE {self.name} (\n  {body}\n);\n" + "\n".join(comments)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _columns(text: str) -> tuple[Column, ...]:
    """Columns from lines of ``name TYPE meaning``; ``!`` after the type means NOT NULL."""
    types = {
        "text": TEXT, "texts": TEXTS, "integer": INTEGER, "number": NUMBER, "flag": FLAG,
        "date": DATE, "time": TIME, "money": MONEY, "energy": ENERGY,
    }  # fmt: skip
    columns = []
    for line in dedent(text).strip().splitlines():
        name, kind, meaning = line.split(None, 2)
        columns.append(Column(name, types[kind.rstrip("!")], meaning.strip(), kind.endswith("!")))
    return tuple(columns)


def _three(name: str, kind: str, meaning: str) -> str:
    """Low, central and high of one quantity."""
    return "\n".join(
        f"{name}_{level} {kind} {meaning}, {level} value" for level in ("low", "central", "high")
    )


SOURCE_FILES = Table(
    "source_files", "ingest", "an export that was read", key=("file_id",),
    columns=_columns("""
    file_id text! first 16 hex digits of the file's SHA-256
    name text! path inside calls/
    sha256 text! SHA-256 of the file's bytes
    layout text! name of the column layout that applied
    source text! work-order system that the layout speaks for; call numbers are unique within it
    sheet text worksheet read, for workbooks
    header_row integer row of the header, counted from 1
    rows_read integer! data rows read (titles, blanks and totals are not data)
    calls integer! rows that are a call's latest state
    superseded integer! rows whose call has a later state elsewhere, or that repeat a row exactly
    rejected integer! rows that could not become a call
    not_data integer! titles, headers, blank lines and totals
    flagged integer! calls of this file that carry at least one flag
    date_order text day/month order decided over the whole column, and how
    unused_columns texts columns of the file that the layout does not use
    withheld_columns texts columns never loaded because they hold names or contact data
    """),
)  # fmt: skip

REJECTED_ROWS = Table(
    "rejected_rows", "ingest", "a row that could not become a call", key=("file_id", "row_number"),
    columns=_columns("""
    file_id text! the export
    row_number integer! row in the file, counted from 1 (for workbooks: the sheet's row)
    reason text! why it could not be used, and which column
    raw text! the row as masked JSON, column name to text; the original stays in the file at that row
    """),
)  # fmt: skip

CALLS = Table(
    "calls", "ingest", "a call, in one of its states; superseded_by is empty for the latest", key=("call_id",),
    columns=_columns("""
    call_id text! made from source and call number (without one: report time, site, problem text, occurrence)
    file_id text! export it came from
    row_number integer! row in that export, counted from 1
    source text! work-order system
    call_number text the system's own number
    reported_at time when it was reported, local wall clock
    completed_at time completion stamp, local wall clock
    status text! open, completed, cancelled or unknown
    work_type text! reactive, planned, inspection or project
    site_text text the site as written
    asset_text text the asset tag as written
    address_text text the address as written
    latitude number degrees north as written
    longitude number degrees east as written
    problem_text text what was reported, masked
    action_text text what was done, masked
    category_text text the system's own category columns, joined by ' | '
    labour_hours number hours booked
    labour_cost money labour, portfolio currency
    material_cost money material, portfolio currency
    contract_cost money contractor's invoice, portfolio currency
    is_lighting flag! the call concerns exterior lighting, judged by category columns and text
    is_lighting_by_text flag! the same, judged by problem and action text alone
    lighting_evidence text the words or the category that decided
    superseded_by text call_id of the later state of the same call
    duplicate_of text call_id of the call that this one says it repeats
    no_finding_reason text why a lighting call yields no finding (cancelled, superseded)
    flags texts what is odd about it (completed before reported, default coordinate, outside the log …)
    """),
)  # fmt: skip

SITES = Table(
    "sites", "registers", "a site", key=("site_id",),
    columns=_columns("""
    site_id text! the register's own id
    name text name
    aliases texts other names the site goes by
    latitude number degrees north
    longitude number degrees east
    time_zone text! IANA zone
    grid_region text region of the electricity grid, for emission factors
    account_id text default electricity account
    observed_from date first day its calls were kept, if the register says so
    observed_to date last day its calls were kept, if the register says so
    """),
)  # fmt: skip

ACCOUNTS = Table(
    "accounts", "registers", "an electricity account", key=("account_id",),
    columns=_columns("""
    account_id text! the account
    tariff text name of the tariff in portfolio.toml
    metered flag! false: billed by agreed burn hours, so day burning costs energy but no money
    """),
)  # fmt: skip

POSITIONS = Table(
    "positions", "registers", "a place that a control sits in; successive controls live there", key=("position",),
    columns=_columns("""
    position text! site_id and the register's position label joined by ' / '; without a register, the place as called in
    site_id text site
    label text the register's position label
    latitude number degrees north
    longitude number degrees east
    origin text! register, or calls (formed from the calls' own address)
    """),
)  # fmt: skip

CONTROLS = Table(
    "controls", "registers", "a row of the control register: one control, or a batch of like ones", key=("control_id",),
    columns=_columns("""
    control_id text! asset tag
    site_id text! site
    position text! place it sits in
    kind text photocontrol, time switch, timer, occupancy sensor or contactor; empty where unknown
    model text model
    mounting text how it is mounted
    switching text! zero-cross, plain relay, solid state or unknown
    rated_inrush_a number rated peak inrush current, A
    rated_load_a number rated steady current, A
    voltage_v number line voltage, V
    quantity integer! controls in the row
    installed_on date installation date
    removed_on date removal date
    removal_reason text why it was removed
    purchased_on date purchase date
    warranty_years number warranty, years
    operations_per_year number switching operations per year
    switched_by text control_id of the device that carries its lamps' current
    as_of date date of the snapshot; empty: the register is kept up and keeps removed controls
    latitude number degrees north
    longitude number degrees east
    row_number integer! row in controls.csv, counted from 1
    """),
)  # fmt: skip

FIXTURES = Table(
    "fixtures", "registers", "a group of luminaires behind one control row, for a span of dates", key=("fixture_id",),
    columns=_columns("""
    fixture_id text! the register's own id
    control_id text! control row that switches them
    account_id text electricity account; empty: the site's
    lamp text lamp technology (LED, HPS, MH, CFL, LPS, induction, fluorescent …)
    luminaires number! luminaires behind the whole control row (all controls of a batch together)
    watts_each number watts per luminaire as registered, W
    watts_basis text! input (driver or ballast included), lamp, or unknown
    input_watts_each number watts drawn per luminaire with ballast or driver, W
    price_per_kwh number price of energy there, portfolio currency; 0 on an unmetered account, empty without a tariff
    drivers number drivers in the group
    inrush_peak_a_each number peak inrush current per driver, A
    inrush_width_us_each number width of that peak, µs
    rated_life_h number rated lamp life, h
    replacement_cost money cost to replace one luminaire's lamp, portfolio currency
    installed_on date in place from
    removed_on date in place until
    row_number integer! row in fixtures.csv, counted from 1
    """),
)  # fmt: skip

OBSERVATION_WINDOWS = Table(
    "observation_windows", "build", "a span in which a site's calls were really kept; gaps are not time at risk",
    key=("site_id", "observed_from"),
    columns=_columns("""
    site_id text! site
    observed_from date! first day
    observed_to date! last day
    origin text! site register, settings, or calls (first and last report)
    """),
)  # fmt: skip

FINDINGS = Table(
    "findings", "tie", "a fault that a call reports or repairs", key=("finding_id",),
    columns=_columns("""
    finding_id text! made from call_id and part number
    call_id text! the call
    part_number integer! 1 for the first fault of the call
    site_id text site
    site_match text how the site was found: id, name, alias, misspelling, address, tag, or empty
    control_id text control row
    position text place
    tie_method text how the place was found: tag, label, kind, site, address, or empty
    tie_confidence number 0 to 1
    symptom text! day burning, out, circuit out, cycling, dim, flicker, wrong time, damage or unknown
    component text! control, lamp, driver, wiring, supply, pole, other or unknown
    action text! replaced, reset, repaired, cleaned, bypassed, none found, referred, duplicate, planned or unknown
    cause text hand, bypass, building automation, covered eye, power outage, daylight saving, storm, vandalism …
    units integer! how many pieces
    failed_probability number! probability that the control itself failed, 0 to 1
    evidence text the words that decided, and the rule
    incident_id text the incident it belongs to
    """),
)  # fmt: skip

INCIDENTS = Table(
    "incidents", "tie", "one fault at one place over all its calls, until the light works again", key=("incident_id",),
    columns=_columns(dedent("""
    incident_id text! from its first finding
    site_id text site
    control_id text control row
    position text place
    symptom text! as for findings
    component text! as for findings
    action text! the last decisive action
    failure_mode text fails on, fails off, erratic, or empty when the control did not fail
    failed_probability number! probability that the control failed, 0 to 1
    control_failed flag! failed_probability is at or above control_failed_threshold
    cause text cause where it was said
    units integer! controls concerned
    first_reported_at time! first report
    """) + _three("onset", "time", "when it began") + "\n" + _three("restored", "time", "when the light worked again")
    + dedent("""
    is_open flag! not restored by the end of the log
    last_evidence_at time latest report or visit
    last_evidence text what that report or visit said
    calls integer! calls merged, duplicates included
    callbacks integer! visits for the same fault soon after a completed one
    no_fault_found flag! a visit found nothing wrong and nothing else was found
    flags texts stale order, batch closed …
    """)),
)  # fmt: skip

LIVES = Table(
    "lives", "lives", "a stretch of a control's life (several alike by quantity)", key=("life_id", "segment"),
    columns=_columns("""
    life_id text! control row and order of succession at the place
    segment integer! 1 for the first stretch; a new one where the load changes
    control_id text! control row of the register
    position text! place
    site_id text! site
    kind text kind of control
    model text model
    switching text switching
    lamp text lamp technology behind it in this stretch
    inrush_stress number combined driver peak over rated peak of the switching device
    operations_per_year number switching operations per year
    register_case text! keeps removed, snapshot, or begun in the log: which rule set entry_days
    started_on date installation date; empty where unknown
    entered_on date! first day of the stretch under observation
    ended_on date! last day of the stretch
    entry_days number age at which it came under observation, days; empty where the start is unknown
    exit_days number age at its end, days; empty where the start is unknown
    exit_low_days number lower bound of the failure age, days; empty where taken as exact
    failed flag! ended by failure of the control
    end_reason text! fails on, fails off, erratic, damage, planned, load changed, removed, in service or unknown
    quantity integer! controls alike
    imputed flag! which member of a batch it was is drawn, not known
    incident_id text incident that ended it
    excluded_reason text why it counts in rates only and not in ages; empty when it enters the age analyses
    """),
)  # fmt: skip

LIFE_FITS = Table(
    "life_fits", "lives", "a group's fit", key=("grouping", "group_name"),
    columns=_columns("""
    grouping text! what the groups are: all, kind, model, switching, lamp, or model and lamp
    group_name text! the group
    units integer! controls that enter
    failures integer! control failures that enter
    control_years number! time at risk, control-years
    method text! weibull, fixed shape, or none
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
    log_likelihood number log-likelihood at the fit (ages in days)
    confidence number! confidence of the limits, 0 to 1
    note text what a reader must know, or why there is no fit
    """),
)  # fmt: skip

LIFE_CURVES = Table(
    "life_curves", "lives", "a step of a group's Kaplan-Meier curve", key=("grouping", "group_name", "age_days"),
    columns=_columns("""
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
    columns=_columns("""
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

_BURN = "\n".join(
    _three(name, kind, meaning)
    for name, kind, meaning in (
        ("excess_hours", "number", "hours lit outside the schedule, h"),
        ("kwh", "energy", "energy wasted, kWh"),
        ("cost", "money", "cost of that energy, portfolio currency; 0 on unmetered accounts"),
        ("co2e_kg", "energy", "location-based emissions, kg CO2e"),
    )
)

BURN_MONTHS = Table(
    "burn_months", "energy", "a calendar month of an incident that wasted energy", key=("incident_id", "month"),
    columns=_columns("incident_id text! the incident\nsite_id text site\nmonth date! first day of the month\n"
                     "connected_w number load behind the failed control in that month, W\n" + _BURN),
)  # fmt: skip

BURN_EPISODES = Table(
    "burn_episodes", "energy", "an incident that wasted energy: the sum of its months", key=("incident_id",),
    columns=_columns("incident_id text! the incident\nsite_id text site\ncontrol_id text control row\n"
                     "connected_w number load behind the failed control at the onset, W\n" + _BURN
                     + "\nkwh_per_day number energy of one more day lit, at the log's end, for open incidents, kWh\n"
                     "cost_per_day number cost of one more day lit, at the log's end, for open incidents\n"
                     "left_out_reason text why it carries no energy (no load known, no place …); empty when counted"),
)  # fmt: skip

OPTIONS = Table(
    "options", "payback", "a replacement option for a site and control group", key=("option_id",),
    columns=_columns("""
    option_id text! site, group and option
    site_id text! site
    kind text! kind of control
    model text! model now in place
    option text! repair like for like, or replace all now with a rated control
    controls integer! controls concerned
    connected_w number! load behind them, W
    years integer! study period, years
    discount_rate number! real discount rate per year
    investment money! paid at the start, portfolio currency
    expected_failures number failures over the study period
    expected_failures_lower number the same at the fit's longer-life limit
    expected_failures_upper number the same at the fit's shorter-life limit
    kwh number energy wasted over the study period, kWh
    co2e_kg number emissions over the study period, kg CO2e
    lcc money life-cycle cost, portfolio currency, present value
    net_savings money against repair like for like, present value
    net_savings_lower money at the fit's longer-life limit
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
    columns=_columns("""
    option_id text! the option
    year integer! 0 is the start; other flows fall at the year's end
    kind text! investment, replacement, residual, energy or maintenance
    amount money! constant money, portfolio currency
    """),
)  # fmt: skip

BUILD_INFO = Table(
    "build_info", "build", "this build", key=("build_id",),
    columns=_columns("""
    build_id text! made from the inputs' content and the version
    dayburn_version text! version that built it
    portfolio_name text! name
    currency text! ISO 4217 code
    fiscal_year_start integer! first month of the fiscal year
    log_from date first day of the log
    log_to date last day of the log
    settings text! the settings in force, as JSON
    """),
)  # fmt: skip

CHECKS = Table(
    "checks", "build", "an invariant tested at the end of the build", key=("name",),
    columns=_columns("""
    name text! what must hold
    holds flag! whether it does
    detail text! the figures compared
    """),
)  # fmt: skip

NOTICES = Table(
    "notices", "build", "something a stage or a register reader wants a person to know",
    columns=_columns("""
    stage text! who says it
    place text! file, row, column or table
    message text! what, and what to do
    """),
)  # fmt: skip

TABLES: tuple[Table, ...] = (
    SOURCE_FILES, REJECTED_ROWS, CALLS,
    SITES, ACCOUNTS, POSITIONS, CONTROLS, FIXTURES, OBSERVATION_WINDOWS,
    FINDINGS, INCIDENTS,
    LIVES, LIFE_FITS, LIFE_CURVES, FAILURE_RATES,
    BURN_MONTHS, BURN_EPISODES,
    OPTIONS, CASH_FLOWS,
    BUILD_INFO, CHECKS, NOTICES,
)  # fmt: skip


def _row(column: Column) -> str:
    name = column.name + (" !" if column.required else "")
    meaning = column.meaning.replace("|", "\\|")
    return f"| {name} | {column.type} | {meaning} |"


def data_model_page() -> str:
    """docs/data-model.md as text: every table with its columns, types and meanings."""
    parts = [
        "# Data model\n",
        "Made from `pipeline/tables.py` by `python -m pipeline.tables`; edit that file, not this page.\n",
        "Times are the site's local wall clock. Money is in the portfolio's currency. A `!` marks a column "
        "that is never empty. Triples `_low`, `_central`, `_high` carry what is not known exactly.\n",
    ]
    for table in TABLES:
        key = f" Key: {', '.join(f'`{name}`' for name in table.key)}." if table.key else ""
        parts.append(
            f"## {table.name}\n\nA row is {table.row_is}. Written by the stage *{table.stage}*.{key}\n"
        )
        parts.append("| column | type | meaning |\n|---|---|---|")
        parts += [_row(column) for column in table.columns]
        parts.append("")
    return "\n".join(parts)


if __name__ == "__main__":
    print(data_model_page(), end="")

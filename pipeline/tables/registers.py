"""The registers as cleaned, and when each site's log was kept."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

SITES = Table(
    "sites", "registers", "a site", key=("site_id",),
    columns=columns("""
    site_id text! the register's own id
    name text name
    aliases texts other names the site goes by
    latitude number degrees north; where the register gives neither, the mean of the controls' if they lie close together
    longitude number degrees east; likewise
    time_zone text! IANA zone
    grid_region text region of the electricity grid, for emission factors
    account_id text default electricity account
    observed_from date first day its calls were kept, if the register says so
    observed_to date last day its calls were kept, if the register says so
    """),
)  # fmt: skip

ACCOUNTS = Table(
    "accounts", "registers", "an electricity account", key=("account_id",),
    columns=columns("""
    account_id text! the account
    tariff text name of the tariff in portfolio.toml
    metered flag! false: billed by agreed burn hours, so day burning costs energy but no money
    """),
)  # fmt: skip

POSITIONS = Table(
    "positions", "registers", "a place that a control sits in; successive controls live there", key=("position",),
    columns=columns("""
    position text! site_id and position label (and control_id where several stood there at once); else as called in
    site_id text site
    label text the register's position label
    latitude number degrees north
    longitude number degrees east
    origin text! register, or calls (formed from the calls' own address)
    """),
)  # fmt: skip

CONTROLS = Table(
    "controls", "registers", "a row of the control register: one control, or a batch of like ones", key=("control_id",),
    columns=columns("""
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
    columns=columns("""
    fixture_id text! the register's own id
    control_id text! control row that switches them
    account_id text electricity account; empty: the site's
    lamp text lamp technology (LED, HPS, MH, CFL, LPS, induction, fluorescent …)
    luminaires number! luminaires behind the whole control row (all controls of a batch together)
    watts_each number watts per luminaire as registered, W
    watts_basis text! input (driver or ballast included), lamp, or unknown
    input_watts_each number watts drawn per luminaire with ballast or driver, W
    bill_account_id text account that pays for its energy: its own, else its site's
    metered flag false: that account is billed by agreed burn hours
    tariff text name of the tariff that its energy is priced by, in portfolio.toml; empty where none is named
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

REGISTER_ROWS_LEFT_OUT = Table(
    "register_rows_left_out", "registers", "a row of an inventory in registers/ that could not be used",
    key=("file_name", "row_number", "register"),
    columns=columns("""
    register text! sites, accounts, controls or fixtures
    file_name text! the inventory, as its path inside the portfolio
    row_number integer! row in the file, counted from 1
    reason text! why it could not be used, and which column
    raw text! the cells that the layout uses, as JSON, their column name to text
    """),
)  # fmt: skip

OBSERVATION_WINDOWS = Table(
    "observation_windows", "build", "a span in which a site's calls were really kept; gaps are not time at risk",
    key=("site_id", "observed_from"),
    columns=columns("""
    site_id text! site
    observed_from date! first day
    observed_to date! last day
    origin text! windows.csv, site register, settings, or calls (first and last report)
    """),
)  # fmt: skip

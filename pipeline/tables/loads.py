"""What hangs behind a control, and what drivers it switches: defined once, for lives, energy, payback and lists."""

from __future__ import annotations

from importlib.resources import files

from pipeline.tables.schema import Table, columns

CONTROL_LOADS = Table(
    "control_loads", "registers", "a fixture group behind a control, its own or through the coil it drives",
    key=("control_id", "fixture_id"),
    view_of=files("pipeline.tables").joinpath("control_loads.sql").read_text(encoding="utf-8"),
    columns=columns("""
    control_id text! control row whose failure concerns these lamps
    fixture_id text! the fixture group
    through_coil flag! another device carries the lamps' current (switched_by, followed to the chain's end)
    begins date! in place from; 1900-01-01 where nothing says
    ends date! in place until, this day not included; 9999-01-01 where nothing says
    lamp text lamp technology
    shared_by integer! members of the batch that share the group evenly; 1 without a batch
    connected_w energy load of one control's share, W; empty where the watts are unknown
    account_id text account that pays for its energy
    metered flag! false: that account is billed by agreed burn hours, so this energy costs no money
    tariff text tariff that prices it; empty without one
    luminaires energy luminaires of one control's share
    rated_life_h number rated life of their lamps, h
    lamp_cost number cost of replacing one luminaire's lamp, portfolio currency
    drivers number drivers of one control's share
    inrush_peak_a energy combined inrush peak of those drivers, A
    """),
)  # fmt: skip

DRIVER_GROUPS = Table(
    "driver_groups", "registers", "a fixture group with drivers whose current a device carries itself",
    key=("control_id", "fixture_id"),
    view_of=files("pipeline.tables").joinpath("driver_groups.sql").read_text(encoding="utf-8"),
    columns=columns("""
    control_id text! the device that carries the lamps' current
    fixture_id text! the fixture group
    begins date! as in control_loads
    ends date! as in control_loads
    lamp text lamp technology
    drivers number drivers of one control's share
    drivers_supposed flag! nobody counted them: one for each luminaire is supposed
    peak_a_each number inrush peak of each driver as registered, A
    watts_each number load of each driver, W
    voltage_v number line voltage of the device, V
    rated_inrush_a number rated peak inrush current of the device, A
    """),
)  # fmt: skip

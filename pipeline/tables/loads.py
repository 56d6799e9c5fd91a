"""What hangs behind a control: defined once, for lives, energy and payback alike."""

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
    drivers number drivers of one control's share
    inrush_peak_a energy combined inrush peak of those drivers, A
    """),
)  # fmt: skip

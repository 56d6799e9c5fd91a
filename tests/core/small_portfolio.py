"""A portfolio of a few made-up rows, for tests of the whole pipeline."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from pipeline.build import build
from pipeline.ingest import propose_layout, save_layout
from pipeline.ingest.layouts import Layout
from pipeline.portfolio import Portfolio

SETTINGS = """\
format = 1
name = "Two yards"
currency = "USD"
time_zone = "America/Denver"
default_grid_region = "RMPA"
default_tariff = "flat"
[log]
start = 2020-01-01
end = 2023-12-31
[prices.control_cost]
photocontrol = 20
[prices.rated_control_cost]
photocontrol = 50
[tariffs.flat]
price_per_kwh = 0.10
"""

SITES = "site_id,name,latitude,longitude\nS1,North Yard,39.6,-102.9\nS2,South Yard,39.7,-102.8\n"

CONTROLS = """\
control_id,site_id,position,kind,model,quantity,installed_on,switching
PC-0001,S1,pole 1,photocontrol,photocontrol X,1,2016-04-01,plain relay
PC-0002,S1,pole 2,photocontrol,photocontrol X,1,2016-04-01,plain relay
PC-0003,S2,pole 1,photocontrol,photocontrol X,1,2021-06-01,plain relay
"""

FIXTURES = """\
fixture_id,control_id,lamp,luminaires,watts_each,watts_basis
F1,PC-0001,LED,2,100,input
F2,PC-0002,LED,1,100,input
F3,PC-0003,LED,1,50,input
"""

CALLS = """\
Work Order,Reported,Completed,Status,Site,Asset,Problem,Action
101,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Parking lot light on all day,Replaced photocell
102,2021-03-02 10:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light burning in daylight again,Duplicate of 101
103,2022-01-10 18:30,2022-01-20 12:00,Closed,North Yard,PC-0002,Pole light out at night,Replaced lamp
104,2022-05-01 08:00,2022-05-02 11:00,Closed,South Yard,,Sink leaking in kitchen,Replaced washer
105,2023-12-20 09:30,,Open,South Yard,PC-0003,Pole light stays on all day,
106,,2022-01-01 10:00,Closed,South Yard,PC-0003,No date on this one,Nothing
"""
_HEADER = CALLS.splitlines(keepends=True)[0]


def make(folder: Path, calls: str = CALLS) -> Path:
    """Write the portfolio and accept its export's layout as proposed."""
    (folder / "calls").mkdir(parents=True)
    texts = {
        "portfolio.toml": SETTINGS, "sites.csv": SITES, "controls.csv": CONTROLS, "fixtures.csv": FIXTURES,
        "calls/orders.csv": calls,
    }  # fmt: skip
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    portfolio = Portfolio.read(folder)
    save_layout(portfolio, _layout() if calls.startswith(_HEADER) else _proposed(portfolio))
    return folder


def made_built(folder: Path) -> Path:
    """The portfolio with its build, copied from one that is built once for a run of tests."""
    shutil.copytree(_template(), folder)
    return folder


@cache
def _template() -> Path:
    scratch = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, scratch, ignore_errors=True)
    folder = make(scratch / "yards")
    build(folder)
    return folder


@cache
def _layout() -> Layout:
    """The layout proposed for ``CALLS``; kept, for to propose one takes as long as to build such a portfolio."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "calls").mkdir()
        (folder / "portfolio.toml").write_text(SETTINGS, encoding="utf-8")
        (folder / "calls" / "orders.csv").write_text(CALLS, encoding="utf-8")
        return _proposed(Portfolio.read(folder))


def _proposed(portfolio: Portfolio) -> Layout:
    return propose_layout(portfolio.calls / "orders.csv", portfolio).layout

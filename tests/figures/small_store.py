"""A portfolio small enough to reckon by hand: two sites, five register rows, a dozen incidents.

Everything the figures should show is worked out beside the test that checks it.
"""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

LOG_FROM, LOG_TO = date(2022, 1, 1), date(2024, 6, 30)
SCRIPT = "<script>alert('boo')</script> lot lights on all day"
FORMULA = '=HYPERLINK("http://example.invalid","click") lights on'

SETTINGS = Settings.model_validate(
    {
        "format": 1,
        "name": "Small & Sons <test>",
        "currency": "USD",
        "time_zone": "America/Denver",
        "fiscal_year_start": 7,
        "tariffs": {"day": {"price_per_kwh": "0.10"}},
        "default_tariff": "day",
        "prices": {
            "control_cost": {"photocontrol": "20", "timer": "150"},
            "rated_control_cost": {"photocontrol": "60"},
        },
    }
)

# incident, site, control, symptom, probability, hard, units, first reported, restored (None: open), mode
INCIDENTS = [
    ("i01", "north", "C1", "day burning", 0.9, True, 1, "2022-08-03 09:00", "2022-08-13 09:00", "fails on"),
    ("i02", "north", "C2", "day burning", 0.8, True, 1, "2023-02-01 10:00", "2023-02-21 10:00", "fails on"),
    ("i03", "south", "C3", "out", 0.6, True, 1, "2023-07-10 08:00", "2023-07-12 08:00", "fails off"),
    ("i04", "south", "C3", "wrong time", 0.1, False, 1, "2023-11-06 08:00", "2023-11-06 08:00", None),
    ("i05", "north", "C1", "day burning", 0.95, True, 1, "2024-01-15 12:00", "2024-02-04 12:00", "fails on"),
    ("i06", "north", "C4", "day burning", 0.5, True, 3, "2024-03-01 12:00", "2024-03-31 12:00", "fails on"),
    ("i07", "north", "C2", "day burning", 0.9, True, 1, "2024-06-10 07:00", None, "fails on"),
    ("i08", "south", "C5", "day burning", 0.7, True, 2, "2024-06-20 07:00", None, "fails on"),
    ("i09", "south", None, "out", 0.0, False, 1, "2024-05-01 20:00", "2024-05-03 20:00", None),
]

RULES = {"day burning": "burns", "out": "dark", "wrong time": "wrong"}

# incident: month -> (watts, hours, kwh, cost, kg) central; low is half, high is double
BURN = {
    "i01": [("2022-08-01", 500.0, 100.0, 50.0, 5.0, 20.0)],
    "i02": [("2023-02-01", 1000.0, 200.0, 200.0, 20.0, 80.0)],
    "i05": [("2024-01-01", 500.0, 160.0, 80.0, 8.0, 32.0), ("2024-02-01", 500.0, 40.0, 20.0, 2.0, 8.0)],
    "i07": [("2024-06-01", 1000.0, 300.0, 300.0, 30.0, 120.0)],
    "i08": [("2024-06-01", 400.0, 150.0, 60.0, 0.0, 24.0)],
}
PER_DAY = {"i07": (14.0, 1.40), "i08": (5.6, 0.0)}
LEFT_OUT = {"i06": "no load with watts is registered behind its control on that day"}

CALLS = [
    ("k01", "i01", 2, "2022-08-03 09:00", SCRIPT, "replaced photocell"),
    ("k02", "i01", 3, "2022-08-05 09:00", "lot still on", None),
    ("k03", "i02", 4, "2023-02-01 10:00", "lights on at noon", "photocell replaced"),
    ("k04", "i03", 5, "2023-07-10 08:00", "lot dark", "replaced timer"),
    ("k05", "i04", 6, "2023-11-06 08:00", "lights an hour late", "reset clock"),
    ("k06", "i05", 7, "2024-01-15 12:00", FORMULA, "new photo eye"),
    ("k07", "i06", 8, "2024-03-01 12:00", "walkway on in daytime", "replaced 3 photocells"),
    ("k08", "i07", 9, "2024-06-10 07:00", "lights on", None),
    ("k09", "i08", 10, "2024-06-20 07:00", "lights on", None),
    ("k10", "i09", 11, "2024-05-01 20:00", "pole light out", "replaced lamp"),
]

# Lives with known ages: model A on LED fails at 200, 400 … 1200 days, model B on HPS at 1000 … 2000; the rest
# work on. (control, site, kind, model, lamp, started, entry, exit, failed, quantity, incident, excluded)
_A_LED = [(f"a{n}", 200.0 * n, True) for n in range(1, 7)] + [("a7", 1300.0, False)]
_B_HPS = [(f"b{n}", 1000.0 + 200.0 * n, True) for n in range(6)] + [("b6", 2100.0, False)]
MIXED = "batch after its first failure: which member failed is unknown"


def add(store: Store, table: str, **values: Any) -> None:
    """Insert one row by column names."""
    names = ", ".join(f'"{name}"' for name in values)
    marks = ", ".join("?" for _ in values)
    store.run(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', list(values.values()))


def three(name: str, central: float) -> dict[str, float]:
    """Low is half of central and high is double."""
    return {f"{name}_low": central / 2, f"{name}_central": central, f"{name}_high": central * 2}


def small_store() -> Store:
    """The whole portfolio, in memory: a copy of its own of the one that is filled once for a run of tests."""
    store = Store.scratch()
    store.run(f"ATTACH '{_kept()}' AS kept (READ_ONLY)")
    store.run("COPY FROM DATABASE kept TO memory")
    store.run("DETACH kept")
    return store


@cache
def _kept() -> Path:
    """The portfolio as a database file, removed when the process ends."""
    folder = tempfile.mkdtemp()
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = Path(folder) / "small.duckdb"
    store = Store.create(path)
    _fill(store)
    store.close()
    return path


def _fill(store: Store) -> None:
    add(
        store, "build_info", build_id="b1", dayburn_version="0", portfolio_name=SETTINGS.name, currency="USD",
        fiscal_year_start=7, log_from=LOG_FROM, log_to=LOG_TO, settings=SETTINGS.model_dump_json(),
    )  # fmt: skip
    _registers(store)
    _log(store)
    _lives(store)
    _options(store)
    add(store, "checks", name="rows reconcile", holds=True, detail="11 rows")
    add(store, "checks", name="something else", holds=False, detail="1 <b>differs</b>")
    add(store, "notices", stage="lives", place="controls.csv", message="five controls count in rates only")


def _registers(store: Store) -> None:
    for site, name in (("north", "North Yard"), ("south", "South Yard")):
        add(
            store,
            "sites",
            site_id=site,
            name=name,
            latitude=40.0,
            longitude=-105.0,
            time_zone="America/Denver",
        )
    rows = [
        ("C1", "north", "photocontrol", "A", 1, "2020-01-01"),
        ("C2", "north", "photocontrol", "B", 1, "2019-01-01"),
        ("C3", "south", "timer", "T", 1, "2021-01-01"),
        ("C4", "north", "photocontrol", "A", 10, "2021-06-01"),
        ("C5", "south", "photocontrol", "B", 5, None),
    ]
    for number, (control, site, kind, model, quantity, installed) in enumerate(rows, start=2):
        add(
            store, "controls", control_id=control, site_id=site, position=f"{site} / {control}", kind=kind, model=model,
            switching="plain relay", quantity=quantity, installed_on=installed, row_number=number,
        )  # fmt: skip
    for number, (control, lamp, watts) in enumerate([("C1", "LED", 100.0), ("C2", "HPS", 250.0)], start=2):
        add(
            store, "fixtures", fixture_id=f"f{number}", control_id=control, lamp=lamp, luminaires=4, watts_each=watts,
            watts_basis="input", input_watts_each=watts, row_number=number,
        )  # fmt: skip


def _log(store: Store) -> None:
    add(
        store, "source_files", file_id="f1", name="orders.csv", sha256="0" * 64, layout="orders", source="orders",
        header_row=1, rows_read=11, calls=10, superseded=0, rejected=1, not_data=1, flagged=0,
    )  # fmt: skip
    add(
        store,
        "rejected_rows",
        file_id="f1",
        row_number=12,
        reason="no date",
        raw=json.dumps({"text": "<i>x</i>"}),
    )
    sites = {row[0]: row[1] for row in INCIDENTS}
    for call, incident, row, reported, problem, action in CALLS:
        add(
            store, "calls", call_id=call, file_id="f1", row_number=row, source="orders", call_number=f"#{row}",
            reported_at=reported, status="completed", work_type="reactive", problem_text=problem, action_text=action,
            is_lighting=True, is_lighting_by_text=True,
        )  # fmt: skip
        match = next(row for row in INCIDENTS if row[0] == incident)
        add(
            store, "findings", finding_id=f"{call}/1", call_id=call, part_number=1, site_id=sites[incident],
            control_id=match[2], symptom=match[3], component="control", action="replaced", units=match[6],
            failed_probability=match[4], rule=RULES[match[3]], evidence="words", incident_id=incident,
        )  # fmt: skip
    for incident in INCIDENTS:
        _incident(store, *incident)


def _first_finding(incident: str) -> str:
    return next(f"{call}/1" for call, of, *_ in CALLS if of == incident)


def _incident(
    store: Store, incident: str, site: str, control: str | None, symptom: str, probability: float, hard: bool,
    units: int, first: str, restored: str | None, mode: str | None,
) -> None:  # fmt: skip
    reported = datetime.fromisoformat(first)
    end = datetime.fromisoformat(restored) if restored else datetime(2024, 7, 1)
    add(
        store, "incidents", incident_id=incident, decisive_finding_id=_first_finding(incident), site_id=site,
        control_id=control,
        position=f"{site} / {control}" if control else None, symptom=symptom, component="control", action="replaced",
        failure_mode=mode, failed_probability=probability, control_failed=hard, units=units,
        first_reported_at=reported, onset_low=reported, onset_central=reported - timedelta(days=5),
        onset_high=reported - timedelta(days=20), restored_low=end, restored_central=end, restored_high=end,
        is_open=restored is None, last_evidence_at=reported, last_evidence="still on",
        calls=sum(c[1] == incident for c in CALLS),
        callbacks=0, no_fault_found=False, flags=["stale order"] if incident == "i07" else [],
    )  # fmt: skip
    if incident in BURN or incident in LEFT_OUT:
        _burn(store, incident, site, control)


def _burn(store: Store, incident: str, site: str, control: str | None) -> None:
    months = BURN.get(incident, [])
    quantities = ("excess_hours", "kwh", "cost", "co2e_kg")
    for month, watts, *amounts in months:
        values = {
            k: v
            for name, amount in zip(quantities, amounts, strict=True)
            for k, v in three(name, amount).items()
        }
        add(
            store,
            "burn_months",
            incident_id=incident,
            site_id=site,
            month=month,
            connected_w=watts,
            **values,
            kwh_draws=[amounts[1] * (0.5 + 1.5 * (draw + 0.5) / 200) for draw in range(200)],
        )
        metered = amounts[2] > 0
        add(
            store, "burn_costs", incident_id=incident, site_id=site, month=month, metered=metered, tariff="day",
            period="all hours" if metered else "unmetered", price_per_kwh=0.1 if metered else 0.0,
            **{k: v for k, v in values.items() if not k.startswith("co2e")},
        )  # fmt: skip
    sums = {name: sum(m[2 + n] for m in months) for n, name in enumerate(quantities)} if months else {}
    values = {k: v for name, amount in sums.items() for k, v in three(name, amount).items()}
    kwh, cost = PER_DAY.get(incident, (None, None))
    add(
        store, "burn_episodes", incident_id=incident, site_id=site, control_id=control,
        connected_w=months[0][1] if months else None, kwh_per_day=kwh, cost_per_day=cost,
        left_out_reason=LEFT_OUT.get(incident), **values,
    )  # fmt: skip


def _life(
    store: Store, life: str, control: str, site: str, kind: str, model: str, lamp: str, **values: Any
) -> None:
    about: dict[str, Any] = {
        "segment": 1, "position": f"{site} / {control}", "switching": "plain relay", "register_case": "keeps removed",
        "quantity": 1, "imputed": False, "failed": False, "end_reason": "in service", "ended_on": LOG_TO,
    }  # fmt: skip
    add(
        store, "lives", life_id=life, control_id=control, site_id=site, kind=kind, model=model, lamp=lamp,
        **({"exit_central_days": values.get("exit_days")} | about | values),
    )  # fmt: skip


def _lives(store: Store) -> None:
    """Ages end at the log's end for what works on; failures lie before it."""
    for control, site, model, lamp, ages in (
        ("C1", "north", "A", "LED", _A_LED),
        ("C2", "north", "B", "HPS", _B_HPS),
    ):
        for life, exit_days, failed in ages:
            ended = LOG_TO - timedelta(days=100) if failed else LOG_TO
            started = ended - timedelta(days=int(exit_days))
            _life(
                store, life, control, site, "photocontrol", model, lamp, started_on=started, entered_on=started,
                ended_on=ended, entry_days=0.0, exit_days=exit_days, failed=failed,
                end_reason="fails on" if failed else "in service", incident_id="i05" if life == "a1" else None,
            )  # fmt: skip
    entered = LOG_TO - timedelta(days=731)
    _life(
        store, "t1", "C3", "south", "timer", "T", "LED", started_on=entered, entered_on=entered, entry_days=0.0,
        exit_days=731.0,
    )  # fmt: skip
    _life(
        store, "c4", "C4", "north", "photocontrol", "A", "LED", started_on=date(2021, 6, 1), entered_on=entered,
        entry_days=394.0, exit_days=1125.0, quantity=10, excluded_reason=MIXED,
    )  # fmt: skip
    fill_groups(store, SETTINGS.assumptions, Silent())


def _options(store: Store) -> None:
    groups = [("north", "A", 11, 660.0, 900.0, 300.0, 1500.0), ("north", "B", 1, 60.0, -20.0, -50.0, 10.0)]
    for site, model, controls, investment, saved, low, high in groups:
        for option in ("repair like for like", "replace all now with a rated control"):
            now = option.startswith("replace")
            key = f"{site} / {model} / {option}"
            add(
                store, "options", option_id=key, site_id=site, kind="photocontrol", model=model, option=option,
                controls=controls, connected_w=400.0, controls_without_energy=0, years=15, discount_rate=0.03,
                investment=investment if now else 0,
                expected_failures=10.0, expected_failures_lower=8.0, expected_failures_upper=13.0, kwh=1000.0,
                co2e_kg=400.0, lcc=5000, net_savings=saved if now else None, net_savings_lower=low if now else None,
                net_savings_upper=high if now else None, basis="fitted",
            )  # fmt: skip
            add(store, "cash_flows", option_id=key, year=1, kind="maintenance", amount=160)
    key = "south / T / repair like for like"
    add(
        store, "options", option_id=key, site_id="south", kind="timer", model="T", option="repair like for like",
        controls=1, controls_without_energy=1, years=15, discount_rate=0.03, investment=0, lcc=700, basis="fitted",
    )  # fmt: skip
    add(store, "cash_flows", option_id=key, year=1, kind="maintenance", amount=160)

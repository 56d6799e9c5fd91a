"""Make the invented portfolio and its true answers: ``python -m demo_data.make [--seed N] [--out DIR]``."""

from __future__ import annotations

import argparse
import shutil
from importlib.resources import files
from pathlib import Path

import numpy as np

from demo_data import DEFAULT_SEED
from demo_data.audit import DECISION_COLUMNS, decision_rows
from demo_data.burn import DayLight
from demo_data.calls import calls_of, campaign_calls, project_calls
from demo_data.events import Call, Incident, Life
from demo_data.exports import write_exports
from demo_data.fixture_rows import FIXTURE_COLUMNS
from demo_data.histories import run_district
from demo_data.model import (
    BALLAST_FACTOR_HID,
    LIGHTS_OFF_BEFORE_SUNRISE_MIN,
    LIGHTS_ON_AFTER_SUNSET_MIN,
    MEAN_DAY_BURNING_DELAY_DAYS,
    moment_of,
)
from demo_data.night_walks import inspection_calls
from demo_data.other_work import other_calls
from demo_data.places import fill_sites
from demo_data.registers import CONTROL_COLUMNS, Registers, assign_tags
from demo_data.site_rows import ACCOUNT_COLUMNS, SITE_COLUMNS, account_rows, site_row, write_csv
from demo_data.truth import (
    call_rows,
    delay_rows,
    energy_rows,
    group_rows,
    incident_rows,
    life_rows,
    write_gzip_csv,
)
from demo_data.world import Site, build_sites


class District:
    """Everything that happened in the invented district under one seed."""

    def __init__(self, seed: int = DEFAULT_SEED) -> None:
        self.seed = seed
        self.sites: list[Site] = build_sites(np.random.default_rng([seed, 0]))
        fill_sites(self.sites, seed)
        self.lives: list[Life]
        self.incidents: list[Incident]
        self.lives, self.incidents = run_district(self.sites, seed)
        assign_tags(self.lives)
        self.calls = self._calls()

    def _calls(self) -> list[Call]:
        """All orders in the order of their report, numbered."""
        rng = np.random.default_rng([self.seed, 4])
        calls = inspection_calls(self.sites, self.incidents, rng)
        for number, incident in enumerate(self.incidents):
            if not incident.on_night_walk:
                calls += calls_of(incident, np.random.default_rng([self.seed, 3, number]))
        calls += project_calls(self.sites, rng)
        calls += campaign_calls(self._changed_by_campaign(), rng) + other_calls(self.sites, rng)
        calls.sort(key=lambda call: call.reported)
        first_of_year: dict[int, int] = {}
        for count, call in enumerate(calls):
            year = moment_of(call.reported).year
            call.number = f"{year % 100}-{count - first_of_year.setdefault(year, count) + 1:05d}"
        for call in calls:
            if call.duplicate_of is not None:
                call.action_text = call.action_text.format(number=call.duplicate_of.number)
        return calls

    def _changed_by_campaign(self) -> list[Life]:
        """One life for each control row that the campaign changed."""
        planned = {
            (id(life.place), life.tag): life for life in reversed(self.lives) if life.reason == "planned"
        }
        return list(planned.values())


def make_demo(folder: Path, truth_folder: Path, seed: int = DEFAULT_SEED) -> None:
    """Write the portfolio (registers, settings, decisions, calls/) and the true answers.

    The same seed gives the same files byte for byte. Existing files of the same names are replaced, and
    calls/ and the truth folder are emptied first; anything else in ``folder`` (layouts/, say) stays.
    """
    district = District(seed)
    exports = folder / "calls"
    for path in (exports, truth_folder):
        shutil.rmtree(path, ignore_errors=True)
        path.mkdir(parents=True)
    _write_registers(folder, district)
    write_csv(folder / "decisions.csv", DECISION_COLUMNS, decision_rows(district.calls, seed))
    listed = write_exports(exports, district.calls, seed)
    _write_truth(truth_folder, district, listed)


def _write_registers(folder: Path, district: District) -> None:
    registers = Registers(district.sites, district.lives, district.seed)
    write_csv(folder / "sites.csv", SITE_COLUMNS, [site_row(site) for site in district.sites])
    write_csv(folder / "accounts.csv", ACCOUNT_COLUMNS, account_rows(district.sites))
    write_csv(folder / "controls.csv", CONTROL_COLUMNS, registers.controls)
    write_csv(folder / "fixtures.csv", FIXTURE_COLUMNS, registers.fixtures.rows)
    template = files("demo_data").joinpath("portfolio_template.toml").read_text(encoding="utf-8")
    settings = template.format(
        delay=MEAN_DAY_BURNING_DELAY_DAYS, on=LIGHTS_ON_AFTER_SUNSET_MIN,
        off=LIGHTS_OFF_BEFORE_SUNRISE_MIN, ballast=BALLAST_FACTOR_HID,
    )  # fmt: skip
    (folder / "portfolio.toml").write_text(settings, encoding="utf-8", newline="\n")


def _write_truth(folder: Path, district: District, listed: dict[str, list[Call]]) -> None:
    lights = {site.site_id: DayLight(site) for site in district.sites}
    write_gzip_csv(folder / "groups.csv.gz", group_rows())
    write_gzip_csv(folder / "lives.csv.gz", life_rows(district.lives))
    write_gzip_csv(folder / "incidents.csv.gz", incident_rows(district.incidents, district.calls, lights))
    write_gzip_csv(folder / "calls.csv.gz", call_rows(district.calls, listed))
    write_gzip_csv(folder / "energy.csv.gz", energy_rows(district.incidents, district.calls, lights))
    write_gzip_csv(folder / "delays.csv.gz", delay_rows(district.incidents))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--seed", type=int, default=DEFAULT_SEED, help="whole number; the same seed gives the same district"
    )
    parser.add_argument(
        "--out", type=Path, default=Path(__file__).parent, help="writes DIR/portfolio and DIR/truth"
    )
    options = parser.parse_args()
    make_demo(options.out / "portfolio", options.out / "truth", options.seed)
    print(f"Wrote {options.out / 'portfolio'} and {options.out / 'truth'}")


if __name__ == "__main__":
    main()

"""Windows of record: proposed where chance does not explain a silence, confirmed by a person, used as time at risk."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import small_portfolio
from typer.testing import CliRunner

from pipeline.build import build, rehearsal
from pipeline.cli import app
from pipeline.faults import InputFaults
from pipeline.store import Store
from pipeline.summary import check_summary, json_text
from pipeline.summary_text import show_summary
from pipeline.window_file import read_windows, write_windows
from pipeline.windows import SiteWindows, Span, propose_windows

LOG = Span(date(2015, 1, 1), date(2022, 12, 31))


def _days(rng: np.random.Generator, rate_per_year: float, *spans: Span) -> list[date]:
    """Days of a homogeneous Poisson process within spans."""
    found = []
    for span in spans:
        count = rng.poisson(rate_per_year * span.days / 365.25)
        found += [span.first + timedelta(days=int(day)) for day in rng.integers(0, span.days, count)]
    return found


def test_sites_with_even_calls_are_hardly_ever_doubted() -> None:
    """Simulation: 400 logs of 20 sites without a gap. The nominal share of logs with any proposal is below 0.1 %
    for each site's own gap and for the shared one; 2 % is far above that and far below a useless test."""
    rng = np.random.default_rng(5)
    doubted = 0
    for _ in range(400):
        sites = {f"S{n}": _days(rng, float(rng.uniform(2, 20)), LOG) for n in range(20)}
        doubted += bool(propose_windows(sites, LOG))
    assert doubted / 400 <= 0.02


def test_late_joiners_leavers_and_inner_gaps_are_found_with_their_days() -> None:
    rng = np.random.default_rng(11)
    late, early = Span(date(2019, 7, 1), LOG.last), Span(LOG.first, date(2018, 6, 30))
    gap = Span(date(2017, 1, 1), date(2018, 12, 31))
    sites = {f"S{n}": _days(rng, 10, LOG) for n in range(10)}
    sites |= {
        "late": _days(rng, 10, late),
        "early": _days(rng, 10, early),
        "gap": _days(rng, 10, Span(LOG.first, gap.first), Span(gap.last, LOG.last)),
        "few": [date(2022, 1, n) for n in (1, 9, 20)],
    }
    found = {one.site_id: one for one in propose_windows(sites, LOG)}
    assert set(found) == {"late", "early", "gap"}
    # Ten calls a year: a first call that comes 120 days or more after the expected 37 is rare (1.4 %).
    assert abs((found["late"].windows[0].first - late.first).days) <= 120
    assert found["late"].windows[0].last == LOG.last
    assert abs((found["early"].windows[0].last - early.last).days) <= 120
    first, second = found["gap"].windows
    assert abs((first.last - gap.first).days) <= 120
    assert abs((second.first - gap.last).days) <= 120
    assert "no call from" in found["gap"].evidence
    assert all(one.probability <= 0.001 for one in found.values())
    assert "(chance 1 in " in found["gap"].evidence


def test_a_gap_of_all_sites_is_one_between_two_systems_and_holds_for_quiet_sites_too() -> None:
    rng = np.random.default_rng(3)
    spans = Span(LOG.first, date(2018, 3, 31)), Span(date(2018, 10, 1), LOG.last)
    sites = {f"S{n}": _days(rng, 8, *spans) for n in range(12)} | {
        "quiet": [date(2016, 1, 1), date(2020, 1, 1)]
    }
    found = propose_windows(sites, LOG)
    assert {one.site_id for one in found} == set(sites)
    for one in found:
        assert len(one.windows) == 2
        assert "no call of any site from" in one.evidence


def test_a_site_that_joined_after_a_gap_of_all_sites_was_silent_on_either_side_of_it() -> None:
    rng = np.random.default_rng(3)
    between = Span(date(2018, 4, 1), date(2018, 9, 30))
    late = Span(date(2018, 11, 15), LOG.last)  # too soon after the gap to tell by that silence alone
    spans = Span(LOG.first, between.first), Span(between.last, LOG.last)
    sites = {f"S{n}": _days(rng, 8, *spans) for n in range(12)} | {"late": _days(rng, 8, late)}
    found = {one.site_id: one for one in propose_windows(sites, LOG)}
    (window,) = found["late"].windows
    assert abs((window.first - late.first).days) <= 120
    assert f"no call from {LOG.first} to {min(sites['late']) - timedelta(days=1)}" in found["late"].evidence


SITE_A = "S1,2020-01-01,2021-06-30\nS1,2022-01-01,2023-12-31\n"


def test_confirmed_windows_are_read_and_faults_told_together(tmp_path: Path) -> None:
    path = tmp_path / "windows.csv"
    assert read_windows(path) == []
    path.write_text("site_id,observed_from,observed_to\n" + SITE_A)
    assert [one.span for one in read_windows(path)] == [
        Span(date(2020, 1, 1), date(2021, 6, 30)), Span(date(2022, 1, 1), date(2023, 12, 31)),
    ]  # fmt: skip
    path.write_text(
        "site_id,observed_from,observed_to\nS1,2020-01-01,2021-06-30\nS1,2021-06-01,2022-01-01\nS2,2022-01-01,2021-01-01\nS3,soon,\n"
    )
    with pytest.raises(InputFaults) as caught:
        read_windows(path)
    told = str(caught.value)
    for said in ("row 3: overlaps row 2", "row 4: ends on 2021-01-01", "row 5: needs a site and two days"):
        assert said in told


def test_a_proposal_is_added_to_what_a_person_wrote(tmp_path: Path) -> None:
    path = tmp_path / "windows.csv"
    path.write_text("site_id,observed_from,observed_to\n" + SITE_A)
    more = SiteWindows("S, 2", (Span(date(2021, 1, 1), date(2021, 12, 31)),), "", 0.0)
    assert write_windows(path, [more]) == 1
    assert [one.site_id for one in read_windows(path)] == ["S1", "S1", "S, 2"]


def test_windows_of_a_build_have_several_rows_a_site(tmp_path: Path) -> None:
    folder = small_portfolio.make(tmp_path / "p")
    (folder / "windows.csv").write_text(
        "site_id,observed_from,observed_to\n" + SITE_A.replace("2023-12-31", "2030-01-01")
    )
    store = Store.open(build(folder).database)
    assert store.rows("SELECT * FROM observation_windows ORDER BY 1, 2") == [
        ("S1", date(2020, 1, 1), date(2021, 6, 30), "windows.csv"),
        ("S1", date(2022, 1, 1), date(2023, 12, 31), "windows.csv"),
        ("S2", date(2020, 1, 1), date(2023, 12, 31), "settings"),
    ]
    assert store.rows("SELECT name, detail FROM checks WHERE NOT holds") == []
    assert store.value("SELECT count(*) FROM lives WHERE end_reason = 'record interrupted'") > 0
    store.close()
    (folder / "windows.csv").write_text("site_id,observed_from,observed_to\nS9,2020-01-01,2021-01-01\n")
    with pytest.raises(InputFaults, match=r"windows\.csv, row 2.*'S9' is no site"):
        build(folder)


def test_the_command_shows_and_accepts_the_proposal(tmp_path: Path) -> None:
    """One yard joins in 2022: forty calls of the other before, then both."""
    lines = [small_portfolio.CALLS.splitlines()[0]]
    for n in range(60):
        day = date(2020, 1, 5) + timedelta(days=24 * n)
        lines.append(
            f"{n},{day} 09:00,{day} 15:00,Closed,North Yard,PC-0001,Pole light {n} out,Replaced lamp"
        )
        if day.year >= 2022:
            lines.append(
                f"B{n},{day} 09:00,{day} 15:00,Closed,South Yard,PC-0003,Pole light {n} out,Replaced lamp"
            )
    folder = small_portfolio.make(tmp_path / "p", "\n".join(lines) + "\n")
    run = CliRunner()
    shown = run.invoke(app, ["windows", str(folder)])
    assert shown.exit_code == 0, shown.output
    assert "S2" in shown.output
    assert "no call from 2020-01-01 to 2022-01-" in shown.output
    assert "Nothing was saved" in shown.output
    assert not (folder / "windows.csv").exists()
    assert "windows of record" in run.invoke(app, ["check", str(folder)]).output
    accepted = run.invoke(app, ["windows", str(folder), "--accept"])
    assert accepted.exit_code == 0, accepted.output
    (window,) = read_windows(folder / "windows.csv")
    assert window.site_id == "S2"
    assert 0 <= (date(2022, 1, 18) - window.span.first).days <= 30  # one interval before its first call
    assert "leave no silence" in run.invoke(app, ["windows", str(folder)]).output


def test_check_says_what_was_refused_flagged_unused_and_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small_portfolio.make(tmp_path / "p")
    with rehearsal(folder) as store:
        summary = check_summary(store)
    show_summary(summary)
    shown = capsys.readouterr().out
    for said in (
        "calls/orders.csv: 1 row, no report date: column Reported is empty (row 7)",
        "calls/orders.csv: site 100%, tag 80%, completion 80%, problem 100%, action 80%; of 4 lighting calls 4 hold a "
        "finding, 100% of these tied to a site, 100% to a control",
        "Data level 3",
    ):
        assert said in shown
    assert not (folder / "built").exists()
    intake = json.loads(json_text(summary))["intake"]
    assert intake["rejected"][0]["row_numbers"] == "7"
    assert intake["coverage"][0]["with_site"] == 1.0

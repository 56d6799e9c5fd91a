"""The committed portfolio keeps what docs/demo-model.md promises."""

from __future__ import annotations

import re
import tomllib

import numpy as np
import pandas as pd
from demo_tables import export_rows, register, truth

from demo_data import portfolio_folder
from demo_data.model import AS_OF, MEAN_DAY_BURNING_DELAY_DAYS
from pipeline.portfolio import Portfolio
from pipeline.registers import read_registers
from pipeline.setting_terms import KINDS


def all_text() -> str:
    frames = (export_rows("older"), export_rows("newer"), register("sites"), register("controls"))
    return "\n".join("\n".join(frame.astype(str).to_numpy().ravel()) for frame in frames)


def test_log_has_the_promised_size_and_half_of_it_is_lighting() -> None:
    calls = truth("calls")
    assert len(calls) >= 14_000
    assert calls.call_number.is_unique
    assert 0.45 < calls.exterior_lighting.mean() < 0.60


def test_exterior_lighting_calls_rise_from_a_few_dozen_to_some_150_a_month() -> None:
    calls = truth("calls").query("exterior_lighting")
    monthly = calls.groupby(calls.reported_at.str[:4]).size() / 12
    assert 25 <= monthly["2018"] <= 45
    assert 130 <= monthly["2025"] <= 170
    assert (monthly.diff().dropna() > -8).all()


def test_controls_are_enough_of_all_kinds_and_partly_in_batches() -> None:
    controls = register("controls")
    in_place = controls[controls.removed_on == ""].astype({"quantity": int})
    assert in_place.quantity.sum() >= 2500
    assert set(controls.kind) == set(KINDS)
    assert controls.model.nunique() >= 7
    assert 0.2 < in_place.quantity[in_place.quantity > 1].sum() / in_place.quantity.sum() < 0.4
    assert register("sites").site_id.nunique() == 45
    assert {"HPS", "MH", "CFL", "LED"} == set(register("fixtures").lamp)


def test_settings_and_registers_are_read_without_a_fault() -> None:
    portfolio = Portfolio.read(portfolio_folder())
    assert [fault for table in read_registers(portfolio).values() for fault in table.faults] == []
    assert portfolio.settings.assumptions.detection_delay_days == MEAN_DAY_BURNING_DELAY_DAYS


def test_snapshot_rows_are_half_the_sites_and_know_nothing_after_their_date() -> None:
    controls = register("controls")
    snapshot = controls[controls.as_of != ""]
    assert set(snapshot.as_of) == {AS_OF.isoformat()}
    assert 20 <= snapshot.site_id.nunique() <= 25
    assert not set(snapshot.site_id) & set(controls[controls.as_of == ""].site_id)
    assert (snapshot.installed_on <= AS_OF.isoformat()).all()
    assert (snapshot.removed_on == "").all()
    assert 0.05 < (snapshot.installed_on == "").mean() < 0.2


def test_snapshot_date_is_that_of_the_last_replacement_before_it() -> None:
    controls, lives = register("controls"), truth("lives")
    rows = controls[(controls.as_of != "") & (controls.quantity == "1") & (controls.installed_on != "")]
    before = lives[(lives.order > 1) & (lives.installed_at.str[:10] < AS_OF.isoformat())]
    last = before.groupby("control_id").installed_at.max().str[:10]
    replaced = rows[rows.control_id.isin(last.index)]
    assert len(replaced) > 100
    assert (replaced.installed_on.to_numpy() == last[replaced.control_id].to_numpy()).all()


def test_kept_registers_have_a_row_for_every_control_observed() -> None:
    controls, lives = register("controls"), truth("lives")
    kept = controls[(controls.as_of == "") & (controls.quantity == "1")].set_index("control_id")
    mine = lives[lives.control_id.isin(kept.index)].set_index("control_id")
    assert len(mine) > 1000
    assert mine.index.is_unique
    stated = kept.loc[mine.index]
    assert (stated.removed_on == mine.removed_on.fillna("")).all()
    known = stated.installed_on != ""
    assert (stated.installed_on[known] == mine.installed_at.str[:10][known]).all()
    assert set(stated.removal_reason) <= {
        "",
        "failed",
        "planned",
        "damage",
        "changed with lamp",
        "site closed",
    }
    assert set(kept.index[~kept.index.isin(mine.index)].str[3]) == {"9"}


def test_fixture_groups_of_a_place_follow_each_other_without_overlap() -> None:
    fixtures, controls = register("fixtures"), register("controls")
    place = controls.set_index("control_id")[["site_id", "position"]].agg(" / ".join, axis=1)
    groups = fixtures.assign(place=fixtures.control_id.map(place)).sort_values(["place", "installed_on"])
    ends = groups.groupby("place").removed_on.shift()
    later = ends.notna()
    assert (groups.installed_on[later] == ends[later]).all()


def test_pilots_name_the_contactor_that_carries_their_lamps() -> None:
    controls, fixtures = register("controls"), register("fixtures")
    pilots = controls[controls.switched_by != ""]
    assert set(pilots.model) == {"photocontrol D"}
    assert set(controls.set_index("control_id").kind[pilots.switched_by]) == {"contactor"}
    assert not set(pilots.control_id) & set(fixtures.control_id)


def test_misleading_and_uninformative_text_stays_below_five_percent_of_failures() -> None:
    failures = truth("incidents").query("control_failed")
    shares = failures.text_quality.value_counts(normalize=True)
    assert shares[["bare", "misleading", "unnamed"]].sum() < 0.05
    assert shares["unnamed"] > 0
    assert failures.first_reported_at.isna().mean() < 0.01


def test_nearly_every_reported_failure_is_named_by_tag_or_place() -> None:
    incidents = truth("incidents")
    calls = truth("calls")
    written = _written().set_index("call_number").text
    failures = incidents[incidents.control_failed & incidents.first_reported_at.notna()]
    told: dict[str, list[str]] = {}
    for number, ids in calls[["call_number", "incidents"]].dropna().itertuples(index=False):
        for incident in ids.split(";"):
            told.setdefault(incident, []).append(written.get(number, ""))
    named = [
        any(_names(text, row.control_id, row.position) for text in told[row.incident_id])
        for row in failures.itertuples()
    ]
    assert np.mean(named) > 0.95


def _written() -> pd.DataFrame:
    older, newer = export_rows("older"), export_rows("newer")
    old = older["ASSET"] + " " + older["DESCRIPTION"]
    new = newer["Equipment Tag"] + " " + newer["Location Detail"] + " " + newer["Problem Description"]
    both = pd.DataFrame(
        {"call_number": pd.concat([older["WO NO"], newer["Request ID"]]), "text": pd.concat([old, new])}
    )
    return both.drop_duplicates("call_number", keep="last")


def _names(text: str, tag: str, position: str) -> bool:
    said = text.lower().replace("#", "")
    digits = str(int(tag.split("-")[1]))
    label = re.sub(r"^p\d\d ", "", position.lower())
    return bool(re.search(rf"\b(pc|ts|tm|os|ct)e?[ -]?0*{digits}\b", said)) or label in said


def test_people_and_contacts_are_invented() -> None:
    text = all_text()
    emails = re.findall(r"[\w.+-]+@[\w.-]+\w", text)
    assert len(emails) > 20
    assert {address.split("@")[1].lower() for address in emails} == {"example.org"}
    phones = set(re.findall(r"\b\d{3}-\d{4}\b", text))
    assert len(phones) > 50
    assert all(re.fullmatch(r"555-01\d\d", number) for number in phones)


def test_delay_of_day_burning_has_the_stated_mean() -> None:
    incidents = truth("incidents").query("symptom == 'day burning'")
    onset = pd.to_datetime(incidents.onset_at)
    delay = ((pd.to_datetime(incidents.first_reported_at) - onset).dt.total_seconds() / 86400).dropna()
    standard_error = delay.std() / np.sqrt(len(delay))
    assert abs(delay.mean() - MEAN_DAY_BURNING_DELAY_DAYS) < 3.5 * standard_error
    settings = tomllib.loads((portfolio_folder() / "portfolio.toml").read_text(encoding="utf-8"))
    assert settings["assumptions"]["detection_delay_days"] == MEAN_DAY_BURNING_DELAY_DAYS


def test_truth_tables_agree_with_each_other() -> None:
    incidents, calls, energy = truth("incidents"), truth("calls"), truth("energy")
    told = calls.incidents.dropna().str.split(";").explode()
    assert set(told) == set(incidents.incident_id[incidents.calls > 0])
    assert (told.value_counts().reindex(incidents.incident_id).fillna(0).to_numpy() == incidents.calls).all()
    assert abs(energy.excess_kwh.sum() - incidents.excess_kwh.sum()) < 1.0
    assert (incidents.excess_kwh[incidents.symptom != "day burning"] == 0).all()

"""One fault over all its calls: what is merged, what is kept apart, when it began and ended."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from .small_store import REGISTER, at, call, incidents, tied

ON = "light on all day"
REPLACED = "replaced photocell"


def pole_14(
    number: str, reported: str, completed: str | None, action: str = "", problem: str = ON, **more: Any
) -> dict[str, Any]:
    """A call at a pole with one photocontrol."""
    return call(number, reported, completed, f"pole 14 {problem}", action, **more)


def test_reports_while_the_first_is_open_are_one_incident(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-03-01 09:00", "2024-03-20 10:00", REPLACED),
        pole_14("2", "2024-03-10 09:00", "2024-03-20 10:05", REPLACED),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert (one["calls"], one["callbacks"], one["control_failed"], one["failure_mode"]) == (
        2,
        0,
        True,
        "fails on",
    )


def test_a_repeat_visit_that_replaces_the_control_is_still_one_incident(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-03-01 09:00", "2024-03-05 10:00", "reset photocell"),
        pole_14("2", "2024-03-15 09:00", "2024-03-18 10:00", REPLACED),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert (one["calls"], one["callbacks"], one["action"]) == (2, 1, "replaced")
    assert one["first_reported_at"] == at("2024-03-01 09:00")
    assert one["restored_central"] == at("2024-03-18 10:00")


def test_a_failure_long_after_the_repair_is_another_incident(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2023-03-01 09:00", "2023-03-05 10:00", REPLACED),
        pole_14("2", "2024-03-01 09:00", "2024-03-05 10:00", REPLACED),
    ]
    assert len(incidents(tied(tmp_path, calls))) == 2


def test_dark_and_burning_at_one_place_are_two_faults(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-03-01 09:00", "2024-03-05 10:00", REPLACED),
        pole_14("2", "2024-03-03 21:00", "2024-03-05 10:00", "replaced lamp", problem="light out"),
    ]
    assert len(incidents(tied(tmp_path, calls))) == 2


def test_faults_at_a_site_without_a_place_are_not_merged(tmp_path: Path) -> None:
    calls = [
        call(str(n), f"2024-03-0{n} 09:00", "2024-03-20 10:00", "lot lights on all day", REPLACED)
        for n in (1, 2, 3)
    ]
    assert len(incidents(tied(tmp_path, calls))) == 3


def test_a_stated_duplicate_joins_its_original_even_without_a_place(tmp_path: Path) -> None:
    calls = [
        call("1", "2024-03-01 09:00", "2024-03-20 10:00", "lot lights on all day", REPLACED),
        call(
            "2",
            "2024-03-04 09:00",
            "2024-03-04 09:30",
            "lot lights on all day",
            "duplicate of 1",
            duplicate_of="1",
        ),
        call(
            "3",
            "2024-03-05 09:00",
            "2024-03-05 09:30",
            "lot lights on all day",
            "duplicate of 2",
            duplicate_of="2",
        ),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert (one["calls"], one["action"], one["restored_high"]) == (3, "replaced", at("2024-03-20 10:00"))


def test_a_duplicate_of_itself_or_in_a_ring_is_survived(tmp_path: Path) -> None:
    calls = [
        call("1", "2024-03-01 09:00", None, "lot lights on all day", duplicate_of="2"),
        call("2", "2024-03-01 09:00", None, "lot lights on all day", duplicate_of="1"),
        call("3", "2024-03-01 09:00", None, "lot lights on all day", duplicate_of="3"),
    ]
    assert sum(one["calls"] for one in incidents(tied(tmp_path, calls))) == 3


def test_two_pieces_of_a_batch_are_two_faults_and_one_visit_is_one(tmp_path: Path) -> None:
    calls = [
        call("1", "2024-03-01 09:00", "2024-03-20 10:00", "wall packs 1 unit 4 on all day", REPLACED),
        call("2", "2024-03-02 09:00", "2024-03-12 10:00", "wall packs 1 unit 9 on all day", REPLACED),
        call("3", "2024-03-05 09:00", "2024-03-20 10:10", "wall packs 1 on all day", REPLACED),
    ]
    assert sorted(one["calls"] for one in incidents(tied(tmp_path, calls))) == [1, 2]


def test_two_replacements_on_two_days_of_an_unnamed_piece_are_two_faults(tmp_path: Path) -> None:
    calls = [
        call("1", "2024-03-01 09:00", "2024-03-20 10:00", "wall packs 1 on all day", REPLACED),
        call("2", "2024-03-02 09:00", "2024-03-12 10:00", "wall packs 1 on all day", REPLACED),
    ]
    assert len(incidents(tied(tmp_path, calls))) == 2


def test_onset_is_the_report_less_the_delay_within_its_bounds(tmp_path: Path) -> None:
    (one,) = incidents(tied(tmp_path, [pole_14("1", "2024-03-21 09:00", "2024-03-25 10:00", REPLACED)]))
    assert one["onset_low"] == at("2024-03-21 09:00")
    assert one["onset_central"] == at("2024-03-11 09:00")  # ten days of detection delay
    assert one["onset_high"] == at("2024-01-21 09:00")  # the cap of sixty days


def test_a_daytime_visit_clears_day_burning_and_a_night_visit_does_not(tmp_path: Path) -> None:
    def onset_high(stamp: str) -> object:
        calls = [
            pole_14("1", "2024-03-01 09:00", stamp, "replaced lamp", problem="light out"),
            pole_14("2", "2024-03-21 09:00", "2024-03-25 10:00", REPLACED),
        ]
        return incidents(tied(tmp_path, calls))[1]["onset_high"]

    assert onset_high("2024-03-15 11:00") == at("2024-03-15 11:00")
    assert onset_high("2024-03-15 23:00") == at("2024-01-21 09:00")


def test_a_date_in_the_text_says_when_the_work_was_done(tmp_path: Path) -> None:
    done = pole_14("1", "2024-03-01 09:00", "2024-03-25 10:00", "replaced photocell. done 03/06/24")
    (one,) = incidents(tied(tmp_path, [done]))
    assert one["restored_low"] == at("2024-03-06")
    assert one["restored_central"] == at("2024-03-06 12:00")
    assert one["restored_high"] == at("2024-03-25 10:00")


def test_a_date_outside_the_order_is_no_evidence(tmp_path: Path) -> None:
    done = pole_14("1", "2024-03-01 09:00", "2024-03-25 10:00", "replaced photocell installed 01/02/2019")
    (one,) = incidents(tied(tmp_path, [done]))
    assert one["restored_low"] == one["restored_central"] == at("2024-03-25 10:00")


def test_a_stale_order_is_flagged_and_its_stamp_does_not_set_the_central_end(tmp_path: Path) -> None:
    usual = [
        call(f"u{n}", f"2023-0{n}-01 09:00", f"2023-0{n}-05 09:00", "north lot pole 3 on all day", REPLACED)
        for n in (1, 4, 7)
    ]
    stale = pole_14("s", "2024-01-01 09:00", "2024-09-01 10:00", REPLACED)
    last = incidents(tied(tmp_path, [*usual, stale]))[-1]
    assert list(last["flags"]) == ["stale order"]
    assert last["restored_low"] == at("2024-01-01 09:00")
    assert last["restored_central"] == at("2024-01-05 09:00")  # four days, as the others took
    assert last["restored_high"] == at("2024-09-01 10:00")


def test_orders_closed_in_a_batch_at_month_end_are_flagged(tmp_path: Path) -> None:
    calls = [
        call(f"{n}", f"2024-0{n}-03 09:00", f"2024-0{n}-{day} 17:00", "north lot pole 3 on all day", REPLACED)
        for n, day in ((1, 31), (2, 29), (3, 31), (4, 30), (5, 31), (6, 30), (7, 31), (8, 31))
    ]
    for one in incidents(tied(tmp_path, calls)):
        assert "batch closed" in list(one["flags"])
        assert one["restored_low"] < one["restored_central"] < one["restored_high"]


def test_nothing_found_wastes_no_hours_in_the_central_case(tmp_path: Path) -> None:
    (one,) = incidents(
        tied(tmp_path, [pole_14("1", "2024-03-01 09:00", "2024-03-05 10:00", "no problem found")])
    )
    assert one["no_fault_found"]
    assert not one["control_failed"]
    assert one["onset_central"] == one["restored_low"] == one["restored_central"]
    assert one["restored_high"] == at("2024-03-05 10:00")


def test_an_open_incident_has_no_end_and_shows_its_last_evidence(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-12-01 09:00", None),
        pole_14("2", "2024-12-09 09:00", None, problem="light STILL on all day"),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert one["is_open"]
    assert one["restored_low"] is None or one["restored_low"] != one["restored_low"]  # empty
    assert one["last_evidence_at"] == at("2024-12-09 09:00")
    assert "STILL" in one["last_evidence"]


def test_a_completed_repair_ends_it_though_a_duplicate_stays_open(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-11-01 09:00", "2024-11-20 10:00", REPLACED),
        pole_14("2", "2024-11-10 09:00", None, "duplicate"),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert not one["is_open"]


def test_a_completion_before_the_report_is_flagged_and_not_believed(tmp_path: Path) -> None:
    (one,) = incidents(tied(tmp_path, [pole_14("1", "2024-03-10 09:00", "2023-03-10 10:00", REPLACED)]))
    assert list(one["flags"]) == ["completed without a usable date"]
    assert one["restored_low"] == at("2024-03-10 09:00")
    assert one["restored_low"] < one["restored_central"] < one["restored_high"]


def test_planned_work_is_no_failure(tmp_path: Path) -> None:
    planned = pole_14(
        "1",
        "2024-03-01 09:00",
        "2024-03-05 10:00",
        REPLACED,
        problem="photocell replacement",
        work_type="project",
    )
    (one,) = incidents(tied(tmp_path, [planned]))
    assert (one["action"], one["control_failed"], one["failure_mode"]) == ("planned", False, None)


def test_a_call_without_any_date_is_kept_with_its_reason(tmp_path: Path) -> None:
    undated = pole_14("1", "2024-03-01 09:00", None) | {"reported_at": None}
    store = tied(tmp_path, [undated, pole_14("2", "2024-03-01 09:00", None)])
    assert store.value("SELECT no_finding_reason FROM calls WHERE call_id = '1'") == "no date"
    assert store.count("incidents") == 1


def test_calls_of_other_trades_and_old_states_are_not_read(tmp_path: Path) -> None:
    calls = [
        pole_14("1", "2024-03-01 09:00", None, is_lighting=False),
        pole_14("2", "2024-03-01 09:00", None, superseded_by="3"),
        pole_14("3", "2024-03-01 09:00", None, no_finding_reason="cancelled"),
    ]
    store = tied(tmp_path, calls)
    assert (store.count("findings"), store.count("incidents")) == (0, 0)


PROBLEMS = [
    "pole 14 on all day",
    "pole 14 out",
    "lights dim",
    "north lot pole 3 coming on late",
    "",
    "wall packs 1 unit 2 on all day",
]
ACTIONS = [
    "replaced photocell",
    "reset timer",
    "no problem found",
    "duplicate",
    "",
    "repaired",
    "replaced lamp and photocell",
]
LOG = st.lists(
    st.tuples(
        st.sampled_from(PROBLEMS), st.sampled_from(ACTIONS), st.integers(0, 400),
        st.one_of(st.none(), st.integers(-3, 200)), st.one_of(st.none(), st.integers(0, 8)),
    ),
    min_size=1, max_size=9,
)  # fmt: skip


SITE_COUNT = 4  # logs of so many sites are read in one run of the stage: a run costs more than its calls


def at_site(number: int) -> list[dict[str, Any]]:
    """The small register at a site of its own."""
    return [
        row | {
            "control_id": f"{row['control_id']}-{number}", "site_id": f"L{number}",
            "position": f"L{number} / {row['label']}",
            "switched_by": row["switched_by"] and f"{row['switched_by']}-{number}",
        }
        for row in REGISTER
    ]  # fmt: skip


@settings(max_examples=4, deadline=None)
@given(st.lists(LOG, min_size=SITE_COUNT, max_size=SITE_COUNT))
def test_incidents_partition_the_findings_and_their_times_are_in_order(tmp_path_factory, drawn) -> None:  # type: ignore[no-untyped-def]
    from datetime import timedelta

    start = at("2023-01-01 09:00")
    calls: list[dict[str, Any]] = []
    for site, number, (problem, action, day, took, repeats) in (
        (site, 10 * site + place, told) for site, log in enumerate(drawn) for place, told in enumerate(log)
    ):
        reported = start + timedelta(days=day)
        row = call(
            str(number),
            "2023-01-01",
            None,
            problem,
            action,
            duplicate_of=str(10 * site + repeats) if repeats is not None else None,
            site_text=f"L{site}",
        )
        done = reported + timedelta(days=took) if took is not None else None
        calls.append(
            row | {"reported_at": reported, "completed_at": done, "status": "completed" if done else "open"}
        )
    sites = [{"site_id": f"L{site}", "name": None, "aliases": []} for site in range(SITE_COUNT)]
    register = [row for site in range(SITE_COUNT) for row in at_site(site)]
    store = tied(tmp_path_factory.mktemp("p"), calls, register, sites)
    assert store.value("SELECT count(*) FROM findings f ANTI JOIN incidents i USING (incident_id)") == 0
    assert store.value("SELECT count(*) FROM incidents i ANTI JOIN findings f USING (incident_id)") == 0
    assert store.value("SELECT count(DISTINCT call_id) FROM findings") == len(calls)
    assert store.value("SELECT count(*) - count(DISTINCT finding_id) FROM findings") == 0
    assert store.value("SELECT sum(calls) FROM incidents") == store.value(
        "SELECT count(DISTINCT (incident_id, call_id)) FROM findings"
    )
    assert store.value("""
        SELECT count(*) FROM incidents
        WHERE NOT (onset_high <= onset_central AND onset_central <= onset_low)
           OR NOT coalesce(restored_low <= restored_central AND restored_central <= restored_high, true)
           OR is_open <> (restored_low IS NULL) OR NOT coalesce(onset_low <= restored_low, true)
    """) == 0  # fmt: skip

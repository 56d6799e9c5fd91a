"""Who sat where from when to when: one place at a time, by hand."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lives import stays as s
from pipeline.lives.stay_records import RegisterRow, Replacement, Stay, Window
from pipeline.lives.stays import stays_of_batch, stays_of_single

LOG = Window(date(2018, 1, 1), date(2025, 12, 31))


def failure(
    reported: date, *, restored: date | None = None, incident_id: str = "i1", units: int = 1
) -> Replacement:
    """A control failure found ten days after it happened and mended five days after the report, unless told."""
    mended = restored or reported + timedelta(days=5)
    return Replacement(incident_id, reported, reported - timedelta(days=10), mended, True, "fails on", units)


def in_ages(stays: list[Stay]) -> list[Stay]:
    return [stay for stay in stays if stay.excluded_reason is None]


class TestRegisterThatKeepsRemovedControls:
    def test_a_control_older_than_the_log_enters_when_the_log_begins(self) -> None:
        (stay,) = stays_of_single([RegisterRow("c", 1, date(2010, 1, 1))], [], LOG)
        assert (stay.started_on, stay.entered_on, stay.ended_on) == (date(2010, 1, 1), LOG.first, LOG.last)
        assert (stay.failed, stay.end_reason, stay.excluded_reason) == (False, "in service", None)

    def test_a_failure_ends_the_life_and_the_successors_row_begins_the_next(self) -> None:
        rows = [
            RegisterRow("old", 1, date(2015, 6, 1), removed_on=date(2020, 3, 6), removal_reason="failed"),
            RegisterRow("new", 1, date(2020, 3, 6)),
        ]
        first, second = stays_of_single(rows, [failure(date(2020, 3, 1))], LOG)
        assert (first.control_id, first.ended_on, first.failed) == ("old", date(2020, 2, 20), True)
        assert first.incident_id == "i1"
        assert (second.control_id, second.started_on, second.failed) == ("new", date(2020, 3, 6), False)

    def test_one_replacement_is_not_counted_twice_when_the_report_is_dated_after_the_removal(self) -> None:
        rows = [
            RegisterRow("old", 1, date(2015, 6, 1), removed_on=date(2020, 3, 1), removal_reason="failed"),
            RegisterRow("new", 1, date(2020, 3, 1)),
        ]
        stays = stays_of_single(rows, [failure(date(2020, 3, 4))], LOG)
        assert [(stay.control_id, stay.failed) for stay in stays] == [("old", True), ("new", False)]

    def test_a_failure_that_only_the_register_knows_is_a_failure(self) -> None:
        row = RegisterRow(
            "old", 1, date(2015, 6, 1), removed_on=date(2020, 3, 1), removal_reason="Failed in service"
        )
        (stay,) = stays_of_single([row], [], LOG)
        assert (stay.failed, stay.ended_on, stay.incident_id) == (True, date(2020, 3, 1), None)

    @pytest.mark.parametrize(
        ("reason", "end"),
        [("planned campaign", "planned"), ("pole damage", "damage"), (None, "removed"), ("moved", "removed")],
    )
    def test_other_removals_are_competing_ends(self, reason: str | None, end: str) -> None:
        row = RegisterRow("old", 1, date(2015, 6, 1), removed_on=date(2020, 3, 1), removal_reason=reason)
        (stay,) = stays_of_single([row], [], LOG)
        assert (stay.failed, stay.end_reason) == (False, end)

    def test_a_replacement_that_the_register_missed_begins_a_life_at_age_zero(self) -> None:
        first, second = stays_of_single(
            [RegisterRow("c", 1, date(2015, 1, 1))], [failure(date(2020, 3, 1))], LOG
        )
        assert first.failed
        assert (second.started_on, second.register_case) == (date(2020, 3, 6), "begun in the log")
        assert second.end_reason == "in service"

    def test_a_control_removed_before_the_log_gives_nothing(self) -> None:
        row = RegisterRow("old", 1, date(2005, 6, 1), removed_on=date(2015, 3, 1), removal_reason="failed")
        assert stays_of_single([row], [], LOG) == []

    def test_an_unknown_installation_date_counts_in_rates_only(self) -> None:
        (stay,) = stays_of_single([RegisterRow("c", 1, None)], [], LOG)
        assert stay.excluded_reason == s.UNKNOWN_START
        assert (stay.entered_on, stay.ended_on) == (LOG.first, LOG.last)


class TestReportedInTheWindowBegunBeforeIt:
    REPORTED = date(2018, 1, 4)  # the failure helper lays the onset ten days before: outside the log

    def test_a_failure_counts_on_the_windows_first_day(self) -> None:
        failed, successor = stays_of_single(
            [RegisterRow("c", 1, date(2010, 1, 1))], [failure(self.REPORTED)], LOG
        )
        assert (failed.entered_on, failed.ended_on, failed.failed) == (LOG.first, LOG.first, True)
        assert (failed.incident_id, failed.excluded_reason) == ("i1", None)
        assert successor.started_on == date(2018, 1, 9)

    def test_a_failure_whose_successor_the_register_dates_before_the_window_counts_too(self) -> None:
        rows = [
            RegisterRow("old", 1, date(2010, 1, 1), removed_on=date(2017, 12, 29), removal_reason="failed"),
            RegisterRow("new", 1, date(2017, 12, 29)),
        ]
        stays = stays_of_single(rows, [failure(self.REPORTED)], LOG)
        assert [(stay.control_id, stay.entered_on, stay.failed) for stay in stays] == [
            ("old", LOG.first, True),
            ("new", LOG.first, False),
        ]

    def test_a_failure_reported_before_the_window_is_no_life_in_it(self) -> None:
        stays = stays_of_single([RegisterRow("c", 1, date(2010, 1, 1))], [failure(date(2017, 12, 30))], LOG)
        assert [(stay.started_on, stay.failed) for stay in stays] == [(date(2018, 1, 4), False)]


class TestSnapshot:
    SEEN = date(2023, 1, 1)

    def row(self, installed: date | None) -> RegisterRow:
        return RegisterRow("c", 1, installed, as_of=self.SEEN)

    def test_a_survivor_enters_on_the_day_of_the_snapshot_and_adds_nothing_before(self) -> None:
        before, after = stays_of_single([self.row(date(2014, 1, 1))], [], LOG)
        assert before.excluded_reason == s.BEFORE_SNAPSHOT
        assert (after.entered_on, after.ended_on, after.excluded_reason) == (self.SEEN, LOG.last, None)

    def test_a_row_installed_when_the_log_shows_a_replacement_enters_at_age_zero(self) -> None:
        stays = stays_of_single([self.row(date(2020, 3, 8))], [failure(date(2020, 3, 1))], LOG)
        unknown, known = stays
        assert (unknown.excluded_reason, unknown.failed) == (s.UNKNOWN_START, True)
        assert (known.started_on, known.entered_on) == (date(2020, 3, 8), date(2020, 3, 8))
        assert known.register_case == "begun in the log"

    def test_a_row_without_a_date_begins_with_the_last_replacement_before_the_snapshot(self) -> None:
        stays = stays_of_single([self.row(None)], [failure(date(2020, 3, 1))], LOG)
        assert [stay.started_on for stay in stays] == [None, date(2020, 3, 6)]
        assert in_ages(stays)[0].entered_on == date(2020, 3, 6)

    def test_lives_between_replacements_in_the_log_are_known_whole(self) -> None:
        events = [failure(date(2019, 3, 1), incident_id="i1"), failure(date(2021, 3, 1), incident_id="i2")]
        stays = stays_of_single([self.row(date(2021, 3, 6))], events, LOG)
        whole = [stay for stay in in_ages(stays) if stay.failed]
        assert [(stay.started_on, stay.ended_on, stay.incident_id) for stay in whole] == [
            (date(2019, 3, 6), date(2021, 2, 19), "i2")
        ]

    def test_a_failure_that_the_snapshot_contradicts_gives_no_age(self) -> None:
        """The control in place is older than its own replacement: one of the two is wrong."""
        stays = stays_of_single([self.row(date(2014, 1, 1))], [failure(date(2020, 3, 1))], LOG)
        assert [stay.failed for stay in in_ages(stays)] == [False]
        assert in_ages(stays)[0].entered_on == self.SEEN

    def test_a_failure_after_the_snapshot_ends_the_survivors_life(self) -> None:
        stays = stays_of_single([self.row(date(2014, 1, 1))], [failure(date(2024, 3, 1))], LOG)
        survivor, successor = in_ages(stays)
        assert (survivor.entered_on, survivor.failed) == (self.SEEN, True)
        assert (successor.started_on, successor.register_case) == (date(2024, 3, 6), "begun in the log")


class TestBatch:
    def test_a_batch_of_the_log_is_one_stay_until_its_members_lives_are_drawn(self) -> None:
        (stay,) = stays_of_batch(RegisterRow("b", 10, date(2019, 1, 1)), LOG)
        assert (stay.quantity, stay.entered_on, stay.ended_on) == (10, date(2019, 1, 1), LOG.last)
        assert (stay.failed, stay.excluded_reason) == (False, None)

    def test_a_batch_older_than_the_log_has_members_of_unknown_age(self) -> None:
        (stay,) = stays_of_batch(RegisterRow("b", 10, date(2012, 1, 1)), LOG)
        assert (stay.excluded_reason, stay.quantity) == (s.BATCH_BEFORE_LOG, 10)

    def test_a_batch_without_a_date_counts_in_rates_only(self) -> None:
        (stay,) = stays_of_batch(RegisterRow("b", 4, None), LOG)
        assert stay.excluded_reason == s.UNKNOWN_START


DAYS = st.integers(min_value=0, max_value=3500).map(lambda n: date(2016, 6, 1) + timedelta(days=n))
EVENTS = st.lists(
    st.builds(
        lambda day, delay, repair, failed, number: Replacement(
            f"i{number}", day, day - timedelta(days=delay), day + timedelta(days=repair), failed,
            "fails on" if failed else "removed",
        ),
        DAYS, st.integers(0, 60), st.integers(0, 90), st.booleans(), st.integers(0, 10**6),
    ),
    max_size=6,
)  # fmt: skip


class TestWhateverTheInput:
    @given(installed=st.none() | DAYS, as_of=st.none() | DAYS, events=EVENTS)
    def test_stays_at_a_place_follow_one_another_inside_the_window(
        self, installed: date | None, as_of: date | None, events: list[Replacement]
    ) -> None:
        stays = stays_of_single([RegisterRow("c", 1, installed, as_of=as_of)], events, LOG)
        for stay in stays:
            assert LOG.first <= stay.entered_on <= stay.ended_on <= LOG.last
            assert stay.started_on is None or stay.started_on <= stay.entered_on
        ordered = sorted(stays, key=lambda stay: (stay.entered_on, stay.ended_on))
        for earlier, later in pairwise(ordered):
            assert earlier.ended_on <= later.entered_on

    @given(installed=st.none() | DAYS, as_of=st.none() | DAYS, events=EVENTS)
    def test_no_incident_ends_two_lives(
        self, installed: date | None, as_of: date | None, events: list[Replacement]
    ) -> None:
        unique = list({event.incident_id: event for event in events}.values())
        stays = stays_of_single([RegisterRow("c", 1, installed, as_of=as_of)], unique, LOG)
        ended_by = [stay.incident_id for stay in stays if stay.incident_id]
        assert len(ended_by) == len(set(ended_by))


def test_a_control_of_unknown_date_that_has_a_row_is_at_risk_once() -> None:
    rows = [
        RegisterRow("A", 1, None, removed_on=date(2019, 12, 2), removal_reason="failed"),
        RegisterRow("B", 1, date(2019, 12, 2)),
    ]
    event = failure(date(2019, 11, 22), restored=date(2019, 12, 2))
    stays = stays_of_single(rows, [event], Window(date(2018, 1, 1), date(2025, 12, 31)))
    assert [(stay.control_id, stay.failed) for stay in stays] == [("A", True), ("B", False)]


@given(
    first_removed=st.dates(date(2017, 1, 1), date(2026, 6, 1)),
    first_installed=st.none() | st.dates(date(2010, 1, 1), date(2016, 12, 31)),
    gap_days=st.integers(0, 400),
    reports=st.lists(st.dates(date(2018, 1, 1), date(2025, 12, 1)), max_size=4, unique=True),
)
def test_a_place_of_successive_controls_is_never_at_risk_twice(
    first_removed: date, first_installed: date | None, gap_days: int, reports: list[date]
) -> None:
    rows = [
        RegisterRow("A", 1, first_installed, removed_on=first_removed),
        RegisterRow("B", 1, first_removed + timedelta(days=gap_days)),
    ]
    events = [failure(day, restored=day + timedelta(days=5)) for day in reports]
    stays = stays_of_single(rows, events, Window(date(2018, 1, 1), date(2025, 12, 31)))
    ordered = sorted(stays, key=lambda stay: (stay.entered_on, stay.ended_on))
    assert all(earlier.ended_on <= later.entered_on for earlier, later in pairwise(ordered))

"""What share of the lamps a text says is at fault, and by how many hours lights are shifted."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.lexicon import load_lexicon
from pipeline.tie.reading import Reader
from tests.tie.small_store import call, incidents, tied


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(load_lexicon())


@pytest.mark.parametrize(
    ("problem", "share"),
    [
        ("half of the poles on during the day", 1 / 2),
        ("Half the lot lights burning in daylight", 1 / 2),
        ("3 of 8 lights on all day", 3 / 8),
        ("three out of the eight wall packs stay on", 3 / 8),
        ("2 OF 5 ON 24/7", 2 / 5),
        ("Lights on all day: 3 of 8 lights", 3 / 8),
        ("every other light is on during the day", 1 / 2),
        ("every third pole burning all day", 1 / 3),
        ("every 3rd pole burning all day", 1 / 3),
        ("alternate fixtures on in daytime", 1 / 2),
        ("one side of the parking lot on all day", 1 / 2),
        ("lights stay on, one side only", 1 / 2),
        ("50% of lot lights on in the daytime", 1 / 2),
        ("1/3 of the bollards on all day", 1 / 3),
        ("two thirds of the lights burn all day", 2 / 3),
        ("a quarter of the canopy lights stay on", 1 / 4),
        ("1 in 4 lights on all day", 1 / 4),
        ("half of the lights not working", 1 / 2),
        ("1 of 2 heads on pole 14 dayburning", 1 / 2),
        ("3 of 8 lights out, the other lights fine", 3 / 8),
    ],
)
def test_reads_the_share_of_lamps_that_a_report_names(reader: Reader, problem: str, share: float) -> None:
    assert reader.read(problem, "replaced photocell", "")[0].share_of_lamps == pytest.approx(share)


@pytest.mark.parametrize(
    ("problem", "action"),
    [
        ("lot lights on all day", "3 of 8 repaired, all now ok"),
        ("lot lights on all day", "replaced photocells on 3 of 8 poles"),
        ("lot lights on all day", "checked half of the lights, ok"),
        ("lights on all day, half an hour from here", ""),
        ("lights come on half an hour early", ""),
        ("lights on half the day", ""),
        ("lights on half the night", ""),
        ("lights on at half past noon", ""),
        ("lights half bright all day", ""),
        ("lights on all day. page 1 of 2", ""),
        ("pole 3 of 8 on all day", ""),
        ("3 of 8 photocells bad, lights on all day", ""),
        ("lights on all day, not half of the lights but all", ""),
        ("half of the lights are ok, the rest on all day", ""),
        ("half of the lot lights out, the rest burning all day", ""),
        ("half of the lights on all day, 3 of 8 lights on all day", ""),
        ("3/8 lights on all day", ""),
        ("lights on every other day", ""),
        ("lights on all day every third week", ""),
        ("one side of contactor welded, lights on all day", ""),
        ("east side on all day", ""),
        ("0 of 8 lights on all day", ""),
        ("9 of 8 lights on all day", ""),
        ("no longer half of the lights on all day", ""),
        ("", ""),
    ],
)
def test_what_is_no_share_of_the_burning_lamps_is_not_read_as_one(
    reader: Reader, problem: str, action: str
) -> None:
    assert reader.read(problem, action, "")[0].share_of_lamps is None


def test_what_the_crew_found_burning_is_a_share_where_the_report_gives_none(reader: Reader) -> None:
    told = reader.read("lot lights", "found half of the lights on in daytime, replaced photocell", "")[0]
    assert told.share_of_lamps == 1 / 2


def test_a_share_counts_its_own_number_of_lights_not_that_of_all(reader: Reader) -> None:
    assert reader.read("3 of 8 lights on all day", "replaced photocells", "")[0].units == 3


NONE = None
SHIFTS = [
    ("lights come on an hour early", 1, NONE, "on"),
    ("comes on 1hr too early", 1, NONE, "on"),
    ("lights come on 1 hour late", NONE, 1, ""),
    ("lights going off 2 hrs late", 2, NONE, "off"),
    ("2 hrs late going off", 2, NONE, "off"),
    ("lights shut off half an hour early", NONE, 0.5, ""),
    ("lights go out 90 minutes too soon", NONE, 1.5, ""),
    ("lights stay on 2 hours too long", 2, NONE, "off"),
    ("lights stay on an hour and a half after sunrise", 1.5, NONE, "off"),
    ("lights on until 2 hours after sunrise", 2, NONE, "off"),
    ("lights on 30 min before sunset", 0.5, NONE, "on"),
    ("lights not coming on until an hour after dark", NONE, 1, ""),
    ("lights not shutting off until 3 hours after daylight", 3, NONE, "off"),
    ("lights go off 1 hr before sunrise", NONE, 1, ""),
    ("coming on and going off an hour late", 1, 1, "off"),
    ("lot lights an hour early", 1, 1, "on"),
    ("off by 3 hours", 3, 3, ""),
    ("lot lights off by 1.5 hours", 1.5, 1.5, ""),
    ("clock 12 hrs off", 12, 12, ""),
    ("TIMER OFF 3 HRS", 3, 3, ""),
    ("time clock is 2 hours fast", 2, 2, "on"),
    ("clock running an hour behind", 1, 1, "off"),
    ("lights coming on late by 2 hours", NONE, 2, ""),
    ("lights come on 1-2 hours early", 1.5, NONE, "on"),
    ("lights come on 1 1/2 hours early", 1.5, NONE, "on"),
    ("lights come on a couple of hours early every day", 2, NONE, "on"),
    ("lights come on an hour late every day", NONE, 1, ""),
]


@pytest.mark.parametrize(("problem", "burning_h", "dark_h", "edge"), SHIFTS)
def test_reads_the_shift_of_a_wrong_time(
    reader: Reader, problem: str, burning_h: float | None, dark_h: float | None, edge: str
) -> None:
    told = reader.read(problem, "reset clock", "")[0]
    assert (told.symptom, told.burning_shift_h, told.dark_shift_h, told.burning_edge) == (
        "wrong time", burning_h, dark_h, edge
    )  # fmt: skip


@pytest.mark.parametrize(
    ("problem", "action"),
    [
        ("lights come on too early", "reset clock"),
        ("lights come on too early", "labor 2 hours"),
        ("lights come on too early", "arrived an hour ago, power off for 3 hours, reset clock"),
        ("lights come on a few hours early", ""),
        ("lights go off 2 hours after dark", ""),
        ("lights on 24 hours", "replaced photocell"),
        ("lights out for 3 hours", "replaced lamp 2 hours later"),
        ("lights on all day", "tech was 2 hours late"),
        ("lights on wrong time, not 2 hours late", ""),
        ("lights at wrong time, 48 hours early", ""),
    ],
)
def test_hours_that_are_no_shift_are_not_read_as_one(reader: Reader, problem: str, action: str) -> None:
    told = reader.read(problem, action, "")[0]
    assert (told.burning_shift_h, told.dark_shift_h, told.burning_edge) == (None, None, "")


def test_the_crews_correction_of_a_clock_tells_how_it_was_wrong(reader: Reader) -> None:
    told = reader.read("lights come on at the wrong time", "set clock ahead 1 hour", "")[0]
    assert (told.burning_shift_h, told.dark_shift_h, told.burning_edge) == (1, 1, "off")


def test_the_incident_takes_share_and_shift_from_the_first_report_that_says_them(tmp_path: Path) -> None:
    store = tied(tmp_path, [
        call("1", "2024-03-01 09:00", None, "wall packs 1 on all day"),
        call("2", "2024-03-02 09:00", None, "wall packs 1: 3 of 12 wall packs on all day"),
        call("3", "2024-03-03 09:00", "2024-03-05 10:00", "half of wall packs 1 on all day", "replaced photocells"),
        call("4", "2024-05-01 09:00", "2024-05-02 10:00", "gym canopy timer: lights on 2 hours early", "reset timer"),
    ])  # fmt: skip
    first, second = incidents(store)
    assert first["share_of_lamps"] == 3 / 12
    assert (second["burning_shift_h"], second["burning_edge"]) == (2.0, "on")
    assert store.row(
        "SELECT count(share_of_lamps), count(burning_shift_h), count(dark_shift_h) FROM findings"
    ) == (2, 1, 0)


def test_a_share_of_several_places_is_no_share_of_one(tmp_path: Path) -> None:
    store = tied(
        tmp_path,
        [call("1", "2024-03-01 09:00", None, "half of the lights on all day: pole 14, north lot pole 3")],
    )
    assert store.row("SELECT count(*), count(share_of_lamps) FROM findings") == (2, 0)

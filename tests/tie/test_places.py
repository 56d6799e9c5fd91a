"""Which site, place and control a call means, however it is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.lexicon import load_lexicon
from pipeline.tie.names import PlaceWords
from pipeline.tie.sites import Site, SiteNames

from .small_store import SITES, call, control, tied

NAMES = [
    Site("Q101", "Fennmoor High School", ("Fennmoor HS",)),
    Site("Q102", "Harrowick High School", ("Harrowick HS",)),
    Site("Q103", "Harrowick Early Learning Center", ()),
    Site("Q104", "Bus Depot", ("Bus Barn", "Transportation")),
    Site("Q105", "Otter Middle School", ()),
    Site("Q106", "Otter High School", ()),
]


@pytest.fixture(scope="module")
def names() -> SiteNames:
    spoken = [name for site in NAMES for name in (site.name or "", *site.aliases)]
    return SiteNames(PlaceWords(load_lexicon().place_forms, spoken), NAMES)


@pytest.mark.parametrize(
    ("text", "site_id", "method"),
    [
        ("q-101", "Q101", "id"),
        ("FENNMOOR HIGH SCHOOL", "Q101", "name"),
        ("Fennmoor  High  Sch.", "Q101", "name"),
        ("bus barn", "Q104", "alias"),
        ("Q104 - Bus Depot, rear", "Q104", "id"),
        ("Fennmoor", "Q101", "name"),
        ("FENMOOR HIGH SCHOL", "Q101", "misspelling"),
        ("Harrowick Elc", None, ""),
        ("Harrowick", None, ""),
        ("Otter", None, ""),
        ("Somewhere else entirely", None, ""),
        ("High School", None, ""),
        ("", None, ""),
        (None, None, ""),
        ("🙂", None, ""),
    ],
)
def test_finds_the_site_or_leaves_it_open(
    names: SiteNames, text: str | None, site_id: str | None, method: str
) -> None:
    found = names.find(text)
    assert found.site_id == site_id
    if method != "misspelling":  # a slip that the word list mends counts as the name itself
        assert found.method == method


# what the call's columns say | problem | action | the control that is meant (None: it is left open)
MEANT: list[tuple[dict[str, str | None], str, str, str | None]] = [
    ({"asset_text": "PC-0014"}, "light on all day", "", "PC-0014"),
    ({"asset_text": "pc 14"}, "light on all day", "", "PC-0014"),
    ({"asset_text": "TAG# PC0014"}, "light on all day", "", "PC-0014"),
    ({"asset_text": "PCE-0014"}, "light on all day", "", "PC-0014"),
    ({}, "light on all day. tag PC-14", "", "PC-0014"),
    ({}, "POLE 14 ON ALL DAY", "", "PC-0014"),
    ({}, "pole #14 light on all day", "", "PC-0014"),
    ({}, "N LOT POLE 03 stuck on", "", "PC-0015"),
    ({"address_text": "north lot pole 3"}, "light stuck on", "", "PC-0015"),
    ({}, "pole 3 in the north lot is stuck on", "", "PC-0015"),
    ({}, "gym canopy lights on all day", "changed timer", "TC-1"),
    ({}, "canopy lights on all day", "replaced timer", "TC-1"),
    ({}, "lot lights on all day", "replaced photocell", None),
    ({}, "field circuit 1: all lights out", "replaced contactor", "CT-9"),
    ({}, "field circuit 1: all lights out", "", "CT-9"),
    ({}, "field circuit 1: lights on all day", "replaced photocell", "PC-0099"),
    ({"asset_text": "PC-0099"}, "lights on all day", "contactor welded, replaced contactor", "CT-9"),
    ({}, "pole 144 on all day", "", None),
    ({}, "room 14 lights on all day", "", None),
    ({"site_text": "S2", "asset_text": "PC-0014"}, "light on all day", "", None),
    ({"site_text": None, "asset_text": "PC-0014"}, "light on all day", "", "PC-0014"),
]


@pytest.fixture(scope="module")
def findings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[str | None, float | None]]:
    """Control and confidence of every call above, from one run of the stage."""
    calls = [
        call(str(number), "2024-03-01 09:00", None, problem, action, **more)
        for number, (more, problem, action, _) in enumerate(MEANT)
    ]
    store = tied(tmp_path_factory.mktemp("places"), calls)
    return {row[0]: row[1:] for row in store.rows("SELECT call_id, control_id, tie_confidence FROM findings")}


@pytest.mark.parametrize(
    "number", range(len(MEANT)), ids=[f"{more or ''} {problem}" for more, problem, _, _ in MEANT]
)
def test_finds_the_control_or_leaves_it_open(
    findings: dict[str, tuple[str | None, float | None]], number: int
) -> None:
    control_id, confidence = findings[str(number)]
    assert control_id == MEANT[number][3]
    if control_id is not None:
        assert confidence is not None
        assert 0.6 <= confidence <= 1


def test_an_open_tie_names_its_candidate(tmp_path: Path) -> None:
    store = tied(
        tmp_path, [call("1", "2024-03-01 09:00", None, "on all day", site_text="S2", asset_text="PC-0014")]
    )
    assert "perhaps at S1 / pole 14" in store.value("SELECT evidence FROM findings")


def test_the_row_in_place_on_the_day_is_meant_not_its_successor(tmp_path: Path) -> None:
    from datetime import date

    register = [
        control("PC-1", "pole 1", installed_on=date(2015, 1, 1), removed_on=date(2022, 5, 1)),
        control("PC-2", "pole 1", installed_on=date(2022, 5, 1)),
    ]
    calls = [
        call("1", "2022-04-20 09:00", "2022-05-01 10:00", "pole 1 on all day", "replaced photocell"),
        call("2", "2024-04-20 09:00", "2024-05-01 10:00", "pole 1 on all day", "replaced photocell"),
    ]
    store = tied(tmp_path, calls, register)
    assert store.rows("SELECT call_id, control_id FROM findings ORDER BY 1") == [("1", "PC-1"), ("2", "PC-2")]


def test_a_night_walk_lists_a_finding_for_each_place(tmp_path: Path) -> None:
    problem = "NIGHT WALK, OUTAGES: POLE 14 OUT; NORTH LOT POLE 3 CYCLING; GYM CANOPY TIMER DIM"
    action = (
        "POLE 14 - REPLACED LAMP; NORTH LOT POLE 3 - REPLACED PHOTOCELL; GYM CANOPY TIMER - REPLACED BALLAST"
    )
    store = tied(
        tmp_path, [call("1", "2024-03-01 20:00", "2024-03-05 10:00", problem, action, work_type="inspection")]
    )
    found = store.rows("SELECT position, symptom, component, action FROM findings ORDER BY part_number")
    assert found == [
        ("S1 / pole 14", "out", "lamp", "replaced"),
        ("S1 / north lot pole 3", "cycling", "control", "replaced"),
        ("S1 / gym canopy timer", "dim", "driver", "replaced"),
    ]
    assert store.value("SELECT count(*) FROM incidents") == 3


def test_a_round_that_found_nothing_is_no_fault_and_says_why(tmp_path: Path) -> None:
    quiet = call(
        "1",
        "2024-03-01 20:00",
        "2024-03-01 22:00",
        "MONTHLY NIGHT WALK",
        "NO OUTAGES FOUND",
        work_type="inspection",
    )
    store = tied(tmp_path, [quiet])
    assert store.count("findings") == 0
    assert store.value("SELECT no_finding_reason FROM calls") == "inspection that found nothing"


def test_without_a_register_calls_at_one_address_share_a_place(tmp_path: Path) -> None:
    def at_address(
        number: str, reported: str, completed: str, action: str, address: str
    ) -> dict[str, object]:
        return call(number, reported, completed, "light out", action, site_text=None, address_text=address)

    calls = [
        at_address("1", "2024-03-01 09:00", "2024-03-20 09:00", "replaced lamp", "12 Otter Pl"),
        at_address("2", "2024-03-05 09:00", "2024-03-06 09:00", "duplicate", "12  OTTER pl"),
        at_address("3", "2024-03-05 09:00", "2024-03-06 09:00", "replaced lamp", "99 Otter Pl"),
    ]
    store = tied(tmp_path, calls, register=(), sites=())
    assert store.rows("SELECT position, origin FROM positions ORDER BY 1") == [
        ("12 OTTER PL", "calls"),
        ("99 OTTER PL", "calls"),
    ]
    assert store.rows("SELECT first_reported_at::DATE::VARCHAR, calls FROM incidents ORDER BY 1") == [
        ("2024-03-01", 2), ("2024-03-05", 1),
    ]  # fmt: skip


def test_a_site_register_alone_gives_the_site(tmp_path: Path) -> None:
    store = tied(
        tmp_path,
        [call("1", "2024-03-01 09:00", None, "lights on", site_text="OHES")],
        register=(),
        sites=SITES,
    )
    assert store.rows("SELECT site_id, site_match, tie_method, position FROM findings") == [
        ("S1", "alias", "site", None)
    ]


def test_a_default_coordinate_places_nothing(tmp_path: Path) -> None:
    """One coordinate under hundreds of calls is where a system puts what it has not found (flagged by intake)."""
    at = {"site_text": None, "longitude": -105.0}
    store = tied(
        tmp_path,
        [
            call("1", "2024-03-01", None, "Light out", address_text="12 Larch Rd", latitude=40.1, **at),
            call("2", "2024-03-01", None, "Light out", address_text="14 Quill Ave", latitude=41.9,
                 flags=["default coordinate"], **at),
        ],
        register=(),
        sites=(),
    )  # fmt: skip
    assert store.rows("SELECT latitude, longitude FROM positions WHERE origin = 'calls' ORDER BY latitude") == [
        (40.1, -105.0), (None, None),
    ]  # fmt: skip


def test_assets_as_called_of_two_sites_never_share_a_place(tmp_path: Path) -> None:
    sites = [
        {"site_id": "A / B", "name": "One", "aliases": []},
        {"site_id": "A", "name": "Two", "aliases": []},
    ]
    store = tied(tmp_path, [
        call("1", "2024-03-01 09:00", None, "light out", site_text="A / B", asset_text="C"),
        call("2", "2024-03-01 09:00", None, "light out", site_text="Two", asset_text="B / C"),
    ], register=(), sites=sites)  # fmt: skip
    assert store.row("SELECT count(DISTINCT position), count(DISTINCT incident_id) FROM findings") == (2, 2)


CHAIN = (
    control("CT-1", "stadium contactor", "contactor"),
    control("CT-2", "stadium relay", "contactor", switched_by="CT-1"),
    control("TC-7", "stadium clock", "time switch", switched_by="CT-2"),
    control("PC-0300", "stadium pilot", switched_by="TC-7"),
)


def test_a_chain_of_devices_is_followed_to_its_end(tmp_path: Path) -> None:
    said = [
        ("", "stadium pilot: entire circuit out", "", "CT-1"),
        ("PC-0300", "lights on all day", "contactor welded, replaced contactor", "CT-1"),
        ("CT-2", "lights on all day", "contactor welded, replaced contactor", "CT-2"),
        ("CT-1", "lights on all day", "replaced photocell", "PC-0300"),
        ("CT-1", "lights on all day", "replaced time clock", "TC-7"),
    ]
    calls = [
        call(str(number), "2024-03-01 09:00", None, problem, action, asset_text=asset)
        for number, (asset, problem, action, _) in enumerate(said)
    ]
    found = dict(tied(tmp_path, calls, CHAIN).rows("SELECT call_id, control_id FROM findings"))
    assert found == {str(number): meant for number, (*_, meant) in enumerate(said)}


def test_a_misspelt_name_is_held_against_few_names_however_many_there_are() -> None:
    sites = [
        Site(f"Q{n}", f"{chr(97 + n % 26)}{chr(97 + n // 26 % 26)}x{n} High School", ()) for n in range(2_000)
    ]
    sites.append(Site("Q-F", "Fennmoor High School", ()))
    many = SiteNames(PlaceWords(load_lexicon().place_forms, ["High School"]), sites)
    assert 1 <= len(many._alike(("fenmor", "high", "school"))) <= 100
    found = many.find("Fenmor High School")
    assert (found.site_id, found.method) == ("Q-F", "misspelling")

"""Does a call concern exterior lighting? Made-up reports, and the traps in the word 'light'."""

from __future__ import annotations

import pytest

from pipeline.lexicon import Lexicon, load_lexicon


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return load_lexicon()


EXTERIOR = """
Pole 1 light on all day call [phone]
Lights on all day, please call [name] cell phone: [phone]
Lights out in the lot; contact [e-mail] or phone [phone]
PARKING LOT LIGHTS OUT
Exterior lights on during the day at north lot
light pole knocked down by car
Street light out, tree blocking it
P/C BAD ON POLE 14
wall pack burning all day
gym canopy lights staying on 24/7
parking lot timer off by an hour
lights on all day
dayburners at NE lot
Lot lights contactor welded
stadium lights wont come on
wallpak out by bus loop
LITES ON 24-7 SOUTH LOT
BALLFIELD LTS TIMER PROBLEM
photocel bad
tennis court lights timer
POLE LT #4 OUT
bldg lights on constantly outside
walkway lights dim
NIGHT WALK - exterior lighting inspection
lights in front of school not coming on at night
outside lts burning day and night
cnaopy light out by band hall
whole east lot is dark
pole 12 burning at noon
bollard out by front walk
"""
OTHER = """
Office phone dead, message light on, call [phone]
LIGHT OUT RM 204
traffic light out at main
Remove graffiti from light pole
Christmas lights out in front of building
Trim tree blocking street light
exit sign light out hallway
GYM LIGHTS OUT
Lights won't turn off in room 12
highlight the carpet
bus light out #12
time clock not letting employees punch
irrigation timer broken
replace classroom ballast
HVAC contactor failed
paint light pole
occupancy sensor in hallway stays on
head light out on truck 12
automatic door photo eye not working
photo eye on restroom sink bad
Light fixture hanging in cafeteria
toilet leaking in room next to light switch
banner fell from light pole
emergency lights failed test
change lamp in projector
parking lot pothole by light pole
parking lot striping
Parking lot camera on light pole offline
Lights will not turn off in clasroom 315
"""


@pytest.mark.parametrize("problem", EXTERIOR.strip().splitlines())
def test_exterior_lighting_is_known_by_its_text(lexicon: Lexicon, problem: str) -> None:
    assert lexicon.lighting(problem, "", "").by_text


@pytest.mark.parametrize("problem", OTHER.strip().splitlines())
def test_other_work_is_not_taken_for_exterior_lighting(lexicon: Lexicon, problem: str) -> None:
    assert not lexicon.lighting(problem, "", "").by_text


def test_the_action_speaks_where_the_report_names_no_trade(lexicon: Lexicon) -> None:
    assert lexicon.lighting("Electrical problem", "Replaced photocell on lot lights", "").by_text
    assert not lexicon.lighting("Trim trees", "Street light was cleared", "").by_text


def test_the_category_overrules_a_silent_text_and_the_text_is_kept(lexicon: Lexicon) -> None:
    verdict = lexicon.lighting("12 Otter Place", "completed", "Public works | Street Lights")
    assert verdict.is_lighting
    assert not verdict.by_text
    assert verdict.evidence == "category: Street Lights"


def test_another_trades_category_overrules_a_mention(lexicon: Lexicon) -> None:
    assert not lexicon.lighting("street light out behind branches", "", "Trees").is_lighting


def test_a_plain_report_stands_against_a_category_of_indoor_lighting(lexicon: Lexicon) -> None:
    assert lexicon.lighting("Parking lot lights on all day", "", "Interior Lighting").is_lighting
    assert not lexicon.lighting("Lights out", "replaced tubes", "Interior Lighting").is_lighting


def test_a_neutral_category_leaves_the_text_to_decide(lexicon: Lexicon) -> None:
    assert lexicon.lighting("wall pack out", "", "Electrical").is_lighting
    assert not lexicon.lighting("outlet dead in room 4", "", "Electrical").is_lighting

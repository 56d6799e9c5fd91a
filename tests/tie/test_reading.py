"""Made-up sentences in many styles, and what a person of the trade reads in them."""

from __future__ import annotations

import pytest

from pipeline.lexicon import load_lexicon
from pipeline.tie.dates import dates_in
from pipeline.tie.log_order import oldest_first
from pipeline.tie.reading import Reader, Reading
from pipeline.tie.verdict import verdict_of


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(load_lexicon())


def first(reader: Reader, problem: str, action: str) -> Reading:
    return reader.read(problem, action, "")[0]


# problem | action | symptom, component, action, the control failed
EXAMPLES = """
LOT LIGHTS ON ALL DAY | REPLACED P/C | day burning, control, replaced, yes
Pole 14 stays on during daylight | Swapped out the photo eye, works as it should | day burning, control, replaced, yes
DAYBURNER NE LOT | R/R PC | day burning, control, replaced, yes
wall pak by dock burning 24/7 | new photo-cell installed | day burning, control, replaced, yes
lights never shut off | Found bad photocell. Replaced. | day burning, control, replaced, yes
lights wont shut off | needs photocell. 3/4/2020 repaired | day burning, control, replaced, yes
Exterior lts on in daytime | TC BAD, C/O | day burning, control, replaced, yes
Field lights on at noon | contactor welded shut, changed contactor | day burning, control, replaced, yes
Lights stay on | not the timer. Contactor stuck, replaced same | day burning, control, replaced, yes
bus loop lites burn all day | <p>Replaced&nbsp;<b>photo cell</b></p> | day burning, control, replaced, yes
front lights on constantly | photocel was defective - replaced w/ new | day burning, control, replaced, yes
POLE LIGHTS BURNING IN DAYLIGHT | 1/5 NO PARTS. 1/9 INSTALLED PHOTOCONTROL | day burning, control, replaced, yes
lights on 24 hours | Replaced lamp and photocell | day burning, control, replaced, yes
Canopy lights on day and night | occ. sensor failed on; installed new sensor | day burning, control, replaced, yes
Lights on during day | Relay in lighting panel stuck closed. Replaced relay | day burning, control, replaced, yes
dusk to dawn light on all day | changed eye | day burning, control, replaced, yes
Replace photocell at pole 14 | done | unknown, control, replaced, yes
photocell bad on pole 3 | completed | unknown, control, unknown, yes
Lot lights remain on | repaired photocell | day burning, control, repaired, yes
Lights out in lot | Replaced faulty time clock, set to schedule | out, control, replaced, yes
light out | PHOTO EYE BURNT, REPLACED | out, control, replaced, yes
walkway lights not coming on | timer dead, new timer put in | out, control, replaced, yes
entire lot dark | coil burned up on contactor, replaced contactor | circuit out, control, replaced, yes
clock an hour off | clock not keeping time, replaced time clock | wrong time, control, replaced, yes
lot lights still on at 10 | no action | day burning, unknown, unknown, yes
Lights on all day | left on constant, needs new time clock | day burning, control, bypassed, yes
lights on day | no day burner found | day burning, unknown, none found, no
light on in daytime | photo eye tested, no problem found | day burning, unknown, none found, no
Lot lights on during the day | HOA left in hand, returned to auto | day burning, unknown, reset, no
LOT LIGHTS ON IN DAY | SWITCH WAS IN MANUAL. PUT BACK IN AUTO | day burning, unknown, reset, no
lights on all day | eye covered by leaves, cleaned | day burning, control, cleaned, no
lights on all day | EMS override was left on, released | day burning, unknown, reset, no
lights on all day | time clock off due to power outage, reset clock | day burning, control, reset, no
lights on an hour late | reset time clock for DST | wrong time, control, reset, no
lights come on too early | reprogrammed timer | wrong time, control, reset, no
lights on all day | contractor has yet to install the new controller | day burning, unknown, unknown, yes
light out | contractor has yet to install the new controller | out, unknown, unknown, no
pole 3 out | contractor will install new feed tomorrow | out, wiring, referred, no
light out | knocked down pole made safe, order made out to replace pole | out, pole, repaired, no
pole 9 out | replaced photo eye and eye holder, all lights working | out, control, replaced, yes
pole 9 out | replaced photocell receptacle | out, wiring, replaced, no
light out | Checked clock and entire system | out, unknown, none found, no
lights out | both time clocks are set to shut off at 7 am | out, unknown, unknown, no
light out | light in question is not city-owned | out, unknown, referred, no
lights out | selector switch returned to correct position | out, other, reset, no
light out | installed button eye, also found arm and fixture on ground | out, control, replaced, yes
pole 14 out | Lamp replaced, photocell ok | out, lamp, replaced, no
pole light out | Checked photocell and timer ok, replaced ballast | out, driver, replaced, no
pole light out | did not replace photocell; bulb was burned out, replaced bulb | out, lamp, replaced, no
lights cycling | HPS at end of life, relamped | cycling, lamp, replaced, no
lights flickering | replaced ballast and ignitor | flicker, driver, replaced, no
Lot dark | breaker tripped, reset breaker | circuit out, supply, reset, no
Wall pack dim | new LED driver | dim, driver, replaced, no
Light out | replaced light | out, lamp, replaced, no
Light pole knocked down by car | replaced pole and wiring | damage, pole, replaced, no
street light out | see wo 12345 | out, unknown, duplicate, no
lights out | DUPLICATE OF EXISTING CASE | out, unknown, duplicate, no
lights out | Referred to utility | out, unknown, referred, no
light out | repaired broken wire in hand hole | out, wiring, repaired, no
light out | replaced blown fuse | out, supply, replaced, no
Light out | Replaced lamp and photocell | out, control, replaced, no
PM - group relamp | replaced lamps and photocells | unknown, control, planned, no
lights out, photocell is fine | replaced lamp | out, lamp, replaced, no
Lights stuck on | Could not replace photocell, need lift | day burning, unknown, referred, yes
lights go off at 8 pm | adjusted time switch | wrong time, control, reset, no
Soffit lights on 24-7 | Time clock trippers were missing, installed new trippers | day burning, other, replaced, no
Lights not shutting off | R&R P/E | day burning, control, replaced, yes
Lights not shutting off | replaced dusk-to-dawn switch | day burning, control, replaced, yes
lots lights stay on | Contactor was hung, released. Ordered new contactor. | day burning, control, referred, yes
Site lighting on continuously | Reset timer, needs new timer | day burning, control, referred, yes
Lights do not go off | ordered and installed new photocell | day burning, control, replaced, yes
Lights do not go off | photocell on back order | day burning, control, referred, yes
lot lights dark | PO issued for contactor | out, control, referred, yes
dayburner | Referred to IT for schedule change | day burning, unknown, referred, yes
lites on days | chkd tc - 4 hrs off. reset tc | wrong time, control, reset, no
time clock needs adjusting | done | unknown, control, reset, no
Ext light on | photo cell was unplugged, plugged back in | day burning, control, reset, no
Ext lts on 24/7 | PC shorted out. Installed new. | day burning, control, replaced, yes
Lights out | squirrel chewed wire. repaired. | out, wiring, repaired, no
Lights out | all lights on at time of arrival | out, unknown, none found, no
lights stay on | lights left on for security per office | day burning, unknown, unknown, no
lot lights on all day | relay hung, released it. Will need replacing | day burning, control, referred, yes
lot lights on all day | relay hung. Will need replacing soon | day burning, control, referred, yes
lot lights on all day | pulled breaker for now. Photocell on order | day burning, control, referred, yes
lot lights on all day | jumper found, removed jumper and put in new photocell | day burning, control, replaced, yes
lot lights out | thought it was the timer but a breaker had tripped, reset breaker | out, supply, reset, no
lot lights out | out of service from an underground fault, turned over to utility crew | out, wiring, referred, no
lot lights on | they are supposed to be on until noon for the fair | day burning, unknown, none found, no
street light out | fuse | out, supply, unknown, no
street light out | lamp & cell | out, control, unknown, no
lot lights on all day | awaiting approval for new eye | day burning, control, referred, yes
"""


def _rows() -> list[tuple[str, ...]]:
    return [tuple(cell.strip() for cell in line.split("|")) for line in EXAMPLES.strip().splitlines()]


@pytest.mark.parametrize(("problem", "action", "expected"), _rows())
def test_reads_what_a_person_reads(reader: Reader, problem: str, action: str, expected: str) -> None:
    reading = first(reader, problem, action)
    failed = "yes" if verdict_of(reading).probability >= 0.5 else "no"
    assert f"{reading.symptom}, {reading.component}, {reading.action}, {failed}" == expected, reading


@pytest.mark.parametrize(
    ("action", "deed"),
    [
        ("11/09/2019 installed new photo cell\n11/02/2019 photo cell ok, reset timer", "replaced"),
        ("<p>2021-05-09 reset timer</p><p>2021-05-01 could not reset timer, needs new timer</p>", "reset"),
        ("5/12/2020 - reset timer\n5/20/2020 - could not reset, replaced timer", "replaced"),
    ],
)
def test_a_log_is_read_from_its_oldest_entry_whichever_stands_first(
    reader: Reader, action: str, deed: str
) -> None:
    assert first(reader, "lights on all day", action).action == deed


def test_entries_whose_order_their_dates_leave_open_stand_as_written() -> None:
    text = "3/4/2020 reset timer\n2/5/2020 replaced timer\n4/3/2020 done"
    assert oldest_first(text, dates_in(text)) == text


def test_counts_controls_apart_from_lamps(reader: Reader) -> None:
    told = reader.read("outage", "Repaired 17 units: 17 lamps, 6 photo controls, 4 starters", "")
    assert {(reading.component, reading.units) for reading in told} == {
        ("control", 6),
        ("lamp", 17),
        ("driver", 4),
    }


@pytest.mark.parametrize(
    ("problem", "action", "units"),
    [
        ("lights on", "replaced six photocells", 6),
        ("lights on", "replaced photocells (3)", 3),
        ("lights on", "REPLACED PHOTOCELL ON 3 POLES", 3),
        ("6 pole lights on all day", "replaced photocells", 6),
        ("pole 14 on all day", "replaced photocell", 1),
        ("lights on", "replaced 2 pole contactor", 1),
        ("lights out", "replaced 250 W lamp", 1),
        ("lights on", "replaced photocell 3/4/21", 1),
    ],
)
def test_counts_pieces_and_nothing_else(reader: Reader, problem: str, action: str, units: int) -> None:
    assert first(reader, problem, action).units == units


@pytest.mark.parametrize(
    ("action", "cause"),
    [
        ("found selector in HAND, returned to auto", "hand"),
        ("EMS schedule overridden, corrected", "building automation"),
        ("photocell had been bypassed, put back", "bypass"),
        ("leaves covering photo eye, cleaned", "covered eye"),
        ("clock off after power outage, reset", "power outage"),
        ("not in hand. replaced photocell", ""),
        ("BAS schedule ok, replaced photocell", ""),
        ("replaced wire in hand hole", ""),
    ],
)
def test_names_a_cause_that_is_not_the_controls_own(reader: Reader, action: str, cause: str) -> None:
    assert first(reader, "lights on all day", action).cause == cause


def test_a_control_changed_with_the_lamp_convicts_less_than_one_changed_alone(reader: Reader) -> None:
    alone = verdict_of(first(reader, "light out", "replaced photocell"))
    together = verdict_of(first(reader, "light out", "replaced lamp and photocell"))
    reset = verdict_of(first(reader, "light out", "reset photocell"))
    assert alone.probability > together.probability > reset.probability


def test_a_lens_changed_with_the_control_is_no_rival(reader: Reader) -> None:
    assert first(reader, "light out", "replaced photocell and lens").alone


def test_work_on_a_replaced_relay_after_a_replaced_photocell_is_the_last_word(reader: Reader) -> None:
    told = first(
        reader, "lights on 24/7", "replaced photocell, still on. Found relay welded and replaced relay."
    )
    assert told.kind == "contactor"


def test_keeps_the_words_that_decided(reader: Reader) -> None:
    evidence = first(reader, "LOT LIGHTS STUCK ON", "REPLACED P/C").evidence
    assert "STUCK ON" in evidence
    assert "P/C" in evidence

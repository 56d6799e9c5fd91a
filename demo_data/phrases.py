"""How people of the district word things. Lower case; an export may shout or misspell them."""

from __future__ import annotations

PROBLEMS: dict[str, tuple[str, ...]] = {
    "day burning": (
        "on during the day",
        "burning all day",
        "staying on in the daytime",
        "on 24/7",
        "will not shut off",
        "on at noon, please check",
        "never goes off",
        "still on in broad daylight",
        "on day and night",
        "stuck on",
        "on all day long",
        "day burner",
    ),
    "out": (
        "out",
        "not working",
        "out at night",
        "does not come on",
        "dark",
        "not coming on at night",
        "burned out",
        "dead",
        "not lit",
        "is out, very dark there",
    ),
    "circuit out": (
        "all out",
        "whole row is dark",
        "entire circuit out",
        "none of them come on",
        "all dark tonight",
        "half the lot is dark",
        "completely dark after practice",
    ),
    "cycling": (
        "cycling on and off",
        "goes on and off all night",
        "keeps cycling",
        "turns off and on every few minutes",
    ),
    "dim": ("very dim", "dim", "getting dimmer", "barely lit"),
    "flicker": ("flickering", "flickers badly", "flashing like a strobe", "flickering at night"),
    "wrong time": (
        "coming on at the wrong time",
        "come on at 3 in the afternoon",
        "shut off at 8 pm while people are still here",
        "on too early in the evening",
        "times are off",
        "going off in the middle of the night",
    ),
    "damage": (
        "knocked down",
        "hit by a truck",
        "broken, glass on the ground",
        "hanging by the wires",
        "smashed",
    ),
}

NOUNS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("flood pole", ("flood light", "field flood light", "exterior flood light")),
    ("pole", ("pole light", "parking lot light", "light pole", "exterior pole light")),
    ("wall pack", ("wall pack", "exterior wall light", "wall pack light", "outside light")),
    ("timer", ("canopy lights", "entry lights outside", "exterior canopy lights")),
    ("sensor", ("canopy light", "outside canopy light", "exterior canopy fixture")),
    ("time clock", ("exterior lights", "outside lights", "building exterior lights", "security lights")),
    ("circuit", ("parking lot lights", "lot lights", "exterior pole lights", "area lights")),
)

CONTROL_NAMES: dict[str, tuple[str, ...]] = {
    "photocontrol": ("photocell", "photo cell", "photo eye", "photocontrol", "photocell"),
    "time switch": ("time clock", "timeclock", "time switch"),
    "timer": ("timer switch", "in-wall timer", "wall timer"),
    "occupancy sensor": ("occupancy sensor", "motion sensor", "occ sensor"),
    "contactor": ("lighting contactor", "contactor"),
}

CONTROL_REPLACED: tuple[str, ...] = (
    "replaced {control}",
    "replaced bad {control}, tested ok",
    "{control} bad, installed new one",
    "installed new {control}",
    "changed out {control}",
    "{control} failed, replaced",
    "found {control} bad. replaced and tested.",
    "swapped out {control}, working now",
    "replaced defective {control}",
)
BY_MODE: dict[tuple[str, str], tuple[str, ...]] = {
    ("photocontrol", "fails on"): (
        "photocell stuck closed, replaced photocell",
        "pc contacts welded, replaced photocell",
    ),
    ("contactor", "fails on"): (
        "contactor welded shut, replaced contactor",
        "contacts welded. installed new contactor",
    ),
    ("contactor", "fails off"): (
        "contactor coil burnt open, replaced contactor",
        "bad coil, replaced lighting contactor",
    ),
    ("time switch", "erratic"): (
        "time clock motor losing time, replaced time clock",
        "clock not keeping time, installed new time clock",
    ),
    ("time switch", "fails off"): ("time clock dead, replaced time clock",),
    ("occupancy sensor", "fails on"): (
        "motion sensor stuck on, replaced sensor",
        "occupancy sensor not timing out, replaced",
    ),
}
TOGETHER = (
    "replaced lamp and {control}",
    "changed {control} and bulb",
    "new {control} and lamp installed",
    "replaced {control}, also relamped while up there",
)
BARE = (
    "repaired",
    "completed",
    "fixed",
    "done",
    "work completed",
    "complete. no further action",
    "repaired lights",
)
MISLEADING = ("replaced lamp", "relamped fixture", "replaced fuse and lamp")

ACTIONS: dict[tuple[str, str], tuple[str, ...]] = {
    ("lamp", "end of life"): (
        "replaced lamp",
        "relamped",
        "replaced bulb",
        "lamp at end of life, replaced lamp",
        "new lamp installed, ok",
    ),
    ("lamp", "ballast"): (
        "replaced ballast",
        "replaced ballast and lamp",
        "installed new ballast kit",
        "bad ballast, replaced",
    ),
    ("driver", "driver"): (
        "replaced led driver",
        "driver failed, replaced driver",
        "replaced led fixture",
        "installed new led head, driver bad",
    ),
    ("wiring", "wiring"): (
        "repaired broken wire in hand hole",
        "loose connection, repaired splice",
        "found ground fault in conduit, repaired wiring",
        "rodent damage to wire, repaired",
    ),
    ("supply", "breaker"): (
        "reset tripped breaker",
        "breaker was tripped, reset, lights working",
        "replaced bad breaker",
    ),
    ("pole", "vehicle"): (
        "set new pole and fixture",
        "pole hit by vehicle, contractor reset pole",
        "re-set leaning pole, replaced fixture",
    ),
    ("other", "vandalism"): (
        "replaced broken lens",
        "vandalism, replaced fixture cover",
        "fixture smashed by vandals, repaired",
    ),
    ("other", "covered eye"): (
        "bird nest over photocell, cleaned, working",
        "photo eye covered with dirt, cleaned",
        "tree branch shading photocell, trimmed",
        "removed tape from photo eye, ok now",
    ),
    ("other", "bypass"): (
        "photocell had been bypassed, put back in service",
        "found lights bypassed on constant, restored to photocell",
        "removed bypass left from earlier work",
    ),
    ("other", "hand"): (
        "selector switch left in hand, returned to auto",
        "found h-o-a in hand. set to auto",
        "switch was in hand, placed in auto",
    ),
    ("other", "power outage"): (
        "reset clock after power outage",
        "time was off from power outage, set clock",
        "reprogrammed after outage",
    ),
    ("other", "daylight saving"): (
        "set clock for daylight saving",
        "time change, reset clock one hour",
        "adjusted for time change",
    ),
    ("other", "building automation"): (
        "building automation override was on, released",
        "bas schedule overridden for event, restored schedule",
    ),
}
DAMAGE_WITH_CONTROL = (
    "set new pole, fixture and photocell",
    "replaced fixture and photocell damaged in crash",
    "new head and photo eye after damage",
)

FIRST_TRIES: dict[str, tuple[str, ...]] = {
    "cleaned": ("cleaned {control}, lights went off", "wiped off {control}, ok"),
    "none found": ("checked, working at this time", "no problem found", "lights ok when checked"),
    "reset": ("reset, working now", "cycled breaker, lights responded", "reset {control}, ok"),
}
DUPLICATES = (
    "duplicate of {number}",
    "duplicate request, see {number}",
    "already reported, see wo {number}",
    "dup",
    "same as {number}",
)
INSPECTIONS_OK = (
    "no outages found",
    "all exterior lights working",
    "walked site, all ok",
    "checked all lots, no problems",
)
INSPECTIONS_LISTED = (
    "outages noted, separate orders written",
    "2 lights out, reported on separate orders",
    "see orders written tonight",
)
WALKS = (
    "monthly exterior lighting night walk",
    "night check of parking lot and exterior lights",
    "evening exterior lighting inspection of grounds",
)
POLITE = (
    "please fix",
    "thank you",
    "safety concern",
    "parents complaining",
    "second time this year",
    "evening staff noticed",
    "",
)

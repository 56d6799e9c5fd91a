"""Invented names. No person, place or firm of the real world is meant."""

from __future__ import annotations

DISTRICT = "Quillbrook Unified School District"

STEMS = (
    "Fennmoor", "Harrowick", "Dovetarn", "Ottermere", "Brindlecote", "Sorrelgrass Fork", "Wickenlow", "Tamsin Ridge",
    "Pellowdale", "Thornquay", "Marlbeck", "Kestrelby", "Sedgewater Flat", "Orrisfield", "Vannock", "Larchwend",
    "Quarrel Hill", "Hobblewick", "Emberly", "Dunnagill", "Cressbank", "Yarrowthorpe", "Bexwold", "Pinderwell",
    "Gallowmead", "Ivelstoke", "Rushgarth", "Treadwick", "Ashlode", "Colterby", "Murkwell", "Nettlequay Draw",
    "Aldersnook", "Skerlowe", "Whinfold", "Zephyr Bench", "Jessamy", "Undercote", "Lowfeather",
)  # fmt: skip

OTHER_SITES = (
    ("Quillbrook Bus Depot", "Bus Barn;Transportation"),
    ("Central Kitchen and Warehouse", "Central Kitchen;Warehouse"),
    ("Quillbrook Athletics Park", "Athletics Park;The Stadium"),
    ("District Office", "Admin Building;District HQ"),
    ("Maintenance Yard", "M&O Yard;Maint Yard"),
    ("Harrowick Early Learning Center", "Harrowick ELC;Preschool"),
)

SURNAMES = (
    "Oskwith", "Brindlow", "Tarnhelm", "Quibberd", "Mossgrale", "Pellamby", "Dunthrope", "Vexley", "Harkwold",
    "Lodderby", "Snettle", "Crumbwick", "Yelverston", "Gribbleton", "Fawkesmere", "Ombersley-Trant",
)  # fmt: skip

GIVEN = (
    "Avel",
    "Brisa",
    "Corwen",
    "Delphin",
    "Esker",
    "Fennel",
    "Galen",
    "Hollis",
    "Iona",
    "Jory",
    "Kes",
    "Linnet",
)

PLACES = (
    "north lot", "south lot", "staff lot", "bus loop", "front drive", "gym east wall", "cafeteria dock",
    "main entry canopy", "track fence", "playground side", "west walkway", "band hall rear", "portables row",
    "library patio", "drop-off lane",
)  # fmt: skip

WALL_PLACES = (
    "main entry canopy",
    "cafeteria dock",
    "gym east wall",
    "band hall rear",
    "library patio",
    "office porch",
)


def phone(number: int) -> str:
    """A number from the block kept for fiction, 555-0100 to 555-0199."""
    return f"555-01{number % 100:02d}"


def email(given: str, surname: str) -> str:
    """An address at example.org, which is kept for examples."""
    return f"{given[0].lower()}.{surname.split('-')[0].lower()}@example.org"

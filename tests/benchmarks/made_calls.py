"""A large table of lighting calls with its register, made by rule from a seed: invented phrases and places only.

How often texts and addresses repeat follows what a real city's 6,087 street-light requests show (counted, not
copied): about 34 distinct work texts, 39 distinct pairs of problem and work text and 59 distinct addresses in 100
calls, nearly the same at 1,000 calls as at 6,087; the commonest text is a fifth of all. ``all_distinct`` gives
every call texts of its own.
"""

from __future__ import annotations

from pipeline.store import Store

SITES, CONTROLS, POOL = 900, 20_000, 3_000
_FIRST = (
    "Alder",
    "Birch",
    "Cedar",
    "Dogwood",
    "Elm",
    "Fir",
    "Gorse",
    "Hazel",
    "Ivy",
    "Juniper",
    "Kelp",
    "Larch",
)
_LAST = ("brook", "field", "hill", "ford", "mere", "ridge", "vale", "wood", "combe", "holt")
_KINDS = ("Elementary School", "Middle School", "High School", "Library", "Depot")
_PLACES = (
    "north lot", "south lot", "bus loop", "main entry", "gym canopy", "track", "rear drive", "east walk",
)  # fmt: skip
_PROBLEMS = (
    "LIGHT OUT", "Lights on all day", "WALL PACK OUT", "Pole light flickering", "PARKING LOT LIGHTS ON IN DAYTIME",
    "exterior lights stay on", "Lights do not come on", "SECURITY LIGHT CYCLING", "Canopy lights out", "DIM LIGHT",
)  # fmt: skip
_COMMON = (
    "completed", "completed", "completed", "completed", "Duplicate of existing case", "", "repaired", "Lamp replaced",
    "no problem found", "replaced photocell", "Lamp starter and ballast replaced",
)  # fmt: skip
_VERBS = (
    "Replaced",
    "INSTALLED NEW",
    "Found bad",
    "repaired",
    "Checked",
    "Reset",
    "needs new",
    "Swapped out",
)
_PARTS = (
    "photocell", "P/C", "lamp", "LAMP AND PHOTO CELL", "ballast", "contactor", "time clock", "fuse", "wire",
    "LED driver",
)  # fmt: skip
_ENDS = (
    "all working", "tested ok", "will return", "lights on at dusk", "turned breaker back on", "needs lift",
    "photocell ok", "left in auto",
)  # fmt: skip


def fill_calls(store: Store, calls: int, seed: int, *, all_distinct: bool) -> None:
    """Sites, controls, positions and ``calls`` lighting calls over ten years."""
    store.run(_sites())
    store.run(_register())
    store.run(_calls(calls, seed, all_distinct))
    store.run(
        "INSERT INTO build_info VALUES ('b', '0', 'made', 'USD', 1, DATE '2012-01-01', DATE '2021-12-31', '{}')"
    )


def _listed(words: tuple[str, ...]) -> str:
    return "[" + ", ".join(f"'{word}'" for word in words) + "]"


def _number(below: int, salt: int, of: str = "n") -> str:
    return f"(hash({of} * 1000 + {salt}) % {below})::INTEGER"


def _pick(words: tuple[str, ...], salt: int, of: str = "n") -> str:
    return f"{_listed(words)}[{_number(len(words), salt, of)} + 1]"


def _site_name(number: str) -> str:
    """A name of its own for each number: first and last part, kind, and a letter for the rounds beyond."""
    first, last = _listed(_FIRST), _listed(_LAST)
    return (
        f"{first}[{number} % {len(_FIRST)} + 1] || {last}[{number} // {len(_FIRST)} % {len(_LAST)} + 1] || ' ' || "
        f"chr(65 + ({number} // {len(_FIRST) * len(_LAST)})::INTEGER) || ' ' || {_pick(_KINDS, 1, number)}"
    )


def _sites() -> str:
    return (
        "INSERT INTO sites BY NAME SELECT 'S' || lpad(n::VARCHAR, 4, '0') AS site_id, "
        f"{_site_name('n')} AS name, []::VARCHAR[] AS aliases, 'UTC' AS time_zone FROM range({SITES}) t(n)"
    )


def _register() -> str:
    per_site = -(-CONTROLS // SITES)
    label = f"{_listed(_PLACES)}[n // {SITES} % {len(_PLACES)} + 1] || ' pole ' || (n // {SITES} + 1)"
    return f"""
    CREATE TEMP TABLE made_register AS
    SELECT 'PC-' || lpad(n::VARCHAR, 5, '0') AS control_id, 'S' || lpad((n % {SITES})::VARCHAR, 4, '0') AS site_id,
           {label} AS label, n AS row_number
    FROM range({min(CONTROLS, per_site * SITES)}) t(n);
    INSERT INTO controls BY NAME
    SELECT control_id, site_id, site_id || ' / ' || label AS position, 'photocontrol' AS kind, 'unknown' AS switching,
           1 AS quantity, DATE '2011-01-01' AS installed_on, row_number FROM made_register;
    INSERT INTO positions BY NAME
    SELECT site_id || ' / ' || label AS position, site_id, label, 'register' AS origin FROM made_register;
    """


def _sentence(salt: int, of: str, number: str) -> str:
    """What a crew writes, picked by ``of`` and ending in a number."""
    verb, part, problem = (
        _pick(_VERBS, salt + 1, of),
        _pick(_PARTS, salt + 2, of),
        _pick(_PROBLEMS, salt + 4, of),
    )
    place, ending = _number(400, salt + 3, of), _pick(_ENDS, salt + 5, of)
    return (
        f"{verb} || ' ' || {part} || ' at pole ' || {place} || '. ' || {problem} || ', ' || {ending}"
        f" || ' ' || {number} % 900000"
    )


def _calls(calls: int, seed: int, all_distinct: bool) -> str:
    """Work texts: a fifth 'completed', a quarter other common ones, a fifth from a pool, a third of their own."""
    s = seed * 50
    unique, pooled = _sentence(s, "n", "n"), _sentence(s, f"({_number(POOL, s + 7)})", "0")
    share = 100 if all_distinct else 34
    name, tag = _site_name("site"), f"(site + {SITES} * {_number(22, s + 14)})"
    place = f"' ' || {_pick(_PLACES, s + 21)}"
    if all_distinct:
        place = f"' pole ' || {_number(30, s + 20)} || ' ref ' || n"
    return f"""
    INSERT INTO calls BY NAME
    WITH numbered AS (
      SELECT n, TIMESTAMP '2012-01-01' + to_minutes((n::DOUBLE * 5250000 / {calls})::BIGINT) AS reported_at,
             {_number(100, s + 10)} AS kind, {_number(SITES, s + 11)} AS site, {_number(100, s + 12)} AS tagged
      FROM range({calls}) t(n)
    )
    SELECT
      'c' || n AS call_id, 'f' AS file_id, n AS row_number, 's' AS source, n::VARCHAR AS call_number, reported_at,
      CASE WHEN n % 20 > 0 THEN reported_at + to_minutes({_number(20_000, s + 13)}) END AS completed_at,
      CASE WHEN n % 20 > 0 THEN 'completed' ELSE 'open' END AS status, 'reactive' AS work_type,
      CASE WHEN n % 10 = 0 THEN upper({name}) WHEN n % 33 = 0 THEN replace({name}, 'oo', 'o') ELSE {name} END
        AS site_text,
      CASE WHEN tagged < 25 THEN 'PC-' || lpad({tag}::VARCHAR, 5, '0') END AS asset_text,
      CASE WHEN tagged < 59 THEN {_number(9_000, s + 15)} || ' ' || {_pick(_FIRST, s + 16)} || ' ST near ' || n
           WHEN tagged < 80 THEN {_pick(_PLACES, s + 17)} || ' pole ' || {_number(30, s + 18)} END AS address_text,
      {_pick(_PROBLEMS, s + 19)} || CASE WHEN {str(all_distinct).lower()} OR kind % 10 < 3 THEN {place} ELSE '' END
        AS problem_text,
      CASE WHEN kind < {share} THEN {unique}
           WHEN kind < 80 THEN {_pick(_COMMON, s + 22)}
           ELSE {pooled} END AS action_text,
      true AS is_lighting, true AS is_lighting_by_text
    FROM numbered
    """

"""The names of a file's people found in distinct texts: word by word in tables, so that thousands take no longer.

A text's runs of letters and digits are marked at their start and end. The words of a name are found among the runs;
then one pattern for all names sees how they stand beside each other. Only a name of an unusual form (three words, an
apostrophe), and a text with several names, have patterns made for them.
"""

from __future__ import annotations

from pipeline.ingest.name_tables import folded
from pipeline.ingest.privacy import (
    END,
    MAY_BE_REACHED,
    NAME,
    START,
    apart_in_runs,
    literal,
    reached_in_runs,
)
from pipeline.store import Store

# Marks (private-use characters) inside a run, before its end: a first name, a last name, the initials of either.
_FIRST, _LAST, _FIRST_INITIAL, _LAST_INITIAL = "\ue004", "\ue005", "\ue006", "\ue007"
_IN_RUN = f"[^{START}{END}]"


def mask_names(store: Store) -> None:
    """people_reached (id, text, reached) and people_asked (text, who, own) -> people_named (text, own, named)."""
    store.run(_NAMES_OF_TEXTS)
    # Marked: where runs of letters and digits start and end. Masks themselves stay unmarked.
    marked = f"regexp_replace(reached, '([\\pL\\pN]+)', '{START}\\1{END}', 'g')"
    for mask in ("phone", "name"):
        marked = f"replace({marked}, '[{START}{mask}{END}]', '[{mask}]')"
    marked = f"replace({marked}, '[{START}e{END}-{START}mail{END}]', '[e-mail]')"
    store.run(
        f"""
        CREATE TEMP TABLE people_named AS
        WITH tasks AS (SELECT DISTINCT text, own FROM people_asked),
        met AS (
          SELECT text, own, reached, steps, first, last, shown, keys, patterns,
            CASE WHEN steps IS NOT NULL OR first IS NOT NULL OR keys IS NOT NULL OR own <> [] THEN {marked} END
              AS marked
          FROM tasks JOIN people_reached USING (text)
          LEFT JOIN people_names_of_text USING (id) LEFT JOIN people_name_of_text USING (id)
          LEFT JOIN people_words_of_text USING (id)
        ),
        full_names AS (
          SELECT * REPLACE (CASE WHEN first IS NOT NULL THEN {_ONE_NAME} WHEN steps IS NOT NULL THEN {_BY_STEPS}
            ELSE marked END AS marked) FROM met
        ),
        reached_names AS (
          SELECT * REPLACE (CASE WHEN keys IS NULL OR NOT regexp_matches(marked, {literal(MAY_BE_REACHED)}) THEN marked
            WHEN patterns IS NOT NULL THEN {_odd_singles("marked")} ELSE {_plain_singles("marked")} END AS marked)
          FROM full_names
        ),
        own_names AS (SELECT * REPLACE (CASE WHEN own = [] THEN marked ELSE {_OWN} END AS marked) FROM reached_names)
        SELECT text, own, coalesce(translate(marked, '{START}{END}', ''), reached) AS named FROM own_names;
        DROP TABLE people_names_of_text; DROP TABLE people_name_of_text; DROP TABLE people_words_of_text
        """  # noqa: S608 - patterns of ours
    )


def _dynamic(text: str, pattern: str, words: str, replacement: str) -> str:
    """SQL: a replacement whose pattern holds words of the row."""
    before, after = pattern.split("WORDS")
    return f"regexp_replace({text}, {literal(before)} || {words} || {literal(after)}, {literal(replacement)}, 'g')"


def _all_replaced(text: str, found: str, replacement: str) -> str:
    """SQL: a text after every one of some parts of it (a list) was replaced; ``replacement`` is SQL of the part, p."""
    return f"list_reduce(list_prepend({text}, {found}), lambda done, p: replace(done, p, {replacement}))"


def _runs(text: str) -> str:
    """SQL: the different runs of a marked text, with their marks."""
    return f"list_distinct(regexp_extract_all({text}, '{START}{_IN_RUN}+{END}'))"


def _bare(run: str) -> str:
    """SQL: a run without its marks, in one case."""
    return folded(f"{run}[2:-2]")


# One full name, of two plain words: its words and initials are marked in the text, then looked at side by side.
_MARKS = (
    f"CASE {_bare('p')} WHEN first THEN '{_FIRST}' WHEN last THEN '{_LAST}' ELSE "
    f"CASE WHEN {_bare('p')} = left(first, 1) THEN '{_FIRST_INITIAL}' ELSE '' END || "
    f"CASE WHEN {_bare('p')} = left(last, 1) THEN '{_LAST_INITIAL}' ELSE '' END END"
)
_WITH_WORDS = _all_replaced("marked", _runs("marked"), f"replace(p, '{END}', {_MARKS} || '{END}')")
_FIRST_RUN, _LAST_RUN = (f"{START}{_IN_RUN}*{mark}{END}" for mark in (_FIRST, _LAST))
_MIDDLE = rf"(?:\s+{START}(?i:[a-z])[{_FIRST_INITIAL}{_LAST_INITIAL}]*{END}\.?)?"
_ONE_NAME_PATTERN = (
    rf"(^|[^\-.])(?:{_FIRST_RUN}{_MIDDLE}\s+{_LAST_RUN}|{_LAST_RUN},?\s+{_FIRST_RUN}"
    rf"|{START}{_IN_RUN}{_FIRST_INITIAL}{_LAST_INITIAL}?{END}(?:\.\s*|\s+){_LAST_RUN}"
    rf"|{_FIRST_RUN}\s+{START}{_IN_RUN}{_FIRST_INITIAL}?{_LAST_INITIAL}{END}\.?)($|[^\-{START}])"
)
# Each step twice: a neighbour shared by two names is consumed by the first.
_ONCE = f"regexp_replace(TEXT, {literal(_ONE_NAME_PATTERN)}, '\\1' || shown || '\\2', 'g')"
_ONE_NAME = (
    f"translate({_ONCE.replace('TEXT', _ONCE.replace('TEXT', _WITH_WORDS))}, "
    f"'{_FIRST}{_LAST}{_FIRST_INITIAL}{_LAST_INITIAL}', '')"
)
_STEP = (
    "regexp_replace(TEXT, split_part(step, chr(31), 1), '\\1' || split_part(step, chr(31), 2) || '\\2', 'g')"
)
_BY_STEPS = (
    "list_reduce(list_prepend(marked, steps), lambda done, step: "
    + _STEP.replace("TEXT", _STEP.replace("TEXT", "done"))
    + ")"
)


def _plain_singles(text: str) -> str:
    """SQL: single names of plain words masked beside a masked number or address."""
    spans = f"regexp_extract_all({text}, {literal(reached_in_runs(r'PL').replace('PL', chr(92) + 'pL+'))})"
    word = f"regexp_extract(p, '(\\pL+){END}', 1)"
    known = f"list_filter({spans}, lambda p: list_contains(keys, {folded(word)}))"
    return _all_replaced(text, known, f"regexp_replace(p, '\\pL+{END}', '{NAME}')")


def _odd_singles(text: str) -> str:
    """SQL: the same where some of the words have an unusual form."""
    return _dynamic(text, reached_in_runs("WORDS"), "patterns", rf"\1{NAME}\2")


# The row's own words: those of one run by looking, others by a pattern.
_OWN_PATTERN = (
    f"array_to_string(list_transform(own, lambda w: "
    f"regexp_replace(w, '([\\pL\\pN]+)', '{START}\\1{END}', 'g')), '|')"
)
_OWN_KNOWN = f"list_filter({_runs('marked')}, lambda p: list_contains(own_keys, {_bare('p')}))"
_OWN = (
    "CASE WHEN list_bool_and(list_transform(own, lambda w: regexp_full_match(w, '[\\pL\\pN]+'))) "
    f"THEN {_all_replaced('marked', _OWN_KNOWN, literal(NAME))} "
    f"ELSE {_dynamic('marked', '(?i:WORDS)', _OWN_PATTERN, NAME)} END"
).replace("own_keys", "own")

# The words of each text, and by them the names that it may hold: a first and a last name, or one and an initial.
# Names that are masked alike make one step, in order.
_NAMES_OF_TEXTS = f"""
CREATE TEMP TABLE people_runs AS
SELECT id, regexp_replace(' ' || {folded("reached")} || ' ', '[^\\pL\\pN]+', ' ', 'g') AS runs FROM people_reached;
CREATE TEMP TABLE people_tokens AS
SELECT DISTINCT id, token FROM (
  -- a name may also stand right after digits
  SELECT id, unnest(list_concat(string_split(runs, ' '), regexp_extract_all(runs, '\\pN(\\pL+)', 1))) AS token
  FROM people_runs)
WHERE length(token) = 1 OR token IN (SELECT x FROM people_pairs UNION SELECT y FROM people_pairs
  UNION SELECT key FROM people_words);
CREATE TEMP TABLE people_found AS
SELECT DISTINCT a.id, p.rank
FROM people_tokens a JOIN people_tokens b USING (id) JOIN people_pairs p ON p.x = a.token AND p.y = b.token
JOIN people_runs USING (id)
WHERE NOT p.adjoining
  OR contains(runs, concat(' ', p.x, ' ', p.y, ' ')) OR contains(runs, concat(' ', p.y, ' ', p.x, ' '));
CREATE TEMP TABLE people_name_of_text AS
SELECT id, first, last, shown
FROM (SELECT id, min(rank) AS rank FROM people_found GROUP BY id HAVING count(*) = 1) JOIN people_names USING (rank)
WHERE first IS NOT NULL;
CREATE TEMP TABLE people_names_of_text AS
WITH grouped AS (
  SELECT id, min(rank) AS rank, shown, string_agg(pattern, '|' ORDER BY rank) AS patterns
  FROM people_found JOIN people_names USING (rank) ANTI JOIN people_name_of_text USING (id)
  GROUP BY id, shown, CASE WHEN shown = '{NAME}' THEN NULL ELSE rank END
)
SELECT id, list({literal(apart_in_runs("NAMES").split("NAMES")[0])} || patterns
  || {literal(apart_in_runs("NAMES").split("NAMES")[1])} || chr(31) || shown ORDER BY rank) AS steps
FROM grouped GROUP BY id;
CREATE TEMP TABLE people_words_of_text AS
SELECT id, list(DISTINCT w.key) AS keys,
  CASE WHEN bool_or(w.pattern IS NOT NULL)
    THEN string_agg(DISTINCT coalesce(w.pattern, w.key), '|' ORDER BY coalesce(w.pattern, w.key)) END AS patterns
FROM people_tokens t JOIN people_words w ON w.key = t.token JOIN people_reached r USING (id)
WHERE contains(r.reached, '[phone]') OR contains(r.reached, '[e-mail]')
GROUP BY id;
DROP TABLE people_runs; DROP TABLE people_tokens; DROP TABLE people_found
"""  # noqa: S608 - patterns of ours

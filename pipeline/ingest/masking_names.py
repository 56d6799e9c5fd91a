"""The names of a file's people found in distinct texts: word by word in tables, so that thousands take no longer.

A text's runs of letters and digits are marked at their start and end. The words of a name are found among the runs;
then one pattern for all names sees how they stand beside each other. Only a name of an unusual form (three words, an
apostrophe), and a text with several names, have patterns made for them.
"""

from __future__ import annotations

from pipeline.ingest.name_tables import folded
from pipeline.ingest.privacy import (
    END,
    FIRST,
    FIRST_INITIAL,
    LAST,
    LAST_INITIAL,
    MARKS,
    MAY_BE_REACHED,
    NAME,
    OWN,
    RUN_END,
    SOME,
    START,
    apart_in_runs,
    literal,
    reached_in_runs,
)
from pipeline.store import Store

_IN_RUN = f"[^{START}{END}]*"


def mask_names(store: Store) -> None:
    """people_texts (id, text, reached) and people_tasks (id, own) -> people_named (id, own, named)."""
    store.run(_RUNS_OF_TEXTS + _NAMES_OF_TEXTS)
    store.run(
        f"""
        CREATE TEMP TABLE people_named AS
        WITH met AS (
          SELECT id, own, reached, marked, words, steps, first, last, shown, patterns,
            CASE WHEN keys IS NOT NULL AND regexp_matches(marked, {literal(MAY_BE_REACHED)}) THEN keys END AS keys
          FROM people_tasks JOIN people_runs USING (id)
          LEFT JOIN people_names_of_text USING (id) LEFT JOIN people_name_of_text USING (id)
          LEFT JOIN people_words_of_text USING (id)
        ),
        several_names AS (
          SELECT * REPLACE (CASE WHEN steps IS NULL THEN marked ELSE {_BY_STEPS} END AS marked) FROM met
        ),
        known_words AS (
          SELECT * REPLACE (CASE WHEN first IS NULL AND keys IS NULL AND own = [] THEN marked ELSE {_KNOWN_WORDS} END
            AS marked) FROM several_names
        ),
        full_names AS (
          SELECT * REPLACE (CASE WHEN first IS NULL THEN marked ELSE {_ONE_NAME} END AS marked) FROM known_words
        ),
        single_names AS (
          SELECT * REPLACE (CASE WHEN keys IS NULL THEN marked WHEN patterns IS NOT NULL THEN {_ODD_SINGLES}
            ELSE {_SINGLES} END AS marked) FROM full_names
        ),
        own_names AS (
          SELECT * REPLACE (CASE WHEN own = [] THEN marked WHEN {_OWN_ARE_RUNS} THEN {_OWN_RUNS} ELSE {_ODD_OWN} END
            AS marked) FROM single_names
        )
        SELECT id, own, CASE WHEN first IS NULL AND steps IS NULL AND keys IS NULL AND own = [] THEN reached
          ELSE translate(marked, '{START}{END}{MARKS}', '') END AS named FROM own_names;
        DROP TABLE people_runs; DROP TABLE people_names_of_text; DROP TABLE people_name_of_text;
        DROP TABLE people_words_of_text
        """  # noqa: S608 - patterns of ours
    )


def _replaced(text: str, pattern: str, replacement: str) -> str:
    """SQL: a text after a replacement of the same pattern in every row."""
    return f"regexp_replace({text}, {literal(pattern)}, {literal(replacement)}, 'g')"


def _by_words(text: str, pattern: str, words: str, replacement: str) -> str:
    """SQL: a text after a replacement whose pattern holds words of the row."""
    before, after = pattern.split("WORDS")
    return f"regexp_replace({text}, {literal(before)} || {words} || {literal(after)}, {literal(replacement)}, 'g')"


def _run_with(mark: str) -> str:
    """A pattern: a run that has a mark."""
    return f"{START}{_IN_RUN}{mark}{_IN_RUN}{END}"


def _runs_marked() -> str:
    """SQL: a text with the start and end of every run marked; masks themselves stay unmarked."""
    marked = f"regexp_replace(reached, '[\\pL\\pN]+', '{START}\\0{END}', 'g')"
    for mask in ("phone", "name"):
        marked = f"replace({marked}, '[{START}{mask}{END}]', '[{mask}]')"
    return f"replace({marked}, '[{START}e{END}-{START}mail{END}]', '[e-mail]')"


def _words(marked: str) -> str:
    """SQL: the run that begins each piece of a text with marked runs, in one case; '' where no run begins it."""
    return f"list_transform(string_split({folded(marked, 'reached')}, '{START}'), lambda p: split_part(p, '{END}', 1))"


def _known_words() -> str:
    """SQL: a text with marks in its runs that say whose word each is; p[1] is a piece of the text, p[2] its word."""
    marks = (
        f"CASE p[2] WHEN first THEN '{FIRST}' WHEN last THEN '{LAST}' ELSE '' END || "
        f"CASE p[2] WHEN left(first, 1) THEN '{FIRST_INITIAL}' ELSE '' END || "
        f"CASE p[2] WHEN left(last, 1) THEN '{LAST_INITIAL}' ELSE '' END || "
        f"CASE WHEN list_contains(keys, p[2]) THEN '{SOME}' ELSE '' END || "
        f"CASE WHEN list_contains(own, p[2]) THEN '{OWN}' ELSE '' END"
    )
    is_known = (
        "p[2] IN (first, last, left(first, 1), left(last, 1)) "
        "OR list_contains(keys, p[2]) OR list_contains(own, p[2])"
    )
    words = f"CASE WHEN steps IS NULL THEN words ELSE {_words('marked')} END"
    with_marks = f"CASE WHEN {is_known} THEN replace(p[1], '{END}', {marks} || '{END}') ELSE p[1] END"
    pieces = f"list_zip(string_split(marked, '{START}'), {words})"
    return f"array_to_string(list_transform({pieces}, lambda p: {with_marks}), '{START}')"


def _adjoining(word: str, next_word: str) -> str:
    """SQL: whether a text has two words one after the other, or with a single letter between them."""
    beside, apart = (
        f"concat('% ', {word}, ' ', {next_word}, ' %')",
        f"concat('% ', {word}, ' _ ', {next_word}, ' %')",
    )
    return f"(joined LIKE {beside} OR joined LIKE {apart})"


_KNOWN_WORDS = _known_words()

# One full name, of two plain words: its words and initials side by side.
_MIDDLE = rf"(?:\s+{START}(?i:[a-z]){RUN_END}\.?)?"
_ONE_NAME_PATTERN = (
    rf"(^|[^\-.])(?:{_run_with(FIRST)}{_MIDDLE}\s+{_run_with(LAST)}|{_run_with(LAST)},?\s+{_run_with(FIRST)}"
    rf"|{_run_with(FIRST_INITIAL)}(?:\.\s*|\s+){_run_with(LAST)}"
    rf"|{_run_with(FIRST)}\s+{_run_with(LAST_INITIAL)}\.?)($|[^\-{START}])"
)
# Each step twice: a neighbour shared by two names is consumed by the first.
_ONCE = f"regexp_replace(TEXT, {literal(_ONE_NAME_PATTERN)}, '\\1' || shown || '\\2', 'g')"
_ONE_NAME = _ONCE.replace("TEXT", _ONCE.replace("TEXT", "marked"))
_STEP = (
    "regexp_replace(TEXT, split_part(step, chr(31), 1), '\\1' || split_part(step, chr(31), 2) || '\\2', 'g')"
)
_BY_STEPS = (
    "list_reduce(list_prepend(marked, steps), lambda done, step: "
    + _STEP.replace("TEXT", _STEP.replace("TEXT", "done"))
    + ")"
)
# Single names beside a masked number or address, and the row's own words; those of an unusual form by patterns.
_SINGLES = _replaced("marked", reached_in_runs(rf"\pL+[{MARKS}]*{SOME}"), rf"\1{NAME}\2")
_ODD_SINGLES = _by_words("marked", reached_in_runs("WORDS"), "patterns", rf"\1{NAME}\2")
_OWN_ARE_RUNS = "list_bool_and(list_transform(own, lambda w: regexp_full_match(w, '[\\pL\\pN]+')))"
_OWN_RUNS = _replaced("marked", _run_with(OWN), NAME)
_OWN_PATTERN = (
    "array_to_string(list_transform(own, lambda w: "
    f"regexp_replace(w, '[\\pL\\pN]+', '{START}\\0{RUN_END}', 'g')), '|')"
)
_ODD_OWN = _by_words("marked", "(?i:WORDS)", _OWN_PATTERN, NAME)

# Each text with its runs marked, and the words that they are.
_RUNS_OF_TEXTS = f"""
CREATE TEMP TABLE people_runs AS
SELECT id, reached, marked, {_words("marked")} AS words
FROM (SELECT id, reached, {_runs_marked()} AS marked FROM people_texts);
"""  # noqa: S608 - patterns of ours

# By these words the names that a text may hold: a first and a last name, or one and an initial. Names that are masked
# alike make one step, in order.
_NAMES_OF_TEXTS = f"""
CREATE TEMP TABLE people_tokens AS
SELECT DISTINCT id, token, after_digit FROM (
  SELECT id, unnest(words) AS token, false AS after_digit FROM people_runs
  UNION ALL
  SELECT id, {folded("token")}, true
  FROM (SELECT id, unnest(regexp_extract_all(marked, '\\pN(\\pL+)', 1)) AS token FROM people_runs))
WHERE length(token) = 1 OR token IN (SELECT x FROM people_pairs UNION SELECT y FROM people_pairs
  UNION SELECT key FROM people_words);
-- The words of a text in a list: its pairs are then made first and at once compared, never all kept.
CREATE TEMP TABLE people_found AS
SELECT DISTINCT id, rank
FROM (SELECT id, x, unnest(tokens) AS y FROM (
  SELECT id, tokens, unnest(tokens) AS x FROM (SELECT id, list(DISTINCT token) AS tokens FROM people_tokens GROUP BY id)
)) JOIN people_pairs USING (x, y)
JOIN (SELECT id, array_to_string(words, ' ') || ' ' AS joined FROM people_runs) USING (id)
WHERE NOT adjoining OR {_adjoining("x", "y")} OR {_adjoining("y", "x")};
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
SELECT id, list_distinct(list(w.key)) AS keys,
  -- right after digits a word is no run of its own, and looked for by a pattern too
  CASE WHEN bool_or(w.pattern IS NOT NULL OR t.after_digit)
    THEN array_to_string(list_distinct(list(coalesce(w.pattern, w.key))), '|') END AS patterns
FROM people_tokens t JOIN people_words w ON w.key = t.token
WHERE id IN (SELECT id FROM people_texts WHERE contains(reached, '[phone]') OR contains(reached, '[e-mail]'))
GROUP BY id;
DROP TABLE people_tokens; DROP TABLE people_found
"""  # noqa: S608 - patterns of ours

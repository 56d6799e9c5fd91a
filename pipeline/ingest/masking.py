"""A file's people masked in its texts: only in distinct texts, and only where one look says that there may be some.

One pattern finds the cells that may hold a person: a number or address, a word after which names follow, or a word of
the withheld columns. The steps of pipeline/ingest/privacy.py run on these texts, each once; everything else is left
as it is. The names of the file are found word by word in a table, so that thousands of them take no longer.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import pandas as pd

from pipeline.ingest.privacy import (
    END,
    MAY_BE_REACHED,
    MAY_HOLD_CONTACT,
    NAME,
    START,
    apart_in_runs,
    contact_steps,
    cue_steps,
    in_runs,
    in_steps,
    literal,
    may_hold_cue,
    name_pattern,
    names_in,
    ordinary_words,
    own_words_sql,
    reached_in_runs,
)
from pipeline.settings import Privacy
from pipeline.store import Store

_KEYS_PER_PATTERN = 5_000
# Letters that RE2 takes for one when case does not count, though lower-casing leaves them apart.
_FOLDED = ("ſςϐϵϑϰϖϱϕµẛ", "sσβεθκπρφμṡ")


def _folded(text: str) -> str:
    """SQL: a text in one case, as RE2 compares."""
    return f"translate(lower({text}), '{_FOLDED[0]}', '{_FOLDED[1]}')"


class Masker:
    """Masks the texts of one file. ``withheld`` and ``technicians`` are columns of its table ``raw`` (c1, c2 …).

    With masking switched off nothing is changed. Tables that it makes in the scratch store begin with ``people_``.
    """

    def __init__(
        self, store: Store, privacy: Privacy, withheld: Sequence[str], technicians: Sequence[str]
    ) -> None:
        self._store, self._withheld = store, withheld
        self.is_on = privacy.mask_free_text
        if not self.is_on:
            return
        initials = technicians if privacy.keep_technician_initials else ()
        self._find_people(initials)

    def who_sql(self) -> str:
        """SQL over ``raw``: what tells the people of a row from those of others."""
        if not self.is_on or not self._withheld:
            return "''"
        return (
            f"concat_ws(chr(31), {', '.join(f'coalesce({column}, {_EMPTY})' for column in self._withheld)})"
        )

    def masked_cells(self, cells: Iterable[tuple[str, str]]) -> set[str]:
        """For columns of relations (relation, column): tables ``masked_COLUMN`` of row_number and text.

        They hold the cells that masking changes; gives the columns that have any. Each relation has row_number and
        ``who`` (see ``who_sql``).
        """
        if not self.is_on:
            return set()
        run = self._store.run
        run("CREATE TEMP TABLE people_cells (place VARCHAR, row_number BIGINT, text VARCHAR, who VARCHAR)")
        for relation, column in cells:
            # Only a row whose text holds a word of some person's, or may after an address was masked, needs its people.
            run(
                f"INSERT INTO people_cells SELECT '{column}', row_number, {column}, "  # noqa: S608
                f"CASE WHEN contains({column}, '@') OR {self._may_hold_name(column)} THEN who ELSE '' END "
                f"FROM {relation} WHERE regexp_matches({column}, {literal(MAY_HOLD_CONTACT)}) "
                f"OR regexp_matches({column}, {literal(may_hold_cue())}) OR {self._may_hold_name(column)}"
            )
        self._mask_distinct_texts()
        changed = {str(place) for (place,) in self._store.rows("SELECT DISTINCT place FROM people_masked")}
        for place in sorted(changed):
            run(
                f"CREATE TEMP TABLE masked_{place} AS SELECT row_number, text FROM people_masked "  # noqa: S608
                f"WHERE place = '{place}'"
            )
        run("DROP TABLE people_cells; DROP TABLE people_masked")
        return changed

    def masked_texts(self, texts: Sequence[str]) -> list[str]:
        """A few texts that belong to no row, masked."""
        frame = pd.DataFrame({"row_number": range(len(texts)), "loose_text": list(texts), "who": ""})
        with self._store.frame_as("loose_texts", frame) as name:
            changed = self.masked_cells([(name, "loose_text")])
        if not changed:
            return list(texts)
        masked: dict[int, str] = dict(self._store.rows("SELECT row_number, text FROM masked_loose_text"))
        self._store.run("DROP TABLE masked_loose_text")
        return [str(masked.get(place, text)) for place, text in enumerate(texts)]

    def _may_hold_name(self, column: str) -> str:
        """SQL: whether a text holds a word of any name of the file."""
        # A key's neighbours are no letters; digits may be a number that is masked before.
        patterns = (rf"(?i)(?:^|\PL)(?:{'|'.join(keys)})(?:$|\PL)" for keys in self._keys)
        return " OR ".join(f"regexp_matches({column}, {literal(pattern)})" for pattern in patterns) or "false"

    def _find_people(self, initials: Sequence[str]) -> None:
        """The tables of names: own words by row's people, full names and their words by what finds them."""
        store = self._store
        if self._withheld:
            columns = ", ".join(self._withheld)
            store.run(
                f"CREATE TEMP TABLE people_own AS SELECT {self.who_sql()} AS who, "  # noqa: S608
                f"{own_words_sql(self._withheld)} AS words FROM (SELECT DISTINCT {columns} FROM raw)"
            )
        else:
            store.run("CREATE TEMP TABLE people_own (who VARCHAR, words VARCHAR[])")
        kept = names_in(store, "raw", initials)
        names = names_in(store, "raw", [column for column in self._withheld if column not in initials])
        _write(store, "people_names", _name_rows(kept, names), "rank BIGINT, pattern VARCHAR, shown VARCHAR")
        _write(store, "people_pairs", _pair_rows(kept + names), "x VARCHAR, y VARCHAR, rank BIGINT")
        words = sorted({word for name in names for word in name} - ordinary_words())
        singles = [(_key(word), in_runs(word).removeprefix(START).removesuffix(END)) for word in words]
        _write(store, "people_words", singles, "key VARCHAR, pattern VARCHAR")
        own = {str(word) for (word,) in store.rows("SELECT DISTINCT unnest(words) FROM people_own")}
        keys = sorted({_key(word) for word in own | {word for name in kept + names for word in name}} - {""})
        starts = range(0, len(keys), _KEYS_PER_PATTERN)
        self._keys = [keys[start : start + _KEYS_PER_PATTERN] for start in starts]

    def _mask_distinct_texts(self) -> None:
        """people_cells -> people_masked (place, row_number, text): the cells that come out differently."""
        self._store.run(
            f"""
            CREATE TEMP TABLE people_asked AS
            SELECT text, who, coalesce(list_filter(o.words, lambda w: contains({_folded("text")}, {_folded("w")})), [])
              AS own
            FROM (SELECT DISTINCT text, who FROM people_cells) LEFT JOIN people_own o USING (who);
            CREATE TEMP TABLE people_reached AS
            SELECT DISTINCT text, CASE WHEN regexp_matches(text, {literal(MAY_HOLD_CONTACT)})
              THEN {in_steps("text", contact_steps())} ELSE text END AS reached FROM people_asked
            """  # noqa: S608 - patterns of ours
        )
        self._store.run(_NAMES_OF_TEXTS)
        # Marked: where runs of letters and digits start and end. Masks themselves stay unmarked.
        marked = f"regexp_replace(reached, '([\\pL\\pN]+)', '{START}\\1{END}', 'g')"
        for mask in ("phone", "name"):
            marked = f"replace({marked}, '[{START}{mask}{END}]', '[{mask}]')"
        marked = f"replace({marked}, '[{START}e{END}-{START}mail{END}]', '[e-mail]')"
        self._store.run(
            f"""
            CREATE TEMP TABLE people_tasks AS
            WITH tasks AS (SELECT DISTINCT text, own FROM people_asked),
            named AS (
              SELECT text, own, reached, n.steps, w.words,
                CASE WHEN n.steps IS NOT NULL OR w.words IS NOT NULL OR own <> [] THEN {marked} END AS marked
              FROM tasks JOIN people_reached USING (text)
              LEFT JOIN people_names_of_text n USING (text) LEFT JOIN people_words_of_text w USING (text)
            ),
            full_names AS (
              SELECT * REPLACE (CASE WHEN steps IS NULL THEN marked ELSE {_BY_STEPS} END AS marked) FROM named
            ),
            reached_names AS (
              SELECT * REPLACE (CASE WHEN words IS NOT NULL AND regexp_matches(marked, {literal(MAY_BE_REACHED)})
                THEN {_SINGLES} ELSE marked END AS marked)
              FROM full_names
            ),
            own_names AS (
              SELECT * REPLACE (CASE WHEN own = [] THEN marked
                ELSE {_OWN_NAMES} END AS marked)
              FROM reached_names
            ),
            unmarked AS (
              SELECT text, own, coalesce(translate(marked, '{START}{END}', ''), reached) AS named FROM own_names
            )
            SELECT text, own, CASE WHEN regexp_matches(named, {literal(may_hold_cue())})
              THEN {in_steps("named", cue_steps())} ELSE named END AS masked FROM unmarked;
            CREATE TEMP TABLE people_masked AS
            SELECT place, row_number, masked AS text FROM people_cells JOIN people_asked USING (text, who)
            JOIN people_tasks USING (text, own) WHERE masked <> text;
            DROP TABLE people_asked; DROP TABLE people_reached; DROP TABLE people_tasks;
            DROP TABLE people_names_of_text; DROP TABLE people_words_of_text
            """  # noqa: S608 - patterns of ours
        )


_EMPTY = "''"


def _dynamic(text: str, pattern: str, words: str, replacement: str) -> str:
    """SQL: a replacement whose pattern holds words of the row."""
    before, after = pattern.split("WORDS")
    return f"regexp_replace({text}, {literal(before)} || {words} || {literal(after)}, {literal(replacement)}, 'g')"


# The own words of a row, as alternatives in a text with marked runs.
_OWN_PATTERN = (
    f"array_to_string(list_transform(own, lambda w: "
    f"regexp_replace(w, '([\\pL\\pN]+)', '{START}\\1{END}', 'g')), '|')"
)
_OWN_NAMES = _dynamic("marked", "(?i:WORDS)", _OWN_PATTERN, NAME)
_SINGLES = _dynamic("marked", reached_in_runs("WORDS"), "words", rf"\1{NAME}\2")
# Each step twice: a neighbour shared by two names is consumed by the first.
_STEP = (
    "regexp_replace(TEXT, split_part(step, chr(31), 1), '\\1' || split_part(step, chr(31), 2) || '\\2', 'g')"
)
_BY_STEPS = (
    "list_reduce(list_prepend(marked, steps), lambda done, step: "
    + _STEP.replace("TEXT", _STEP.replace("TEXT", "done"))
    + ")"
)
# The words of each text, and by them the names that it may hold: a first and a last name, or one and an initial.
# Names that are masked alike make one step, in order.
_NAMES_OF_TEXTS = f"""
CREATE TEMP TABLE people_tokens AS
SELECT DISTINCT text, token FROM (
  -- a name may also stand right after digits
  SELECT text, unnest(list_concat(regexp_extract_all({_folded("reached")}, '[\\pL\\pN]+'),
    regexp_extract_all({_folded("reached")}, '\\pL+'))) AS token FROM people_reached)
WHERE length(token) = 1 OR token IN (SELECT x FROM people_pairs UNION SELECT y FROM people_pairs
  UNION SELECT key FROM people_words);
CREATE TEMP TABLE people_names_of_text AS
WITH found AS (
  SELECT DISTINCT a.text, p.rank
  FROM people_tokens a JOIN people_tokens b USING (text) JOIN people_pairs p ON p.x = a.token AND p.y = b.token
),
grouped AS (
  SELECT text, min(rank) AS rank, shown, string_agg(pattern, '|' ORDER BY rank) AS patterns
  FROM found JOIN people_names USING (rank)
  GROUP BY text, shown, CASE WHEN shown = '{NAME}' THEN NULL ELSE rank END
)
SELECT text, list({literal(apart_in_runs("NAMES").split("NAMES")[0])} || patterns
  || {literal(apart_in_runs("NAMES").split("NAMES")[1])} || chr(31) || shown ORDER BY rank) AS steps
FROM grouped GROUP BY text;
CREATE TEMP TABLE people_words_of_text AS
SELECT text, string_agg(DISTINCT w.pattern, '|' ORDER BY w.pattern) AS words
FROM people_tokens t JOIN people_words w ON w.key = t.token JOIN people_reached r USING (text)
WHERE contains(r.reached, '[phone]') OR contains(r.reached, '[e-mail]')
GROUP BY text;
DROP TABLE people_tokens
"""  # noqa: S608 - patterns of ours


def _key(word: str) -> str:
    """By what a word of a name is found: its longest run of letters and digits, in one case."""
    runs = re.findall(r"[^\W_]+", word)
    return max(runs, key=len).translate(str.maketrans(*_FOLDED)) if runs else ""


def _name_rows(kept: list[list[str]], names: list[list[str]]) -> list[tuple[int, str, str]]:
    """Every full name with its pattern and what stands for it; technicians first."""
    initials = ["[" + "".join(word[0].upper() + "." for word in (name[0], name[-1])) + "]" for name in kept]
    shown = initials + [NAME] * len(names)
    patterns = map(name_pattern, kept + names)
    return [(rank, pattern, mask) for rank, (pattern, mask) in enumerate(zip(patterns, shown, strict=True))]


def _pair_rows(names: list[list[str]]) -> list[tuple[str, str, int]]:
    """Two words that a text must hold for a name's pattern to match: both names, or one and the other's initial."""
    rows = []
    for rank, name in enumerate(names):
        first, last = _key(name[0]), _key(name[-1])
        rows += [(first, last, rank), (first, _key(name[-1][0]), rank), (_key(name[0][0]), last, rank)]
    return rows


def _write(store: Store, table: str, rows: Sequence[tuple[object, ...]], columns: str) -> None:
    """A temporary table of some rows."""
    store.run(f"CREATE TEMP TABLE {table} ({columns})")
    names = [column.split()[0] for column in columns.split(", ")]
    store.fill_frame(table, pd.DataFrame(rows, columns=names))

"""A file's people masked in its texts: only in distinct texts, and only where one look says that there may be some.

One pattern finds the cells that may hold a person: a number or address, a word after which names follow, or a word of
the withheld columns. The steps of pipeline/ingest/privacy.py run on these texts, each once; everything else is left
as it is. The names of the file are found word by word in a table, so that thousands of them take no longer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd

from pipeline.ingest.masking_names import mask_names
from pipeline.ingest.name_tables import folded, key_of, offer_names
from pipeline.ingest.privacy import (
    MAY_HOLD_CONTACT,
    contact_steps,
    cue_steps,
    in_steps,
    literal,
    may_hold_cue,
    names_in,
    ordinary_words,
    own_words_sql,
)
from pipeline.settings import Privacy
from pipeline.store import Store

_KEYS_PER_PATTERN = 5_000
# Of so many rows, at most this share of different texts, or so few rows at all: choices of ours, for speed only.
_ROWS_COMPARED, _FEWEST_ROWS, _FEW_TEXTS = 20_000, 1_000, 0.3


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
        recurring = []
        for relation, column in cells:
            if self._recurs(relation, column):
                recurring.append((relation, column))
            else:
                run(
                    f"INSERT INTO people_cells SELECT '{column}', row_number, {column}, "  # noqa: S608
                    f"CASE WHEN {self._needs_people(column)} THEN who ELSE '' END "
                    f"FROM {relation} WHERE {self._may_hold_person(column)}"
                )
        if recurring:
            self._gather_recurring(recurring)
        if not self._store.count("people_cells"):
            run("DROP TABLE people_cells")
            return set()
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
        """A few texts that belong to no row, masked: the single names of every row's people count in them."""
        if self.is_on:
            self._store.run(
                "DELETE FROM people_own WHERE who = '*'; "
                "INSERT INTO people_own SELECT '*', list_distinct(flatten(list(words))) FROM people_own"
            )
        frame = pd.DataFrame({"row_number": range(len(texts)), "loose_text": list(texts), "who": "*"})
        with self._store.frame_as("loose_texts", frame) as name:
            changed = self.masked_cells([(name, "loose_text")])
        if not changed:
            return list(texts)
        masked: dict[int, str] = dict(self._store.rows("SELECT row_number, text FROM masked_loose_text"))
        self._store.run("DROP TABLE masked_loose_text")
        return [str(masked.get(place, text)) for place, text in enumerate(texts)]

    def _recurs(self, relation: str, column: str) -> bool:
        """Whether a column's first texts say that few of its texts differ, or that there are few at all."""
        rows, texts = self._store.row(
            f"SELECT count({column}), count(DISTINCT {column}) FROM (FROM {relation} LIMIT {_ROWS_COMPARED})"  # noqa: S608
        )
        return bool(rows <= _FEWEST_ROWS or texts < _FEW_TEXTS * rows)

    def _gather_recurring(self, cells: Sequence[tuple[str, str]]) -> None:
        """Of columns whose texts recur: each different text is looked at once, whatever column it stands in."""
        texts = " UNION ALL ".join(f"SELECT {column} AS text FROM {relation}" for relation, column in cells)  # noqa: S608
        self._store.run(
            f"""
            -- Apart: in one statement the look would come before the distinct.
            CREATE TEMP TABLE people_distinct AS SELECT DISTINCT text FROM ({texts});
            CREATE TEMP TABLE people_recurring AS
            SELECT text, {self._needs_people("text")} AS needs_people
            FROM people_distinct WHERE {self._may_hold_person("text")};
            DROP TABLE people_distinct
            """  # noqa: S608 - names of ours
        )
        if self._store.count("people_recurring"):
            for relation, column in cells:
                self._store.run(
                    f"INSERT INTO people_cells SELECT '{column}', row_number, text, "  # noqa: S608 - names of ours
                    "CASE WHEN needs_people THEN who ELSE '' END "
                    f"FROM {relation} JOIN people_recurring ON {column} = text"
                )
        self._store.run("DROP TABLE people_recurring")

    def _may_hold_person(self, text: str) -> str:
        """SQL: whether masking may change a text."""
        # One pattern for all that is looked for takes as long as each alone.
        always = f"{MAY_HOLD_CONTACT}|{may_hold_cue()}"
        names = self._name_patterns()
        return _matches_any(text, [f"{always}|{names[0]}", *names[1:]] if names else [always])

    def _needs_people(self, text: str) -> str:
        """SQL: whether the row's people matter: it has a word of some person's, or may once an address is gone."""
        return f"(contains({text}, '@') OR {_matches_any(text, self._name_patterns())})"

    def _name_patterns(self) -> list[str]:
        """Patterns one of which a text with a word of any name of the file matches."""
        # A key's neighbours are no letters; digits may be a number that is masked before.
        return [rf"(?:^|\PL)(?i:{'|'.join(keys)})(?:$|\PL)" for keys in self._keys]

    def _find_people(self, initials: Sequence[str]) -> None:
        """The tables of names: own words by row's people, full names and their words by what finds them."""
        store = self._store
        if self._withheld:
            columns = ", ".join(self._withheld)
            store.run(
                f"CREATE TEMP TABLE people_own AS SELECT {self.who_sql()} AS who, "  # noqa: S608
                f"list_transform({own_words_sql(self._withheld)}, lambda w: {folded('w')}) AS words "
                f"FROM (SELECT DISTINCT {columns} FROM raw)"
            )
        else:
            store.run("CREATE TEMP TABLE people_own (who VARCHAR, words VARCHAR[])")
        kept = names_in(store, "raw", initials)
        names = names_in(store, "raw", [column for column in self._withheld if column not in initials])
        offer_names(store, kept, names, ordinary_words())
        own = {str(word) for (word,) in store.rows("SELECT DISTINCT unnest(words) FROM people_own")}
        keys = sorted(
            {key_of(word) for word in own | {word for name in kept + names for word in name}} - {""}
        )
        starts = range(0, len(keys), _KEYS_PER_PATTERN)
        self._keys = [keys[start : start + _KEYS_PER_PATTERN] for start in starts]

    def _mask_distinct_texts(self) -> None:
        """people_cells -> people_masked (place, row_number, text): the cells that come out differently.

        Each text is looked at once, and masked once for every set of its row's own people that it names.
        """
        self._store.run(
            f"""
            -- Apart: rows are numbered by one processor, and what reads the numbers at once runs on it too.
            CREATE TEMP TABLE people_distinct AS
            SELECT row_number() OVER () AS id, text FROM (SELECT DISTINCT text FROM people_cells);
            CREATE TEMP TABLE people_texts AS
            SELECT id, text, CASE WHEN regexp_matches(text, {literal(MAY_HOLD_CONTACT)})
              THEN {in_steps("text", contact_steps())} ELSE text END AS reached FROM people_distinct;
            DROP TABLE people_distinct;
            CREATE TEMP TABLE people_asked AS
            SELECT place, row_number, id, coalesce(list_filter(o.words, lambda w: contains(low, w)), []) AS own
            FROM (SELECT place, row_number, who, id, {folded("text")} AS low FROM people_cells JOIN people_texts
              USING (text))
            LEFT JOIN people_own o USING (who);
            CREATE TEMP TABLE people_tasks AS SELECT DISTINCT id, own FROM people_asked
            """  # noqa: S608 - patterns of ours
        )
        mask_names(self._store)
        self._store.run(
            f"""
            CREATE TEMP TABLE people_done AS
            SELECT id, own, CASE WHEN regexp_matches(named, {literal(may_hold_cue())})
              THEN {in_steps("named", cue_steps())} ELSE named END AS masked FROM people_named;
            CREATE TEMP TABLE people_masked AS
            SELECT place, row_number, masked AS text FROM people_asked JOIN people_texts USING (id)
            JOIN people_done USING (id, own) WHERE masked <> text;
            DROP TABLE people_texts; DROP TABLE people_asked; DROP TABLE people_tasks; DROP TABLE people_named;
            DROP TABLE people_done
            """  # noqa: S608 - patterns of ours
        )


def _matches_any(text: str, patterns: Iterable[str]) -> str:
    """SQL: whether a text matches one of some patterns."""
    found = " OR ".join(f"regexp_matches({text}, {literal(pattern)})" for pattern in patterns)
    return f"({found or 'false'})"


_EMPTY = "''"

"""What a table is: its columns with types, units and meaning, and the SQL that makes it."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import dedent

TEXT, TEXTS = "VARCHAR", "VARCHAR[]"
INTEGER, NUMBER, FLAG = "BIGINT", "DOUBLE", "BOOLEAN"
DRAWS = "FLOAT[]"
DATE, TIME = "DATE", "TIMESTAMP"
MONEY, ENERGY = "DECIMAL(18,4)", "DECIMAL(18,6)"


@dataclass(frozen=True)
class Column:
    """A column: name, DuckDB type and meaning (with unit)."""

    name: str
    type: str
    meaning: str
    required: bool = False


@dataclass(frozen=True)
class Table:
    """A table: what one row is, the stage that writes it, and its columns.

    ``view_of``: the SELECT behind a table that is never written, being only a view of others.
    """

    name: str
    stage: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    view_of: str = ""

    def create_sql(self) -> str:
        """CREATE TABLE (or VIEW) text."""
        lines = [f'"{c.name}" {c.type}{" NOT NULL" if c.required else ""}' for c in self.columns]
        if self.key:
            lines.append("PRIMARY KEY (" + ", ".join(f'"{name}"' for name in self.key) + ")")
        body = ",\n  ".join(lines)
        made = f"AS\n{self.view_of}" if self.view_of else f"(\n  {body}\n)"
        return f"CREATE {self._what} {self.name} {made};"

    def comment_sql(self) -> str:
        """COMMENT ON texts that keep the meanings of table and columns in the database itself."""
        comments = [f"COMMENT ON {self._what} {self.name} IS {_quoted('a row is ' + self.row_is)};"]
        comments += [
            f'COMMENT ON COLUMN {self.name}."{c.name}" IS {_quoted(c.meaning)};' for c in self.columns
        ]
        return "\n".join(comments)

    @property
    def _what(self) -> str:
        return "VIEW" if self.view_of else "TABLE"


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def columns(text: str) -> tuple[Column, ...]:
    """Columns from lines of ``name TYPE meaning``; ``!`` after the type means NOT NULL."""
    types = {
        "text": TEXT, "texts": TEXTS, "integer": INTEGER, "number": NUMBER, "flag": FLAG,
        "date": DATE, "time": TIME, "money": MONEY, "energy": ENERGY,
        "draws": DRAWS,
    }  # fmt: skip
    columns = []
    for line in dedent(text).strip().splitlines():
        name, kind, meaning = line.split(None, 2)
        columns.append(Column(name, types[kind.rstrip("!")], meaning.strip(), kind.endswith("!")))
    return tuple(columns)


def three(name: str, kind: str, meaning: str) -> str:
    """Low, central and high of one quantity."""
    return "\n".join(
        f"{name}_{level} {kind} {meaning}, {level} value" for level in ("low", "central", "high")
    )

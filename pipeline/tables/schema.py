"""What a table is: its columns with types, units and meaning, and the SQL that makes it."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import dedent

TEXT, TEXTS = "VARCHAR", "VARCHAR[]"
INTEGER, NUMBER, FLAG = "BIGINT", "DOUBLE", "BOOLEAN"
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
    """A table: what one row is, the stage that writes it, and its columns."""

    name: str
    stage: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    def create_sql(self) -> str:
        """CREATE TABLE text, with the meanings kept as comments in the database itself."""
        lines = [f'"{c.name}" {c.type}{" NOT NULL" if c.required else ""}' for c in self.columns]
        if self.key:
            lines.append("PRIMARY KEY (" + ", ".join(f'"{name}"' for name in self.key) + ")")
        body = ",\n  ".join(lines)
        comments = [f"COMMENT ON TABLE {self.name} IS {_quoted('a row is ' + self.row_is)};"]
        comments += [
            f'COMMENT ON COLUMN {self.name}."{c.name}" IS {_quoted(c.meaning)};' for c in self.columns
        ]
        return f"CREATE TABLE {self.name} (\n  {body}\n);\n" + "\n".join(comments)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def columns(text: str) -> tuple[Column, ...]:
    """Columns from lines of ``name TYPE meaning``; ``!`` after the type means NOT NULL."""
    types = {
        "text": TEXT, "texts": TEXTS, "integer": INTEGER, "number": NUMBER, "flag": FLAG,
        "date": DATE, "time": TIME, "money": MONEY, "energy": ENERGY,
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

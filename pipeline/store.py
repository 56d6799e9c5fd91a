"""The built database: the only module that opens DuckDB."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa

from pipeline.faults import InputFaults
from pipeline.tables import TABLES

Row = tuple[Any, ...]


class StageError(RuntimeError):
    """A stage's SQL failed: a fault of ours. Names the table and shows the statement."""


class Store:
    """An open database with this project's tables.

    One store belongs to one thread; ``cursor()`` gives another thread its own.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self._connection = connection

    @classmethod
    def create(cls, path: Path | None = None) -> Store:
        """A new, empty database at ``path`` (None: in memory) with every table created.

        In a file, which outlives its program, tables and columns carry their meanings as comments.
        """
        store = cls(_connected(str(path) if path else ":memory:", read_only=False))
        # In one transaction: each of its own would wait for the disk.
        store.run("BEGIN")
        for table in TABLES:
            store.run(table.create_sql() + (table.comment_sql() if path else ""))
        store.run("COMMIT")
        return store

    @classmethod
    def scratch(cls) -> Store:
        """An empty database in memory without any table of this project."""
        return cls(_connected(":memory:", read_only=False))

    @classmethod
    def open(cls, path: Path) -> Store:
        """A finished database, read-only; raises InputFaults when it is damaged or may not be read."""
        return cls(_connected(str(path), read_only=True))

    def close(self) -> None:
        """Write what is pending and let go of the file."""
        self._connection.close()

    def cursor(self) -> Store:
        """The same database for another thread."""
        return Store(self._connection.cursor())

    def run(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None = None) -> None:
        """Run statements that return nothing."""
        self._execute(sql, parameters)

    def rows(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None = None) -> list[Row]:
        """All rows of a query."""
        return self._execute(sql, parameters).fetchall()

    def row(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None = None) -> Row:
        """The single row of a query; an error when there is none."""
        found = self._execute(sql, parameters).fetchall()
        if not found:
            raise StageError(f"a query that must give a row gave none:\n{sql}")
        return found[0]

    def value(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None = None) -> Any:
        """The first column of a query's single row."""
        return self.row(sql, parameters)[0]

    def frame(self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None = None) -> pd.DataFrame:
        """A query as a (small) frame."""
        return self._execute(sql, parameters).df()

    def fill(self, table: str, select: str, parameters: Mapping[str, Any] | None = None) -> int:
        """Append a SELECT to a table, columns matched by name; gives the rows added."""
        before = self.count(table)
        self.run(f'INSERT INTO "{table}" BY NAME\n{select}', parameters)
        return self.count(table) - before

    def fill_frame(self, table: str, frame: pd.DataFrame) -> int:
        """Append a frame to a table, columns matched by name; gives the rows added."""
        if frame.empty:
            return 0
        with self.frame_as("frame_to_append", frame) as name:
            return self.fill(table, f"FROM {name}")

    @contextmanager
    def within_memory(self, most: str) -> Iterator[None]:
        """Keep the database to ``most`` ('1800MB') while the block runs; what is more goes to disk beside it."""
        before = self.value("SELECT current_setting('memory_limit')")
        if self.value("SELECT parse_formatted_bytes(?) > parse_formatted_bytes(?)", [before, most]):
            self.run(f"SET memory_limit = '{most}'")
        try:
            yield
        finally:
            self.run(f"SET memory_limit = '{before}'")

    @contextmanager
    def frame_as(self, name: str, frame: pd.DataFrame | pa.Table) -> Iterator[str]:
        """Offer a frame, or an Arrow table, to SQL under a name while the block runs."""
        self._connection.register(name, frame)
        try:
            yield name
        finally:
            self._connection.unregister(name)

    def count(self, table: str) -> int:
        """Rows in a table."""
        return int(self.value(f'SELECT count(*) FROM "{table}"'))  # noqa: S608 - a table name of ours

    def notice(self, stage: str, place: str, message: str) -> None:
        """Keep a sentence for the person who reads the build's result."""
        self.run("INSERT INTO notices VALUES (?, ?, ?)", [stage, place, message])

    def _execute(
        self, sql: str, parameters: Sequence[Any] | Mapping[str, Any] | None
    ) -> duckdb.DuckDBPyConnection:
        try:
            return self._connection.execute(sql, parameters) if parameters else self._connection.execute(sql)
        except duckdb.Error as error:
            raise StageError(f"{error}\n--- statement ---\n{sql}") from error


def _connected(database: str, read_only: bool) -> duckdb.DuckDBPyConnection:
    try:
        return duckdb.connect(database, read_only=read_only)
    except duckdb.Error as error:
        reason = str(error).splitlines()[0]
        raise InputFaults.one(
            database,
            f"cannot be opened as a database ({reason}).",
            "Run `dayburn build` for its folder again.",
        ) from error


def sql_text(package: str, name: str) -> str:
    """The text of ``name``.sql kept beside a stage's code, e.g. ``sql_text("pipeline.lives", "lives")``."""
    return files(package).joinpath(f"{name}.sql").read_text(encoding="utf-8")

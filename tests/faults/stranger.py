"""Another program at a database, a file or on a server: it writes past every rule that a rightful owner can pass."""

import sqlite3
from contextlib import suppress
from typing import Any

import psycopg

from fleetbench.records.core.database import as_url

REFUSED = (sqlite3.IntegrityError, sqlite3.OperationalError, psycopg.Error, UnicodeDecodeError, OverflowError)
"""What a database answers that would not have a change."""
TABLES = {
    True: "SELECT tablename FROM pg_tables WHERE schemaname = 'public'",
    False: "SELECT name FROM sqlite_master WHERE type = 'table'",
}
Value = int | float | str | bytes | None


class Stranger:
    """An open connection of another program, with foreign keys (and in a file checks, too) put out of force.

    within: a connection to a server in whose transaction it writes, so that all of it can be taken back at once.
    """

    def __init__(self, where: str, within: Any = None) -> None:
        self.server = where.startswith("postgres")
        self._open: Any
        if self.server:
            self._open = within or psycopg.connect(as_url(where).replace("+psycopg", ""), autocommit=True)
            self._open.execute(f"SET {'LOCAL ' if within else ''}session_replication_role = replica")
            return
        self._open = sqlite3.connect(where, isolation_level=None)
        for said in ("ignore_check_constraints = ON", "foreign_keys = OFF", "synchronous = OFF"):
            self._open.execute(f"PRAGMA {said}")

    def close(self) -> None:
        """End the connection."""
        self._open.close()

    def does(self, statement: str, *values: Value) -> int:
        """Run a statement; how many rows it touched."""
        return int(self._run(statement, values).rowcount)

    def asks(self, query: str, *values: Value) -> list[Any]:
        """The rows of a query."""
        return list(self._run(query, values).fetchall())

    def _run(self, statement: str, values: tuple[Value, ...]) -> Any:
        if self.server:
            return self._open.execute(statement.replace("?", "%s") if values else statement, values or None)
        return self._open.execute(statement, values)

    def tables(self) -> list[str]:
        """Every table with rows that the journal answers for, the journal too."""
        names = sorted(name for (name,) in self.asks(TABLES[self.server]) if name != "alembic_version")
        return [name for name in names if self.asks(f'SELECT 1 FROM "{name}" LIMIT 1')]

    def row(self, table: str, key: int) -> dict[str, Value]:
        """A row by the names of its columns."""
        found = self._run(f'SELECT * FROM "{table}" WHERE id = ?', (key,))
        return dict(zip([each[0] for each in found.description], found.fetchone(), strict=True))

    def keys(self, table: str) -> list[int]:
        """The keys of a table's rows."""
        return [key for (key,) in self.asks(f'SELECT id FROM "{table}" ORDER BY id')]

    def stored(self, table: str, key: int, column: str) -> tuple[bytes | None, str]:
        """A value's bytes as they are kept or written, and its kind."""
        said = (
            f"convert_to(\"{column}\"::text, 'UTF8'), ''"
            if self.server
            else f'CAST("{column}" AS BLOB), typeof("{column}")'
        )
        ((found, kind),) = self.asks(f'SELECT {said} FROM "{table}" WHERE id = ?', key)
        return found, kind

    def puts(self, table: str, key: int, column: str, value: Value, *, as_kind: str = "") -> bool:
        """Put a value in the place of another; whether another one stands there now.

        as_kind: the kind that bytes are to have in a file; a server reads them as it reads a typed word.
        """
        before = self.stored(table, key, column)
        how = f"CAST(? AS {as_kind})" if as_kind and not self.server else "?"
        if self.server and value is not None:
            value = value.decode() if isinstance(value, bytes) else str(value)
        self.does(f'UPDATE "{table}" SET "{column}" = {how} WHERE id = ?', value, key)
        return self.stored(table, key, column) != before

    def tried(self, statement: str) -> None:
        """Run a statement that may have nothing to do."""
        with suppress(*REFUSED):
            self.does(statement)

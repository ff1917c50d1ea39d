"""One lasting connection to each of a few databases of the tests' own server: a new one costs more than most asking."""

from contextlib import suppress
from typing import Any

from sqlalchemy import make_url

SHARED = "fleetbench_shared"
"""The database that tests use in turn."""
_LASTING: dict[str, Any] = {}


def ask(url: str, statement: str) -> Any:
    """The first value that a statement gives, None for none; through a connection that lasts where tests share it."""
    import psycopg  # only who tests on a server has it

    where = make_url(url).set(drivername="postgresql")
    address = where.render_as_string(hide_password=False)
    if where.database != SHARED:
        with psycopg.connect(address, autocommit=True) as passing:
            return _first(passing, statement)
    try:
        if address not in _LASTING:
            _LASTING[address] = psycopg.connect(address, autocommit=True)
        return _first(_LASTING[address], statement)
    except psycopg.OperationalError:  # the database was taken away and made again
        let_go(address)
        _LASTING[address] = psycopg.connect(address, autocommit=True)
        return _first(_LASTING[address], statement)


def let_go(address: str | None = None) -> None:
    """Close a lasting connection, or all of them."""
    for each in [address] if address else [*_LASTING]:
        with suppress(Exception):
            _LASTING.pop(each).close()


def _first(connection: Any, statement: str) -> Any:
    cursor = connection.execute(statement)
    row = cursor.fetchone() if cursor.description else None
    return row[0] if row else None

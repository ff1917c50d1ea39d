"""Notices at once that another desk wrote: on a connection of its own, in a thread that may wait.

PostgreSQL tells it (LISTEN, and NOTIFY in each act's own transaction); of a SQLite file `PRAGMA data_version` is asked.
"""

import select
import socket
import sqlite3
import threading
from contextlib import suppress
from typing import Any

from sqlalchemy.exc import DBAPIError

from fleetbench.calc.core.languages import say
from fleetbench.records.core.database import LAST_ENTRY, Database, readable
from fleetbench.records.core.errors import Refused, Unreadable

LOOK_SECONDS = 0.25
"""Between two looks at a file; a look takes some microseconds."""

SERVER_SECONDS = 10.0
"""A server that told nothing for so long is asked whether it still answers."""


class Watch:
    """One database watched from one thread; `stop` may be called from any other."""

    def __init__(self, database: Database, seen: int | None = None) -> None:
        """seen: the journal's last entry that is known already; where None, what stands there at the first look."""
        self._database = database
        self._stopped = threading.Event()
        self._wakes, self._woken = socket.socketpair()
        self._connection: Any = None
        self._version: object = None
        self._seen = seen

    @property
    def is_stopped(self) -> bool:
        """Whether nobody wants to hear of it any more."""
        return self._stopped.is_set()

    def stop(self) -> None:
        """Let whatever waits return at once."""
        self._stopped.set()
        with suppress(OSError):
            self._wakes.send(b".")

    def pause(self, seconds: float) -> None:
        """Wait so long, or until it is stopped."""
        self._stopped.wait(seconds)

    def wait(self) -> int | None:
        """The number of the journal's last entry once another desk wrote; None where none did for a while.

        Raises Unreadable where the database does not answer; the next call tries again on a new connection.
        """
        try:
            last = self._wait_for_server() if not self._database.is_sqlite else self._wait_for_file()
        except (sqlite3.Error, DBAPIError, OSError, Refused) as fault:
            self.close()
            raise _lost(fault) from fault
        except Exception as fault:
            self.close()
            if type(fault).__module__.startswith("psycopg"):  # an optional library, known by its name alone
                raise _lost(fault) from fault
            raise
        return self._told(last)

    def _told(self, last: int | None) -> int | None:
        if last is None:
            return None
        before, self._seen = self._seen, last
        return None if before is None or self._database.wrote_all(before, last) else last

    def _wait_for_file(self) -> int | None:
        if self._version is not None:
            self.pause(LOOK_SECONDS)
        self._version, last = self._database.file_entry(self._version)
        return last

    def _wait_for_server(self) -> int | None:
        if self._connection is None:
            self._connection = self._database.listening()
            return self._ask_server()
        ready, _, _ = select.select([self._connection.fileno(), self._woken], [], [], SERVER_SECONDS)
        if self.is_stopped:
            return None
        told = list(self._connection.notifies(timeout=0)) if ready else []
        return self._ask_server() if told or not ready else None

    def _ask_server(self) -> int:
        return int(self._connection.execute(LAST_ENTRY).fetchone()[0])

    def close(self) -> None:
        """Give the connection back; from the thread that waits."""
        connection, self._connection, self._version = self._connection, None, None
        self._database.close_look()
        if connection is not None:
            with suppress(Exception):  # it may be cut already, and there is nothing to save on it
                connection.close()
        if self.is_stopped:
            self._wakes.close()
            self._woken.close()


def _lost(fault: Exception) -> Unreadable:
    said = readable(fault)
    return said if isinstance(said, Unreadable) else Unreadable(say("the database does not answer"))

"""What was calculated from the records, known until a table that it was read from is written, thrown away by any doubt.

Nothing here is a record: it is kept in memory alone, beside the state of the database that it rests on, and every look
at it asks the database for its state first. Where that is another one, the journal's new entries say which tables were
written; where anything else may have been written too, everything is read again. Only what hangs on the records and on
the day may be known once; what moves with the clock within a day is calculated at every look.
"""

import gc
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from functools import wraps
from threading import Lock, RLock
from typing import Any, Concatenate, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

from fleetbench.calc.core.measures import in_use
from fleetbench.calc.core.verdict import Listed
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import State, state_of, written_between
from fleetbench.records.core.schema import KeptReads
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Workplace, day_in

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

MOST = 40
"""So many answers are kept at a time; more are asked for by odd days and cells, which need not stay."""


class KnownOnce:
    """What is known of one database. Its lock is held while something is calculated, so that nothing is twice.

    last: what was known before a table of it was written; what calculates it again says what of it still stands.
    """

    def __init__(self) -> None:
        self.lock = RLock()
        self.reads = KeptReads()
        self.last: dict[Hashable, Any] = {}
        self.answers: dict[Hashable, Any] = {}
        self._state: State | None = None
        self._read_in: Hashable = None
        self._asked: dict[Hashable, None] = {}
        self._answered: set[Hashable] = set()

    def follow(self, database: Database, connection: Connection) -> None:
        """Know no more than what stands in the state that the connection reads; ask before its first read."""
        state, read_in = state_of(database, connection), in_use()
        if read_in != self._read_in:  # words with figures in other units
            self._state, self._read_in = None, read_in
            self.last.clear()
            self._answered.clear()
        if state is not None and state == self._state:
            return
        written = written_between(database, connection, self._state, state)
        self._state, self.answers = state, {}
        if written is None:
            self.reads.forget()
            self._answered.clear()
        else:
            self.reads.changed(written)

    def of(self, what: Hashable, read: Callable[[], Answer]) -> Answer:
        """What is known under this name, calculated where it is not."""
        if what not in self._asked and len(self._asked) >= MOST:
            self.reads.forget()
            self._asked.clear()
            self._answered.clear()
            self.last.clear()
        self._asked[what] = None
        with no_cycle_search():
            answer = self.reads.of(what, read)
        self._answered.add(what)
        return answer

    def was_answered(self, what: Hashable) -> bool:
        """Whether this was calculated before, so that little of it is to be calculated again after an act."""
        return what in self._answered


_lock = Lock()
_of_database: WeakKeyDictionary[Database, KnownOnce] = WeakKeyDictionary()


@contextmanager
def no_cycle_search() -> Iterator[None]:
    """Without the collector of cycles: tens of thousands of flat records hold none, and looking costs a quarter."""
    looking = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looking:
            gc.enable()


@contextmanager
def known_of(database: Database, connection: Connection) -> Iterator[KnownOnce]:
    """What is known of the state that the connection reads, for this thread alone meanwhile; ask before its first read.

    Every read of the database that is asked meanwhile is known, too, where no table of it was written.
    """
    with _lock:
        known = _of_database.setdefault(database, KnownOnce())
    with known.lock, known.reads.serving(database.engine):
        known.follow(database, connection)
        yield known


@contextmanager
def known_if_free(database: Database, connection: Connection) -> Iterator[KnownOnce | None]:
    """The same without waiting: None while another thread reads or calculates."""
    with _lock:
        known = _of_database.setdefault(database, KnownOnce())
    if not known.lock.acquire(blocking=False):
        yield None
        return
    try:
        with known_of(database, connection) as free:
            yield free
    finally:
        known.lock.release()


def known_answers(database: Database, connection: Connection) -> dict[Hashable, Any]:
    """What is known of the state that the connection reads alone, to look up and to add to."""
    with known_of(database, connection) as known:
        return known.answers


def forget(database: Database) -> None:
    """Know nothing of a database any more."""
    with _lock:
        _of_database.pop(database, None)


def known_once(
    read: Callable[Concatenate[Workplace, Given], Answer],
) -> Callable[Concatenate[Workplace, Given], Answer]:
    """The read, whose answer hangs on the records, the day and its arguments alone, answered from what is known.

    What is read while another desk writes may be newer than the state it is kept under, never older.
    """

    @wraps(read)
    def ask(workplace: Workplace, /, *given: Given.args, **named: Given.kwargs) -> Answer:
        with workplace.database.reading() as connection, known_of(workplace.database, connection) as known:
            day = day_in(workplace, centre_timezone(connection))
            key = *_named(read), given, tuple(sorted(named.items())), day.today
            return known.of(key, lambda: read(workplace, *given, **named))

    return ask


def _named(read: Callable[..., object]) -> tuple[str, str]:
    return read.__module__, read.__qualname__


FEW = 50
"""So many units are judged before anybody would rather see the list without."""

MANY = 500
"""A list of no more records takes so little time that nobody would rather see it without what is calculated."""


def listed_at_once(
    workplace: Workplace,
    whole: Callable[[Workplace], tuple[Answer, ...]],
    listed: Callable[[Workplace], tuple[Listed, ...]],
) -> tuple[Answer, ...] | tuple[Listed, ...]:
    """What is known once, where it takes no time; else its records before they are judged. It waits for no reader."""
    with workplace.database.reading() as connection, known_if_free(workplace.database, connection) as known:
        day = day_in(workplace, centre_timezone(connection))
        takes_no_time = known is not None and known.was_answered((*_named(whole), (), (), day.today))
    records = () if takes_no_time else listed(workplace)
    return records if len(records) > MANY else whole(workplace)

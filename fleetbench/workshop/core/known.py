"""What was calculated from the records, known until anything was written, and thrown away by any doubt.

Nothing here is a record: it is kept in memory alone, beside the state of the database that it rests on, and every look
at it asks the database for its state first. Only what hangs on the records and on the day may be known once; what moves
with the clock within a day is calculated at every look.
"""

import gc
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from functools import wraps
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

from fleetbench.calc.core.measures import in_use
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import state_of
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Workplace, day_in

Given = ParamSpec("Given")
Answer = TypeVar("Answer")
Units = tuple[str, ...]

BEFORE = "before"
"""Under this key stands the fleet as it was known before the last change: answers to the same facts stay the same."""
MOST = 40
"""So many answers are kept of one state; more are asked for by odd days and cells, which need not stay."""

_lock = Lock()
_of_database: WeakKeyDictionary[Database, tuple[Hashable, Units, dict[Hashable, Any]]] = WeakKeyDictionary()


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


def known_answers(database: Database, connection: Connection) -> dict[Hashable, Any]:
    """What is known of the state that the connection reads, to look up and to add to; ask before its first read.

    Where the state cannot be told, or is another one than before, nothing is known.
    """
    state = state_of(database, connection)
    with _lock:
        before, read_in, answers = _of_database.get(database, (None, (), {}))
        units = in_use()
        if read_in != units:
            answers = {BEFORE: {}}  # words with figures in other units
        if state is None or state != before or read_in != units or len(answers) >= MOST:
            fleets = {key: each for key, each in answers.items() if isinstance(key, tuple) and key[0] == "fleet"}
            answers = {BEFORE: fleets}
            _of_database[database] = state, units, answers
        return answers


def forget(database: Database) -> None:
    """Know nothing of a database any more, as after something was written."""
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
        with workplace.database.reading() as connection:
            answers = known_answers(workplace.database, connection)
            day = day_in(workplace, centre_timezone(connection))
        key = read.__module__, read.__qualname__, given, tuple(sorted(named.items())), day.today
        if key not in answers:
            with no_cycle_search():
                answers[key] = read(workplace, *given, **named)
        found: Answer = answers[key]
        return found

    return ask

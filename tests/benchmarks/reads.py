"""What pages and acts cost, beside the bare driver that sends the very same statements and fetches the very same rows.

CPU seconds, so that what else the machine does says little. `first` is a look where nothing is known, `after an act`
one after a hold was placed on one unit, `again` one while nothing was written.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from fleetbench.records.core.database import Database
from fleetbench.workshop.bench.valves import list_valves
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.gas.list import list_cylinders
from fleetbench.workshop.hires.availability import read_availability
from fleetbench.workshop.hires.list import judged_bookings
from fleetbench.workshop.hires.promises import judged_promises
from fleetbench.workshop.parts.stock import list_stock
from fleetbench.workshop.tickets.list import list_tickets
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from fleetbench.workshop.units.holds import place_hold
from fleetbench.workshop.units.list import list_units, unit_page
from fleetbench.workshop.units.today import today_page
from tests.benchmarks.startup import Pair

Statement = tuple[str, Any]

PAGES: dict[str, Callable[[Workplace], Any]] = {
    "Today": today_page, "promises of Today": judged_promises,
    "Units": list_units, "Cells": list_cells, "Valves": list_valves, "Hire desk": judged_bookings,
    "Due": list_due, "Tickets": list_tickets, "Stock": list_stock, "Cylinders": list_cylinders,
    "Availability": read_availability,
}  # fmt: skip


def seconds(act: Callable[[], object]) -> float:
    """CPU seconds of one run, of all threads."""
    began = time.process_time()
    act()
    return time.process_time() - began


@contextmanager
def sent(database: Database) -> Iterator[list[Statement]]:
    """The statements that are sent meanwhile, with their parameters."""
    found: list[Statement] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, many: bool) -> None:
        if not many:
            found.append((statement, parameters))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(database.engine, "before_cursor_execute", note)


def replayed(database: Database, statements: list[Statement]) -> float:
    """CPU seconds of the reads among the statements on the bare driver."""
    reads = [each for each in statements if each[0].lstrip().upper().startswith(("SELECT", "WITH"))]
    bare = database.engine.raw_connection()
    try:
        cursor = bare.cursor()

        def run() -> None:
            for statement, parameters in reads:
                cursor.execute(statement, parameters)
                cursor.fetchall()

        run()
        return seconds(run)
    finally:
        bare.close()


def measure_page(workplace: Workplace, read: Callable[[Workplace], Any], runs: int) -> tuple[Pair, Pair, Pair]:
    """A first look, one after an act and one again, each beside the statements that a first look sends."""
    with sent(workplace.database) as statements:
        forget(workplace.database)
        read(workplace)
    first, acted, again = [], [], []
    hand, tag = _hand_and_unit(workplace)
    for _ in range(runs):
        forget(workplace.database)
        first.append(seconds(lambda: read(workplace)))
        place_hold(hand, tag, "measured")
        acted.append(seconds(lambda: read(workplace)))
        again.append(seconds(lambda: read(workplace)))
    floor = statistics.median(replayed(workplace.database, statements) for _ in range(runs))
    return (
        Pair(statistics.median(first), floor),
        Pair(statistics.median(acted), floor),
        Pair(statistics.median(again), floor),
    )


def _hand_and_unit(workplace: Workplace) -> tuple[Workplace, str]:
    """The workplace of a manager, and the tag of the last unit."""
    with workplace.database.reading() as connection:
        person = connection.exec_driver_sql("SELECT min(id) FROM person WHERE role = 'manager'").scalar()
        tag = connection.exec_driver_sql("SELECT max(tag) FROM unit").scalar()
    return workplace.as_person(person), str(tag)


def measure_unit(workplace: Workplace, runs: int) -> Pair:
    """The page of one unit."""
    tag = list_units(workplace)[-1].tag
    with sent(workplace.database) as statements:
        unit_page(workplace, tag)
    program = statistics.median(seconds(lambda: unit_page(workplace, tag)) for _ in range(runs))
    return Pair(program, replayed(workplace.database, statements))


def measure_card(workplace: Workplace, runs: int) -> Pair:
    """What is read of a unit after each tick on its turn-round card."""
    tag = list_units(workplace)[-1].tag
    with sent(workplace.database) as statements:
        turn_round_desk(workplace, tag)
    program = statistics.median(seconds(lambda: turn_round_desk(workplace, tag)) for _ in range(runs))
    return Pair(program, replayed(workplace.database, statements))


def measure_hold(workplace: Workplace, runs: int) -> Pair:
    """A hold placed by hand, which writes two rows."""
    hand, tag = _hand_and_unit(workplace)
    with sent(workplace.database) as statements:
        place_hold(hand, tag, "measured")
    program = statistics.median(seconds(lambda: place_hold(hand, tag, "measured")) for _ in range(runs))
    return Pair(program, max(replayed(workplace.database, statements), 1e-4))

"""The due list, beside the bare driver that runs the very same statements and fetches the very same rows."""

import sqlite3
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import event

from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.due.list import list_due
from tests.benchmarks.startup import Pair

Statement = tuple[str, Any]


def statements_of(shop: Shop) -> list[Statement]:
    """Every statement that one due list sends, with its parameters."""
    sent: list[Statement] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool) -> None:
        sent.append((statement, parameters))

    engine = shop.database.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        list_due(shop)
    finally:
        event.remove(engine, "before_cursor_execute", note)
    return [
        (statement, parameters) for statement, parameters in sent if statement.lstrip().upper().startswith("SELECT")
    ]


def seconds(act: Callable[[], object]) -> float:
    """Seconds of one run."""
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def measure(database: Path, runs: int = 7) -> Pair:
    """The median over alternating runs of due list and floor, after one of each."""
    shop = Shop(open_database(database))
    sent = statements_of(shop)
    bare = sqlite3.connect(database)

    def floor() -> int:
        return sum(len(bare.execute(statement, parameters).fetchall()) for statement, parameters in sent)

    floor()
    floors, lists = [], []
    for _ in range(runs):
        floors.append(seconds(floor))
        lists.append(seconds(lambda: list_due(shop)))
    bare.close()
    shop.database.close()
    return Pair(statistics.median(lists), statistics.median(floors))

"""Sorting and filtering a list of a hundred thousand rows, beside `sorted` and a plain search of the same texts."""

import random
import statistics
from dataclasses import dataclass
from typing import Any

from tests.benchmarks.reads import seconds
from tests.benchmarks.startup import Pair

ROWS = 100_000


@dataclass(frozen=True, slots=True)
class Row:
    """One invented row."""

    tag: str
    place: str
    left: int | None


def measure(runs: int = 5) -> dict[str, Pair]:
    """A first sort by a column, the same column again, and one letter typed into the filter."""
    from PySide6.QtCore import QCoreApplication, Qt

    from fleetbench.window.lists.rows import Column, RowModel, prepared

    app = QCoreApplication.instance() or QCoreApplication([])
    chance = random.Random(1)
    rows = [Row(f"{chance.choice('BCD')}-{chance.randrange(99_999)}", f"Shelf {chance.randrange(60)}",
                chance.choice((None, chance.randrange(900)))) for _ in range(ROWS)]  # fmt: skip
    columns: tuple[Column[Row], ...] = (
        Column("tag", "Tag", lambda row: row.tag), Column("place", "Place", lambda row: row.place),
        Column("left", "Days left", lambda row: str(row.left or ""), lambda row: row.left),
    )  # fmt: skip
    ready = prepared(rows, columns)
    sorts, again, keys, floors, plain = [], [], [], [], []
    for _ in range(runs):
        model: RowModel[Any] = RowModel(columns, id)
        model.set_prepared(ready)
        model.index(5, 0)
        sorts.append(seconds(lambda model=model: model.sort(1)))
        again.append(seconds(lambda model=model: (model.sort(0), model.sort(1))))
        model.sort(0, Qt.SortOrder.DescendingOrder)
        keys.append(seconds(lambda model=model: model.set_filter("b-9")))
        floors.append(seconds(lambda: sorted(rows, key=lambda row: row.place)))
        plain.append(seconds(lambda: [text for text in ready.texts if "b-9" in text]))
    del app
    middle = statistics.median
    return {
        "sort 100,000 rows": Pair(middle(sorts), middle(floors)),
        "sort them again": Pair(middle(again), middle(floors)),
        "filter, a key": Pair(middle(keys), middle(plain)),
    }

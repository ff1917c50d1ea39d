"""The due list of random fleets against a calculation that reads the sheets alone and imports nothing of the program.

Rules of lives: common practice, no published source; see tests/independent/due.py.
"""

import datetime as dt
import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem, list_due
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.lives import rebuild_lives
from tests.centres.random_fleet import NOW, STATED, RandomFleet
from tests.independent.due import Due

FLEETS = 200
TOGETHER = 10
"""Fleets written as one centre: reading the sheets of a centre costs far more than what stands in them."""

Key = tuple[str, str, str, dt.date | None]


@pytest.fixture(scope="module")
def database(empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """One database whose file is laid back to empty for each fleet: its statements are compiled only once."""
    path = tmp_path_factory.mktemp("fleets") / "fleet.db"
    shutil.copy(empty_file, path)
    made = open_database(path)
    yield made
    made.close()


def taken_in(fleet: RandomFleet, database: Database, empty: Path, folder: Path) -> Workplace:
    """A workplace with the fleet's sheets, and nothing else, taken in."""
    database.engine.dispose()
    assert database.path is not None
    for ending in ("-wal", "-shm"):
        database.path.with_name(database.path.name + ending).unlink(missing_ok=True)
    shutil.copy(empty, database.path)
    workplace = Workplace(database, lambda: NOW)
    report = import_folder(workplace, fleet.write(folder))
    assert report.faults == (), report.faults[:2]
    return workplace


class ExactDue(Due):
    """The calculation with one thing more: where what is left lasts a whole number of days, as whole minutes make it
    now and then, floating point must not decide whether the last of them counts."""

    def _by_use(self, part: str, unit: str, use: str, amount: float, on: dt.date) -> tuple[dt.date | None, str]:
        day, state = super()._by_use(part, unit, use, amount, on)
        if state == "projected":
            lasts = (amount - self.used(part, use)) / self.pace(unit, use, on)
            if abs(lasts - round(lasts)) < 1e-9 * lasts:
                return on + dt.timedelta(days=round(lasts) - 1), state
        return day, state


def expected(calculation: Due) -> Counter[Key]:
    """(unit, slot, serial, last good day) of every item: one a part, and one more where a date of it is not known."""
    found: Counter[Key] = Counter()
    for row in calculation.governing(STATED):
        where = row["unit"], row["slot"], calculation.parts[row["part"]]["serial"]
        if row["last_good_day"] is not None:
            found[*where, row["last_good_day"]] += 1
        if row["unknown"]:
            found[*where, None] += 1
    return found


def told(items: tuple[DueItem, ...]) -> Counter[Key]:
    """The same of the program's list; what sits in a head on the shelf belongs to no unit and is left out."""
    return Counter(
        (item.unit, item.slot or "", item.part or "", item.last_good_day)
        for item in items
        if item.part_id is not None and item.unit is not None
    )


@pytest.mark.timeout(900)
@settings(max_examples=FLEETS // TOGETHER, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(chance=st.randoms(use_true_random=True))
def test_the_due_lists_of_random_fleets_are_what_their_sheets_say(
    database: Database, empty_file: Path, chance: random.Random
) -> None:
    with tempfile.TemporaryDirectory(prefix="parts-") as scratch:
        workplace = taken_in(RandomFleet(chance).with_more(TOGETHER), database, empty_file, Path(scratch))
        items, calculation = list_due(workplace), ExactDue(scratch)
        assert told(items) == expected(calculation)
        bases: dict[str, set[str]] = {}
        for row in calculation.rows(STATED):
            serial = calculation.parts[row["part"]]["serial"]
            bases.setdefault(f"{serial} {row['last_good_day']}", set()).add(row["basis"])
        for item in items:
            if item.part_id is not None and item.unit is not None and item.last_good_day is not None:
                assert item.basis in bases[f"{item.part} {item.last_good_day}"]
        assert rebuild_lives(workplace) == []
        assert Counter(list_due(workplace, within_days=60)) == within(items, 60)


def within(items: tuple[DueItem, ...], days: int) -> Counter[DueItem]:
    """Just the items that end within so many days, are past, or are not known."""
    return Counter(item for item in items if item.days_left is None or item.days_left <= days)

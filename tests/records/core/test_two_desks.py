"""Two processes that write at once, and one that is killed: the chain holds and no committed act is lost."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import transaction
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from tests.faults.table import Say, forked
from tests.records.writer import write

ROOT = Path(__file__).resolve().parents[3]
ACTS = 40
KILLS = 4


@contextmanager
def desk(database: Database, name: str, count: int) -> Iterator["subprocess.Popen[str]"]:
    """Another process that writes acts."""
    where = database.path or database.url.replace("+psycopg", "")
    command = [sys.executable, "-m", "tests.records.writer", str(where), name, str(count)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process
        finally:
            process.kill()


def names(database: Database) -> tuple[list[str], list[str]]:
    with database.reading() as connection:
        owners, places = (connection.scalars(select(kind.name).order_by(kind.id)) for kind in (Owner, Place))
        return list(owners), list(places)


def test_two_desks_that_write_at_once_lose_nothing_and_break_no_chain(database: Database) -> None:
    with desk(database, "left", ACTS) as left, desk(database, "right", ACTS) as right:
        said = [process.communicate(timeout=90)[0].split() for process in (left, right)]
        assert [left.returncode, right.returncode] == [0, 0]
    assert [len(lines) for lines in said] == [ACTS, ACTS]
    report = verify(database)
    assert (report.first_break, report.entries) == (None, 2 * ACTS)
    owners, places = names(database)
    assert sorted(owners) == sorted(f"{name} {number}" for name in ("left", "right") for number in range(ACTS))
    assert owners == places


def test_a_killed_desk_keeps_every_committed_act_and_no_other(database: Database) -> None:
    kept = 0
    for kill in range(KILLS):
        desk_name = f"desk {kill}"
        said = forked(partial(_write, database.url, desk_name), after=0.05 + 0.053 * kill)
        with database.writing():
            pass  # a server may still be taking in the killed desk's last commit; an act waits for it
        committed = sum(line.isdigit() for line in said)
        owners, places = names(database)
        mine = [name for name in owners if name.startswith(f"{desk_name} ")]
        assert mine == [f"{desk_name} {number}" for number in range(len(mine))]
        # The last act may have been committed in the moment between its commit and the line that tells of it.
        assert len(mine) in (committed, committed + 1)
        assert owners == places
        kept += len(mine)
        assert verify(database).first_break is None
    assert verify(database).entries == kept > 0


def _write(where: str, name: str, say: Say) -> None:
    write(where, name, 10_000, say)


def test_a_killed_desk_leaves_a_file_that_opens_again(sqlite_database: Database) -> None:
    path = sqlite_database.path
    assert path is not None
    sqlite_database.close()
    with desk(sqlite_database, "desk", 10_000) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.kill()
    again = open_database(path, create=False)
    assert verify(again).first_break is None
    again.close()


@pytest.mark.parametrize("kind", [Owner, Place])
def test_a_failed_act_leaves_no_row_and_no_entry(database: Database, kind: type[Owner] | type[Place]) -> None:
    with pytest.raises(ZeroDivisionError):
        _fail(database, kind)
    assert names(database) == ([], [])
    assert verify(database).entries == 0


def _fail(database: Database, kind: type[Owner] | type[Place]) -> None:
    with transaction(database, lambda: datetime(2026, 5, 4, tzinfo=UTC), None, "enter", "nothing") as act:
        act.add(kind(name="x", kind="shelf" if kind is Place else "loan"))
        act.close_entry()
        raise ZeroDivisionError

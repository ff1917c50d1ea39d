"""Another desk's act is heard of, one's own is not, and a lost server is told and found again."""

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from fleetbench.records.core import database as database_module
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.transaction import settle_doubt, transaction
from fleetbench.records.core.watch import Watch
from fleetbench.records.places.tables import Owner

ROOT = Path(__file__).resolve().parents[3]


def enter(database: Database, name: str) -> None:
    with transaction(database, lambda: datetime.now(UTC), None, "enter", name) as act:
        act.add(Owner(name=name, kind="loan"))


def heard(watch: Watch, seconds: float) -> int | None:
    """What the watch tells within so many seconds."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        found = watch.wait()
        if found is not None:
            return found
    return None


@contextmanager
def watching(database: Database, seen: int | None = 0) -> Iterator[Watch]:
    """A watch that has looked once."""
    watch = Watch(database, seen)
    try:
        yield watch
    finally:
        watch.stop()
        watch.close()


def another_desk(database: Database) -> Database:
    return Database(database.path or database.url)


def test_an_act_of_another_process_is_heard_of(database: Database) -> None:
    where = str(database.path or database.url.replace("+psycopg", ""))
    command = [sys.executable, "-m", "tests.records.writer", where, "far", "1"]
    with watching(database) as watch:
        assert watch.wait() is None
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as far:
            assert far.stdout is not None
            assert heard(watch, 60) == 1
            far.communicate()


def test_ones_own_acts_are_not_told_and_those_of_others_between_them_are(database: Database) -> None:
    far = another_desk(database)
    with watching(database) as watch:
        assert watch.wait() is None
        enter(database, "here")
        assert [watch.wait() for _ in range(2 if database.is_sqlite else 1)][-1] is None
    with watching(database, 1) as watch:
        assert watch.wait() is None
        enter(far, "there")
        enter(database, "here again")
        assert heard(watch, 5) in (2, 3)
    far.close()


def test_what_was_written_between_opening_and_the_first_look_is_told(database: Database) -> None:
    far = another_desk(database)
    enter(far, "there")
    far.close()
    with watching(database) as watch:
        assert watch.wait() == 1


def test_a_closed_file_is_let_go_until_it_is_used_again(sqlite_database: Database) -> None:
    path = sqlite_database.path
    enter(sqlite_database, "here")
    with watching(sqlite_database) as watch:
        watch.wait()
        assert path is not None and Path(f"{path}-wal").exists()
        sqlite_database.close()
        assert watch.wait() is None
        assert not Path(f"{path}-wal").exists()  # nobody holds it open any more


CUT = """
SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE pid <> pg_backend_pid() AND datname = current_database()
"""


def cut_others(far: Database) -> None:
    with far.engine.connect() as connection:
        connection.execute(text(CUT))


def test_a_cut_watch_says_so_in_one_line_and_hears_again(server_database: Database) -> None:
    far = another_desk(server_database)
    with watching(server_database) as watch:
        assert watch.wait() is None
        cut_others(far)
        with pytest.raises(Unreadable, match="connection to the database server was cut"):
            heard(watch, 5)
        enter(far, "there")
        assert heard(watch, 5) == 1
    far.close()


def test_an_act_cut_before_its_commit_is_told_as_not_recorded_and_can_be_repeated(server_database: Database) -> None:
    far = another_desk(server_database)
    with (
        pytest.raises(Unreadable, match="nothing was recorded"),
        transaction(server_database, lambda: datetime.now(UTC), None, "enter", "here") as act,
    ):
        cut_others(far)
        act.add(Owner(name="here", kind="loan"))
    enter(server_database, "here")
    far.close()


def lose_answer(database: Database, far: Database, patch: pytest.MonkeyPatch, *, after: bool) -> None:
    """Cut the connection at the next commit, before the server did it or after."""
    dialect = database.engine.dialect
    commit = dialect.do_commit

    def cut(driver: Any) -> None:
        patch.setattr(dialect, "do_commit", commit)
        if after:
            commit(driver)
        cut_others(far)
        driver.execute("SELECT 1")
        commit(driver)

    patch.setattr(dialect, "do_commit", cut)


@pytest.mark.parametrize("after", [True, False])
def test_an_act_whose_answer_was_lost_is_found_out(
    server_database: Database, after: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    far = another_desk(server_database)
    lose_answer(server_database, far, monkeypatch, after=after)
    if after:
        enter(server_database, "here")  # done, and not told as a failure
    else:
        with pytest.raises(Unreadable, match="nothing was recorded"):
            enter(server_database, "here")
    with far.reading() as connection:
        assert connection.scalar(text("SELECT count(*) FROM owner")) == int(after)
    far.close()


@pytest.mark.parametrize("after", [True, False])
def test_an_act_that_cannot_be_found_out_yet_is_before_the_next(
    server_database: Database, after: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    far, writing = another_desk(server_database), server_database.writing
    lose_answer(server_database, far, monkeypatch, after=after)
    monkeypatch.setattr("fleetbench.records.core.transaction.FIND_OUT_SECONDS", 0.0)
    asked = [0]

    def gone() -> object:
        asked[0] += 1
        if asked[0] > 1:
            raise Unreadable("the database server does not answer")
        return writing()

    monkeypatch.setattr(server_database, "writing", gone)
    with pytest.raises(Unreadable, match="whether it was is looked up"):
        enter(server_database, "here")
    monkeypatch.setattr(server_database, "writing", writing)
    if after:
        with pytest.raises(Refused, match="'enter' of here was recorded before the connection was cut"):
            enter(server_database, "here")
        enter(server_database, "another")
    else:
        assert settle_doubt(server_database) == "'enter' of here was not recorded; repeat it"
        enter(server_database, "here")
    far.close()


def test_an_act_waits_for_another_desks_turn_so_long_and_no_longer(
    server_database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database_module, "BUSY_SECONDS", 1.0)
    asleep, awake = another_desk(server_database), another_desk(server_database)
    with asleep.writing(), pytest.raises(Unreadable, match="busy at another desk; try again"):
        enter(awake, "meanwhile")
    enter(awake, "afterwards")
    with awake.reading() as connection:
        assert connection.scalars(text("SELECT name FROM owner")).all() == ["afterwards"]
    asleep.close()
    awake.close()

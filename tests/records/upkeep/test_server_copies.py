"""Copies of a server's records: made by the program or by pg_dump, put back into a server, and brought up step by step.

PostgreSQL's own programs are asked as its documentation says (pg_dump, pg_restore, libpq's environment variables).
"""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import select, text

from fleetbench.records.core.database import Database, as_url
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import transaction
from fleetbench.records.people.retention import erase_within
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.tickets.photographs import ENVIRONMENT
from fleetbench.records.upkeep import migrate
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import bring_up, examine, known_revisions, open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.settings import data_folder
from tests.conftest import Clock, Server
from tests.faults.places import fill_old, of_revision
from tests.records.few_rows import AT, write_few_rows
from tests.round_trip import contents

NAME = "fleetbench_copies"


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The user's data and the photographs in folders of the test."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "photographs"))


@pytest.fixture
def where(server: Server) -> Iterator[str]:
    """The address of a migrated and empty database that the test alone has."""
    server.drop(NAME)
    yield server.fresh(NAME)
    server.drop(NAME)


def _erase(database: Database, code: str) -> None:
    with transaction(database, Clock(AT), None, "erase person", code) as act:
        person = act.session.scalars(select(Person).where(Person.code == code)).one()
        erase_within(act, person)


def _schemas(database: Database) -> list[str]:
    with database.reading() as connection:
        said = "SELECT nspname::text FROM pg_namespace WHERE nspname LIKE 'fleetbench\\_%' ORDER BY 1"
        return list(connection.scalars(text(said)))


def test_a_servers_backup_is_a_file_that_goes_back_and_what_stood_there_is_kept(where: str, tmp_path: Path) -> None:
    saved, clock = tmp_path / "saved.sqlite", Clock(AT)
    with closing(open_database(where)) as database:
        write_few_rows(database)
        made = backup(database, saved)
        before = contents(database)
        with database.reading() as connection:
            code = connection.scalar(select(Person.code).join(PersonPrivate, PersonPrivate.person_id == Person.id))
        _erase(database, str(code))
        after = contents(database)
        with closing(Database(saved)) as copy:
            assert (contents(copy), verify(copy).breaks) == (before, ())
        assert saved.stat().st_mode & 0o077 == 0
        put = restore(saved, where, clock=clock)
        assert (put.erased, verify(database).breaks) == ((code,), ())
        assert put.head_number == made.head_number + 1  # it was erased again
        (schema,) = _schemas(database)
        assert schema in str(put.kept)
    kept = f"{where}&options=-csearch_path%3D{schema}"
    with closing(Database(kept)) as old:  # the way back from the schema, as README has it
        assert contents(old) == after
        backup(old, tmp_path / "kept.sqlite")
    assert restore(tmp_path / "kept.sqlite", where, clock=Clock(datetime(2027, 1, 1, tzinfo=UTC))).erased == ()
    with closing(open_database(where)) as database:
        assert contents(database) == after


def test_a_restore_to_a_server_refuses_what_a_restore_to_a_file_does_and_nothing_moves(
    where: str, empty_file: Path, tmp_path: Path
) -> None:
    with closing(open_database(where)) as database:
        write_few_rows(database)
        before, saved = contents(database), tmp_path / "saved.sqlite"
        backup(database, saved)
        bad = {name: tmp_path / f"{name}.sqlite" for name in ("newer", "empty", "foreign", "torn", "broken", "none")}
        for name in ("newer", "torn", "broken"):
            shutil.copy(saved, bad[name])
        bad["empty"].touch()
        with closing(sqlite3.connect(bad["foreign"])) as other, other:
            other.execute("CREATE TABLE letter (words)")
        for name, said in (
            ("newer", "UPDATE alembic_version SET version_num = '9999'"),
            ("broken", "UPDATE owner SET name = 'another'"),
        ):
            with closing(sqlite3.connect(bad[name])) as other, other:
                other.execute(said)
        whole = bad["torn"].read_bytes()
        bad["torn"].write_bytes(whole[: len(whole) // 2])
        for name, path in bad.items():
            with pytest.raises(Refused) as refused:
                restore(path, where)
            assert "\n" not in str(refused.value), name
            assert (contents(database), _schemas(database)) == (before, []), name
        assert list(data_folder().iterdir()) == []


def test_a_killed_restore_to_a_server_is_told_by_the_next_start(where: str) -> None:
    part = migrate.restoring_name(where)
    part.write_bytes(b"half of it")
    with closing(open_database(where)) as database:
        assert database.told.startswith("A restore was interrupted before it replaced anything")
    assert not part.exists()


def _program(folder: Path, name: str, text_of: str) -> None:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text_of)
    (folder / name).chmod(0o755)


def _older(server: Server, tmp_path: Path) -> str:
    """A server database of the last revision but one, with rows in it."""
    server.drop(NAME)
    address = server.fresh(NAME, None)
    with closing(Database(address)) as database:
        fill_old(database, of_revision(known_revisions()[-2], tmp_path))
    return address


def test_the_own_copy_before_an_upgrade_is_told_with_why_and_goes_back(
    where: str, server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    programs = tmp_path / "programs"
    _program(
        programs, "pg_dump", f'#!/bin/sh\nprintf "%s\\n" "$@" > {tmp_path}/said\nenv > {tmp_path}/around\nexit 1\n'
    )
    monkeypatch.setattr("fleetbench.records.core.database.kept_password", lambda *_: "a very secret word")
    monkeypatch.setenv("PATH", f"{programs}:{os.environ['PATH']}")
    with closing(open_database(_older(server, tmp_path))) as database:
        told, now = database.told, contents(database)
    (kept,) = data_folder().glob("*.backup")
    assert str(kept) in told and "pg_dump failed; its version may not fit the server's" in told
    assert (kept.stat().st_mode & 0o077, list(data_folder().iterdir())) == (0, [kept])
    assert "a very secret word" not in (tmp_path / "said").read_text()
    assert "PGPASSWORD=a very secret word" in (tmp_path / "around").read_text()
    assert examine(kept) == migrate.FoundDatabase(migrate.DatabaseState.OLDER, known_revisions()[-2])
    server.drop(NAME)
    restore(kept, server.fresh(NAME))
    with closing(open_database(server.url(NAME))) as database:
        assert (contents(database), database.upgraded) == (now, True)


def test_a_dump_before_an_upgrade_is_pg_dumps_and_goes_back_with_pg_restore(
    where: str, server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = _older(server, tmp_path)
    programs = Path(server.run("SELECT setting FROM pg_config WHERE name = 'BINDIR'"))
    assert (programs / "pg_restore").exists(), "PostgreSQL's own programs come with the server of the tests"
    monkeypatch.setenv("PATH", str(programs))
    with closing(open_database(address)) as database:
        told, now = database.told, contents(database)
    (kept,) = data_folder().glob("*.dump")
    assert str(kept) in told and kept.stat().st_mode & 0o077 == 0
    server.drop(NAME)
    said = server.fresh(NAME, None)
    command = ["pg_restore", "--exit-on-error", "--no-owner", f"--dbname={said}", str(kept)]
    subprocess.run(command, check=True, capture_output=True, env={**os.environ, "PATH": str(programs)})
    found = examine(said)
    assert found is not None and found.revision == known_revisions()[-2]
    bring_up(as_url(said))
    with closing(open_database(said)) as database:
        assert contents(database) == now

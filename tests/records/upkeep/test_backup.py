"""Backups are whole, private and put back without losing what stood there."""

import sqlite3
import stat
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import func, select, text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.parts.tables import Part
from fleetbench.records.upkeep import backup as backup_module
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import journal_head, verify
from tests.records.few_rows import write_few_rows


def parts_in(database: Database) -> int:
    with database.reading() as connection:
        return connection.scalar(select(func.count()).select_from(Part)) or 0


@pytest.fixture
def saved(sqlite_database: Database, tmp_path: Path) -> Path:
    """A backup of a few rows, taken while the database is open."""
    write_few_rows(sqlite_database)
    return backup(sqlite_database, tmp_path / "saved.db").path


def test_a_backup_holds_everything_and_says_the_journals_head(sqlite_database: Database, tmp_path: Path) -> None:
    write_few_rows(sqlite_database)
    made = backup(sqlite_database, tmp_path / "saved.db")
    assert made.head == journal_head(sqlite_database)
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    copy = open_database(made.path)
    assert verify(copy, made.head).whole
    assert parts_in(copy) == 10
    copy.close()


def test_a_backup_is_taken_while_somebody_writes(sqlite_database: Database, tmp_path: Path) -> None:
    write_few_rows(sqlite_database)
    with sqlite_database.writing() as session:
        session.execute(text("UPDATE owner SET name = 'half done'"))
        made = backup(sqlite_database, tmp_path / "saved.db")
    copy = open_database(made.path)
    assert verify(copy).whole
    copy.close()


def test_a_backup_never_takes_the_place_of_a_file(sqlite_database: Database, tmp_path: Path) -> None:
    (tmp_path / "saved.db").write_text("a letter")
    with pytest.raises(Refused, match="exists already"):
        backup(sqlite_database, tmp_path / "saved.db")
    assert (tmp_path / "saved.db").read_text() == "a letter"


def test_a_failed_backup_leaves_nothing(
    sqlite_database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def torn(_path: Path) -> None:
        raise Unreadable("database: torn")

    monkeypatch.setattr(backup_module, "_refuse_torn", torn)
    with pytest.raises(Unreadable):
        backup(sqlite_database, tmp_path / "saved.db")
    with pytest.raises(Unreadable, match="cannot be written"):
        backup(sqlite_database, tmp_path / "no such folder" / "saved.db")
    assert [path.name for path in tmp_path.iterdir() if "saved" in path.name] == []


def test_a_server_is_backed_up_by_its_own_tools(server_database: Database, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="pg_dump"):
        backup(server_database, tmp_path / "saved.db")


def test_a_restored_backup_is_what_was_saved_and_the_other_is_kept(
    sqlite_database: Database, saved: Path, tmp_path: Path
) -> None:
    with sqlite_database.engine.begin() as connection:
        connection.execute(text("DELETE FROM fitting"))
    path = sqlite_database.path
    assert path is not None
    sqlite_database.close()
    restore(saved, path, clock=lambda: datetime(2026, 5, 4, 8, tzinfo=UTC))
    again = open_database(path)
    assert verify(again).whole
    again.close()
    aside = path.with_name(f"{path.name}.20260504T080000Z.replaced")
    with closing(sqlite3.connect(aside)) as connection:
        assert connection.execute("SELECT count(*) FROM fitting").fetchone() == (0,)
        assert connection.execute("SELECT count(*) FROM part").fetchone() == (10,)


def test_a_backup_is_restored_where_nothing_stood_and_over_a_torn_file(saved: Path, tmp_path: Path) -> None:
    fresh, torn = tmp_path / "fresh.db", tmp_path / "torn.db"
    whole = saved.read_bytes()
    torn.write_bytes(whole[: len(whole) // 2])
    for place in (fresh, torn):
        restore(saved, place)
        database = open_database(place)
        assert verify(database).whole
        database.close()


def test_a_database_that_somebody_has_open_is_not_replaced(sqlite_database: Database, saved: Path) -> None:
    path = sqlite_database.path
    assert path is not None
    with sqlite_database.reading() as connection:
        connection.execute(select(Part.id)).all()
        with pytest.raises(Unreadable, match="busy"):
            restore(saved, path)
    assert parts_in(sqlite_database) == 10


def test_a_torn_backup_is_refused_and_nothing_changes(sqlite_database: Database, saved: Path) -> None:
    whole = saved.read_bytes()
    saved.write_bytes(whole[: len(whole) // 2])
    _refused(sqlite_database, saved, "torn")
    saved.write_bytes(whole[:5000] + b"\xff" * 9000 + whole[14000:])
    _refused(sqlite_database, saved, "torn|malformed")


def test_a_foreign_or_newer_or_empty_backup_is_refused_and_nothing_changes(
    sqlite_database: Database, saved: Path, tmp_path: Path
) -> None:
    foreign = tmp_path / "letter.db"
    foreign.write_text("a letter")
    _refused(sqlite_database, foreign, "not a fleetbench database")
    empty = tmp_path / "nothing.db"
    empty.touch()
    _refused(sqlite_database, empty, "holds no fleetbench database")
    with closing(sqlite3.connect(saved)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    _refused(sqlite_database, saved, "newer than this program's")


def test_a_foreign_file_is_not_overwritten_by_a_backup(saved: Path, tmp_path: Path) -> None:
    foreign = tmp_path / "letter.db"
    foreign.write_text("a letter")
    with pytest.raises(Unreadable, match="not a fleetbench database"):
        restore(saved, foreign)
    assert foreign.read_text() == "a letter"
    with pytest.raises(Refused, match="one file"):
        restore(saved, saved)


def _refused(database: Database, source: Path, said: str) -> None:
    path = database.path
    assert path is not None
    before, beside = path.read_bytes(), sorted(path.parent.iterdir())
    with pytest.raises(Unreadable, match=said):
        restore(source, path)
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == beside

"""Backups are whole, private and put back without losing what stood there."""

import gzip
import random
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import func, select, text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.transaction import transaction
from fleetbench.records.parts.tables import Part
from fleetbench.records.people.retention import erase_within
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.upkeep import backup as backup_module
from fleetbench.records.upkeep.backup import backup, damage, restore
from fleetbench.records.upkeep.erasure import clear_traces, note_erasure
from fleetbench.records.upkeep.migrate import open_database, opened_to_read
from fleetbench.records.upkeep.verify import journal_head, verify
from tests.faults.table import forked
from tests.records.few_rows import AT, write_few_rows


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
    _refused(sqlite_database, empty, "is empty, no byte is in it")
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


def _refused(database: Database, source: Path, said: str, kind: type[Refused] = Unreadable) -> None:
    path = database.path
    assert path is not None
    before, beside = path.read_bytes(), sorted(path.parent.iterdir())
    with pytest.raises(kind, match=said):
        restore(source, path)
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == beside


def test_a_full_disk_in_a_restore_leaves_the_database_in_its_place(
    sqlite_database: Database, saved: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = sqlite_database.path
    assert path is not None
    sqlite_database.close()

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(backup_module, "copy_database", full)
    with pytest.raises(Unreadable, match="disk is full"):
        restore(saved, path)
    again = open_database(path, create=False)
    assert parts_in(again) == 10
    again.close()
    assert sorted(each.name for each in path.parent.iterdir()) == ["fleet.db", "saved.db"]


def test_a_restore_killed_at_any_moment_leaves_a_whole_database(saved: Path, tmp_path: Path) -> None:
    chance, where = random.Random(11), tmp_path / "place" / "fleet.db"
    where.parent.mkdir()
    restore(saved, where)
    for _ in range(12):
        forked(lambda _say: restore(saved, where), after=chance.random() * 0.5)
        database = open_database(where, create=False)
        assert verify(database).whole and parts_in(database) == 10
        assert not list(where.parent.glob("*.restoring*"))
        database.close()


def test_what_a_killed_restore_left_is_told_in_one_sentence(saved: Path, tmp_path: Path) -> None:
    where = tmp_path / "place" / "fleet.db"
    where.parent.mkdir()
    restore(saved, where)
    where.with_name("fleet.db.restoring").write_bytes(b"half")
    database = open_database(where)
    assert database.told.startswith("A restore was interrupted before it replaced anything")
    database.close()
    assert [each.name for each in where.parent.iterdir()] == ["fleet.db"]


def test_a_backup_whose_records_do_not_fit_its_journal_is_refused_before_anything_moves(
    sqlite_database: Database, saved: Path
) -> None:
    with closing(sqlite3.connect(saved)) as connection, connection:
        connection.execute("UPDATE part SET price = 1.5 WHERE id = 3")
    _refused(sqlite_database, saved, "do not fit their journal: part row 3: price", Refused)
    path = sqlite_database.path
    assert path is not None
    sqlite_database.close()
    restore(saved, path, with_breaks=True)
    again = open_database(path)
    assert "part row 3" in str(verify(again).first_break)
    again.close()


def test_a_link_to_a_database_stays_a_link(sqlite_database: Database, saved: Path, tmp_path: Path) -> None:
    path = sqlite_database.path
    assert path is not None
    sqlite_database.close()
    link = tmp_path / "link.db"
    link.symlink_to(path)
    restore(saved, link)
    assert link.is_symlink() and link.resolve() == path.resolve()


def test_two_restores_in_one_second_keep_both_that_stood_there(saved: Path, tmp_path: Path) -> None:
    where = tmp_path / "fresh.db"
    for _ in range(3):
        restore(saved, where, clock=lambda: datetime(2026, 5, 4, 8, tzinfo=UTC))
    assert len(list(tmp_path.glob("fresh.db.*.replaced"))) == 2


def test_a_zero_length_file_is_no_database(tmp_path: Path) -> None:
    path = tmp_path / "fleet.db"
    path.touch()
    for open_it in (open_database, lambda path: open_database(path, create=False)):
        with pytest.raises(Unreadable, match="is empty, no byte is in it"):
            open_it(path)
    assert path.stat().st_size == 0


def test_a_file_left_in_the_middle_of_a_change_is_healed(saved: Path, tmp_path: Path) -> None:
    """A rollback journal that is still hot: plain SQLite takes it back on opening, and so does the program."""
    code = (
        "import os, sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None);"
        "c.execute('PRAGMA cache_size = 1'); c.execute('PRAGMA cache_spill = 1'); c.execute('BEGIN');"
        'c.execute("UPDATE part SET supplier = hex(zeroblob(9000))"); os._exit(0)'
    )
    subprocess.run([sys.executable, "-c", code, str(saved)], check=True)
    assert saved.with_name("saved.db-journal").stat().st_size > 0
    database = open_database(saved, create=False)
    assert verify(database).whole
    database.close()


def test_looking_at_a_backup_changes_no_byte_of_it_nor_beside_it(saved: Path, tmp_path: Path) -> None:
    place = tmp_path / "kept"
    place.mkdir()
    copy = saved.rename(place / "saved.db")
    copy.chmod(0o400)
    before = copy.read_bytes()
    with opened_to_read(copy) as database:
        assert verify(database).whole
    database = open_database(copy, create=False)
    assert parts_in(database) == 10
    assert database.told.startswith("The records can be looked at and nothing can be recorded")
    with pytest.raises(Unreadable, match="read-only"), database.writing() as session:
        session.execute(text("UPDATE owner SET name = 'x'"))
    database.close()
    restore(copy, tmp_path / "back.db")
    assert copy.read_bytes() == before
    assert [each.name for each in place.iterdir()] == ["saved.db"]


def test_whom_the_centre_erased_a_restore_erases_again(sqlite_database: Database, saved: Path, tmp_path: Path) -> None:
    path = sqlite_database.path
    assert path is not None
    with transaction(sqlite_database, lambda: AT, None, "erase person", "person 1") as act:
        person = act.get(Person, 1, "person")
        erase_within(act, person)
        code = person.code
    note_erasure(sqlite_database, 1, code, AT)
    sqlite_database.close()
    path.unlink()  # the present one is lost, and the list beside it is left, its first line cut short
    listed = path.with_name(f"{path.name}.erased")
    listed.write_bytes(b'{"person": 7, "co\n' + listed.read_bytes())
    made = restore(saved, path)
    assert made.erased == (code,)
    again = open_database(path)
    with again.reading() as connection:
        assert connection.scalar(select(func.count()).select_from(PersonPrivate)) == 0
    assert verify(again).whole
    again.close()


def test_whom_an_older_backup_brings_back_is_erased_again_after_it_was_brought_up(
    sqlite_database: Database, tmp_path: Path
) -> None:
    older = tmp_path / "older.sqlite"
    older.write_bytes(gzip.decompress((Path(__file__).parents[1] / "schemas" / "0030.db.gz").read_bytes()))
    assert sqlite_database.path is not None
    write_few_rows(sqlite_database)
    with transaction(sqlite_database, lambda: AT, None, "erase person", "person 1") as act:
        erase_within(act, act.session.get_one(Person, 1))
    place = sqlite_database.path
    sqlite_database.close()
    made = restore(older, place)
    assert made.erased == ("T1",)
    with closing(open_database(place)) as again, again.reading() as connection:
        assert not connection.scalar(select(func.count()).select_from(PersonPrivate))
        assert again.upgraded  # what is kept beside the records is calculated at this start
        assert verify(again).whole


def test_what_was_erased_is_in_no_page_of_the_file(sqlite_database: Database) -> None:
    path = sqlite_database.path
    assert path is not None
    write_few_rows(sqlite_database)
    with sqlite_database.reading() as connection:
        name = connection.scalar(select(PersonPrivate.name).limit(1))
        assert connection.exec_driver_sql("PRAGMA secure_delete").scalar() == 1
    with transaction(sqlite_database, lambda: AT, None, "erase person", "person 1") as act:
        erase_within(act, act.get(Person, 1, "person"))
    note_erasure(sqlite_database, 1, "T1", AT)
    clear_traces(sqlite_database, 1, "T1", ())
    assert name is not None
    held = [each for each in path.parent.iterdir() if each.name.startswith(path.name)]
    assert [each.name for each in held if name.encode() in each.read_bytes()] == []


def test_a_damaged_page_of_the_live_file_is_told_with_the_last_sound_copy(
    sqlite_database: Database, saved: Path, tmp_path: Path
) -> None:
    path, torn = sqlite_database.path, tmp_path / "torn.db"
    assert path is not None
    assert damage(sqlite_database, [saved]) == ""
    sqlite_database.close()
    whole = path.read_bytes()
    path.write_bytes(whole[:8192] + b"\xff" * 8192 + whole[16384:])
    torn.write_bytes(saved.read_bytes()[:9000])
    said = damage(sqlite_database, [torn, saved])
    assert said.startswith("A page of the database file is damaged") and str(saved) in said and "\n" not in said
    assert damage(sqlite_database, [torn]).endswith("no sound copy was found beside it.")

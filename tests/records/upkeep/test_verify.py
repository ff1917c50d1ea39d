"""A walk over chain and rows finds every byte that was changed behind the journal's back."""

import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal, canonical_text, entry_hash
from fleetbench.records.core.transaction import last_entry, transaction
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import journal_head, verify
from tests.records.few_rows import AT, write_few_rows

TAMPERINGS = 100


@pytest.fixture
def filled(database: Database) -> Database:
    """A few invented rows on either database."""
    write_few_rows(database)
    return database


@pytest.fixture(scope="module")
def filled_file(empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same rows in a closed SQLite file."""
    path = tmp_path_factory.mktemp("verify") / "filled.db"
    database = open_database(shutil.copy(empty_file, path))
    write_few_rows(database)
    database.close()
    return path


@pytest.fixture
def tampered(filled_file: Path, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A bare connection to a copy of the filled file, on which rows can be changed behind the journal's back."""
    path = shutil.copy(filled_file, tmp_path / "tampered.db")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        yield connection


def found(path: Path) -> str | None:
    database = open_database(path)
    try:
        return verify(database).first_break
    finally:
        database.close()


def test_an_untouched_journal_is_whole(filled: Database) -> None:
    report = verify(filled)
    assert report.first_break is None
    assert (report.entries, report.head_number) == (15, 15)


def test_the_same_acts_hash_alike_on_both_databases(
    sqlite_database: Database, server_database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleetbench.records.core.schema.token_hex", "00".__mul__)  # a salt differs at every writing
    for database in (sqlite_database, server_database):
        write_few_rows(database)
    assert verify(sqlite_database).head_hash == verify(server_database).head_hash


def test_a_database_without_entries_is_whole(database: Database) -> None:
    report = verify(database)
    assert (report.entries, report.head_hash, report.first_break) == (0, None, None)
    assert journal_head(database) is None


def test_the_printed_head_is_looked_for(filled: Database) -> None:
    head = journal_head(filled)
    assert head is not None
    number, digest = head.split(":")
    assert verify(filled, head).whole
    assert verify(filled, digest).whole
    assert verify(filled, f"{number}:{digest[:16]}").whole
    assert "not the printed" in str(verify(filled, f"{number}:{'0' * 64}").first_break)
    assert "dropped" in str(verify(filled, f"16:{digest}").first_break)
    with pytest.raises(Refused, match="16 digits or more"):
        verify(filled, "entry 7")


def test_a_dropped_last_entry_is_seen_only_by_the_printed_head(filled: Database) -> None:
    with transaction(filled, lambda: AT, None, "note", "nothing kept") as act:
        act.add(Person(code="T9", role="technician", erased_at=None))
    head = journal_head(filled)
    with filled.engine.begin() as connection:
        connection.execute(text("DELETE FROM person WHERE code = 'T9'"))
        connection.execute(text("DELETE FROM journal WHERE id = 16"))
    assert verify(filled).whole
    assert "dropped" in str(verify(filled, head).first_break)


def test_erasing_a_person_breaks_nothing(filled: Database) -> None:
    with transaction(filled, lambda: AT, None, "erase person", "T1") as act:
        act.change(act.get(Person, 1, "person"), erased_at=AT)
        act.erase(PersonPrivate, PersonPrivate.person_id == 1)
    report = verify(filled)
    assert report.whole
    assert report.notes == ("entry 16 (T1): erased on 2026-05-04 by the program: 1 of person_private",)


def test_only_what_is_erasable_can_be_deleted(filled: Database) -> None:
    with (
        pytest.raises(TypeError, match="is history"),
        transaction(filled, lambda: AT, None, "erase person", "T1") as act,
    ):
        act.erase(Person, Person.id == 1)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE part SET price = 12.5 WHERE id = 3", "part row 3: price is 12.5, the journal says 14.25"),
        ("UPDATE part SET made_precision = 'day' WHERE id = 3", "part row 3: made_precision"),
        ("UPDATE unit SET tag = 'U01' WHERE id = 1", "unit row 1: tag is 'U01', the journal says 'U-01'"),
        ("UPDATE fitting SET last_good_day = '2027-12-31'", "fitting row 1: last_good_day"),
        ("UPDATE fitting SET removed_at = '2026-05-05 00:00:00.000000'", "fitting row 1: removed_at"),
        ("DELETE FROM fitting", "fitting row 1: the journal holds it, the table does not"),
        ("INSERT INTO owner (id, name, kind) VALUES (2, 'x', 'centre')", "owner row 2: no journal entry made it"),
        ("UPDATE journal SET content = replace(content, '14.25', '14.26') WHERE id = 5", "entry 5"),
        ("UPDATE journal SET act = 'give back' WHERE id = 5", "entry 5"),
        ("UPDATE journal SET person_id = NULL WHERE id = 5", "entry 5"),
        ("DELETE FROM journal WHERE id = 5", "entry 5 is missing"),
    ],
)
def test_a_change_behind_the_journals_back_is_named(filled: Database, statement: str, said: str) -> None:
    with filled.engine.begin() as connection:
        if not filled.is_sqlite:
            connection.execute(text("SET session_replication_role = replica"))
        else:
            connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        connection.execute(text(statement))
    report = verify(filled)
    assert said in str(report.first_break)


def test_a_dangling_row_on_a_server_is_named(server_database: Database) -> None:
    write_few_rows(server_database)
    with server_database.engine.begin() as connection:
        connection.execute(text("SET session_replication_role = replica"))
        connection.execute(text("UPDATE person_private SET person_id = 77"))
    assert "person_private row 1: person_id 77 is not in person" in verify(server_database).breaks


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE unit_type SET first_stage_blocked = 2", "first_stage_blocked is 2, the journal says 0"),
        ("UPDATE part SET made_on = made_on || 'x' WHERE id = 2", "part row 2: made_on"),
        ("UPDATE part SET received_on = '' WHERE id = 2", "part row 2: received_on"),
        ("UPDATE journal SET at = 'yesterday' WHERE id = 4", "entry 4: its time 'yesterday' is not a moment"),
        ("UPDATE person_private SET person_id = 77", "person_private row 1: is not what entry 1 binds"),
        ("UPDATE part SET serial = CAST(x'ff41' AS TEXT) WHERE id = 2", "cannot be read"),
    ],
)
def test_what_only_a_loosely_typed_file_can_hold_is_named(
    tampered: sqlite3.Connection, tmp_path: Path, statement: str, said: str
) -> None:
    tampered.execute(statement)
    assert said in str(found(tmp_path / "tampered.db"))


def test_random_tampering_with_any_value_of_any_row_is_found(tampered: sqlite3.Connection, tmp_path: Path) -> None:
    chance = random.Random(20260504)
    cells = _cells(tampered)
    unseen, changed = [], 0
    for _ in range(TAMPERINGS):
        table, key, column, value = chance.choice(cells)
        tampered.execute(f'UPDATE OR IGNORE "{table}" SET "{column}" = ? WHERE id = ?', (_other(value, chance), key))
        now = tampered.execute(f'SELECT "{column}" FROM "{table}" WHERE id = ?', (key,)).fetchone()[0]
        if (type(now), now) == (type(value), value):
            continue  # a rule of the database itself refused it
        changed += 1
        if found(tmp_path / "tampered.db") is None:
            unseen.append((table, key, column))
        tampered.execute(f'UPDATE "{table}" SET "{column}" = ? WHERE id = ?', (value, key))
    assert unseen == []
    assert changed > TAMPERINGS * 0.9
    assert found(tmp_path / "tampered.db") is None


def test_a_flipped_byte_in_the_file_is_found_or_lies_outside_every_row(filled_file: Path, tmp_path: Path) -> None:
    chance = random.Random(7)
    whole = filled_file.read_bytes()
    rows = _dump(filled_file)
    for turn in range(25):
        path = tmp_path / f"flipped{turn}.db"
        place = chance.randrange(100, len(whole))
        path.write_bytes(whole[:place] + bytes([whole[place] ^ (1 << chance.randrange(8))]) + whole[place + 1 :])
        try:
            broken = found(path) is not None
        except Refused:
            broken = True
        assert broken or _dump(path) == rows


def _cells(connection: sqlite3.Connection) -> list[tuple[str, int, str, object]]:
    cells = []
    for (table,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        if table == "alembic_version":
            continue
        rows = connection.execute(f'SELECT * FROM "{table}"')
        names = [each[0] for each in rows.description]
        cells += [
            (table, row[0], name, value) for row in rows for name, value in zip(names, row, strict=True) if name != "id"
        ]
    return cells


def _other(value: object, chance: random.Random) -> object:
    if isinstance(value, int | float):
        return value + chance.choice((1, -1, 0.5, 1e-9 * max(abs(value), 1)))
    if isinstance(value, str) and value:
        place = chance.randrange(len(value))
        return value[:place] + chr(ord(value[place]) ^ 1) + value[place + 1 :]
    return chance.choice((0, 1, "x", "2026-01-01", 0.0))


def _dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
        return [line for line in connection.iterdump() if line.startswith("INSERT INTO")]


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("CREATE TABLE extra (id INTEGER)", "extra"),
        ("CREATE VIEW shown AS SELECT * FROM part", "view shown: is not of this program"),
        ("ALTER TABLE part ADD COLUMN colour VARCHAR(9)", "part"),
        ("DROP INDEX ix_journal_subject", "index ix_journal_subject"),
        ("CREATE UNIQUE INDEX narrow ON part (price)", "index narrow"),
        ("INSERT INTO alembic_version VALUES ('0003')", "alembic_version: says 0003, "),
    ],
)
def test_what_is_planted_in_the_tables_themselves_is_named(database: Database, statement: str, said: str) -> None:
    write_few_rows(database)
    assert verify(database).whole
    with database.engine.begin() as connection:
        connection.execute(text(statement))
    assert any(said in each for each in verify(database).breaks)
    if not database.is_sqlite and (undo := UNDONE.get(statement)):
        with database.engine.begin() as connection:  # the next test gets the same server database
            connection.execute(text(undo))


UNDONE = {
    "ALTER TABLE part ADD COLUMN colour VARCHAR(9)": "ALTER TABLE part DROP COLUMN colour",
    "INSERT INTO alembic_version VALUES ('0003')": "DELETE FROM alembic_version WHERE version_num = '0003'",
}


def test_what_only_a_server_can_hide_in_its_tables_is_named(server: Any) -> None:
    database = open_database(server.fresh("planted"))
    assert verify(database).breaks == ()
    with database.engine.begin() as connection:
        for statement in (
            "ALTER TABLE person DROP CONSTRAINT ck_person_role_word",
            "ALTER TABLE person ADD CONSTRAINT ck_person_role_word CHECK (role <> 'x')",
            "ALTER TABLE journal ALTER COLUMN subject TYPE varchar(40)",
            "ALTER TABLE part ALTER COLUMN price SET DEFAULT 3",
            "ALTER TABLE part DISABLE TRIGGER ALL",
            "ALTER TABLE unit ALTER COLUMN tag DROP NOT NULL",
            "CREATE TABLE nothing ()",
            "CREATE RULE quiet AS ON DELETE TO hold DO INSTEAD NOTHING",
            "CREATE MATERIALIZED VIEW kept AS SELECT * FROM person_private",
            "CREATE SEQUENCE counted",
        ):
            connection.execute(text(statement))
    found = verify(database).breaks
    database.close()
    server.drop("planted")
    for each in (
        "check ck_person_role_word of table person: is not as this program makes it",
        "column subject of table journal: is not as this program makes it",
        "column price of table part: is not as this program makes it",
        "disabled check of keys part: is not of this program",
        "column tag of table unit: is not as this program makes it",
        "table nothing: is not of this program",
        "rule quiet: is not of this program",
        "view kept: is not of this program",
        "sequence or foreign table counted: is not of this program",
    ):
        assert each in found, each


def test_a_table_whose_name_looks_like_sqlites_own_is_named(tampered: sqlite3.Connection, tmp_path: Path) -> None:
    tampered.execute("CREATE TABLE sqlitex (id INTEGER)")
    assert found(tmp_path / "tampered.db") == "table sqlitex: is not of this program"


def test_an_entry_that_writes_nothing_or_what_never_was_is_named(filled: Database) -> None:
    for rows in ([], [["part", 3, {"colour": "red"}]], [["part", 3, {"price": 14.25}]]):
        _append(filled, {"rows": rows})
    report = verify(filled)
    assert report.breaks == (
        "entry 16 (note): writes nothing, which no act does",
        "entry 17: it speaks of part.colour, which never was a column",
    )
    assert report.notes == ("entry 18 (note): what it writes stood there before",)


def _append(database: Database, content: object) -> None:
    """A forged entry whose hash is right."""
    with database.writing() as session:
        last = last_entry(session)
        row = (last.number + 1, AT, None, "note", "x", canonical_text(content), last.hash)
        names = ("id", "at", "person_id", "act", "subject", "content", "previous")
        session.add(Journal(**dict(zip(names, row, strict=True)), hash=entry_hash(*row)))
        session.commit()


def test_a_planted_trigger_and_an_altered_check_are_named(tampered: sqlite3.Connection, tmp_path: Path) -> None:
    tampered.execute("CREATE TRIGGER easy AFTER UPDATE ON person_pin BEGIN UPDATE person_pin SET tries = 0; END")
    tampered.execute("PRAGMA writable_schema = ON")
    tampered.execute("UPDATE sqlite_master SET sql = replace(sql, 'technician', 'anyone') WHERE name = 'person'")
    tampered.execute("PRAGMA writable_schema = OFF")
    database = Database(tmp_path / "tampered.db")
    breaks = verify(database).breaks
    database.close()
    assert "trigger easy: is not of this program" in breaks
    assert "table person: its columns or checks are not those of this program" in breaks


def test_verify_goes_on_after_the_first_break_and_lists_them_all(filled: Database) -> None:
    with filled.engine.begin() as connection:
        connection.execute(text("UPDATE part SET price = 12.5 WHERE id = 3"))
        connection.execute(text("UPDATE unit SET tag = 'U01' WHERE id = 1"))
        connection.execute(text("UPDATE journal SET act = 'give back' WHERE id = 5"))
    found = " ".join(verify(filled).breaks)
    for each in ("part row 3: price", "unit row 1: tag", "entry 5"):
        assert each in found


def test_a_head_that_trial_could_meet_is_refused(filled: Database) -> None:
    head = journal_head(filled)
    assert head is not None
    number, digest = head.split(":")
    with pytest.raises(Refused, match="16 digits or more"):
        verify(filled, f"{number}:{digest[:15]}")
    assert verify(filled, f"{number}:{digest[:16]}").notes == ()

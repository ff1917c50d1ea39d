"""Opening and migrating: empty, filled, older, newer and foreign databases on both kinds."""

import gzip
import secrets
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import make_url, select, text

from fleetbench.records.core.database import Database, as_url, calculated
from fleetbench.records.core.errors import Unreadable
from fleetbench.records.places.tables import Owner
from fleetbench.records.upkeep import backup as backup_module
from fleetbench.records.upkeep import migrate
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import verify
from fleetbench.settings import data_folder
from fleetbench.shipped import shipped
from tests.conftest import TEMPLATE, Server
from tests.records.every_table import fill_every_table, rows_of_every_table
from tests.records.keep_schema import in_order, scripts
from tests.round_trip import contents

SCHEMAS = Path(__file__).parents[1] / "schemas"
KEPT = sorted(SCHEMAS.glob("*.db.gz"))


@pytest.fixture(params=KEPT, ids=lambda path: path.name[:4])
def kept_file(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A real file as an earlier release left it, with rows in it."""
    path = tmp_path / "kept.db"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    return path


@pytest.fixture
def pretend_newer_program(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """A program that knows one revision more, which adds a column and fills it."""
    folder = tmp_path / "alembic"
    (folder / "versions").mkdir(parents=True)
    for path in [*shipped("alembic").glob("*.*"), *shipped("alembic").glob("versions/*.py")]:
        (folder / path.relative_to(shipped("alembic"))).write_bytes(path.read_bytes())
    last = migrate.head_revision()
    (folder / "versions" / "9998_pretend.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision, down_revision, branch_labels, depends_on = '9998', '{last}', None, None\n"
        "def upgrade():\n"
        "    with op.batch_alter_table('owner', recreate='auto') as batch:\n"
        "        batch.add_column(sa.Column('colour', sa.String(10), nullable=False, server_default='blue'))\n"
        "        batch.alter_column('name', type_=sa.String(150))\n"
    )
    monkeypatch.setattr(migrate, "shipped", lambda name: folder)
    migrate.known_revisions.cache_clear()
    yield
    migrate.known_revisions.cache_clear()


def test_migrated_tables_are_the_tables_the_program_knows(database: Database) -> None:
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []


def test_every_migration_file_is_named_by_its_revision() -> None:
    scripts = ScriptDirectory.from_config(Config(toml_file=str(shipped("alembic").parent / "pyproject.toml")))
    assert tuple(sorted(each.revision for each in scripts.walk_revisions())) == migrate.known_revisions()
    assert scripts.get_current_head() == migrate.head_revision()


def test_a_file_of_every_released_revision_is_kept() -> None:
    assert tuple(path.name[:4] for path in KEPT) == migrate.known_revisions()


def test_an_earlier_file_is_brought_up_with_its_rows_and_verifies(kept_file: Path) -> None:
    with closing(sqlite3.connect(kept_file)) as connection:
        before = connection.execute("SELECT id, name FROM owner ORDER BY id").fetchall()
        (revision,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    database = migrate.open_database(kept_file)
    assert database.upgraded == (revision != migrate.head_revision())
    with database.reading() as connection:
        assert [tuple(row) for row in connection.execute(select(Owner.id, Owner.name).order_by(Owner.id))] == before
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == migrate.head_revision()
    assert before
    assert verify(database).first_break is None
    database.close()
    with closing(migrate.open_database(kept_file)) as again:  # the first start was killed before it calculated anything
        assert again.upgraded == (revision != migrate.head_revision())
        calculated(again)
    with closing(migrate.open_database(kept_file)) as again:
        assert not again.upgraded


@pytest.mark.usefixtures("pretend_newer_program")
def test_an_older_file_is_copied_before_it_is_migrated(sqlite_file_with_owner: Path) -> None:
    database = migrate.open_database(sqlite_file_with_owner, clock=lambda: datetime(2026, 5, 4, 7, tzinfo=UTC))
    with database.reading() as connection:
        assert connection.execute(text("SELECT name, colour FROM owner")).one() == ("the centre", "blue")
    database.close()
    (aside,) = sqlite_file_with_owner.parent.glob("*.backup")
    assert "20260504T070000Z" in aside.name
    assert stat.S_IMODE(aside.stat().st_mode) == 0o600
    with closing(sqlite3.connect(aside)) as connection:
        assert connection.execute("SELECT * FROM owner").fetchall() == [(1, None, "the centre", "centre")]


@pytest.fixture
def sqlite_file_with_owner(empty_file: Path, tmp_path: Path) -> Path:
    """A closed file of the current revision with one owner in it."""
    path = tmp_path / "own.db"
    path.write_bytes(empty_file.read_bytes())
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO owner (id, name, kind) VALUES (1, 'the centre', 'centre')")
    return path


@pytest.mark.usefixtures("pretend_newer_program")
def test_nothing_is_migrated_when_the_copy_fails(sqlite_file_with_owner: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise Unreadable("the disk is full; free some space, nothing was written")

    before = sqlite_file_with_owner.read_bytes()
    monkeypatch.setattr(backup_module, "copy_file", full)
    with pytest.raises(Unreadable, match="disk is full"):
        migrate.open_database(sqlite_file_with_owner)
    assert sqlite_file_with_owner.read_bytes() == before


@pytest.mark.usefixtures("pretend_newer_program")
def test_a_failed_migration_leaves_the_tables_as_they_were(sqlite_file_with_owner: Path) -> None:
    with closing(sqlite3.connect(sqlite_file_with_owner)) as connection, connection:
        connection.execute(
            "INSERT INTO part (id, part_type_id, made_precision, opened_precision, fixed_precision,"
            " owner_id, state, version) VALUES (1, 77, 'day', 'day', 'day', 1, 'stock', 1)"
        )
    with pytest.raises(Unreadable, match="part row 1 points at a missing part_type"):
        migrate.open_database(sqlite_file_with_owner)
    with closing(sqlite3.connect(sqlite_file_with_owner)) as connection:
        assert "colour" not in [row[1] for row in connection.execute("PRAGMA table_info(owner)")]
        revision = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    assert revision == (migrate.known_revisions()[-2],)


def test_a_server_database_is_brought_up_after_a_copy_of_it_was_kept_at_the_desk(
    server_database: Database, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("PATH", str(tmp_path))  # where no pg_dump is
    with server_database.engine.begin() as connection:
        connection.execute(text("INSERT INTO owner (id, name, kind) VALUES (1, 'the centre', 'centre')"))
    before = migrate.head_revision()
    request.getfixturevalue("pretend_newer_program")
    clock = partial(datetime, 2026, 5, 4, 7, tzinfo=UTC)
    for told in (True, False):  # the first start was killed before it calculated anything
        with closing(migrate.open_database(server_database.url, clock=clock)) as database:
            assert database.upgraded
            assert ("pg_dump is not installed" in database.told) == told
    with closing(migrate.open_database(server_database.url)) as database:
        calculated(database)
    with closing(migrate.open_database(server_database.url)) as database:
        assert not database.upgraded
    with server_database.reading() as connection:
        assert connection.execute(text("SELECT name, colour FROM owner")).one() == ("the centre", "blue")
    (copy,) = data_folder().iterdir()
    assert copy.name == f"{make_url(server_database.url).database}.{before}.20260504T070000Z.backup"
    with closing(sqlite3.connect(copy)) as kept:
        assert kept.execute("SELECT * FROM owner").fetchall() == [(1, None, "the centre", "centre")]
        assert kept.execute("SELECT version_num FROM alembic_version").fetchone() == (before,)


def test_a_newer_file_is_refused_and_stays_as_it_is(sqlite_file_with_owner: Path) -> None:
    with closing(sqlite3.connect(sqlite_file_with_owner)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    _refused_untouched(sqlite_file_with_owner, "newer than this program's")


def test_a_newer_server_database_is_refused(server_database: Database) -> None:
    with server_database.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(Unreadable, match="newer than this program's"):
        migrate.open_database(server_database.url)


def test_a_foreign_sqlite_file_is_refused_and_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "foreign.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE song (id INTEGER PRIMARY KEY, title TEXT)")
    _refused_untouched(path, "belongs to another program")


def test_a_foreign_file_with_our_mark_but_other_tables_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "marked.db"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("PRAGMA application_id = 0x666C6274")
        connection.execute("CREATE TABLE song (id INTEGER PRIMARY KEY, title TEXT)")
    _refused_untouched(path, "tables of another program")


@pytest.mark.parametrize("content", [b"unit,serial\nA1,77\n", b"SQLite format 3\x00", bytes(range(256)) * 20])
def test_a_file_that_is_no_database_is_refused_and_stays_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "sheet.csv"
    path.write_bytes(content)
    _refused_untouched(path, "not a fleetbench database")


def test_a_server_database_of_another_program_is_refused(server_database: Database) -> None:
    with server_database.engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
        connection.execute(text("CREATE TABLE song (id INTEGER PRIMARY KEY)"))
    with pytest.raises(Unreadable, match="tables of another program"):
        migrate.open_database(server_database.url)


def test_a_missing_file_is_made_owner_only_or_refused(tmp_path: Path) -> None:
    path = tmp_path / "new" / "fleet.db"
    with pytest.raises(Unreadable, match="none at"):
        migrate.open_database(path, create=False)
    assert not path.parent.exists()
    database = migrate.open_database(path)
    with database.writing() as session:
        session.execute(text("INSERT INTO owner (id, name, kind) VALUES (1, 'a', 'centre')"))
        session.commit()
        modes = {each.name: stat.S_IMODE(each.stat().st_mode) for each in path.parent.iterdir()}
    database.close()
    assert set(modes.values()) == {0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_file_killed_right_after_it_was_made_opens_as_empty(tmp_path: Path) -> None:
    path = tmp_path / "half.db"
    path.touch()
    migrate._mark_as_ours(path)
    assert migrate.examine(path) == migrate.FoundDatabase(migrate.DatabaseState.EMPTY, None)
    migrate.open_database(path).close()
    assert migrate.examine(path) == migrate.FoundDatabase(migrate.DatabaseState.CURRENT, migrate.head_revision())


def test_an_unreachable_server_is_one_clear_line() -> None:
    with pytest.raises(Unreadable, match="does not answer"):
        migrate.open_database("postgresql://nobody@127.0.0.1:9/nothing")


def test_an_address_of_another_kind_is_refused() -> None:
    with pytest.raises(Unreadable, match="postgresql://"):
        migrate.open_database("oddbase://nobody@127.0.0.1/nothing")


def test_a_current_database_is_opened_without_importing_alembic(sqlite_file_with_owner: Path) -> None:
    code = (
        "import sys; from fleetbench.records.upkeep.migrate import open_database; open_database(sys.argv[1]).close();"
        "print([name for name in ('alembic', 'pandas', 'scipy') if name in sys.modules])"
    )
    command = [sys.executable, "-c", code, str(sqlite_file_with_owner)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def _refused_untouched(path: Path, said: str) -> None:
    before, folder = path.read_bytes(), sorted(path.parent.iterdir())
    with pytest.raises(Unreadable, match=said) as refused:
        migrate.open_database(path)
    assert "\n" not in str(refused.value)
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == folder


DROPPED = {("0007", "person", "pin_hash")}
"""Columns that a migration takes away: what a PIN is checked by moved to a table of its own and is set anew."""

BOUND = ("0020", "journal")
"""One entry binds the names, notes and drawings that stood before they had salts."""


def test_every_step_keeps_every_row_of_every_table_and_ends_at_the_same_on_a_server_as_in_a_file(
    server: Server, tmp_path: Path, empty_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(secrets, "token_hex", lambda size: "5a" * size)  # a salt is drawn anew in each database
    path = tmp_path / "steps.db"
    ends = [_stepped(as_url(where)) for where in (path, server.fresh("fleetbench_steps", template=None))]
    assert [name for name in metadata.tables if not ends[0][name]] == []
    for end in ends:  # the entry of one migration holds the moment at which it ran
        end["journal"] = [(row[0], *row[3:6]) for row in end["journal"]]
    assert {name for name in ends[0] if ends[0][name] != ends[1][name]} == set()
    assert _dumped(server, "fleetbench_steps") == _dumped(server, TEMPLATE)
    server.drop("fleetbench_steps")
    assert _told(path) == _told(empty_file)


def _stepped(where: str) -> dict[str, list[tuple[Any, ...]]]:
    """What stands in a database at the end that was brought up step by step, every table filled at each."""
    before: dict[str, list[dict[str, Any]]] = {}
    for number, revision in enumerate(migrate.known_revisions(), 1):
        with migrate.writing_alone(where) as connection:
            migrate.upgrade(connection, revision)
            after = rows_of_every_table(connection)
            for table, rows in before.items():
                more = 1 if (revision, table) == BOUND else 0
                assert len(after[table]) == len(rows) + more, f"{revision}: {table}"
                for old, new in zip(rows, after[table], strict=False):
                    gone = {column for column in old if column not in new}
                    assert {(revision, table, column) for column in gone} <= DROPPED
                    assert {column: new[column] for column in old if column not in gone} == {
                        column: value for column, value in old.items() if column not in gone
                    }, f"{revision}: {table}"
            fill_every_table(connection, number)
            before = rows_of_every_table(connection)
    with closing(Database(where)) as database, database.reading() as connection:
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == migrate.head_revision()
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        assert before.keys() == metadata.tables.keys()
        return contents(database)


def _told(path: Path) -> list[str]:
    """Every statement that makes the tables of a file again."""
    with closing(sqlite3.connect(path)) as connection:
        return sorted(in_order(each) for each in connection.iterdump() if not each.startswith("INSERT"))


def _dumped(server: Server, name: str) -> list[str]:
    """What PostgreSQL's own pg_dump tells of the tables: columns in their order, checks, keys, indexes, owners, rights.

    The comment on the revision is left out: it notes what an upgrade leaves to be calculated.
    """
    folder = server.run("SELECT setting FROM pg_config WHERE name = 'BINDIR'")
    command = [Path(folder) / "pg_dump", "--schema-only", "--no-comments", server.url(name)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return [line for line in done.stdout.splitlines() if not line.startswith(("\\restrict", "\\unrestrict"))]


def test_the_scripts_of_a_new_database_are_what_the_migrations_end_at() -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in shipped("alembic").glob("newest.*")}
    assert kept == scripts(), "run python -m tests.records.keep_schema"

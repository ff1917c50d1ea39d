"""Copies of a server's tables: kept before they are brought up, by pg_dump or in a schema, and put back from one."""

import os
import shutil
import subprocess
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, inspect, make_url, select, text
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from fleetbench.records.core.database import VERSION_TABLE, Database, as_url, learn_sizes
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.plain_file import DUMP_MAGIC, put_in_place
from fleetbench.records.core.transaction import Transaction, last_entry
from fleetbench.records.people.retention import erase_within, pages_of
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.photographs import PDF, photograph_folder, remove_files
from fleetbench.records.upkeep.backup import Copied, building, no_doubt, restore, to_disk
from fleetbench.records.upkeep.migrate import KEPT, head_revision, known_revisions, upgrade, wall_clock, writing_alone
from fleetbench.records.upkeep.verify import head_of, verify_on


def keep_on_server(url: str, name: str, dumps: Path | None, connection: Connection) -> str:
    """Keep what is about to be brought up, and say where: a dump by pg_dump in that folder, else in a schema.

    name: of the schema, or of the dump without its ending. Acts of other desks wait meanwhile. Raises Unreadable where
    neither can be kept.
    """
    target = dumps / f"{name}.dump" if dumps is not None else None
    why = _dump(url, target) if target is not None else ""
    if target is not None and not why:
        return f"The tables on the server were brought up; a dump of what they were is {target}."
    if not connection.scalar(text("SELECT has_database_privilege(current_database(), 'CREATE')")):
        raise Unreadable(
            "database: its tables must be brought up, and this user may not keep a copy of them on the server"
            f"{why and f' ({why})'}; take a dump with pg_dump, then run 'fleetbench upgrade --dumped'"
        )
    connection.execute(text(f'CREATE SCHEMA "{name}"'))
    for table in inspect(connection).get_table_names():
        connection.execute(text(f'CREATE TABLE "{name}"."{table}" AS TABLE "{table}"'))
    return f"The tables on the server were brought up; what they were is kept there as {name}{why and f' ({why})'}."


DUMPED = ("--format=custom", "--no-password", f"--exclude-schema={KEPT}*", "--lock-wait-timeout=15s")


def _dump(url: str, target: Path) -> str:
    """Let pg_dump write everything into a new owner-only file; empty, or why there is none."""
    program = shutil.which("pg_dump")
    if program is None:
        return "no pg_dump is installed here"
    address = make_url(url).set(drivername="postgresql")
    secret = {"PGPASSWORD": address.password} if address.password else {}
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with building(part):
            where = address.set(password=None).render_as_string()  # what a command line holds, everybody can read
            done = subprocess.run(
                [program, *DUMPED, f"--file={part}", f"--dbname={where}"],
                env={**os.environ, **secret}, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
            )  # fmt: skip
            with part.open("rb") as file:
                is_dump = file.read(len(DUMP_MAGIC)) == DUMP_MAGIC
            if done.returncode or not is_dump:
                return f"pg_dump failed: {(done.stderr.splitlines() or ['no reason given'])[0]}"
            to_disk(part)
            put_in_place(part, target)
    except (OSError, Unreadable) as fault:
        return f"no dump could be written: {fault}"
    return ""


def copies_on_server(connection: Connection) -> list[str]:
    """Schemas in which older or replaced tables are kept, the oldest first."""
    return sorted(each for each in inspect(connection).get_schema_names() if each.startswith(KEPT))


def put_back(source: Path, where: str, *, clock: Callable[[], datetime], with_breaks: bool = False) -> Copied:
    """What `restore` or, with the name of a copy on a server, `restore_on_server` made of it."""
    if "://" in where:
        return restore_on_server(where, str(source), clock=clock, with_breaks=with_breaks)
    return restore(source, Path(where), clock=clock, with_breaks=with_breaks)


def restore_on_server(
    where: str, name: str, *, clock: Callable[[], datetime] = wall_clock, with_breaks: bool = False
) -> Copied:
    """The journal's head of a copy kept on the server after it became the records there, in one transaction.

    The present tables are kept in a schema of their own. The copy's are made by its own revision and filled, and what
    they are once brought up is verified, which is taken back. with_breaks: take it all the same. Raises Refused,
    with nothing changed, for a copy that is not there, is newer or torn, or does not verify.
    """
    url = as_url(where)
    stamp = f"{clock().astimezone(UTC):%Y%m%dT%H%M%SZ}".lower()
    with closing(Database(url)) as database, writing_alone(url) as connection:
        there = copies_on_server(connection)
        if name not in there:
            raise Refused(f"restore: the server keeps no copy {name}; it keeps {', '.join(there) or 'none'}")
        revision = _revision_of_copy(connection, name)
        gone = _erased_since(connection, name)
        kept = f"{KEPT}{stamp}_replaced"
        connection.execute(text(f'CREATE SCHEMA "{kept}"'))
        for table in inspect(connection).get_table_names():
            connection.execute(text(f'ALTER TABLE "{table}" SET SCHEMA "{kept}"'))
        upgrade(connection, revision)
        try:
            with keys_at_the_end(connection):
                for table in inspect(connection).get_table_names():
                    _refill(connection, table, name)
        except (IntegrityError, DataError) as fault:
            raise Refused(f"restore: {name} holds rows that its tables may not hold; use another copy") from fault
        number, digest = head_of(connection)
        trial = connection.begin_nested()
        upgrade(connection)
        report = verify_on(database, connection)
        trial.rollback()
        if report.breaks and not with_breaks:
            raise Refused(
                f"restore: the records in {name} do not fit their journal: {report.breaks[0]}; use another copy, or"
                " --with-breaks to take it as it is"
            )
        is_current = revision == head_revision()
        pages = _erase_there(connection, gone, clock()) if is_current else []
        learn_sizes(connection)
    if pages:
        remove_files(photograph_folder(None), pages, PDF)
    return Copied(name, number, digest, kept, gone if is_current else (), () if is_current else gone)


def _revision_of_copy(connection: Connection, name: str) -> str:
    whole = inspect(connection).has_table(VERSION_TABLE, schema=name)
    revision = connection.scalar(text(f'SELECT version_num FROM "{name}".{VERSION_TABLE}')) if whole else None
    if revision is None:
        raise Refused(f"restore: {name} holds no whole copy; use another")
    if revision not in known_revisions():
        raise Refused(f"restore: {name} is of revision {revision}, newer than this program; use the newer fleetbench")
    return str(revision)


def _refill(connection: Connection, table: str, name: str) -> None:
    """Fill a table from the copy of it and compare the two; Refused where it is not all there."""
    columns = {each["name"] for each in inspect(connection).get_columns(table)}
    if not inspect(connection).has_table(table, schema=name) or columns != {
        each["name"] for each in inspect(connection).get_columns(table, schema=name)
    }:
        raise Refused(f"restore: {name} lacks the table {table}, or columns of it; use another copy")
    listed = ", ".join(f'"{each}"' for each in sorted(columns))
    if table == VERSION_TABLE:
        return
    connection.execute(text(f'INSERT INTO "{table}" ({listed}) SELECT {listed} FROM "{name}"."{table}"'))


FOREIGN_KEYS = (
    "SELECT c.relname, k.conname FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid"
    " WHERE k.contype = 'f' AND c.relnamespace = current_schema()::regnamespace"
)


@contextmanager
def keys_at_the_end(connection: Connection) -> Iterator[None]:
    """Rows may stand before those that they point to; on a server keys are looked at when all are there."""
    keys = [] if connection.dialect.name == "sqlite" else connection.execute(text(FOREIGN_KEYS)).all()
    for table, key in keys:
        connection.execute(text(f'ALTER TABLE "{table}" ALTER CONSTRAINT "{key}" DEFERRABLE INITIALLY DEFERRED'))
    yield
    if keys:
        connection.execute(text("SET CONSTRAINTS ALL IMMEDIATE"))
    for table, key in keys:
        connection.execute(text(f'ALTER TABLE "{table}" ALTER CONSTRAINT "{key}" NOT DEFERRABLE'))


def _erased_since(connection: Connection, name: str) -> tuple[str, ...]:
    """Codes of people who were erased in the present records and not in the copy."""
    if not inspect(connection).has_table("person"):
        return ()
    asked = (
        f'SELECT p.code FROM person p JOIN "{name}".person c ON c.id = p.id AND c.code = p.code'
        " WHERE p.erased_at IS NOT NULL AND c.erased_at IS NULL ORDER BY p.code"
    )
    return tuple(connection.scalars(text(asked)))


def _erase_there(connection: Connection, codes: Iterable[str], at: datetime) -> list[str]:
    """Erase these people again, an act each; the digests of their signed pages, whose files are to go."""
    pages: list[str] = []
    with Session(connection, autoflush=False) as session:
        for person in session.scalars(select(Person).where(Person.code.in_(codes)).order_by(Person.code)):
            pages += pages_of(session, person.id)
            head = last_entry(session)
            act = Transaction(session, no_doubt(at, head.at), None, "erase person", f"person {person.id}")
            act.follow(head)
            erase_within(act, person)
            act.close_entry()
            session.flush()
    return pages

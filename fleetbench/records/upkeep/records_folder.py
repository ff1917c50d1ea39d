"""Everything that is recorded as a folder of open files, and such a folder as a new centre's records.

`tables/NAME.jsonl` holds a table, a row a line as JSON (RFC 8259, each line by jsonlines.org); `files` its photographs
and signed pages, named by their SHA-256; `manifest.json` what each file must be, the kind of every column, the
journal's head, and the exporting desk's signature (RFC 8032) over all of that. Rows, times, journal and signatures are
carried as they stand: nothing is judged or stamped again. One entry after them says where they came from.
"""

import hashlib
import json
import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import MetaData, Table, insert, inspect, make_url, select, text
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session
from sqlalchemy.types import TypeEngine

from fleetbench import __version__
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.wall_time import no_doubt
from fleetbench.records.core.database import VERSION_TABLE, WAITS, Database, as_url, is_waiting, learn_sizes
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal, canonical_text, moment_text
from fleetbench.records.core.plain_file import new_folder, plain_bytes, refuse_special
from fleetbench.records.core.schema import Figure, UtcTimestamp
from fleetbench.records.core.transaction import CARRIED_ACT, Transaction, last_entry
from fleetbench.records.tickets.photographs import JPEG, PDF, keep_file, photograph_folder, read_file
from fleetbench.records.upkeep.migrate import (
    examine,
    head_revision,
    known_revisions,
    laid_down,
    upgrade,
    writing_alone,
)
from fleetbench.records.upkeep.tables import Connection, Holds, holds, metadata
from fleetbench.records.upkeep.verify import head_of, verify_on
from fleetbench.records.upkeep.witness import desk_key, fingerprint, is_signed_by

FORMAT, FORMAT_VERSION = "fleetbench records", 1
MANIFEST, TABLES, FILES = "manifest.json", "tables", "files"
PURPOSE = b"records of a centre\n"
"""Stands before what is signed, so that no other use of the desk's key can be taken for an export."""

MOST_MANIFEST, MOST_LINE = 100_000_000, 500_000_000
"""Bytes of a manifest, and of one row; an import of a whole centre may stand in one entry of the journal."""

STEP = 2000
TYPES: dict[Holds, TypeEngine[Any]] = {Holds.MOMENT: UtcTimestamp(), Holds.FIGURE: Figure()}
"""How a column that a database tells of itself is read and written; any other as it says."""


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What a file of the folder must be: bytes and SHA-256; of a table also its rows, and the kind of each column."""

    bytes: int
    sha256: str
    rows: int = 0
    columns: dict[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the folder holds, when and by which desk and program it was exported, and the journal's head in it."""

    program: str
    revision: str
    at: str
    database: str
    entry: int
    hash: str
    tables: dict[str, FileFacts]
    files: dict[str, FileFacts]
    key: str
    format: str = FORMAT
    version: int = FORMAT_VERSION

    @property
    def desk(self) -> str:
        """The fingerprint of the exporting desk's key, as papers print it."""
        return fingerprint(bytes.fromhex(self.key))

    @property
    def lines(self) -> tuple[str, ...]:
        """What it holds, for the importer to compare."""
        rows, files = sum(each.rows for each in self.tables.values()), len(self.files)
        return (
            say(
                "{rows} rows of {count} tables, {files} photographs and signed pages",
                rows=rows,
                count=len(self.tables),
                files=files,
            ),
            say(
                "exported {at} UTC by program {program}, desk key {desk}",
                at=self.at[:16].replace("T", " "),
                program=self.program,
                desk=self.desk,
            ),
            say("journal entry {entry}, {hash}", entry=self.entry, hash=self.hash),
        )


def is_records_folder(folder: Path) -> bool:
    """Whether a folder has a manifest, so that it is records and no folder of a centre's own files."""
    return (folder / MANIFEST).exists()


def export_records(database: Database, folder: Path, *, desk: Path, at: datetime) -> Manifest:
    """Write everything into a new folder that its owner alone can read; the manifest, written last, says it is whole.

    desk: the folder of the desk's key. Raises Refused where the folder holds anything, where nothing is recorded, and
    for a photograph that is missing or was changed.
    """
    key = desk_key(desk)
    with new_folder(folder, "export") as target, database.reading() as connection:
        entry, digest = head_of(connection)
        if digest is None:
            raise Refused(say("export: nothing is recorded yet"))
        for each in (TABLES, FILES):
            (target / each).mkdir(mode=0o700)
        revision = str(connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}")))
        first = connection.scalar(select(Journal.hash).order_by(Journal.id).limit(1))
        there = _tables(connection, revision)
        tables = {table.name: _write_table(connection, table, target / TABLES) for table in there}
        files = dict(_write_files(connection, there, database, target / FILES))
        public = key.public_key().public_bytes_raw().hex()
        made = Manifest(
            __version__,
            revision=revision,
            at=moment_text(at),
            database=str(first),
            entry=entry,
            hash=digest,
            tables=tables,
            files=files,
            key=public,
        )
        signed = {**asdict(made), "signature": key.sign(_signed(asdict(made))).hex()}
        _write(target / MANIFEST, [json.dumps(signed, indent=1, sort_keys=True).encode()])
    return made


def import_records(folder: Path, where: str, *, clock: Callable[[], datetime]) -> Manifest:
    """Make the records of a folder those of a new or empty centre, in one transaction, and verify them within it.

    An older export is brought up as an older database is. An entry after the carried ones says where they came from.
    Raises Refused, with nothing written, where the centre holds anything, and for a folder that was changed.
    """
    manifest = read_manifest(folder)
    url = as_url(where)
    is_file = make_url(url).get_backend_name() == "sqlite"
    found = examine(where)
    with ExitStack() as building:
        name = str(make_url(url).database)
        place = str(building.enter_context(laid_down(Path(name)))) if is_file and found is None else where
        database = building.enter_context(closing(Database(place)))
        kept = building.enter_context(_files_kept(folder, manifest, database))
        with writing_alone(as_url(place)) as connection:
            _refuse_filled(connection)
            carry_rows(folder, manifest, connection, found.revision if found is not None else None)
            upgrade(connection)
            learn_sizes(connection)
            kept()
            _verified(connection, database, manifest)
            _say_whence(connection, manifest, clock())
    return manifest


def carry_rows(folder: Path, manifest: Manifest, connection: Connection, revision: str | None = None) -> None:
    """Fill empty tables, of that revision so far, with the rows of a folder, in the tables of its own revision."""
    make_tables(connection, manifest.revision, revision)
    with _keys_at_the_end(connection):
        for table in _tables(connection, manifest.revision):
            _fill(connection, table, folder, manifest)


def carry_tables(revision: str, source: Connection, target: Connection) -> None:
    """Fill empty tables with the rows of another database of the same revision, and note there what waits here."""
    into = {table.name: table for table in _tables(target, revision)}
    with _keys_at_the_end(target):
        for table in _tables(source, revision):
            rows = source.execute(select(table).order_by(table.c.id).execution_options(yield_per=STEP)).mappings()
            for some in rows.partitions():
                target.execute(insert(into[table.name]), [dict(row) for row in some])
    if is_waiting(source):
        target.execute(text(WAITS[target.dialect.name].format("1", "'calculate again'")))


def check_records(folder: Path) -> Manifest:
    """The manifest of a folder of which every file is what it says; Refused otherwise. Nothing is written."""
    manifest = read_manifest(folder)
    for name in manifest.tables:
        for _ in _rows(folder, name, manifest):
            pass
    for name in manifest.files:
        _file(folder, name, manifest)
    return manifest


def read_manifest(folder: Path) -> Manifest:
    """The manifest of a folder, its signature looked at and each file it names there, and no other."""
    try:
        said = json.loads(plain_bytes(folder / MANIFEST, MOST_MANIFEST, f"{folder.name}/{MANIFEST}"))
        signature = bytes.fromhex(said.pop("signature"))
        for name in (TABLES, FILES):
            said[name] = {each: FileFacts(**facts) for each, facts in said[name].items()}
        manifest = Manifest(**said)
        _refuse_strange(manifest)
        genuine = is_signed_by(manifest.key, signature, _signed(asdict(manifest)))
    except OSError as fault:
        raise Refused(
            say("{folder}: cannot be read ({strerror}); check the folder", folder=folder, strerror=fault.strerror)
        ) from fault
    except (ValueError, TypeError, KeyError, AttributeError) as fault:
        raise _changed(MANIFEST, say("is not a manifest of exported records")) from fault
    if not genuine:
        raise _changed(MANIFEST, say("does not fit its signature"))
    _refuse_other_files(folder, manifest)
    return manifest


def _refuse_strange(manifest: Manifest) -> None:
    if manifest.format != FORMAT or type(manifest.entry) is not int:
        raise ValueError("not records")
    if manifest.version != FORMAT_VERSION or manifest.revision not in known_revisions():
        raise Refused(
            say(
                "{manifest}: was written by program {program}, which is newer; use that one",
                manifest=MANIFEST,
                program=manifest.program,
            )
        )
    named = [*manifest.tables, *(Path(each).stem for each in manifest.files)]
    if not all(each.replace("_", "").isalnum() and each.isascii() for each in named):
        raise ValueError("not a name")
    if not all(Path(each).suffix in (JPEG, PDF) and Path(each).name == each for each in manifest.files):
        raise ValueError("not a photograph or page")
    datetime.fromisoformat(manifest.at)


def _refuse_other_files(folder: Path, manifest: Manifest) -> None:
    expected = {f"{TABLES}/{each}.jsonl" for each in manifest.tables} | {f"{FILES}/{each}" for each in manifest.files}
    there = {f"{each}/{path.name}" for each in (TABLES, FILES) for path in (folder / each).glob("*")}
    for name in sorted(expected - there):
        raise _changed(name, say("is missing"))
    for name in sorted(there - expected):
        raise _changed(name, say("is not named in the manifest"))


def _changed(name: str, what: str) -> Refused:
    return Refused(
        say(
            "records: {name} {what}, so the folder was changed or copied in part; export it again", name=name, what=what
        )
    )


def _signed(said: dict[str, Any]) -> bytes:
    return PURPOSE + canonical_text(said).encode()


def _tables(connection: Connection, revision: str) -> list[Table]:
    """Every table of a revision, each after those that it points to where it can be."""
    if revision == head_revision():
        return list(metadata.sorted_tables)
    there = MetaData()
    there.reflect(connection)
    found = [there.tables[name] for name in sorted(there.tables) if name != VERSION_TABLE]
    for column in (column for table in found for column in table.columns):
        column.type = TYPES.get(holds(column), column.type)
    return found


def _kinds(table: Table) -> dict[str, str]:
    return {column.name: holds(column).value for column in table.columns}


def _write(path: Path, pieces: Iterable[bytes]) -> FileFacts:
    size, digest, rows = 0, hashlib.sha256(), 0
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        for piece in pieces:
            file.write(piece)
            digest.update(piece)
            size, rows = size + len(piece), rows + 1
        file.flush()
        os.fsync(file.fileno())
    return FileFacts(size, digest.hexdigest(), rows)


def _write_table(connection: Connection, table: Table, folder: Path) -> FileFacts:
    lines = connection.execute(select(table).order_by(table.c.id).execution_options(yield_per=STEP)).mappings()
    facts = _write(folder / f"{table.name}.jsonl", (_line(row) for row in lines))
    return FileFacts(facts.bytes, facts.sha256, facts.rows, _kinds(table))


def _line(row: Any) -> bytes:
    said = json.dumps(dict(row), default=_as_text, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return said.encode() + b"\n"


def _as_text(value: Any) -> str:
    return moment_text(value) if isinstance(value, datetime) else str(value.isoformat())


def _write_files(
    connection: Connection, tables: list[Table], database: Database, folder: Path
) -> Iterator[tuple[str, FileFacts]]:
    endings = {"photograph": JPEG, "signed_page": PDF}
    wanted = {
        (digest, endings[table.name])
        for table in tables
        if table.name in endings
        for digest in connection.scalars(select(table.c.sha256))
    }
    for digest, ending in sorted(wanted):
        data = read_file(photograph_folder(database.path), digest, ending)
        facts = _write(folder / f"{digest}{ending}", [data])
        yield f"{digest}{ending}", FileFacts(facts.bytes, facts.sha256)


def _file(folder: Path, name: str, manifest: Manifest) -> bytes:
    """A photograph or page of the folder, once it is known to be the one that the manifest speaks of."""
    told = manifest.files[name]
    data = plain_bytes(folder / FILES / name, told.bytes, name)
    if hashlib.sha256(data).hexdigest() != told.sha256 or told.sha256 != Path(name).stem:
        raise _changed(f"{FILES}/{name}", say("is not what the manifest says"))
    return data


@contextmanager
def _files_kept(folder: Path, manifest: Manifest, database: Database) -> Iterator[Callable[[], None]]:
    """What puts the photographs and pages beside the database; after a failure those that were new are gone again."""
    new: list[Path] = []

    def keep() -> None:
        for name in manifest.files:
            data, target = _file(folder, name, manifest), photograph_folder(database.path)
            new.extend([target / name] if not (target / name).exists() else [])
            keep_file(target, data, Path(name).suffix)

    try:
        yield keep
    except BaseException:
        for path in new:
            path.unlink(missing_ok=True)
        raise


def _rows(folder: Path, name: str, manifest: Manifest) -> Iterator[list[dict[str, Any]]]:
    """The rows of a table, some thousands at a time; Refused at the end where its file was not what was exported."""
    told, place = manifest.tables[name], f"{TABLES}/{name}.jsonl"
    path = folder / TABLES / f"{name}.jsonl"
    refuse_special(path, place)
    if path.stat().st_size != told.bytes:
        raise _changed(place, say("is not what the manifest says"))
    readers = {each: partial(_value, Holds(kind)) for each, kind in (told.columns or {}).items()}
    digest, found, rows = hashlib.sha256(), list[dict[str, Any]](), 0
    with path.open("rb") as file:
        while line := file.readline(MOST_LINE):
            digest.update(line)
            found.append(_row(line, readers, place))
            rows += 1
            if len(found) == STEP:
                yield found
                found = []
    if digest.hexdigest() != told.sha256 or rows != told.rows:
        raise _changed(place, say("is not what the manifest says"))
    if found:
        yield found


def _row(line: bytes, readers: Mapping[str, Callable[[Any], Any]], place: str) -> dict[str, Any]:
    try:
        said = json.loads(line)
        if said.keys() != readers.keys():
            raise ValueError("columns")
        return {name: None if said[name] is None else read(said[name]) for name, read in readers.items()}
    except (ValueError, TypeError, AttributeError, OverflowError) as fault:
        raise _changed(place, say("holds a row that is not of its columns")) from fault


PLAIN: dict[Holds, tuple[type, ...]] = {Holds.WHOLE: (int,), Holds.YES_NO: (bool,), Holds.FIGURE: (float, int)}


def _value(kind: Holds, said: Any) -> Any:
    """A value of the kind that the manifest tells; ValueError where it is none."""
    if type(said) not in PLAIN.get(kind, (str,)):
        raise ValueError(kind.value)
    if (kind is Holds.FIGURE and not math.isfinite(said)) or (kind is Holds.WHOLE and abs(said) >= 2**63):
        raise ValueError(kind.value)
    if kind is Holds.MOMENT:
        return datetime.fromisoformat(said).astimezone(UTC)
    return date.fromisoformat(said) if kind is Holds.DAY else said


def _refuse_filled(connection: Connection) -> None:
    for name in sorted(set(inspect(connection).get_table_names()) - {VERSION_TABLE}):
        if connection.scalar(text(f'SELECT EXISTS (SELECT 1 FROM "{name}")')):
            raise Refused(
                say("import: records go into an empty centre only, and this one holds some; choose a new one")
            )


def make_tables(connection: Connection, wanted: str, revision: str | None) -> None:
    """The tables as they were where the records were exported; empty ones of another revision go."""
    if revision == wanted:
        return
    cascade = "" if connection.dialect.name == "sqlite" else " CASCADE"
    for name in inspect(connection).get_table_names():
        connection.execute(text(f'DROP TABLE "{name}"{cascade}'))
    upgrade(connection, wanted)


FOREIGN_KEYS = (
    "SELECT c.relname, k.conname FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid"
    " WHERE k.contype = 'f' AND c.relnamespace = current_schema()::regnamespace"
)


@contextmanager
def _keys_at_the_end(connection: Connection) -> Iterator[None]:
    """Rows may stand before those that they point to; on a server keys are looked at when all are there."""
    keys = [] if connection.dialect.name == "sqlite" else connection.execute(text(FOREIGN_KEYS)).all()
    for table, key in keys:
        connection.execute(text(f'ALTER TABLE "{table}" ALTER CONSTRAINT "{key}" DEFERRABLE INITIALLY DEFERRED'))
    yield
    if keys:
        connection.execute(text("SET CONSTRAINTS ALL IMMEDIATE"))
    for table, key in keys:
        connection.execute(text(f'ALTER TABLE "{table}" ALTER CONSTRAINT "{key}" NOT DEFERRABLE'))


def _fill(connection: Connection, table: Table, folder: Path, manifest: Manifest) -> None:
    told = manifest.tables.get(table.name)
    if told is None or told.columns != _kinds(table):
        raise _changed(MANIFEST, say("tells of the table {name} otherwise than its revision has it", name=table.name))
    try:
        for rows in _rows(folder, table.name, manifest):
            connection.execute(insert(table), rows)
    except (IntegrityError, DataError) as fault:
        raise _changed(
            f"{TABLES}/{table.name}.jsonl", say("holds a row that no table of this program may hold")
        ) from fault


def _verified(connection: Connection, database: Database, manifest: Manifest) -> None:
    report = verify_on(database, connection, f"{manifest.entry}:{manifest.hash}")
    if not report.whole:
        raise Refused(
            say("records: what the folder holds does not verify ({told}); nothing was imported", told=report.told)
        )


def _say_whence(connection: Connection, manifest: Manifest, at: datetime) -> None:
    """One entry after the carried ones: what they are, and by which desk and program they were exported, and when."""
    with Session(connection, autoflush=False) as session:
        head = last_entry(session)
        act = Transaction(session, no_doubt(at, head.at), None, CARRIED_ACT, "centre")
        act.follow(head)
        act.explain(
            entry=head.number, hash=head.hash, exported=f"{manifest.entry}:{manifest.hash}", at=manifest.at,
            program=manifest.program, revision=manifest.revision, key=manifest.desk,
        )  # fmt: skip
        act.close_entry()
        session.flush()

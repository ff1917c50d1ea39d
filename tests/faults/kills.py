"""kill -9 at random moments, in the middle of acts, import, backup, restore, creation, migration and erasing."""

import gzip
import math
import os
import random
import re
import shutil
import sqlite3
import subprocess
import time
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from sqlalchemy import select, text

from fleetbench.records.core.database import Database
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import READ_REVISION, head_revision, open_database
from fleetbench.records.upkeep.records_folder import check_records, export_records, import_records
from fleetbench.settings import data_folder
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.people.acts import erase_person
from tests.faults.places import (
    NAME,
    SERVER,
    SQLITE,
    Places,
    act_often,
    keys_of,
    moment,
    opened,
    rows_in,
    tests_in,
    wall,
)
from tests.faults.table import Outcome, Say, forked, left_in

SCHEMAS = Path(__file__).parents[1] / "records" / "schemas"
FEW = 2
"""Tries for which the length of the work is not worth measuring."""
Kill = Callable[[Places, str, float | None, Outcome, random.Random], None]
"""One try: the work is begun, killed so many seconds later (or let run to its end), and what is left is looked at."""


def acts(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """Every act that was acknowledged is there, and at most one that was committed before it could be."""
    with places.database(kind) as where:
        said = forked(lambda say: act_often(where, say, 12), after=after)
        done = sum(line.isdigit() for line in said)
        with opened(outcome, where) as database:
            there = tests_in(database) if database is not None else -1
            outcome.hold(there in (done, done + 1), f"{done} acts acknowledged, {there} there")


def importing(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """Every row of the folder is there, or none."""

    def work(_say: Say) -> None:
        import_folder(Workplace(Database(where), wall), places.sheets)

    with places.database(kind, filled=False) as where:
        before = _rows(where)
        forked(work, after=after)
        with opened(outcome, where) as database:
            rows = rows_in(database) if database is not None else -1
            places_rows = _ROWS.setdefault("import", set())
            places_rows.add(rows - before)
            outcome.hold(len(places_rows - {0}) <= 1, f"a part of an import: {sorted(places_rows)} rows")


_ROWS: dict[str, set[int]] = {}


def _rows(where: str | Path) -> int:
    with closing(Database(where)) as database:
        return rows_in(database)


def backing(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """The copy is there whole or not at all, and the next one leaves nothing of the killed one behind."""
    with places.database(kind) as where:
        target = places.room() / "saved.db"
        forked(lambda _say: backup(Database(where), target), after=after)
        for each in (where, target):
            if each == where or target.exists():
                with opened(outcome, each):
                    pass
        with closing(Database(where)) as database:
            backup(database, target.with_name("saved2.db"))
        left = left_in(target.parent, "saved.db", "saved2.db")
        outcome.hold(not left, f"left behind: {left}")
        shutil.rmtree(target.parent)


def carrying_out(places: Places, _kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """The exported records of a server are whole, or a folder that says that it is not; the next export is whole."""
    with places.database(SERVER) as where:
        room = places.room()
        killed, anew = room / "killed", room / "anew"
        forked(lambda _say: export_records(Database(where), killed, desk=room, at=moment(60)), after=after)
        for folder in (killed, anew):
            with outcome.telling("reading an export"):
                if folder is anew:
                    with closing(Database(where)) as database:
                        export_records(database, anew, desk=room, at=moment(60))
                check_records(folder)
        with opened(outcome, where):
            pass
        shutil.rmtree(room)


def restoring(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """What stood there, or the backup; never neither."""
    with places.database(kind) as where:
        forked(lambda _say: restore(places.saved, Path(where)), after=after)
        with opened(outcome, where) as database:
            outcome.hold(database is not None and rows_in(database) > 0, "no rows after a restore")
        left = left_in(Path(where).parent, "fleet.db")
        outcome.hold(not left, f"left behind: {left}")


def restoring_on_server(
    places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random
) -> None:
    """The same on a server, and in the schema that was kept what stood there, once the backup is there."""
    with places.database(kind) as where:
        forked(lambda say: act_often(where, say, 2))
        with closing(Database(where)) as database:
            before = tests_in(database)
        forked(lambda _say: restore(places.saved, where, clock=lambda: moment(90)), after=after)
        with opened(outcome, where) as database:
            if database is None:
                return
            found = tests_in(database)
            outcome.hold(found in (before, before - 2), f"{found} tests of {before}, of which 2 are not saved")
            with database.reading() as connection:
                kept = connection.scalars(text(KEPT_SCHEMAS)).all()
                outcome.hold(len(kept) == (found != before), f"kept schemas: {kept}")
                for schema in kept:
                    there = connection.scalar(text(f'SELECT count(*) FROM "{schema}".bench_test'))
                    outcome.hold(there == before, f"{schema} does not hold what was there")
        left = [path.name for path in data_folder().glob("*.restoring*")]
        outcome.hold(not left, f"left behind: {left}")


def carrying_in(places: Places, _kind: str, after: float | None, outcome: Outcome, chance: random.Random) -> None:
    """The exported records are all there and verify, or no row is; older ones are brought up on the way."""
    folder = places.exported(chance.choice(EXPORTED))
    with places.database(SERVER, filled=False) as where:
        forked(lambda _say: import_records(folder, str(where), clock=lambda: moment(90)), after=after)
        with opened(outcome, where) as database:
            rows = rows_in(database) if database is not None else -1
            whole = _ROWS.setdefault(str(folder), set())
            whole.add(rows)
            outcome.hold(len(whole - {0}) <= 1, f"a part of the records: {sorted(whole)} rows")


def creating(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """Nothing that the next start takes for a centre is left, or all of its tables."""
    room = places.room()
    where: str | Path = room / "fleet.db"
    if kind == SERVER:
        assert places.server is not None
        places.server.drop("faults_new")
        where = places.server.fresh("faults_new", template=None)
    forked(lambda _say: open_database(where).close(), after=after)
    open_database(where).close()
    with opened(outcome, where) as database:
        outcome.hold(database is not None and not database.upgraded and rows_in(database) == 0, "not as it is made new")
    shutil.rmtree(room)


EXPORTED = ("", "0001", "0014", "0023", "0028")
"""Revisions of the records that are carried; the first is the present one."""


def migrating(places: Places, _kind: str, after: float | None, outcome: Outcome, chance: random.Random) -> None:
    """The old tables or the new ones, with every row, and the next start brings them up."""
    kept = chance.choice(sorted(SCHEMAS.glob("*.db.gz"))[:-1])
    room = places.room()
    where = room / "fleet.db"
    where.write_bytes(gzip.decompress(kept.read_bytes()))
    forked(lambda _say: open_database(where, create=False).close(), after=after)
    with opened(outcome, where) as database:
        if database is not None:
            with database.reading() as connection:
                revision = connection.scalar(text("SELECT version_num FROM alembic_version"))
            outcome.hold(revision == head_revision(), f"revision {revision}")
            outcome.hold(database.upgraded, "what is kept beside records is not calculated at the next start")
    left = left_in(room, "fleet.db")
    outcome.hold(not left, f"left behind: {left}")
    shutil.rmtree(room)


def migrating_on_server(
    places: Places, _kind: str, after: float | None, outcome: Outcome, chance: random.Random
) -> None:
    """The same on a server, and in every copy made before it, by pg_dump or our own, every row."""
    for each in data_folder().iterdir():
        each.unlink()
    revision = chance.choice([each.name[:4] for each in sorted(SCHEMAS.glob("*.db.gz"))[:-1]])
    with places.old_database(revision) as (where, people):
        programs, usual = places.programs(), os.environ["PATH"]
        os.environ["PATH"] = f"{programs}:{usual}" if chance.random() < 0.5 else str(places.folder)
        try:
            forked(lambda _say: open_database(where, create=False).close(), after=after)
            with opened(outcome, where) as database:
                if database is None:
                    return
                with database.reading() as connection:
                    outcome.hold(connection.scalar(text(READ_REVISION)) == head_revision(), "not brought up")
                    outcome.hold(database.upgraded, "what is kept beside records is not calculated at the next start")
        finally:
            os.environ["PATH"] = usual
        copies = sorted(data_folder().iterdir())
        outcome.hold(bool(copies), "no copy was kept")
        for copy in copies:
            outcome.hold(_people_in(copy, programs) == people, f"{copy.name} does not hold what was there")


def _people_in(copy: Path, programs: Path) -> list[tuple[int, str]]:
    """Key and code of everybody in a copy of a server's records, a SQLite file or a dump."""
    if copy.suffix == ".backup":
        with closing(sqlite3.connect(copy)) as connection:
            return connection.execute("SELECT id, code FROM person ORDER BY id").fetchall()
    command = [programs / "pg_restore", "--data-only", "--table=person", "--file=-", copy]
    said = subprocess.run(command, capture_output=True, text=True, check=False).stdout
    named = re.search(r"COPY public.person \(([^)]*)\)[^\n]*\n(.*?)\n\\\.", said, re.DOTALL)
    if named is None:
        return []
    rows = [dict(zip(named[1].split(", "), row.split("\t"), strict=True)) for row in named[2].splitlines()]
    return sorted((int(row["id"]), row["code"]) for row in rows)


KEPT_SCHEMAS = "SELECT nspname::text FROM pg_namespace WHERE nspname LIKE 'fleetbench\\_%'"


def erasing(places: Places, kind: str, after: float | None, outcome: Outcome, _chance: random.Random) -> None:
    """The person's name stands there, or no byte of it."""

    def work(_say: Say) -> None:
        database = Database(where)
        keys = keys_of(database)
        erase_person(Workplace(database, wall).as_person(keys["M1"]), keys["R-9"])

    with places.database(kind) as where:
        forked(work, after=after)
        with opened(outcome, where) as database:
            if database is None:
                return
            with database.reading() as connection:
                names = connection.scalars(select(PersonPrivate.name)).all()
        if kind == SQLITE and NAME not in names:
            held = [path.name for path in Path(where).parent.iterdir() if NAME.encode() in path.read_bytes()]
            outcome.hold(not held, f"erased, and still in {held}")


KILLS: dict[tuple[str, str], Kill] = {
    ("act", SQLITE): acts,
    ("act", SERVER): acts,
    ("import", SQLITE): importing,
    ("import", SERVER): importing,
    ("backup", SQLITE): backing,
    ("backup", SERVER): backing,
    ("export", SERVER): carrying_out,
    ("restore", SQLITE): restoring,
    ("restore", SERVER): restoring_on_server,
    ("import of an export", SERVER): carrying_in,
    ("creation", SQLITE): creating,
    ("creation", SERVER): creating,
    ("migration", SQLITE): migrating,
    ("migration", SERVER): migrating_on_server,
    ("erasing", SQLITE): erasing,
    ("erasing", SERVER): erasing,
}
"""What is killed, on which database."""


def kills(places: Places, tries: int, seed: int) -> list[Outcome]:
    """So many kills of each database, shared out among the works."""
    many = Counter(kind for _, kind in KILLS)
    return [
        _kill(places, name, kind, math.ceil(tries / many[kind]), random.Random(f"{seed} {name} {kind}"))
        for name, kind in KILLS
        if kind in places.kinds
    ]


def _kill(places: Places, name: str, kind: str, tries: int, chance: random.Random) -> Outcome:
    outcome = Outcome(f"killed in {name}, {kind}", "kill -9 of a process at a random moment of its work")
    _ROWS.clear()
    work = KILLS[name, kind]
    begun = time.monotonic()
    # How long the work takes is measured by one that is let run, looked at as well: it must end whole.
    whole = Outcome("", "")
    work(places, kind, None, whole, chance)
    outcome.lost += whole.lost
    length = _length(places, name, kind, chance) if tries > FEW else 0.3
    for _ in range(tries):
        work(places, kind, chance.uniform(0, 1.1 * length), outcome, chance)
    outcome.tries, outcome.seconds = tries, time.monotonic() - begun
    return outcome


def _length(places: Places, name: str, kind: str, chance: random.Random) -> float:
    """Seconds that the work itself takes: what a try takes that runs to its end, less what one takes killed at once."""
    spent = []
    for after in (None, 0.0):
        begun = time.monotonic()
        KILLS[name, kind](places, kind, after, Outcome("", ""), chance)
        spent.append(time.monotonic() - begun)
    return max(0.01, spent[0] - spent[1])

"""Changes files at random as each cell allows, and imports them: `python -m tests.fuzz_changes [TIMES] [SEED]`.

Whatever comes of it, it is whole: refused with nothing written, or imported so that `verify` finds nothing, every list
can be read, kept days are those calculated again, and nothing stands that no act records: what is still to come, a
unit out twice, a ticket signed by who may not sign, a test passed against what was seen. The rules asked here are
common practice, no published source, and are asked by statements of their own.
"""

import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sqlalchemy import text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.tables import days_and_moments_past
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.list import list_canisters
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.hires.list import list_bookings
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetColumn
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.tickets.list import list_tickets
from fleetbench.workshop.units.list import list_units
from fleetbench.workshop.units.today import today_page
from tests.fuzz_import import rows_in
from tests.workshop.small_folder import Rows, small_rows, write_folder

TIMES, SEED = 2000, 20260504
NOW = datetime(2026, 5, 4, 9, tzinfo=UTC)
TODAY = date(2026, 5, 4)
READ: tuple[Callable[[Workplace], object], ...] = (
    list_units, today_page, list_due, list_cells, list_canisters, list_tickets, list_bookings,
)  # fmt: skip

IMPOSSIBLE = {
    "a unit is out twice at once": "SELECT count(*) FROM booking_unit a JOIN booking_unit b ON a.unit_id = b.unit_id"
    " AND a.id < b.id WHERE a.out_at < coalesce(b.received_at, '9999') AND b.out_at <"
    " coalesce(a.received_at, '9999')",
    "a ticket is signed by who may not sign": "SELECT count(*) FROM ticket t JOIN person p ON p.id = t.signed_by_id"
    " WHERE p.role NOT IN ('technician', 'manager')",
    "a ticket is signed by one person twice": "SELECT count(*) FROM ticket WHERE signed_by_id = second_id",
    "a test that did not hold is passed": "SELECT count(*) FROM bench_test WHERE held = 0 AND result = 'pass'",
    "a part came out before it went in": "SELECT count(*) FROM fitting WHERE removed_at < fitted_at",
    "a part sits in two places": "SELECT count(*) FROM (SELECT part_id FROM fitting WHERE removed_at IS NULL"
    " GROUP BY part_id HAVING count(*) > 1) AS twice",
    "a qualification was seen by no manager": "SELECT count(*) FROM qualification q JOIN person p"
    " ON p.id = q.seen_by_id WHERE p.role <> 'manager'",
}
"""What no act records, and how many rows of it there are; asked of a file."""


def other(chance: random.Random, column: SheetColumn, cell: str, seen: list[str]) -> str:  # noqa: PLR0911
    """Another value that a cell of this column may hold, at the edges of its range more often than chance has it."""
    if not column.required and chance.random() < 0.2:
        return ""
    match column.kind:
        case Kind.WORD:
            return chance.choice(column.words)
        case Kind.YES_NO:
            return "no" if cell == "yes" else "yes"
        case Kind.FIGURE | Kind.WHOLE | Kind.PERCENT:
            low, high = column.low or 0.0, column.high if column.high is not None else 1000.0
            found = chance.choice((low, high, 0.0, 1.0, chance.uniform(low, high)))
            return f"{found:.0f}" if column.kind is Kind.WHOLE else f"{found:g}"
        case Kind.DAY | Kind.MARKED:
            day = TODAY + timedelta(days=chance.choice((-4000, -400, -40, -3, -1, 0, 1, 40, 400)))
            return day.isoformat()
        case Kind.MOMENT:
            moment = NOW + timedelta(minutes=chance.choice((-400_000, -40_000, -1500, -60, 0, 60, 1500, 40_000)))
            return f"{moment:%Y-%m-%d %H:%M}"
        case Kind.LINK:
            return chance.choice(seen)
    return chance.choice((cell, f"{cell}x", chance.choice(seen), "=1+1", "<b>x</b>"))


def change_cell(chance: random.Random, sheet: str, rows: Rows) -> None:
    """Another value in one cell; one of a link is a name that stands in some link of that kind."""
    row = chance.choice(rows[sheet])
    column = chance.choice([each for each in SHEETS[sheet].columns if each.name != "record"])
    alike = [
        line[each.name]
        for name, spec in SHEETS.items()
        for each in spec.columns
        if each.kind is column.kind and each.target == column.target
        for line in rows.get(name, ())
        if line.get(each.name)
    ]
    row[column.name] = other(chance, column, row.get(column.name, ""), alike or [""])


def drop_row(chance: random.Random, sheet: str, rows: Rows) -> None:
    """A row is gone."""
    rows[sheet].remove(chance.choice(rows[sheet]))


def one_more(chance: random.Random, sheet: str, rows: Rows) -> None:
    """A row stands once more under a record number of its own, one cell of it changed."""
    row = dict(chance.choice(rows[sheet]))
    if "record" in row:
        row["record"] = f"{row['record']}-{chance.randrange(1000)}"
    rows[sheet].append(row)
    if len(rows[sheet]) > 1 and chance.random() < 0.7:
        change_cell(chance, sheet, {**rows, sheet: [row]})


CHANGES = (change_cell, change_cell, change_cell, one_more, one_more, drop_row)


def changed(chance: random.Random) -> Rows:
    """The sound folder's rows with one to four random changes."""
    rows = small_rows()
    for _ in range(chance.choice((1, 1, 2, 4))):
        sheet = chance.choice([name for name in rows if rows[name]])
        chance.choice(CHANGES)(chance, sheet, rows)
    return rows


def still_to_come(database: Database) -> list[str]:
    """Moments and days that lie ahead in columns that tell of what happened."""
    found = []
    with database.reading() as connection:
        for kind in {spec.table for spec in SHEETS.values()}:
            table = kind.__tablename__
            for column in days_and_moments_past(kind):
                last = connection.scalar(text(f"SELECT max({column}) FROM {table}"))
                if last is not None and str(last)[:16] > "2026-05-04 11:00":  # the site's own midday of that day
                    found.append(f"{table}.{column} is {last}, still to come")
    return found


def wrong_in(workplace: Workplace) -> list[str]:
    """What stands in a database that an import filled and that no act would have left there."""
    found = list(verify(workplace.database).breaks)
    with workplace.database.reading() as connection:
        found += [said for said, query in IMPOSSIBLE.items() if connection.scalar(text(query))]
    for read in READ:
        try:
            read(workplace)
        except Exception as fault:  # any crash at all is what is looked for
            found.append(f"{read.__name__} cannot be read: {fault!r}")
    return found + still_to_come(workplace.database) + [str(line) for line in rebuild_lives(workplace)]


def once(chance: random.Random, folder: Path, empty: Path) -> tuple[str, list[str]]:
    """What became of one changed folder, and what is wrong with that."""
    place = Path(shutil.copy(empty, folder / "changed.db"))
    shutil.rmtree(folder / "sheets", ignore_errors=True)
    write_folder(folder / "sheets", changed(chance))
    with closing(open_database(place)) as database:
        workplace = Workplace(database, lambda: NOW)
        try:
            report = import_folder(workplace, folder / "sheets")
        except Refused:
            return "refused", ["wrote rows"] if rows_in(database) else []
        except Exception as fault:  # as above
            return "crashed", [f"the import crashed: {fault!r}"]
        if not report.written:
            return "refused", ["wrote rows"] if rows_in(database) else []
        return "imported", wrong_in(workplace)


def run(times: int, seed: int, folder: Path) -> tuple[Counter[str], list[str]]:
    """How often each came of it, and what went wrong, by the seed that shows it again."""
    empty = folder / "empty.db"
    with closing(open_database(empty)) as database, database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    done, wrong = Counter[str](), []
    for turn in range(times):
        became, found = once(random.Random(f"{seed} {turn}"), folder, empty)
        done[became] += 1
        wrong += [f"seed {seed} {turn}: {each}" for each in found]
    return done, wrong


if __name__ == "__main__":
    asked = [int(each) for each in sys.argv[1:3]]
    with tempfile.TemporaryDirectory() as scratch:
        done, wrong = run(asked[0] if asked else TIMES, asked[1] if len(asked) > 1 else SEED, Path(scratch))
    print(*wrong, sep="\n")
    print(
        f"{done.total()} changed folders: {done['imported']} imported, {done['refused']} refused; {len(wrong)} faults"
    )
    sys.exit(1 if wrong else 0)

"""Spoils every sheet in every way and sees that nothing is ever written: `python -m tests.fuzz_import [TIMES] [SEED]`.

A hundred faults a sheet by default; the suite runs a few of each.
"""

import csv
import io
import random
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select

from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.tables import metadata
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetSpec
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.workshop.small_folder import small_rows, write_folder

TIMES, SEED = 100, 20260504
Lines = list[list[str]]
Spoiler = Callable[[random.Random, SheetSpec, Lines], bytes | None]
"""Gives the spoiled sheet, or None where a sheet has nothing that this fault could hit."""


def as_bytes(lines: Lines) -> bytes:
    """The lines as a CSV file."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(lines)
    return text.getvalue().encode()


def in_a_cell(wanted: Callable[[object], bool], values: Callable[[random.Random], str]) -> Spoiler:
    """Puts a value into a cell of a column that the wish holds for."""

    def spoil(chance: random.Random, spec: SheetSpec, lines: Lines) -> bytes | None:
        places = [place for place, name in enumerate(lines[0]) if wanted(spec.column(name))]
        if not places:
            return None
        lines[chance.randrange(1, len(lines))][chance.choice(places)] = values(chance)
        return as_bytes(lines)

    return spoil


def missing_column(chance: random.Random, spec: SheetSpec, lines: Lines) -> bytes | None:
    """A column is gone."""
    names = [place for place, name in enumerate(lines[0]) if not spec.column(name).optional]
    gone = chance.choice(names)
    return as_bytes([line[:gone] + line[gone + 1 :] for line in lines])


def strange_column(chance: random.Random, _spec: SheetSpec, lines: Lines) -> bytes | None:
    """A column that nobody knows, or one that stands twice."""
    return as_bytes([[*line, chance.choice(("remarks", lines[0][0])) if line is lines[0] else "x"] for line in lines])


def double_row(chance: random.Random, _spec: SheetSpec, lines: Lines) -> bytes | None:
    """A row stands twice."""
    return as_bytes([*lines, lines[chance.randrange(1, len(lines))]])


def uneven_row(chance: random.Random, _spec: SheetSpec, lines: Lines) -> bytes | None:
    """A row has a cell too many or too few."""
    row = lines[chance.randrange(1, len(lines))]
    if chance.random() < 0.5:
        row.append("x")
    else:
        row.pop()
    return as_bytes(lines)


def stray_byte(chance: random.Random, _spec: SheetSpec, lines: Lines) -> bytes | None:
    """A byte that is no UTF-8, or a zero, somewhere in the file."""
    whole = as_bytes(lines)
    place = chance.randrange(len(whole) + 1)
    return whole[:place] + bytes([chance.choice((0, *range(0x80, 0x100)))]) + whole[place:]


def open_quote(chance: random.Random, _spec: SheetSpec, lines: Lines) -> bytes | None:
    """A quotation mark that is never closed."""
    whole = as_bytes([[*line] for line in lines])
    starts = [place + 1 for place, byte in enumerate(whole) if byte in b",\n" and place + 1 < len(whole)]
    place = chance.choice(starts)
    return whole[:place] + b'"' + whole[place:] if b'"' not in whole else None


def emptied(_chance: random.Random, _spec: SheetSpec, _lines: Lines) -> bytes | None:
    """Nothing in the file, not even a header."""
    return b""


def empty_required(chance: random.Random, spec: SheetSpec, lines: Lines) -> bytes | None:
    """A cell that must be filled in is empty, in a row that has something else in it."""
    places = [place for place, name in enumerate(lines[0]) if spec.column(name).required]
    lines[chance.randrange(1, len(lines))][chance.choice(places)] = ""
    return as_bytes(lines)


def impossible_figure(chance: random.Random, spec: SheetSpec, lines: Lines) -> bytes | None:
    """A figure that no bench could give, as after a slipped decimal point."""
    places = [place for place, name in enumerate(lines[0]) if spec.column(name).high is not None]
    if not places:
        return None
    place = chance.choice(places)
    high = spec.column(lines[0][place]).high or 0.0
    lines[chance.randrange(1, len(lines))][place] = f"{high * 10 + 1:g}" if high < 1e14 else "1e300"
    return as_bytes(lines)


TYPED = frozenset(Kind) - {Kind.TEXT, Kind.LINK}
DATED = frozenset((Kind.DAY, Kind.MARKED, Kind.MOMENT))
RUBBISH = ("n/a", "10,4", "1O.4", "nan", "-inf", "0x1F", "１２", "=1+1", "yes and no", "\u202e12", "--", "1e999", "'")
BAD_DATES = ("2026-02-30", "31.12.2025", "03/04/2025", "2026-13-01 10:00", "0000-00-00", "26-1-2", "2026-05-04T25:00",
             "5Q2025", "9999-12-31", "1026-05-04", "2026-03-29 02:30x")  # fmt: skip

SPOILERS: dict[str, Spoiler] = {
    "wrong type": in_a_cell(lambda column: column.kind in TYPED, lambda chance: chance.choice(RUBBISH)),  # type: ignore[attr-defined]
    "missing column": missing_column,
    "strange column": strange_column,
    "unknown name": in_a_cell(lambda column: column.kind is Kind.LINK, lambda chance: f"NOWHERE-{chance.random()}"),  # type: ignore[attr-defined]
    "double row": double_row,
    "bad date": in_a_cell(lambda column: column.kind in DATED, lambda chance: chance.choice(BAD_DATES)),  # type: ignore[attr-defined]
    "stray byte": stray_byte,
    "uneven row": uneven_row,
    "open quote": open_quote,
    "emptied": emptied,
    "empty required": empty_required,
    "impossible figure": impossible_figure,
    "control character": in_a_cell(lambda _column: True, lambda chance: f"a{chr(chance.choice((1, 7, 27, 127)))}b"),
    "too long": in_a_cell(lambda column: bool(column.longest), lambda _chance: "long " * 200),  # type: ignore[attr-defined]
}


class Fuzz:
    """An empty database and a sound folder, of which one sheet at a time is spoiled."""

    def __init__(self, folder: Path) -> None:
        self.folder = write_folder(folder / "sheets", small_rows())
        self.sound = {path.stem: path.read_bytes() for path in sorted(self.folder.glob("*.csv"))}
        self.database = open_database(folder / "fuzz.db")
        self.workplace = Workplace(self.database, lambda: datetime(2026, 5, 4, 9, tzinfo=UTC))

    def once(self, sheet: str, chance: random.Random) -> str | None:
        """What went wrong with one random fault in a sheet, None where it was refused whole."""
        lines = list(csv.reader(io.StringIO(self.sound[sheet].decode())))
        name, spoiled = None, None
        while spoiled is None:
            name = chance.choice(list(SPOILERS))
            spoiled = SPOILERS[name](chance, SHEETS[sheet], [[*line] for line in lines])
        path = self.folder / f"{sheet}.csv"
        path.write_bytes(spoiled)
        try:
            report = import_folder(self.workplace, self.folder)
            if not report.faults:
                return f"{sheet}: {name} was not noticed: {spoiled!r}"
            if any(not fault.message or fault.row < 0 for fault in report.faults):
                return f"{sheet}: {name} gave a fault without words: {report.faults}"
            return f"{sheet}: {name} wrote rows" if rows_in(self.database) else None
        except Exception as fault:  # any crash at all is what is looked for
            return f"{sheet}: {name} crashed: {fault!r} on {spoiled!r}"
        finally:
            path.write_bytes(self.sound[sheet])


def rows_in(database: Database) -> int:
    """Rows in all tables together."""
    with database.reading() as connection:
        counts = [connection.scalar(select(func.count()).select_from(table)) or 0 for table in metadata.sorted_tables]
    return sum(counts)


def run(times: int, seed: int, folder: Path) -> list[str]:
    """What went wrong over so many faults a sheet."""
    fuzz = Fuzz(folder)
    try:
        found = [
            fuzz.once(sheet, random.Random(f"{seed} {sheet} {turn}")) for sheet in fuzz.sound for turn in range(times)
        ]
        sound = import_folder(fuzz.workplace, fuzz.folder)
    finally:
        fuzz.database.close()
    unspoiled = [f"the sound folder was refused: {sound.faults[:3]}"] if sound.faults or not sound.written else []
    return [line for line in found if line is not None] + unspoiled


if __name__ == "__main__":
    asked = [int(each) for each in sys.argv[1:3]]
    with tempfile.TemporaryDirectory() as place:
        wrong = run(asked[0] if asked else TIMES, asked[1] if len(asked) > 1 else SEED, Path(place))
    print(*wrong, sep="\n")
    print(f"{len(wrong)} of {(asked[0] if asked else TIMES) * len(SHEETS)} went wrong")
    sys.exit(1 if wrong else 0)

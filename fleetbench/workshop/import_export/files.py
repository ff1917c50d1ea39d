"""A folder of a centre's sheets, read whole: every cell typed, and a fault with row and column for each that is not.

A file that is not there says nothing of its subject.

read_folder(folder, shift_to=None) -> Sheets
"""

import csv
import difflib
import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_bytes
from fleetbench.workshop.import_export.columns import SHEETS, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.values import Site, read_cell

if TYPE_CHECKING:
    from pandas import DataFrame

HEADER_ROW = 1
MOST_BYTES, MOST_BYTES_TOGETHER = 50_000_000, 400_000_000
"""Of one sheet, some 400,000 rows, and of all sheets of a folder; told before anything of them is read."""

DIVIDERS = {";": say("semicolons"), "\t": say("tabs"), "|": say("upright strokes")}
END = "\x1fend of the file"
TITLE_ROWS = 20
OTHERWISE = say("save it as CSV UTF-8, or import this file alone as a spreadsheet")
MOST_ALIKE = 100
"""Faults listed for one column of one sheet; the rest are counted in one line."""

Progress = Callable[[str, float], None]
"""Told what is being done, and how much of the whole is done from 0 to 1; it may raise Cancelled."""


class Cancelled(Refused):
    """The person stopped it; nothing was written."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in one cell; row as the spreadsheet counts it, the header being row 1. Nought: the whole sheet."""

    sheet: str
    row: int
    column: str
    message: str


class _Bad:
    """Stands where a cell could not be read, so that one fault is not followed by others."""

    def __repr__(self) -> str:
        return "BAD"


BAD = _Bad()


@dataclass(slots=True)
class Sheet:
    """One sheet: values by column, which row of the spreadsheet each stands in, and which columns it leaves out."""

    spec: SheetSpec
    rows: list[int] = field(default_factory=list)
    values: dict[str, list[Any]] = field(default_factory=dict)
    absent: frozenset[str] = frozenset()

    def cells(self, place: int) -> dict[str, Any]:
        """One row as column and value."""
        return {name: column[place] for name, column in self.values.items()}


@dataclass(slots=True)
class Faults:
    """Faults as they are found; many alike in one column are cut short, unless `most` is None."""

    most: int | None = MOST_ALIKE
    found: list[Fault] = field(default_factory=list)
    _counts: dict[tuple[str, str], int] = field(default_factory=dict)

    def add(self, sheet: str, row: int, column: str, message: str) -> None:
        """Note one fault."""
        count = self._counts[sheet, column] = self._counts.get((sheet, column), 0) + 1
        if self.most is None or count <= self.most:
            self.found.append(Fault(sheet, row, column, message))

    def listed(self) -> tuple[Fault, ...]:
        """All faults in order of sheet and row, with a line for those that were cut short."""
        order = {name: place for place, name in enumerate(SHEETS)}
        more = [
            Fault(
                sheet, 0, column, say("has {count} more faults; correct the listed ones first", count=count - self.most)
            )
            for (sheet, column), count in self._counts.items()
            if self.most is not None and count > self.most
        ]
        listed = [*self.found, *more]
        return tuple(sorted(listed, key=lambda each: (order.get(each.sheet, -1), each.row == 0, each.row)))

    def __bool__(self) -> bool:
        return bool(self.found)


@dataclass(slots=True)
class Sheets:
    """Every sheet of a folder with the faults found in reading it.

    unread: sheets of which no row could be read. given: sheets of which anything is said. partial: an empty cell says
    nothing of what is recorded, and what differs is a change to accept.
    """

    site: Site
    sheets: dict[str, Sheet]
    faults: Faults
    unread: frozenset[str] = frozenset()
    given: frozenset[str] = frozenset(SHEETS)
    partial: bool = False


def read_folder(
    folder: Path, *, shift_to: date | None = None, progress: Progress | None = None, zone: ZoneInfo | None = None
) -> Sheets:
    """The sheets of a folder, typed; faults are listed, not raised.

    shift_to: move every date by as many days as lie from the folder's stated day to this one. zone: the site's, where
    the folder does not state it. Raises Refused where there is no such folder, or nothing in it.
    """
    if not folder.is_dir():
        raise Refused(say("folder: {folder} is not there; name the folder that holds the files", folder=folder))
    faults = Faults()
    there = {path.stem: path for path in sorted(folder.glob("*.csv"))}
    if not there:
        raise Refused(
            say(
                "folder: {folder} holds no CSV file; 'fleetbench import --template DIR' writes the empty files",
                folder=folder,
            )
        )
    together = sum(path.stat().st_size for path in there.values())
    if together > MOST_BYTES_TOGETHER:
        raise Refused(
            say(
                "folder: its files have {together:,} bytes, and {most:,} is the most; split them",
                together=together,
                most=MOST_BYTES_TOGETHER,
            )
        )
    frames = {name: _frame(spec, folder / f"{name}.csv", faults) for name, spec in SHEETS.items() if name in there}
    meant = {_meant(path, there, faults) for name, path in there.items() if name not in SHEETS}
    site = _site(frames.get("centre"), shift_to, faults, zone)
    sheets: dict[str, Sheet] = {}
    for place, (name, spec) in enumerate(SHEETS.items()):
        if progress is not None:
            progress(say("reading {name}", name=name), place / len(SHEETS))
        sheets[name] = _typed(spec, frames.get(name), site, faults)
    unread = {name for name, frame in frames.items() if frame is None} | (meant - {""})
    return Sheets(site, sheets=sheets, faults=faults, unread=frozenset(unread), given=frozenset(frames) | unread)


def _meant(path: Path, there: dict[str, Path], faults: Faults) -> str:
    """The sheet that a file of an unknown name was meant for, so that its rows count as there; empty for none."""
    absent = [name for name in SHEETS if name not in there]
    near = difflib.get_close_matches(path.stem.strip().lower().replace(" ", "_"), absent, 1, 0.75)
    remedy = (
        say("rename it to {file}", file=f"{near[0]}.csv") if near else say("rename it or move it out of the folder")
    )
    faults.add(path.stem, 0, "-", say("{path} is not a known file; {remedy}", path=path.name, remedy=remedy))
    return near[0] if near else ""


def _frame(spec: SheetSpec, path: Path, faults: Faults) -> "DataFrame | None":
    """The sheet as text, header first, or None where it cannot be read at all."""
    data = _bytes_or_fault(spec, path, faults)
    text = None if data is None else _decoded(spec.name, data, faults)
    header = None if text is None else _even(spec, text, faults)
    if text is None or header is None:
        return None
    # pandas takes as long to import as the window takes to show; only an import pays for it
    import pandas as pd
    from pandas.errors import ParserError

    try:
        return pd.read_csv(
            io.StringIO(text), header=None, names=header, dtype=str, keep_default_na=False,
            na_filter=False, skip_blank_lines=False, index_col=False,
        )  # fmt: skip
    except ParserError:
        _never_closed(spec, faults)
        return None


def _never_closed(spec: SheetSpec, faults: Faults) -> None:
    unclosed = say("{path} has a quotation mark that is never closed; save it again as CSV", path=f"{spec.name}.csv")
    faults.add(spec.name, 0, "-", unclosed)


def _bytes_or_fault(spec: SheetSpec, path: Path, faults: Faults) -> bytes | None:
    try:
        return _bytes_of(path)
    except Refused as refusal:
        faults.add(spec.name, 0, "-", str(refusal))
    except FileNotFoundError:
        if not spec.optional:
            faults.add(
                spec.name,
                0,
                "-",
                say("{path} is missing; add it, with its header alone if it has no rows", path=path.name),
            )
    except OSError as fault:
        faults.add(
            spec.name,
            0,
            "-",
            say("{path} cannot be read ({fault}); check its rights", path=path.name, fault=fault.strerror),
        )
    return None


def _bytes_of(path: Path) -> bytes:
    """What a plain file of the folder holds; Refused for anything else, and for what is too large to be a sheet."""
    if path.is_symlink() and path.resolve().parent != path.parent.resolve():
        raise Refused(say("{path} leads out of the folder; put the file itself there", path=path.name))
    return plain_bytes(path, MOST_BYTES, path.name)


def _decoded(name: str, data: bytes, faults: Faults) -> str | None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        row = data.count(b"\n", 0, fault.start) + HEADER_ROW
        stray = say(
            "holds the byte 0x{data:02X}, which is not UTF-8 text; {remedy}", data=data[fault.start], remedy=OTHERWISE
        )
        faults.add(name, row, "-", stray)
        return None
    if "\x00" in text:
        row = text.count("\n", 0, text.index("\x00")) + HEADER_ROW
        faults.add(name, row, "-", say("holds a zero byte; {remedy}", remedy=OTHERWISE))
        return None
    return text


def _even(spec: SheetSpec, text: str, faults: Faults) -> list[str] | None:
    """The header where it names the columns, in any order, and every row is as wide; None and faults otherwise."""
    wanted = [column.name for column in spec.columns if not column.optional]
    allowed = [column.name for column in spec.columns]
    try:
        *lines, last = csv.reader(io.StringIO(f"{text}\n{END}"))
    except csv.Error as fault:
        faults.add(spec.name, 0, "-", say("cannot be read as CSV ({fault}); save it again as CSV UTF-8", fault=fault))
        return None
    if last != [END]:  # a quotation mark left open takes in whatever follows
        _never_closed(spec, faults)
        return None
    header = [cell.strip() for cell in lines[0]] if lines else []
    if not set(wanted) <= set(header) <= set(allowed) or len(set(header)) != len(header):
        if not _other_form(spec.name, text, lines, set(wanted), faults):
            _name_header(spec.name, header, wanted, allowed, faults)
        return None
    even = True
    for row, line in enumerate(lines[1:], HEADER_ROW + 1):
        if line and len(line) != len(header):
            even = False
            faults.add(
                spec.name,
                row,
                "-",
                say("has {count} cells, the header {header}; check its commas", count=len(line), header=len(header)),
            )
    return header if even else None


def _other_form(name: str, text: str, lines: list[list[str]], wanted: set[str], faults: Faults) -> bool:
    """Whether the columns stand there in another form of file, which is told then in one line."""
    for row, line in enumerate(lines[:TITLE_ROWS], HEADER_ROW):
        if len(wanted & {cell.strip() for cell in line}) > len(wanted) / 2 and row > HEADER_ROW:
            faults.add(
                name,
                row,
                "-",
                say("the column names stand here; take the {row} rows above them out", row=row - HEADER_ROW),
            )
            return True
    first = text.splitlines()[0] if text else ""
    for sign, word in DIVIDERS.items():
        if len(wanted & {cell.strip(' "') for cell in first.split(sign)}) > len(wanted) / 2:
            faults.add(
                name,
                HEADER_ROW,
                "-",
                say("is divided by {word}, where commas are expected; {remedy}", word=word, remedy=OTHERWISE),
            )
            return True
    return False


def _name_header(name: str, header: list[str], wanted: list[str], allowed: list[str], faults: Faults) -> None:
    if not set(header) & set(allowed):  # an unrelated file's own words are not repeated
        faults.add(name, HEADER_ROW, "-", say("holds none of this file's columns; it is another file; remove it"))
        return
    for column in allowed:
        if column in wanted and column not in header:
            faults.add(name, HEADER_ROW, column, say("this column is missing; add it, empty where nothing is known"))
        elif header.count(column) > 1:
            faults.add(name, HEADER_ROW, column, say("this column stands twice; delete one"))
    for column in dict.fromkeys(header):
        if column not in allowed:
            faults.add(name, HEADER_ROW, column[:40] or "-", say("this column is not known; delete it or rename it"))


def _site(frame: "DataFrame | None", shift_to: date | None, faults: Faults, recorded: ZoneInfo | None) -> Site:
    """Time zone and shift as the centre's own sheet states them, or the zone that is recorded."""
    unknown = Site(recorded or ZoneInfo("UTC"))
    if frame is None or len(frame) < HEADER_ROW + 1:
        return unknown
    said = dict(frame.iloc[1])
    try:
        zone = _zone(said["timezone"].strip())
    except (KeyError, ValueError, OSError):
        if said.get("timezone", "").strip():  # an empty one is told as an empty cell
            faults.add("centre", 2, "timezone", say("is not a known time zone; write it as Europe/Athens"))
        return unknown
    if shift_to is None:
        return Site(zone)
    try:
        stated = read_cell(SHEETS["centre"].column("stated_day"), said["stated_day"], unknown)
    except ValueError:
        return Site(zone)  # the cell itself is told as a fault when the sheet is read
    if stated is None:
        faults.add(
            "centre", 2, "stated_day", say("is empty, so no date can be shifted; enter the day they were laid to")
        )
        return Site(zone)
    return Site(zone, shift_to - stated)


def _zone(name: str) -> ZoneInfo:
    """The time zone of that name; ValueError for one that is another at every desk, such as the system's own."""
    if name != "UTC" and ("/" not in name or name.startswith(("posix/", "right/", "Etc/Unknown"))):
        raise ValueError(name)
    return ZoneInfo(name)


def _typed(spec: SheetSpec, frame: "DataFrame | None", site: Site, faults: Faults) -> Sheet:
    sheet = Sheet(spec, values={column.name: [] for column in spec.columns})
    if frame is None:
        return sheet
    body = frame.iloc[HEADER_ROW:]
    filled = (body != "").any(axis=1)
    body = body[filled]
    sheet.rows = [int(label) + HEADER_ROW for label in body.index]
    plain = Site(site.zone)
    for column in spec.columns:
        if column.name not in body.columns:
            sheet.values[column.name] = [column.default] * len(body)
            sheet.absent |= {column.name}
            continue
        where = plain if column.name == "stated_day" else site
        sheet.values[column.name] = _typed_column(spec.name, column, body[column.name], sheet.rows, where, faults)
    return sheet


def _typed_column(name: str, column: SheetColumn, texts: Any, rows: list[int], site: Site, faults: Faults) -> list[Any]:
    """Values of one column; each different text is read once, since most stand in many rows."""
    codes, different = texts.factorize()
    values: list[Any] = []
    wrong: dict[int, str] = {}
    for code, text in enumerate(different):
        try:
            values.append(read_cell(column, text, site))
        except ValueError as fault:
            wrong[code] = str(fault)
            values.append(BAD)
        except OverflowError:
            wrong[code] = say("is out of range; check it")
            values.append(BAD)
    if wrong:
        for row, code in zip(rows, codes, strict=True):
            if code in wrong:
                faults.add(name, row, column.name, wrong[code])
    return [values[code] for code in codes]

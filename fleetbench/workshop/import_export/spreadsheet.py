"""A spreadsheet that a centre keeps for itself: opened, its tables found, its columns guessed and its cells read.

open_spreadsheet(path) -> OpenedFile
guessed(table, layouts) -> Layout
read_rows(table, layout, answers, today) -> ReadRows
"""

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.import_export.cells import (
    DateOrder,
    decimal_sign,
    is_unknown,
    likely_date,
    order_of,
    read_date,
    read_figure,
    usual_unit,
)
from fleetbench.calc.import_export.columns import (
    FIELDS,
    KEY_FIELDS,
    NOT_USED,
    Guess,
    Meaning,
    Says,
    Subject,
    field_of,
    guess_columns,
    guess_subject,
    is_name,
    split_unit,
)
from fleetbench.calc.import_export.tables import (
    MOST_CELLS,
    FoundTable,
    Grid,
    Merged,
    decoded,
    divided,
    find_tables,
    spread,
    too_large,
)
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_bytes
from fleetbench.workshop.core.drafts import Drafts

BOOKS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
TEXTS = (".csv", ".tsv", ".txt")
LARGEST_FILE = 60_000_000
SAMPLE = 200
"""Cells of a column from which its meaning is guessed."""

Answers = Mapping[tuple[int, int], str]
"""What the reader says stands in a cell, by its row and column in the grid; an empty text is 'not known'."""


@dataclass(frozen=True, slots=True)
class SheetTable:
    """One table of an opened file, with the cells that it stands in."""

    sheet: str
    grid: Grid
    found: FoundTable

    @property
    def label(self) -> str:
        """Where it stands, as the reader's spreadsheet counts."""
        rows = self.found.rows
        return say(
            "{table}: rows {first} to {last}, {count} columns",
            table=self.found.title or self.sheet,
            first=rows[0] + 1,
            last=rows[-1] + 1,
            count=len(self.found.names),
        )

    def texts(self, place: int) -> list[str]:
        """What stands in one of its columns, row by row."""
        column = self.found.columns[place]
        return [self.cell(row, column) for row in self.found.rows]

    def cell(self, row: int, column: int) -> str:
        """The text of one cell, by its row and column in the grid."""
        line = self.grid[row]
        return line[column].strip() if column < len(line) else ""

    def examples(self, place: int) -> tuple[str, ...]:
        """The first three different things that stand in a column."""
        return tuple(list(dict.fromkeys(text for text in self.texts(place) if text))[:3])

    @property
    def signature(self) -> str:
        """What files of this form have in common: the names of their columns."""
        names = "\n".join(" ".join(split_unit(name)) for name in self.found.names)
        return hashlib.sha256(names.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class OpenedFile:
    """A file with its tables, and how its text was taken: coding and dividing sign, both empty for a workbook."""

    path: Path
    tables: tuple[SheetTable, ...]
    encoding: str = ""
    divider: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """What a table is about and what each of its columns says.

    orders, decimals: how dates and figures of a column are read, None where its cells tell or leave it open.
    units: in what its figures are. kind: the kind of part where no column states it.
    """

    subject: Subject
    meanings: tuple[Meaning, ...]
    orders: tuple[DateOrder | None, ...]
    decimals: tuple[str | None, ...]
    units: tuple[str, ...]
    sure: tuple[float, ...] = ()
    kind: str = ""
    remembered: bool = False

    def with_meaning(self, place: int, meaning: Meaning) -> "Layout":
        """The layout with one column read otherwise; the column that said so before is not used."""
        meanings = [NOT_USED if each == meaning else each for each in self.meanings]
        meanings[place] = meaning
        return replace(self, meanings=tuple(meanings))

    def with_kind(self, kind: str) -> "Layout":
        """The layout with that kind of part where no column states one."""
        return replace(self, kind=kind)

    def with_order(self, place: int, order: DateOrder) -> "Layout":
        """The layout with the dates of one column read in that order."""
        return replace(self, orders=(*self.orders[:place], order, *self.orders[place + 1 :]))


@dataclass(frozen=True, slots=True)
class Ask:
    """A cell that cannot be taken as it stands, with what it most likely means.

    row, column: its place in the grid, from 0. likely: a text that can be read, empty where none is likely.
    """

    row: int
    column: int
    name: str
    text: str
    message: str
    likely: str = ""


@dataclass(slots=True)
class ReadRows:
    """What the rows of a table say: values by meaning for each row, and the cells that cannot be read."""

    values: dict[int, dict[Meaning, Any]] = field(default_factory=dict)
    asks: dict[int, list[Ask]] = field(default_factory=dict)
    skipped: int = 0


def open_spreadsheet(path: Path, *, encoding: str = "", divider: str = "") -> OpenedFile:
    """The file's tables; encoding and divider of a text file are told from it unless they are given.

    Raises Refused where the file cannot be read or holds no table.
    """
    try:
        data = plain_bytes(path, LARGEST_FILE, path.name)
        if path.suffix.lower() in BOOKS:
            if why := too_large(data):
                raise Refused(strung(": ", (path.name, why)))
            opened = OpenedFile(path, tuple(_of_book(path)))
        else:
            text, encoding = decoded(data, encoding)
            grid, divider = divided(text, divider)
            opened = OpenedFile(path, tuple(_tables(path.stem, grid)), encoding, divider)
    except OSError as fault:
        raise Refused(
            say("{path}: cannot be read ({fault}); check the file", path=path.name, fault=fault.strerror)
        ) from fault
    except (ValueError, LookupError) as fault:
        raise Refused(strung(": ", (path.name, str(fault)))) from fault
    if not opened.tables:
        raise Refused(say("{path}: holds no table; it needs a row of column names and a row below it", path=path.name))
    return opened


def _of_book(path: Path) -> list[SheetTable]:
    # Written in Rust, it loads at once, but is needed for nothing else.
    from python_calamine import CalamineError, CalamineWorkbook

    found: list[SheetTable] = []
    try:
        book = CalamineWorkbook.from_path(str(path))
        for name in book.sheet_names:
            sheet = book.get_sheet_by_name(name)
            if sheet.height * sheet.width > MOST_CELLS:
                raise Refused(say("{path}: '{name}' is too large; split it", path=path.name, name=name))
            merged = _within(
                [(*first, *last) for first, last in sheet.merged_cell_ranges or ()], sheet.height, sheet.width
            )
            grid = [[_as_text(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
            found += _tables(name, spread(grid, merged))
    except CalamineError as fault:
        raise Refused(
            say(
                "{path}: is no spreadsheet that can be read ({fault}); save it again as XLSX",
                path=path.name,
                fault=fault,
            )
        ) from fault
    return found


def _within(merged: list[Merged], height: int, width: int) -> list[Merged]:
    """Merged cells as far as they lie in the sheet; ValueError where they lie over each other a thousandfold."""
    cut = [(top, left, min(bottom, height - 1), min(right, width - 1)) for top, left, bottom, right in merged]
    area = sum(max(0, bottom - top + 1) * max(0, right - left + 1) for top, left, bottom, right in cut)
    if area > 2 * MOST_CELLS:
        raise ValueError(say("too many merged cells; unmerge them"))
    return cut


def _tables(name: str, grid: Grid) -> list[SheetTable]:
    return [SheetTable(name, grid, found) for found in find_tables(grid, is_name)]


def _as_text(value: object) -> str:
    """A cell of a workbook as it would be typed: whole figures without a point, days as 2025-03-14."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ", "minutes")
    return "" if value is None else str(value)


# ---- what the columns mean -----------------------------------------------------------------------------------------


def guessed(table: SheetTable, subject: Subject | None = None, layouts: "Layouts | None" = None) -> Layout:
    """What the columns most likely mean, or what was said of a file of this form before."""
    known = layouts.load(table) if layouts is not None and subject is None else None
    if known is not None:
        return _as_proven(table, known)
    samples = [table.texts(place)[:SAMPLE] for place in range(len(table.found.names))]
    about = guess_subject(table.found.names, samples) if subject is None else subject
    guesses = guess_columns(about, table.found.names, samples)
    return _laid_out(table, about, guesses)


def _as_proven(table: SheetTable, known: Layout) -> Layout:
    """The remembered layout with what this file itself proves of its dates and figures."""
    columns = [table.texts(place) for place in range(len(known.meanings))]
    orders = tuple(order_of(texts) or kept for texts, kept in zip(columns, known.orders, strict=True))
    decimals = tuple(decimal_sign(texts) or kept for texts, kept in zip(columns, known.decimals, strict=True))
    return replace(known, orders=orders, decimals=decimals)


def _laid_out(table: SheetTable, subject: Subject, guesses: Sequence[Guess]) -> Layout:
    columns = [table.texts(place) for place in range(len(guesses))]
    dates = [place for place, each in enumerate(guesses) if _says(subject, each.meaning) is Says.DATE]
    orders = {place: order_of(columns[place]) for place in dates}
    proven = {order for order in orders.values() if order is not None}
    shared = proven.pop() if len(proven) == 1 else None
    return Layout(
        subject=subject,
        meanings=tuple(each.meaning for each in guesses),
        orders=tuple(orders.get(place) or shared for place in range(len(guesses))),
        decimals=tuple(map(decimal_sign, columns)),
        units=tuple(each.unit for each in guesses),
        sure=tuple(each.sure for each in guesses),
        kind="cell" if subject is Subject.PARTS and _about_cells(table) else "",
    )


def _about_cells(table: SheetTable) -> bool:
    said = f"{table.sheet} {table.found.title} {' '.join(table.found.names)}".casefold()
    return "cell" in said or "sensor" in said


def _says(subject: Subject, meaning: Meaning) -> Says | None:
    return field_of(subject, meaning.field).says if meaning.field else None


def choices(layout: Layout) -> tuple[Meaning, ...]:
    """Everything that a column of this table may mean, 'not used' first."""
    plain = [Meaning(each.name) for each in FIELDS[layout.subject] if not each.in_slot]
    if layout.subject is not Subject.UNITS:
        return (NOT_USED, *plain)
    usual = [f"cell {n}" for n in (1, 2, 3, 4, 5)] + ["handset 1", "handset 2", "oxygen cylinder", "diluent cylinder"]
    slots = dict.fromkeys([*(each.slot for each in layout.meanings if each.slot), *usual, "head", "canister"])
    inside = [each for each in FIELDS[layout.subject] if each.in_slot]
    return (NOT_USED, *plain, *(Meaning(each.name, slot) for slot in slots for each in inside if _fit(each.name, slot)))


def _fit(name: str, slot: str) -> bool:
    of_cylinder = name in ("hydrostatic", "size_l", "working_bar")
    return ("cylinder" in slot or not of_cylinder) and (name != "firmware" or "handset" in slot)


class Layouts:
    """What was said of files by the names of their columns, kept beside the records."""

    def __init__(self, folder: Path) -> None:
        self._kept = Drafts(folder)

    def load(self, table: SheetTable) -> Layout | None:
        """What was said of a file of this form, or nothing."""
        draft = self._kept.load(table.signature)
        if draft is None:
            return None
        try:
            return layout_from(draft.content["layout"], len(table.found.names))
        except (KeyError, TypeError, ValueError):
            return None

    def keep(self, table: SheetTable, layout: Layout, path: Path, at: datetime) -> None:
        """Remember what was said of files of this form, and which file it was said of."""
        content = {"layout": layout_kept(layout), "path": str(path.absolute()), "names": list(table.found.names)}
        content |= {"sheet": table.sheet, "title": table.found.title}
        self._kept.save(table.signature, content, at)

    def listed(self) -> tuple[tuple[Path, Layout, tuple[str, ...]], ...]:
        """Every remembered form: the file it was last said of, its layout, and the names of its columns."""
        found = []
        for draft in self._kept.listed():
            try:
                layout = layout_from(draft.content["layout"], len(draft.content["names"]))
            except (KeyError, TypeError, ValueError):
                continue
            found.append((Path(str(draft.content["path"])), layout, tuple(draft.content["names"])))
        return tuple(found)


def layout_kept(layout: Layout) -> dict[str, Any]:
    """The layout as plain values."""
    return json.loads(json.dumps(asdict(layout)))  # type: ignore[no-any-return]


def layout_from(kept: Mapping[str, Any], wide: int) -> Layout:
    """The layout of plain values; ValueError where it is not of that width."""
    layout = Layout(
        Subject(kept["subject"]),
        meanings=tuple(Meaning(**each) for each in kept["meanings"]),
        orders=tuple(DateOrder(each) if each else None for each in kept["orders"]),
        decimals=tuple(kept["decimals"]),
        units=tuple(kept["units"]),
        sure=(1.0,) * wide,
        kind=kept["kind"],
        remembered=True,
    )
    if not len(layout.meanings) == len(layout.orders) == len(layout.decimals) == len(layout.units) == wide:
        raise ValueError(say("layout: of another width"))
    return layout


# ---- what the cells say --------------------------------------------------------------------------------------------


def read_rows(
    table: SheetTable,
    layout: Layout,
    answers: Answers,
    today: date,
    told: Callable[[str, float], None] | None = None,
) -> ReadRows:
    """Every row as values by meaning, without what is not known; a row that says nothing of its subject is skipped."""
    used = [place for place, meaning in enumerate(layout.meanings) if meaning.field]
    keyed = {place for place in used if layout.meanings[place].field in KEY_FIELDS[layout.subject]}
    read = ReadRows()
    seen: dict[tuple[int, str], Any] = {}
    for count, row in enumerate(table.found.rows):
        if told is not None and not count % 2000:
            told(say("reading rows"), count / len(table.found.rows))
        values: dict[Meaning, Any] = {}
        asks: list[Ask] = []
        for place in used:
            column = table.found.columns[place]
            text = answers.get((row, column), table.cell(row, column))
            key = place, text
            if key not in seen:
                seen[key] = _read(layout, place, text, today)
            value = seen[key]
            if isinstance(value, Ask):
                asks.append(replace(value, row=row, column=column, name=table.found.names[place]))
            elif value is not None:
                values[layout.meanings[place]] = value
        said = {layout.meanings[place] for place in keyed} & values.keys()
        if not said and not asks and len(values) <= 1:
            read.skipped += 1
        else:
            read.values[row] = values
            if asks:
                read.asks[row] = asks
    return read


def _read(layout: Layout, place: int, text: str, today: date) -> Any:
    """The value, None for not known, or an Ask without its place."""
    if is_unknown(text):
        return None
    meaning = layout.meanings[place]
    field = field_of(layout.subject, meaning.field)
    try:
        if field.says is Says.DATE:
            return _past(read_date(text, layout.orders[place]), field.past, today)
        if field.says is Says.FIGURE:
            return read_figure(text, layout.decimals[place], layout.units[place] or usual_unit(field.unit))
    except ValueError as fault:
        likely = likely_date(text, layout.orders[place]) if field.says is Says.DATE else None
        shown = str(likely) if likely is not None and not (field.past and likely.first_day > today) else ""
        return Ask(-1, column=-1, name="", text=text, message=str(fault), likely=shown)
    return text


def _past(marked: MarkedDate, past: bool, today: date) -> MarkedDate:
    if past and marked.first_day > today:
        raise ValueError(
            say("{marked} lies ahead, which cannot be; check the order of day and month, and the year", marked=marked)
        )
    return marked

"""Writing what is recorded: as the sheets that an import takes, and in the layout of a spreadsheet that was brought.

What no sheet holds is told in sheet_columns.

export_folder(workplace, folder) -> tuple[Path, ...]
write_template(folder) -> tuple[Path, ...]      the same files empty, with a description of every column

given_back(workplace, path, layout) -> GivenBack
"""

import csv
import io
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.import_export.cells import PER_UNIT, usual_unit
from fleetbench.calc.import_export.columns import KEY_FIELDS, Meaning, Subject, field_of, kind_of_slot
from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import new_folder
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.parts.tables import PartTest
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.assemble import NOT_KNOWN
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.spreadsheet import Layout, SheetTable, open_spreadsheet
from fleetbench.workshop.import_export.values import Row, Site, matching_slot, same_words, write_cell
from fleetbench.workshop.import_export.walk_round import FleetFacts
from fleetbench.workshop.people.list import list_people

_Recorded = dict[str, Any]

CALLED_BY = {
    "units": "tag", "people": "code", "unit_types": "code", "part_types": "code", "owners": "name", "places": "name",
    "bookings": "code", "notices": "number", "slots": "name", "readers": "name",
}  # fmt: skip
"""By which of its fields a row is named in other sheets; any other is named by its record number."""

BY_RECORD = {"reader_cells": ("slots", "readers"), "slot_part_types": ("slots",)}
"""Where a row is named by its record number all the same."""


def export_folder(workplace: Workplace, folder: Path | str) -> tuple[Path, ...]:
    """The sheets written, one file each, readable by their owner only: they hold names and contacts.

    Raises Refused where the folder holds anything already, or cannot be written.
    """
    today, site = workplace.today(), Site(workplace.zone())
    with new_folder(Path(folder), "export") as target, workplace.database.reading() as connection:
        return tuple(_write(target / f"{name}.csv", lines) for name, lines in _sheets(connection, site, today))


def write_template(folder: Path | str) -> tuple[Path, ...]:
    """Every file with its header alone, and columns.txt, which says of each column what it may hold.

    Raises Refused where the folder holds anything already, or cannot be written.
    """
    with new_folder(Path(folder), "export") as target:
        headers = {name: [[column.name for column in spec.columns]] for name, spec in SHEETS.items()}
        written = [_write(target / f"{name}.csv", lines) for name, lines in headers.items()]
        return (_write_text(target / "columns.txt", "\n".join(_described())), *written)


def _described() -> Iterator[str]:
    yield from (
        "Fill in the files that you have something for, and delete the others or leave them as they are.",
        "UTF-8, divided by commas. Days are written as 2025-03-14, marked dates also as 2025-03, 1Q2025 or 2025.",
        "A column without 'required' stays empty where nothing is known.", "",
    )  # fmt: skip
    for name, spec in SHEETS.items():
        yield f"{name}.csv: {(spec.table.__doc__ or '').splitlines()[0]}"
        yield from (f"    {column.name}: {_rule(column)}" for column in spec.columns)
        yield ""


def _rule(column: SheetColumn) -> str:
    said = [column.kind.value if column.kind is not Kind.LINK else f"a row of {column.target}, as named there"]
    said += ["required"] if column.required else []
    said += [f"one of: {', '.join(column.words)}"] if column.words else []
    said += [f"from {column.low:g} to {column.high:g}"] if column.low is not None else []
    said += [f"at most {column.longest} characters"] if column.longest is not None and not column.words else []
    return "; ".join(said)


def _write(path: Path, lines: Iterable[list[str]]) -> Path:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(lines)
    return _write_text(path, text.getvalue())


def _write_text(path: Path, text: str) -> Path:
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        file.write(text.encode())
    return path


def _sheets(connection: Connection, site: Site, today: date) -> Iterator[tuple[str, Iterator[list[str]]]]:
    names: dict[str, dict[int, _Recorded]] = {}
    for name, spec in SHEETS.items():
        rows = rows_of(connection, spec.table)
        names[name] = {row["id"]: row for row in rows}
        if name == "people":
            _add(rows, rows_of(connection, PersonPrivate), "person_id", ("name", "contact"))
        if name == "hire_lines":
            notes = rows_of(connection, HireNote, None, HireNote.at, HireNote.id)
            _add(rows, [{**row, "note": row["text"]} for row in notes], "booking_unit_id", ("note",))
        if name == "centre":
            rows = [{**row, "stated_day": today} for row in rows]
        if rows or not spec.optional:
            yield name, _lines(spec, rows, names, site)


def _add(rows: list[_Recorded], more: list[_Recorded], key: str, fields: tuple[str, ...]) -> None:
    """Put what the erasable tables hold beside the rows it belongs to; several notes of one line are joined."""
    found: dict[int, _Recorded] = {}
    for each in more:
        said = found.setdefault(each[key], {})
        for name in fields:
            said[name] = f"{said[name]}\n{each[name]}" if said.get(name) else each[name]
    for row in rows:
        row.update(found.get(row["id"], {}))


def _lines(
    spec: SheetSpec, rows: list[_Recorded], names: dict[str, dict[int, _Recorded]], site: Site
) -> Iterator[list[str]]:
    columns = [
        column
        for column in spec.columns
        if not column.optional or any(row[column.field or ""] is not None for row in rows)
    ]
    yield [column.name for column in columns]
    for row in rows:
        yield [_cell(spec.name, column, row, names, site) for column in columns]


def _cell(sheet: str, column: SheetColumn, row: _Recorded, names: dict[str, dict[int, _Recorded]], site: Site) -> str:
    value = row.get(column.field or column.name)
    if column.name == "record":
        value = value or f"#{row['id']}"
    elif value is not None and column.kind is Kind.LINK:
        target = column.target or ""
        value = _called(target, names[target][value], by_record=target in BY_RECORD.get(sheet, ()))
    elif value is not None and column.kind is Kind.MARKED:
        value = MarkedDate(value, Precision(row[column.precision_field or ""] or "day"))
    return write_cell(column, value, site)


def _called(target: str, row: _Recorded, *, by_record: bool) -> str:
    field = None if by_record else CALLED_BY.get(target)
    return str(row[field]) if field else str(row.get("ref") or f"#{row['id']}")


Cell = str | float | date
Said = Mapping[Meaning, Cell]


@dataclass(frozen=True, slots=True)
class GivenBack:
    """Cells to write into a sheet by row and column from 0, below names that stand there already or are written too.

    source: the workbook to write them into, where it is still there; sheet: which of its sheets.
    """

    sheet: str
    cells: Mapping[tuple[int, int], Cell]
    rows: int
    source: Path | None = None


def given_back(workplace: Workplace, path: Path, layout: Layout, names: tuple[str, ...]) -> GivenBack:
    """Every record of the layout's subject in its columns; what no column means is kept as the file has it."""
    with workplace.database.reading() as connection:
        facts = _Now(connection, workplace, layout)
    records = list(facts.records())
    table = _as_brought(path, names)
    cells: dict[tuple[int, int], Cell] = {}
    if table is None:
        cells = {(0, place): name for place, name in enumerate(names)}
        for row, said in enumerate(records, 1):
            cells |= {(row, place): _in_unit(layout, place, said) for place in range(len(names))}
        return GivenBack(str(layout.subject)[:31], cells, len(records))
    if path.suffix.lower() not in (".xlsx", ".xlsm"):
        cells = {(at, column): text for at, line in enumerate(table.grid) for column, text in enumerate(line) if text}
    place_of = _places(table, layout)
    free = max(table.found.rows) + 1
    for said in records:
        there = [place_of[key] for key in _keys(layout, said) if key in place_of]
        row, free = (there[0], free) if there else (free, free + 1)
        for place, column in enumerate(table.found.columns):
            # What is not known leaves the cell as it was brought.
            if layout.meanings[place] in said:
                cells[row, column] = _in_unit(layout, place, said)
    source = path if path.suffix.lower() in (".xlsx", ".xlsm") else None
    return GivenBack(table.sheet, cells, len(records), source)


def _as_brought(path: Path, names: tuple[str, ...]) -> SheetTable | None:
    """The table of that form in the file, where the file is still there and has it."""
    with suppress(Refused):
        return next((table for table in open_spreadsheet(path).tables if table.found.names == names), None)
    return None


def _places(table: SheetTable, layout: Layout) -> dict[str, int]:
    """Rows of the table by what they are known by."""
    found: dict[str, int] = {}
    for place, meaning in enumerate(layout.meanings):
        if meaning.field in KEY_FIELDS[layout.subject] and not meaning.slot:
            column = table.found.columns[place]
            for row in table.found.rows:
                text = table.cell(row, column)
                if text:
                    found.setdefault(f"{meaning.field} {same_words(text)}", row)
    return found


def _keys(layout: Layout, said: Said) -> Iterator[str]:
    for name in KEY_FIELDS[layout.subject]:
        value = said.get(Meaning(name))
        if value:
            yield f"{name} {same_words(str(value))}"


def _in_unit(layout: Layout, place: int, said: Said) -> Cell:
    value = said.get(layout.meanings[place], "")
    meaning = layout.meanings[place]
    stored = field_of(layout.subject, meaning.field).unit if meaning.field else ""
    unit = layout.units[place] or usual_unit(stored)
    return round(value / PER_UNIT[unit][1], 3) if isinstance(value, float) and unit in PER_UNIT else value


class _Now:
    """What is recorded now, as the fields of a subject."""

    def __init__(self, connection: Connection, workplace: Workplace, layout: Layout) -> None:
        self.layout, self.zone = layout, workplace.zone()
        self.facts = FleetFacts(connection)
        self.known = self.facts.known
        self.tests: dict[tuple[int, str], Row] = {}
        for row in rows_of(connection, PartTest, None, PartTest.done_on, PartTest.id):
            self.tests[row["part_id"], row["kind"]] = row
        self.people = {each.person_id: each for each in list_people(workplace)}
        self.owners = {row["id"]: row["name"] for row in self.known.owners.values()}
        self.types = {row["id"]: row["code"] for row in self.known.unit_types.values()}

    def records(self) -> Iterator[Said]:
        """Every record of the subject, without the fields of which nothing is known."""
        found = {
            Subject.UNITS: self._units, Subject.PARTS: self._parts, Subject.CYLINDERS: self._cylinders,
            Subject.PEOPLE: self._people, Subject.BOOKINGS: self._bookings,
        }[self.layout.subject]  # fmt: skip
        for said in found():
            yield {meaning: value for meaning, value in said.items() if value not in (None, "")}

    def _units(self) -> Iterator[dict[Meaning, Cell | None]]:
        for unit in self.facts.units(retired=True):
            code = self.types[unit["unit_type_id"]]
            said: dict[Meaning, Cell | None] = {
                Meaning("tag"): unit["tag"], Meaning("unit_type"): "" if code == NOT_KNOWN else code,
                Meaning("serial"): unit["serial"], Meaning("former_tag"): unit["former_tag"],
                Meaning("harness"): unit["harness"], Meaning("retired_on"): unit["retired_on"],
                Meaning("in_service_on"): _marked(unit, "in_service"), **self._where(unit),
            }  # fmt: skip
            seats = list(self.facts.seats(unit))
            for slot in dict.fromkeys(each.slot for each in self.layout.meanings if each.slot):
                found = matching_slot([each for each, _, _ in seats], kind_of_slot(slot), slot)
                for each, seat, part in seats:
                    if found is not None and each["id"] == found["id"] and part is not None:
                        said |= {Meaning(key.field, slot): value for key, value in self._part(part, seat).items()}
            yield said

    def _parts(self) -> Iterator[dict[Meaning, Cell | None]]:
        wanted = self.layout.kind
        for part in self.known.parts.values():
            kind = self.known.type_of[part["part_type_id"]]["kind"]
            if part["state"] not in (PartState.SCRAPPED, PartState.SENT_BACK) and wanted in ("", kind):
                said = self._part(part, self.known.seat_of.get(part["id"]))
                yield {**said, Meaning("kind"): kind, **self._where(part)}

    def _cylinders(self) -> Iterator[dict[Meaning, Cell | None]]:
        for part in self.known.parts.values():
            kind = self.known.type_of[part["part_type_id"]]["kind"]
            if kind.endswith("cylinder") and part["state"] not in (PartState.SCRAPPED, PartState.SENT_BACK):
                role = self.facts.cylinders.get(part["id"], {}).get("role") or kind.removesuffix(" cylinder")
                said = self._part(part, self.known.seat_of.get(part["id"]))
                yield {**said, Meaning("role"): role, **self._where(part)}

    def _people(self) -> Iterator[dict[Meaning, Cell | None]]:
        for each in self.people.values():
            yield {
                Meaning("code"): each.code, Meaning("name"): each.name, Meaning("contact"): each.contact,
                Meaning("role"): each.role,
            }  # fmt: skip

    def _bookings(self) -> Iterator[dict[Meaning, Cell | None]]:
        for row in self.known.bookings:
            if row["cancelled_at"] is None:
                people = {name: self.people.get(row[f"{name}_id"]) for name in ("renter", "instructor")}
                yield {
                    Meaning("code"): row["code"], Meaning("kind"): row["kind"],
                    Meaning("starts_on"): row["starts_on"], Meaning("ends_on"): row["ends_on"],
                    Meaning("unit_type"): self.types[row["unit_type_id"]],
                    Meaning("units_wanted"): float(row["units_wanted"]),
                    **{Meaning(name): (each.name or each.code) if each else None for name, each in people.items()},
                }  # fmt: skip

    def _where(self, row: Row) -> dict[Meaning, Cell | None]:
        return {
            Meaning("owner"): self.owners.get(row["owner_id"]), Meaning("place"): self.facts.places.get(row["place_id"])
        }  # fmt: skip

    def _part(self, part: Row, seat: Row | None) -> dict[Meaning, Cell | None]:
        kind, cylinder = self.known.type_of[part["part_type_id"]], self.facts.cylinders.get(part["id"], {})
        fitted = seat["fitted_at"].astimezone(self.zone).date() if seat and not seat["since_unknown"] else None
        unit = self.known.unit_of.get(seat["unit_id"]) if seat else None
        slot = self.facts.slot_names.get(seat["slot_id"]) if seat else None
        return {
            Meaning("part_serial"): part["serial"], Meaning("part_lot"): part["lot"],
            Meaning("made_on"): _marked(part, "made"), Meaning("opened_on"): _marked(part, "opened"),
            Meaning("fixed_on"): _marked(part, "fixed"), Meaning("received_on"): part["received_on"],
            Meaning("fitted_on"): fitted, Meaning("firmware"): part["firmware"], Meaning("supplier"): part["supplier"],
            Meaning("price"): part["price"], Meaning("size_l"): cylinder.get("size_l"),
            Meaning("working_bar"): cylinder.get("working_bar"), Meaning("material"): cylinder.get("material"),
            Meaning("marking"): cylinder.get("marking"), Meaning("hydrostatic"): self._tested(part, "hydrostatic"),
            Meaning("visual"): self._tested(part, "visual"), Meaning("unit"): unit["tag"] if unit else None,
            Meaning("slot"): slot, Meaning("part_type"): "" if NOT_KNOWN in kind["code"] else kind["code"],
        }  # fmt: skip

    def _tested(self, part: Row, kind: str) -> Cell | None:
        row = self.tests.get((part["id"], kind))
        return _cell_of(row["done_on"], row["precision"]) if row is not None and row["passed"] else None


def _marked(row: Row, name: str) -> Cell | None:
    return _cell_of(row[f"{name}_on"], row[f"{name}_precision"] or "day") if row[f"{name}_on"] else None


def _cell_of(day: date, precision: str) -> Cell:
    """A day as a date, a month, quarter or year as it is marked."""
    return day if precision == "day" else str(MarkedDate(day, Precision(precision)))

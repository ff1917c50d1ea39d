"""Writing what is recorded as the same sheets that an import takes; what no sheet holds is told in sheet_columns.

export_folder(workplace, folder) -> tuple[Path, ...]
write_template(folder) -> tuple[Path, ...]      the same files empty, with a description of every column
"""

import csv
import io
import os
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.records.core.plain_file import new_folder
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.values import Site, write_cell

Row = dict[str, Any]

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
    names: dict[str, dict[int, Row]] = {}
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


def _add(rows: list[Row], more: list[Row], key: str, fields: tuple[str, ...]) -> None:
    """Put what the erasable tables hold beside the rows it belongs to; several notes of one line are joined."""
    found: dict[int, Row] = {}
    for each in more:
        said = found.setdefault(each[key], {})
        for name in fields:
            said[name] = f"{said[name]}\n{each[name]}" if said.get(name) else each[name]
    for row in rows:
        row.update(found.get(row["id"], {}))


def _lines(spec: SheetSpec, rows: list[Row], names: dict[str, dict[int, Row]], site: Site) -> Iterator[list[str]]:
    columns = [
        column
        for column in spec.columns
        if not column.optional or any(row[column.field or ""] is not None for row in rows)
    ]
    yield [column.name for column in columns]
    for row in rows:
        yield [_cell(spec.name, column, row, names, site) for column in columns]


def _cell(sheet: str, column: SheetColumn, row: Row, names: dict[str, dict[int, Row]], site: Site) -> str:
    value = row.get(column.field or column.name)
    if column.name == "record":
        value = value or f"#{row['id']}"
    elif value is not None and column.kind is Kind.LINK:
        target = column.target or ""
        value = _called(target, names[target][value], by_record=target in BY_RECORD.get(sheet, ()))
    elif value is not None and column.kind is Kind.MARKED:
        value = MarkedDate(value, Precision(row[column.precision_field or ""] or "day"))
    return write_cell(column, value, site)


def _called(target: str, row: Row, *, by_record: bool) -> str:
    field = None if by_record else CALLED_BY.get(target)
    return str(row[field]) if field else str(row.get("ref") or f"#{row['id']}")

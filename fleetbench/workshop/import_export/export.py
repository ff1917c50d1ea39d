"""Writing what is recorded as the same sheets that an import takes; what no sheet holds is told in sheet_columns.

export_folder(shop, folder) -> tuple[Path, ...]
"""

import csv
import io
import os
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

from fleetbench.calc.parts.life import MarkedDate, Precision
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.core.workplace import Shop
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


def export_folder(shop: Shop, folder: Path | str) -> tuple[Path, ...]:
    """The sheets written, one file each, readable by their owner only: they hold names and contacts.

    Raises Refused where the folder holds anything already, or cannot be written.
    """
    target = Path(folder)
    today, site = shop.today(), Site(shop.zone())
    try:
        target.mkdir(mode=0o700, parents=True, exist_ok=True)
        if any(target.iterdir()):
            raise Refused(f"export: {target} is not empty; name a new folder")
        with shop.database.reading() as connection:
            return tuple(_write(target / f"{name}.csv", lines) for name, lines in _sheets(connection, site, today))
    except OSError as fault:
        raise Refused(f"export: {target} cannot be written ({fault.strerror}); choose another folder") from fault


def _write(path: Path, lines: Iterable[list[str]]) -> Path:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(lines)
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        file.write(text.getvalue().encode())
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
        value = MarkedDate(value, Precision(row[column.precision_field or ""]))
    return write_cell(column, value, site)


def _called(target: str, row: Row, *, by_record: bool) -> str:
    field = None if by_record else CALLED_BY.get(target)
    return str(row[field]) if field else str(row.get("ref") or f"#{row['id']}")

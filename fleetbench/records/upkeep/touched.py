"""Every row that touches one unit, found by walking the keys of all tables, and the journal's entries that wrote them.

From the unit down to what names it and what names that; the parts that were in it; and up to bookings, sessions and
containers. So a table that is added is found too.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Any

from sqlalchemy import Connection, Table, func, select

from fleetbench.calc.core.languages import say
from fleetbench.records.core.journal import Journal, moment_text
from fleetbench.records.core.schema import CalendarDay, UtcTimestamp
from fleetbench.records.units.history import EvidenceTable
from fleetbench.records.upkeep.tables import metadata

Keys = dict[str, set[int]]

UP = (("booking_unit", "booking_id"), ("calibration", "session_id"), ("fill", "container_id"))
"""What a touched row belongs to, and is shown with it."""

NOT_DOWN = frozenset(("booking_unit", "calibration", "fill"))
"""Rows of others that name the same booking, session or container; they touch other units."""

OPEN_ENDS = frozenset(("removed_at", "lifted_at", "received_at", "back_at", "discarded_at", "signed_at", "until"))
"""Columns that are empty while a thing goes on."""

_MOST_KEYS = 500


@dataclass(frozen=True, slots=True)
class TouchedRows:
    """The rows of each table within some days, the journal's entries that wrote any row, and what was left out."""

    sheets: tuple[EvidenceTable, ...]
    journal: EvidenceTable
    left_out: tuple[str, ...]
    lines: tuple[int, ...]


def rows_touching(connection: Connection, unit_id: int, begins: datetime, ends: datetime, zone: tzinfo) -> TouchedRows:
    """Everything that touches the unit from one moment to another; begins is inclusive, ends is not.

    A row counts where the time that it tells of meets the days, and one that tells of no time always. Erasable rows are
    left out and counted.
    """
    keys = _touched(connection, unit_id)
    sheets: list[EvidenceTable] = []
    left: list[str] = []
    for table in _kept():
        rows = _rows_of(connection, table, keys.get(table.name, set()))
        inside = [row for row in rows if _meets(table, row, begins, ends, zone)]
        if inside:
            names = tuple(column.name for column in table.columns)
            sheets.append(
                EvidenceTable(f"rows_{table.name}", names, tuple(tuple(map(_plain, row.values())) for row in inside))
            )
        if len(inside) < len(rows):
            left.append(say("{name}: {value} rows of other days", name=table.name, value=len(rows) - len(inside)))
    left += _erasable_left_out(connection, keys)
    journal = _entries(connection, keys, begins, ends)
    return TouchedRows(tuple(sheets), journal, tuple(left), tuple(sorted(keys.get("booking_unit", ()))))


def _kept() -> list[Table]:
    return [each for each in metadata.sorted_tables if not each.info.get("erasable") and each is not Journal.__table__]


def _touched(connection: Connection, unit_id: int) -> Keys:
    """The keys of every row that touches the unit, by table."""
    keys: Keys = defaultdict(set)
    _down(connection, keys, "unit", {unit_id}, frozenset())
    _down_from_parts(connection, keys, unit_id)
    for name, column in UP:
        table = metadata.tables[name]
        above = {row[column] for row in _rows_of(connection, table, keys[name]) if row[column] is not None}
        target = next(iter(table.columns[column].foreign_keys)).column.table.name
        _down(connection, keys, target, above, NOT_DOWN)
    return keys


def _down(connection: Connection, keys: Keys, name: str, found: set[int], never: frozenset[str]) -> None:
    """Note rows and, from them on, all that name them, but for tables that are never gone into."""
    fresh = found - keys[name]
    keys[name] |= fresh
    for table, column in _links_to(name) if fresh else ():
        if table.name not in never:
            _down(connection, keys, table.name, _naming(connection, table, column, fresh), never)


def _down_from_parts(connection: Connection, keys: Keys, unit_id: int) -> None:
    """Parts that were ever in the unit or in a part of it, and what names them and no other unit."""
    fitting = metadata.tables["fitting"]
    parts = {row["part_id"] for row in _rows_of(connection, fitting, keys["fitting"])}
    while True:
        within = _naming(connection, fitting, "host_part_id", parts)
        inner = {row["part_id"] for row in _rows_of(connection, fitting, within)} - parts
        keys["fitting"] |= within
        if not inner:
            break
        parts |= inner
    keys["part"] |= parts
    for table, column in _links_to("part"):
        # rows without a time of their own, such as a cell's reading, belong to the record they were made in
        if table.name == "fitting" or not (_own_times(table) or table.name == "cylinder"):
            continue
        found = _naming(connection, table, column, parts)
        if "unit_id" in table.columns:
            rows = _rows_of(connection, table, found)
            found = {row["id"] for row in rows if row["unit_id"] in (None, unit_id)}
        _down(connection, keys, table.name, found, frozenset())


def _links_to(name: str) -> list[tuple[Table, str]]:
    return [
        (table, column.name)
        for table in _kept()
        for column in table.columns
        if any(key.column.table.name == name for key in column.foreign_keys)
    ]


def _naming(connection: Connection, table: Table, column: str, keys: set[int]) -> set[int]:
    return {
        key
        for some in _in_steps(keys)
        for key in connection.scalars(select(table.c.id).where(table.c[column].in_(some)))
    }


def _rows_of(connection: Connection, table: Table, keys: set[int]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for some in _in_steps(keys):
        query = select(table).where(table.c.id.in_(some)).order_by(table.c.id)
        found += [{**row} for row in connection.execute(query).mappings()]
    return found


def _in_steps(keys: set[int]) -> Iterable[list[int]]:
    listed = sorted(keys)
    return (listed[start : start + _MOST_KEYS] for start in range(0, len(listed), _MOST_KEYS))


def _meets(table: Table, row: Mapping[str, Any], begins: datetime, ends: datetime, zone: tzinfo) -> bool:
    """Whether the time that a row tells of meets the days; what goes on still has no end."""
    told = _own_times(table)
    times = [_moment(row[name], zone) for name in told if row[name] is not None]
    if not times:
        return True
    goes_on = any(name in OPEN_ENDS and row[name] is None for name in told)
    return min(times) < ends and (goes_on or max(times) >= begins)


def _own_times(table: Table) -> list[str]:
    return [column.name for column in table.columns if isinstance(column.type, UtcTimestamp | CalendarDay)]


def _moment(value: date | datetime, zone: tzinfo) -> datetime:
    return value if isinstance(value, datetime) else datetime.combine(value, time(12), zone)


def _erasable_left_out(connection: Connection, keys: Keys) -> list[str]:
    """How many erasable rows name a row that touches the unit; what stands in them is not copied."""
    said = []
    for table in (each for each in metadata.sorted_tables if each.info.get("erasable") and each.name != "signed_page"):
        count = 0
        for column in table.columns:
            for key in column.foreign_keys:
                for some in _in_steps(keys.get(key.column.table.name, set())):
                    count += connection.scalar(select(func.count()).where(column.in_(some))) or 0
        if count:
            said.append(
                say("{name}: {count} rows, names and free words that can be erased", name=table.name, count=count)
            )
    return said


def _entries(connection: Connection, keys: Keys, begins: datetime, ends: datetime) -> EvidenceTable:
    """The entries of the days that wrote a row which touches the unit, as they are chained."""
    table = Journal.__table__
    names = ("entry", "at", "person", "act", "subject", "content", "previous", "hash")
    query = select(table).where(table.c.at >= begins, table.c.at < ends).order_by(table.c.id)
    found = [
        (row.id, moment_text(row.at), row.person_id, row.act, row.subject, row.content, row.previous, row.hash)
        for row in connection.execute(query)
        if any(key in keys.get(name, ()) for name, key, *_ in json.loads(row.content).get("rows", ()))
    ]
    return EvidenceTable("journal", names, tuple(found))


def _plain(value: Any) -> Any:
    return moment_text(value) if isinstance(value, datetime) else value

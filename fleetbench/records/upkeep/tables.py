"""Every table, loaded, so that migrations and checks see the whole schema.

What a table holds, told without SQL: its columns with their rules, what stands in it once only, and its rows.

Rules that no single row shows: a part sits in one place, a place holds one part, ticket numbers leave no gap.

Nor is a ticket signed by one person twice, or while a clock runs under it.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from typing import Any, cast

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    ColumnElement,
    Connection,
    Date,
    DateTime,
    Float,
    Integer,
    String,
    Table,
    UniqueConstraint,
    and_,
    func,
    select,
    text,
)

from fleetbench.calc.core.languages import say
from fleetbench.records.bench import tables as equipment
from fleetbench.records.bench import tables as valves
from fleetbench.records.canisters import tables as canisters
from fleetbench.records.cells import tables as cells
from fleetbench.records.core import journal
from fleetbench.records.core.database import VERSION_TABLE
from fleetbench.records.core.schema import Base, CalendarDay, Figure, UtcTimestamp
from fleetbench.records.gas import tables as gas
from fleetbench.records.gas import tables as oxygen_side
from fleetbench.records.hires import tables as hires
from fleetbench.records.notices import tables as notices
from fleetbench.records.parts import tables as part_events
from fleetbench.records.parts import tables as parts
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.people import retention
from fleetbench.records.people import tables as people
from fleetbench.records.people import tables as pins
from fleetbench.records.places import tables as places
from fleetbench.records.tickets import photographs
from fleetbench.records.tickets import tables as service_plan
from fleetbench.records.tickets import tables as tickets
from fleetbench.records.tickets.tables import Ticket, TicketTime
from fleetbench.records.turn_rounds import tables as handsets
from fleetbench.records.turn_rounds import tables as turn_rounds
from fleetbench.records.units import tables as units
from fleetbench.shipped import shipped

SUBJECTS = (
    people, pins, places, units, parts, part_events, cells, canisters, valves, gas, oxygen_side, equipment, notices,
    tickets, photographs, hires, retention, service_plan, turn_rounds, handsets, journal,
)  # fmt: skip
"""The modules that hold tables."""

metadata = Base.metadata


__all__ = [
    "ColumnFacts", "Connection", "Holds", "column_facts", "count_of", "row_of", "rows_of", "same_row", "table_name",
    "unique_sets",
]  # fmt: skip


class Holds(Enum):
    """What a column holds."""

    TEXT = "text"
    WORD = "word"
    WHOLE = "whole number"
    FIGURE = "number"
    YES_NO = say("yes or no")
    DAY = "date"
    MOMENT = "date and time"
    KEY = "key"


@dataclass(frozen=True, slots=True)
class ColumnFacts:
    """One column: what it holds, whether it must, and its words, length or target table where it has them."""

    name: str
    holds: Holds
    required: bool
    default: Any
    words: tuple[str, ...]
    longest: int | None
    target: str | None


def table_name(kind: type[Base]) -> str:
    """The table's name in the database."""
    return _table(kind).name


def column_facts(kind: type[Base]) -> dict[str, ColumnFacts]:
    """Every column of a table by name."""
    table = _table(kind)
    return {column.name: _facts(table, column) for column in table.columns}


MAY_LIE_AHEAD = frozenset((
    "by_when", "ended_by", "ends_on", "expected_on", "fixed_on", "forecast_day", "in_service_on", "last_good_day",
    "retired_on",
    "starts_on", "until", "use_by", "valid_until",
))  # fmt: skip
"""Days and moments that a plan or a limit states; any other tells of what happened."""


def days_and_moments_past(kind: type[Base]) -> tuple[str, ...]:
    """The columns of a table that tell when something happened, so that none can lie ahead."""
    return tuple(
        column.name
        for column in _table(kind).columns
        if isinstance(column.type, UtcTimestamp | CalendarDay) and column.name not in MAY_LIE_AHEAD
    )


def unique_sets(kind: type[Base]) -> tuple[tuple[str, ...], ...]:
    """Columns whose values together may stand only once in a table, whatever else the rows hold."""
    table = _table(kind)
    found = [tuple(each.columns.keys()) for each in table.constraints if isinstance(each, UniqueConstraint)]
    found += [
        tuple(index.columns.keys())
        for index in table.indexes
        if index.unique and index.dialect_options["sqlite"].get("where") is None
    ]
    return tuple(sorted(found))


def rows_of(
    connection: Connection, kind: type[Base], chosen: ColumnElement[bool] | None = None, *order: Any
) -> list[dict[str, Any]]:
    """The rows of a table as column and value, all or chosen ones, by key or in the order asked for; one statement."""
    table = _table(kind)
    query = select(table).order_by(*(order or (table.c.id,)))
    if chosen is not None:
        query = query.where(chosen)
    return [dict(row) for row in connection.execute(query).mappings()]


def row_of(connection: Connection, kind: type[Base], key: int) -> dict[str, Any] | None:
    """The row with that key as column and value, or None."""
    return next(iter(rows_of(connection, kind, _table(kind).c.id == key)), None)


def count_of(connection: Connection, kind: type[Base], *, in_force: bool = False) -> int:
    """How many rows a table has; in_force: those that no correction ended; one statement."""
    table = _table(kind)
    query = select(func.count()).select_from(table)
    return connection.scalar(query.where(table.c.ended_at.is_(None)) if in_force else query) or 0


def same_row(connection: Connection, kind: type[Base], values: Mapping[str, Any], but: int) -> dict[str, Any] | None:
    """Another row than `but` in which these columns hold these values, or None."""
    table = _table(kind)
    same = and_(table.c.id != but, *(table.c[name].is_not_distinct_from(value) for name, value in values.items()))
    return next(iter(rows_of(connection, kind, same)), None)


def _table(kind: type[Base]) -> Table:
    return cast("Table", kind.__table__)


def _facts(table: Table, column: Column[Any]) -> ColumnFacts:
    words = _words(table, column.name)
    key = next(iter(column.foreign_keys), None)
    return ColumnFacts(
        name=column.name,
        holds=Holds.KEY if key is not None else Holds.WORD if words else holds(column),
        required=not (column.nullable or column.default is not None),
        default=getattr(column.default, "arg", None),
        words=words,
        longest=column.type.length if isinstance(column.type, String) else None,
        target=key.column.table.name if key is not None else None,
    )


def holds(column: Column[Any]) -> Holds:
    """What a column holds by its type, whether this program or a database tells it."""
    for kind, held in (
        (UtcTimestamp | DateTime, Holds.MOMENT), (CalendarDay | Date, Holds.DAY), (Figure | Float, Holds.FIGURE),
        (Boolean, Holds.YES_NO), (Integer, Holds.WHOLE),
    ):  # fmt: skip
        if isinstance(column.type, kind):
            return held
    return Holds.TEXT


def _words(table: Table, column: str) -> tuple[str, ...]:
    for constraint in table.constraints:
        if isinstance(constraint, CheckConstraint) and str(constraint.name).endswith(f"{table.name}_{column}_word"):
            return tuple(re.findall(r"'([^']*)'", str(constraint.sqltext)))
    return ()


def broken_rules(connection: Connection) -> Iterator[str]:
    """Every rule of fittings or tickets that the rows break, in words; six statements."""
    for find in (_parts_twice, _slots_twice, _taken_out_first, _ticket_gaps, _second_is_first, _clock_runs_on):
        yield from find(connection)


def _parts_twice(connection: Connection) -> Iterator[str]:
    query = select(Fitting.part_id).where(Fitting.removed_at.is_(None)).group_by(Fitting.part_id)
    for part in connection.scalars(query.having(func.count() > 1).order_by(Fitting.part_id)):
        yield say("part row {part}: sits in two places at once", part=part)


def _slots_twice(connection: Connection) -> Iterator[str]:
    place = (Fitting.slot_id, Fitting.unit_id, Fitting.host_part_id)
    query = select(*place).where(Fitting.removed_at.is_(None)).group_by(*place).having(func.count() > 1)
    for slot, unit, host in connection.execute(query.order_by(*place)).all():
        where = say("unit row {unit}", unit=unit) if unit is not None else say("part row {host}", host=host)
        yield say("slot row {slot} of {where}: holds two parts at once", slot=slot, where=where)


def _taken_out_first(connection: Connection) -> Iterator[str]:
    query = select(Fitting.id).where(Fitting.removed_at < Fitting.fitted_at).order_by(Fitting.id)
    for fitting in connection.scalars(query):
        yield say("fitting row {fitting}: the part was removed before it was fitted", fitting=fitting)


def _ticket_gaps(connection: Connection) -> Iterator[str]:
    query = select(Ticket.year, Ticket.number).order_by(Ticket.year, Ticket.number)
    for year, missing, following in ticket_gaps((row.year, row.number) for row in connection.execute(query)):
        yield say(
            "ticket {year}-{missing:03d}: is missing; the next one is {year}-{following:03d}",
            year=year,
            missing=missing,
            following=following,
        )


def ticket_gaps(numbers: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int, int]]:
    """Year, the first missing number and the one that follows, of year and number in their order.

    Numbers of a year run on from the lowest, so that none was taken out; sheets may begin in mid-year.
    """
    last: dict[int, int] = {}
    for year, number in numbers:
        if number > last.get(year, number - 1) + 1:
            yield year, last[year] + 1, number
        last[year] = number


def _second_is_first(connection: Connection) -> Iterator[str]:
    query = select(Ticket.id).where(Ticket.second_id == Ticket.signed_by_id).order_by(Ticket.id)
    for ticket in connection.scalars(query):
        yield say("ticket row {ticket}: its second person is its signer", ticket=ticket)


def _clock_runs_on(connection: Connection) -> Iterator[str]:
    query = select(Ticket.id).join(TicketTime, TicketTime.ticket_id == Ticket.id)
    query = query.where(Ticket.signed_at.is_not(None), TicketTime.ended_at.is_(None))
    for ticket in connection.scalars(query.distinct().order_by(Ticket.id)):
        yield say("ticket row {ticket}: is signed while a clock runs under it", ticket=ticket)


def lay_down(connection: Connection) -> str:
    """Make the tables of a new database as a script of the program has them; the revision that it notes in them.

    That of a server is sent whole. Nothing is committed here.
    """
    name = connection.dialect.name
    script = (shipped("alembic") / f"newest.{name}.sql").read_text(encoding="utf-8")
    for statement in script.split(";\n") if name == "sqlite" else [script]:
        connection.exec_driver_sql(statement, execution_options={"no_parameters": True})
    return str(connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}")))


RIGHTS = """
SELECT c.relname, x.part, CASE a.grantee WHEN 0 THEN 'PUBLIC' ELSE quote_ident(pg_get_userbyid(a.grantee)) END,
    string_agg(a.privilege_type || x.part, ', '), a.is_grantable
FROM pg_class c
CROSS JOIN LATERAL (SELECT '', c.relacl UNION ALL SELECT ' (' || quote_ident(attname) || ')', attacl FROM pg_attribute
    WHERE attrelid = c.oid) x (part, acl)
CROSS JOIN LATERAL aclexplode(x.acl) a
WHERE c.relkind IN ('r', 'p') AND c.relnamespace = current_schema()::regnamespace AND a.grantee <> c.relowner
GROUP BY 1, 2, 3, 5
"""
"""What owners of tables on a server granted to others, of a table as a whole or of one column."""

OWNERS = "SELECT tablename, quote_ident(tableowner) FROM pg_tables WHERE schemaname = current_schema()"
LIKE = {False: "centre", True: "person_private"}
"""The table whose rights a new one is given, by whether its rows can be erased."""


@contextmanager
def rights_kept(connection: Connection) -> Iterator[None]:
    """Let tables that are made meanwhile on a server have the owner and rights of those that they replace.

    One that replaces none has those of a table of its kind. The user must be a member of the owner.
    """
    if connection.dialect.name == "sqlite":
        yield
        return
    owners = {name: owner for name, owner in connection.execute(text(OWNERS))}
    rights = connection.execute(text(RIGHTS)).all()
    yield
    said = list[str]()
    for name, made_by in connection.execute(text(OWNERS)).all():
        erasable = name in metadata.tables and bool(metadata.tables[name].info.get("erasable"))
        like = name if name in owners else LIKE[erasable]
        if like in owners and owners[like] != made_by:
            said.append(f'ALTER TABLE "{name}" OWNER TO {owners[like]}')
        for table, part, whom, what, passes_on in rights:
            if table == like and (not part or like == name):
                said.append(f'GRANT {what} ON TABLE "{name}" TO {whom}{" WITH GRANT OPTION" * passes_on}')
    if said:
        connection.exec_driver_sql("; ".join(said), execution_options={"no_parameters": True})

"""Records of a clock that ran ahead: which they are, and when they can have been made at the earliest."""

import json
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from sqlalchemy import Table, select

from fleetbench.records.core.journal import Journal
from fleetbench.records.core.schema import Base
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.upkeep.tables import days_and_moments_past

STEP = timedelta(microseconds=1)


def move_back_what_lies_ahead(act: Transaction, zone: tzinfo) -> int:
    """How many rows of entries dated after the act's clock got the earliest time that they can have, in their order.

    That is what another desk's clock said, or the moment after the entry before: a rated life is never lengthened.
    """
    moved = 0
    for key, (table, shift) in _written_ahead(act).items():
        row = act.session.get(_class_of(table), key[1])
        values = _sooner(act, row, shift, zone) if row is not None else {}
        if row is not None and values:
            act.change(row, **values)
            moved += 1
    return moved


def _written_ahead(act: Transaction) -> dict[tuple[str, int], tuple[Table, timedelta]]:
    """Every row that an entry dated ahead wrote, with by how much that entry's time is too late."""
    before = select(Journal.at).where(Journal.at <= act.at).order_by(Journal.id.desc()).limit(1)
    last = act.session.scalar(before)
    ahead = select(Journal.at, Journal.content).where(Journal.at > act.at).order_by(Journal.id)
    found: dict[tuple[str, int], tuple[Table, timedelta]] = {}
    for at, text in act.session.execute(ahead).all():
        content = json.loads(text)
        said = content.get("clock")
        true = datetime.fromisoformat(said) if said is not None else (last or act.at) + STEP
        last = min(max(true, last or true), act.at)
        for name, key, _ in content["rows"]:
            found[name, key] = (Base.metadata.tables[name], at - last)
    return found


def _sooner(act: Transaction, row: Base, shift: timedelta, zone: tzinfo) -> dict[str, Any]:
    values: dict[str, Any] = {}
    today = act.at.astimezone(zone).date()
    for name in days_and_moments_past(type(row)):
        value = getattr(row, name)
        if isinstance(value, datetime) and value > act.at:
            values[name] = min(value - shift, act.at)
        elif isinstance(value, date) and not isinstance(value, datetime) and value > today:
            values[name] = min(value - shift, today)
    return values


def _class_of(table: Table) -> type[Base]:
    found: type[Base] = next(each.class_ for each in Base.registry.mappers if each.local_table is table)
    return found

"""Reads from which the need of parts is reckoned: services, open replacing tasks, what was used up, kits, shelves."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, and_, func, select
from sqlalchemy.orm import Session

from fleetbench.records.core.record_rows import records_of
from fleetbench.records.parts.part_events import KitContent, PartEvent
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.places.tables import Place
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.records.units.tables import Slot


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """A part served in a slot from one moment to another."""

    part_id: int
    part_type_id: int
    lot: str | None
    unit_id: int | None
    host_part_id: int | None
    slot: str
    fitted_at: datetime
    removed_at: datetime | None
    why_removed: str | None


@dataclass(frozen=True, slots=True)
class OpenTaskRecord:
    """A task of an open ticket that is not done."""

    unit_id: int
    ticket_id: int
    text: str


@dataclass(frozen=True, slots=True)
class KitRecord:
    """How many parts of a type a kit must hold and holds."""

    place_id: int
    place: str
    part_type_id: int
    code: str
    part_type: str
    least: int
    held: int


def read_services(connection: Connection) -> tuple[ServiceRecord, ...]:
    """Every fitting, past and present, oldest first; one statement."""
    query = (
        select(
            Fitting.part_id, Part.part_type_id, Part.lot, Fitting.unit_id, Fitting.host_part_id, Slot.name,
            Fitting.fitted_at, Fitting.removed_at, Fitting.why_removed,
        )
        .join(Part, Part.id == Fitting.part_id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .order_by(Fitting.fitted_at, Fitting.id)
    )  # fmt: skip
    return records_of(connection, query, ServiceRecord)


def read_open_tasks(connection: Connection) -> tuple[OpenTaskRecord, ...]:
    """Tasks not done of tickets not signed; one statement."""
    query = (
        select(Ticket.unit_id, Ticket.id, Task.text)
        .join(Task, Task.ticket_id == Ticket.id)
        .where(Ticket.signed_at.is_(None), Task.state != "done")
        .order_by(Ticket.id, Task.ordinal)
    )
    return records_of(connection, query, OpenTaskRecord)


def read_used_up(connection: Connection, since: datetime) -> dict[int, int]:
    """How many pieces of each part type were used up since a moment, slips taken back left out; one statement."""
    back = select(PartEvent.undoes_id).where(PartEvent.undoes_id.is_not(None))
    query = (
        select(Part.part_type_id, func.count())
        .join(PartEvent, PartEvent.part_id == Part.id)
        .where(PartEvent.kind == "used up", PartEvent.at >= since, PartEvent.id.not_in(back))
        .group_by(Part.part_type_id)
    )
    return {part_type_id: count for part_type_id, count in connection.execute(query)}


def read_kits(connection: Connection) -> tuple[KitRecord, ...]:
    """Every kit's least contents with what it holds in stock, by kit and type; one statement."""
    query = (
        select(
            Place.id, Place.name, KitContent.part_type_id, PartType.code, PartType.name, KitContent.least,
            func.count(Part.id),
        )
        .join(Place, Place.id == KitContent.place_id)
        .join(PartType, PartType.id == KitContent.part_type_id)
        .outerjoin(
            Part,
            and_(
                Part.place_id == Place.id, Part.part_type_id == KitContent.part_type_id, Part.state == "stock"
            ),
        )
        .group_by(Place.id, Place.name, KitContent.part_type_id, PartType.code, PartType.name, KitContent.least)
        .order_by(Place.name, PartType.name)
    )  # fmt: skip
    return records_of(connection, query, KitRecord)


def read_shelf_places(connection: Connection) -> dict[int, str]:
    """The place of every part in stock that lies in one; one statement."""
    query = select(Part.id, Place.name).join(Place, Place.id == Part.place_id).where(Part.state == "stock")
    return {part_id: name for part_id, name in connection.execute(query)}


def kit_content_of(session: Session, place_id: int, part_type_id: int) -> KitContent | None:
    """What a kit must hold of a part type, if that was said."""
    query = select(KitContent).where(KitContent.place_id == place_id, KitContent.part_type_id == part_type_id)
    return session.scalar(query)

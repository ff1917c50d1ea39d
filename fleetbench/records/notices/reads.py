"""Reads of notices and of the units on which their action was done.

What a notice may touch: every part with its marks, where it sat, the hires in that time, and absorbent by lot.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, literal, select
from sqlalchemy.orm import Session

from fleetbench.calc.core.languages import in_row, say_ref
from fleetbench.calc.notices.scope import Covered, NoticeFacts
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.records.canisters.reads import still_counts
from fleetbench.records.canisters.tables import Container, Fill, Run
from fleetbench.records.core.schema import Query, read_if_changed, reads, select_of
from fleetbench.records.notices.tables import Notice, NoticeDone, NoticeScope
from fleetbench.records.parts.tables import Part, PartType
from fleetbench.records.places.tables import Place
from fleetbench.records.units.tables import Hold, UnitType


@dataclass(frozen=True, slots=True)
class NoticeScopeRecord:
    """One thing that a notice covers."""

    notice_id: int
    notice: NoticeFacts
    scope: Covered


@reads(NoticeScopeRecord)
def read_notice_scopes() -> Query:
    """Every scope of every notice, oldest first; one statement."""
    return (
        select_of(NoticeScopeRecord, Notice, NoticeScope)
        .join(NoticeScope, NoticeScope.notice_id == Notice.id)
        .order_by(Notice.issued_on, Notice.id, NoticeScope.id)
    )


@read_if_changed
def read_notices_done(connection: Connection) -> frozenset[tuple[int, int]]:
    """(notice, unit) wherever a notice's action was done; one statement."""
    found = connection.execute(select(NoticeDone.notice_id, NoticeDone.unit_id))
    return frozenset((notice_id, unit_id) for notice_id, unit_id in found)


@dataclass(frozen=True, slots=True)
class NoticeRecord:
    """One notice by its key."""

    notice_id: int
    notice: NoticeFacts


@dataclass(frozen=True, slots=True)
class MarkedPartRecord:
    """One part with everything a notice can name it by."""

    part_id: int
    part_type: str
    code: str
    serial: str | None
    lot: str | None
    ref: str | None
    firmware: str | None
    state: str
    place: str | None
    kind: str

    @property
    def label(self) -> str:
        """Serial, else lot, else the record's number."""
        lot = say_ref("lot {ref}", self.lot) if self.lot else self.ref
        return self.serial or lot or say_ref("part {ref}", self.part_id)


@dataclass(frozen=True, slots=True)
class FillUseRecord:
    """A fill packed from a container was used in a unit, from its first run to its last."""

    container_id: int
    unit_id: int
    line_id: int | None
    first_at: datetime
    last_at: datetime


def notice_numbered(session: Session, number: str) -> Notice | None:
    """The notice with this number, if it is recorded."""
    return session.scalar(select(Notice).where(Notice.number == number))


def done_on(session: Session, notice_id: int, unit_id: int) -> NoticeDone | None:
    """Where the notice's action was recorded as done on the unit, if it was."""
    query = select(NoticeDone).where(NoticeDone.notice_id == notice_id, NoticeDone.unit_id == unit_id)
    return session.scalar(query)


def notice_holds(session: Session, number: str, *, unit_id: int | None = None) -> list[Hold]:
    """Open holds that a notice placed, on everything or on one unit."""
    query = select(Hold).where(Hold.kind == HoldKind.NOTICE, Hold.lifted_at.is_(None)).order_by(Hold.id)
    if unit_id is not None:
        query = query.where(Hold.unit_id == unit_id)
    return [hold for hold in session.scalars(query) if hold.reason.startswith(hold_mark(number))]


def hold_mark(number: str) -> str:
    """How the reason of a notice's hold begins."""
    return in_row(f"notice {number}: ")


@reads(NoticeRecord)
def read_notices() -> Query:
    """Every notice, newest first; one statement."""
    return select_of(NoticeRecord, Notice).order_by(Notice.issued_on.desc(), Notice.id.desc())


@dataclass(frozen=True, slots=True)
class DoneRecord:
    """On which unit a notice's action was done, when and by whom."""

    unit_id: int
    at: datetime
    person_id: int
    note: str | None


@reads(DoneRecord)
def read_done(notice_id: int) -> Query:
    """Every unit on which a notice's action was done, oldest first; one statement."""
    return select_of(DoneRecord, NoticeDone).where(NoticeDone.notice_id == notice_id).order_by(NoticeDone.id)


def read_type_names(connection: Connection) -> tuple[tuple[str, str, str], ...]:
    """(`unit type` or `part type`, code, name) of every type, by name; two statements."""
    units = connection.execute(select(literal("unit type"), UnitType.code, UnitType.name).order_by(UnitType.name))
    parts = connection.execute(select(literal("part type"), PartType.code, PartType.name).order_by(PartType.name))
    return tuple((what, code, name) for what, code, name in (*units, *parts))


@reads(MarkedPartRecord)
def read_marked_parts() -> Query:
    """Every part with its marks; one statement."""
    return (
        select_of(MarkedPartRecord, Part, PartType, part_type=PartType.name, place=Place.name)
        .join(PartType, PartType.id == Part.part_type_id)
        .outerjoin(Place, Place.id == Part.place_id)
        .order_by(Part.id)
    )


@reads(FillUseRecord)
def read_fill_uses(container_ids: tuple[int, ...]) -> Query:
    """In which units and hires fills from these containers were used; one statement."""
    return (
        select_of(
            FillUseRecord,
            Fill,
            Run,
            line_id=Run.booking_unit_id,
            first_at=func.min(Run.started_at),
            last_at=func.max(func.coalesce(Run.ended_by, Run.started_at)),
        )
        .join(Run, Run.fill_id == Fill.id)
        .where(Fill.container_id.in_(container_ids), still_counts())
        .group_by(Fill.container_id, Run.unit_id, Run.booking_unit_id)
        .order_by(func.min(Run.started_at))
    )


def read_packed_now(connection: Connection, container_ids: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """(container, canister part) of fills from these containers that were not thrown away yet; one statement."""
    query = (
        select(Container.id, Fill.part_id)
        .join(Fill, Fill.container_id == Container.id)
        .where(Container.id.in_(container_ids), Fill.discarded_at.is_(None))
    )
    return tuple((container_id, part_id) for container_id, part_id in connection.execute(query))


def read_fills_from(connection: Connection, container_ids: tuple[int, ...]) -> dict[int, frozenset[int]]:
    """Every fill that was packed from each of these containers, by its key; one statement."""
    found: dict[int, set[int]] = {each: set() for each in container_ids}
    query = select(Fill.container_id, Fill.id).where(Fill.container_id.in_(container_ids))
    for container_id, fill_id in connection.execute(query):
        if container_id is not None:
            found[container_id].add(fill_id)
    return {key: frozenset(fills) for key, fills in found.items()}

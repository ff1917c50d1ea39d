"""Reads of notices and of the units on which their action was done."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from fleetbench.records.core.record_rows import records_of
from fleetbench.records.notices.tables import Notice, NoticeDone, NoticeScope


@dataclass(frozen=True, slots=True)
class NoticeScopeRecord:
    """One thing that a notice covers."""

    notice_id: int
    number: str
    issued_on: date
    title: str
    action: str
    by_when: date | None
    weight: str
    covers: str
    first: str
    last: str | None


def read_notice_scopes(connection: Connection) -> tuple[NoticeScopeRecord, ...]:
    """Every scope of every notice, oldest first; one statement."""
    query = (
        select(
            Notice.id, Notice.number, Notice.issued_on, Notice.title, Notice.action, Notice.by_when, Notice.weight,
            NoticeScope.covers, NoticeScope.first, NoticeScope.last,
        )
        .join(NoticeScope, NoticeScope.notice_id == Notice.id)
        .order_by(Notice.issued_on, Notice.id, NoticeScope.id)
    )  # fmt: skip
    return records_of(connection, query, NoticeScopeRecord)


def read_notices_done(connection: Connection) -> frozenset[tuple[int, int]]:
    """(notice, unit) wherever a notice's action was done; one statement."""
    found = connection.execute(select(NoticeDone.notice_id, NoticeDone.unit_id))
    return frozenset((notice_id, unit_id) for notice_id, unit_id in found)

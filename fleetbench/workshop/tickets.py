"""Service tickets as lists and pages show them.

list_tickets(shop, open_only=False) -> tuple[TicketRow, ...]
ticket_page(shop, number) -> TicketPage      number as printed, for instance 2026-014
"""

from dataclasses import dataclass
from datetime import datetime

from fleetbench.workshop.cells import OutcomeLine
from fleetbench.workshop.valves import TestLine


@dataclass(frozen=True, slots=True)
class TicketRow:
    """One ticket; signed_at None while it is open."""

    ticket_id: int
    number: str
    unit: str
    cause: str
    reason: str
    critical: bool
    opened_at: datetime
    opened_by: str
    minutes: float
    tasks_open: int
    tasks_done: int
    put_off: int
    refers_to: str | None
    signed_at: datetime | None
    signed_by: str | None


@dataclass(frozen=True, slots=True)
class FindingLine:
    """Something seen under a ticket."""

    at: datetime
    person: str | None
    text: str


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One thing to do under a ticket."""

    task_id: int
    ordinal: int
    text: str
    critical: bool
    state: str
    minutes: float | None
    settled_at: datetime | None
    person: str | None
    put_off_reason: str | None
    times_put_off: int


@dataclass(frozen=True, slots=True)
class MoveLine:
    """A part that came out or went in under a ticket; `way` is out or in."""

    way: str
    at: datetime
    slot: str
    host: str | None
    part_id: int
    part: str
    part_type: str
    serial: str | None
    lot: str | None
    why: str | None
    person: str | None


@dataclass(frozen=True, slots=True)
class SignOff:
    """Signature with the journal entry that holds it; entry None where the record came from a sheet."""

    at: datetime
    person: str
    entry: int | None
    entry_hash: str | None


@dataclass(frozen=True, slots=True)
class TicketPage:
    """Everything done under one ticket."""

    row: TicketRow
    unit_type: str
    unit_serial: str
    findings: tuple[FindingLine, ...]
    tasks: tuple[TaskLine, ...]
    moves: tuple[MoveLine, ...]
    tests: tuple[TestLine, ...]
    calibrations: tuple[OutcomeLine, ...]
    openings: tuple[str, ...]
    disinfections: tuple[str, ...]
    sign_off: SignOff | None
    journal_entry: int | None
    journal_hash: str | None

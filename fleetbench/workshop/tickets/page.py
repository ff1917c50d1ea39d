"""What stands on the page where a ticket is worked on, in one load."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.records.bench.lookups import signers
from fleetbench.records.core.act import Act
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.upkeep.lookups import name_of, unit_by_tag
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.fit import SlotLine, slot_lines
from fleetbench.workshop.people.list import PersonRow, list_people
from fleetbench.workshop.tickets.list import TicketPage, TicketRow, list_tickets, ticket_page
from fleetbench.workshop.tickets.ticket_slips import Slip, last_slip
from fleetbench.workshop.tickets.work import SIGNERS, reasons_against_signing, signer_fact


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who may sign a unit off; without a PIN one is set first."""

    person_id: int
    name: str
    has_pin: bool
    qualified: bool = True


@dataclass(frozen=True, slots=True)
class TicketDesk:
    """A ticket with the unit's slots, who may sign, and why it cannot be signed yet (empty where it can).

    needs_second: a second person must sign too. role: of whoever is at the bench, None where nobody is. slip: what was
    entered last and may still be put right. now: when it was read, for the clocks that run.
    """

    page: TicketPage
    slots: tuple[SlotLine, ...]
    against: tuple[str, ...]
    signers: tuple[Signer, ...]
    people: tuple[PersonRow, ...]
    now: datetime
    needs_second: bool = False
    role: str | None = None
    person: str | None = None
    slip: Slip | None = None

    @property
    def is_open(self) -> bool:
        """True until it is signed."""
        return self.page.row.signed_at is None


def ticket_desk(shop: Shop, number: str) -> TicketDesk:
    """Everything for working on a ticket, by its number as printed; NotFound for another text."""
    page = ticket_page(shop, number)
    is_open = page.row.signed_at is None
    people = list_people(shop)
    mine = next((each for each in people if each.person_id == shop.person_id), None)
    return TicketDesk(
        page=page,
        slots=slot_lines(shop, page.row.unit),
        against=reasons_against_signing(shop, page.row.ticket_id) if is_open else (),
        signers=may_sign(shop, (page.row.unit,)) if is_open else (),
        people=people,
        now=shop.clock(),
        needs_second=any(task.second_person and task.state == "done" for task in page.tasks),
        role=mine.role if mine is not None else None,
        person=mine.name if mine is not None else None,
        slip=last_slip(shop, page.row.ticket_id) if is_open and mine is not None else None,
    )


def may_sign(shop: Shop, tags: Sequence[str]) -> tuple[Signer, ...]:
    """Who may sign by role, and whether each is qualified today for the type of every one of these units."""
    today = shop.today()
    with shop.database.looking() as session:
        act = Act(session, shop.clock(), shop.person_id, "look", "")
        types = {unit_by_tag(session, tag).unit_type_id for tag in tags}
        return tuple(
            Signer(
                row.id,
                name_of(session, row.id),
                bool(row.pin_digest),
                all(signer_fact(act, row, kind, today).qualified for kind in types),
            )
            for row in signers(session, SIGNERS)
        )


@dataclass(frozen=True, slots=True)
class FinishedTicket:
    """An open ticket against whose signature nothing stands, with what was done under it in short."""

    row: TicketRow
    findings: tuple[str, ...]
    tasks: tuple[str, ...]
    not_counted: tuple[str, ...]
    parts: tuple[str, ...]
    tests: tuple[str, ...]
    needs_second: bool


def finished_tickets(shop: Shop) -> tuple[FinishedTicket, ...]:
    """Every open ticket that can be signed now, newest first, each with what its signature would stand for.

    Only tickets without a task to do are looked at one by one: those wait for nothing but a signature.
    """
    waiting = [row for row in list_tickets(shop, open_only=True) if not row.tasks_open]
    ready = [row for row in waiting if not reasons_against_signing(shop, row.ticket_id)]
    return tuple(_finished(ticket_page(shop, row.number)) for row in ready)


def _finished(page: TicketPage) -> FinishedTicket:
    return FinishedTicket(
        page.row,
        tuple(each.text for each in page.findings),
        tuple(f"{each.text}: {each.state}" + (f", {each.put_off_reason}" if each.put_off_reason else "")
              for each in page.tasks),
        page.not_counted,
        tuple(f"{each.way} {each.slot}: {each.part}" for each in page.moves),
        tuple(f"{each.kind}: {each.result}" for each in page.tests),
        any(each.second_person and each.state == "done" for each in page.tasks),
    )  # fmt: skip


def number_of(shop: Shop, ticket_id: int) -> str:
    """The number of a ticket as printed."""
    with shop.database.reading() as connection:
        return read_ticket_numbers(connection)[ticket_id]

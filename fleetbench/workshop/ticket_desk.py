"""What stands on the page where a ticket is worked on, in one load."""

from dataclasses import dataclass

from fleetbench.records.act_reads import name_of
from fleetbench.records.bench_reads import signers
from fleetbench.records.errors import Refused
from fleetbench.records.read_tickets import read_ticket_numbers
from fleetbench.workshop.fit import SlotLine, slot_lines
from fleetbench.workshop.people import PersonRow, list_people
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.ticket_work import SIGNERS, open_one, reasons_against_signing
from fleetbench.workshop.tickets import TicketPage, ticket_page


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who may sign a unit off; without a PIN one is set first."""

    person_id: int
    name: str
    has_pin: bool


@dataclass(frozen=True, slots=True)
class TicketDesk:
    """A ticket with the unit's slots, who may sign, and why it cannot be signed yet (empty where it can)."""

    page: TicketPage
    slots: tuple[SlotLine, ...]
    against: tuple[str, ...]
    signers: tuple[Signer, ...]
    people: tuple[PersonRow, ...]

    @property
    def is_open(self) -> bool:
        """True until it is signed."""
        return self.page.row.signed_at is None


def ticket_desk(shop: Shop, number: str) -> TicketDesk:
    """Everything for working on a ticket, by its number as printed; NotFound for another text."""
    page = ticket_page(shop, number)
    is_open = page.row.signed_at is None
    with shop.database.looking() as session:
        may_sign = tuple(
            Signer(row.id, name_of(session, row.id), bool(row.pin_digest)) for row in signers(session, SIGNERS)
        )
    return TicketDesk(
        page=page,
        slots=slot_lines(shop, page.row.unit),
        against=reasons_against_signing(shop, page.row.ticket_id) if is_open else (),
        signers=may_sign,
        people=list_people(shop),
    )


def number_of(shop: Shop, ticket_id: int) -> str:
    """The number of a ticket as printed."""
    with shop.database.reading() as connection:
        return read_ticket_numbers(connection)[ticket_id]


def add_minutes(shop: Shop, ticket_id: int, minutes: float) -> None:
    """Add time worked to an open ticket, beside the minutes of its tasks."""
    if not 0 < minutes <= 24 * 60:
        raise Refused("minutes: give a figure over 0 and up to 1440")
    with shop.acting("add minutes", f"ticket {ticket_id}") as act:
        ticket = open_one(act, ticket_id)
        act.change(ticket, minutes=ticket.minutes + minutes)

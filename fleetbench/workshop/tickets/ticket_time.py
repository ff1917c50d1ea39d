"""Time worked under a ticket: a clock per person that stops and goes on, or minutes given by hand.

Two people may work on one ticket, each under a clock of their own; one person's clock runs under one ticket at a time.
"""

from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.tables import Ticket, TicketTime
from fleetbench.records.upkeep.lookups import running_times
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import open_one, somebody

LONGEST_CLOCK = 8 * 60.0
"""Minutes after which a clock was more likely forgotten than worked through: common practice, no published source."""


def start_work(shop: Shop, ticket_id: int) -> None:
    """Let the clock of whoever is at the bench run under a ticket; under any other ticket it stops."""
    person = somebody(shop)
    with shop.acting("start work", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        for row in running_times(act.session, person_id=person):
            if row.ticket_id == ticket_id:
                raise Refused("clock: runs already; stop it when you leave the ticket")
            _stop(act, row, None)
        act.add(TicketTime(ticket_id=ticket_id, person_id=person, began_at=act.at, ended_at=None, minutes=None))


def stop_work(shop: Shop, ticket_id: int, *, minutes: float | None = None) -> float:
    """The minutes that the clock ran, added to the ticket; a forgotten one needs the minutes really worked."""
    person = somebody(shop)
    with shop.acting("stop work", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        running = running_times(act.session, ticket_id=ticket_id, person_id=person)
        if not running:
            raise Refused("clock: does not run; start it first")
        return _stop(act, running[0], minutes)


def add_minutes(shop: Shop, ticket_id: int, minutes: float) -> None:
    """Add time worked to an open ticket, beside the clock and the minutes of its tasks."""
    checked(minutes)
    with shop.acting("add minutes", f"ticket {ticket_id}") as act:
        ticket = open_one(act, ticket_id)
        act.add(
            TicketTime(ticket_id=ticket.id, person_id=shop.person_id, began_at=act.at, ended_at=act.at, minutes=minutes)
        )
        act.change(ticket, minutes=ticket.minutes + minutes)


def checked(minutes: float) -> float:
    """The minutes where they are in reason; Refused otherwise."""
    if not 0 < minutes <= 24 * 60:
        raise Refused("minutes: give a figure over 0 and up to 1440")
    return minutes


def _stop(act: Act, row: TicketTime, minutes: float | None) -> float:
    ran = max(0.0, (act.at - row.began_at).total_seconds() / 60)
    if minutes is None and ran > LONGEST_CLOCK:
        ticket = act.get(Ticket, row.ticket_id, "ticket")
        named = f"ticket {ticket.year}-{ticket.number:03d}"
        raise Refused(f"minutes: the clock under {named} ran {ran / 60:.0f} h; give the minutes worked, then stop it")
    worked = round(ran, 1) if minutes is None else checked(minutes)
    ticket = act.get(Ticket, row.ticket_id, "ticket")
    act.change(row, ended_at=act.at, minutes=worked)
    act.change(ticket, minutes=ticket.minutes + worked)
    return worked

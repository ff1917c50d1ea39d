"""Rules that no single row shows: a part sits in one place, a place holds one part, ticket numbers leave no gap.

Nor is a ticket signed by one person twice, or while a clock runs under it.
"""

from sqlalchemy import Connection, func, select

from fleetbench.records.parts.tables import Fitting
from fleetbench.records.tickets.tables import Ticket, TicketTime


def broken_rule(connection: Connection) -> str | None:
    """The first rule of fittings or tickets that the rows break, in words, or None; six statements."""
    for find in (_part_twice, _slot_twice, _taken_out_first, _ticket_gap, _second_is_first, _clock_runs_on):
        said = find(connection)
        if said is not None:
            return said
    return None


def _part_twice(connection: Connection) -> str | None:
    query = select(Fitting.part_id).where(Fitting.removed_at.is_(None)).group_by(Fitting.part_id)
    part = connection.scalars(query.having(func.count() > 1).order_by(Fitting.part_id).limit(1)).first()
    return None if part is None else f"part row {part}: sits in two places at once"


def _slot_twice(connection: Connection) -> str | None:
    place = (Fitting.slot_id, Fitting.unit_id, Fitting.host_part_id)
    query = select(*place).where(Fitting.removed_at.is_(None)).group_by(*place).having(func.count() > 1)
    found = connection.execute(query.order_by(*place).limit(1)).all()
    if not found:
        return None
    slot, unit, host = found[0]
    where = f"unit row {unit}" if unit is not None else f"part row {host}"
    return f"slot row {slot} of {where}: holds two parts at once"


def _taken_out_first(connection: Connection) -> str | None:
    query = select(Fitting.id).where(Fitting.removed_at < Fitting.fitted_at).order_by(Fitting.id).limit(1)
    fitting = connection.scalars(query).first()
    return None if fitting is None else f"fitting row {fitting}: the part came out before it went in"


def _ticket_gap(connection: Connection) -> str | None:
    """Numbers of a year run on from the lowest, so that none was taken out; sheets may begin in mid-year."""
    last: dict[int, int] = {}
    query = select(Ticket.year, Ticket.number).order_by(Ticket.year, Ticket.number)
    for year, number in connection.execute(query).all():
        if number != last.get(year, number - 1) + 1:
            return f"ticket {year}-{last[year] + 1:03d}: is missing; the next one is {year}-{number:03d}"
        last[year] = number
    return None


def _second_is_first(connection: Connection) -> str | None:
    query = select(Ticket.id).where(Ticket.second_id == Ticket.signed_by_id).order_by(Ticket.id).limit(1)
    ticket = connection.scalars(query).first()
    return None if ticket is None else f"ticket row {ticket}: its second person is its signer"


def _clock_runs_on(connection: Connection) -> str | None:
    query = select(Ticket.id).join(TicketTime, TicketTime.ticket_id == Ticket.id)
    query = query.where(Ticket.signed_at.is_not(None), TicketTime.ended_at.is_(None))
    ticket = connection.scalars(query.order_by(Ticket.id).limit(1)).first()
    return None if ticket is None else f"ticket row {ticket}: is signed while a clock runs under it"

"""Units come back: received at once, on hold, with the card of their turn-round to do."""

from dataclasses import dataclass
from datetime import date

from fleetbench.records.canisters.lookups import standing_fill
from fleetbench.records.canisters.tables import FillEvent
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import canister_in, line_out
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.lookups import next_ticket_number, open_holds, unit_by_tag
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import somebody
from fleetbench.workshop.turn_rounds.card import TO_DO, open_card_within


@dataclass(frozen=True, slots=True)
class ReceivedUnit:
    """What was received: its booking's line, and the ticket opened, None where none was needed."""

    line_id: int
    unit: str
    booking: str
    days_late: int
    ticket_id: int | None


def receive(
    shop: Shop,
    tag: str,
    *,
    wet: bool | None,
    flooded: bool | None,
    fault: bool | None,
    missing: bool | None = None,
) -> ReceivedUnit:
    """A unit is back: it goes on hold with its turn-round to do; a flood or a fault opens a ticket.

    None is not looked at or not known. Raises Refused for a unit that is not out.
    """
    person = somebody(shop)
    today = shop.today()
    with shop.acting("receive", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        line = line_out(act.session, unit.id)
        if line is None:
            raise Refused(f"unit {unit.tag}: is not out; check the tag, or look it up with find")
        return receive_within(act, unit, line, person, today, wet=wet, flooded=flooded, fault=fault, missing=missing)


def receive_within(
    act: Act,
    unit: Unit,
    line: BookingUnit,
    person: int,
    today: date,
    *,
    wet: bool | None,
    flooded: bool | None,
    fault: bool | None,
    missing: bool | None = None,
) -> ReceivedUnit:
    """The same within an act that is under way, such as a swap."""
    booking = act.get(Booking, line.booking_id, "booking")
    act.change(line, received_at=act.at, received_by_id=person, wet=wet, flooded=flooded, fault=fault)
    if not any(each.kind == "received" for each in open_holds(act.session, unit_id=unit.id)):
        act.add(Hold(unit_id=unit.id, kind="received", reason=TO_DO, placed_at=act.at, placed_by_id=person))
    if flooded:
        _wet_fill(act, unit, person)
    open_card_within(act, unit, line.id, flooded=bool(flooded))
    said = [words for words, true in (("flooded", flooded), ("a fault is reported", fault),
                                      ("something is missing", missing)) if true]  # fmt: skip
    ticket = open_return_ticket(act, unit, person, today, f"Back from {booking.code}: {', '.join(said)}",
                          critical=bool(flooded or fault), flooded=bool(flooded)) if said else None  # fmt: skip
    late = max(0, (today - booking.ends_on).days)
    return ReceivedUnit(line.id, unit.tag, booking.code, late, ticket)


def open_return_ticket(
    act: Act, unit: Unit, person: int, today: date, reason: str, *, critical: bool, flooded: bool = False
) -> int:
    ticket = act.add(
        Ticket(
            year=today.year,
            number=next_ticket_number(act.session, today.year),
            unit_id=unit.id,
            cause="hand-back",
            reason=reason,
            critical=critical,
            opened_at=act.at,
            opened_by_id=person,
            minutes=0.0,
        )
    )
    if flooded:
        text = "Test in full after the flood, as the maker's manual asks"
        act.add(Task(ticket_id=ticket.id, ordinal=1, text=text, state="to do", critical=True, times_put_off=0))
    return ticket.id


def _wet_fill(act: Act, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is not None and fill.wetted_at is None:
        act.change(fill, wetted_at=act.at)
        act.add(FillEvent(fill_id=fill.id, kind="flooded", at=act.at, person_id=person, note="as received"))

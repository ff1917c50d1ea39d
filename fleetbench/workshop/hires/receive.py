"""Units come back: received at once, on hold, with the card of their turn-round to do.

A unit fails in mid-course and another goes out in its place, in one act.
"""

from dataclasses import dataclass
from datetime import date

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.bench.tables import Opening
from fleetbench.records.canisters.lookups import standing_fill
from fleetbench.records.canisters.tables import FillEvent
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import canister_in, hand_over_of, line_out, lines_of
from fleetbench.records.hires.tables import Booking, BookingUnit, HandOver, UnitSwap
from fleetbench.records.parts.tables import Fitting, PartType
from fleetbench.records.tickets.tables import Finding, Task, Ticket
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.lookups import next_ticket_number, open_holds, unit_by_tag
from fleetbench.workshop.core.workplace import Shop, day_of, require_person, required
from fleetbench.workshop.hires.booking import put_on_within
from fleetbench.workshop.hires.handover import reasons_against
from fleetbench.workshop.parts.fit import life_when_fitted
from fleetbench.workshop.readiness.hire import Along
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
    person = require_person(shop)
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


CYLINDERS = frozenset(("oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder"))


def swap_unit(shop: Shop, failed: str, instead: str, *, reason: str, kind: str | None = None) -> ReceivedUnit:
    """What was received: the failed unit is in with a ticket, the other is out on the same booking.

    The diver keeps booking, deposit and cylinders: cylinders that sit in the failed unit go into the same slots of the
    other. A unit that is out as the booking's spare goes over as it is; one from the shelf is assessed as at any
    hand-over, its cylinders being the diver's own. kind: how it leaves, None as the failed one did.
    Raises Refused where the other may not go out, with the reasons.
    """
    person = require_person(shop)
    day = day_of(shop)
    said = required("reason", reason)[:300]
    with shop.acting("swap unit", f"unit {failed}") as act:
        unit, other = unit_by_tag(act.session, failed), unit_by_tag(act.session, instead)
        line = line_out(act.session, unit.id)
        if line is None:
            raise Refused(f"unit {unit.tag}: is not out; only a unit that is out can be swapped")
        booking = act.get(Booking, line.booking_id, "booking")
        took = line_out(act.session, other.id)
        if took is not None and (took.booking_id != booking.id or took.diver_id is not None):
            raise Refused(f"unit {other.tag}: is out with another diver; choose a spare or a unit from the shelf")
        received = receive_within(act, unit, line, person, day.today, wet=True, flooded=None, fault=True)
        if received.ticket_id is not None:
            act.add(Finding(ticket_id=received.ticket_id, at=act.at, person_id=person, text=said))
        _move_cylinders(act, unit, other, person, day.today)
        leaves = HandoverKind(kind or line.hand_over or HandoverKind.ASSEMBLED)
        new = took or _line_for(act, booking, other, day.today)
        if took is None:
            along = hand_over_of(act.session, line.id)
            kept = Along(along.harness, along.accessories, (), along.absorbent_kg) if along is not None else Along()
            act.change(new, diver_id=line.diver_id)
            act.session.flush()
            against = reasons_against(act, other, max(booking.ends_on, day.today), leaves, day, kept, swapped=True)
            if against:
                raise Refused("; ".join(against))
            act.change(new, hand_over=str(leaves), out_at=act.at, out_by_id=person)
            # The deposit and what went along stay with the diver, so they stand on the new line as they were noted.
            act.add(HandOver(booking_unit_id=new.id, at=act.at, person_id=person, harness=kept.harness,
                             accessories=kept.accessories, absorbent_kg=kept.absorbent_kg,
                             deposit=along.deposit if along is not None else None))  # fmt: skip
        act.change(new, diver_id=line.diver_id)
        act.add(UnitSwap(failed_id=line.id, instead_id=new.id, at=act.at, person_id=person, reason=said))
        return received


def _line_for(act: Act, booking: Booking, other: Unit, today: date) -> BookingUnit:
    mine = [each for each in lines_of(act.session, booking.id) if each.unit_id == other.id and each.out_at is None]
    return mine[0] if mine else put_on_within(act, booking, other, today)


def _move_cylinders(act: Act, unit: Unit, other: Unit, person: int, today: date) -> None:
    """The cylinders of one unit change places with those in the same slots of the other."""
    here = {seat.slot.id: seat for seat in seats_of(act.session, unit) if seat.slot.kind in CYLINDERS}
    there = {seat.slot.id: seat for seat in seats_of(act.session, other) if seat.slot.kind in CYLINDERS}
    for slot_id in here.keys() & there.keys():
        mine, theirs = here[slot_id], there[slot_id]
        if mine.part is None or mine.fitting is None:
            continue
        for seat in (mine, theirs):
            if seat.fitting is not None:
                act.change(seat.fitting, removed_at=act.at, removed_by_id=person, why_removed="moved")
        for seat, target in ((mine, theirs), (theirs, mine)):
            part = seat.part
            if part is None:
                continue
            part_type = act.get(PartType, part.part_type_id, "part type")
            day, basis, _warnings = life_when_fitted(act.session, part, part_type, today)
            act.add(
                Fitting(
                    part_id=part.id,
                    slot_id=slot_id,
                    unit_id=target.unit_id,
                    host_part_id=target.host_part_id,
                    fitted_at=act.at,
                    fitted_by_id=person,
                    last_good_day=day,
                    last_good_basis=basis,
                )
            )
        for each in (unit, other):
            what = f"{mine.slot.name} moved"
            act.add(Opening(unit_id=each.id, at=act.at, kind="routine", what=what, person_id=person))

"""Units come back: received at once, on hold, with the card of their turn-round to do.

A unit fails in mid-course and another goes out in its place, in one act.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.calc.readiness.judge import Leaving
from fleetbench.records.bench.lookups import SlotContent, seats_of
from fleetbench.records.bench.tables import Opening
from fleetbench.records.canisters.lookups import OpenSession, standing_fill
from fleetbench.records.canisters.tables import FillEvent
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import canister_in, counts_of, hand_over_of, line_out, lines_of
from fleetbench.records.hires.tables import AccessoryCount, Booking, BookingUnit, HandOver, UnitSwap
from fleetbench.records.parts.tables import Fitting, PartType
from fleetbench.records.tickets.tables import Finding, Task, Ticket
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.lookups import next_ticket_number, open_holds, unit_by_tag
from fleetbench.workshop.canisters.packing import fill_name
from fleetbench.workshop.core.workplace import Workplace, day_of, require_person, required
from fleetbench.workshop.hires.booking import put_on_within
from fleetbench.workshop.hires.handover import Accepting, accept_within
from fleetbench.workshop.parts.fit import label, life_when_fitted
from fleetbench.workshop.readiness.hire import Along
from fleetbench.workshop.readiness.leaving import LeavingLook, look_within
from fleetbench.workshop.readiness.ready import leaving_way
from fleetbench.workshop.turn_rounds.card import TO_DO, open_card_within
from fleetbench.workshop.units.list import Fit, Where, list_units


@dataclass(frozen=True, slots=True)
class ReceivedUnit:
    """What was received: its booking's line, and the ticket opened, None where none was needed."""

    line_id: int
    unit: str
    booking: str
    days_late: int
    ticket_id: int | None


def receive(
    workplace: Workplace,
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
    person = require_person(workplace)
    today = workplace.today()
    with workplace.transaction("receive", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        line = line_out(act.session, unit.id)
        if line is None:
            raise Refused(say("unit {tag}: is not out; check the tag, or look it up with find", tag=unit.tag))
        return receive_within(act, unit, line, person, today, wet=wet, flooded=flooded, fault=fault, missing=missing)


def receive_within(
    act: Transaction,
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
    if not any(each.kind == HoldKind.RECEIVED for each in open_holds(act.session, unit_id=unit.id)):
        act.add(Hold(unit_id=unit.id, kind="received", reason=TO_DO, placed_at=act.at, placed_by_id=person))
    if flooded:
        _wet_fill(act, unit, person)
    open_card_within(act, unit, line.id, flooded=bool(flooded))
    said = [words for words, true in ((say("flooded"), flooded), (say("a fault is reported"), fault),
                                      (say("something is missing"), missing)) if true]  # fmt: skip
    ticket = open_return_ticket(act, unit, person, today, in_row(f"Back from {booking.code}: {', '.join(said)}"),
                          critical=bool(flooded or fault), flooded=bool(flooded)) if said else None  # fmt: skip
    late = max(0, (today - booking.ends_on).days)
    return ReceivedUnit(line.id, unit=unit.tag, booking=booking.code, days_late=late, ticket_id=ticket)


def open_return_ticket(
    act: Transaction, unit: Unit, person: int, today: date, reason: str, *, critical: bool, flooded: bool = False
) -> int:
    """Key of the ticket that a return opens, with the reason as its finding."""
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
        text = say("Test in full after the flood, as the maker's manual asks")
        act.add(Task(ticket_id=ticket.id, ordinal=1, text=text, state=WorkState.TO_DO, critical=True, times_put_off=0))
    return ticket.id


def _wet_fill(act: Transaction, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is not None and fill.wetted_at is None:
        act.change(fill, wetted_at=act.at)
        act.add(FillEvent(fill_id=fill.id, kind="flooded", at=act.at, person_id=person, note=say("as received")))


CYLINDERS = frozenset(("oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder"))
OPENED = CYLINDERS | {"canister"}
"""Slots whose change is a routine opening of the unit; the diver's own checks follow. Common practice, no source."""

ACCESSORIES, ABSORBENT = "accessories", "absorbent"
ALONG = {ACCESSORIES: say("accessories and harness"), ABSORBENT: say("absorbent sent along")}
"""What may change hands besides the parts in a unit."""


@dataclass(frozen=True, slots=True)
class SwapItem:
    """One thing that may change hands at a swap: what is in or with the failed unit, and the other; '' is nothing."""

    key: str
    name: str
    with_failed: str
    with_other: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Swapping:
    """A swap as it is asked for.

    exchanged: keys of the items that changed places; everything else stayed where it was. kind: how the other unit
    leaves, None as the failed one did.
    """

    failed: str
    instead: str
    reason: str
    exchanged: Collection[str] = ()
    kind: str | None = None


def swap_items(workplace: Workplace, failed: str, instead: str) -> tuple[SwapItem, ...]:
    """What may change hands between two units: cylinders, canister and fill, batteries, bailout, what went along."""
    with workplace.database.read_session() as session:
        unit, other = unit_by_tag(session, failed), unit_by_tag(session, instead)
        lines = [line_out(session, each.id) for each in (unit, other)]
        went = [hand_over_of(session, each.id) if each is not None else None for each in lines]
        parts = [
            SwapItem(str(key), mine.slot.name, _words(session, mine), _words(session, theirs))
            for key, (mine, theirs) in _pairs(session, unit, other).items()
        ]
        return (*parts, *(SwapItem(key, name, *(_went(each, key) for each in went)) for key, name in ALONG.items()))


def _went(row: HandOver | None, key: str) -> str:
    if row is None:
        return ""
    if key == ABSORBENT:
        return KILOGRAM.words(row.absorbent_kg) if row.absorbent_kg else ""
    said = (
        say("{accessories} counted", accessories=row.accessories) if row.accessories else "",
        say("size {harness}", harness=row.harness) if row.harness else "",
    )
    return strung(", ", filter(None, said))


def fit_instead(workplace: Workplace, failed: str) -> tuple[str, ...]:
    """Tags of units that may go out in the place of one that is out: its booking's spares, then those here of its type.

    None is on hold. Of those here, the ones that no other booking needs before it is back come first.
    """
    with workplace.database.read_session() as session:
        line = line_out(session, unit_by_tag(session, failed).id)
        if line is None:
            raise Refused(say("unit {failed}: is not out; only a unit that is out can be swapped", failed=failed))
        lines, mine = lines_of(session, line.booking_id), line.unit_id
        last = session.get_one(Booking, line.booking_id).ends_on
        out = [each for each in lines if each.out_at and not each.received_at and each.unit_id != mine]
        spares = {each.unit_id for each in out if each.diver_id is None}
    rows = list_units(workplace)
    kind = next(row.unit_type for row in rows if row.unit_id == mine)
    sound = [row for row in rows if row.fit is not Fit.HOLD]
    free = sorted(
        (row for row in sound if row.where in (Where.SHELF, Where.BENCH) and row.unit_type == kind),
        key=lambda row: row.next_booking is not None and row.next_booking.starts_on <= last,
    )
    return (*(row.tag for row in sound if row.unit_id in spares), *(row.tag for row in free))


def swap_unit(
    workplace: Workplace,
    swapping: Swapping,
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
) -> ReceivedUnit:
    """What was received: the failed unit is in with a ticket, the other is out on the same booking.

    The diver keeps booking and deposit, and whatever is said to have changed places, no more. The other unit is
    assessed as at any hand-over, whether it comes from the shelf or is out as the booking's spare.
    Raises Refused where it may not go out, with the reasons.
    """
    with workplace.transaction("swap unit", f"unit {swapping.failed}") as act:
        day = day_of(workplace)
        booking = act.get(Booking, _line_of_failed(act, swapping).booking_id, "booking")
        accept_within(act, accepting, manager_id, pin, max(booking.ends_on, day.today), day.today)
        received, look = _swap_within(workplace, act, swapping)
        if look.reasons:
            raise Refused(strung("; ", look.reasons))
        return received


def look_before_swap(workplace: Workplace, swapping: Swapping) -> LeavingLook:
    """Every check of the unit that would go out, with what is said to change places in it; nothing is recorded."""
    with workplace.trying("swap unit", f"unit {swapping.failed}") as act:
        said = replace(swapping, reason=swapping.reason.strip() or "not recorded yet")
        return _swap_within(workplace, act, said)[1]


def _line_of_failed(act: Transaction, swapping: Swapping) -> BookingUnit:
    unit = unit_by_tag(act.session, swapping.failed)
    line = line_out(act.session, unit.id)
    if line is None:
        raise Refused(say("unit {tag}: is not out; only a unit that is out can be swapped", tag=unit.tag))
    return line


def _swap_within(workplace: Workplace, act: Transaction, swapping: Swapping) -> tuple[ReceivedUnit, LeavingLook]:
    person, day = require_person(workplace), day_of(workplace)
    said = required("reason", swapping.reason)[:300]
    unit, other = unit_by_tag(act.session, swapping.failed), unit_by_tag(act.session, swapping.instead)
    line = _line_of_failed(act, swapping)
    booking = act.get(Booking, line.booking_id, "booking")
    took = line_out(act.session, other.id)
    if took is not None and (took.booking_id != booking.id or took.diver_id is not None):
        raise Refused(
            say("unit {tag}: is out with another diver; choose a spare or a unit from the shelf", tag=other.tag)
        )
    received = receive_within(act, unit, line, person, day.today, wet=True, flooded=None, fault=True)
    if received.ticket_id is not None:
        act.add(Finding(ticket_id=received.ticket_id, at=act.at, person_id=person, text=said))
    new = took or _line_for(act, booking, other, day.today)
    act.change(new, diver_id=line.diver_id)
    _exchange(act, unit, other, swapping.exchanged, person, day.today)
    along = _hand_on(act, line, new, swapping, person)
    act.session.flush()
    kind = leaving_way(swapping.kind or new.hand_over or line.hand_over)
    look = look_within(act, other, booking, kind, day, Leaving.SWAP, along)
    if took is None:
        act.change(new, hand_over=str(kind), out_at=act.at, out_by_id=person)
    act.add(UnitSwap(failed_id=line.id, instead_id=new.id, at=act.at, person_id=person, reason=said))
    return received, look


def _line_for(act: Transaction, booking: Booking, other: Unit, today: date) -> BookingUnit:
    mine = [each for each in lines_of(act.session, booking.id) if each.unit_id == other.id and each.out_at is None]
    return mine[0] if mine else put_on_within(act, booking, other, today)


def _hand_on(act: Transaction, line: BookingUnit, new: BookingUnit, swapping: Swapping, person: int) -> Along:
    """What goes along with the other unit: the deposit stays with the diver, the rest only where it changed places."""
    was, own = hand_over_of(act.session, line.id), hand_over_of(act.session, new.id)
    if own is None:
        own = act.add(HandOver(booking_unit_id=new.id, at=act.at, person_id=person))
    if was is not None:
        act.change(own, deposit=was.deposit if own.deposit is None else own.deposit)
        for key, columns in ((ACCESSORIES, ("harness", "accessories")), (ABSORBENT, ("absorbent_kg",))):
            if key in swapping.exchanged:
                mine, theirs = ({name: getattr(row, name) for name in columns} for row in (was, own))
                act.change(was, **theirs)
                act.change(own, **mine)
        if ACCESSORIES in swapping.exchanged:
            _exchange_counts(act, line, new)
    counts = tuple((each.accessory_id, each.sent) for each in counts_of(act.session, new.id))
    return Along(own.harness, own.accessories, counts, own.absorbent_kg)


def _exchange_counts(act: Transaction, line: BookingUnit, new: BookingUnit) -> None:
    here, there = ({row.accessory_id: row for row in counts_of(act.session, each.id)} for each in (line, new))
    for key in here.keys() | there.keys():
        sent = here[key].sent if key in here else 0, there[key].sent if key in there else 0
        for rows, count, on in ((here, sent[1], line), (there, sent[0], new)):
            if key in rows:
                act.change(rows[key], sent=count)
            elif count:
                act.add(AccessoryCount(booking_unit_id=on.id, accessory_id=key, sent=count, back=None))


def _pairs(session: OpenSession, unit: Unit, other: Unit) -> dict[int, tuple[SlotContent, SlotContent]]:
    """By slot: the two seats whose parts may change places, where at least one of them holds a part."""
    here, there = (
        {seat.slot.id: seat for seat in seats_of(session, each) if _goes_by_hand(seat)} for each in (unit, other)
    )
    both = ((key, (here[key], there[key])) for key in here if key in there)
    return {key: pair for key, pair in both if pair[0].part is not None or pair[1].part is not None}


def _goes_by_hand(seat: SlotContent) -> bool:
    kind = seat.slot.kind
    return kind in OPENED or "battery" in kind or kind == "bailout regulator"


def _words(session: OpenSession, seat: SlotContent) -> str:
    if seat.part is None:
        return ""
    fill = standing_fill(session, seat.part.id) if seat.slot.kind == "canister" else None
    return label(seat.part) + (f", {fill_name(fill)}" if fill is not None else "")


def _exchange(act: Transaction, unit: Unit, other: Unit, keys: Collection[str], person: int, today: date) -> None:
    """The parts of these slots change places; whatever is recorded of each part goes with it."""
    pairs = _pairs(act.session, unit, other)
    unknown = set(keys) - {str(key) for key in pairs} - set(ALONG)
    if unknown:
        raise Refused(
            say("exchanged: {unknown} is in neither unit; choose from the list", unknown=strung(", ", sorted(unknown)))
        )
    for key, (mine, theirs) in pairs.items():
        if str(key) not in keys:
            continue
        for seat in (mine, theirs):
            if seat.fitting is not None:
                act.change(seat.fitting, removed_at=act.at, removed_by_id=person, why_removed="moved")
        for seat, target in ((mine, theirs), (theirs, mine)):
            _fit(act, seat, target, person, today)
        for each in (unit, other) if mine.slot.kind in OPENED else ():
            what = say("{slot} moved", slot=mine.slot.name)
            act.add(Opening(unit_id=each.id, at=act.at, kind=OpeningKind.ROUTINE, what=what, person_id=person))


def _fit(act: Transaction, seat: SlotContent, target: SlotContent, person: int, today: date) -> None:
    if seat.part is None:
        return
    part_type = act.get(PartType, seat.part.part_type_id, "part type")
    day, basis, _warnings = life_when_fitted(act.session, seat.part, part_type, today)
    act.add(
        Fitting(
            part_id=seat.part.id,
            slot_id=target.slot.id,
            unit_id=target.unit_id,
            host_part_id=target.host_part_id,
            fitted_at=act.at,
            fitted_by_id=person,
            last_good_day=day,
            last_good_basis=basis,
        )
    )

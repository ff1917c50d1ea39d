"""A fitted part goes from one unit straight into another, and a fitting entered by mistake is taken back.

move_fitted(workplace, ...)  out of one slot and into another, of the same unit or of another, in one act
undo_fitting(workplace, ...)  the last change of a slot taken back by an act that says so
"""

from dataclasses import dataclass

from fleetbench.calc.core.languages import in_row, say
from fleetbench.calc.parts.kinds import PartState, ShelfEvent
from fleetbench.calc.people.permits import INSTRUCTORS_FIT
from fleetbench.records.bench.lookups import SlotContent, inner_seats, seats_of
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lookups import calibrated_since, events_since, last_before, last_in_seat, newest_change
from fleetbench.records.parts.tables import Fitting, Part, PartEvent, PartType
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import fitting_of, unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, require, require_person, required
from fleetbench.workshop.parts.acts import note_event
from fleetbench.workshop.parts.fit import (
    Fitted,
    keep_forecast,
    label,
    life_when_fitted,
    note_opening,
    refuse_unfit,
    require_right,
    seat_named,
    take_out,
)
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.tickets.work import open_one


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What taking a fitting back did. out: the part that left the slot; back_in: the one that sits there again;
    out_to: the unit that the part which left went back to, None for the shelf."""

    out: str | None
    back_in: str | None
    out_to: str | None


def service_tags(workplace: Workplace) -> tuple[str, ...]:
    """Tags of the units that are not retired; one statement."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        units = read_units(connection)
    return tuple(sorted(unit.tag for unit in units if unit.retired_on is None or unit.retired_on > today))


def move_fitted(
    workplace: Workplace,
    tag: str,
    slot: str,
    to_tag: str,
    to_slot: str | None = None,
    *,
    why_old: str | None = None,
    ticket_id: int | None = None,
) -> Fitted:
    """What was fitted: the part of one slot sits in another one, in one act that leaves two fitting records.

    to_slot: the slot of the same name where None. why_old: asked for where a part sits there. An assembly takes what
    is inside along. The same is refused as at any fitting: another kind, a part past its life, on hold, or under a
    stopping notice. ticket_id: an open ticket of either unit.
    """
    person = require_person(workplace)
    with workplace.transaction("move fitted part", f"unit {tag}") as act:
        unit, other = unit_by_tag(act.session, tag), unit_by_tag(act.session, to_tag)
        seat = seat_named(act.session, unit, slot)
        target = seat_named(act.session, other, to_slot or slot)
        for each in (seat, target):
            require_right(act, each)
        part, fitting, kind = seat.part, seat.fitting, seat.part_type
        if part is None or fitting is None or kind is None:
            raise Refused(say("slot {slot}: nothing sits there on unit {tag}; look again", slot=slot, tag=unit.tag))
        inside = {each.host_part_id for each in inner_seats(act.session, part, kind)}
        same = (target.slot.id, target.unit_id, target.host_part_id) == (seat.slot.id, seat.unit_id, seat.host_part_id)
        if same or target.host_part_id in inside:
            raise Refused(
                say(
                    "slot {slot}: {label} sits there or holds it; choose another slot",
                    slot=target.slot.name,
                    label=label(part),
                )
            )
        told = refuse_unfit(act, other, target, part, kind, workplace, sits=True)
        tickets = _tickets(act, ticket_id, unit, other)
        # It comes out before its life is calculated, so that a life from fitting goes on from the first one.
        act.change(fitting, removed_at=act.at, removed_by_id=person, removal_ticket_id=tickets[0], why_removed="moved")
        day, basis, warnings = life_when_fitted(act.session, part, kind, workplace.today())
        old = None
        if target.fitting is not None and target.part is not None:
            if why_old is None:
                raise Refused(
                    say(
                        "reason: say why {label} is removed from {slot} of {tag}",
                        label=label(target.part),
                        slot=target.slot.name,
                        tag=other.tag,
                    )
                )
            old = label(target.part)
            take_out(act, target.fitting, target.part, why_old, person, tickets[1])
        row = act.add(
            Fitting(part_id=part.id, slot_id=target.slot.id, unit_id=target.unit_id, host_part_id=target.host_part_id,
                    fitted_at=act.at, fitted_by_id=person, ticket_id=tickets[1], last_good_day=day,
                    last_good_basis=basis)
        )  # fmt: skip
        keep_forecast(act, part)
        note_opening(act, unit, seat, in_row(f"moved to {other.tag}"), person, tickets[0])
        opening = note_opening(act, other, target, "replaced" if old else "fitted", person, tickets[1])
        return Fitted(
            row.id,
            part=label(part),
            slot=target.slot.name,
            old_part=old,
            last_good_day=day,
            last_good_basis=basis,
            opening=opening,
            warnings=warnings,
            told=told,
        )


def _tickets(act: Transaction, ticket_id: int | None, unit: Unit, other: Unit) -> tuple[int | None, int | None]:
    """The ticket for the unit that the part leaves and for the one it goes into."""
    if ticket_id is None:
        return None, None
    of_unit = open_one(act, ticket_id).unit_id
    if of_unit not in (unit.id, other.id):
        raise Refused(
            say(
                "ticket: is of another unit; choose an open ticket of {tag} or {other_tag}",
                tag=unit.tag,
                other_tag=other.tag,
            )
        )
    return ticket_id if of_unit == unit.id else None, ticket_id if of_unit == other.id else None


def latest_change(workplace: Workplace, tag: str) -> str:
    """The slot of a unit, or of an assembly in it, that was changed last; empty where nothing was ever fitted."""
    with workplace.database.read_session() as session:
        seats = seats_of(session, unit_by_tag(session, tag))
        newest = newest_change(session, [(seat.slot.id, seat.unit_id, seat.host_part_id) for seat in seats])
        return next((s.slot.name for s in seats if (s.slot.id, s.unit_id, s.host_part_id) == newest), "")


def undo_fitting(workplace: Workplace, tag: str, slot: str, reason: str) -> TakenBack:
    """What was put right: the last change of a slot is taken back by new fittings; the first ones stay on record.

    A part fitted by mistake leaves the slot again as the wrong part, and goes back to where it came from: stock, or the
    slot it was moved out of. What came out for it, or was taken out, sits there again, whatever its life: a correction
    says what is so, and the unit's checks go on to stop it. Refused where either part was used otherwise since.
    """
    person = require_person(workplace)
    said = required("reason", reason)[:200]
    with workplace.transaction("undo fitting", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        seat = seat_named(act.session, unit, slot)
        require_right(act, seat)
        listed = last_in_seat(act.session, seat.slot.id, seat.unit_id, seat.host_part_id)
        if not listed:
            raise Refused(
                say(
                    "slot {slot}: nothing was ever fitted there on unit {tag}; there is nothing to undo",
                    slot=slot,
                    tag=unit.tag,
                )
            )
        last, before = listed[0], listed[1] if len(listed) > 1 else None
        note = f"{slot} of {unit.tag}: {said}"
        if last.removed_at is not None:
            again = _put_back(act, last, seat, person, note)
            note_opening(act, unit, seat, in_row("put back"), person, None)
            return TakenBack(None, again, None)
        part = act.get(Part, last.part_id, "part")
        _refuse_undo(act, part, last)
        came_from = last_before(act.session, last)
        moved = came_from is not None and came_from.removed_at == last.fitted_at
        old = before if before is not None and before.removed_at == last.fitted_at else None
        left = _left_for(act, part, last)
        note_event(act, part, ShelfEvent.UNDONE, note, undoes=left.id if left is not None else None)
        take_out(act, last, part, "wrong part", person, None)
        if left is not None:
            _as_before(act, part, left)
        to = _return_to(act, came_from, part, person) if moved and came_from is not None else None
        back = _put_back(act, old, seat, person, note) if old is not None else None
        note_opening(act, unit, seat, in_row("fitting taken back"), person, None)
        return TakenBack(label(part), back, to)


def _refuse_undo(act: Transaction, part: Part, last: Fitting) -> None:
    """Refused where the fitting was relied on since, or is itself a correction."""
    name = label(part)
    if any(each.kind == ShelfEvent.UNDONE for each in events_since(act.session, part.id, last.fitted_at)):
        raise Refused(say("part {name}: sits there by a correction; remove it and enter what is true", name=name))
    kind = act.get(PartType, part.part_type_id, "part type")
    keys = [part.id, *(each.part.id for each in inner_seats(act.session, part, kind) if each.part is not None)]
    if calibrated_since(act.session, keys, last.fitted_at) is not None:
        raise Refused(say("part {name}: was calibrated there since; remove it with a reason instead", name=name))


def _left_for(act: Transaction, part: Part, last: Fitting) -> PartEvent | None:
    """What was written down as the part left its place for this fitting."""
    found = (each for each in events_since(act.session, part.id, last.fitted_at) if each.at == last.fitted_at)
    return next((each for each in found if each.kind in (ShelfEvent.OPENED, ShelfEvent.MOVED)), None)


def _as_before(act: Transaction, part: Part, left: PartEvent) -> None:
    """The part lies where it lay, sealed where it was opened for the fitting alone, and in the state it had."""
    if left.kind == ShelfEvent.OPENED:
        act.change(part, opened_on=None, opened_precision="day")
    act.change(part, state=left.state_before or part.state, place_id=left.place_before_id)


def _put_back(act: Transaction, old: Fitting, seat: SlotContent, person: int, note: str) -> str:
    """The name of the part of an ended fitting, that sits in its slot again."""
    part = act.get(Part, old.part_id, "part")
    name = label(part)
    now = fitting_of(act.session, part.id)
    since = old.removed_at
    if now is not None:
        raise Refused(say("part {name}: sits in another slot now; undo that first, or move it", name=name))
    if (
        part.state not in (PartState.STOCK, PartState.QUARANTINE)
        or since is None
        or events_since(act.session, part.id, since)
    ):
        raise Refused(
            say(
                "part {name}: is {state} and was handled since it was removed; enter what is true instead",
                name=name,
                state=say(part.state),
            )
        )
    note_event(act, part, ShelfEvent.UNDONE, note)
    _seat_again(act, part, seat.slot.id, seat.unit_id, seat.host_part_id, person)
    return name


def _return_to(act: Transaction, came_from: Fitting, part: Part, person: int) -> str:
    """The unit or assembly that a moved part went back into."""
    taken = last_in_seat(act.session, came_from.slot_id, came_from.unit_id, came_from.host_part_id)
    if taken and taken[0].id != came_from.id:
        raise Refused(
            say("part {label}: its old slot was used since; remove it and fit it where it belongs", label=label(part))
        )
    _seat_again(act, part, came_from.slot_id, came_from.unit_id, came_from.host_part_id, person)
    unit, seat = _seat_of(act, came_from)
    if unit is None or seat is None:
        raise Refused(
            say("part {label}: the assembly it came from sits in no unit now; fit that first", label=label(part))
        )
    if seat.slot.kind not in INSTRUCTORS_FIT:
        require(act, "fit other than a cell")
    note_opening(act, unit, seat, in_row("put back"), person, None)
    return unit.tag


def _seat_of(act: Transaction, fitting: Fitting) -> tuple[Unit | None, SlotContent | None]:
    """The unit in which a slot is now, followed up through assemblies, and the slot in it."""
    unit_id, host = fitting.unit_id, fitting.host_part_id
    while unit_id is None and host is not None:
        outer = fitting_of(act.session, host)
        if outer is None:
            return None, None
        unit_id, host = outer.unit_id, outer.host_part_id
    unit = act.get(Unit, unit_id or 0, "unit")
    wanted = fitting.slot_id, fitting.unit_id, fitting.host_part_id
    seats = seats_of(act.session, unit)
    return unit, next((s for s in seats if (s.slot.id, s.unit_id, s.host_part_id) == wanted), None)


def _seat_again(
    act: Transaction, part: Part, slot_id: int, unit_id: int | None, host_part_id: int | None, person: int
) -> None:
    act.change(part, state="fitted", place_id=None)
    act.add(
        Fitting(part_id=part.id, slot_id=slot_id, unit_id=unit_id, host_part_id=host_part_id, fitted_at=act.at,
                fitted_by_id=person)
    )  # fmt: skip
    refresh_lives(act, (part.id,))
    keep_forecast(act, part)

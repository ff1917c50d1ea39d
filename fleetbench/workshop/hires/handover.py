"""Units leave: handed over after every check, a whole course in one act.

A manager accepts an advice of readiness on one unit, with a reason and an end date, and counts what stands.

What goes along with every unit of a type, and what went along and came back with one.

Hand-over sheets signed, on paper or drawn: that one was signed is kept for good, its drawing can be erased.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.plausible import ABSORBENT_SENT
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.readiness.judge import CHECKS, USUAL_WAY, HandoverKind, Leaving
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.canisters.lookups import read_standing_fills, standing_fill
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import (
    AcceptanceRecord,
    accessories_of,
    active_people,
    booking_by_code,
    canister_in,
    diver_of_line,
    line_out,
    lines_of,
    read_acceptances,
    read_counts,
    unit_type_by_code,
)
from fleetbench.records.hires.reads import read_booking, read_lines
from fleetbench.records.hires.tables import (
    Acceptance,
    Accessory,
    AccessoryCount,
    Booking,
    BookingUnit,
    HandOver,
    HireNote,
)
from fleetbench.records.people.reads import read_names
from fleetbench.records.readiness.reads import read_accessories
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.canisters.packing import fill_name
from fleetbench.workshop.core.workplace import (
    Day,
    Workplace,
    day_of,
    figure,
    figure_or_none,
    measured_or_none,
    require_person,
    required,
    with_theirs,
)
from fleetbench.workshop.hires.booking import put_on_within
from fleetbench.workshop.hires.fitness import accepting_manager
from fleetbench.workshop.readiness.hire import Along
from fleetbench.workshop.readiness.leaving import LeavingLook, look_of, look_within
from fleetbench.workshop.readiness.ready import assess_unit, leaving_way
from fleetbench.workshop.turn_rounds.ticks import tick

LONGEST_ACCEPTANCE_DAYS = 90
"""An acceptance is looked at again after a quarter of a year: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Accepting:
    """A manager accepts the advice of one check on one unit, with a reason, through a last day inclusive."""

    unit: str
    check: str
    until: date
    reason: str


def standing_acceptances(workplace: Workplace) -> tuple[tuple[AcceptanceRecord, str], ...]:
    """Every acceptance that stands today with who gave it, newest first; how many there are is the manager's count."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        found, names = read_acceptances(connection, today), read_names(connection)
    return tuple((each, names.get(each.person_id, "")) for each in found)


def accept_within(
    act: Transaction, accepting: Sequence[Accepting], manager_id: int | None, pin: str, last: date, today: date
) -> None:
    """Record the advices that a manager accepts through the last day; Refused without the manager's PIN."""
    if not accepting:
        return
    manager = accepting_manager(act, manager_id, pin)
    for each in accepting:
        if each.check not in {row.check for row in CHECKS}:
            raise Refused(say("check: {check!r} is not known; choose a recommendation from the list", check=each.check))
        if each.until < last:
            raise Refused(
                say(
                    "accepted until: {until} is before the last day {last}; give that day or a later one",
                    until=each.until,
                    last=last,
                )
            )
        if each.until > today + timedelta(days=LONGEST_ACCEPTANCE_DAYS):
            raise Refused(
                say("accepted until: is more than {most} days ahead; give an earlier day", most=LONGEST_ACCEPTANCE_DAYS)
            )
        act.add(
            Acceptance(
                unit_id=unit_by_tag(act.session, each.unit).id,
                check_name=each.check,
                until=each.until,
                at=act.at,
                person_id=manager.id,
                reason=required("reason", each.reason)[:300],
            )
        )


@dataclass(frozen=True, slots=True)
class AccessoryLine:
    """One thing that goes along: its key, name, how many of it, and how many left and came back on a booking's line."""

    accessory_id: int
    name: str
    count: int
    sent: int | None = None
    back: int | None = None


def accessories_for(workplace: Workplace, tag: str) -> tuple[AccessoryLine, ...]:
    """What goes along with a unit, by its type's list; empty where the type has no list or there is no such unit."""
    with workplace.database.reading() as connection:
        units = read_units(connection, tag)
        listed = read_accessories(connection)
    of_type = units[0].unit_type_id if units else None
    return tuple(AccessoryLine(each.accessory_id, each.name, each.count) for each in listed
                 if each.unit_type_id == of_type)  # fmt: skip


def counted_along(workplace: Workplace, line_id: int) -> tuple[AccessoryLine, ...]:
    """What was counted out with one unit on a booking, and back; one statement."""
    with workplace.database.reading() as connection:
        return tuple(AccessoryLine(key, name=name, count=count, sent=sent, back=back)
                     for key, name, count, sent, back in read_counts(connection, line_id))  # fmt: skip


def listed_accessories(workplace: Workplace, unit_type: str) -> tuple[tuple[str, int], ...]:
    """What stands on a unit type's list now, name and how many, in order; NotFound for a type that is not recorded."""
    with workplace.database.read_session() as session:
        kind = unit_type_by_code(session, unit_type)
        return tuple((each.name, each.count) for each in accessories_of(session, kind.id) if each.count)


def set_accessories(
    workplace: Workplace,
    unit_type: str,
    listed: Sequence[tuple[str, int]],
    seen: Mapping[str, Sequence[tuple[str, int]]] | None = None,
) -> int:
    """How many things now stand on a unit type's list; things of the same name keep their place in the history.

    listed: name and how many, in order. One that is left out is counted no more: its count becomes nought.
    seen: by unit type the list that the user saw; Clash where another desk changed that one since, too.
    """
    require_person(workplace)
    names = [required("accessory", name)[:80] for name, _ in listed]
    if len({name.casefold() for name in names}) < len(names):
        raise Refused(say("accessory: one stands twice; give each name once"))
    with workplace.transaction("set accessories", f"unit type {unit_type}") as act:
        kind = unit_type_by_code(act.session, unit_type)
        known = {each.name.casefold(): each for each in accessories_of(act.session, kind.id)}
        now = {unit_type: tuple((each.name, each.count) for each in known.values() if each.count)}
        began = seen if seen and unit_type in seen else None
        with_theirs("accessories", {unit_type: tuple(listed)}, began, now, {"list": (unit_type,)}, shown=_listed)
        for ordinal, (name, (_, count)) in enumerate(zip(names, listed, strict=True), 1):
            whole = int(figure(name, count, 1, 100, "enter how many go along"))
            row = known.pop(name.casefold(), None)
            if row is None:
                act.add(Accessory(unit_type_id=kind.id, name=name, count=whole, ordinal=ordinal))
            elif (row.name, row.count, row.ordinal) != (name, whole, ordinal):
                act.change(row, name=name, count=whole, ordinal=ordinal)
        for gone in known.values():
            if gone.count:
                act.change(gone, count=0)
        return len(names)


def _listed(values: Mapping[str, Sequence[tuple[str, int]]]) -> str:
    return strung(", ", (f"{count} {name}" for listed in values.values() for name, count in listed)) or say("nothing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Handing:
    """One unit to hand over; diver None keeps whoever the booking names. Counts and sums None: not noted.

    counts: of each accessory of the unit type, by its key. absorbent_kg: in date, sent with a kit.
    fill_discarded: the fill that stood in the canister was discarded before the unit leaves.
    """

    unit: str
    kind: str
    diver_id: int | None = None
    harness: str | None = None
    accessories: int | None = None
    deposit: float | None = None
    counts: tuple[tuple[int, int], ...] = ()
    absorbent_kg: float | None = None
    fill_discarded: bool = False

    @property
    def along(self) -> Along:
        """What goes along, as readiness asks for it."""
        counted = sum(count for _, count in self.counts) if self.counts else None
        accessories = self.accessories if self.accessories is not None else counted
        return Along(
            (self.harness or "").strip() or None,
            accessories=accessories,
            counts=self.counts,
            absorbent_kg=self.absorbent_kg,
            fill_discarded=self.fill_discarded,
        )


@dataclass(frozen=True, slots=True)
class LeavingUnit:
    """A unit that is to leave: its diver in words, the harness it has, and what its type's list says goes along.

    fill: the fill that stands in its canister, empty where none does.
    leaves: how, as its booking says, else the usual way.
    """

    unit: str
    diver: str
    harness: str
    accessories: tuple[AccessoryLine, ...] = ()
    fill: str = ""
    leaves: str = USUAL_WAY.value


def leaving_units(workplace: Workplace, code: str) -> tuple[LeavingUnit, ...]:
    """The units of a booking that have not left yet, by tag; six statements."""
    with workplace.database.reading() as connection:
        booking = read_booking(connection, code)
        if booking is None:
            raise NotFound(say("booking {code}: not recorded; check the code or look it up with find", code=code))
        lines, units = read_lines(connection, booking_id=booking.booking_id), read_units(connection)
        names, listed = read_names(connection), read_accessories(connection)
        fills = read_standing_fills(connection)
    by_tag = {each.tag: each for each in units}
    renter = booking.renter_id if booking.kind == BookingKind.HIRE else None
    return tuple(
        LeavingUnit(
            each.unit,
            diver=names.get(each.diver_id or renter or 0, "spare"),
            harness=by_tag[each.unit].harness or "",
            accessories=tuple(
                AccessoryLine(one.accessory_id, one.name, one.count)
                for one in listed
                if one.unit_type_id == by_tag[each.unit].unit_type_id
            ),
            fill=fills.get(by_tag[each.unit].unit_id, ""),
            leaves=leaving_way(each.hand_over).value,
        )
        for each in lines
        if each.out_at is None and each.received_at is None
    )


def look_before(workplace: Workplace, tag: str, code: str, kind: str, along: Along | None = None) -> LeavingLook:
    """Every check of a unit as of now and through the end of its booking, with what a manager has to accept.

    along: what goes along so far; None is nothing counted yet.
    """
    day = day_of(workplace)
    with workplace.database.read_session() as session:
        booking = booking_by_code(session, code)
        last = max(booking.ends_on, day.today)
    what = along or Along()
    answer = assess_unit(workplace, tag, day.today, last, HandoverKind(kind), at_act=True, along=what, booking=code)
    return look_of(tag, answer, Leaving.HAND_OVER)


def hand_over(
    workplace: Workplace,
    code: str,
    handings: Sequence[Handing],
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
    waiting: Sequence[tuple[str, str]] = (),
) -> tuple[int, ...]:
    """The keys of the lines on which units left, a whole course or part of it in one act.

    waiting: units of the booking that stay here for now, each with the reason, which is noted on its line.

    Each unit is assessed as of now through the booking's last day. A stop refuses, unless the unit leaves
    `not for diving`; an advice must be accepted by a manager: whoever is at the desk, or another by PIN.
    Raises Refused with every reason of every unit.
    """
    person = require_person(workplace)
    day = day_of(workplace)
    if not handings:
        raise Refused(say("units: none is chosen; choose what goes out"))
    with workplace.transaction("hand over", f"booking {code}") as act:
        booking = booking_by_code(act.session, code)
        if booking.cancelled_at is not None:
            raise Refused(say("booking {code}: is cancelled; book it again", code=code))
        if booking.starts_on > day.today:
            raise Refused(
                say(
                    "booking {code}: begins on {starts_on}; move its first day before handing over",
                    code=code,
                    starts_on=booking.starts_on,
                )
            )
        last = max(booking.ends_on, day.today)
        accept_within(act, accepting, manager_id, pin, last, day.today)
        reasons: list[str] = []
        lines: list[int] = []
        for each in handings:
            line, against = _hand_one(act, booking, each, day, person)
            reasons += against
            lines.append(line.id)
        if reasons:
            raise Refused(strung("; ", reasons))
        for tag, why in waiting:
            _note_waiting(act, booking, tag, why)
        return tuple(lines)


def _note_waiting(act: Transaction, booking: Booking, tag: str, why: str) -> None:
    unit, said = unit_by_tag(act.session, tag), required("waits, why", why)[:300]
    line = next((row for row in lines_of(act.session, booking.id) if row.unit_id == unit.id), None)
    if line is None or line.out_at is not None:
        raise Refused(say("unit {tag}: is not on booking {code}, or has left; look again", tag=tag, code=booking.code))
    act.add(HireNote(booking_unit_id=line.id, at=act.at, text=f"{WAITS}{said}"))


WAITS = in_row("Waits: ")
"""How a note begins that says why a unit stayed here while the rest of its booking left."""


def _hand_one(
    act: Transaction, booking: Booking, each: Handing, day: Day, person: int
) -> tuple[BookingUnit, list[str]]:
    unit = unit_by_tag(act.session, each.unit)
    try:
        kind = HandoverKind(each.kind)
    except ValueError:
        words = strung(", ", map(say, HandoverKind))
        raise Refused(
            say(
                "unit {tag}: hand-over kind {kind!r} is not known; choose {words}",
                tag=unit.tag,
                kind=each.kind,
                words=words,
            )
        ) from None
    out = line_out(act.session, unit.id)
    if out is not None:
        raise Refused(say("unit {tag}: is out already; receive it first", tag=unit.tag))
    mine = [row for row in lines_of(act.session, booking.id) if row.unit_id == unit.id and row.received_at is None]
    line = mine[0] if mine else put_on_within(act, booking, unit, day.today)
    if each.diver_id is not None and each.diver_id not in active_people(act.session, [each.diver_id]):
        raise Refused(
            say("unit {tag}: its diver is not recorded or no longer active; choose from the list", tag=unit.tag)
        )
    diver = each.diver_id if each.diver_id is not None else diver_of_line(act.session, line, booking)
    if diver != line.diver_id:
        # Who dives it decides which qualification is asked for, so it stands before the checks are made.
        act.change(line, diver_id=diver)
        act.session.flush()
    if each.fill_discarded:
        _discard_fill(act, unit, person)
    look = look_within(act, unit, booking, kind, day, Leaving.HAND_OVER, each.along)
    act.change(line, diver_id=diver, hand_over=str(kind), out_at=act.at, out_by_id=person)
    _note_along(act, line, unit, each, person)
    return line, list(look.reasons)


def _discard_fill(act: Transaction, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is None:
        raise Refused(say("unit {tag}: fill: none stands in its canister; leave the answer out", tag=unit.tag))
    act.change(fill, discarded_at=act.at, discarded_by_id=person, why_discarded=say("at hand-over"))
    tick(act, unit.id, Step.ABSORBENT, in_row(f"{fill_name(fill)} discarded at hand-over"))


def _note_along(act: Transaction, line: BookingUnit, unit: Unit, each: Handing, person: int) -> None:
    along = each.along
    figure_or_none("accessories", along.accessories, 0, 100, "enter how many go along, or leave it empty")
    figure_or_none("deposit", each.deposit, 0, 100_000, "enter the sum, or leave it empty")
    measured_or_none(ABSORBENT_SENT, along.absorbent_kg)
    act.add(
        HandOver(
            booking_unit_id=line.id,
            at=act.at,
            person_id=person,
            harness=along.harness[:20] if along.harness else None,
            accessories=along.accessories,
            deposit=each.deposit,
            absorbent_kg=along.absorbent_kg,
        )
    )
    for accessory, count in along.counts:
        listed = act.get(Accessory, accessory, "accessory")
        if listed.unit_type_id != unit.unit_type_id:
            raise Refused(
                say(
                    "unit {tag}: {listed} does not belong to its type; count what is on its list",
                    tag=unit.tag,
                    listed=listed.name,
                )
            )
        figure(listed.name, count, 0, 100, "enter how many go along")
        act.add(AccessoryCount(booking_unit_id=line.id, accessory_id=accessory, sent=count, back=None))

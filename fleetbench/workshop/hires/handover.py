"""Units leave: handed over after every check, a whole course in one act."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetbench.calc.readiness.judge import HandoverKind, Leaving
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.canisters.lookups import read_standing_fills, standing_fill
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import active_people, booking_by_code, canister_in, line_out, lines_of
from fleetbench.records.hires.reads import read_booking, read_lines
from fleetbench.records.hires.tables import Accessory, AccessoryCount, Booking, BookingUnit, HandOver
from fleetbench.records.people.reads import read_names
from fleetbench.records.readiness.readiness_reads import read_accessories
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.canisters.packing import fill_name
from fleetbench.workshop.core.centre import Day, day_of
from fleetbench.workshop.core.figures import figure, figure_or_none
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.acceptances import Accepting, accept_within
from fleetbench.workshop.hires.accessories import AccessoryLine
from fleetbench.workshop.hires.booking import put_on_within
from fleetbench.workshop.readiness.hire import Along
from fleetbench.workshop.readiness.leaving import LeavingLook, look_of, look_within
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.tickets.work import somebody
from fleetbench.workshop.turn_rounds.ticks import tick


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
            (self.harness or "").strip() or None, accessories, self.counts, self.absorbent_kg, self.fill_discarded
        )


@dataclass(frozen=True, slots=True)
class LeavingUnit:
    """A unit that is to leave: its diver in words, the harness it has, and what its type's list says goes along.

    fill: the fill that stands in its canister, empty where none does.
    """

    unit: str
    diver: str
    harness: str
    accessories: tuple[AccessoryLine, ...] = ()
    fill: str = ""


def leaving_units(shop: Shop, code: str) -> tuple[LeavingUnit, ...]:
    """The units of a booking that have not left yet, by tag; six statements."""
    with shop.database.reading() as connection:
        booking = read_booking(connection, code)
        if booking is None:
            raise NotFound(f"booking {code}: not recorded; check the code or look it up with find")
        lines, units = read_lines(connection, booking_id=booking.booking_id), read_units(connection)
        names, listed = read_names(connection), read_accessories(connection)
        fills = read_standing_fills(connection)
    by_tag = {each.tag: each for each in units}
    renter = booking.renter_id if booking.kind == "hire" else None
    return tuple(
        LeavingUnit(
            each.unit,
            names.get(each.diver_id or renter or 0, "spare"),
            by_tag[each.unit].harness or "",
            tuple(
                AccessoryLine(one.accessory_id, one.name, one.count)
                for one in listed
                if one.unit_type_id == by_tag[each.unit].unit_type_id
            ),
            fills.get(by_tag[each.unit].unit_id, ""),
        )
        for each in lines
        if each.out_at is None and each.received_at is None
    )


def look_before(shop: Shop, tag: str, code: str, kind: str, along: Along | None = None) -> LeavingLook:
    """Every check of a unit as of now and through the end of its booking, with what a manager has to accept.

    along: what goes along so far; None is nothing counted yet.
    """
    day = day_of(shop)
    with shop.database.looking() as session:
        booking = booking_by_code(session, code)
        last = max(booking.ends_on, day.today)
    answer = assess_unit(shop, tag, day.today, last, HandoverKind(kind), at_act=True, along=along or Along())
    return look_of(tag, answer, Leaving.HAND_OVER)


def hand_over(
    shop: Shop,
    code: str,
    handings: Sequence[Handing],
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
) -> tuple[int, ...]:
    """The keys of the lines on which units left, a whole course in one act.

    Each unit is assessed as of now through the booking's last day. A stop refuses, unless the unit leaves
    `not for diving`; an advice must be accepted by a manager: whoever is at the desk, or another by PIN.
    Raises Refused with every reason of every unit.
    """
    person = somebody(shop)
    day = day_of(shop)
    if not handings:
        raise Refused("units: none is chosen; choose what goes out")
    with shop.acting("hand over", f"booking {code}") as act:
        booking = booking_by_code(act.session, code)
        if booking.cancelled_at is not None:
            raise Refused(f"booking {code}: is cancelled; book it anew")
        if booking.starts_on > day.today:
            raise Refused(f"booking {code}: begins on {booking.starts_on}; move its first day before handing over")
        last = max(booking.ends_on, day.today)
        accept_within(act, accepting, manager_id, pin, last, day.today)
        reasons: list[str] = []
        lines: list[int] = []
        for each in handings:
            line, against = _hand_one(act, booking, each, day, person)
            reasons += against
            lines.append(line.id)
        if reasons:
            raise Refused("; ".join(reasons))
        return tuple(lines)


def _hand_one(act: Act, booking: Booking, each: Handing, day: Day, person: int) -> tuple[BookingUnit, list[str]]:
    unit = unit_by_tag(act.session, each.unit)
    try:
        kind = HandoverKind(each.kind)
    except ValueError:
        words = ", ".join(HandoverKind)
        raise Refused(f"unit {unit.tag}: hand-over kind {each.kind!r} is not known; choose {words}") from None
    out = line_out(act.session, unit.id)
    if out is not None:
        raise Refused(f"unit {unit.tag}: is out already; receive it first")
    mine = [row for row in lines_of(act.session, booking.id) if row.unit_id == unit.id and row.received_at is None]
    line = mine[0] if mine else put_on_within(act, booking, unit, day.today)
    if each.diver_id is not None and each.diver_id not in active_people(act.session, [each.diver_id]):
        raise Refused(f"unit {unit.tag}: its diver is not recorded or no longer active; choose from the list")
    diver = each.diver_id if each.diver_id is not None else line.diver_id
    if diver is None and booking.kind == "hire":
        diver = booking.renter_id
    if diver != line.diver_id:
        # Who dives it decides which qualification is asked for, so it stands before the checks are made.
        act.change(line, diver_id=diver)
        act.session.flush()
    if each.fill_discarded:
        _discard_fill(act, unit, person)
    look = look_within(act, unit, max(booking.ends_on, day.today), kind, day, Leaving.HAND_OVER, each.along)
    act.change(line, diver_id=diver, hand_over=str(kind), out_at=act.at, out_by_id=person)
    _note_along(act, line, unit, each, person)
    return line, list(look.reasons)


def _discard_fill(act: Act, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is None:
        raise Refused(f"unit {unit.tag}: fill: none stands in its canister; leave the answer out")
    act.change(fill, discarded_at=act.at, discarded_by_id=person, why_discarded="at hand-over")
    tick(act, unit.id, Step.ABSORBENT, f"{fill_name(fill)} discarded at hand-over")


def _note_along(act: Act, line: BookingUnit, unit: Unit, each: Handing, person: int) -> None:
    along = each.along
    figure_or_none("accessories", along.accessories, 0, 100, "enter how many go along, or leave it out")
    figure_or_none("deposit", each.deposit, 0, 100_000, "enter the sum, or leave it out")
    figure_or_none("absorbent", along.absorbent_kg, 0, 100, "enter the kilograms sent, or leave it out")
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
            raise Refused(f"unit {unit.tag}: {listed.name} does not belong to its type; count what is on its list")
        figure(listed.name, count, 0, 100, "enter how many go along")
        act.add(AccessoryCount(booking_unit_id=line.id, accessory_id=accessory, sent=count, back=None))

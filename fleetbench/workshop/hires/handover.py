"""Units leave: handed over after every check, a whole course in one act."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.readiness.judge import Assessment, HandoverKind, Moment
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import active_people, booking_by_code, line_out, lines_of
from fleetbench.records.hires.reads import read_booking, read_lines
from fleetbench.records.hires.tables import Accessory, AccessoryCount, Booking, BookingUnit, HandOver
from fleetbench.records.people.reads import read_names
from fleetbench.records.readiness.readiness_reads import read_accessories
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.centre import Day, day_of
from fleetbench.workshop.core.figures import figure, figure_or_none
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.acceptances import Accepting, accept_within
from fleetbench.workshop.hires.accessories import AccessoryLine
from fleetbench.workshop.hires.booking import put_on_within
from fleetbench.workshop.readiness.hire import Along
from fleetbench.workshop.readiness.ready import Question, Readiness, assess_unit
from fleetbench.workshop.tickets.work import somebody
from fleetbench.workshop.units.fleet import Fleet


@dataclass(frozen=True, slots=True, kw_only=True)
class Handing:
    """One unit to hand over; diver None keeps whoever the booking names. Counts and sums None: not noted.

    counts: of each accessory of the unit type, by its key. absorbent_kg: in date, sent with a kit.
    """

    unit: str
    kind: str
    diver_id: int | None = None
    harness: str | None = None
    accessories: int | None = None
    deposit: float | None = None
    counts: tuple[tuple[int, int], ...] = ()
    absorbent_kg: float | None = None

    @property
    def along(self) -> Along:
        """What goes along, as readiness asks for it."""
        counted = sum(count for _, count in self.counts) if self.counts else None
        accessories = self.accessories if self.accessories is not None else counted
        return Along((self.harness or "").strip() or None, accessories, self.counts, self.absorbent_kg)


@dataclass(frozen=True, slots=True)
class HandoverLook:
    """What the desk sees before a hand-over: the answer as of now, and the advices that nobody has accepted yet."""

    unit: str
    assessment: Assessment
    to_accept: tuple[str, ...]
    standing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LeavingUnit:
    """A unit that is to leave: its diver in words, the harness it has, and what its type's list says goes along.

    leaves: how, where its booking says so; empty is the usual way.
    """

    unit: str
    diver: str
    harness: str
    accessories: tuple[AccessoryLine, ...] = ()
    leaves: str = ""


def leaving_units(shop: Shop, code: str) -> tuple[LeavingUnit, ...]:
    """The units of a booking that have not left yet, by tag; five statements."""
    with shop.database.reading() as connection:
        booking = read_booking(connection, code)
        if booking is None:
            raise NotFound(f"booking {code}: not recorded; check the code or look it up with find")
        lines, units = read_lines(connection, booking_id=booking.booking_id), read_units(connection)
        names, listed = read_names(connection), read_accessories(connection)
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
            each.hand_over or "",
        )
        for each in lines
        if each.out_at is None and each.received_at is None
    )


def look_before(shop: Shop, tag: str, code: str, kind: str, along: Along | None = None) -> HandoverLook:
    """Every check of a unit as of now and through the end of its booking, with what a manager has to accept.

    along: what goes along so far; None is nothing counted yet.
    """
    day = day_of(shop)
    with shop.database.looking() as session:
        booking = booking_by_code(session, code)
        last = max(booking.ends_on, day.today)
    answer = assess_unit(shop, tag, day.today, last, HandoverKind(kind), at_act=True, along=along or Along())
    return HandoverLook(
        tag,
        answer,
        tuple(each.check for each in answer.advises if not each.accepted),
        tuple(each.check for each in answer.accepted),
    )


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


def assess_within(
    act: Act, tag: str, first: date, last: date, kind: HandoverKind, day: Day, along: Along | None = None
) -> Assessment:
    """The answer for a unit at the act itself, read in the act's own transaction."""
    connection = act.session.connection()
    found = read_units(connection, tag)
    if not found:
        raise NotFound(f"unit {tag}: no unit has this tag; check the tag or look it up with find")
    fleet = Fleet(read_fleet(connection, found[0]), day)
    return Readiness(fleet).assess(found[0], Question(first, last, kind, True, along or Along()))


def reasons_against(
    act: Act,
    unit: Unit,
    last: date,
    kind: HandoverKind,
    day: Day,
    along: Along | None = None,
    *,
    swapped: bool = False,
) -> list[str]:
    """Every stop, and every advice that no manager has accepted through the last day; empty where it may go.

    swapped: the diver has the hire already and keeps what goes along, so that no advice on that is raised again.
    """
    answer = assess_within(act, unit.tag, day.today, last, kind, day, along)
    stops = [f"unit {unit.tag}: {each.check}: {each.evidence}; {each.remedy}" for each in answer.stops]
    return stops + [
        f"unit {unit.tag}: {each.check}: {each.evidence}; a manager may accept this with a reason and a last day"
        for each in answer.advises
        if not each.accepted and not (swapped and each.moment is Moment.HAND_OVER)
    ]


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
    against = reasons_against(act, unit, max(booking.ends_on, day.today), kind, day, each.along)
    act.change(line, diver_id=diver, hand_over=str(kind), out_at=act.at, out_by_id=person)
    _note_along(act, line, unit, each, person)
    return line, against


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

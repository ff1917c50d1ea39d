"""Bookings at the desk: book, move, put a unit on, take one off, cancel, and swap a unit in mid-course."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetbench.calc.gas.cylinders import analysed_mixture
from fleetbench.calc.hires.availability import TURN_ROUND_NIGHTS, Span, Want, clashes, place
from fleetbench.records.canisters.lookups import OpenSession
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import (
    HireableRecord,
    active_people,
    booking_by_code,
    divers_of,
    lines_of,
    next_booking_code,
    read_hireable,
    read_promised,
    read_unit_type_names,
    read_wanted_units,
    terms_of,
    turn_round_nights,
    unit_type_by_code,
)
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingTerms, BookingUnit
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Shop, figure, figure_or_none, one_word, require_person

KINDS = ("hire", "course", "try day")
LETTERS = {"hire": "H", "course": "C", "try day": "T"}
WHEN_FULL = ("refuse", "wait")
LONGEST_DAYS = 366
COURSE_SPARES = 1
"""A course takes a spare unit along; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingEntry:
    """A booking as it is asked for.

    units: tags, where they are chosen already; wanted: how many, None is reckoned from those who dive, for a course
    with its instructor and the spares. divers: the students of a course, or who dives on a hire. Planned figures: None
    is not known. bailout: whether a bailout set is to go along, None not said. diluent_oxygen, diluent_helium: the
    diluent wished for, in percent. when_full: `refuse`, or `wait` for the waiting line. harnesses, last_dives: size and
    last dive on the type as each diver states them, in the divers' order, empty or None where it is not said.
    altitude_m: height of the water where it is dived.
    """

    kind: str
    unit_type: str
    first: date
    last: date
    units: tuple[str, ...] = ()
    wanted: int | None = None
    renter_id: int | None = None
    instructor_id: int | None = None
    divers: tuple[int, ...] = ()
    spares: int | None = None
    planned_minutes: float | None = None
    planned_depth_m: float | None = None
    planned_water_c: float | None = None
    bailout: bool | None = None
    diluent_oxygen: float | None = None
    diluent_helium: float | None = None
    when_full: str = "refuse"
    harnesses: tuple[str, ...] = ()
    last_dives: tuple[date | None, ...] = ()
    altitude_m: float | None = None


@dataclass(frozen=True, slots=True)
class Booked:
    """What was booked: its code, the units put on it, and whether it stands on the waiting line and why."""

    booking_id: int
    code: str
    units: tuple[str, ...]
    waiting: bool
    why_waiting: str = ""


@dataclass(frozen=True, slots=True)
class UnitTypeChoice:
    """A unit type that can be booked, and its units."""

    code: str
    name: str
    units: tuple[str, ...]


class Promises:
    """The days on which each unit is promised, and the promises without a chosen unit."""

    def __init__(self, session: OpenSession, today: date, *, without: int | None = None) -> None:
        connection = session.connection()
        self.today = today
        self._nights = turn_round_nights(connection)
        self.units: dict[str, HireableRecord] = {each.tag: each for each in read_hireable(connection, today)}
        self.taken: dict[str, list[Span]] = {tag: _away(each, today) for tag, each in self.units.items()}
        self._wants: dict[int, list[Want]] = {}
        for booking in read_wanted_units(connection, today):
            waits = booking.waiting_since is not None
            if not waits and booking.booking_id != without and booking.units_wanted > booking.lines:
                span = Span(booking.starts_on, booking.ends_on, booking.code)
                want = Want(span, booking.units_wanted - booking.lines)
                self._wants.setdefault(booking.unit_type_id, []).append(want)
        for each in read_promised(connection):
            if each.booking_id != without and each.unit in self.taken:
                # A unit that is late is still out today, whatever was promised.
                last = max(each.ends_on, today) if each.out_at is not None else each.ends_on
                self.taken[each.unit].append(Span(each.starts_on, last, each.code))

    def nights(self, unit_type_id: int) -> int:
        """Nights kept free for the turn-round of a unit type."""
        return self._nights.get(unit_type_id, self._nights.get(None, TURN_ROUND_NIGHTS))

    def of_type(self, unit_type_id: int) -> dict[str, Sequence[Span]]:
        """The promises of each unit of a type."""
        return {tag: self.taken[tag] for tag, each in self.units.items() if each.unit_type_id == unit_type_id}

    def in_the_way(self, tag: str, wanted: Span) -> tuple[str, ...]:
        """What stands in the way of a unit for these days, in words; empty where nothing does."""
        unit = self.units.get(tag)
        if unit is None:
            return (f"unit {tag}: is retired or not the centre's own; choose another",)
        nights = self.nights(unit.unit_type_id)
        kept = f", and {nights} nights are kept for its turn-round" if nights > 1 else ""
        return tuple(
            f"unit {tag}: is promised to {each.name} from {each.first} to {each.last}{kept}; choose other days or units"
            for each in clashes(wanted, self.taken[tag], nights)
        )

    def chosen(self, unit_type_id: int, span: Span, units: int, named: Sequence[str]) -> tuple[tuple[str, ...], str]:
        """Which units serve a booking beside those named, and why it is over-booked, empty where it is not.

        Bookings without a chosen unit are placed too, so that the last free unit is not promised twice.
        """
        nights = self.nights(unit_type_id)
        taken = {tag: list(each) for tag, each in self.of_type(unit_type_id).items()}
        for tag in named:
            if tag in taken:
                taken[tag].append(span)
        wants = [*self._wants.get(unit_type_id, ()), *([Want(span, units)] if units else [])]
        before = set(place(wants[: len(wants) - bool(units)], self.of_type(unit_type_id), nights)[1])
        placed, short = place(wants, taken, nights)
        newly_short = [wants[at].span.name for at in short if at not in before]
        if not newly_short:
            return placed.get(len(wants) - 1, ()) if units else (), ""
        free = sum(not clashes(span, each, nights) for each in self.of_type(unit_type_id).values())
        others = ", ".join(dict.fromkeys(each for each in newly_short if each != span.name))
        about = f"; {others} would be left without a unit" if others else ""
        return (), f"units: {units + len(named)} wanted from {span.first} to {span.last}, {free} free{about}"


def booking_choices(shop: Shop) -> tuple[UnitTypeChoice, ...]:
    """What can be booked: each unit type with its units in service."""
    today = shop.today()
    with shop.database.reading() as connection:
        units, names = read_hireable(connection, today), read_unit_type_names(connection)
    return tuple(
        UnitTypeChoice(code, name, tuple(each.tag for each in units if each.unit_type_id == key))
        for key, (code, name) in names.items()
    )


def book(shop: Shop, entry: BookingEntry) -> Booked:
    """What was booked; Refused where a unit is promised already or too few are free, unless it may wait."""
    require_person(shop)
    today = shop.today()
    span = checked_days(entry.first, entry.last, today)
    with shop.acting("book", f"{entry.kind} {entry.first}") as act:
        _checked(act, entry)
        kind = unit_type_by_code(act.session, entry.unit_type)
        units = [unit_by_tag(act.session, tag) for tag in dict.fromkeys(entry.units)]
        wanted = _wanted(entry)
        promises = Promises(act.session, today)
        faults = [f"unit {each.tag}: is of another type; choose units of {kind.code}" for each in units
                  if each.unit_type_id != kind.id]  # fmt: skip
        if faults:
            raise Refused("; ".join(faults))
        named = [each.tag for each in units]
        reasons = [words for tag in named for words in promises.in_the_way(tag, span)]
        if not reasons:
            _free, why = promises.chosen(kind.id, replace(span, name="this"), wanted - len(named), named)
            reasons = [f"{why}; choose other days, fewer units, or the waiting line"] if why else []
        if reasons and entry.when_full == "refuse":
            raise Refused("; ".join(reasons))
        booking = act.add(
            Booking(
                kind=entry.kind,
                code=next_booking_code(act.session, LETTERS[entry.kind], entry.first.year),
                unit_type_id=kind.id,
                starts_on=entry.first,
                ends_on=entry.last,
                units_wanted=wanted,
                renter_id=entry.renter_id,
                instructor_id=entry.instructor_id,
                planned_minutes=entry.planned_minutes,
                planned_depth_m=entry.planned_depth_m,
                planned_water_c=entry.planned_water_c,
            )
        )
        waits = act.at if reasons else None
        act.add(
            BookingTerms(
                booking_id=booking.id, spares=_spares(entry), waiting_since=waits, bailout=entry.bailout,
                diluent_oxygen=entry.diluent_oxygen, diluent_helium=entry.diluent_helium,
                altitude_m=entry.altitude_m,
            )
        )  # fmt: skip
        divers = entry.divers or ((entry.renter_id,) if entry.renter_id is not None and entry.kind == "hire" else ())
        everybody = (*divers, entry.instructor_id) if entry.kind == "course" else divers
        for place_, person in enumerate((each for each in everybody if each is not None), 1):
            harness, dived = _stated(entry, place_)
            act.add(BookingDiver(booking_id=booking.id, person_id=person, ordinal=place_, harness=harness,
                                 last_dive_on=dived))  # fmt: skip
        if not reasons:
            for unit in units:
                _put_on(act, booking, unit)
        return Booked(booking.id, booking.code, tuple(named) if not reasons else (), bool(reasons), "; ".join(reasons))


def conflicts(
    shop: Shop, unit_type: str, first: date, last: date, *, units: Sequence[str] = (), wanted: int = 1,
    code: str | None = None
) -> tuple[str, ...]:  # fmt: skip
    """What would stand in the way of a booking, or of moving the one with this code; empty where nothing does."""
    today = shop.today()
    try:
        span = checked_days(first, last, today)
    except Refused as refusal:
        return (str(refusal),)
    with shop.database.looking() as session:
        booking = booking_by_code(session, code) if code is not None else None
        kind = unit_type_by_code(session, unit_type)
        promises = Promises(session, today, without=booking.id if booking is not None else None)
        reasons = [words for tag in units for words in promises.in_the_way(tag, span)]
        if not reasons:
            why = promises.chosen(kind.id, replace(span, name="this"), max(0, wanted - len(units)), units)[1]
            reasons = [why] if why else []
        return tuple(reasons)


def move_booking(shop: Shop, code: str, first: date, last: date) -> None:
    """Give a booking other days, its units with it; Refused where one of them is promised, or it is out or over.

    A unit that is out stays longer by `extend_hire` alone, which assesses it through the new last day.
    """
    require_person(shop)
    with shop.acting("move booking", f"booking {code}") as act:
        booking = _open_booking(act, code)
        if last > booking.ends_on and lines_still_out(act, booking):
            raise Refused(f"booking {code}: units are out; choose Extend, which assesses them through the new last day")
        move_within(act, code, first, last, shop.today())


def lines_still_out(act: Act, booking: Booking) -> list[BookingUnit]:
    """The lines of a booking whose units are out now."""
    return [each for each in lines_of(act.session, booking.id) if each.out_at is not None and each.received_at is None]


def move_within(act: Act, code: str, first: date, last: date, today: date) -> Booking:
    """The booking with its new days, within an act under way; Refused where one of its units is promised."""
    booking = _open_booking(act, code)
    lines = lines_of(act.session, booking.id)
    out = any(each.out_at is not None for each in lines)
    if out and first != booking.starts_on:
        raise Refused(f"booking {code}: units are out since {booking.starts_on}; only its last day can move")
    span = checked_days(first if not out else max(first, today), last, today)
    promises = Promises(act.session, today, without=booking.id)
    named = [act.get(Unit, each.unit_id, "unit").tag for each in lines if each.received_at is None]
    reasons = [words for tag in named for words in promises.in_the_way(tag, span)]
    if not reasons and not _waits(act, booking):
        more = max(0, booking.units_wanted - len(lines))
        why = promises.chosen(booking.unit_type_id, replace(span, name=code), more, named)[1]
        reasons = [f"{why}; choose other days"] if why else []
    if reasons:
        raise Refused("; ".join(reasons))
    act.change(booking, starts_on=first, ends_on=last)
    act.session.flush()
    return booking


def put_unit_on(shop: Shop, code: str, tag: str) -> int:
    """The key of the line that puts a unit on a booking; a booking on the waiting line leaves it with its last unit."""
    require_person(shop)
    today = shop.today()
    with shop.acting("put unit on booking", f"booking {code}") as act:
        booking = _open_booking(act, code)
        return put_on_within(act, booking, unit_by_tag(act.session, tag), today).id


def put_on_within(act: Act, booking: Booking, unit: Unit, today: date) -> BookingUnit:
    """The line that puts a unit on a booking, within an act under way; Refused where it cannot."""
    lines = [each for each in lines_of(act.session, booking.id) if each.received_at is None]
    if any(each.unit_id == unit.id for each in lines):
        raise Refused(f"unit {unit.tag}: is on booking {booking.code} already")
    if unit.unit_type_id != booking.unit_type_id:
        raise Refused(f"unit {unit.tag}: is of another type than booking {booking.code} asks for; choose another")
    promises = Promises(act.session, today, without=booking.id)
    span = Span(max(booking.starts_on, min(today, booking.ends_on)), max(booking.ends_on, today), booking.code)
    reasons = promises.in_the_way(unit.tag, span)
    if not reasons:
        why = promises.chosen(booking.unit_type_id, span, 0, [unit.tag])[1]
        reasons = (f"{why}; choose another unit",) if why else ()
    if reasons:
        raise Refused("; ".join(reasons))
    line = _put_on(act, booking, unit)
    terms = terms_of(act.session, booking.id)
    if terms is not None and terms.waiting_since is not None and len(lines) + 1 >= booking.units_wanted:
        act.change(terms, waiting_since=None)
    return line


def take_off_waiting(shop: Shop, code: str) -> None:
    """Promise the units of a booking that waits, since there are enough now; Refused where there are not."""
    require_person(shop)
    today = shop.today()
    with shop.acting("take off waiting line", f"booking {code}") as act:
        booking = _open_booking(act, code)
        terms = terms_of(act.session, booking.id)
        if terms is None or terms.waiting_since is None:
            raise Refused(f"booking {code}: does not wait; nothing is to do")
        promises = Promises(act.session, today, without=booking.id)
        span = Span(booking.starts_on, booking.ends_on, code)
        why = promises.chosen(booking.unit_type_id, span, booking.units_wanted, ())[1]
        if why:
            raise Refused(f"{why}; it stays on the waiting line")
        act.change(terms, waiting_since=None)


def cancel_booking(shop: Shop, code: str) -> tuple[str, ...]:
    """Cancel a booking of which nothing is out; returns the codes on the waiting line that fit in now."""
    require_person(shop)
    today = shop.today()
    with shop.acting("cancel booking", f"booking {code}") as act:
        booking = _open_booking(act, code)
        if any(each.out_at is not None and each.received_at is None for each in lines_of(act.session, booking.id)):
            raise Refused(f"booking {code}: units are out; receive them first, or move its last day")
        act.change(booking, cancelled_at=act.at)
        return _that_fit_now(act, booking.unit_type_id, today)


def checked_days(first: date, last: date, today: date) -> Span:
    """The days of a booking; Refused where they are out of order, over, or too many."""
    if last < first:
        raise Refused("last day: is before the first; give first and last day in order")
    if last < today:
        raise Refused(f"last day: {last} is over; give days from today on")
    if (last - first).days >= LONGEST_DAYS:
        raise Refused(f"last day: more than {LONGEST_DAYS} days are not booked in one go; give fewer")
    return Span(first, last)


def _checked(act: Act, entry: BookingEntry) -> None:
    one_word("kind", entry.kind, KINDS)
    one_word("when full", entry.when_full, WHEN_FULL)
    if entry.kind == "hire" and entry.renter_id is None:
        raise Refused("renter: is missing; say who hires")
    if entry.kind == "course" and not entry.divers:
        raise Refused("students: none is named; a course asks for its students")
    if entry.kind in ("course", "try day") and entry.instructor_id is None:
        raise Refused(f"instructor: is missing; a {entry.kind} asks for its instructor")
    if len(set(entry.divers)) < len(entry.divers) or entry.instructor_id in entry.divers:
        raise Refused("students: somebody is named twice; name each once")
    people = [each for each in (*entry.divers, entry.renter_id, entry.instructor_id) if each is not None]
    if set(people) - active_people(act.session, people):
        raise NotFound("person: somebody named is not recorded or no longer active; choose from the list")
    figure_or_none("planned minutes", entry.planned_minutes, 1, 1440, "enter loop minutes, or leave it out")
    figure_or_none("planned depth", entry.planned_depth_m, 1, 350, "enter metres, or leave it out")
    figure_or_none("height of the water", entry.altitude_m, -500, 9000, "enter metres above the sea, or leave it out")
    for dived in entry.last_dives:
        if dived is not None and dived > entry.last:
            raise Refused(f"last dive: {dived} is still to come; enter when the type was last dived")
    figure_or_none("planned water", entry.planned_water_c, -3, 45, "enter degrees C, or leave it out")
    _checked_diluent(entry)


def _checked_diluent(entry: BookingEntry) -> None:
    if entry.diluent_oxygen is None:
        if entry.diluent_helium is not None:
            raise Refused("diluent oxygen: is missing; a diluent is stated with its oxygen, in percent")
        return
    figure("diluent oxygen", entry.diluent_oxygen, 0, 100, "enter percent, or leave it out")
    figure_or_none("diluent helium", entry.diluent_helium, 0, 100, "enter percent, or leave it out")
    try:
        analysed_mixture(entry.diluent_oxygen, entry.diluent_helium)
    except ValueError:
        words = f"{entry.diluent_oxygen:g} % oxygen and {entry.diluent_helium:g} % helium are over 100 % together"
        raise Refused(f"diluent helium: {words}; look at both") from None


def _stated(entry: BookingEntry, place_: int) -> tuple[str | None, date | None]:
    """Harness size and last dive of the diver at a place from 1 on, as stated."""
    harness = entry.harnesses[place_ - 1].strip()[:20] if place_ <= len(entry.harnesses) else ""
    return harness or None, entry.last_dives[place_ - 1] if place_ <= len(entry.last_dives) else None


def _spares(entry: BookingEntry) -> int:
    spares = entry.spares if entry.spares is not None else COURSE_SPARES if entry.kind == "course" else 0
    return int(figure("spare units", spares, 0, 20, "enter how many spare units go along"))


def _wanted(entry: BookingEntry) -> int:
    divers = len(entry.divers) or 1
    reckoned = divers + (entry.kind == "course") + _spares(entry)
    wanted = entry.wanted if entry.wanted is not None else max(reckoned, len(entry.units))
    figure("units", wanted, 1, 200, "enter how many units are wanted")
    if wanted < len(set(entry.units)):
        raise Refused(f"units: {len(set(entry.units))} are chosen and {wanted} wanted; choose fewer or want more")
    if entry.kind == "course" and wanted < reckoned:
        raise Refused(
            f"units: a course of {divers} asks for {reckoned}: students, instructor and {_spares(entry)} spare"
        )
    return wanted


def _put_on(act: Act, booking: Booking, unit: Unit) -> BookingUnit:
    """The new line, for whoever on the booking has no unit yet; nobody where all have, which makes it a spare."""
    served = {each.diver_id for each in lines_of(act.session, booking.id)}
    diver = next((each for each in divers_of(act.session, booking.id) if each not in served), None)
    return act.add(BookingUnit(booking_id=booking.id, unit_id=unit.id, diver_id=diver))


def _open_booking(act: Act, code: str) -> Booking:
    booking = booking_by_code(act.session, code)
    if booking.cancelled_at is not None:
        raise Refused(f"booking {code}: is cancelled; book it anew")
    lines = lines_of(act.session, booking.id)
    if lines and all(each.received_at is not None for each in lines) and len(lines) >= booking.units_wanted:
        raise Refused(f"booking {code}: is over, all its units are back; book a new one")
    return booking


def _waits(act: Act, booking: Booking) -> bool:
    terms = terms_of(act.session, booking.id)
    return terms is not None and terms.waiting_since is not None


def _that_fit_now(act: Act, unit_type_id: int, today: date) -> tuple[str, ...]:
    fitting = []
    for each in read_wanted_units(act.session.connection(), today):
        if each.waiting_since is None or each.unit_type_id != unit_type_id:
            continue
        promises = Promises(act.session, today, without=each.booking_id)
        span = Span(each.starts_on, each.ends_on, each.code)
        if not promises.chosen(unit_type_id, span, each.units_wanted, ())[1]:
            fitting.append(each.code)
    return tuple(fitting)


def _away(unit: HireableRecord, today: date) -> list[Span]:
    if unit.away_until is None:
        return []
    # Back in good time is a promise: the unit is free from the day after it.
    return [Span(today, max(unit.away_until, today), "away")]

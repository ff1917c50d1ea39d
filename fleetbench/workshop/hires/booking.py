"""Bookings at the desk: what stands in the way, book, move, put a unit on, and move up the waiting list."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.gas.cylinders import analysed_mixture
from fleetbench.calc.hires.availability import (
    TURN_ROUND_NIGHTS,
    Diaries,
    Span,
    Want,
    clashes,
    first_come,
    free_units,
    place,
)
from fleetbench.calc.hires.promises import BookingKind, FreeAndFit, HireState
from fleetbench.calc.readiness.judge import USUAL_WAY, HandoverKind
from fleetbench.records.canisters.lookups import OpenSession
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import (
    HireableRecord,
    active_people,
    booking_by_code,
    divers_of,
    lines_of,
    next_booking_code,
    read_hireable,
    read_unit_type_names,
    terms_of,
    turn_round_nights,
    unit_type_by_code,
)
from fleetbench.records.hires.reads import BookedUnit, WantedRecord, read_promises, read_wanted
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingTerms, BookingUnit
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import (
    Day,
    Workplace,
    day_of,
    figure,
    figure_or_none,
    one_word,
    require_person,
    with_theirs,
)
from fleetbench.workshop.hires.fitness import BookUnfit, FitUnits, write_booked_unfit
from fleetbench.workshop.readiness.ready import leaving_way
from fleetbench.workshop.units.fleet import Fleet

LETTERS: dict[str, str] = {BookingKind.HIRE: "H", BookingKind.COURSE: "C", BookingKind.TRY_DAY: "T"}
WHEN_FULL = ("refuse", "wait")
LONGEST_DAYS = 366
SOME_DAYS = 60
"""So many days more than asked for are laid out at once, since the next question is of days near by."""
OTHER_DAYS = say("choose other days, other or fewer units, or the waiting list")
OR_A_MANAGER = say("{other_days}; or a manager books it with a reason", other_days=OTHER_DAYS)
LONGEST_TERMS = 400
COURSE_SPARES = 1
"""A course takes a spare unit along; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingEntry:
    """A booking as it is asked for.

    units: tags, where they are chosen already; wanted: how many, None is calculated from those who dive, for a course
    with its instructor and the spares. divers: the students of a course, or who dives on a hire. Planned figures: None
    is not known. bailout: whether a bailout set is to go along, None not said. diluent_oxygen, diluent_helium: the
    diluent wished for, in percent. when_full: `refuse`, or `wait` for the waiting list. harnesses, last_dives: size and
    last dive on the type as each diver states them, in the divers' order, empty or None where it is not said.
    altitude_m: height of the water where it is dived. unfit: a manager's decision to book what is not fit. way: how
    the units leave, which is kept with each unit; empty is the usual way. price_terms: in the centre's own words.
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
    unfit: BookUnfit | None = None
    way: str = ""
    price_terms: str = ""


@dataclass(frozen=True, slots=True)
class Booked:
    """What was booked: its code, the units put on it, and whether it stands on the waiting list and why.

    unfit: what is not fit and was booked by a manager's decision, empty where all is.
    """

    booking_id: int
    code: str
    units: tuple[str, ...]
    waiting: bool
    why_waiting: str = ""
    unfit: str = ""


@dataclass(frozen=True, slots=True)
class BookingLook:
    """What a booking would meet. refused: why it cannot be; unfit: why only a manager may book it; empty where nothing.

    count: how many units are free and fit on its days, None where the days themselves make no sense.
    """

    refused: tuple[str, ...]
    unfit: str = ""
    count: FreeAndFit | None = None


@dataclass(frozen=True, slots=True)
class Freed:
    """What a cancelled booking frees: codes on the waiting list that have fit units now, and who is passed over."""

    codes: tuple[str, ...]
    passed_over: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnitTypeChoice:
    """A unit type that can be booked, and its units."""

    code: str
    name: str
    units: tuple[str, ...]


class Promises:
    """The days on which each unit is promised, and the promises without a chosen unit.

    day: asks which units may be counted on, too; without it only the promises themselves are looked at. fleet: what is
    known of all units then, to be read where it is not given.
    """

    def __init__(
        self,
        session: OpenSession,
        today: date,
        *,
        without: int | None = None,
        day: Day | None = None,
        way: str | None = None,
        fleet: Fleet | None = None,
    ) -> None:
        connection = session.connection()
        self.today = today
        fit = FitUnits(connection, day, booking_id=without, way=way, fleet=fleet) if day is not None else None
        self.fit = fit
        self._nights = turn_round_nights(connection)
        self.units: dict[str, HireableRecord] = {each.tag: each for each in read_hireable(connection, today)}
        self.taken: dict[str, list[Span]] = {tag: _away(each, today) for tag, each in self.units.items()}
        self._wants: dict[int, list[Want]] = {}
        self._diaries: dict[int, tuple[Span, Diaries]] = {}
        self._came: dict[str, int] = {}
        self._named: list[tuple[BookedUnit, Span]] = []
        wanted = read_wanted(connection, today)
        self.waiting = sorted(
            (each for each in wanted if each.waiting_since is not None and each.booking_id != without),
            key=_since,
        )
        for booking in wanted:
            waits = booking.waiting_since is not None
            if not waits and booking.booking_id != without and booking.units_wanted > booking.lines:
                span = Span(booking.starts_on, booking.ends_on, booking.code)
                want = Want(span, booking.units_wanted - booking.lines)
                self._wants.setdefault(booking.unit_type_id, []).append(want)
                self._came[booking.code] = booking.booking_id
        for each in read_promises(connection):
            if each.booking_id != without and each.out_at is None and each.ends_on >= today:
                self._named.append((each, Span(each.starts_on, each.ends_on, each.code)))
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

    def diaries(self, unit_type_id: int, spans: Iterable[Span]) -> Diaries:
        """The same as diaries that can be asked for these days and the wants'; copy them to promise more."""
        found = self._diaries.get(unit_type_id)
        asked = [*spans, *([found[0]] if found else (want.span for want in self.wants_of(unit_type_id)))]
        first, last = min(each.first for each in asked), max(each.last for each in asked)
        if found is None or first < found[0].first or last > found[0].last:
            through = Span(min(first, self.today), last + timedelta(SOME_DAYS))
            days = (through.first + timedelta(step) for step in range((through.last - through.first).days + 1))
            known = Diaries(self.of_type(unit_type_id), self.nights(unit_type_id), [Span(day, day) for day in days])
            found = self._diaries[unit_type_id] = through, known
        return found[1]

    def give(self, tag: str, span: Span) -> None:
        """Promise these days of a unit too."""
        self.taken[tag].append(span)
        kind = self.units[tag].unit_type_id
        if kind in self._diaries:
            self._diaries[kind][1].add(tag, span)

    def wants_of(self, unit_type_id: int) -> tuple[Want, ...]:
        """The promises of a type without a chosen unit, those that wait left out."""
        return tuple(self._wants.get(unit_type_id, ()))

    def in_the_way(self, tag: str, wanted: Span) -> tuple[str, ...]:
        """What stands in the way of a unit for these days, in words; empty where nothing does."""
        unit = self.units.get(tag)
        if unit is None:
            return (say("unit {tag}: is retired or not the centre's own; choose another", tag=tag),)
        nights = self.nights(unit.unit_type_id)
        said = say("unit {tag}: is promised to {name} from {first} to {last}; choose other days or units")
        if nights > 1:
            said = say(
                "unit {tag}: is promised to {name} from {first} to {last}, and {nights} nights are kept for its "
                "turn-round; choose other days or units"
            )
        return tuple(
            say(said, tag=tag, name=each.name, first=each.first, last=each.last, nights=nights)
            for each in clashes(wanted, self.taken[tag], nights)
        )

    def chosen(
        self, unit_type_id: int, span: Span, units: int, named: Sequence[str], *, fit: bool = False
    ) -> tuple[tuple[str, ...], str]:
        """Which units serve a booking beside those named, and why it is over-booked, empty where it is not.

        Bookings without a chosen unit are placed too, so that the last free unit is not promised twice. fit: on none
        but units that may be counted on.
        """
        fits = self.fit.fits if fit and self.fit is not None else None
        nights = self.nights(unit_type_id)
        taken = {tag: list(each) for tag, each in self.of_type(unit_type_id).items()}
        for tag in named:
            if tag in taken:
                taken[tag].append(span)
        wants = [*self._wants.get(unit_type_id, ()), *([Want(span, units)] if units else [])]
        before = set(place(wants[: len(wants) - bool(units)], self.of_type(unit_type_id), nights, fits)[1])
        placed, short = place(wants, taken, nights, fits)
        newly_short = [wants[at].span.name for at in short if at not in before]
        if not newly_short:
            return placed.get(len(wants) - 1, ()) if units else (), ""
        free = sum(not clashes(span, each, nights) for each in self.of_type(unit_type_id).values())
        others = strung(", ", dict.fromkeys(each for each in newly_short if each != span.name))
        why = say("units: {wanted} wanted from {first} to {last}, {free} free",
                  wanted=units + len(named), first=span.first, last=span.last, free=free)  # fmt: skip
        return (), strung("; ", (why, say("{others} would be left without a unit", others=others))) if others else why

    def count(self, unit_type_id: int, span: Span, wanted: int) -> FreeAndFit:
        """How many units are wanted, free and fit on these days, and why free ones are not."""
        fit = self.fit
        free = tuple(sorted(free_units(span, self.of_type(unit_type_id), self.nights(unit_type_id))))
        if fit is None:
            return FreeAndFit(wanted, free, {})
        unfit = {tag: fit.why_unfit(tag, span) for tag in free if not fit.fits(tag, span)}
        return FreeAndFit(wanted, free, unfit, tuple(tag for tag in free if fit.with_work(tag, span)))

    def against(
        self, unit_type_id: int, span: Span, wanted: int, named: Sequence[str]
    ) -> tuple[tuple[str, ...], str, FreeAndFit]:
        """Why a booking cannot be, why it may be by a manager's decision alone, and how many units there are."""
        reasons = tuple(words for tag in named for words in self.in_the_way(tag, span))
        count = self.count(unit_type_id, span, wanted)
        if not reasons:
            why = self.chosen(unit_type_id, span, max(0, wanted - len(named)), named)[1]
            reasons = (why,) if why else ()
        if reasons or self.fit is None:
            return reasons, "", count
        held = [tag for tag in named if not self.fit.fits(tag, span)]
        short = self.chosen(unit_type_id, span, max(0, wanted - len(named)), named, fit=True)[1]
        told = [say("unit {tag}: {why_unfit}", tag=tag, why_unfit=self.fit.why_unfit(tag, span)[0]) for tag in held]
        # The count of free units is told with that of fit ones, so only who else would lose a unit is added to it.
        _, _, others = short.partition(" free; ")
        unfit = strung("; ", (*told, *([count.words] if short else []), *([others] if others else [])))
        return (), unfit, count

    def from_the_waiting_list(self, booking: WantedRecord) -> tuple[tuple[str, ...], str]:
        """Fit units for a booking that waits, after whoever comes first; and who of these is short, in words."""
        kind = booking.unit_type_id
        fits = self.fit.fits if self.fit is not None else None
        firm = self._firm(kind, booking.booking_id)
        waiting = [
            Want(Span(each.starts_on, each.ends_on, each.code), each.units_wanted)
            for each in self.waiting
            if each.unit_type_id == kind and _waits_longer(each, booking)
        ]
        want = Want(Span(booking.starts_on, booking.ends_on, booking.code), booking.units_wanted)
        units, lacking = first_come(firm, waiting, want, self.of_type(kind), self.nights(kind), fits)
        told = [
            say("{booking} waits longer and lacks {lacks}", booking=each.span.name, lacks=lacks)
            if each in waiting
            else say("{booking} was booked earlier and lacks {lacks}", booking=each.span.name, lacks=lacks)
            for each, lacks in lacking
            if clashes(want.span, (each.span,), self.nights(kind))
        ]
        if units:
            # What was booked later but promised already keeps what it has.
            units, why = self.chosen(kind, want.span, want.units, (), fit=True)
            told += [why] if why else []
        return units, strung("; ", told)

    def _firm(self, kind: int, before: int) -> list[Want]:
        """What was booked before a booking and asks for units still: none was chosen, or the one chosen is not fit."""
        asked = {each.span: each.units for each in self._wants.get(kind, ()) if self._came[each.span.name] < before}
        for each, span in self._named:
            mine = each.unit_type_id == kind and each.booking_id < before
            if mine and self.fit is not None and not self.fit.fits(each.unit, span):
                asked[span] = asked.get(span, 0) + 1
        return [Want(span, units) for span, units in asked.items()]


def _since(waits: WantedRecord) -> tuple[datetime, int]:
    assert waits.waiting_since is not None
    return waits.waiting_since, waits.booking_id


def _waits_longer(one: WantedRecord, other: WantedRecord) -> bool:
    if one.waiting_since is None or other.waiting_since is None:
        return False
    return (one.waiting_since, one.booking_id) < (other.waiting_since, other.booking_id)


def booking_choices(workplace: Workplace) -> tuple[UnitTypeChoice, ...]:
    """What can be booked: each unit type with its units in service."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        units, names = read_hireable(connection, today), read_unit_type_names(connection)
    return tuple(
        UnitTypeChoice(code, name, tuple(each.tag for each in units if each.unit_type_id == key))
        for key, (code, name) in names.items()
    )


def book(workplace: Workplace, entry: BookingEntry) -> Booked:
    """What was booked; Refused where a unit is promised already, or too few are free and fit, unless it may wait.

    What is free but not fit is booked only by a manager's decision, which is written on the units.
    """
    require_person(workplace)
    with workplace.transaction("book", f"{entry.kind} {entry.first}") as act:
        return book_within(act, entry, day_of(workplace))


def book_within(act: Transaction, entry: BookingEntry, day: Day, *, cured: Collection[str] = ()) -> Booked:
    """What was booked within an act under way; as `book`. cured: units that bench work of this act will make fit."""
    today = day.today
    span = checked_days(entry.first, entry.last, today)
    checked(act, entry)
    kind = unit_type_by_code(act.session, entry.unit_type)
    units = list(dict.fromkeys(unit_by_tag(act.session, tag) for tag in entry.units))
    wanted = units_wanted(entry)
    faults = [say("unit {tag}: is of another type; choose units of {code}", tag=each.tag,
        code=kind.code) for each in units
              if each.unit_type_id != kind.id]  # fmt: skip
    if faults:
        raise Refused(strung("; ", faults))
    named = [each.tag for each in units]
    promises = Promises(act.session, today, day=day, way=entry.way)
    if promises.fit is not None:
        promises.fit.cured = frozenset(cured)
    refused, unfit, count = promises.against(kind.id, replace(span, name="this"), wanted, named)
    reasons = refused or ((unfit,) if unfit and entry.unfit is None else ())
    if reasons and entry.when_full == "refuse":
        raise Refused(strung("; ", (*reasons, OTHER_DAYS if refused else OR_A_MANAGER)))
    if entry.way and leaving_way(entry.way) is not USUAL_WAY and (reasons or not units):
        raise Refused(
            say(
                "leaves as: {way} is kept with each unit; name the units, or choose {usual}",
                way=say(entry.way),
                usual=say(USUAL_WAY),
            )
        )
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
            booking_id=booking.id, spares=spares(entry), waiting_since=waits, bailout=entry.bailout,
            diluent_oxygen=entry.diluent_oxygen, diluent_helium=entry.diluent_helium,
            altitude_m=entry.altitude_m, price_terms=price_terms(entry),
        )
    )  # fmt: skip
    divers = entry.divers or (
        (entry.renter_id,) if entry.renter_id is not None and entry.kind == BookingKind.HIRE else ()
    )
    everybody = (*divers, entry.instructor_id) if entry.kind == BookingKind.COURSE else divers
    for place_, person in enumerate((each for each in everybody if each is not None), 1):
        harness, dived = stated(entry, place_)
        act.add(BookingDiver(booking_id=booking.id, person_id=person, ordinal=place_, harness=harness,
                             last_dive_on=dived))  # fmt: skip
    if reasons:
        return Booked(booking.id, code=booking.code, units=(), waiting=True, why_waiting=strung("; ", reasons))
    for unit in units:
        _put_on(act, booking, unit, entry.way or None)
    if unfit and entry.unfit is not None:
        _note_unfit(act, booking, promises, count, named, entry.unfit)
    return Booked(booking.id, booking.code, tuple(named), False, unfit=unfit)


def _note_unfit(
    act: Transaction, booking: Booking, promises: Promises, count: FreeAndFit, named: Sequence[str], unfit: BookUnfit
) -> None:
    """Write a manager's decision on the units that are not fit: those named, else those that are counted on."""
    span = Span(booking.starts_on, booking.ends_on)
    held = [tag for tag in named if promises.fit is not None and not promises.fit.fits(tag, span)]
    tags = held or list(count.unfit) or list(named) or list(count.free)
    write_booked_unfit(act, booking.code, tags, booking.ends_on, unfit)


def look_ahead(
    workplace: Workplace, unit_type: str, first: date, last: date, *, units: Sequence[str] = (), wanted: int = 1,
    code: str | None = None, way: str = ""
) -> BookingLook:  # fmt: skip
    """What a booking, or moving the one with this code, would meet; a fixed number of statements.

    unit_type: the booking's own where empty. way: how its units leave, which decides for what they are judged; empty
    is the usual way.
    """
    today, day = workplace.today(), day_of(workplace)
    try:
        span = checked_days(first, last, today)
    except Refused as refusal:
        return BookingLook((str(refusal),))
    with workplace.database.read_session() as session:
        booking = booking_by_code(session, code) if code is not None else None
        own = booking.unit_type_id if booking is not None and not unit_type else None
        type_id = own if own is not None else unit_type_by_code(session, unit_type).id
        promises = Promises(session, today, without=booking.id if booking is not None else None, day=day, way=way)
        units = list(dict.fromkeys(_as_recorded(session, tag) for tag in units))
        wanted = max(wanted, len(units))
        return BookingLook(*promises.against(type_id, replace(span, name=code or "this"), wanted, units))


def _as_recorded(session: OpenSession, tag: str) -> str:
    """A tag as it is written in the records; as it was typed where no unit has it, which is told of it later."""
    try:
        return unit_by_tag(session, tag).tag
    except NotFound:
        return tag


def conflicts(
    workplace: Workplace, unit_type: str, first: date, last: date, *, units: Sequence[str] = (), wanted: int = 1,
    code: str | None = None
) -> tuple[str, ...]:  # fmt: skip
    """What would stand in the way of a booking, fit or not; empty where nothing does."""
    return look_ahead(workplace, unit_type, first, last, units=units, wanted=wanted, code=code).refused


def move_booking(
    workplace: Workplace, code: str, first: date, last: date, *, unfit: BookUnfit | None = None,
    seen: Mapping[str, date] | None = None,
) -> None:  # fmt: skip
    """Give a booking other days, its units with it; Refused where one of them is promised, or it is out or over.

    A unit that is out stays longer by `extend_hire` alone, which assesses it through the new last day. Days on which
    its units are not fit are given by a manager's decision alone. seen: the days that the user saw; Clash where another
    desk changed them since.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("move booking", f"booking {code}") as act:
        booking = open_booking(act, code)
        mine, now = {"first": first, "last": last}, {"first": booking.starts_on, "last": booking.ends_on}
        with_theirs(say("booking {code}", code=code), mine, seen, now, {"days": ("first", "last")})
        if last > booking.ends_on and lines_still_out(act, booking):
            raise Refused(
                say(
                    "booking {code}: units are out; choose Extend, which assesses them through the new last day",
                    code=code,
                )
            )
        move_within(act, code, first, last, today, day, unfit)


def lines_still_out(act: Transaction, booking: Booking) -> list[BookingUnit]:
    """The lines of a booking whose units are out now."""
    return [each for each in lines_of(act.session, booking.id) if each.out_at is not None and each.received_at is None]


def move_within(
    act: Transaction,
    code: str,
    first: date,
    last: date,
    today: date,
    day: Day | None = None,
    unfit: BookUnfit | None = None,
) -> Booking:
    """The booking with its new days, within an act under way; Refused where one of its units is promised.

    day: asks whether its units are fit, too; where the act assesses them itself it is None.
    """
    booking = open_booking(act, code)
    lines = lines_of(act.session, booking.id)
    out = any(each.out_at is not None for each in lines)
    if out and first != booking.starts_on:
        raise Refused(
            say(
                "booking {code}: units are out since {starts_on}; only its last day can move",
                code=code,
                starts_on=booking.starts_on,
            )
        )
    span = checked_days(first if not out else max(first, today), last, today)
    promises = Promises(act.session, today, without=booking.id, day=day)
    named = [act.get(Unit, each.unit_id, "unit").tag for each in lines if each.received_at is None]
    more = 0 if is_waiting(act, booking) else max(0, booking.units_wanted - len(lines))
    act.change(booking, starts_on=first, ends_on=last)
    promised_within(act, booking, promises, replace(span, name=code), len(named) + more, named, unfit)
    act.session.flush()
    return booking


def promised_within(
    act: Transaction,
    booking: Booking,
    promises: Promises,
    span: Span,
    wanted: int,
    named: Sequence[str],
    unfit: BookUnfit | None,
) -> None:
    """Nothing where a booking's units are free and fit on these days; Refused otherwise.

    What is free but not fit passes by a manager's decision, which is written on the units.
    """
    refused, why, count = promises.against(booking.unit_type_id, span, wanted, named)
    if refused:
        raise Refused(strung("; ", (*dict.fromkeys(refused), OTHER_DAYS)))
    if why and unfit is None:
        raise Refused(strung("; ", (why, OR_A_MANAGER)))
    if why and unfit is not None:
        _note_unfit(act, booking, promises, count, named, unfit)


def put_unit_on(workplace: Workplace, code: str, tag: str, *, unfit: BookUnfit | None = None) -> int:
    """The key of the line that puts a unit on a booking; a booking on the waiting list leaves it with its last unit.

    A unit that is not fit on its days is put on it by a manager's decision alone.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("put unit on booking", f"booking {code}") as act:
        booking = open_booking(act, code)
        unit = unit_by_tag(act.session, tag)
        fit = FitUnits(act.session.connection(), day, booking_id=booking.id, way=_way_of_lines(act, booking))
        span = Span(booking.starts_on, max(booking.ends_on, today), code)
        line = put_on_within(act, booking, unit, today)
        if not fit.fits(unit.tag, span):
            if unfit is None:
                raise Refused(
                    strung(
                        "; ",
                        (
                            say("unit {tag}: {why_unfit}", tag=unit.tag, why_unfit=fit.why_unfit(unit.tag, span)[0]),
                            OR_A_MANAGER,
                        ),
                    )
                )
            write_booked_unfit(act, code, (unit.tag,), booking.ends_on, unfit)
        return line.id


def put_on_within(act: Transaction, booking: Booking, unit: Unit, today: date) -> BookingUnit:
    """The line that puts a unit on a booking, within an act under way; Refused where it cannot."""
    lines = [each for each in lines_of(act.session, booking.id) if each.received_at is None]
    if any(each.unit_id == unit.id for each in lines):
        raise Refused(say("unit {tag}: is on booking {code} already", tag=unit.tag, code=booking.code))
    if unit.unit_type_id != booking.unit_type_id:
        raise Refused(
            say(
                "unit {tag}: is of another type than booking {code} asks for; choose another",
                tag=unit.tag,
                code=booking.code,
            )
        )
    promises = Promises(act.session, today, without=booking.id)
    span = Span(max(booking.starts_on, min(today, booking.ends_on)), max(booking.ends_on, today), booking.code)
    reasons = promises.in_the_way(unit.tag, span)
    if not reasons:
        why = promises.chosen(booking.unit_type_id, span, 0, [unit.tag])[1]
        reasons = (say("{why}; choose another unit", why=why),) if why else ()
    if reasons:
        raise Refused(strung("; ", reasons))
    line = _put_on(act, booking, unit)
    terms = terms_of(act.session, booking.id)
    if terms is not None and terms.waiting_since is not None and len(lines) + 1 >= booking.units_wanted:
        act.change(terms, waited_since=terms.waiting_since, waiting_since=None)
    return line


def take_off_waiting(workplace: Workplace, code: str) -> str:
    """Promise the units of a booking that waits, since enough are free and fit now; Refused where they are not.

    Returns who waits longer and was passed over, in words; empty where nobody was.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("take off waiting list", f"booking {code}") as act:
        booking = open_booking(act, code)
        terms = terms_of(act.session, booking.id)
        if terms is None or terms.waiting_since is None:
            raise Refused(say("booking {code}: does not wait; nothing is to do", code=code))
        checked_days(booking.starts_on, booking.ends_on, today)
        waits = next(each for each in read_wanted(act.session.connection(), today) if each.booking_id == booking.id)
        promises = Promises(act.session, today, without=booking.id, day=day)
        units, told = promises.from_the_waiting_list(waits)
        if not units:
            span = Span(booking.starts_on, booking.ends_on, code)
            count = promises.count(booking.unit_type_id, span, booking.units_wanted)
            words = strung("; ", (each for each in (count.words, told) if each))
            raise Refused(say("units: {words}; it stays on the waiting list", words=words))
        act.change(terms, waited_since=terms.waiting_since, waiting_since=None)
        return told


def checked_days(first: date, last: date, today: date) -> Span:
    """The days of a booking; Refused where they are out of order, over, or too many."""
    if last < first:
        raise Refused(say("last day: is before the first; give first and last day in order"))
    if last < today:
        raise Refused(say("last day: {last} is over; give days from today on", last=last))
    if (last - first).days >= LONGEST_DAYS:
        raise Refused(say("last day: more than {most} days are not booked in one go; give fewer", most=LONGEST_DAYS))
    return Span(first, last)


def checked(act: Transaction, entry: BookingEntry) -> None:
    """Nothing where the entry can be booked; Refused naming the field otherwise."""
    one_word("kind", entry.kind, tuple(BookingKind))
    one_word("when full", entry.when_full, WHEN_FULL)
    one_word("leaves as", entry.way, ("", *HandoverKind))
    if entry.kind == BookingKind.HIRE and entry.renter_id is None:
        raise Refused(say("renter: is missing; say who hires"))
    if entry.kind == BookingKind.COURSE and not entry.divers:
        raise Refused(say("students: none is named; a course asks for its students"))
    if entry.kind in (BookingKind.COURSE, BookingKind.TRY_DAY) and entry.instructor_id is None:
        raise Refused(say("instructor: is missing; a {kind} asks for its instructor", kind=say(entry.kind)))
    if len(set(entry.divers)) < len(entry.divers) or entry.instructor_id in entry.divers:
        raise Refused(say("students: one person is named twice; name each once"))
    people = [each for each in (*entry.divers, entry.renter_id, entry.instructor_id) if each is not None]
    if set(people) - active_people(act.session, people):
        raise NotFound(say("person: a named person is not recorded or no longer active; choose from the list"))
    figure_or_none("planned minutes", entry.planned_minutes, 1, 1440, "enter loop minutes, or leave it empty")
    figure_or_none("planned depth", entry.planned_depth_m, 1, 350, "enter {unit}, or leave it empty", METRE)
    metres = say("enter {unit} above the sea, or leave it empty")
    figure_or_none("altitude of the dive site", entry.altitude_m, -500, 9000, metres, METRE)
    for dived in entry.last_dives:
        if dived is not None and dived > entry.last:
            raise Refused(say("last dive: {dived} is still to come; enter when the type was last dived", dived=dived))
    figure_or_none("planned water", entry.planned_water_c, -3, 45, "enter {unit}, or leave it empty", CELSIUS)
    _checked_diluent(entry)


def _checked_diluent(entry: BookingEntry) -> None:
    if entry.diluent_oxygen is None:
        if entry.diluent_helium is not None:
            raise Refused(say("diluent oxygen: is missing; a diluent is stated with its oxygen, in percent"))
        return
    figure("diluent oxygen", entry.diluent_oxygen, 0, 100, "enter percent, or leave it empty")
    figure_or_none("diluent helium", entry.diluent_helium, 0, 100, "enter percent, or leave it empty")
    try:
        analysed_mixture(entry.diluent_oxygen, entry.diluent_helium)
    except ValueError:
        words = say(
            "{diluent_oxygen:g} % oxygen and {diluent_helium:g} % helium are over 100 % together",
            diluent_oxygen=entry.diluent_oxygen,
            diluent_helium=entry.diluent_helium,
        )
        raise Refused(say("diluent helium: {words}; look at both", words=words)) from None


def stated(entry: BookingEntry, place_: int) -> tuple[str | None, date | None]:
    """Harness size and last dive of the diver at a place from 1 on, as stated."""
    harness = entry.harnesses[place_ - 1].strip()[:20] if place_ <= len(entry.harnesses) else ""
    return harness or None, entry.last_dives[place_ - 1] if place_ <= len(entry.last_dives) else None


def price_terms(entry: BookingEntry) -> str | None:
    """Price terms as they are kept; Refused where they are too long."""
    said = entry.price_terms.strip()
    if len(said) > LONGEST_TERMS:
        raise Refused(
            say("price terms: have {count} letters; shorten them to {most}", count=len(said), most=LONGEST_TERMS)
        )
    return said or None


def spares(entry: BookingEntry) -> int:
    """How many spare units an entry takes along."""
    told = entry.spares if entry.spares is not None else COURSE_SPARES if entry.kind == BookingKind.COURSE else 0
    return int(figure("spare units", told, 0, 20, "enter how many spare units go along"))


def units_asked(kind: str, divers: int, spares: int | None, chosen: int = 0) -> int:
    """How many units a booking asks for: one a diver, for a course the instructor's and the spares too."""
    extra = spares if spares is not None else COURSE_SPARES if kind == BookingKind.COURSE else 0
    return max((divers or 1) + (kind == BookingKind.COURSE) + extra, chosen)


def units_wanted(entry: BookingEntry) -> int:
    """How many units an entry asks for; Refused where that is too few for its divers."""
    divers = len(entry.divers) or 1
    asked_for = units_asked(entry.kind, divers, spares(entry))
    wanted = entry.wanted if entry.wanted is not None else max(asked_for, len(entry.units))
    figure("units", wanted, 1, 200, "enter how many units are wanted")
    if wanted < len(set(entry.units)):
        raise Refused(
            say(
                "units: {count} are chosen and {wanted} wanted; choose fewer or want more",
                count=len(set(entry.units)),
                wanted=wanted,
            )
        )
    if entry.kind == BookingKind.COURSE and wanted < asked_for:
        raise Refused(
            say(
                "units: a course of {divers} asks for {units}: students, instructor and {spares} spare",
                divers=divers,
                units=asked_for,
                spares=spares(entry),
            )
        )
    return wanted


def _put_on(act: Transaction, booking: Booking, unit: Unit, way: str | None = None) -> BookingUnit:
    """The new line, for whoever on the booking has no unit yet; nobody where all have, which makes it a spare.

    way: how it leaves; None is as the units that are on the booking already, where these say one and the same.
    """
    lines = lines_of(act.session, booking.id)
    served = {each.diver_id for each in lines}
    way = way or _way_of_lines(act, booking)
    diver = next((each for each in divers_of(act.session, booking.id) if each not in served), None)
    return act.add(BookingUnit(booking_id=booking.id, unit_id=unit.id, diver_id=diver, hand_over=way))


def _way_of_lines(act: Transaction, booking: Booking) -> str | None:
    """How the units of a booking leave, where they say one and the same."""
    ways = {each.hand_over for each in lines_of(act.session, booking.id)}
    return ways.pop() if len(ways) == 1 else None


def open_booking(act: Transaction, code: str) -> Booking:
    """The booking with that code; Refused where it is cancelled or over."""
    booking = booking_by_code(act.session, code)
    if booking.cancelled_at is not None:
        raise Refused(
            say(
                "booking {code}: is {ended}; restore it, or book it again",
                code=code,
                ended=say(booking.ended_as or HireState.CANCELLED),
            )
        )
    lines = lines_of(act.session, booking.id)
    if lines and all(each.received_at is not None for each in lines) and len(lines) >= booking.units_wanted:
        raise Refused(say("booking {code}: is over, all its units are back; book a new one", code=code))
    return booking


def is_waiting(act: Transaction, booking: Booking) -> bool:
    """Whether a booking stands on the waiting list."""
    terms = terms_of(act.session, booking.id)
    return terms is not None and terms.waiting_since is not None


def that_fit_now(act: Transaction, cancelled: Booking, today: date, day: Day) -> Freed:
    """Who on the waiting list has fit units now, on days that the cancelled booking had; and who is passed over."""
    promises = Promises(act.session, today, day=day)
    span = Span(cancelled.starts_on, cancelled.ends_on)
    nights = promises.nights(cancelled.unit_type_id)
    codes, passed = [], []
    for each in promises.waiting:
        mine = Span(each.starts_on, each.ends_on, each.code)
        if each.unit_type_id != cancelled.unit_type_id or not clashes(span, (mine,), nights):
            continue
        units, told = promises.from_the_waiting_list(each)
        codes += [each.code] if units else []
        why = strung(
            "; ", (part for part in (promises.count(each.unit_type_id, mine, each.units_wanted).words, told) if part)
        )
        passed += [] if units else [strung(": ", (each.code, why))]
    return Freed(tuple(codes), tuple(passed))


def _away(unit: HireableRecord, today: date) -> list[Span]:
    if unit.away_until is None:
        return []
    # Back in good time is a promise: the unit is free from the day after it.
    return [Span(today, max(unit.away_until, today), "away")]

"""Units by days: what each is promised for, what makes it unfit and from when, and promised against fit units.

read_availability(workplace)               everything the time line shows, in a fixed number of statements
availability_at_once(workplace)            the same before its units are judged, where that takes long
what_stands_in_the_way(shown, move)        what a move would meet, in words, calculated on what was read
move_promise(workplace, move)              one booking's unit and days in one act
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.availability import (
    PROMISES,
    TURN_ROUND_NIGHTS,
    DayCount,
    FirstStop,
    Span,
    Strip,
    Want,
    What,
    counted,
    covered,
    place,
    refusals,
    warnings,
    with_turn_round,
)
from fleetbench.calc.hires.promises import GONE, HireState
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.calc.readiness.judge import USUAL_WAY, HandoverKind, HoldFact
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import booking_by_code, lines_of, read_unit_type_names, turn_round_nights
from fleetbench.records.hires.reads import BookedUnit, WantedRecord, read_booked_units, read_wanting
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.known import FEW, no_cycle_search
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, require_person
from fleetbench.workshop.hires.booking import Promises, checked_days, promised_within, put_on_within
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.units.fleet import Fleet, judged_units, whole_fleet

DAYS_BACK, DAYS_AHEAD = 14, 365
"""How far the time line reaches from today."""

CALCULATED = say("being calculated")
"""What is not judged yet says."""


@dataclass(frozen=True, slots=True)
class UnitDays:
    """One unit. promises: by first day. bands: what keeps it in, or will. renew: bench work that grows stale first.

    way: how it is to leave next, for which it was judged.
    """

    tag: str
    unit_type: str
    promises: tuple[Strip, ...]
    bands: tuple[Strip, ...]
    renew: FirstStop | None = None
    way: HandoverKind = USUAL_WAY

    @property
    def unfit_from(self) -> date | None:
        """The first day of the band that has no end, None where there is none."""
        return min((each.first for each in self.bands if each.stops and each.last == date.max), default=None)


@dataclass(frozen=True, slots=True)
class TypeDays:
    """One unit type: its nights of turn-round, the bookings without a chosen unit, and each day's counts."""

    code: str
    name: str
    nights: int
    wanting: tuple[Strip, ...]
    days: tuple[DayCount, ...]


@dataclass(frozen=True, slots=True)
class Availability:
    """Units and types on so many days from the first."""

    today: date
    first: date
    units: tuple[UnitDays, ...]
    types: tuple[TypeDays, ...]

    @property
    def pending(self) -> bool:
        """Whether its units are not judged yet, so that none is shown as fit and none can be booked or moved on it."""
        return any(each.what is What.CALCULATED for unit in self.units[:1] for each in unit.bands)

    @property
    def length(self) -> int:
        """How many days are shown."""
        return len(self.types[0].days) if self.types else DAYS_BACK + DAYS_AHEAD

    def of_type(self, code: str) -> TypeDays:
        """The type with this code; StopIteration where there is none."""
        return next(each for each in self.types if each.code == code)


@dataclass(frozen=True, slots=True)
class Move:
    """A booking's unit given to another unit, or to other days, or both. from_tag: None for one not chosen yet."""

    code: str
    from_tag: str | None
    to_tag: str
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class InTheWay:
    """What a move would meet: refused is why it cannot be, warned why the unit could not go out as things stand."""

    refused: tuple[str, ...]
    warned: tuple[str, ...]


@no_cycle_search()
def read_availability(
    workplace: Workplace, *, days_back: int = DAYS_BACK, days_ahead: int = DAYS_AHEAD
) -> Availability:
    """Everything that the time line shows."""
    fleet = whole_fleet(workplace)
    judged = _Judged(fleet, fleet.day.today + timedelta(days=days_ahead))
    return _laid_out(workplace, fleet.day, fleet.records.units, fleet.catalogue.names, judged, days_back, days_ahead)


def availability_at_once(workplace: Workplace) -> Availability:
    """The same where it takes no time; else every unit with what it is promised for, not judged yet."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        units, names = read_units(connection), read_names(connection)
    if len(_hireable(units, day)) - judged_units(workplace, "first stops") <= FEW:
        return read_availability(workplace)
    return _laid_out(workplace, day, units, names, None)


def _laid_out(
    workplace: Workplace, day: Day, units: Sequence[UnitRecord], people: dict[int, str], judged: "_Judged | None",
    days_back: int = DAYS_BACK, days_ahead: int = DAYS_AHEAD,
) -> Availability:  # fmt: skip
    first = day.today - timedelta(days=days_back)
    with workplace.database.reading() as connection:
        booked, wanting = read_booked_units(connection, first), read_wanting(connection, day.today)
        names, nights = read_unit_type_names(connection), turn_round_nights(connection)
    book = _Book(judged, people, day, first, days_back + days_ahead + 1)
    return book.availability(_hireable(units, day), booked, wanting, names, nights)


def _hireable(units: Sequence[UnitRecord], day: Day) -> list[UnitRecord]:
    kept = (each for each in units if each.owner_kind != OwnerKind.RENTER)
    return [each for each in kept if each.retired_on is None or each.retired_on > day.today]


class _Book:
    """The units laid out by days; judged: None where they are not judged yet."""

    def __init__(self, judged: "_Judged | None", people: dict[int, str], day: Day, first: date, length: int) -> None:
        self.judged, self.people, self.day, self.first, self.length = judged, people, day, first, length

    def availability(
        self, hireable: Sequence[UnitRecord], booked: Sequence[BookedUnit], wanting: Sequence[WantedRecord],
        names: dict[int, tuple[str, str]], nights: dict[int | None, int],
    ) -> Availability:  # fmt: skip
        lines: dict[int, list[BookedUnit]] = defaultdict(list)
        for each in booked:
            lines[each.unit_id].append(each)
        today = self.day.today
        units = {each.unit_id: self.unit(each, names[each.unit_type_id][0], lines[each.unit_id]) for each in hireable}
        types = tuple(
            self._type(
                names[key],
                nights.get(key, nights.get(None, TURN_ROUND_NIGHTS)),
                [units[each.unit_id] for each in hireable if each.unit_type_id == key],
                tuple(self._wanting(each) for each in wanting if each.unit_type_id == key),
            )
            for key in sorted(names, key=lambda key: names[key][0])
            if any(each.unit_type_id == key for each in hireable) or any(each.unit_type_id == key for each in wanting)
        )
        order = {each.code: at for at, each in enumerate(types)}
        ordered = sorted(units.values(), key=lambda each: (order[each.unit_type], each.tag))
        return Availability(today, self.first, tuple(ordered), types)

    def unit(self, unit: UnitRecord, unit_type: str, lines: Sequence[BookedUnit]) -> UnitDays:
        """One unit's promises and bands."""
        promises = tuple(sorted((self._promise(each) for each in lines), key=lambda each: each.first))
        if self.judged is None:
            band = _closed(unit, self.first, what=What.CALCULATED, text=CALCULATED, why=CALCULATED)
            return UnitDays(unit.tag, unit_type=unit_type, promises=promises, bands=(band,))
        bands, renew = self.judged.bands(unit)
        way = self.judged.readiness.way(unit.unit_id)
        return UnitDays(unit.tag, unit_type=unit_type, promises=promises, bands=bands, renew=renew, way=way)

    def _promise(self, line: BookedUnit) -> Strip:
        first = line.starts_on if line.out_at is None else self.day.of(line.out_at)
        today, last, state = self.day.today, line.ends_on, HireState.TO_COME
        if line.received_at is not None:
            last, state = self.day.of(line.received_at), HireState.BACK
        elif line.out_at is not None:
            state = HireState.LATE if line.ends_on < today else HireState.OUT
            last = max(line.ends_on, today)
        who = self.people.get(line.diver_id or line.renter_id or line.instructor_id or 0)
        days = _booking_words(line.kind, line.code, who, line.starts_on, line.ends_on)
        why = strung(", ", (days, say(state)))
        first = min(first, last)
        return Strip(
            first, last=last, what=What(line.kind), text=line.code, why=why, record=("booking", line.code), state=state
        )

    def _wanting(self, booking: WantedRecord) -> Strip:
        waits = booking.waiting_since is not None
        who = self.people.get(booking.renter_id or booking.instructor_id or 0)
        wanted = say(
            "{lacking} of {units_wanted} units to be chosen", lacking=booking.lacking, units_wanted=booking.units_wanted
        )
        days = _booking_words(booking.kind, booking.code, who, booking.starts_on, booking.ends_on)
        told = strung(", ", (say("on the waiting list"), wanted)) if waits else wanted
        why = strung(": ", (days, told))
        what = What.WAITING if waits else What(booking.kind)
        record = ("booking", booking.code)
        return Strip(
            booking.starts_on, last=booking.ends_on, what=what, text=booking.code, why=why, record=record,
            state=HireState.WAITING if waits else HireState.TO_COME, lacking=booking.lacking,
        )  # fmt: skip

    def _type(
        self, named: tuple[str, str], nights: int, units: Sequence[UnitDays], wanting: tuple[Strip, ...]
    ) -> TypeDays:
        firm = [
            with_turn_round(each, nights)
            for unit in units
            for each in unit.promises
            if each.state is not HireState.BACK
        ]
        firm += [with_turn_round(each, nights) for each in wanting if each.what is not What.WAITING]
        waiting = counted([each for each in wanting if each.what is What.WAITING], self.first, self.length)
        promised = counted(firm, self.first, self.length)
        unfit = [covered((each for each in unit.bands if each.stops), self.first, self.length) for unit in units]
        fit = [sum(not each[at] for each in unfit) if self.judged is not None else None for at in range(self.length)]
        days = tuple(DayCount(len(units), promised[at], waiting[at], fit[at]) for at in range(self.length))
        return TypeDays(*named, nights, wanting, days)


class _Judged:
    """What keeps units in, as the fleet stands, through a day."""

    def __init__(self, fleet: Fleet, through: date) -> None:
        self.day, self.through = fleet.day, through
        self.readiness = Readiness(fleet)

    def bands(self, unit: UnitRecord) -> tuple[tuple[Strip, ...], FirstStop | None]:
        """Those of one unit, and the bench work that grows stale first."""
        question = Question(self.day.today, self.day.today, self.readiness.way(unit.unit_id))
        facts, stops = self.readiness.first_stops(unit, question, self.through)
        unfit = next((each for each in stops if not each.ordinary), None)
        bands = [*self._holds(unit, facts.holds or ()), *self._tickets(unit)]
        if unfit is not None:
            why = strung(": ", (say(unfit.check), unfit.evidence))
            record = _record(unfit.record, unit.tag)
            bands.append(_closed(unit, unfit.day, what=What.UNFIT, text="unfit", why=why, record=record))
        if unit.retired_on is not None:
            words = say("retired on {retired_on}", retired_on=unit.retired_on)
            bands.append(_closed(unit, unit.retired_on, what=What.UNFIT, text="retired", why=words))
        return tuple(bands), next((each for each in stops if each.ordinary), None)

    def _holds(self, unit: UnitRecord, held: Sequence[HoldFact]) -> Iterator[Strip]:
        today = self.day.today
        away = self.readiness.away(unit.unit_id)
        if away is not None:
            until = away.expected_on
            words = say(
                "away since {left}: {why}, {back}", left=self.day.of(away.left_at), why=away.why,
                back=say("expected back {day}", day=until) if until else say("return not known"),
            )  # fmt: skip
            last = max(until, today) if until else date.max
            yield _closed(unit, self.day.of(away.left_at), last, what=What.AWAY, text="away", why=words)
        out = self.readiness.is_out(unit.unit_id) is not None
        for hold in held:
            if hold.kind in ("away", "retired", "owner"):
                continue
            since, words = hold.since or today, strung(": ", (say(hold.kind), hold.reason))
            if hold.kind == HoldKind.RECEIVED and not out:
                yield _closed(unit, since, today, what=What.TURN_ROUND, text="turn-round", why=words)
            else:
                yield _closed(unit, since, what=What.HOLD, text="hold", why=words)

    def _tickets(self, unit: UnitRecord) -> Iterator[Strip]:
        for each in self.readiness.open_tickets(unit.unit_id):
            number = ticket_number(each.year, each.number)
            words = (
                say("ticket {number} is open, critical: {reason}", number=number, reason=each.reason)
                if each.critical
                else say("ticket {number} is open: {reason}", number=number, reason=each.reason)
            )
            last = date.max if each.critical else self.day.today
            record = ("ticket", number)
            yield Strip(
                self.day.of(each.opened_at),
                last=last,
                what=What.SERVICE,
                text=say("ticket {number}", number=number),
                why=words,
                record=record,
                stops=each.critical,
            )


def _closed(
    unit: UnitRecord, first: date, last: date = date.max, *, what: What, text: str, why: str,
    record: tuple[str, str] | None = None,
) -> Strip:  # fmt: skip
    """Days on which the unit may not go out; record: the unit itself where nothing else is named."""
    return Strip(first, last, what=what, text=text, why=why, record=record or ("unit", unit.tag), stops=True)


def _record(words: str, tag: str) -> tuple[str, str]:
    """What kind of record, and its key; the unit itself where it is of a kind without a page."""
    kind, _, key = words.partition(" ")
    return ("part", key) if kind == "part" and key.isdecimal() else ("unit", tag)


def strip_of(shown: Availability, code: str, tag: str | None) -> Strip | None:
    """The strip of a booking on a unit, or among those without a chosen unit; None where there is none."""
    if tag is None:
        return next((each for kind in shown.types for each in kind.wanting if each.text == code), None)
    return next(
        (each for unit in shown.units if unit.tag == tag for each in unit.promises
         if each.text == code and each.state is not HireState.BACK),
        None,
    )  # fmt: skip


def what_stands_in_the_way(shown: Availability, move: Move) -> InTheWay:
    """What a move would meet as things stood when they were read; the act itself looks again."""
    unit = next((each for each in shown.units if each.tag == move.to_tag), None)
    if unit is None:
        return InTheWay((say("unit {to_tag} is not in service", to_tag=move.to_tag),), ())
    if move.last < shown.today:
        return InTheWay((say("these days are over"),), ())
    strip = strip_of(shown, move.code, move.from_tag)
    refused: list[str] = []
    if strip is None:
        return InTheWay((say("booking {code} is back or cancelled", code=move.code),), ())
    if strip.state in GONE and (move.to_tag != move.from_tag or move.first != strip.first):
        refused.append(say("{code} is out: only its last day can move", code=move.code))
    here = _type_of(shown, move.code, move.from_tag)
    if here != unit.unit_type:
        refused.append(
            say(
                "{code} asks for a unit of type {here}, {to_tag} is of type {unit_type}",
                code=move.code,
                here=here,
                to_tag=move.to_tag,
                unit_type=unit.unit_type,
            )
        )
    if move.to_tag != move.from_tag and any(
        each.text == move.code and each.state is not HireState.BACK for each in unit.promises
    ):
        refused.append(say("unit {to_tag} is on {code} already", to_tag=move.to_tag, code=move.code))
    refused += _clashes(shown, move, unit)
    if (move.first, move.last) != (strip.first, strip.last):
        for other in shown.units:
            on_it = any(each.text == move.code and each.state is not HireState.BACK for each in other.promises)
            if on_it and other.tag not in (move.from_tag, move.to_tag):
                refused += _clashes(shown, replace(move, to_tag=other.tag), other)
    if not refused:
        refused += _overbooked(shown, move, unit)
    return InTheWay(tuple(dict.fromkeys(refused)), warnings(unit.tag, move.first, move.last, unit.bands))


def _type_of(shown: Availability, code: str, tag: str | None) -> str:
    if tag is not None:
        return next(each.unit_type for each in shown.units if each.tag == tag)
    return next(kind.code for kind in shown.types for each in kind.wanting if each.text == code)


def _clashes(shown: Availability, move: Move, unit: UnitDays) -> tuple[str, ...]:
    span = Span(move.first, move.last, move.code)
    return refusals(unit.tag, span, _taken(unit, move.code, shown.today), shown.of_type(unit.unit_type).nights)


def _taken(unit: UnitDays, without: str, today: date) -> list[Span]:
    spans = [Span(each.first, each.last, each.text) for each in unit.promises
             if each.text != without and each.state is not HireState.BACK and each.what in PROMISES]  # fmt: skip
    away = [Span(max(each.first, today), each.last, "away") for each in unit.bands
            if each.what is What.AWAY and each.last >= today]  # fmt: skip
    return spans + away


def _overbooked(shown: Availability, move: Move, unit: UnitDays) -> tuple[str, ...]:
    """Whether bookings without a chosen unit would lose the last free one."""
    kind = shown.of_type(unit.unit_type)
    taken = {each.tag: _taken(each, move.code, shown.today) for each in shown.units
             if each.unit_type == unit.unit_type}  # fmt: skip
    wants = [Want(Span(each.first, each.last, each.text), each.lacking) for each in kind.wanting
             if each.what is not What.WAITING and each.text != move.code]  # fmt: skip
    before = set(place(wants, taken, kind.nights)[1])
    taken[unit.tag] = [*taken[unit.tag], Span(move.first, move.last, move.code)]
    short = [wants[at].span.name for at in place(wants, taken, kind.nights)[1] if at not in before]
    return tuple(say("{code} would be left without a unit", code=code) for code in dict.fromkeys(short))


def move_promise(workplace: Workplace, move: Move, *, unfit: BookUnfit | None = None) -> None:
    """Give a booking's unit and days as the move says, in one act; Refused where something stands in the way.

    Other units of the booking move to the new days with it. Units that are not fit on them by a manager's decision.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("move booking", f"booking {move.code}") as act:
        booking = booking_by_code(act.session, move.code)
        if booking.cancelled_at is not None:
            raise Refused(say("booking {code}: is cancelled; book it again", code=move.code))
        lines = [each for each in lines_of(act.session, booking.id) if each.received_at is None]
        out = any(each.out_at is not None for each in lines)
        tags = {each.id: act.get(Unit, each.unit_id, "unit").tag for each in lines}
        line = next((each for each in lines if tags[each.id] == move.from_tag), None)
        if move.from_tag is not None and line is None:
            raise Refused(
                say(
                    "unit {from_tag}: is no longer on booking {code}; load again",
                    from_tag=move.from_tag,
                    code=move.code,
                )
            )
        if line is not None and line.out_at is not None and move.to_tag != move.from_tag:
            raise Refused(
                say(
                    "unit {from_tag}: is out on {code}; swap it in mid-course instead",
                    from_tag=move.from_tag,
                    code=move.code,
                )
            )
        days = (booking.starts_on if out else move.first, move.last)
        span = checked_days(max(days[0], today) if out else days[0], days[1], today)
        if line is not None and move.to_tag != move.from_tag:
            _checked_unit(booking, lines, unit_by_tag(act.session, move.to_tag))
        staying = [tag for key, tag in tags.items() if line is None or key != line.id]
        named = [*staying, move.to_tag] if line is not None else staying
        asked = replace(span, name=move.code)
        promises = Promises(act.session, today, without=booking.id, day=day)
        wanted = [*named, move.to_tag] if line is None else named
        promised_within(act, booking, promises, asked, len(wanted), wanted, unfit)
        act.change(booking, starts_on=days[0], ends_on=days[1])
        if line is None:
            put_on_within(act, booking, unit_by_tag(act.session, move.to_tag), today)
        else:
            act.change(line, unit_id=unit_by_tag(act.session, move.to_tag).id)


def _checked_unit(booking: Booking, lines: Sequence[BookingUnit], unit: Unit) -> None:
    if unit.unit_type_id != booking.unit_type_id:
        raise Refused(
            say(
                "unit {tag}: is of another type than booking {code} asks for; choose another",
                tag=unit.tag,
                code=booking.code,
            )
        )
    if any(each.unit_id == unit.id for each in lines):
        raise Refused(say("unit {tag}: is on booking {code} already; choose another", tag=unit.tag, code=booking.code))


def moved_words(move: Move) -> str:
    """What a move did, in a line."""
    return say(
        "{code} is on {to_tag} from {first} to {last}.",
        code=move.code,
        to_tag=move.to_tag,
        first=move.first,
        last=move.last,
    )


def _booking_words(kind: str, code: str, who: str | None, first: date, last: date) -> str:
    if who:
        return say(
            "{kind} {code} for {who}, {first} to {last}", kind=say(kind), code=code, who=who, first=first, last=last
        )
    return say("{kind} {code}, {first} to {last}", kind=say(kind), code=code, first=first, last=last)

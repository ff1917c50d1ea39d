"""The day at a glance, each line with its next act and the record on which it is done; calls to divers who are out."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import day_of_month, first_clause, say, strung
from fleetbench.calc.hires.promises import is_told, why_no_call
from fleetbench.calc.readiness.judge import USUAL_WAY, HandoverKind
from fleetbench.calc.readiness.lane import in_bench_order
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.reads import BookedUnit, CallRecord, WantedRecord, read_calls, read_wanting
from fleetbench.records.hires.tables import BookingUnit, HireCall, HireNote
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.known import known_of
from fleetbench.workshop.core.workplace import Workplace, require_person, required
from fleetbench.workshop.due.list import DueItem, list_due
from fleetbench.workshop.people.list import list_people, why_no_contacts
from fleetbench.workshop.readiness.ready import Question, Readiness, way_of
from fleetbench.workshop.units.fleet import Fleet, by_unit, whole_fleet
from fleetbench.workshop.units.list import Fit, UnitRow, Where, fit_words, question_today, unit_row

LONGEST_TOLD = 120


def calls_on(workplace: Workplace, booking_id: int) -> tuple[CallRecord, ...]:
    """Every call about the units of a booking, oldest first."""
    with workplace.database.reading() as connection:
        return read_calls(connection, booking_id=booking_id)


def note_call(
    workplace: Workplace, line_id: int, *, told: str, answer: str, again_at: datetime | None = None, words: str = ""
) -> str:
    """Record a call about a unit that is out; returns what stands now, in a sentence.

    told: what was to be said, in the words in which Today says it. again_at: when to ring again, needed where the
    answer does not end it. words: what was said beyond that; kept apart and erasable, as it may speak of a renter.
    """
    person, said = require_person(workplace), required("told", told)[:LONGEST_TOLD]
    with workplace.transaction("note call", f"hire line {line_id}") as act:
        line = act.get(BookingUnit, line_id, say("hire line"))
        unit = act.get(Unit, line.unit_id, "unit")
        if line.out_at is None or line.received_at is not None:
            raise Refused(
                say("unit {tag}: is not out on this booking; there is no diver to ring about it", tag=unit.tag)
            )
        if (why := why_no_call(answer, again_at, act.at)) is not None:
            raise Refused(why)
        act.add(
            HireCall(
                booking_unit_id=line.id, at=act.at, person_id=person, told=said, answer=say(answer), again_at=again_at
            )
        )
        if words.strip():
            act.add(HireNote(booking_unit_id=line.id, at=act.at, text=say("Call: {words}", words=words.strip())))
        if again_at is None:
            return say("{tag}: {answer}.", tag=unit.tag, answer=say(answer))
        return say(
            "{tag}: {answer}. Ring again {zone:%Y-%m-%d %H:%M}.",
            tag=unit.tag,
            answer=say(answer),
            zone=again_at.astimezone(workplace.zone()),
        )


WEEK = 7

Act = tuple[str, tuple[str, str]]
"""What is to be done, and what kind of record it is done on with its key."""


@dataclass(frozen=True, slots=True)
class GoingLine:
    """A unit that goes out or comes back; days_late above 0 for one that should be back.

    way: how it leaves, for which it was judged. next_act: what is to be done, in words. act_on: what kind of record
    that is done on, and its key. line_id: of the unit on its booking; told: what its diver is to be told, if anything.
    """

    unit: str
    booking: str
    kind: str
    diver: str | None
    starts_on: date
    ends_on: date
    hand_over: str | None
    where: Where
    fit: Fit
    reasons: tuple[str, ...]
    days_late: int
    next_act: str
    act_on: tuple[str, str]
    way: HandoverKind = USUAL_WAY
    line_id: int = 0
    told: str = ""

    @property
    def fit_words(self) -> str:
        """How fit it is, and for which way of leaving."""
        return fit_words(self.fit, self.way, self.where)


@dataclass(frozen=True, slots=True)
class BenchLine:
    """A unit that is here and asks for hands, with its next act."""

    row: UnitRow
    next_act: str
    act_on: tuple[str, str]


@dataclass(frozen=True, slots=True)
class ChooseLine:
    """A booking that begins within the week and lacks units; waiting: on the waiting list."""

    booking: str
    kind: str
    who: str | None
    starts_on: date
    ends_on: date
    lacking: int
    waiting: bool


@dataclass(frozen=True, slots=True)
class TodayPage:
    """What goes out, comes back, is late, lies on the bench, blocks the next booking and runs out this week.

    ring_the_renter: units that are out and on hold; they come first. rung: those whose diver was told, and agreed.
    """

    on: date
    ring_the_renter: tuple[GoingLine, ...]
    rung: tuple[GoingLine, ...]
    out_today: tuple[GoingLine, ...]
    out_this_week: tuple[GoingLine, ...]
    back_today: tuple[GoingLine, ...]
    back_this_week: tuple[GoingLine, ...]
    late: tuple[GoingLine, ...]
    to_choose: tuple[ChooseLine, ...]
    not_inspected: tuple[BenchLine, ...]
    on_bench: tuple[BenchLine, ...]
    blocked: tuple[GoingLine, ...]
    runs_out: tuple[DueItem, ...]


def today_page(workplace: Workplace) -> TodayPage:
    """Today and the seven days from it; each unit stands in every group that concerns it."""
    fleet, why_none = whole_fleet(workplace), why_no_contacts(workplace)
    with workplace.database.reading() as connection, known_of(workplace.database, connection):
        wanting, calls = read_wanting(connection, fleet.day.today), read_calls(connection)
        people = () if why_none else list_people(workplace)
    contacts = {each.person_id: each.contact for each in people if each.contact}
    return _Morning(fleet, contacts, why_none, calls).page(list_due(workplace, WEEK), wanting)


def call_words(call: CallRecord, zone: ZoneInfo) -> str:
    """'no answer, Zoë Orrel 2026-05-04 10:20, ring again 14:30'."""
    at, again = call.fact.at.astimezone(zone), call.fact.again_at
    next_time = ""
    if again is not None:
        again = again.astimezone(zone)
        next_time = (
            say(", ring again {again:%H:%M}", again=again)
            if again.date() == at.date()
            else say(", ring again {again:%Y-%m-%d %H:%M}", again=again)
        )
    return say(
        "{answer}, {person} {at:%Y-%m-%d %H:%M}{next_time}",
        answer=say(call.fact.answer),
        person=call.person or say("name not recorded"),
        at=at,
        next_time=next_time,
    )


def _line_of(call: CallRecord) -> int:
    return call.line_id


class _Morning:
    """The fleet as it is this morning."""

    def __init__(
        self, fleet: Fleet, contacts: Mapping[int, str], why_none: str, calls: Iterable[CallRecord] = ()
    ) -> None:
        """why_none: why no contact is shown at all; empty where they are."""
        self.fleet, self._contacts, self._why_none = fleet, contacts, why_none
        self._calls = by_unit(calls, _line_of)
        self._said: dict[int, str] = {}
        self.today = fleet.day.today
        self.week = self.today + timedelta(days=WEEK)
        self.readiness = Readiness(fleet)
        rows = (unit_row(fleet, self.readiness, unit) for unit in fleet.records.units)
        self.rows = {row.unit_id: row for row in rows}
        self.units = {unit.unit_id: unit for unit in fleet.records.units}

    def page(self, due: tuple[DueItem, ...], wanting: Iterable[WantedRecord]) -> TodayPage:
        out = [each for each in self._promises() if each.out_at is not None]
        coming = [each for each in self._promises() if each.out_at is None and each.ends_on >= self.today]
        held = [each for each in out if self.rows[each.unit_id].fit is Fit.HOLD]
        told = {each.line_id for each in held if self._is_told(each)}
        return TodayPage(
            on=self.today,
            ring_the_renter=self._lines((each for each in held if each.line_id not in told), self._ring),
            rung=self._lines((each for each in held if each.line_id in told), self._rung),
            out_today=self._lines((each for each in coming if each.starts_on <= self.today), self._hand_over),
            out_this_week=self._lines(
                (each for each in coming if self.today < each.starts_on <= self.week), self._hand_over
            ),
            back_today=self._lines((each for each in out if each.ends_on == self.today), self._receive),
            back_this_week=self._lines((each for each in out if self.today < each.ends_on <= self.week), self._receive),
            late=self._lines((each for each in out if each.ends_on < self.today), self._ring_late),
            to_choose=tuple(self._choose(each) for each in wanting if each.starts_on <= self.week),
            not_inspected=self._where(Where.RECEIVED),
            on_bench=self._where(Where.BENCH),
            blocked=self._blocked(coming),
            runs_out=tuple(each for each in due if each.last_good_day is not None),
        )

    def _promises(self) -> tuple[BookedUnit, ...]:
        return self.fleet.records.promises

    def _where(self, where: Where) -> tuple[BenchLine, ...]:
        return tuple(self._bench(row) for row in self.rows.values() if row.where is where)

    def _bench(self, row: UnitRow) -> BenchLine:
        if row.where is Where.RECEIVED:
            return BenchLine(row, say("turn it round"), ("turn-round", row.tag))
        card = self.readiness.turn_side.open_card(row.unit_id)
        if card is not None:
            act = say("go on with its turn-round, {settled} of {lines} done", settled=card.settled, lines=card.lines)
            return BenchLine(row, act, ("turn-round", row.tag))
        if row.open_tickets:
            return BenchLine(
                row,
                say("go on with ticket {open_tickets}", open_tickets=row.open_tickets[0]),
                ("ticket", row.open_tickets[0]),
            )
        return BenchLine(row, self._first_remedy(row.unit_id) or say("put it on its shelf"), ("unit", row.tag))

    def _first_remedy(self, unit_id: int) -> str:
        """What clears the first stop of a unit, empty where nothing stops it."""
        unit = self.units[unit_id]
        answer = self.readiness.assess(unit, question_today(self.fleet, self.readiness, unit))
        return next((first_clause(each.remedy) for each in in_bench_order(answer.stops) if each.remedy), "")

    def _choose(self, booking: WantedRecord) -> ChooseLine:
        who = booking.renter_id if booking.renter_id is not None else booking.instructor_id
        return ChooseLine(
            booking.code, kind=booking.kind, who=self.fleet.name(who), starts_on=booking.starts_on,
            ends_on=booking.ends_on, lacking=booking.lacking,
            waiting=booking.waiting_since is not None,
        )  # fmt: skip

    def _who(self, promise: BookedUnit) -> str:
        """Whom to ring, with the contact where one is recorded, or why it is not shown."""
        known = (promise.renter_id, promise.diver_id, promise.instructor_id)
        who = next((each for each in known if each is not None), 0)
        contact = self._contacts.get(who)
        name = self.fleet.name(who) or say("the renter")
        if self._why_none:
            return strung("", (name, " (", self._why_none, ")"))
        return strung(", ", (name, contact)) if contact else name

    def _ring(self, promise: BookedUnit) -> Act:
        words = say(
            "ring {promise}: {promise_2}{promise_3}",
            promise=self._who(promise),
            promise_2=self._to_say(promise),
            promise_3=self._last_call(promise),
        )
        return words, ("booking", promise.code)

    def _rung(self, promise: BookedUnit) -> Act:
        who = self.fleet.name(promise.diver_id or promise.renter_id) or say("the renter")
        return strung("", (who, ": ", self._to_say(promise), self._last_call(promise))), ("booking", promise.code)

    def _to_say(self, promise: BookedUnit) -> str:
        if promise.line_id not in self._said:
            last = self._last_day(promise)
            words = say("it must not be dived") if last is None else say("not after {day}", day=day_of_month(last))
            self._said[promise.line_id] = words
        return self._said[promise.line_id]

    def _last_call(self, promise: BookedUnit) -> str:
        last = next(reversed(self._calls.get(promise.line_id, [])), None)
        return strung("; ", ("", call_words(last, self.fleet.day.zone))) if last is not None else ""

    def _is_told(self, promise: BookedUnit) -> bool:
        """Whether its diver was told what is to be said now, agreed, and no hold was placed since."""
        parts = {seat.part.part_id for seat in self.fleet.seats(promise.unit_id) if seat.part is not None}
        holds = self.fleet.records.holds
        held = [each.placed_at for each in holds if each.unit_id == promise.unit_id or each.part_id in parts]
        calls = [each.fact for each in self._calls.get(promise.line_id, ())]
        return is_told(calls, self._to_say(promise), held)

    def _last_day(self, promise: BookedUnit) -> date | None:
        """The last day on which a unit may still be dived with its diver, None where not even today."""
        unit, today = self.units[promise.unit_id], self.today
        question = Question(today, today, self.readiness.way(unit.unit_id), running=True)
        if self.readiness.assess(unit, question).verdict != "ready":
            return None
        _, stops = self.readiness.first_stops(unit, question, max(today, promise.ends_on))
        ends = [each.day for each in stops if not each.ordinary]
        return min(ends) - timedelta(days=1) if ends else None

    def _ring_late(self, promise: BookedUnit) -> Act:
        return say("ring {promise}: it should be back", promise=self._who(promise)), ("booking", promise.code)

    def _receive(self, promise: BookedUnit) -> Act:
        words = (
            say("receive it")
            if promise.ends_on <= self.today
            else say("receive it on {ends_on}", ends_on=promise.ends_on)
        )
        return words, ("booking", promise.code)

    def _hand_over(self, promise: BookedUnit) -> Act:
        row = self.rows[promise.unit_id]
        if row.where is Where.OUT:
            return say("receive it first"), ("booking", promise.code)
        if row.fit is Fit.HOLD:
            return self._first_remedy(promise.unit_id) or say("clear what stops it"), ("unit", row.tag)
        words = (
            say("hand it over")
            if promise.starts_on <= self.today
            else say("hand it over on {starts_on}", starts_on=promise.starts_on)
        )
        return words, ("booking", promise.code)

    def _lines(self, promises: Iterable[BookedUnit], next_act: Callable[[BookedUnit], Act]) -> tuple[GoingLine, ...]:
        found = ((each, self.rows[each.unit_id]) for each in promises)
        return tuple(self._line(each, row.fit, row.reasons, next_act(each)) for each, row in found)

    def _line(
        self, promise: BookedUnit, fit: Fit, reasons: tuple[str, ...], act: Act, way: HandoverKind | None = None
    ) -> GoingLine:
        row = self.rows[promise.unit_id]
        way = way or row.way
        diver = promise.diver_id if promise.diver_id is not None else promise.renter_id
        late = (self.today - promise.ends_on).days if promise.out_at is not None else 0
        return GoingLine(
            unit=row.tag,
            booking=promise.code,
            kind=promise.kind,
            diver=self.fleet.name(diver),
            starts_on=promise.starts_on,
            ends_on=promise.ends_on,
            hand_over=promise.hand_over,
            where=row.where,
            fit=fit,
            reasons=reasons,
            days_late=max(0, late),
            next_act=act[0],
            act_on=act[1],
            way=way,
            line_id=promise.line_id,
            told=self._to_say(promise) if promise.out_at is not None and row.fit is Fit.HOLD else "",
        )

    def _blocked(self, coming: Iterable[BookedUnit]) -> tuple[GoingLine, ...]:
        """The next booking of each unit, where something stops the unit through its last day as things stand now."""
        lines, seen = [], set()
        for each in coming:
            if each.unit_id in seen:
                continue
            seen.add(each.unit_id)
            first = max(each.starts_on, self.today)
            question = Question(first, each.ends_on, way_of(each), booking=each.code)
            answer = self.readiness.assess(self.units[each.unit_id], question)
            # Of a unit that is out, its return and turn-round are to come anyway.
            stops = answer.unfit if self.readiness.is_out(each.unit_id) else answer.stops
            if stops:
                reasons = tuple(strung(": ", (check.check, check.evidence)) for check in stops)
                remedy = next((first_clause(check.remedy) for check in stops if check.remedy), "")
                act = remedy or say("clear what stops it"), ("unit", self.rows[each.unit_id].tag)
                lines.append(self._line(each, Fit.HOLD, reasons, act, question.kind))
        return tuple(lines)

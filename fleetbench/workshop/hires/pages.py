"""What the pages of the hire desk say: the course board, the receipt of a return, and the bench day.

The bench day is who does what in which order with minutes, the parts to fetch, and the loops that hang to dry.

It is made from what is recorded: open tickets with their tasks and reserved parts, turn-rounds, and what falls due
before a unit leaves. Days before it are worked through first, so that a later day holds what they leave.
"""

import ctypes
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import ceil
from types import ModuleType

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.plan_facts import BenchJob, PlanUnit, Stint, dealt
from fleetbench.calc.people.permits import Role
from fleetbench.calc.readiness.judge import USUAL_WAY, HandoverKind
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import booking_by_code, divers_of, hand_back_of, hand_over_of, terms_of
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.lives import read_life_records, read_open_tasks
from fleetbench.records.parts.lookups import read_coming
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.reads import read_limits
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.hires.handover import AccessoryLine, counted_along
from fleetbench.workshop.hires.list import BookingRow, hire_lines, one_booking
from fleetbench.workshop.hires.plan import HORIZON, Gathered, gathered
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.stock import ShelfPiece, usable_pieces
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.readiness.ready import Question, Readiness, leaving_way
from fleetbench.workshop.turn_rounds.baths import Hanging, hanging
from fleetbench.workshop.units.fleet import whole_fleet


@dataclass(frozen=True, slots=True)
class BoardUnit:
    """One unit on a board: who dives it (None is the spare), how it leaves, its state, and what stands in the way."""

    unit: str
    who: str | None
    leaves: str
    harness: str | None
    state: str
    why: str


@dataclass(frozen=True, slots=True)
class Board:
    """One course or booking as a board; without: who has no unit yet."""

    booking: BookingRow
    spares: int
    rows: tuple[BoardUnit, ...]
    without: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReturnFacts:
    """One return as its receipt states it; None is not noted."""

    record: str
    unit: str
    booking: str
    renter: str | None
    starts_on: date
    ends_on: date
    received_at: datetime
    received_by: str | None
    days_late: int
    deposit: float | None
    deposit_back: float | None
    loop_minutes: float | None
    dives: int | None
    damaged: bool | None
    missing: str | None
    accessories: tuple[AccessoryLine, ...]


def course_board(workplace: Workplace, code: str) -> Board:
    """A booking's units with who dives them and what stands in the way through its last day; NotFound for no code."""
    row, lines = one_booking(workplace, code), hire_lines(workplace, code)
    readiness = Readiness(whole_fleet(workplace))
    units = {each.tag: each for each in readiness.fleet.records.units}
    today = readiness.fleet.day.today
    first = max(row.booking.starts_on, today)
    with workplace.database.read_session() as session:
        booking = booking_by_code(session, code)
        divers, terms = divers_of(session, booking.id), terms_of(session, booking.id)
        names = read_names(session.connection())
    rows = []
    for line in lines:
        state = "back" if line.line.received_at else "out" if line.line.out_at else say("to go")
        way = leaving_way(line.line.hand_over)
        asked = HandoverKind.KIT if line.line.out_at else way
        question = Question(
            first, max(row.booking.ends_on, first), asked, running=line.line.out_at is not None, booking=code
        )
        why = "" if line.line.received_at else _in_the_way(readiness, units[line.line.unit], question)
        harness = units[line.line.unit].harness
        rows.append(
            BoardUnit(
                line.line.unit,
                who=line.diver,
                leaves=line.line.hand_over or say("{way}, not chosen yet", way=say(USUAL_WAY.value)),
                harness=harness,
                state=state,
                why=why,
            )
        )
    served = {line.diver for line in lines}
    without = tuple(names[each] for each in divers if names.get(each) not in served)
    return Board(row, terms.spares if terms is not None else 0, tuple(rows), without)


def _in_the_way(readiness: Readiness, unit: UnitRecord, question: Question) -> str:
    answer = readiness.assess(unit, question)
    if answer.stops:
        return say("stop: {checks}", checks=strung(", ", (each.check for each in answer.stops)))
    if answer.advises:
        return say("advise: {checks}", checks=strung(", ", (each.check for each in answer.advises)))
    return "nothing"


def return_facts(workplace: Workplace, line_id: int) -> ReturnFacts:
    """What is noted of one return; Refused while the unit is not received."""
    today = day_of(workplace)
    with workplace.database.read_session() as session:
        line = session.get(BookingUnit, line_id)
        if line is None:
            raise NotFound(say("hire line {line_id}: not recorded; choose one from the list", line_id=line_id))
        unit, booking = session.get(Unit, line.unit_id), session.get(Booking, line.booking_id)
        assert unit is not None and booking is not None  # both are foreign keys
        if line.received_at is None:
            raise Refused(say("unit {tag}: is not received yet; receive it first", tag=unit.tag))
        names = read_names(session.connection())
        out, back = hand_over_of(session, line.id), hand_back_of(session, line.id)
        diver = line.diver_id if line.diver_id is not None else booking.renter_id
        facts = ReturnFacts(
            record=line.ref or say("hire line {line_id}", line_id=line.id),
            unit=unit.tag,
            booking=booking.code,
            renter=names.get(diver) if diver is not None else None,
            starts_on=booking.starts_on,
            ends_on=booking.ends_on,
            received_at=line.received_at,
            received_by=names.get(line.received_by_id) if line.received_by_id is not None else None,
            days_late=max(0, (today.of(line.received_at) - booking.ends_on).days),
            deposit=out.deposit if out is not None else None,
            deposit_back=back.deposit_back if back is not None else None,
            loop_minutes=line.loop_minutes,
            dives=line.dives,
            damaged=back.damaged if back is not None else None,
            missing=back.missing if back is not None else None,
            accessories=(),
        )
    return replace(facts, accessories=counted_along(workplace, line_id))


def form_fields(name: str, data: bytes) -> dict[str, str]:
    """The fields of a PDF form with what was filled in; Refused where it cannot be read."""
    # PDF reading is loaded by the user who reads a form
    import pypdfium2
    from pypdfium2 import raw

    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as fault:
        raise Refused(say("{name}: cannot be read as PDF; save the filled form again", name=name)) from fault
    try:
        document.init_forms()
        if document.formenv is None:
            return {}
        return {key: value for page in document for key, value in _page_fields(raw, document.formenv.raw, page.raw)}
    finally:
        document.close()


def _page_fields(raw: ModuleType, form: object, page: object) -> Iterator[tuple[str, str]]:
    for place in range(raw.FPDFPage_GetAnnotCount(page)):
        field = raw.FPDFPage_GetAnnot(page, place)
        name = _field_text(raw.FPDFAnnot_GetFormFieldName, form, field)
        yield name, _field_text(raw.FPDFAnnot_GetFormFieldValue, form, field)
        raw.FPDFPage_CloseAnnot(field)


def _field_text(get: Callable[..., int], form: object, field: object) -> str:
    """A text of UTF-16 that the library writes, of which it first tells how many bytes it needs."""
    size = get(form, field, None, 0)
    buffer = (ctypes.c_ushort * (size // 2 + 1))()
    get(form, field, buffer, size)
    return bytes(buffer)[: max(0, size - 2)].decode("utf-16-le", "replace")


HOURS = {"bench opens at": 8.0, "bench closes at": 18.0}
"""Hours of the day, where the centre says no others by limits of these names; common practice, no published source."""
SOON = 14
"""Days within which due work is done though no booking waits for it; common practice, no published source."""
AT_MOST_AHEAD = 30


@dataclass(frozen=True, slots=True)
class BenchDay:
    """One day at the bench.

    people: each technician by name and what they do in order, from the minute at which the bench opens. waits: units
    that cannot be worked on, and why. later: what the day has no time for.
    """

    on: date
    opens: datetime
    minutes: float
    source: str
    people: tuple[tuple[str, tuple[Stint, ...]], ...]
    hanging: tuple[Hanging, ...]
    waits: tuple[tuple[str, str], ...]
    later: tuple[BenchJob, ...]


def bench_day(workplace: Workplace, on: date | None = None) -> BenchDay:
    """The bench day of a date, today where None; Refused for one that is over, or too far ahead to be told."""
    today = workplace.today()
    on = on or today
    if not today <= on <= today + timedelta(days=AT_MOST_AHEAD):
        raise Refused(
            say(
                "day: {on}; enter a day from today on, {at_most_ahead} days ahead at the most",
                on=on,
                at_most_ahead=AT_MOST_AHEAD,
            )
        )
    return _Bench(workplace, gathered(workplace, HORIZON, None)).day(on)


class _Bench:
    """What a bench day is made of, read once."""

    def __init__(self, workplace: Workplace, found: Gathered) -> None:
        self._found, self._day, self._today = found, day_of(workplace), found.shown.today
        self._left_out = dict(each.split(": ", 1) for each in found.left_out)
        self._hanging = {each.unit: each for each in hanging(workplace)}
        reserved = list_reservations(workplace)
        with workplace.database.reading() as connection:
            self._types = read_part_types(connection)
            self._pieces = usable_pieces(connection, self._types, read_life_records(connection), self._day)
            self._coming = read_coming(connection)
            limits, units = read_limits(connection), {each.unit_id: each.tag for each in read_units(connection)}
            tasks: dict[str, list[str]] = defaultdict(list)
            for task in read_open_tasks(connection):
                tasks[units[task.unit_id]].append(task.text)
        self._tasks = tasks
        self._reserved: dict[str, Counter[int]] = defaultdict(Counter)
        for each in reserved:
            self._reserved[each.unit][each.part_type_id] += 1
        own = {each.name: each.amount for each in limits if each.unit_type_id is None}
        self._opens, self._closes = (own.get(name, usual) for name, usual in HOURS.items())
        people = [each for each in list_people(workplace) if each.active and each.role == Role.TECHNICIAN]
        self._people = [each.name for each in people] or [say("no technician is recorded")]
        self._minutes = found.hours * 60 / len(self._people)

    def _opens_on(self, on: date) -> datetime:
        """When work can begin: as the bench opens, today from now on, in whole five minutes."""
        opens = self._day.midnight(on) + timedelta(hours=self._opens)
        over = (self._day.now - opens).total_seconds() / 300 if on == self._today else 0.0
        return opens + timedelta(minutes=5 * max(0, ceil(over)))

    def _minutes_on(self, on: date) -> float:
        """Minutes of hands of each technician: the centre's bench hours, as far as they end before the bench closes."""
        closes = self._day.midnight(on) + timedelta(hours=self._closes)
        return max(0.0, min(self._minutes, (closes - self._opens_on(on)).total_seconds() / 60))

    def day(self, on: date) -> BenchDay:
        """The day, once the days before it are worked through."""
        done: set[str] = set()
        at = self._today
        while True:
            jobs, waits = self._jobs(at, done)
            given, left = dealt(jobs, len(self._people), self._minutes_on(at))
            if at == on:
                break
            done |= {job.tag for of in given for _, job in of}
            at += timedelta(days=1)
        people = tuple(zip(self._people, given, strict=True))
        hung = tuple(each for each in self._hanging.values() if each.dry_by >= self._day.midnight(on))
        return BenchDay(
            on,
            opens=self._opens_on(on),
            minutes=self._minutes,
            source=self._found.source,
            people=people,
            hanging=hung,
            waits=tuple(waits),
            later=left,
        )

    def _jobs(self, on: date, done: set[str]) -> tuple[list[BenchJob], list[tuple[str, str]]]:
        shelf = {key: list(pieces) for key, pieces in self._pieces.items()}
        jobs, waits = [], []
        ahead = {unit.tag: self._deadline(unit, on) for unit in self._found.facts.units}
        for unit in sorted(self._found.facts.units, key=lambda each: (ahead[each.tag][0] or date.max, each.tag)):
            by, wanted_for = ahead[unit.tag]
            spent, work, parts = self._work(unit, on, by)
            if unit.tag in done or not work:
                continue
            fetch, lacks = self._fetch(parts, shelf)
            why = lacks or self._why_not(unit, on)
            if why:
                waits.append((unit.tag, why))
                continue
            hung = self._hanging.get(unit.tag)
            begins = (hung.dry_from - self._opens_on(on)).total_seconds() / 60 if hung is not None else 0.0
            jobs.append(
                BenchJob(
                    unit.tag,
                    minutes=spent,
                    work=work,
                    ready_by=by,
                    begins=max(0.0, begins),
                    fetch=fetch,
                    wanted_for=wanted_for,
                )
            )
        return jobs, waits

    def _deadline(self, unit: PlanUnit, on: date) -> tuple[date | None, str]:
        """The day before the unit leaves next, and on what."""
        at = (on - self._today).days
        mine = [each for each in self._found.facts.bookings if unit.tag in each.promised and each.days[0] >= at]
        if not mine:
            return None, ""
        first = min(mine, key=lambda each: each.days[0])
        return self._today + timedelta(days=max(at, first.days[0] - 1)), first.code

    def _work(self, unit: PlanUnit, on: date, by: date | None) -> tuple[float, tuple[str, ...], Counter[str]]:
        """Minutes, what is done, and the parts that it takes: what tickets say, and what falls due soon."""
        tasks = self._tasks.get(unit.tag, [])
        named = {each.casefold() for each in tasks}
        last = (max(on + timedelta(days=SOON), by or on) - self._today).days
        spent, words, parts = 0.0, dict.fromkeys(tasks), Counter[str]()
        for key, count in self._reserved.get(unit.tag, Counter()).items():
            parts[self._types[key].name] += count
        for item in unit.work:
            is_ticket = item.name.startswith("ticket")
            covered = item.name.casefold() in named or (bool(tasks) and item.name.startswith("what makes"))
            if covered or not (is_ticket or (item.due is not None and item.due <= last)):
                continue
            spent += item.minutes
            if not is_ticket or not tasks:
                words[item.name[:1].upper() + item.name[1:]] = None
            parts.update(dict(item.parts))
        return spent, tuple(words), parts

    def _fetch(self, parts: Mapping[str, int], shelf: dict[int, list[ShelfPiece]]) -> tuple[tuple[str, ...], str]:
        """Which pieces to take from where, and what lacks, in words; taken off the shelf where nothing lacks."""
        keys = {each.name: key for key, each in self._types.items()}
        lacks = [self._comes(self._types[keys[name]]) for name, count in parts.items()
                 if len(shelf.get(keys[name], ())) < count]  # fmt: skip
        if lacks:
            return (), strung("; ", lacks)
        taken = []
        for name, count in sorted(parts.items()):
            pieces = shelf[keys[name]]
            taken += [
                strung(", ", (strung(" ", (name, each.part.label)), each.place or say("place not recorded")))
                for each in pieces[:count]
            ]
            del pieces[:count]
        return tuple(taken), ""

    def _comes(self, kind: PartTypeRecord) -> str:
        coming = self._coming.get(kind.part_type_id, [])
        if coming:
            return say("{kind} on order, expected {coming}", kind=kind.name, coming=coming[0][0])
        return say("{kind} not on the shelf and not on order", kind=kind.name)

    def _why_not(self, unit: PlanUnit, on: date) -> str:
        at, hung = (on - self._today).days, self._hanging.get(unit.tag)
        if hung is not None and hung.dry_from >= self._opens_on(on) + timedelta(minutes=self._minutes_on(on)):
            return say(
                "hangs to dry until {dry_from:%Y-%m-%d %H:%M}", dry_from=hung.dry_from.astimezone(self._day.zone)
            )
        if unit.in_hand > at:
            return say("not here before {day}", day=self._today + timedelta(days=unit.in_hand))
        out = next((each for each in self._found.facts.bookings
                    if unit.tag in each.promised and each.days[0] <= at <= each.days[1]), None)  # fmt: skip
        why = self._left_out.get(unit.tag, "")
        return say("out on {code}", code=out.code) if out is not None else why

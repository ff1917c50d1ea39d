"""What can be sold: how many units can go on given days, and the cheapest ways for those that lack, in words."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from typing import TYPE_CHECKING

from fleetbench.calc.core.languages import parted, say, say_count, strung
from fleetbench.calc.hires.availability import CountedOn, Diaries, Span
from fleetbench.calc.hires.sell import (
    Bench,
    Sale,
    SaleFacts,
    SaleLine,
    SaleUnit,
    SaleWant,
    SaleWork,
    bench_work,
    cheapest_of,
    clash_days,
    ways,
)
from fleetbench.calc.readiness.limits import CheckFinding
from fleetbench.records.hires.lookups import unit_type_by_code
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.lookups import read_coming
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.canisters.containers import absorbent_there
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, figure
from fleetbench.workshop.hires.booking import BookingEntry, Promises, checked_days
from fleetbench.workshop.hires.fitness import FitUnits
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.orders import lead_days
from fleetbench.workshop.parts.stock import usable_pieces
from fleetbench.workshop.units.fleet import Seat

if TYPE_CHECKING:
    from fleetbench.workshop.hires.plan import Gathered  # likewise

NEAR_BY = 14
"""Days before and after within which other days are looked for."""


@dataclass(frozen=True, slots=True)
class UnitAnswer:
    """One unit that cannot go as it is: why, and its ways to go, the cheapest first; empty where there is none."""

    tag: str
    why: str
    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """One way to serve the sale: in a line, its steps, and the days on which ordered parts arrive."""

    sale: Sale
    words: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SalePage:
    """The answer. ready: units that can go as they are; offers: the best first; other_days: near by, with all units.

    supply: what of absorbent is there for these days, in words. short_fills: units for which there is none.
    """

    question: BookingEntry
    ready: tuple[str, ...]
    offers: tuple[Offer, ...]
    units: tuple[UnitAnswer, ...]
    other_days: tuple[tuple[date, date], ...]
    supply: str
    short_fills: int

    @property
    def words(self) -> str:
        """'8 wanted: 5 can go as they are, all 8 with 40 min of work'."""
        wanted, best = self.question.wanted or 0, self.offers[0]
        as_it_is = say("{wanted} wanted: {count} can go as they are", wanted=wanted, count=min(len(self.ready), wanted))
        return as_it_is if len(self.ready) >= wanted else strung("; ", (as_it_is, best.words))


def sale_page(workplace: Workplace, question: BookingEntry) -> SalePage:
    """How many units can go on these days, which, and what makes true what cannot; nothing is changed.

    question: its unit type, days, how many are wanted and how they leave; nothing else of it is asked.
    """
    figure("units", question.wanted or 0, 1, 200, "enter how many units are wanted")
    day = day_of(workplace)
    asked = checked_days(question.first, question.last, day.today)
    span = Span(asked.first, asked.last, "this")
    ahead = (span.last - day.today).days + NEAR_BY + 2
    # The planner's, which the start of the window does without: Today asks this module too.
    from fleetbench.workshop.hires.plan import gathered

    found = gathered(workplace, min(366, max(ahead, 2)), None)
    with workplace.database.read_session() as session:
        made = _Asked(Promises(session, day.today, day=day, way=question.way), found, day, question, span)
        made.read(workplace, session.connection(), unit_type_by_code(session, question.unit_type).id)
    return made.page()


class _Asked:
    """The facts of a sale as they stand, and how to speak of them."""

    def __init__(self, promises: Promises, found: "Gathered", day: Day, question: BookingEntry, span: Span) -> None:
        assert promises.fit is not None
        self.promises, self.fit, self.found = promises, promises.fit, found
        self.day, self.question, self.span = day, question, span
        self.wanted = question.wanted or 0
        self.days = {each.tag: each for each in found.shown.units}
        self.plans = {each.tag: each for each in found.facts.units}

    def _at(self, day: date) -> int:
        return min((day - self.day.today).days, 10**5)

    def read(self, workplace: Workplace, connection: Connection, kind: int) -> None:
        """Read the rest of what the answer needs, and put the facts together."""
        self.kind = kind
        self.taken = self.promises.of_type(kind)
        self.nights = self.promises.nights(kind)
        types = read_part_types(connection)
        self.types = types
        pieces = usable_pieces(connection, types, read_life_records(connection), self.day)
        lines = [each for each in read_promises(connection) if each.unit in self.taken]
        reserved = Counter(each.part_type_id for each in list_reservations(workplace))
        self.stock = {each.name: max(0, len(pieces.get(key, ())) - reserved[key]) for key, each in types.items()}
        self.coming: dict[str, tuple[int, int]] = {}
        for key, listed in read_coming(connection).items():
            in_time = [(self._at(day), count) for day, count in listed if day < self.span.first]
            free = min(sum(count for _, count in in_time), sum(count for _, count in in_time) + len(pieces.get(key, ()))
                       - reserved[key])  # fmt: skip
            if free > 0:
                self.coming[types[key].name] = free, max(1, *(day for day, _ in in_time))
        self.arrives = {each.name: max(1, lead_days(each)) for each in types.values()}
        there = absorbent_there(connection, types, kind, self.span.first, self.day)
        self.fills, self.supply = there if self._packs else (None, "")
        self.facts = self._facts(lines)

    @property
    def _packs(self) -> bool:
        return self.question.way in ("", "assembled")

    def _facts(self, lines: Sequence[BookedUnit]) -> SaleFacts:
        minutes = self.found.minutes
        first, last = self._at(self.span.first), self._at(self.span.last)
        held = [each for each in lines if self._clashes(each)]
        movable = [each for each in held if each.out_at is None and each.ends_on >= self.day.today]
        names = {each.line_id: f"{each.code} {each.unit}" for each in held}
        fixed = {each.unit for each in held if each not in movable} | self._away()
        self.why_held = {tag: [each.code for each in held if each.unit == tag] for tag in self.taken}
        units = tuple(
            self._unit(tag, tuple(names[each.line_id] for each in movable if each.unit == tag), tag in fixed)
            for tag in self.taken
        )
        wants = tuple(
            SaleWant(each.span.name, self._span(each.span), each.units, self._fit_on(each.span))
            for each in self.promises.wants_of(self.kind)
        )
        moves = tuple(
            SaleLine(names[each.line_id], (self._at(each.starts_on), self._at(each.ends_on)), self._onto(each))
            for each in movable
        )
        return SaleFacts(
            units, wanted=self.wanted, days=(first, last), nights=self.nights, lines=moves, wants=wants,
            bench=self._bench(first), stock=self.stock,
            arrives=self.arrives, coming=self.coming, move_minutes=minutes["move booking"],
            order_minutes=minutes["order"],
        )  # fmt: skip

    def _span(self, span: Span) -> tuple[int, int]:
        return self._at(span.first), self._at(span.last)

    def _clashes(self, line: BookedUnit) -> bool:
        last = max(line.ends_on, self.day.today) if line.out_at is not None else line.ends_on
        mine = (self._at(line.starts_on), self._at(last))
        return clash_days(mine, self._span(self.span), self.nights)

    def _away(self) -> set[str]:
        return {
            tag
            for tag, spans in self.taken.items()
            for each in spans
            if each.name == "away" and clash_days(self._span(each), self._span(self.span), self.nights)
        }

    def _onto(self, line: BookedUnit) -> tuple[str, ...]:
        span = Span(max(line.starts_on, self.day.today), line.ends_on, line.code)
        on_it = {tag for tag, spans in self.taken.items() if any(each.name == line.code for each in spans)}
        return tuple(tag for tag in self._fit_on(span) if tag not in on_it)

    def _fit_on(self, span: Span) -> tuple[str, ...]:
        """Units that nothing is promised of on these days, and that are fit through the last."""
        free = (tag for tag, spans in self.taken.items()
                if not any(clash_days(self._span(span), self._span(each), self.nights) for each in spans))  # fmt: skip
        return tuple(tag for tag in free if self._fit_through(tag, span.last))

    def _fit_through(self, tag: str, last: date) -> bool:
        days = self.days.get(tag)
        return days is not None and (days.unfit_from is None or days.unfit_from > last)

    def _unit(self, tag: str, held: tuple[str, ...], fixed: bool) -> SaleUnit:
        if self.fit.fits(tag, self.span):
            return SaleUnit(tag, held, fixed)
        work = work_of(self.fit, tag, self.span, self.found.minutes, self.types)
        if work is None:
            return SaleUnit(tag, held, fixed, curable=False)
        begins = max(self.plans[tag].in_hand if tag in self.plans else 0, int(self.fit.dries(tag)))
        return SaleUnit(tag, held, fixed, SaleWork(work.minutes, begins, work.parts))

    def _bench(self, first: int) -> tuple[float, ...]:
        """Minutes that each day before the first has left, less open tickets of units that leave until then."""
        left = list(self.found.facts.bench_minutes[:first])
        leave = {tag for booking in self.found.facts.bookings if booking.days[0] <= first for tag in booking.promised}
        owed = sum(item.minutes for unit in self.found.facts.units if unit.tag in leave
                   for item in unit.work if item.name.startswith("ticket"))  # fmt: skip
        for day, minutes in enumerate(left):
            left[day], owed = max(0.0, minutes - owed), max(0.0, owed - minutes)
        return tuple(left)

    # the answer in words

    def page(self) -> SalePage:
        """The answer."""
        ready = tuple(each.tag for each in self.facts.units
                      if each.work is None and each.curable and not each.held_by and not each.fixed)  # fmt: skip
        offers = tuple(self._offer(each) for each in ways(self.facts))
        short = 0 if self.fills is None else max(0, self.wanted - self.fills)
        listed = () if len(ready) >= self.wanted else self._units(ready)
        days = () if len(ready) >= self.wanted else self._other_days()
        return SalePage(
            self.question,
            ready=ready,
            offers=offers,
            units=listed,
            other_days=days,
            supply=self.supply,
            short_fills=short,
        )

    def _units(self, ready: Sequence[str]) -> tuple[UnitAnswer, ...]:
        lacking = [each for each in self.facts.units if each.tag not in ready]
        found = [
            (tuple(cheapest_of(self.facts, each.tag)) if each.curable and not each.fixed else (), each)
            for each in lacking[:UNITS_TOLD]
        ]
        found.sort(key=lambda pair: (pair[0][0].cost if pair[0] else 1e9, pair[1].tag))
        return tuple(
            UnitAnswer(each.tag, self._why(each), tuple(self._offer(sale).words for sale in sales))
            for sales, each in found
        )

    def _why(self, unit: SaleUnit) -> str:
        held = self.why_held.get(unit.tag, [])
        words = [say("promised to {held}", held=strung(", ", held))] if held else []
        if not self.fit.fits(unit.tag, self.span):
            words += parted(self.fit.why_unfit(unit.tag, self.span)[0])
        more = len(words) - REASONS_TOLD
        return strung("; ", (*words[:REASONS_TOLD], *([say("{more} more reasons", more=more)] if more > 0 else [])))

    def _offer(self, sale: Sale) -> Offer:
        steps = [self._move_words(name, tag) for name, tag in sale.moves]
        steps += [self._work_words(tag, sale) for tag in sale.work]
        steps += (
            [say("{missing} missing: borrow, take other days, or the waiting list", missing=sale.missing)]
            if sale.missing
            else []
        )
        count = (say("{count} of {wanted}", count=len(sale.units), wanted=self.wanted) if sale.missing
                 else say("all {count}", count=len(sale.units)))  # fmt: skip
        if len(sale.units) == 1 and not sale.missing:
            count = sale.units[0]
        means = [
            *([say("{minutes:.0f} min at the bench", minutes=self._minutes(sale))] if sale.work else []),
            *(
                [say_count("{count} other booking moved", "{count} other bookings moved", len(sale.moves))]
                if sale.moves
                else []
            ),
            *([self._order_words(sale)] if sale.ordered else []),
        ]
        told = (
            say("{units} with {means}", units=count, means=strung(", ", means))
            if means
            else say("{units} as they are", units=count)
        )
        return Offer(sale, told, tuple(steps))

    def _minutes(self, sale: Sale) -> float:
        units = {each.tag: each.work for each in self.facts.units}
        return sum(work.minutes for tag in sale.work if (work := units[tag]) is not None)

    def _order_words(self, sale: Sale) -> str:
        days = [self.arrives[kind] for each in self.facts.units if each.tag in sale.ordered and each.work
                for kind, _ in each.work.parts]  # fmt: skip
        return say("parts ordered today, there by {day}", day=self.day.today + timedelta(days=max(days)))

    def _move_words(self, name: str, tag: str) -> str:
        code, _, before = name.rpartition(" ")
        return say(
            "{code} goes from {before} to {tag}: ring, and print its page again", code=code, before=before, tag=tag
        )

    def _work_words(self, tag: str, sale: Sale) -> str:
        work = work_of(self.fit, tag, self.span, self.found.minutes, self.types)
        assert work is not None
        parts = strung(", ", (f"{count} {kind}" for kind, count in work.parts))
        last = self.span.first - timedelta(days=1)
        said = [say("with {parts}", parts=parts)] if parts else []
        if tag in sale.awaited:
            comes = self.day.today + timedelta(days=max(self.coming[kind][1] for kind, _ in work.parts
                                                        if kind in self.coming))  # fmt: skip
            said.append(say("on order, expected by {day}", day=comes))
        if tag in sale.ordered:
            comes = self.day.today + timedelta(days=max(self.arrives[kind] for kind, _ in work.parts))
            said.append(say("to order today, there by {day}", day=comes))
        return say("{tag}: {work}, {minutes:.0f} min, by {last}",
                   tag=tag, work=strung(" ", (", ".join(work.tasks).lower(), *said)), minutes=work.minutes,
                       last=last)  # fmt: skip

    def _other_days(self) -> tuple[tuple[date, date], ...]:
        return NearDays(self.promises, self.kind, self._fits).of(self.span, self.wanted)

    def _fits(self, tag: str, span: Span) -> bool:
        return self._fit_through(tag, span.last)


UNITS_TOLD, DAYS_TOLD, REASONS_TOLD = 24, 3, 2
"""So many units that lack, other days, and reasons of one unit are told in full."""


class NearDays:
    """The nearest other days on which units of a type can go as they are; what was found is kept for the next question.

    Bookings without chosen units are placed first, and keep what they were given, until more is promised.
    """

    def __init__(
        self, promises: Promises, kind: int, fits: Callable[[str, Span], bool], known: CountedOn | None = None
    ) -> None:
        """known: what `fits` answered of these units before, which is added to."""
        self._promises, self._kind, self._fits = promises, kind, fits
        self._known = CountedOn() if known is None else known
        self._rests_on: tuple[Diaries, int] | None = None

    def of(self, span: Span, wanted: int) -> tuple[tuple[date, date], ...]:
        """Up to three spans as long as this one, near it, on which so many units can go."""
        steps = sorted((step for step in range(-NEAR_BY, NEAR_BY + 1) if step), key=lambda each: (abs(each), each))
        moved = (Span(span.first + timedelta(step), span.last + timedelta(step), "this") for step in steps)
        spans = [each for each in moved if each.first >= self._promises.today]
        if not spans:
            return ()
        # What begins later than these days takes nothing from them.
        diaries = self._placed(spans, span.last + timedelta(NEAR_BY + self._promises.nights(self._kind)))
        found = ((each.first, each.last) for each in spans if diaries.has_free(each, wanted, self._fits, self._known))
        return tuple(islice(found, DAYS_TOLD))

    def _placed(self, spans: Sequence[Span], until: date) -> Diaries:
        diaries = self._promises.diaries(self._kind, spans)
        if self._rests_on != (diaries, diaries.promised):
            self._rests_on = diaries, diaries.promised
            self._diaries, self._since = diaries.copy(), date.min
        self._diaries.place(self._promises.wants_of(self._kind), self._fits, self._known, self._since, until)
        self._since = max(self._since, until)
        return self._diaries


@dataclass(frozen=True, slots=True)
class WorkToDo:
    """Bench work on one unit: minutes, parts by the name of their type, and its tasks as a ticket lists them."""

    minutes: float
    parts: tuple[tuple[str, int], ...]
    tasks: tuple[str, ...]


def replace_task(slot: str) -> str:
    """The task of a ticket that asks for another part in a slot."""
    return say("Replace {slot}", slot=slot)


def work_of(
    fit: FitUnits, tag: str, span: Span, minutes: Mapping[str, float], types: Mapping[int, PartTypeRecord]
) -> WorkToDo | None:
    """The bench work that makes a unit fit for these days; None where no bench work does."""
    seats = fit.seats(tag)
    spent, parts, tasks = 0.0, Counter[str](), dict[str, None]()
    for check, finding in fit.faults(tag, span):
        kind = bench_work(check, finding)
        if kind is None:
            return None
        task = f"{finding.remedy[:1].upper()}{finding.remedy[1:]}".split(";")[0]
        if kind is Bench.REPLACE:
            seat = seat_of(seats, finding)
            if seat is None or seat.part is None:
                return None
            task = replace_task(seat.slot.name)
            if task not in tasks:
                parts[types[seat.part.part_type_id].name] += 1
        elif kind is Bench.TICKET:
            task = say("Do the work of {record} and sign it", record=finding.record)
        if task not in tasks:
            spent += minutes[kind.value]
            tasks[task] = None
    return WorkToDo(spent, tuple(sorted(parts.items())), tuple(tasks))


def seat_of(seats: Sequence[Seat], finding: CheckFinding) -> Seat | None:
    """Where the part of a finding sits: by its record, else by slot and serial, with which its evidence begins."""
    for seat in seats:
        part = seat.part
        if part is not None and (
            finding.record == f"part {part.part_id}"
            or (part.serial and f"{finding.evidence} ".startswith(f"{seat.slot.name} {part.serial}"))
        ):
            return seat
    return None

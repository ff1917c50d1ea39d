"""Valves and regulators with their last tests, and where loops leaked, gathered by place over time."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import cast

from fleetbench.calc.bench.leak_places import LEAK_METHODS, LeakPlace, leaks_by_place
from fleetbench.calc.bench.measured import supply_word
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import PASSES, Listed
from fleetbench.calc.parts.condition import AFTER_OPENING, TEST_OF
from fleetbench.calc.parts.kinds import LOOP_KINDS as ON_THE_LOOP
from fleetbench.calc.parts.life import LastGoodDay
from fleetbench.calc.readiness.judge import Freshness
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.bench.reads import BenchTestRecord, read_leaks, read_tests
from fleetbench.records.bench.tables import BenchTest, LoopLeak
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.schema import read_if_changed
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.bench.offers import LOOP_KINDS, TestOffer, unit_offers
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, one_word, require_person
from fleetbench.workshop.parts.conditions import BOTH_SUPPLIES, tests_of_slot
from fleetbench.workshop.parts.list import LifeWord, life_word
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS
from fleetbench.workshop.readiness.ready import Readiness
from fleetbench.workshop.units.fleet import Fleet, Seat, by_unit, known_fleet, plan_in, whole_fleet


@dataclass(frozen=True, slots=True)
class TestLine:
    """One bench test with who made it."""

    __test__ = False

    record: BenchTestRecord
    person: str | None


@dataclass(frozen=True, slots=True)
class TrendSeries:
    """One measured value over time: what it is, its unit, and (moment, value, expanded uncertainty) oldest first."""

    name: str
    unit: str
    points: tuple[tuple[datetime, float, float | None], ...]
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class ValveRow:
    """One valve's slot with the part in it and the last test that speaks of it.

    last_test: the last one, or the last that failed or was not decided where one still stands. test_state: `fresh`,
    `due soon`, `stale`, `failed`, `undecided` or `not tested`; not tested since a workshop opening counts as not
    tested, and a first stage tried at one supply only is undecided. trend: (site's date, measured value) oldest first,
    of the value measured most often.
    """

    unit: str
    slot_id: int
    slot: str
    slot_kind: str
    part_id: int | None
    part: str | None
    part_type: str | None
    fitted_on: date | None
    last_good_day: date | None
    basis: str | None
    life_state: LifeWord
    test_kind: str
    last_test: TestLine | None
    test_last_good_day: date | None
    test_state: str
    trend: tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class ValvePage:
    """One valve with every test that speaks of it, newest first, and its limits of life."""

    row: ValveRow
    opened_at: datetime | None
    opened_what: str | None
    tests: tuple[TestLine, ...]
    limits: tuple[LastGoodDay, ...]
    series: tuple[TrendSeries, ...] = ()
    limit_words: tuple[str, ...] = ()


@known_once
def list_valves(workplace: Workplace) -> tuple[ValveRow, ...]:
    """Every valve and regulator slot of every unit in service, by unit and slot."""
    with workplace.database.reading() as connection:
        fleet, tests = whole_fleet(workplace), _tests_of_units(connection)
    bench, today = ValveBench(fleet, Readiness(fleet)), fleet.day.today
    in_service = (unit for unit in fleet.records.units if unit.retired_on is None or unit.retired_on > today)
    return tuple(row for unit in in_service for row in bench.rows(unit, tests.get(unit.unit_id, ())))


def valves_listed(workplace: Workplace) -> tuple[Listed, ...]:
    """The same slots before they are judged, with their units and what sits in them."""
    today, fleet = day_of(workplace).today, known_fleet(workplace)
    with workplace.database.reading() as connection:
        of_unit = plan_in(connection).of_unit if fleet is None else lambda unit: fleet.seats(unit.unit_id)
        units = [each for each in read_units(connection) if each.retired_on is None or each.retired_on > today]
        seats = [(each, seat) for each in units for seat in of_unit(each) if seat.slot.kind in TEST_OF]
    return tuple(
        Listed(
            f"{seat.slot.slot_id} {unit.tag}",
            {"unit": unit.tag, "slot": seat.slot.name, "part": seat.part.label if seat.part else say("empty")},
        )
        for unit, seat in seats
    )


@read_if_changed
def _tests_of_units(connection: Connection) -> dict[int, list[BenchTestRecord]]:
    return by_unit(read_tests(connection, kinds=tuple(sorted(set(TEST_OF.values())))), lambda each: each.unit_id)


def valve_page(workplace: Workplace, unit_tag: str, slot_id: int) -> ValvePage:
    """One valve with every test that speaks of it; NotFound where the unit has no such slot."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_units(connection, unit_tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=unit_tag))
        fleet = Fleet(read_fleet(connection, found[0]), day)
        tests = read_tests(connection, unit_id=found[0].unit_id)
    offers = unit_offers(workplace, found[0].tag)
    unit = found[0]
    seat = next((each for each in fleet.seats(unit.unit_id) if each.slot.slot_id == slot_id), None)
    if seat is None or seat.slot.kind not in TEST_OF:
        raise NotFound(
            say(
                "unit {tag}: has no valve in slot {slot}; open the unit and choose one of its slots",
                tag=unit.tag,
                slot=slot_id,
            )
        )
    mine = tuple(tests_of(seat, tests))
    opening = next((each for each in fleet.records.openings if each.unit_id == unit.unit_id), None)
    fitted_at = seat.fitting.fitted_at if seat.fitting else None
    days = fleet.book.last_good_days(seat.part, fitted_at, unit.unit_id) if seat.part is not None else ()
    return ValvePage(
        row=ValveBench(fleet, Readiness(fleet)).row(unit, seat, mine),
        opened_at=opening.at if opening else None,
        opened_what=opening.what if opening else None,
        tests=tuple(bench_test_line(each, fleet.catalogue.names) for each in reversed(mine)),
        limits=tuple(days),
        series=tuple(series_of(mine, [each for each in offers if each.slot == seat.slot.name])),
        limit_words=tuple(
            strung(": ", (say(each.method), each.limit)) for each in offers if each.slot == seat.slot.name
        ),
    )


def bench_test_line(test: BenchTestRecord, names: dict[int, str]) -> TestLine:
    """One bench test with the name of who made it."""
    return TestLine(test, names.get(test.person_id) if test.person_id is not None else None)


def series_of(tests: Iterable[BenchTestRecord], offers: Iterable[TestOffer] = ()) -> Iterator[TrendSeries]:
    """Each measured value over time: of one kind, one unit and one sort of supply, the one measured most often first.

    offers: the tests of the slot, whose two-ended limits the values are seen against.
    """
    found: dict[tuple[str, str, str], list[tuple[datetime, float, float | None]]] = defaultdict(list)
    for test in tests:
        if test.value is not None:
            key = (test.kind, test.unit_of_value or "", supply_word(test.supply_bar))
            found[key].append((test.at, test.value, test.expanded_u))
    listed = list(offers)
    for (kind, unit, supply), points in sorted(found.items(), key=lambda each: (-len(each[1]), each[0][2])):
        name = (
            say(kind) if supply == "not known" else say("{kind}, {supply} supply", kind=say(kind), supply=say(supply))
        )
        low, high = _ends(kind, unit, listed)
        yield TrendSeries(name, unit=unit, points=tuple(points), low=low, high=high)


def _ends(kind: str, unit: str, offers: Iterable[TestOffer]) -> tuple[float | None, float | None]:
    for offer in offers:
        limits = offer.limits
        if offer.kind != kind:
            continue
        if limits.lock_up is not None and unit == "bar":
            return limits.lock_up.least_bar, limits.lock_up.most_bar
        if limits.opening is not None and unit == "mbar":
            return limits.opening.low, limits.opening.high
        if limits.back_leak is not None and unit == "mL/min":
            return None, limits.back_leak.ml_min
        if limits.pulses is not None and unit == "mL":
            return limits.pulses.low, limits.pulses.high
    return None, None


def tests_of(seat: Seat, tests: Iterable[BenchTestRecord]) -> Iterator[BenchTestRecord]:
    """The tests that speak of a slot: those of the part in it, or of the unit where no part was named."""
    return tests_of_slot(seat.slot, seat.part.part_id if seat.part is not None else None, tests)


@dataclass(frozen=True, slots=True)
class ValveBench:
    """The fleet and what is known of openings, against which valves are looked at."""

    fleet: Fleet
    readiness: Readiness

    def rows(self, unit: UnitRecord, tests: Sequence[BenchTestRecord]) -> tuple[ValveRow, ...]:
        """Those of one unit; kept while nothing of the unit, its tests and the names of who made them is another."""
        key, names = ("valves", unit.unit_id), self.fleet.catalogue.names
        rests_on = tests, [names.get(each.person_id or 0) for each in tests]
        before, found = self.fleet.answers.get(key, (None, ()))
        if before != rests_on:
            seats = (seat for seat in self.fleet.seats(unit.unit_id) if seat.slot.kind in TEST_OF)
            found = tuple(self.row(unit, seat, tuple(tests_of(seat, tests))) for seat in seats)
            self.fleet.answers[key] = rests_on, found
        return cast("tuple[ValveRow, ...]", found)

    def row(self, unit: UnitRecord, seat: Seat, tests: tuple[BenchTestRecord, ...]) -> ValveRow:
        """One valve's row from the tests that speak of it, oldest first."""
        day, life = self.fleet.day, self.fleet.life(seat, unit.unit_id)
        limited = seat.part is not None and seat.part.part_type_id in self.fleet.book.limits
        state, ends, telling = self._state(unit, seat, tests)
        trend = next(series_of(tests), None)
        return ValveRow(
            unit=unit.tag,
            slot_id=seat.slot.slot_id,
            slot=seat.slot.name,
            slot_kind=seat.slot.kind,
            part_id=seat.part.part_id if seat.part else None,
            part=seat.part.label if seat.part else None,
            part_type=self.fleet.catalogue.part_types[seat.part.part_type_id].name if seat.part else None,
            fitted_on=day.of(seat.fitting.fitted_at) if seat.fitting else None,
            last_good_day=life.day,
            basis=str(life.first.basis) if life.first else None,
            life_state=life_word(life, day.today, limited=limited) if seat.part else LifeWord.EMPTY,
            test_kind=TEST_OF[seat.slot.kind],
            last_test=bench_test_line(telling, self.fleet.catalogue.names) if telling else None,
            test_last_good_day=ends,
            test_state=state,
            trend=tuple((day.of(at), value) for at, value, _u in trend.points) if trend is not None else (),
        )

    def _state(
        self, unit: UnitRecord, seat: Seat, tests: tuple[BenchTestRecord, ...]
    ) -> tuple[str, date | None, BenchTestRecord | None]:
        since = [seat.fitting.fitted_at] if seat.fitting is not None else []
        if seat.slot.kind in AFTER_OPENING and (opened := self.readiness.loop_opened(unit.unit_id)) is not None:
            since.append(opened)
        standing = [test for test in tests if all(test.at >= each for each in since)]
        if not any(test.kind == TEST_OF[seat.slot.kind] for test in standing):
            return "not tested", None, tests[-1] if tests else None
        latest = tuple({(test.kind, supply_word(test.supply_bar)): test for test in standing}.values())
        for word, results in (("failed", ("reject",)), ("undecided", ("repeat",))):
            bad = [test for test in latest if test.result in results]
            if bad:
                return word, None, bad[-1]
        if TEST_OF[seat.slot.kind] == "intermediate pressure":
            seen = {supply_word(test.supply_bar) for test in latest}
            if not seen >= set(BOTH_SUPPLIES):
                return "undecided", None, standing[-1]
        oldest = min(latest, key=lambda test: test.at)
        state, ends = _fresh(self.fleet.day, oldest.at, self._freshness(unit, seat.slot.kind))
        return state, ends, standing[-1]

    def _freshness(self, unit: UnitRecord, slot_kind: str) -> Freshness:
        limits = self.readiness.fresh.of(unit.unit_type_id)
        if slot_kind == "one-way valve":
            return limits.valves_and_loop
        return limits.mouthpiece_tests if slot_kind in ("mouthpiece valve", "bailout valve") else limits.gas_side_tests


def _fresh(day: Day, at: datetime, freshness: Freshness) -> tuple[str, date | None]:
    done, stop = day.of(at), freshness.stop_over_days
    if stop is None:
        old = freshness.advise_over_days is not None and (day.today - done).days > freshness.advise_over_days
        return ("due soon" if old else "fresh"), None
    ends = done + timedelta(days=stop)
    left = (ends - day.today).days
    return ("stale" if left < 0 else "due soon" if left <= DUE_SOON_DAYS else "fresh"), ends


HELD = say("the last loop test held: a leak is noted under a test that did not hold, so test the loop again first")
LONGEST_PLACE = 120


@dataclass(frozen=True, slots=True)
class LeakDesk:
    """What a leak of a unit can be noted with.

    places: slots on the loop's drawing, in the order of the flow; why_not: why none can be noted now, empty where one
    can; newest: key and place of a leak that was noted within ten minutes and may be corrected.
    """

    places: tuple[str, ...]
    why_not: str = ""
    newest: tuple[tuple[int, str], ...] = ()


def leak_desk(workplace: Workplace, tag: str) -> LeakDesk:
    """The places at which the loop of a unit can leak, and whether one can be noted now."""
    with workplace.database.read_session() as session:
        unit = unit_by_tag(session, tag)
        on_loop = [each for each in seats_of(session, unit) if each.slot.kind in ON_THE_LOOP or each.depth]
        connection, since = session.connection(), workplace.clock() - CORRECTED_WITHIN
        recent = tuple(
            (each.leak_id, each.fact.place) for each in read_leaks(connection, unit.id) if each.fact.at >= since
        )
        why = "" if _failed_test(connection, unit.id) is not None else HELD
        return LeakDesk(tuple(dict.fromkeys(each.slot.name for each in on_loop)), why, recent)


def note_leak(
    workplace: Workplace, tag: str, *, slot: str | None, method: str, place: str = "", instead_of: int | None = None
) -> LeakPlace:
    """Note where the loop leaks that did not hold in its last test; returns how often it leaked there by now.

    slot: of the unit's drawing, None where words alone say the place. instead_of: a leak noted within ten minutes that
    this one corrects. Refused where the last loop test held, and where neither slot nor words tell the place.
    """
    require_person(workplace)
    one_word("method", method, LEAK_METHODS)
    words = place.strip()
    if len(words) > LONGEST_PLACE:
        raise Refused(say("place: is longer than {most} characters; shorten it", most=LONGEST_PLACE))
    if slot is None and not words:
        raise Refused(say("place: is empty; choose it on the drawing, or say in words where it leaks"))
    with workplace.transaction("note leak", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        test = _failed_test(act.session.connection(), unit.id)
        if test is None:
            raise Refused(strung(": ", (say("leak"), HELD)))
        row = act.add(
            LoopLeak(
                bench_test_id=test,
                slot_id=_slot_id(act, unit, slot),
                place=words or None,
                method=method,
                at=act.at,
                person_id=workplace.person_id,
                ticket_id=act.get(BenchTest, test, "bench test").ticket_id,
                supersedes_id=_corrected(act, unit, instead_of),
            )
        )
        act.session.flush()
        found = places_of(act.session.connection(), unit.id)
        return next(each for each in found if any(leak.at == row.at for leak in each.found))


def leak_places(workplace: Workplace, tag: str) -> tuple[LeakPlace, ...]:
    """Every place at which the loop of a unit leaked, the place that leaks again most often first."""
    with workplace.database.read_session() as session:
        return places_of(session.connection(), unit_by_tag(session, tag).id)


def places_of(connection: Connection, unit_id: int) -> tuple[LeakPlace, ...]:
    """The same for a unit whose records are being read; two statements."""
    tests = read_tests(connection, unit_id=unit_id, kinds=LOOP_KINDS)
    passed = [(each.kind, each.at) for each in tests if each.result in PASSES]
    return leaks_by_place([each.fact for each in read_leaks(connection, unit_id)], passed)


def _failed_test(connection: Connection, unit_id: int) -> int | None:
    """The last loop test where it did not pass; where the last ones of both kinds passed, there is no leak to note."""
    last = {each.kind: each for each in read_tests(connection, unit_id=unit_id, kinds=LOOP_KINDS)}
    failed = [each for each in last.values() if each.result not in PASSES]
    return max(failed, key=lambda each: (each.at, each.test_id)).test_id if failed else None


def _slot_id(act: Transaction, unit: Unit, slot: str | None) -> int | None:
    if slot is None:
        return None
    found = next((each.slot.id for each in seats_of(act.session, unit) if each.slot.name == slot), None)
    if found is None:
        raise Refused(
            say(
                "slot {slot}: unit {tag} has no slot of that name; choose one from its drawing", slot=slot, tag=unit.tag
            )
        )
    return found


def _corrected(act: Transaction, unit: Unit, leak_id: int | None) -> int | None:
    if leak_id is None:
        return None
    mine = {each.leak_id: each for each in read_leaks(act.session.connection(), unit.id)}
    if leak_id not in mine:
        raise Refused(
            say("leak: the one to correct is another unit's, or was corrected already; look at the page again")
        )
    if act.at - mine[leak_id].fact.at > CORRECTED_WITHIN:
        raise Refused(say("leak: was noted more than ten minutes ago; write what is right as a finding of its ticket"))
    return leak_id

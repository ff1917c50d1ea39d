"""Hires, courses and try days; and what the hand-over sheet says of a unit."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.readiness.judge import Assessment, HandoverKind
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.cells.reads import SettingRecord, read_conditions, read_settings, read_shown
from fleetbench.records.core.errors import NotFound
from fleetbench.records.gas.reads import FilledCylinder, read_cylinders
from fleetbench.records.hires.lookups import KeptPage, hand_over_of, signed_pages_on
from fleetbench.records.hires.reads import (
    BookedUnit,
    BookingRecord,
    read_booking,
    read_bookings,
    read_hire_notes,
    read_lines,
)
from fleetbench.records.parts.reads import PartRecord, in_unit
from fleetbench.records.people.reads import read_names
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.units.reads import ReaderRecord, UnitRecord, read_readers, read_units
from fleetbench.records.upkeep.lookups import last_act_about
from fleetbench.workshop.bench.valves import TestLine, bench_test_line
from fleetbench.workshop.cells.outlook import CalibrationConditions, conditions_by_calibration, shown_by_cell
from fleetbench.workshop.core.known import no_cycle_search
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.gas.state import GasDepths
from fleetbench.workshop.hires.handover import AccessoryLine, accessories_for, counted_along
from fleetbench.workshop.hires.promises import PromiseLine, is_judged, judged_promises, known_promises
from fleetbench.workshop.hires.signing import Signed, signatures
from fleetbench.workshop.parts.list import FittedPart
from fleetbench.workshop.parts.lives import item_of
from fleetbench.workshop.readiness.ready import Question, Readiness, leaving_way
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, batteries_of
from fleetbench.workshop.units.fleet import Fleet, Seat
from fleetbench.workshop.units.list import (
    CellLine,
    FillLine,
    cell_lines,
    fill_line,
    fitted_parts,
)

VOLTAGE = "battery voltage"


@dataclass(frozen=True, slots=True)
class BookingRow:
    """One booking with its units.

    units: their tags, and out: of those out now. promise: whether it can be kept as things stand; None where it is
    over, waits, or begins later than is judged. pending: it is not judged yet, and so not known.
    """

    booking: BookingRecord
    renter: str | None
    instructor: str | None
    units: tuple[str, ...]
    out: tuple[str, ...]
    back: int
    state: HireState
    promise: PromiseLine | None = None
    pending: bool = False

    @property
    def waiting_since(self) -> datetime | None:
        """When it was put on the waiting list; of units that are out or back nobody waits any more."""
        return self.booking.waiting_since if self.state is HireState.WAITING else None


@dataclass(frozen=True, slots=True)
class HireLine:
    """One unit on one booking, with the names of who had to do with it."""

    line: BookedUnit
    diver: str | None
    out_by: str | None
    received_by: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class CylinderFacts:
    """A cylinder that goes along, with what it was filled with and its tests; None is not recorded.

    end_bar: what is known to be in it now.
    """

    slot: str
    part: PartRecord
    filled: FilledCylinder
    end_bar: float | None
    analysed_by: str | None
    tests: tuple[tuple[str, date], ...]
    last_good_day: date | None
    basis: str | None
    depths: GasDepths


@dataclass(frozen=True, slots=True)
class HandsetFacts:
    """One handset: serial, firmware, and the calibration stored in it as recorded."""

    slot: str
    serial: str | None
    firmware: str | None
    set_at: datetime | None
    fraction_set: float | None
    pressure_set_mbar: float | None
    shown_oxygen_bar: float | None
    shown_air_bar: float | None


@dataclass(frozen=True, slots=True)
class HandoverFacts:
    """Everything the hand-over sheet states; what is None was not recorded, and the sheet says so.

    out_at: when the unit left, None while it has not. spare: on a course, without a diver. fill_against: why the fill
    that stands in the canister is not for this diver, empty where nothing is against it. language: of the diver, by its
    code; back_by: the hour of return, as 17:00. signed_page: the page as it was signed last, where it is of these days;
    signed_before: when any page was signed.
    """

    centre: str
    telephone: str | None
    tag: str
    unit_type: str
    unit_serial: str | None
    manual: str
    harness: str | None
    booking: str | None
    booking_kind: str | None
    renter: str | None
    diver: str | None
    starts_on: date | None
    ends_on: date | None
    hand_over: str
    record: str | None
    planned_minutes: float | None
    planned_depth_m: float | None
    planned_water_c: float | None
    set_point_low_bar: float | None
    set_point_high_bar: float | None
    head_serial: str | None
    handsets: tuple[HandsetFacts, ...]
    cells: tuple[CellLine, ...]
    calibrated_at: datetime | None
    calibrated_by: str | None
    fill: FillLine | None
    discard_by: datetime | None
    cylinders: tuple[CylinderFacts, ...]
    tests: tuple[TestLine, ...]
    disinfected_at: datetime | None
    dry_at: datetime | None
    fitted: tuple[FittedPart, ...]
    known_faults: tuple[str, ...]
    assessment: Assessment
    today: date
    conditions: CalibrationConditions | None = None
    batteries: tuple[BatteryLine, ...] = ()
    accessories: tuple[AccessoryLine, ...] = ()
    accessories_counted: int | None = None
    absorbent_kg: float | None = None
    deposit: float | None = None
    handed_over_by: str | None = None
    signatures: tuple[Signed, ...] = ()
    out_at: datetime | None = None
    spare: bool = False
    fill_against: str = ""
    language: str | None = None
    back_by: str | None = None
    emergency_telephone: str | None = None
    signed_page: KeptPage | None = None
    signed_before: datetime | None = None


def list_bookings(workplace: Workplace, *, past: bool = False) -> tuple[BookingRow, ...]:
    """Bookings by first day: those not over and those of which a unit is still out; all of them where asked."""
    day = day_of(workplace)
    since = None if past else day.today
    with workplace.database.reading() as connection:
        bookings, lines = read_bookings(connection, since), read_lines(connection, since=since)
        names = read_names(connection)
    of_booking: dict[int, list[BookedUnit]] = defaultdict(list)
    for line in lines:
        of_booking[line.booking_id].append(line)
    return tuple(_waiting(_booking_row(each, of_booking[each.booking_id], names, day.today)) for each in bookings)


@no_cycle_search()
def judged_bookings(workplace: Workplace, *, past: bool = False, at_once: bool = False) -> tuple[BookingRow, ...]:
    """The same, each with whether it can be kept as things stand; at once where that is known, else pending."""
    judged = known_promises(workplace) if at_once else judged_promises(workplace)
    rows = list_bookings(workplace, past=past)
    if judged is None:
        today = day_of(workplace).today
        return tuple(replace(each, pending=is_judged(each.booking, today)) for each in rows)
    return tuple(replace(each, promise=judged.get(each.booking.code)) for each in rows)


def _waiting(row: BookingRow) -> BookingRow:
    """The row as it stands on the waiting list, where it does."""
    waits = row.booking.waiting_since is not None and row.state is HireState.TO_COME
    return replace(row, state=HireState.WAITING) if waits else row


def one_booking(workplace: Workplace, code: str) -> BookingRow:
    """One booking by its code, over or not; NotFound for an unknown one."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        booking = read_booking(connection, code)
        if booking is None:
            raise NotFound(say("booking {code}: not recorded; check the code or look it up with find", code=code))
        lines, names = list(read_lines(connection, booking_id=booking.booking_id)), read_names(connection)
    return _booking_row(booking, lines, names, day.today)


def hire_lines(workplace: Workplace, booking_code: str) -> tuple[HireLine, ...]:
    """Every unit on one booking; NotFound for an unknown code."""
    with workplace.database.reading() as connection:
        booking = read_booking(connection, booking_code)
        if booking is None:
            raise NotFound(
                say("booking {code}: not recorded; check the code or look it up with find", code=booking_code)
            )
        lines = read_lines(connection, booking_id=booking.booking_id)
        notes, names = read_hire_notes(connection, booking.booking_id), read_names(connection)

    def name(person_id: int | None) -> str | None:
        return names.get(person_id) if person_id is not None else None

    return tuple(
        HireLine(each, diver=name(each.diver_id), out_by=name(each.out_by_id), received_by=name(each.received_by_id),
                 note=notes.get(each.line_id)) for each in lines
    )  # fmt: skip


def handover_facts(workplace: Workplace, tag: str, booking_code: str | None = None) -> HandoverFacts:
    """What the hand-over sheet states of a unit for a booking, or for its present or next one.

    NotFound for an unknown unit or booking, or for a unit that is not on the booking. A unit without any booking has
    a sheet too, for today, with nobody's name on it.
    """
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
        unit = found[0]
        booking = read_booking(connection, booking_code) if booking_code is not None else None
        if booking_code is not None and booking is None:
            raise NotFound(
                say("booking {code}: not recorded; check the code or look it up with find", code=booking_code)
            )
        fleet = Fleet(read_fleet(connection, unit), day)
        promise = Readiness(fleet).next_promise(unit.unit_id)
        if booking is None and promise is not None:
            booking = read_booking(connection, promise.code)
        lines = read_lines(connection, unit_id=unit.unit_id) if booking is not None else ()
        line = next((each for each in lines if booking is not None and each.booking_id == booking.booking_id), None)
        if booking is not None and line is None:
            raise NotFound(
                say(
                    "unit {tag}: not on booking {code}; put it on the booking or choose another",
                    tag=unit.tag,
                    code=booking.code,
                )
            )
        cylinders = read_cylinders(connection, in_unit(unit.unit_id))
        readers, settings = read_readers(connection), read_settings(connection, unit.unit_id)
        sheet = _Sheet(fleet, unit, booking, line)
        facts = sheet.facts(cylinders, readers, settings)
        asked = {each.outcome.calibration_id for each in facts.cells if each.outcome is not None}
        shown = shown_by_cell(read_shown(connection, asked))
        done = next(iter(fleet.records.calibrations), None)
        last = () if done is None else (done.calibration_id,)
        rooms = conditions_by_calibration(read_conditions(connection, last))
    cells = tuple(
        replace(each, shown=shown.get((each.outcome.calibration_id, each.outcome.part_id), ()))
        if each.outcome
        else each
        for each in facts.cells
    )
    facts = replace(facts, cells=cells, conditions=rooms.get(done.calibration_id) if done is not None else None)
    return _what_goes_along(workplace, facts, line, fleet.name(line.out_by_id) if line is not None else None)


def _what_goes_along(at: Workplace, facts: HandoverFacts, line: BookedUnit | None, by: str | None) -> HandoverFacts:
    """The sheet with what was counted out and signed; before the hand-over, with what belongs along."""
    counted = counted_along(at, line.line_id) if line is not None else ()
    facts = replace(facts, accessories=counted or accessories_for(at, facts.tag), handed_over_by=by)
    if line is None:
        return facts
    with at.database.read_session() as session:
        noted = hand_over_of(session, line.line_id)
        if noted is not None:
            facts = replace(
                facts,
                harness=noted.harness or facts.harness,
                accessories_counted=noted.accessories,
                absorbent_kg=noted.absorbent_kg,
                deposit=noted.deposit,
            )
        moved = last_act_about(session, "move booking", f"booking {facts.booking}")
    signed = signatures(at, line.line_id)
    with at.database.reading() as connection:
        pages = signed_pages_on(connection, [line.line_id])
    kept = pages[-1] if pages else None
    return replace(
        facts,
        signed_page=kept if kept is not None and (moved is None or kept.at >= moved) else None,
        signed_before=kept.at if kept is not None else None,
        signatures=tuple(replace(each, of_other_days=moved is not None and each.at < moved) for each in signed),
    )


def booking_state(booking: BookingRecord, lines: list[BookedUnit], today: date) -> HireState:
    """How a booking stands; whether one to come is on the waiting list is not looked at."""
    if booking.cancelled_at is not None:
        return HireState(booking.ended_as or HireState.CANCELLED)
    out = [each for each in lines if each.out_at is not None and each.received_at is None]
    if out:
        return HireState.LATE if booking.ends_on < today else HireState.OUT
    gone = [each for each in lines if each.out_at is not None]
    if gone and len(gone) == len(lines):
        return HireState.BACK
    if booking.ends_on >= today:
        return HireState.TO_COME
    return HireState.BACK if gone else HireState.NOT_COLLECTED


def _booking_row(booking: BookingRecord, lines: list[BookedUnit], names: dict[int, str], today: date) -> BookingRow:
    return BookingRow(
        booking,
        renter=names.get(booking.renter_id) if booking.renter_id is not None else None,
        instructor=names.get(booking.instructor_id) if booking.instructor_id is not None else None,
        units=tuple(each.unit for each in lines),
        out=tuple(each.unit for each in lines if each.out_at is not None and each.received_at is None),
        back=sum(each.received_at is not None for each in lines),
        state=booking_state(booking, lines, today),
    )


def _against_fill(answer: Assessment) -> str:
    """Why the fill in the canister is not to be dived, as readiness found it; empty where it may be."""
    rows = (each for each in answer.checks if each.check in ("absorbent", "absorbent in the canister"))
    return strung(
        "; ", (each.evidence for each in rows if each.result is Result.STOP or each.to_do_minutes is not None)
    )


class _Sheet:
    """One hand-over: the unit, the booking and the unit's line on it."""

    def __init__(self, fleet: Fleet, unit: UnitRecord, booking: BookingRecord | None, line: BookedUnit | None) -> None:
        self.fleet, self.unit, self.booking, self.line = fleet, unit, booking, line
        self.readiness = Readiness(fleet)
        self.day: Day = fleet.day

    def facts(
        self,
        cylinders: tuple[FilledCylinder, ...],
        readers: tuple[ReaderRecord, ...],
        settings: tuple[SettingRecord, ...],
    ) -> HandoverFacts:
        fleet, unit, booking, line = self.fleet, self.unit, self.booking, self.line
        centre, unit_id = fleet.catalogue.centre, unit.unit_id
        fitted = fitted_parts(fleet, unit_id)
        done = next(iter(fleet.records.calibrations), None)
        cleaned = next(iter(fleet.records.disinfections), None)
        fill = fill_line(fleet, self.readiness, unit_id)
        assessment = self._assessment()
        return HandoverFacts(centre=centre.name if centre else "", telephone=centre.telephone if centre else None,
            tag=unit.tag, unit_type=unit.unit_type, unit_serial=unit.serial, manual=unit.manual,
            harness=unit.harness, booking=booking.code if booking else None,
            booking_kind=booking.kind if booking else None,
            renter=fleet.name(booking.renter_id) if booking else None,
            diver=fleet.name(line.diver_id) if line else None, language=booking.language if booking else None,
            back_by=booking.back_by if booking else None,
            emergency_telephone=centre.emergency_telephone if centre else None,
            starts_on=booking.starts_on if booking else None, ends_on=booking.ends_on if booking else None,
            hand_over=str(self.kind()), record=(line.ref or say("hire line {line_id}",
            line_id=line.line_id)) if line else None, planned_minutes=booking.planned_minutes if booking else None,
            planned_depth_m=booking.planned_depth_m if booking else None,
            planned_water_c=booking.planned_water_c if booking else None, set_point_low_bar=unit.set_point_low_bar,
            set_point_high_bar=unit.set_point_high_bar,
            head_serial=next((each.part for each in fitted if each.slot_kind == "head"), None),
            handsets=self._handsets(readers, settings), cells=cell_lines(fleet, self.readiness, unit_id),
            calibrated_at=done.at if done else None, calibrated_by=fleet.name(done.person_id) if done else None,
            fill=fill, discard_by=self._discard_by(fill), cylinders=self._cylinders(cylinders),
            batteries=batteries_of(fleet, unit_id, unit.unit_type_id), tests=tuple(bench_test_line(each,
            fleet.catalogue.names) for each in self._tests()), disinfected_at=cleaned.at if cleaned else None,
            dry_at=cleaned.dry_at if cleaned else None, fitted=fitted, known_faults=self._known_faults(),
            assessment=assessment, today=self.day.today, out_at=line.out_at if line else None,
            spare=line is not None and line.diver_id is None and booking is not None and booking.renter_id is None,
            fill_against=_against_fill(assessment) if fill is not None else "")  # fmt: skip

    def kind(self) -> HandoverKind:
        """How the unit leaves, or left: as its booking says, else the usual way."""
        return leaving_way(self.line.hand_over if self.line is not None else None)

    def _assessment(self) -> Assessment:
        today, booking = self.day.today, self.booking
        first = max(booking.starts_on, today) if booking else today
        last = max(booking.ends_on, first) if booking else today
        line = self.line
        running = line is not None and line.out_at is not None and line.received_at is None
        return self.readiness.assess(self.unit, Question(
            first, last, self.kind(), running=running, booking=booking.code if booking else ""))  # fmt: skip

    def _handsets(
        self, readers: tuple[ReaderRecord, ...], settings: tuple[SettingRecord, ...]
    ) -> tuple[HandsetFacts, ...]:
        seats = {seat.slot.slot_id: seat for seat in self.fleet.seats(self.unit.unit_id)}
        stored = {each.reader_id: each for each in settings}
        mine = (each for each in readers if each.unit_type_id == self.unit.unit_type_id and each.kind != "bench meter")
        return tuple(self._handset(each, seats.get(each.slot_id or 0), stored.get(each.reader_id)) for each in mine)

    def _handset(self, reader: ReaderRecord, seat: Seat | None, stored: SettingRecord | None) -> HandsetFacts:
        part = seat.part if seat is not None else None
        return HandsetFacts(
            slot=reader.name,
            serial=part.label if part else None,
            firmware=part.firmware if part else None,
            set_at=stored.at if stored else None,
            fraction_set=stored.fraction_set if stored else None,
            pressure_set_mbar=stored.pressure_set_mbar if stored else None,
            shown_oxygen_bar=stored.shown_oxygen_bar if stored else None,
            shown_air_bar=stored.shown_air_bar if stored else None,
        )

    def _cylinders(self, cylinders: tuple[FilledCylinder, ...]) -> tuple[CylinderFacts, ...]:
        known = {each.part_id: each for each in cylinders}
        return tuple(
            self._cylinder(seat, seat.part, known[seat.part.part_id])
            for seat in self.fleet.seats(self.unit.unit_id)
            if seat.part and seat.part.part_id in known
        )

    def _cylinder(self, seat: Seat, part: PartRecord, gas: FilledCylinder) -> CylinderFacts:
        life = self.fleet.life(seat, self.unit.unit_id)
        tests = self.fleet.book.tests_of(gas.part_id)
        book = self.readiness.gas_side.book
        state = book.states[gas.part_id]
        return CylinderFacts(
            slot=seat.slot.name,
            part=part,
            filled=gas,
            end_bar=state.now_bar,
            analysed_by=self.fleet.name(gas.analysed_by_id),
            tests=tuple((kind, mark.first_day) for kind, mark in sorted(tests.items())),
            last_good_day=None if life.unknown else life.day,
            basis=item_of(life.first.limit) if life.first else None,
            depths=book.depths(state),
        )

    def _tests(self) -> Iterator[BenchTestRecord]:
        """The latest test of each kind, direction and part that is in the unit now; a voltage a battery, all of them.

        A test of a part that has come out says nothing of what goes along.
        """
        inside = {seat.part.part_id for seat in self.fleet.seats(self.unit.unit_id) if seat.part is not None}
        seen = set()
        for test in sorted(self.fleet.records.tests, key=lambda each: (each.at, each.test_id), reverse=True):
            if test.part_id is not None and test.part_id not in inside:
                continue
            key = (test.kind, test.direction, test.part_id)
            if key not in seen or test.kind == VOLTAGE:
                seen.add(key)
                yield test

    def _discard_by(self, fill: FillLine | None) -> datetime | None:
        """When the fill must be thrown away by the clock, whatever is left of it."""
        seats = self.fleet.seats(self.unit.unit_id)
        seat = next((each for each in seats if each.slot.kind == "canister" and each.part), None)
        if fill is None or seat is None or seat.part is None:
            return None
        limits = self.readiness.absorbent.limits(seat.part.part_type_id)
        record = self.readiness.absorbent.fills[seat.part.part_id]
        runs = self.readiness.absorbent.runs_of(record.fill_id)
        ends = []
        if limits.hours_since_first_use is not None and runs:
            ends.append(min(run.started_at for run in runs) + timedelta(hours=limits.hours_since_first_use))
        if limits.hours_since_opened is not None and record.container_opened_at is not None:
            ends.append(record.container_opened_at + timedelta(hours=limits.hours_since_opened))
        return min(ends, default=None)

    def _known_faults(self) -> tuple[str, ...]:
        facts = self.readiness.facts(self.unit, Question(self.day.today, self.day.today, HandoverKind.KIT))
        tickets = (say("ticket {number}: {what}", number=each.number, what=each.what) for each in facts.tickets or ())
        holds = (strung(": ", (say(each.kind), each.reason)) for each in facts.holds or ())
        return (*holds, *tickets)

"""What readiness asks of what the bench did, from the records of one unit."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from operator import itemgetter

from fleetbench.calc.bench.measured import FULL_SUPPLY_BAR, LOW_SUPPLY_BAR
from fleetbench.calc.bench.sensors import SENSOR_TESTS, SensorTest, asked_of_slot
from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.readiness.judge import (
    ChangeFact,
    DisinfectionFact,
    FirmwareFact,
    FloodFact,
    HandsetFact,
    HandsetsFact,
    HighPointFact,
    IdleFact,
    ServiceFact,
    SignerFact,
    SpreadFact,
    TestFact,
    TestsFact,
)
from fleetbench.calc.turn_rounds.card import drying_time, is_dry, why_not_dry_yet
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.cells.reads import OutcomeRecord, SettingRecord
from fleetbench.records.people.reads import QualificationRecord
from fleetbench.records.readiness.reads import CheckRecords
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.turn_rounds.reads import CardRecord, LoopCleaning
from fleetbench.records.units.reads import ReturnRecord, UnitRecord
from fleetbench.workshop.tickets.service_plan import ServiceBook
from fleetbench.workshop.units.fleet import Fleet, Seat, by_unit

LOCK_UP_ENDS = (say("full supply"), say("low supply"))
"""Intermediate pressure is taken at a full and at a low supply pressure; common practice, no published source."""

GAS_SIDE_TESTS = {
    "oxygen first stage": "intermediate pressure",
    "diluent first stage": "intermediate pressure",
    "solenoid": "solenoid",
    "addition valve": "addition valve",
    "manual addition valve": "addition valve",
    "relief valve": "opening pressure",
    "injector": "injector flow",
}
"""The test that each kind of slot of the gas side needs; common practice, no published source."""

MOUTHPIECE_TESTS = {"mouthpiece valve": "mouthpiece valve", "bailout valve": "bailout valve"}

SIGNS = ("technician",)
"""The kind of qualification with which work on a unit type is signed; common practice, no published source."""


def _handset_fact(name: str, stored: SettingRecord) -> HandsetFact:
    """A handset's stored calibration; without the room of its calibration, the pressure that was set in it counts."""
    pressure = stored.pressure_set_mbar if stored.pressure_mbar is None else stored.pressure_mbar
    return HandsetFact(
        name,
        stored_at=stored.at,
        air_bar=stored.shown_air_bar,
        pressure_mbar=pressure,
        temperature_c=stored.temperature_c,
        humidity=stored.humidity,
    )


class BenchSide:
    """Handsets, pot points, bench tests by slot, and the signer, of each unit of a fleet."""

    def __init__(self, fleet: Fleet, checks: CheckRecords) -> None:
        self._fleet, self._checks = fleet, checks
        self._settings = {(each.unit_id, each.reader_id): each for each in checks.settings}
        self._pots = {each.part_id: each for each in checks.pots}
        self._releases = {each.unit_id: each for each in checks.releases}
        self._tests = fleet.tests
        self._calibrations = {each.unit_id: each for each in fleet.records.calibrations}
        self._papers = by_unit((each for each in checks.papers if each.kind in SIGNS), lambda each: each.person_id)
        self._stated: dict[tuple[int | None, int | None], set[str]] = defaultdict(set)
        for each in fleet.catalogue.limits:
            self._stated[each.unit_type_id, each.part_type_id].add(each.name)
        self._readers = by_unit(checks.readers, lambda each: each.unit_type_id)

    # handsets and cells

    def handsets(self, unit: UnitRecord, changes: tuple[ChangeFact, ...]) -> HandsetsFact | None:
        """The calibration stored in each handset; None where the unit type has no handset."""
        handsets = [each for each in self._readers.get(unit.unit_type_id, ()) if each.kind == "handset"]
        if not handsets:
            return None
        found = []
        for each in handsets:
            stored = self._settings.get((unit.unit_id, each.reader_id))
            found.append(HandsetFact(each.name, None) if stored is None else _handset_fact(each.name, stored))
        return HandsetsFact(tuple(found), changes)

    def high_points(self, seats: Iterable[Seat]) -> tuple[HighPointFact, ...]:
        """The last point above 1 bar of each cell since it was fitted where it sits."""
        return tuple(self._high_point(seat) for seat in seats if seat.part is not None)

    def _high_point(self, seat: Seat) -> HighPointFact:
        pot = self._pots.get(seat.part.part_id) if seat.part is not None else None
        if pot is None or (seat.fitting is not None and pot.at < seat.fitting.fitted_at):
            return HighPointFact(seat.slot.name, None)
        return HighPointFact(seat.slot.name, pot.at, say_ref("calibration {ref}", pot.calibration_id))

    def spreads(
        self, unit: UnitRecord, standing: Iterable[tuple[Seat, tuple[OutcomeRecord, ...]]]
    ) -> tuple[SpreadFact, ...]:
        """How far handsets lie apart on each cell that more than one of them reads; a cell not calibrated is left out.

        A cell without a calibration stops by itself; that its handsets were not compared says nothing more.
        """
        reading: dict[int, int] = {}
        mine = {each.reader_id for each in self._readers.get(unit.unit_type_id, ()) if each.kind == "handset"}
        for cell in self._checks.reader_cells:
            if cell.reader_id in mine and cell.shows != "nothing":
                reading[cell.cell_slot_id] = reading.get(cell.cell_slot_id, 0) + 1
        return tuple(
            SpreadFact(
                seat.slot.name,
                stands[0].reader_gap_bar,
                say_ref("calibration {ref}", stands[0].calibration_id),
            )
            for seat, stands in standing
            if reading.get(seat.slot.slot_id, 0) > 1 and stands
        )

    # tests by slot

    def gas_side(self, unit_id: int) -> TestsFact | None:
        """The tests that the gas side's slots need, each since its part was fitted; None where it has no such slot."""
        return self._of_slots(unit_id, GAS_SIDE_TESTS, None)

    def mouthpiece(self, unit_id: int, loop_opened: datetime | None) -> TestsFact | None:
        """The tests that the mouthpiece's or bailout valve's slot needs; None where there is no such slot."""
        return self._of_slots(unit_id, MOUTHPIECE_TESTS, loop_opened)

    def sensors(self, unit: UnitRecord) -> TestsFact | None:
        """The tests of sensors, displays and batteries, each since its part was fitted.

        Those whose limits the types state are asked for, and whatever was tested and did not pass: a screen that was
        found broken, or a sensor read without a limit to judge it by, holds the unit until it was tested again.
        """
        required: list[str] = []
        done: list[TestFact] = []
        fitted: list[ChangeFact] = []
        stated = self._stated[unit.unit_type_id, None] | self._stated[None, None]
        for seat in self._fleet.seats(unit.unit_id):
            if seat.part is None:
                continue
            asked = asked_of_slot(seat.slot.kind, stated | self._stated[None, seat.part.part_type_id])
            for test in SENSOR_TESTS:
                if test not in asked and not (
                    seat.slot.kind in test.slots and self._did_not_pass(unit.unit_id, seat, test)
                ):
                    continue
                for name, fact in self._seat_tests(unit.unit_id, seat, test.kind):
                    required += [name] if name not in required else []
                    done += [fact] if fact is not None else []
                    fitted += [ChangeFact(name, seat.fitting.fitted_at)] if seat.fitting is not None else []
        return TestsFact(tuple(required), tuple(done), None, tuple(fitted)) if required else None

    def _did_not_pass(self, unit_id: int, seat: Seat, test: SensorTest) -> bool:
        """Whether the last test of that kind since the slot's part was fitted did not pass; False where none is."""
        since = seat.fitting.fitted_at if seat.fitting is not None else None
        made = [fact for _, fact in self._seat_tests(unit_id, seat, test.kind) if fact is not None]
        counted = [fact for fact in made if since is None or fact.at >= since]
        return bool(counted) and not counted[-1].passed

    def _of_slots(self, unit_id: int, kinds: dict[str, str], opened: datetime | None) -> TestsFact | None:
        required: list[str] = []
        done: list[TestFact] = []
        fitted: list[ChangeFact] = []
        for seat in self._fleet.seats(unit_id):
            kind = kinds.get(seat.slot.kind)
            if kind is None or seat.part is None:
                continue
            for name, fact in self._seat_tests(unit_id, seat, kind):
                if name not in required:
                    required.append(name)
                if fact is not None:
                    done.append(fact)
                if seat.fitting is not None:
                    fitted.append(ChangeFact(name, seat.fitting.fitted_at))
        return TestsFact(tuple(required), tuple(done), opened, tuple(fitted)) if required else None

    def _seat_tests(self, unit_id: int, seat: Seat, kind: str) -> Iterator[tuple[str, TestFact | None]]:
        """Each test that a slot needs by name, with the tests on record of it."""
        mine = [
            each
            for each in self._tests.get(unit_id, ())
            # A test that names no part speaks of the unit as it stood; one of another part says nothing of this one.
            if each.kind == kind and each.part_id in (None, seat.part.part_id if seat.part is not None else None)
        ]
        ends: tuple[str | None, ...] = LOCK_UP_ENDS if kind == "intermediate pressure" else (None,)
        for end in ends:
            name = strung(", ", (kind, seat.slot.name)) if kind != seat.slot.name else kind
            name = strung(", ", (name, end)) if end is not None else name
            yield name, None
            for each in mine:
                if end is None or _end(each) == end:
                    yield (
                        name,
                        TestFact(name, each.at, _passed(each), say_ref("bench test {ref}", each.ref or each.test_id)),
                    )

    # the signer

    def signer(self, unit: UnitRecord) -> SignerFact:
        """Who signed last, a ticket or a turn-round card, else who last calibrated; qualified then or not."""
        release = self._releases.get(unit.unit_id)
        if release is not None:
            record = say_ref("turn-round card {ref}", release.card_id)
            if release.year is not None and release.number is not None:
                record = say_ref("ticket {ref}", ticket_number(release.year, release.number))
            return self._signed(release.signed_by_id, unit.unit_type_id, release.signed_at, record)
        done = self._calibrations.get(unit.unit_id)
        if done is not None:
            record = say_ref("calibration {ref}", done.ref or done.calibration_id)
            return self._signed(done.person_id, unit.unit_type_id, done.at, record)
        return SignerFact(say("nobody on record"), None)

    def _signed(self, person_id: int | None, unit_type_id: int, at: datetime, record: str) -> SignerFact:
        name = self._fleet.name(person_id)
        if person_id is None or name is None:
            return SignerFact(say("nobody on record"), None, record)
        day = self._fleet.day.of(at)
        papers = self._papers.get(person_id, ())
        return SignerFact(name, any(_good(each, unit_type_id) and _on(each, day) for each in papers), record)


def _good(paper: QualificationRecord, unit_type_id: int) -> bool:
    return paper.unit_type_id in (None, unit_type_id)


def _on(paper: QualificationRecord, day: date) -> bool:
    """Whether a paper was good on a day; seen later than the work it still says that the person held it."""
    return paper.valid_until is None or paper.valid_until >= day


def _end(test: BenchTestRecord) -> str | None:
    if test.supply_bar is None:
        return None
    if test.supply_bar >= FULL_SUPPLY_BAR:
        return LOCK_UP_ENDS[0]
    return LOCK_UP_ENDS[1] if test.supply_bar <= LOW_SUPPLY_BAR else None


def _passed(test: BenchTestRecord) -> bool | None:
    return _PASSED.get(test.result)


_PASSED = {"pass": True, "watch": True, "reject": False}


ALARMS_AFTER = ("head", "handset")
"""Slots whose change asks for alarms and displays to be tested again; common practice, no published source."""

WATCHED_MINUTES = 5.0
"""How long a set-point must be seen to hold on the bench; common practice, no published source."""


class TurnRoundSide:
    """Disinfection, floods, handsets, alarms, idleness and service of each unit of a fleet."""

    def __init__(self, fleet: Fleet) -> None:
        self._fleet, self._kept = fleet, fleet.records.turn
        self._of_units = {each.unit_id: each for each in self._kept.cleanings}
        self._of_sets = {each.part_id: each for each in self._kept.cleanings_of_sets}
        self._returns: dict[int, ReturnRecord] = {each.unit_id: each for each in fleet.records.returns}
        self._looks = fleet.once("looks", lambda: by_unit(self._kept.looks, lambda each: each.unit_id))
        self._tests = fleet.tests
        self._allowed = by_unit(self._kept.approved, lambda each: each.unit_type_id)
        self._cards = {each.unit_id: each for each in self._kept.open_cards}
        self.service_book = ServiceBook(self._kept.service, fleet.book.use, fleet.day)

    def open_card(self, unit_id: int) -> CardRecord | None:
        """The unit's card that is not finished."""
        return self._cards.get(unit_id)

    def finished_at(self, unit_id: int) -> datetime | None:
        """When the unit's last card was finished."""
        return self._kept.finished.get(unit_id)

    def flooded_at(self, unit_id: int) -> datetime | None:
        """When the unit was last found flooded."""
        return self._kept.floods.get(unit_id)

    # the loop

    def disinfection(self, unit: UnitRecord, at: datetime) -> DisinfectionFact:
        """The last disinfection against the last diver's return, and whether the loop is dry at a time.

        It travels with the loop set: one fitted since the unit came back brings its own, and its own last diver.
        """
        seat = next((each for each in self._fleet.seats(unit.unit_id) if each.slot.kind == "loop set"), None)
        cleaned, back = self._cleaning(unit.unit_id, seat), self._last_diver(unit.unit_id, seat)
        if cleaned is None:
            return DisinfectionFact(None, back, None)
        looked, dry = cleaned.looked_at, cleaned.found_dry
        if looked is None and cleaned.dry_at is not None:
            looked, dry = max(cleaned.dry_at, cleaned.at), True
        hours = drying_time(self._fleet.catalogue.limits, unit.unit_type_id)
        early = cleaned.sooner
        if early is None and looked is not None and why_not_dry_yet(cleaned.at, looked, hours) is not None:
            early = say(
                "found dry {total_seconds:.1f} h after the bath",
                total_seconds=(looked - cleaned.at).total_seconds() / 3600,
            )
        words = (
            say("{early}; {hours:g} h at the least ({source})", early=early, hours=hours.hours, source=hours.source)
            if early is not None
            else None
        )
        is_dry_then = is_dry(cleaned.at, looked, dry, at, hours)
        return DisinfectionFact(
            cleaned.at, last_diver_back_at=back, dry=is_dry_then, early=words, unrinsed_at=cleaned.unrinsed_at
        )

    def _cleaning(self, unit_id: int, seat: Seat | None) -> LoopCleaning | None:
        of_unit = self._of_units.get(unit_id)
        if seat is None or seat.part is None or seat.fitting is None:
            return of_unit
        of_set = self._of_sets.get(seat.part.part_id)
        counts = of_unit is not None and of_unit.at >= seat.fitting.fitted_at
        counts = counts and of_unit is not None and of_unit.part_id in (None, seat.part.part_id)
        known = [each for each in (of_set, of_unit if counts else None) if each is not None]
        return max(known, key=lambda each: each.at, default=None)

    def _last_diver(self, unit_id: int, seat: Seat | None) -> datetime | None:
        """The last return from a hire, or the last dive outside any, whichever is later.

        A dive whose start is not known counts at the latest it can have been.
        """
        of_unit = self._last_use(unit_id)
        if seat is None or seat.part is None or seat.fitting is None:
            return of_unit
        key = seat.part.part_id
        swapped_in = of_unit is not None and seat.fitting.fitted_at > of_unit
        known = (
            self._kept.returns_of_sets.get(key),
            self._kept.last_dives_of_sets.get(key),
            None if swapped_in else of_unit,
        )
        return max((each for each in known if each is not None), default=None)

    def _last_use(self, unit_id: int) -> datetime | None:
        back, dived = self._returns.get(unit_id), self._kept.last_dives.get(unit_id)
        known = (back.received_at if back is not None else None, dived)
        return max((each for each in known if each is not None), default=None)

    def flood(self, unit_id: int) -> FloodFact:
        """The last flood, and the full test that a finished card of a flood is."""
        return FloodFact(self._kept.floods.get(unit_id), self._kept.full_tests.get(unit_id))

    # handsets

    def firmware(self, unit: UnitRecord) -> FirmwareFact | None:
        """Firmware by handset, the type's list, and how handsets were left since the last diver; None without one."""
        seats = [each for each in self._fleet.seats(unit.unit_id) if each.slot.kind == "handset"]
        if not seats:
            return None
        since = self._last_use(unit.unit_id)
        looks = [each for each in self._looks.get(unit.unit_id, ()) if since is None or each.at > since]
        resets = [each.settings_reset for each in looks if each.settings_reset is not None]
        data = [each.previous_data for each in looks if each.previous_data is not None]
        # A unit that never went out carries no diver's data, and its settings are as they were delivered.
        fresh = since is None and not looks
        return FirmwareFact(
            tuple((seat.slot.name, seat.part.firmware if seat.part is not None else None) for seat in seats),
            tuple(each.version for each in self._allowed.get(unit.unit_type_id, ())),
            True if fresh else resets[-1] if resets else None,
            False if fresh else data[-1] != "cleared" if data else None,
        )

    def firmware_changes(self, unit_id: int) -> tuple[ChangeFact, ...]:
        """Changes of firmware of the handsets that sit in the unit, after which calibrations count from the start."""
        return tuple(
            ChangeFact(
                say("{name} got other firmware", name=seat.slot.name), self._kept.firmware_changes[seat.part.part_id]
            )
            for seat in self._fleet.seats(unit_id)
            if seat.part is not None and seat.part.part_id in self._kept.firmware_changes
        )

    def alarm_tests(self, unit_id: int) -> TestsFact | None:
        """Alarms and displays, and where a solenoid holds it the set-point, since a head or firmware change."""
        seats = self._fleet.seats(unit_id)
        kinds = {seat.slot.kind for seat in seats}
        if "handset" not in kinds:
            return None
        required = ("alarms", "set-point held") if "solenoid" in kinds else ("alarms",)
        changed = [
            *(seat.fitting.fitted_at for seat in seats if seat.slot.kind in ALARMS_AFTER and seat.fitting is not None),
            *(each.at for each in self.firmware_changes(unit_id)),
        ]
        done = tuple(_alarm_facts(self._tests.get(unit_id, ()), required))
        return TestsFact(required, done, max(changed, default=None))

    # use and service

    def idle(self, unit_id: int, at: datetime) -> IdleFact:
        """When the unit last was no idle one: its last run, return or finished turn-round; now where it is out.

        A turn-round is no use; it is named for what it is.
        """
        out = any(each.out_at is not None for each in self._fleet.promises.get(unit_id, ()))
        back = self._returns.get(unit_id)
        known = (
            (self._kept.finished.get(unit_id), say("last turned round")),
            (self._kept.last_runs.get(unit_id), say("last used")),
            (back.received_at if back is not None else None, say("last back from a hire")),
            (at if out else None, say("with a diver on")),
        )
        dated = [(when, what) for when, what in known if when is not None]
        last = max(dated, key=itemgetter(0), default=None)
        return IdleFact(None) if last is None else IdleFact(*last)

    def service(self, unit: UnitRecord) -> ServiceFact:
        """The critical tasks of the type's plan that come round by months or by use."""
        book = self.service_book
        return ServiceFact(
            book.service_life(unit.unit_id, unit.unit_type_id), book.not_counted(unit.unit_id, unit.unit_type_id)
        )


def _alarm_facts(tests: Iterable[BenchTestRecord], kinds: tuple[str, ...]) -> Iterator[TestFact]:
    passed = {"pass": True, "watch": True, "reject": False}
    for each in tests:
        if each.kind not in kinds:
            continue
        held = passed.get(each.result)
        too_short = each.watched_minutes is not None and each.watched_minutes < WATCHED_MINUTES
        if each.kind == "set-point held" and too_short:
            held = False if held is False else None
        yield TestFact(each.kind, each.at, held, say_ref("bench test {ref}", each.ref or each.test_id))

"""What readiness asks of the loop's disinfection, floods, handsets, alarms, idleness and service, of one unit."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from operator import itemgetter

from fleetbench.calc.core.languages import say, say_ref
from fleetbench.calc.readiness.judge import (
    ChangeFact,
    DisinfectionFact,
    FirmwareFact,
    FloodFact,
    IdleFact,
    ServiceFact,
    TestFact,
    TestsFact,
)
from fleetbench.calc.turn_rounds.card import drying_time, is_dry, why_not_dry_yet
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.turn_rounds.reads import CardRecord, LoopCleaning
from fleetbench.records.units.reads import ReturnRecord, UnitRecord
from fleetbench.workshop.tickets.service_plan import ServiceBook
from fleetbench.workshop.units.fleet import Fleet, Seat, by_unit

ALARMS_AFTER = ("head", "handset")
"""Slots whose change asks for alarms and displays to be tested anew; common practice, no published source."""

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
        """Changes of firmware of the handsets that sit in the unit, after which calibrations start anew."""
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

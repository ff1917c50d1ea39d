"""How many units are free and fit, held against counting unit by unit on small random fleets.

The recount knows only what was drawn: holds, absences, rejects, ends of life, hires out and promises, by the rules of
the trade that the program states (common practice, no published source).
"""

import random
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import pytest

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.units.tables import Absence, Hold
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.availability import read_availability
from fleetbench.workshop.hires.booking import look_ahead
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.hire_centre import HireCentre

UNITS, DAYS = 6, 12


@dataclass
class Drawn:
    """What was drawn of one unit, in days counted from today."""

    held: bool = False
    rejected: bool = False
    away_until: int | None = None
    last_good: int | None = None
    promised: list[tuple[int, int]] = field(default_factory=list)
    out_until: int | None = None

    def is_free(self, first: int, last: int) -> bool:
        """One night between two divers; an absence counts through the day that was promised, a late unit till today."""
        taken = [*self.promised]
        if self.out_until is not None:
            taken.append((-3, max(self.out_until, 0)))
        if self.away_until is not None:
            taken.append((0, self.away_until))
        return all(last < begins or first > ends for begins, ends in taken)

    def is_fit(self, first: int, last: int) -> bool:
        """No hold, no reject, no end of life before the last day, and not out with nobody knowing until when."""
        ends = self.last_good is not None and self.last_good < last
        late = self.out_until is not None and self.out_until < 0
        return not (self.held or self.rejected or ends or late)


def draw(dice: random.Random) -> Drawn:
    one = Drawn(held=dice.random() < 0.2, rejected=dice.random() < 0.2)
    if dice.random() < 0.25:
        one.last_good = dice.randrange(0, DAYS)
    fate = dice.random()
    if fate < 0.2:
        one.away_until = dice.randrange(0, 6)
    elif fate < 0.45:
        one.out_until = dice.randrange(-2, 5)
    at = 6 + dice.randrange(3)
    while at < DAYS and dice.random() < 0.5:
        one.promised.append((at, at + dice.randrange(2)))
        at += 3 + dice.randrange(3)
    return one


def write(act: Transaction, centre: HireCentre, tag: str, one: Drawn, number: int) -> None:
    unit = centre.units[tag]
    if one.held:
        act.add(Hold(unit_id=unit, kind="manual", reason="as drawn", placed_at=act.at, placed_by_id=centre.manager))
    if one.away_until is not None:
        act.add(Absence(unit_id=unit, why="as drawn", left_at=act.at, expected_on=centre.day(one.away_until)))
    if one.last_good is not None:
        battery = next(each for each in centre.rows(Part) if each.serial == f"BATT-L-{tag}")
        after = centre.day(one.last_good + 1)
        act.change(act.session.get(Part, battery.id), made_on=after.replace(year=after.year - 4))
    if one.rejected:
        cell = next(each for each in centre.rows(Part) if each.serial == f"C-{tag}-2")
        outcome = next(each for each in centre.rows(CalibrationOutcome) if each.part_id == cell.id)
        act.change(act.session.get(CalibrationOutcome, outcome.id), verdict="reject")
    spans = [*one.promised, *([(-3, one.out_until)] if one.out_until is not None else [])]
    for at, (first, last) in enumerate(spans):
        out = first < 0
        booking = act.add(
            Booking(kind="hire", code=f"D-{number}-{at}", unit_type_id=centre.keys.centre.unit_type,
                    starts_on=centre.day(first), ends_on=centre.day(last), renter_id=centre.keys.other)
        )  # fmt: skip
        act.add(
            BookingUnit(booking_id=booking.id, unit_id=unit, diver_id=centre.keys.other,
                        out_at=act.at - timedelta(days=3) if out else None, hand_over="kit" if out else None)
        )  # fmt: skip


def fleet(database: Database, clock: Any, seed: int) -> tuple[HireCentre, dict[str, Drawn]]:
    centre = HireCentre(Workplace(database, clock), clock, units=UNITS)
    centre.make_fit()
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(Booking, centre.rows(Booking)[0].id), cancelled_at=act.at)
    dice = random.Random(seed)
    drawn = {tag: draw(dice) for tag in centre.units}
    with centre.workplace.transaction("write", "test") as act:
        for number, (tag, one) in enumerate(drawn.items()):
            write(act, centre, tag, one, number)
    return centre, drawn


@pytest.mark.parametrize("seed", range(6))
def test_free_and_fit_units_are_those_of_counting_unit_by_unit(
    sqlite_database: Database, clock: Any, seed: int
) -> None:
    centre, drawn = fleet(sqlite_database, clock, seed)
    dice = random.Random(1000 + seed)
    for _ in range(12):
        first = dice.randrange(1, DAYS)
        last = first + dice.randrange(3)
        count = look_ahead(centre.workplace, "TYPE-L", centre.day(first), centre.day(last), wanted=UNITS).count
        free = [tag for tag, one in drawn.items() if one.is_free(first, last)]
        assert count is not None
        assert list(count.free) == free, (seed, first, last)
        assert list(count.fit) == [tag for tag in free if drawn[tag].is_fit(first, last)], (seed, first, last)
        assert {tag for tag in free if drawn[tag].held} == {tag for tag, (_, held) in count.unfit.items() if held}


def test_the_time_line_counts_a_unit_as_fit_on_the_days_on_which_the_hand_over_would_count_on_it(
    sqlite_database: Database, clock: Any
) -> None:
    centre, drawn = fleet(sqlite_database, clock, 99)
    shown = read_availability(centre.workplace, days_ahead=DAYS)
    for number in range(1, DAYS):
        on: date = centre.day(number)
        unfit = set()
        for tag in drawn:
            answer = assess_unit(centre.workplace, tag, on, on, HandoverKind.ASSEMBLED)
            if [check for check in answer.unfit if check.check != "return"]:
                unfit.add(tag)
        banded = {
            unit.tag
            for unit in shown.units
            if any(band.stops and band.first <= on <= band.last and "return:" not in band.why for band in unit.bands)
        }
        assert banded == unfit, number

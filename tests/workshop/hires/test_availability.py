"""Units by days from what is recorded: promises, what keeps a unit in and from when, counts, and moving a booking."""

from datetime import date
from typing import Any

import pytest

from fleetbench.calc.hires.availability import TOLD_ELSEWHERE, What
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Absence, Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.availability import (
    Availability,
    Move,
    UnitDays,
    move_promise,
    read_availability,
    what_stands_in_the_way,
)
from fleetbench.workshop.hires.booking import Booked, BookingEntry, book, conflicts
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.units.fleet import whole_fleet
from tests.centres.hire_centre import HireCentre
from tests.centres.ready_centre import counted


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """Three units fit to leave; LK-01 is promised on H-7 from today for three days."""
    made = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    made.make_fit()
    return made


def hire(centre: HireCentre, first: int, last: int, *units: str, **more: Any) -> Booked:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                         units=units, **{"renter_id": centre.keys.other, **more})  # fmt: skip
    return book(centre.workplace, entry)


def unit(shown: Availability, tag: str) -> UnitDays:
    return next(each for each in shown.units if each.tag == tag)


def counts(shown: Availability, code: str, number: int) -> tuple[int, int, int]:
    count = shown.of_type(code).days[(shown.today - shown.first).days + number]
    return count.promised, count.waiting, count.fit


def test_promises_lie_on_their_days_and_those_without_a_unit_apart(centre: HireCentre) -> None:
    hire(centre, 4, 5, "LK-02")
    hire(centre, 4, 6)
    shown = read_availability(centre.workplace)
    (seven,) = unit(shown, "LK-01").promises
    assert (seven.text, seven.what, seven.first, seven.state) == ("H-7", What.HIRE, centre.today, "to come")
    assert [each.text for each in unit(shown, "LK-02").promises] == ["H-2026-001"]
    (wanting,) = shown.of_type("TYPE-L").wanting
    assert (wanting.text, wanting.lacking) == ("H-2026-002", 1)
    assert [counts(shown, "TYPE-L", number)[0] for number in (3, 4, 5, 6, 7)] == [0, 2, 2, 1, 0]


def test_a_unit_that_is_late_is_taken_until_today(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(BookingUnit, centre.keys.line), out_at=act.at, hand_over="kit")
    centre.clock.advance(days=5)
    (strip,) = unit(read_availability(centre.workplace), "LK-01").promises
    assert (strip.state, strip.last) == ("late", centre.today)


def test_a_hold_an_absence_and_a_waiting_booking_are_told_with_their_days(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units["LK-02"], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
        act.add(Absence(unit_id=centre.units["LK-03"], why="yearly service", left_at=act.at,
                        expected_on=centre.day(4)))  # fmt: skip
    hire(centre, 1, 2, "LK-02", unfit=BookUnfit("the strap comes tomorrow", centre.manager, "2468"))
    hire(centre, 0, 2, wanted=2, when_full="wait")
    shown = read_availability(centre.workplace)
    hold = next(each for each in unit(shown, "LK-02").bands if each.what is What.HOLD)
    assert "strap torn" in hold.why
    assert (hold.first, hold.last, hold.stops) == (centre.today, date.max, True)
    away = next(each for each in unit(shown, "LK-03").bands if each.what is What.AWAY)
    assert (away.what, away.last) == (What.AWAY, centre.day(4))
    assert counts(shown, "TYPE-L", 1) == (2, 2, 1)
    assert shown.of_type("TYPE-L").days[14 + 1].short == 1
    assert counts(shown, "TYPE-L", 5)[2] == 2, "back in good time is a promise for the day after"


def test_an_expiry_makes_a_unit_unfit_from_the_day_after_its_last_good_day(centre: HireCentre) -> None:
    ends = centre.day(9)
    with centre.workplace.transaction("write", "test") as act:
        battery = next(each for each in centre.rows(Part) if each.serial == "BATT-L-LK-02")
        act.change(act.session.get(Part, battery.id), made_on=centre.day(10).replace(year=ends.year - 4))
    shown = read_availability(centre.workplace)
    (band,) = [each for each in unit(shown, "LK-02").bands if each.what is What.UNFIT and each.first < centre.day(60)]
    assert (band.first, band.record) == (centre.day(10), ("part", str(battery.id)))
    assert "battery" in band.why
    assert [counts(shown, "TYPE-L", number)[2] for number in (9, 10)] == [3, 2]


def test_the_day_from_which_a_unit_is_unfit_is_that_of_asking_readiness_day_by_day(centre: HireCentre) -> None:
    shown = read_availability(centre.workplace, days_ahead=120)
    readiness = Readiness(whole_fleet(centre.workplace))
    for each in readiness.fleet.records.units:
        unfit = renew = None
        for number in range(121):
            on = centre.day(number)
            answer = readiness.assess(each, Question(on, on, readiness.way(each.unit_id)))
            if unfit is None and {check.check for check in answer.unfit} - TOLD_ELSEWHERE:
                unfit = on
            if renew is None and [check for check in answer.stops if check.ordinary or check.check == "diver"]:
                renew = on
        line = unit(shown, each.tag)
        assert line.unfit_from == unfit
        assert (line.renew.day if line.renew else None) == renew
        assert unfit is not None or renew is not None


def test_as_many_statements_are_asked_for_many_bookings_as_for_few(centre: HireCentre) -> None:
    with counted(centre.workplace) as few:
        read_availability(centre.workplace)
    for number in range(6):
        hire(centre, 10 + 5 * number, 11 + 5 * number, "LK-02")
    with counted(centre.workplace) as many:
        read_availability(centre.workplace)
    assert len(few) == len(many)


def test_a_booking_moves_to_another_unit_and_other_days_in_one_act(centre: HireCentre) -> None:
    move = Move("H-7", "LK-01", "LK-03", centre.day(1), centre.day(4))
    assert what_stands_in_the_way(read_availability(centre.workplace), move).refused == ()
    move_promise(centre.workplace, move)
    shown = read_availability(centre.workplace)
    assert unit(shown, "LK-01").promises == ()
    (moved,) = unit(shown, "LK-03").promises
    assert (moved.first, moved.last) == (centre.day(1), centre.day(4))
    assert verify(centre.workplace.database).first_break is None


def test_a_booking_without_a_unit_is_given_one_by_a_move(centre: HireCentre) -> None:
    code = hire(centre, 4, 5).code
    move_promise(centre.workplace, Move(code, None, "LK-02", centre.day(4), centre.day(5)))
    shown = read_availability(centre.workplace)
    assert [each.text for each in unit(shown, "LK-02").promises] == [code]
    assert shown.of_type("TYPE-L").wanting == ()


MOVES = {
    "onto a promise": (lambda c: Move("H-7", "LK-01", "LK-02", c.day(3), c.day(4)), "is promised to H-2026-001"),
    "onto days that are over": (lambda c: Move("H-7", "LK-01", "LK-01", c.day(-4), c.day(-2)), "over"),
    "to what is not there": (lambda c: Move("H-7", "LK-01", "LK-77", c.day(0), c.day(2)), "LK-77"),
}


@pytest.mark.parametrize("name", MOVES)
def test_what_is_said_before_letting_go_is_refused_by_the_act_as_well(centre: HireCentre, name: str) -> None:
    hire(centre, 4, 6, "LK-02")
    make, said = MOVES[name]
    move = make(centre)
    (why, *_more) = what_stands_in_the_way(read_availability(centre.workplace), move).refused
    assert said in why
    with pytest.raises(Refused):
        move_promise(centre.workplace, move)
    assert centre.rows(Booking)[0].starts_on == centre.today


def test_the_conflict_said_is_the_desks_own(centre: HireCentre) -> None:
    hire(centre, 4, 6, "LK-02")
    with centre.workplace.transaction("write", "test") as act:
        act.add(Limit(name="turn-round nights", amount=2, unit="nights", source="invented", maker=False))
    shown = read_availability(centre.workplace)
    for first in range(9):
        for length in (0, 2):
            days = centre.day(first), centre.day(first + length)
            here = what_stands_in_the_way(shown, Move("H-7", "LK-01", "LK-02", *days)).refused
            there = conflicts(centre.workplace, "TYPE-L", *days, units=("LK-02",), code="H-7")
            assert bool(here) == bool(there), days


def test_a_unit_that_is_out_only_moves_its_last_day(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(BookingUnit, centre.keys.line), out_at=act.at, hand_over="kit")
    shown = read_availability(centre.workplace)
    other = Move("H-7", "LK-01", "LK-02", centre.today, centre.day(2))
    assert what_stands_in_the_way(shown, other).refused == ("H-7 is out: only its last day can move",)
    with pytest.raises(Refused, match="is out on H-7"):
        move_promise(centre.workplace, other)
    move_promise(centre.workplace, Move("H-7", "LK-01", "LK-01", centre.today, centre.day(5)))
    assert centre.rows(Booking)[0].ends_on == centre.day(5)

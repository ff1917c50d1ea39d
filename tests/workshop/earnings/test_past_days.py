"""Past days are judged as they were judged when they were today, whatever was recorded afterwards.

A centre goes through three weeks; each noon its units are judged live, by the same answer that the hire desk gets, and
the days looked back on at the end must say the same.
"""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from sqlalchemy import DateTime, func, select

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.earnings.days import DayState, Keep, OwnFigures
from fleetbench.calc.readiness.judge import OF_THE_DIVER, Moment
from fleetbench.calc.readiness.limits import USUAL_WAY
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.earnings.reads import BORN, ENDS, LEFT_OUT, UNTIMED
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.places.tables import Limit
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.earnings.report import EarningsReport, earnings, set_own_figures
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.hires.edit import cancel_booking
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.places.setting_up import bring_back, send_away
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.units.holds import lift_hold, place_hold
from tests.centres.hire_centre import HireCentre
from tests.centres.kept_centres import kept

DAYS = 21


class Told:
    """A centre, its first day, and how each unit stood at each noon."""

    @kept
    def __init__(self, workplace: Workplace, clock: Any) -> None:
        """Three weeks: a hold, a hire, a cell rejected and replaced, a unit away, a slot that stood empty."""
        self.centre, self.clock = HireCentre(workplace, clock, units=3), clock
        self.first, self.seen = self.centre.today, dict[tuple[str, date], DayState]()
        self.promised: set[tuple[str, date]] = set()
        cancel_booking(self.workplace, "H-7", "not wanted")
        self.hold = 0
        for number in range(DAYS):
            self.noon(number)
            clock.advance(hours=3)
            happens(self, number)

    @property
    def workplace(self) -> Workplace:
        return self.centre.workplace

    def noon(self, number: int) -> None:
        """Move to the noon of a day counted from the first, and see how the units stand."""
        on = self.first + timedelta(days=number)
        self.clock.now = datetime.combine(on, time(12), tzinfo=self.workplace.zone())
        for tag in self.centre.units:
            self.seen[tag, on] = self._state(tag, on)

    def _state(self, tag: str, on: date) -> DayState:
        answer = assess_unit(self.workplace, tag, on, on, USUAL_WAY)
        stops = [each for each in answer.checks if each.result is Result.STOP and each.check not in OF_THE_DIVER]
        if any(each.check == "return" for each in stops):
            return DayState.OUT
        if any(not each.ordinary and not each.evidence.startswith("received") for each in stops):
            return DayState.LOST
        due = (tag, on) in self.promised
        waiting = [each for each in stops if due or each.moment is not Moment.HAND_OVER]
        return DayState.WORK if waiting else DayState.FIT

    def report(self) -> EarningsReport:
        return earnings(self.workplace, self.first, self.first + timedelta(days=DAYS - 1))

    def cell(self, tag: str, number: int) -> int:
        return next(each.id for each in self.centre.rows(Part) if each.serial == f"C-{tag}-{number}")


@pytest.fixture
def told(sqlite_database: Database, clock: Any) -> Told:
    """The centre after its three weeks."""
    return Told(Workplace(sqlite_database, clock), clock)


def happens(told: Told, number: int) -> None:
    """What is recorded in the afternoon of a day counted from the first."""
    centre, workplace = told.centre, told.workplace
    if number == 0:
        centre.make_fit()
    if number == 2:
        told.hold = place_hold(workplace, "LK-01", "smells of caustic")
    if number == 5:
        lift_hold(workplace, told.hold, "washed; the smell is gone")
    if number == 6:
        entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(1), last=centre.day(4),
                             units=("LK-02",), renter_id=centre.keys.renter)  # fmt: skip
        book(workplace, entry)
        told.promised |= {("LK-02", centre.day(step)) for step in (1, 2, 3, 4)}
    if number == 7:
        (line,) = [each.id for each in centre.rows(BookingUnit) if each.out_at is None and not each.taken_off_at
                   and each.unit_id == centre.units["LK-02"]]  # fmt: skip
        with workplace.transaction("write", "test") as act:
            act.change(act.session.get(BookingUnit, line), out_at=act.at, hand_over="kit")
    if number == 8:
        spoil(told, "LK-03", 2)
    if number == 10:
        receive(workplace, "LK-02", wet=True, flooded=False, fault=False)
    if number == 12:
        centre.make_fit("LK-03")
    if number == 13:
        send_away(workplace, centre.units["LK-01"], None, "yearly service", centre.day(5))
    if number == 16:
        bring_back(workplace, centre.units["LK-01"])
    if number == 17:
        empty_slot(told)


def spoil(story: Told, tag: str, number: int) -> None:
    """A calibration of now rejects one cell."""
    story.centre.make_fit(tag)
    with story.workplace.transaction("write", "test") as act:
        query = select(func.max(CalibrationOutcome.id)).where(CalibrationOutcome.part_id == story.cell(tag, number))
        newest = act.session.get(CalibrationOutcome, act.session.scalar(query))
        act.change(newest, verdict="reject")


def empty_slot(story: Told) -> None:
    """A cell is taken out of LK-03 and nothing put in its place."""
    with story.workplace.transaction("write", "test") as act:
        fitting = act.session.scalar(
            select(Fitting).where(Fitting.part_id == story.cell("LK-03", 1), Fitting.removed_at.is_(None))
        )
        act.change(fitting, removed_at=act.at, why_removed="fault")


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_each_past_day_is_what_it_was_when_it_was_today(request: pytest.FixtureRequest, clock: Any, kind: str) -> None:
    database = request.getfixturevalue("sqlite_database" if kind == "sqlite" else "server_database")
    told = Told(Workplace(database, clock), clock)
    report = told.report()
    later = {(each.unit, each.day): each.state for each in report.unit_days}
    live = dict(told.seen)
    # The day of the return and the day of leaving count as out, though at noon the unit was still or again here.
    left = told.first + timedelta(days=7)
    assert later.pop(("LK-02", left)) is DayState.OUT
    live.pop(("LK-02", left))
    # Before anything was tested nothing recorded says whether a unit was right.
    for tag in told.centre.units:
        assert later.pop((tag, told.first)) is DayState.UNKNOWN
        live.pop((tag, told.first))
    assert later == live
    assert {DayState.OUT, DayState.LOST, DayState.WORK, DayState.FIT} <= set(live.values())


def test_causes_savings_and_promises_are_those_of_the_story(told: Told) -> None:
    report = told.report()
    causes = {each.what: each for each in report.causes}
    assert causes["manual hold"].days == 3  # noons of the third to the fifth day
    assert causes["away"].days == 3
    cell = next(each for each in report.causes if each.what.startswith("cell outcome: "))
    assert (cell.days, cell.units) == (4, 1)
    assert causes["cell outcome: no cell fitted"].days == 3
    assert (causes["cell outcome"].days, causes["cell outcome"].unknown) == (0, 3)
    assert (causes["turn-round to do"].days, causes["turn-round to do"].units) == (10, 1)
    saved = next(each for each in report.savings if each.what == cell.what)
    assert saved.times == (("LK-03", told.first + timedelta(days=9)),)
    unit = next(each for each in report.units if each.name == "LK-02")
    assert (unit.days[DayState.OUT], unit.promised, unit.kept) == (4, 4, 4)


def test_minutes_and_parts_are_counted_once_on_their_day_and_prices_are_those_on_record(told: Told) -> None:
    workplace, centre = told.workplace, told.centre
    signed = told.first + timedelta(days=15)
    with workplace.transaction("write", "test") as act:
        at = datetime.combine(signed, time(9), tzinfo=workplace.zone())
        for number, minutes, when in ((901, 45.0, at), (902, 0.0, at), (903, 30.0, at - timedelta(days=40))):
            act.add(Ticket(year=2026, number=number, unit_id=centre.units["LK-01"], cause="by hand", reason="look",
                           critical=False, opened_at=when - timedelta(days=1), opened_by_id=centre.manager,
                           minutes=minutes, signed_at=when, signed_by_id=centre.manager))  # fmt: skip
        old = act.session.get(Part, told.cell("LK-03", 1))
        slot = act.session.scalar(select(Fitting.slot_id).where(Fitting.part_id == old.id))
        host = act.session.scalar(select(Fitting.host_part_id).where(Fitting.part_id == old.id))
        unit = act.session.scalar(select(Fitting.unit_id).where(Fitting.part_id == old.id))
        for serial, price in (("NEW-1", 61.5), ("NEW-2", None)):
            part = act.add(Part(part_type_id=old.part_type_id, serial=serial, owner_id=old.owner_id, state="stock",
                                price=price))  # fmt: skip
            fitted = act.at - timedelta(hours=2 if serial == "NEW-1" else 1)
            gone = act.at - timedelta(hours=1) if serial == "NEW-1" else None
            act.add(Fitting(part_id=part.id, slot_id=slot, unit_id=unit, host_part_id=host, fitted_at=fitted,
                            removed_at=gone, why_removed="fault" if gone else None))  # fmt: skip
        act.change(act.session.get(PartType, old.part_type_id), price=None)
    by_name = {each.name: each.spent for each in told.report().units}
    assert (by_name["LK-01"].bench_minutes, by_name["LK-01"].tickets, by_name["LK-01"].untimed) == (45.0, 2, 1)
    assert (by_name["LK-03"].priced, by_name["LK-03"].unpriced, by_name["LK-03"].money) == (1, 1, 61.5)


def test_the_centres_figures_are_stated_by_a_manager_and_corrected_and_the_verdict_follows(told: Told) -> None:
    figures = OwnFigures(price=4000.0, years=5.0, a_day=60.0)
    with pytest.raises(Refused, match="not for the role"):
        set_own_figures(told.workplace, "TYPE-L", figures)
    manager = told.workplace.as_person(told.centre.manager)
    set_own_figures(manager, "TYPE-L", figures)
    set_own_figures(manager, "TYPE-L", OwnFigures(price=4400.0))
    for wrong in (OwnFigures(), OwnFigures(years=0.0), OwnFigures(price=-1.0)):
        with pytest.raises(Refused, match="enter"):
            set_own_figures(manager, "TYPE-L", wrong)
    report = told.report()
    assert list(report.own.values()) == [OwnFigures(4400.0, 5.0, 60.0)]
    assert {each.keep for each in report.keep.values()} == {Keep.NOT_KNOWN}  # three weeks say nothing of a year
    stated = [each for each in told.centre.rows(Limit) if each.name.startswith(("another unit", "hire day"))]
    assert len(stated) == 3
    assert verify(told.workplace.database).whole


def test_a_span_that_cannot_be_judged_is_refused_and_the_work_can_be_called_off(told: Told) -> None:
    today = told.centre.today
    for first, last, words in (
        (today, today - timedelta(days=1), "before"),
        (today + timedelta(days=1), today + timedelta(days=2), "still to come"),
        (today - timedelta(days=1200), today, "three years"),
    ):
        with pytest.raises(Refused, match=words):
            earnings(told.workplace, first, last)

    class EndedError(Exception):
        pass

    def ends(share: float, _words: str) -> None:
        if share > 0.5:
            raise EndedError

    with pytest.raises(EndedError):
        earnings(told.workplace, told.first, today, ends)


def test_every_moment_of_a_table_is_known_as_a_beginning_an_end_or_neither() -> None:
    left = [
        (table.name, column.name)
        for table in metadata.sorted_tables
        if table.name not in LEFT_OUT
        for column in table.columns
        if isinstance(getattr(column.type, "impl", column.type), DateTime)
        and column.name != "at"
        and column.name != BORN.get(table.name)
        and column.name not in ENDS.get(table.name, {})
        and (table.name, column.name) not in UNTIMED
    ]
    assert left == []

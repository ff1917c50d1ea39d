"""Every booking judged again as things stand: what happens to a unit shows on its bookings at the next look."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from fleetbench.calc.hires.availability import CountedOn, Span
from fleetbench.calc.hires.promises import Keeping
from fleetbench.calc.notices.scope import Covered, Covers, NoticeFacts
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingUnit, HireNote
from fleetbench.records.parts.tables import Fitting, Part, PartTypeLife
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.units.tables import Hold, Unit, UnitType
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import BookingEntry, Promises, book
from fleetbench.workshop.hires.edit import extend_hire
from fleetbench.workshop.hires.handover import Handing, hand_over, leaving_units
from fleetbench.workshop.hires.list import hire_lines
from fleetbench.workshop.hires.promises import PromiseLine, judged_promises, to_ring
from fleetbench.workshop.hires.receive import Swapping, swap_unit
from fleetbench.workshop.hires.sell import NearDays
from fleetbench.workshop.notices.acts import record_notice
from fleetbench.workshop.people.list import person_id
from fleetbench.workshop.units.fleet import whole_fleet
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """Three units fit to leave; H-7 on LK-01 from today, and a hire of LK-02 six days on."""
    made = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    made.make_fit()
    asks = BookingEntry(kind="hire", unit_type="TYPE-L", first=made.day(6), last=made.day(7), units=("LK-02",),
                        renter_id=made.keys.other, way="kit")  # fmt: skip
    book(made.workplace, asks)
    with made.workplace.transaction("write", "test") as act:
        private = next(each for each in made.rows(PersonPrivate) if each.person_id == made.keys.other)
        act.change(act.session.get(PersonPrivate, private.id), contact="telephone 55 01")
    return made


def hire(centre: HireCentre) -> PromiseLine:
    return next(each for code, each in judged_promises(centre.workplace).items() if code != "H-7")


def hold(centre: HireCentre, tag: str) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units[tag], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip


def test_a_hold_puts_a_promise_at_risk_and_with_no_spare_unit_it_is_not_to_be_kept(centre: HireCentre) -> None:
    assert hire(centre).state is Keeping.FIT
    hold(centre, "LK-02")
    line = hire(centre)
    assert (line.state, line.judgement.instead) == (Keeping.AT_RISK, (("LK-02", "LK-01"),))
    assert "strap torn" in line.words
    assert line.offer == "LK-01 in place of LK-02"
    hold(centre, "LK-01")
    hold(centre, "LK-03")
    line = hire(centre)
    assert line.state is Keeping.NOT_KEPT
    (ringing,) = [each for each in to_ring(tuple(judged_promises(centre.workplace).values()), centre.today)
                  if each.booking.code == line.booking.code]  # fmt: skip
    assert ringing.who.endswith("telephone 55 01")
    assert ringing.offer.startswith("nothing of the centre's own")


def test_no_days_are_offered_because_a_unit_of_another_type_is_fit_on_them(centre: HireCentre) -> None:
    """Of each type one unit is free: that of the first type is fit, and that of the other was never looked at."""
    for tag in ("LK-02", "LK-03"):
        hold(centre, tag)
    days = {"starts_on": centre.day(6), "ends_on": centre.day(7), "kind": "hire", "units_wanted": 1}
    with centre.workplace.transaction("write", "test") as act:
        own = act.get(Unit, centre.units["LK-01"], "unit")
        other = act.add(UnitType(code="TYPE-M", name="Another", build="back-mounted", manual="invented"))
        unit = act.add(Unit(tag="MK-01", unit_type_id=other.id, owner_id=own.owner_id))
        for code, kind, unit_id in (("H-A", own.unit_type_id, own.id), ("H-M", other.id, unit.id)):
            made = act.add(Booking(code=code, unit_type_id=kind, renter_id=centre.keys.other, **days))
            act.add(BookingUnit(booking_id=made.id, unit_id=unit_id, diver_id=centre.keys.other))
    found = judged_promises(centre.workplace)
    assert f"{centre.day(4)} to {centre.day(5)}" in hire(centre).offer
    assert found["H-M"].state is Keeping.NOT_KEPT
    assert found["H-M"].offer.startswith("nothing of the centre's own")


def test_near_days_are_the_same_whatever_was_asked_before_and_what_is_given_meanwhile(
    sample_workplace: Workplace,
) -> None:
    fleet = whole_fleet(sample_workplace)
    today, found = fleet.day.today, set[int]()
    with sample_workplace.database.read_session() as session:
        promises = Promises(session, today, day=fleet.day, fleet=fleet)
    assert promises.fit is not None
    for kind in {each.unit_type_id for each in promises.units.values()}:
        kept = NearDays(promises, kind, promises.fit.fits, CountedOn(promises.fit.stays_unfit))
        for at in (1, 1, 4, 9, 5, 20, 3):
            span = Span(today + timedelta(at), today + timedelta(at + at % 3), "asked")
            for wanted in (1, 3):
                days = kept.of(span, wanted)
                assert days == NearDays(promises, kind, promises.fit.fits).of(span, wanted)
                found.add(len(days))
            for tag in promises.diaries(kind, (span,)).spare(span, at % 2, promises.fit.fits, CountedOn()):
                promises.give(tag, span)
    assert {0, 3} <= found


def test_a_rejected_cell_is_at_risk_until_the_day_before_it_leaves(centre: HireCentre) -> None:
    cell = next(each for each in centre.rows(Part) if each.serial == "C-LK-02-2")
    outcome = next(each for each in centre.rows(CalibrationOutcome) if each.part_id == cell.id)
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(CalibrationOutcome, outcome.id), verdict="reject")
    line = hire(centre)
    assert (line.state, line.judgement.until) == (Keeping.AT_RISK, centre.day(5))
    assert line.judgement.instead == ()


def test_part_of_a_course_leaves_and_the_rest_waits_with_its_reason(centre: HireCentre) -> None:
    asks = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.today, last=centre.day(1),
                        units=("LK-02", "LK-03"), renter_id=centre.keys.other, divers=(centre.keys.other,),
                        way="not for diving")  # fmt: skip
    code = book(centre.workplace, asks).code
    (line,) = hand_over(centre.workplace, code, [Handing(unit="LK-02", kind="not for diving")],
                        waiting=[("LK-03", "mouthpiece is in the bath")])  # fmt: skip
    assert [each.unit for each in leaving_units(centre.workplace, code)] == ["LK-03"]
    notes = {each.line.unit: each.note for each in hire_lines(centre.workplace, code)}
    assert notes == {"LK-02": None, "LK-03": "Waits: mouthpiece is in the bath"}
    assert [each.booking_unit_id == line for each in centre.rows(HireNote)] == [False]


def test_a_name_is_found_whatever_its_case_and_accents(centre: HireCentre) -> None:
    key = centre.person("R77", "renter", "Søren  Ąžuolvit")
    assert person_id(centre.workplace, "soren azuolvit") == key


def recalled(centre: HireCentre) -> None:
    """A notice that covers a cell of LK-02 by its serial, with the holds in the same act."""
    notice = NoticeFacts(number="N-1", issued_on=centre.today, title="Recall", text="may crack", action="take it apart")
    record_notice(centre.workplace, notice, (Covered(Covers.SERIALS, "C-LK-02-1"),), hold=True)


def expires(centre: HireCentre) -> None:
    """A limit of life is corrected, by which the battery of LK-02 ends before the hire does."""
    battery = next(each for each in centre.rows(Part) if each.serial == "BATT-L-LK-02")
    fitted = next(each for each in centre.rows(Fitting) if each.part_id == battery.id and each.removed_at is None)
    days = (centre.clock() - fitted.fitted_at).days + 6
    with centre.workplace.transaction("write", "test") as act:
        for tag in ("LK-01", "LK-03"):  # the others got theirs today
            other = next(each for each in centre.rows(Part) if each.serial == f"BATT-L-{tag}")
            row = next(each for each in centre.rows(Fitting) if each.part_id == other.id and each.removed_at is None)
            act.change(act.session.get(Fitting, row.id), fitted_at=act.at)
        act.add(PartTypeLife(part_type_id=battery.part_type_id, basis="fitted", amount=days, unit="days", source="m"))


def late(centre: HireCentre) -> None:
    """LK-02 left on a hire that ends the day before this one begins, and is not back on that day."""
    asks = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.today, last=centre.day(4), units=("LK-02",),
                        renter_id=centre.keys.renter, way="kit")  # fmt: skip
    code = book(centre.workplace, asks).code
    booking = next(each for each in centre.rows(Booking) if each.code == code)
    line = next(each for each in centre.rows(BookingUnit) if each.booking_id == booking.id)
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(BookingUnit, line.id), out_at=act.at, hand_over="kit")
    assert hire(centre).state is Keeping.FIT, "back in good time is a promise that stands until it is late"
    centre.clock.advance(hours=24 * 6)


@pytest.mark.parametrize("happens", [recalled, expires, late])
def test_a_recall_a_changed_limit_and_a_late_return_show_on_the_promise_at_once(
    centre: HireCentre, happens: Callable[[HireCentre], None]
) -> None:
    assert hire(centre).state is Keeping.FIT
    happens(centre)
    line = hire(centre)
    assert line.state is not Keeping.FIT and line.why[0].startswith("LK-02: "), line


def extended(centre: HireCentre) -> Keeping:
    """H-7 keeps LK-01, the only unit that could go instead of LK-02, through the days of the other hire."""
    hold(centre, "LK-03")
    assert hire(centre).judgement.instead == (("LK-02", "LK-01"),)
    extend_hire(centre.workplace, "H-7", centre.day(6))
    return Keeping.NOT_KEPT


def swapped(centre: HireCentre) -> Keeping:
    """LK-01, which could have gone instead of LK-02, fails with its diver, who is given LK-03."""
    assert hire(centre).judgement.instead == (("LK-02", "LK-01"),)
    swap_unit(centre.workplace, Swapping(failed="LK-01", instead="LK-03", reason="cell 2 low", kind="not for diving"))
    return Keeping.AT_RISK


@pytest.mark.parametrize("happens", [extended, swapped])
def test_an_extension_and_a_swap_of_one_booking_judge_another_again(
    centre: HireCentre, happens: Callable[[HireCentre], Keeping]
) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.change(act.session.get(BookingUnit, centre.keys.line), out_at=act.at, hand_over="kit")
    hold(centre, "LK-02")
    state = happens(centre)
    line = hire(centre)
    assert line.state is state
    assert ("LK-02", "LK-01") not in line.judgement.instead, "LK-01 is not to be had any more"

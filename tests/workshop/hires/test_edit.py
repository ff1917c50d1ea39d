"""Bookings that change after they were made: edited, a unit taken off, cancelled, not collected, and brought back."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from fleetbench.calc.hires.promises import HireState
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingUnit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import Booked, BookingEntry, book, conflicts
from fleetbench.workshop.hires.edit import cancel_booking, edit_booking, entry_of, restore_booking, take_unit_off
from fleetbench.workshop.hires.handover import leaving_units
from fleetbench.workshop.hires.list import list_bookings, one_booking
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> HireCentre:
    """Two units; LK-01 is promised on H-7 from today for three days."""
    made = HireCentre(workplace, clock)
    made.make_fit()
    return made


def hire(centre: HireCentre, first: int, last: int, *units: str, **more: Any) -> Booked:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                         units=units, **{"renter_id": centre.keys.other, **more})  # fmt: skip
    return book(centre.workplace, entry)


def test_what_a_booking_says_is_edited_and_nothing_else_of_it(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01", planned_minutes=60.0).code
    entry, codes = entry_of(centre.workplace, code)
    assert (entry.units, entry.planned_minutes, codes[centre.keys.other]) == (("LK-01",), 60.0, "R2")
    edited = edit_booking(
        centre.workplace, code, replace(entry, planned_minutes=90.0, planned_depth_m=18.0, altitude_m=700)
    )
    assert edited.changed == ("loop minutes", "depth", "altitude of the dive site")
    after, _codes = entry_of(centre.workplace, code)
    assert after == replace(entry, planned_minutes=90.0, planned_depth_m=18.0, altitude_m=700)
    assert verify(centre.workplace.database).first_break is None


def test_two_desks_edit_one_booking_and_nothing_typed_is_lost(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01", planned_minutes=60.0).code
    seen, _codes = entry_of(centre.workplace, code)
    theirs = replace(seen, planned_minutes=90.0, price_terms="half price")
    assert edit_booking(centre.workplace, code, theirs, seen).changed == ("loop minutes", "price terms")
    mine = replace(seen, planned_minutes=45.0, planned_depth_m=12.0)
    with pytest.raises(Clash, match=f"^booking {code}: loop minutes: 90.0 by another desk, 45.0 here. Save") as clash:
        edit_booking(centre.workplace, code, mine, seen)
    assert entry_of(centre.workplace, code)[0] == theirs
    assert edit_booking(centre.workplace, code, mine, replace(seen, **clash.value.now)).changed == (
        "loop minutes",
        "depth",
    )
    assert entry_of(centre.workplace, code)[0] == replace(mine, price_terms="half price")


def test_divers_that_two_desks_changed_are_told_by_their_codes(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01").code
    seen, _codes = entry_of(centre.workplace, code)
    edit_booking(centre.workplace, code, replace(seen, divers=(centre.keys.renter,)), seen)
    both = replace(seen, divers=(centre.keys.other, centre.keys.renter))
    with pytest.raises(Clash, match="divers: R1 by another desk, R2, R1 here"):
        edit_booking(centre.workplace, code, both, seen)


def test_an_edited_course_keeps_what_its_instructor_stated(centre: HireCentre) -> None:
    stated = (centre.day(-20), centre.day(-30))
    code = book(centre.workplace, BookingEntry(
        kind="course", unit_type="TYPE-L", first=centre.day(9), last=centre.day(10), instructor_id=centre.instructor,
        divers=(centre.keys.other,), spares=0, harnesses=("M", "L"), last_dives=stated,
    )).code  # fmt: skip
    entry, _codes = entry_of(centre.workplace, code)
    assert edit_booking(centre.workplace, code, replace(entry, planned_minutes=40.0)).changed == ("loop minutes",)
    with pytest.raises(Refused, match="nothing is changed"):
        edit_booking(centre.workplace, code, replace(entry, planned_minutes=40.0))
    mine = [each for each in centre.rows(BookingDiver) if each.left_at is None][-2:]
    assert [(each.person_id, each.harness, each.last_dive_on) for each in mine] == [
        (centre.keys.other, "M", stated[0]), (centre.instructor, "L", stated[1]),
    ]  # fmt: skip


def test_another_diver_gets_the_unit_of_the_one_who_left(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01").code
    entry, _codes = entry_of(centre.workplace, code)
    edit_booking(centre.workplace, code, replace(entry, divers=(centre.keys.renter,)))
    line = centre.rows(BookingUnit)[-1]
    assert line.diver_id == centre.keys.renter
    assert [(each.person_id, each.left_at is None) for each in centre.rows(BookingDiver)[-2:]] == [
        (centre.keys.other, False), (centre.keys.renter, True),
    ]  # fmt: skip


def test_an_edit_is_judged_as_a_booking_is(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01").code
    entry, _codes = entry_of(centre.workplace, code)
    with pytest.raises(Refused, match="unit LK-01: is promised to H-7"):
        edit_booking(centre.workplace, code, replace(entry, first=centre.day(2)))
    with pytest.raises(Refused, match="3 wanted"):
        edit_booking(centre.workplace, code, replace(entry, wanted=3))
    with pytest.raises(Refused, match="nothing is changed"):
        edit_booking(centre.workplace, code, entry)
    with pytest.raises(Refused, match="cancel the booking and book again"):
        edit_booking(centre.workplace, code, replace(entry, kind="try day"))
    assert one_booking(centre.workplace, code).booking.starts_on == centre.day(3)


def test_a_unit_taken_off_is_free_and_asked_for_no_more(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01", "LK-02", wanted=2).code
    take_unit_off(centre.workplace, code, "LK-01", "the student fell ill")
    assert one_booking(centre.workplace, code).units == ("LK-02",)
    assert [each.unit for each in leaving_units(centre.workplace, code)] == ["LK-02"]
    assert "1 wanted" in conflicts(centre.workplace, "TYPE-L", centre.day(3), centre.day(5), units=("LK-01",))[0]
    entry, _codes = entry_of(centre.workplace, code)
    edit_booking(centre.workplace, code, replace(entry, wanted=1))
    assert conflicts(centre.workplace, "TYPE-L", centre.day(3), centre.day(5), units=("LK-01",)) == ()
    with pytest.raises(Refused, match="is not on booking"):
        take_unit_off(centre.workplace, code, "LK-01", "again")
    assert verify(centre.workplace.database).first_break is None


def test_a_booking_ends_with_a_reason_and_is_brought_back_while_its_units_are_free(centre: HireCentre) -> None:
    code = hire(centre, 3, 5, "LK-01").code
    with pytest.raises(Refused, match="reason: is empty"):
        cancel_booking(centre.workplace, code, "  ")
    cancel_booking(centre.workplace, code, "storm")
    assert (one_booking(centre.workplace, code).state, one_booking(centre.workplace, code).booking.ended_for) == (
        "cancelled",
        "storm",
    )
    restore_booking(centre.workplace, code)
    assert (one_booking(centre.workplace, code).state, one_booking(centre.workplace, code).units) == (
        "to come",
        ("LK-01",),
    )
    cancel_booking(centre.workplace, code, "storm after all")
    hire(centre, 4, 4, "LK-01")
    with pytest.raises(Refused, match="unit LK-01: is promised to H-2026-002"):
        restore_booking(centre.workplace, code)
    assert one_booking(centre.workplace, code).state == "cancelled"


def test_a_no_show_is_one_and_a_booking_nobody_collected_is_not_back(centre: HireCentre, clock: Any) -> None:
    code = hire(centre, 3, 4, "LK-02").code
    with pytest.raises(Refused, match="begins on"):
        cancel_booking(centre.workplace, code, "did not come", ended_as=HireState.NO_SHOW)
    clock.now += timedelta(days=5)
    assert one_booking(centre.workplace, code).state == "not collected"
    cancel_booking(centre.workplace, code, "did not come", ended_as=HireState.NO_SHOW)
    assert one_booking(centre.workplace, code).state == "no-show"
    assert code in [each.booking.code for each in list_bookings(centre.workplace, past=True)]


def test_what_left_is_not_taken_off_nor_given_another_diver(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        line = act.session.get(BookingUnit, centre.rows(BookingUnit)[0].id)
        assert line is not None
        act.change(line, out_at=act.at)
    with pytest.raises(Refused, match="unit LK-01: has left on booking H-7"):
        take_unit_off(centre.workplace, "H-7", "LK-01", "changed my mind")
    entry, _codes = entry_of(centre.workplace, "H-7")
    for changed in (replace(entry, divers=(centre.keys.other,)), replace(entry, first=centre.day(1)),
                    replace(entry, last=centre.day(4))):  # fmt: skip
        with pytest.raises(Refused, match=r"out"):
            edit_booking(centre.workplace, "H-7", changed)
    assert len(centre.rows(Booking)) == 1

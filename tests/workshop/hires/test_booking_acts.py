"""Bookings: what overlaps or is too much is refused or waits by choice, and the turn-round is kept free."""

from typing import Any

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingTerms, BookingUnit
from fleetbench.records.places.tables import Limit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.booking import (
    BookingEntry,
    book,
    cancel_booking,
    conflicts,
    move_booking,
    put_unit_on,
    take_off_waiting,
)
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(shop: Shop, clock: Any) -> HireCentre:
    """Two units; LK-01 is promised on H-7 from today for three days."""
    return HireCentre(shop, clock)


def hire(centre: HireCentre, first: int, last: int, *units: str, **more: Any) -> Any:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                         units=units, **{"renter_id": centre.keys.other, **more})  # fmt: skip
    return book(centre.shop, entry)


def test_a_hire_is_booked_with_its_unit_and_diver(centre: HireCentre) -> None:
    booked = hire(centre, 3, 5, "LK-01", planned_minutes=90.0)
    assert (booked.code, booked.units, booked.waiting) == ("H-2026-001", ("LK-01",), False)
    line = centre.rows(BookingUnit)[-1]
    assert (line.diver_id, line.out_at) == (centre.keys.other, None)
    assert verify(centre.shop.database).first_break is None


def test_a_unit_that_is_promised_is_refused_by_name_and_days(centre: HireCentre) -> None:
    with pytest.raises(Refused, match=r"unit LK-01: is promised to H-7 from 2026-05-04 to 2026-05-06; choose other"):
        hire(centre, 2, 5, "LK-01")
    assert len(centre.rows(Booking)) == 1


def test_the_last_free_unit_is_not_promised_twice_though_nobody_chose_it(centre: HireCentre) -> None:
    hire(centre, 1, 2)
    with pytest.raises(Refused, match=r"units: 1 wanted from 2026-05-05 to 2026-05-05, 1 free; H-2026-001 would be"):
        hire(centre, 1, 1, "LK-02")
    with pytest.raises(Refused, match="units: 1 wanted"):
        hire(centre, 2, 4)


def test_what_is_too_much_waits_by_choice_and_leaves_the_line_when_a_unit_is_free(centre: HireCentre) -> None:
    first = hire(centre, 1, 2, "LK-02")
    waits = hire(centre, 1, 2, when_full="wait")
    assert waits.waiting
    assert "0 free" in waits.why_waiting
    with pytest.raises(Refused, match="stays on the waiting line"):
        take_off_waiting(centre.shop, waits.code)
    assert cancel_booking(centre.shop, first.code) == (waits.code,)
    take_off_waiting(centre.shop, waits.code)
    assert [row.waiting_since for row in centre.rows(BookingTerms)] == [None, None]


def test_more_nights_of_turn_round_keep_more_days_free(centre: HireCentre) -> None:
    with centre.shop.acting("write", "test") as act:
        act.add(Limit(unit_type_id=centre.keys.centre.unit_type, name="turn-round nights", amount=3, unit="nights",
                      source="invented"))  # fmt: skip
    with pytest.raises(Refused, match="3 nights are kept for its turn-round"):
        hire(centre, 4, 5, "LK-01")
    assert hire(centre, 5, 6, "LK-01").units == ("LK-01",)


def test_a_course_asks_for_students_instructor_and_a_spare(centre: HireCentre) -> None:
    days = {"kind": "course", "unit_type": "TYPE-L", "first": centre.day(5), "last": centre.day(9)}
    with pytest.raises(Refused, match="students: none is named"):
        book(centre.shop, BookingEntry(**days, instructor_id=centre.instructor))
    with pytest.raises(Refused, match="instructor: is missing"):
        book(centre.shop, BookingEntry(**days, divers=(centre.keys.renter,)))
    with pytest.raises(Refused, match="units: 3 wanted"):
        book(centre.shop, BookingEntry(**days, divers=(centre.keys.renter,), instructor_id=centre.instructor))
    bare = BookingEntry(**days, divers=(centre.keys.renter,), instructor_id=centre.instructor, spares=0)
    booked = book(centre.shop, bare)
    divers = [row.person_id for row in centre.rows(BookingDiver) if row.booking_id == booked.booking_id]
    assert divers == [centre.keys.renter, centre.instructor]
    for tag in ("LK-01", "LK-02"):
        put_unit_on(centre.shop, booked.code, tag)
    lines = [row for row in centre.rows(BookingUnit) if row.booking_id == booked.booking_id]
    assert [row.diver_id for row in lines] == [centre.keys.renter, centre.instructor]


def test_moving_says_the_conflict_before_and_refuses_it_after(centre: HireCentre) -> None:
    booked = hire(centre, 5, 6, "LK-01")
    ahead = (centre.day(2), centre.day(4))
    said = conflicts(centre.shop, "TYPE-L", *ahead, units=("LK-01",), code=booked.code)
    assert said == ("unit LK-01: is promised to H-7 from 2026-05-04 to 2026-05-06; choose other days or units",)
    with pytest.raises(Refused, match="is promised to H-7"):
        move_booking(centre.shop, booked.code, *ahead)
    assert conflicts(centre.shop, "TYPE-L", centre.day(6), centre.day(8), units=("LK-01",), code=booked.code) == ()
    move_booking(centre.shop, booked.code, centre.day(6), centre.day(8))
    assert centre.rows(Booking)[-1].ends_on == centre.day(8)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"first": -3, "last": -1}, "last day: 2026-05-03 is over"),
        ({"first": 3, "last": 1}, "last day: is before the first"),
        ({"renter_id": None}, "renter: is missing"),
        ({"renter_id": 999}, "person: somebody named is not recorded"),
        ({"planned_depth_m": 900.0}, "planned depth: 900 is outside"),
        ({"wanted": 0}, "units: 0 is outside"),
        ({"diluent_helium": 45.0}, "diluent oxygen: is missing"),
        ({"diluent_oxygen": 60.0, "diluent_helium": 45.0}, "diluent helium: 60 % oxygen and 45 % helium are over"),
        ({"kind": "loan"}, "kind: 'loan' is not known"),
    ],
)
def test_a_booking_that_makes_no_sense_is_refused_by_field(
    centre: HireCentre, change: dict[str, Any], said: str
) -> None:
    days = {name: centre.day(change.get(name, default)) for name, default in (("first", 8), ("last", 9))}
    facts = {"kind": "hire", "unit_type": "TYPE-L", "renter_id": centre.keys.other, **change, **days}
    with pytest.raises(Refused, match=said):
        book(centre.shop, BookingEntry(**facts))

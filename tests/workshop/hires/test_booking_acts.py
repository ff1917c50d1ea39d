"""Bookings: what overlaps or is too much is refused or waits by choice, and the turn-round is kept free."""

from typing import Any

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Acceptance, Booking, BookingDiver, BookingTerms, BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import (
    BookingEntry,
    book,
    conflicts,
    look_ahead,
    move_booking,
    put_unit_on,
    take_off_waiting,
)
from fleetbench.workshop.hires.edit import cancel_booking
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.hires.handover import leaving_units
from fleetbench.workshop.hires.list import handover_facts
from tests.centres.hire_centre import HireCentre
from tests.centres.ready_centre import counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> HireCentre:
    """Two units; LK-01 is promised on H-7 from today for three days."""
    made = HireCentre(workplace, clock)
    made.make_fit()
    return made


def hire(centre: HireCentre, first: int, last: int, *units: str, **more: Any) -> Any:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                         units=units, **{"renter_id": centre.keys.other, **more})  # fmt: skip
    return book(centre.workplace, entry)


def test_a_hire_is_booked_with_its_unit_and_diver(centre: HireCentre) -> None:
    booked = hire(centre, 3, 5, "LK-01", planned_minutes=90.0)
    assert (booked.code, booked.units, booked.waiting) == ("H-2026-001", ("LK-01",), False)
    line = centre.rows(BookingUnit)[-1]
    assert (line.diver_id, line.out_at) == (centre.keys.other, None)
    assert verify(centre.workplace.database).first_break is None


def test_a_unit_that_is_promised_is_refused_by_name_and_days(centre: HireCentre) -> None:
    with pytest.raises(Refused, match=r"unit LK-01: is promised to H-7 from 2026-05-04 to 2026-05-06; choose other"):
        hire(centre, 2, 5, "LK-01")
    assert len(centre.rows(Booking)) == 1


def test_a_tag_is_known_whatever_the_case_of_its_letters(centre: HireCentre) -> None:
    (look,) = look_ahead(centre.workplace, "TYPE-L", centre.today, centre.day(1), units=("lk-01",)).refused
    assert "LK-01" in look
    assert hire(centre, 0, 1, "lk-02").units == ("LK-02",)
    with pytest.raises(Refused, match="unit LK-02: is promised"):
        hire(centre, 1, 2, "Lk-02")


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
    with pytest.raises(Refused, match="stays on the waiting list"):
        take_off_waiting(centre.workplace, waits.code)
    assert cancel_booking(centre.workplace, first.code, "asked by telephone").codes == (waits.code,)
    take_off_waiting(centre.workplace, waits.code)
    assert [row.waiting_since for row in centre.rows(BookingTerms)] == [None, None]


def test_a_booking_that_waited_until_its_days_were_over_is_refused_in_words(centre: HireCentre) -> None:
    hire(centre, 1, 2, "LK-02")
    waits = hire(centre, 1, 2, when_full="wait")
    centre.clock.advance(days=5)
    with pytest.raises(Refused, match="last day: 2026-05-06 is over; give days from today on"):
        take_off_waiting(centre.workplace, waits.code)


def test_more_nights_of_turn_round_keep_more_days_free(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Limit(unit_type_id=centre.keys.centre.unit_type, name="turn-round nights", amount=3, unit="nights",
                      source="invented"))  # fmt: skip
    with pytest.raises(Refused, match="3 nights are kept for its turn-round"):
        hire(centre, 4, 5, "LK-01")
    assert hire(centre, 5, 6, "LK-01").units == ("LK-01",)


def test_a_course_asks_for_students_instructor_and_a_spare(centre: HireCentre) -> None:
    days = {"kind": "course", "unit_type": "TYPE-L", "first": centre.day(5), "last": centre.day(9)}
    with pytest.raises(Refused, match="students: none is named"):
        book(centre.workplace, BookingEntry(**days, instructor_id=centre.instructor))
    with pytest.raises(Refused, match="instructor: is missing"):
        book(centre.workplace, BookingEntry(**days, divers=(centre.keys.renter,)))
    with pytest.raises(Refused, match="units: 3 wanted"):
        book(centre.workplace, BookingEntry(**days, divers=(centre.keys.renter,), instructor_id=centre.instructor))
    bare = BookingEntry(**days, divers=(centre.keys.renter,), instructor_id=centre.instructor, spares=0)
    booked = book(centre.workplace, bare)
    divers = [row.person_id for row in centre.rows(BookingDiver) if row.booking_id == booked.booking_id]
    assert divers == [centre.keys.renter, centre.instructor]
    for tag in ("LK-01", "LK-02"):
        put_unit_on(centre.workplace, booked.code, tag)
    lines = [row for row in centre.rows(BookingUnit) if row.booking_id == booked.booking_id]
    assert [row.diver_id for row in lines] == [centre.keys.renter, centre.instructor]


def test_moving_says_the_conflict_before_and_refuses_it_after(centre: HireCentre) -> None:
    booked = hire(centre, 5, 6, "LK-01")
    ahead = (centre.day(2), centre.day(4))
    said = conflicts(centre.workplace, "TYPE-L", *ahead, units=("LK-01",), code=booked.code)
    assert said == ("unit LK-01: is promised to H-7 from 2026-05-04 to 2026-05-06; choose other days or units",)
    with pytest.raises(Refused, match="is promised to H-7"):
        move_booking(centre.workplace, booked.code, *ahead)
    assert conflicts(centre.workplace, "TYPE-L", centre.day(6), centre.day(8), units=("LK-01",), code=booked.code) == ()
    move_booking(centre.workplace, booked.code, centre.day(6), centre.day(8))
    assert centre.rows(Booking)[-1].ends_on == centre.day(8)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"first": -3, "last": -1}, "last day: 2026-05-03 is over"),
        ({"first": 3, "last": 1}, "last day: is before the first"),
        ({"renter_id": None}, "renter: is missing"),
        ({"renter_id": 999}, "person: a named person is not recorded"),
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
        book(centre.workplace, BookingEntry(**facts))


def hold(centre: HireCentre, tag: str, reason: str) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units[tag], kind="manual", reason=reason, placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip


def test_a_unit_on_a_manual_hold_is_booked_by_a_managers_decision_alone_and_its_reason_stands(
    centre: HireCentre,
) -> None:
    hold(centre, "LK-02", "not out before it is serviced")
    with pytest.raises(Refused, match=r"unit LK-02: manual hold since .*: not out before it is serviced.*a manager"):
        hire(centre, 1, 2, "LK-02")
    with pytest.raises(Refused, match="1 wanted: 1 free, 0 fit; LK-02: manual hold"):
        hire(centre, 1, 2)
    with pytest.raises(Refused, match="only an active manager"):
        hire(centre, 1, 2, "LK-02", unfit=BookUnfit("it is wanted"))
    with pytest.raises(Refused, match="reason"):
        hire(centre, 1, 2, "LK-02", unfit=BookUnfit(" ", centre.manager, "2468"))
    booked = hire(centre, 1, 2, "LK-02", unfit=BookUnfit("serviced on Friday", centre.manager, "2468"))
    assert "not out before it is serviced" in booked.unfit
    (kept,) = centre.rows(Acceptance)
    assert (kept.unit_id, kept.check_name, kept.person_id, kept.reason, kept.until) == (
        centre.units["LK-02"], f"booked unfit: {booked.code}", centre.manager, "serviced on Friday", centre.day(2),
    )  # fmt: skip
    assert verify(centre.workplace.database).first_break is None


def test_extending_onto_days_on_which_a_part_is_past_its_end_asks_for_a_manager(centre: HireCentre) -> None:
    code = hire(centre, 1, 2, "LK-02").code
    with centre.workplace.transaction("write", "test") as act:
        battery = next(each for each in centre.rows(Part) if each.serial == "BATT-L-LK-02")
        ends = centre.day(4)
        act.change(act.session.get(Part, battery.id), made_on=ends.replace(year=ends.year - 4))
    move_booking(centre.workplace, code, centre.day(1), centre.day(3))
    with pytest.raises(Refused, match=r"unit LK-02: handset 1 battery .*last valid day .*a manager books it"):
        move_booking(centre.workplace, code, centre.day(1), centre.day(6))
    assert centre.rows(Booking)[-1].ends_on == centre.day(3)
    move_booking(centre.workplace, code, centre.day(1), centre.day(6),
                 unfit=BookUnfit("a new battery is on its way", centre.manager, "2468"))  # fmt: skip
    assert centre.rows(Booking)[-1].ends_on == centre.day(6)
    assert len(centre.rows(Acceptance)) == 1


def test_the_waiting_list_moves_up_onto_fit_units_only_and_after_what_was_booked_earlier(
    workplace: Workplace, clock: Any
) -> None:
    centre = HireCentre(workplace, clock, units=4)
    centre.make_fit()
    earlier = hire(centre, 10, 11, wanted=4)
    gone = hire(centre, 20, 21, wanted=4)
    waits = hire(centre, 20, 21, when_full="wait")
    for tag in centre.units:
        hold(centre, tag, "not out before it is serviced")
    freed = cancel_booking(centre.workplace, gone.code, "asked by telephone")
    assert freed.codes == ()
    assert f"{waits.code}: 1 wanted: 4 free, 0 fit" in freed.passed_over[0]
    with pytest.raises(Refused, match=r"4 free, 0 fit; .*manual hold.*it stays on the waiting list"):
        take_off_waiting(centre.workplace, waits.code)
    with centre.workplace.transaction("write", "test") as act:
        first = next(each for each in centre.rows(Hold) if each.unit_id == centre.units["LK-01"])
        act.change(act.session.get(Hold, first.id), lifted_at=act.at, lifted_by_id=centre.manager, lift_reason="done")
        act.change(act.session.get(Booking, earlier.booking_id), starts_on=centre.day(20), ends_on=centre.day(21))
    with pytest.raises(Refused, match=rf"{earlier.code} was booked earlier and lacks 3"):
        take_off_waiting(centre.workplace, waits.code)
    cancel_booking(centre.workplace, earlier.code, "asked by telephone")
    assert take_off_waiting(centre.workplace, waits.code) == ""


def test_a_firm_booking_whose_named_unit_became_unfit_comes_before_the_waiting_list(
    workplace: Workplace, clock: Any
) -> None:
    centre = HireCentre(workplace, clock, units=4)
    centre.make_fit()
    firm = hire(centre, 20, 21, "LK-01")
    gone = hire(centre, 20, 21, wanted=3)
    waits = hire(centre, 20, 21, when_full="wait")
    for tag in ("LK-01", "LK-02", "LK-03"):
        hold(centre, tag, "strap torn")
    freed = cancel_booking(centre.workplace, gone.code, "asked by telephone")
    assert freed.codes == ()
    assert f"{waits.code}: 1 wanted: 3 free, 1 fit" in freed.passed_over[0]
    with pytest.raises(Refused, match="it stays on the waiting list"):
        take_off_waiting(centre.workplace, waits.code)
    cancel_booking(centre.workplace, firm.code, "asked by telephone")
    assert take_off_waiting(centre.workplace, waits.code) == ""


def test_a_firm_booking_that_lacks_a_fit_unit_is_named_as_short(workplace: Workplace, clock: Any) -> None:
    centre = HireCentre(workplace, clock, units=3)
    centre.make_fit()
    firm = hire(centre, 20, 21, "LK-01", "LK-02", wanted=2)
    waits = hire(centre, 20, 21, wanted=2, when_full="wait")
    for tag in ("LK-01", "LK-02"):
        hold(centre, tag, "strap torn")
    with pytest.raises(Refused, match=rf"{firm.code} was booked earlier and lacks 1"):
        take_off_waiting(centre.workplace, waits.code)


def test_a_way_that_was_asked_for_is_kept_with_each_unit_and_judged_as_asked(centre: HireCentre) -> None:
    booked = hire(centre, 1, 2, "LK-02", way="kit")
    assert centre.rows(BookingUnit)[-1].hand_over == "kit"
    assert [each.leaves for each in leaving_units(centre.workplace, booked.code)] == ["kit"]
    assert [each.leaves for each in leaving_units(centre.workplace, "H-7")] == ["assembled"]
    assert handover_facts(centre.workplace, "LK-02", booked.code).hand_over == "kit"
    assert handover_facts(centre.workplace, "LK-01", "H-7").hand_over == "assembled"
    hold(centre, "LK-01", "strap torn")
    days = (centre.day(5), centre.day(6))
    assert "strap torn" in look_ahead(centre.workplace, "TYPE-L", *days, units=("LK-01",)).unfit
    assert look_ahead(centre.workplace, "TYPE-L", *days, units=("LK-01",), way="not for diving").unfit == ""
    with pytest.raises(Refused, match="leaves as: kit is kept with each unit; name the units"):
        hire(centre, 5, 6, way="kit")
    with pytest.raises(Refused, match="leaves as"):
        hire(centre, 5, 6, "LK-02", way="in a bag")


def test_looking_ahead_takes_as_many_statements_for_many_units_and_days_as_for_few(
    workplace: Workplace, clock: Any
) -> None:
    centre = HireCentre(workplace, clock, units=7)
    with counted(centre.workplace) as few:
        look_ahead(centre.workplace, "TYPE-L", centre.day(5), centre.day(5))
    for number in range(5):
        hire(centre, 40 + 3 * number, 41 + 3 * number, unfit=BookUnfit("invented", centre.manager, "2468"))
    with counted(centre.workplace) as many:
        look_ahead(centre.workplace, "TYPE-L", centre.day(5), centre.day(50), wanted=7)
    assert len(few) == len(many)

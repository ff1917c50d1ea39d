"""The day at a glance: each unit in every group that concerns it."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.today import today_page
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_what_goes_out_today_and_this_week_is_told_apart(centre: Centre) -> None:
    centre.book(centre.two, 7, 9, "H-9")
    centre.book(centre.two, 12, 14, "H-12")
    page = today_page(centre.workplace)
    assert [(line.booking, line.diver) for line in page.out_today] == [("H-7", "Ines Quell")]
    assert [line.booking for line in page.out_this_week] == ["H-9"]
    assert (page.on, page.blocked, page.ring_the_renter) == (centre.today, (), ())


def test_a_unit_out_is_due_back_then_late(centre: Centre) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="kit")
    assert [line.booking for line in today_page(centre.workplace).back_this_week] == ["H-7"]
    centre.clock.advance(days=2)
    assert [line.booking for line in today_page(centre.workplace).back_today] == ["H-7"]
    centre.clock.advance(days=3)
    (late,) = today_page(centre.workplace).late
    assert (late.booking, late.days_late) == ("H-7", 3)


def test_a_unit_that_is_out_and_on_hold_comes_first(centre: Centre) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="kit")
    centre.hold(unit_id=centre.one, reason="lot recalled")
    (line,) = today_page(centre.workplace).ring_the_renter
    assert (line.unit, line.where, line.fit) == ("LK-01", "out", "hold")
    assert "lot recalled" in line.reasons[0]
    assert (line.next_act, line.act_on) == ("ring Ines Quell: it must not be dived", ("booking", "H-7"))


def test_what_blocks_the_next_booking_is_named_through_its_last_day(centre: Centre) -> None:
    ends = centre.today + timedelta(days=1)
    battery = centre.part("BATT-L-LK-01")
    centre.change(Part, battery, made_on=(ends + timedelta(days=1)).replace(year=ends.year - 4))
    (line,) = today_page(centre.workplace).blocked
    assert (line.booking, line.unit, line.act_on) == ("H-7", "LK-01", ("unit", "LK-01"))
    assert line.next_act == "replace it, or do what renews it"
    assert "handset 1 battery" in line.reasons[0]
    assert "BATT-L-LK-01" in {item.part for item in today_page(centre.workplace).runs_out}


def test_what_came_back_and_what_lies_on_the_bench_are_told(centre: Centre) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.5), received_at=centre.ago(0.2))
    centre.ticket(centre.two, 4)
    page = today_page(centre.workplace)
    assert [(line.row.tag, line.next_act) for line in page.not_inspected] == [("LK-01", "turn it round")]
    (bench,) = page.on_bench
    assert (bench.row.tag, bench.act_on) == ("LK-02", ("ticket", bench.row.open_tickets[0]))


def test_the_page_takes_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace.as_person(None), sample_workplace):
        with counted(workplace) as seen:
            today_page(workplace)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_sample_fleets_day_has_something_in_most_groups(sample_workplace: Workplace) -> None:
    page = today_page(sample_workplace)
    assert page.out_this_week or page.out_today
    assert page.back_this_week or page.back_today or page.late
    assert page.on_bench
    assert page.blocked
    assert page.runs_out

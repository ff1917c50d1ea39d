"""Units in the list and on their page: where each is, how fit, what runs out next, and what was done to it."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.core.errors import NotFound
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.tables import Place
from fleetbench.records.units.tables import Absence, Unit
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import Fit, UnitRow, Where, list_units, unit_page
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def row(centre: Centre, tag: str = "LK-01") -> UnitRow:
    return next(each for each in list_units(centre.workplace) if each.tag == tag)


def test_a_sound_unit_on_its_shelf_is_ready_with_its_next_hire(centre: Centre) -> None:
    found = row(centre)
    assert (found.where, found.fit, found.reasons) == (Where.SHELF, Fit.READY, ())
    assert found.next_booking is not None
    assert (found.next_booking.code, found.next_booking.diver) == ("H-7", "Ines Quell")


def test_an_end_of_life_within_two_weeks_makes_it_due_soon_and_an_unknown_one_holds(centre: Centre) -> None:
    battery = centre.part("BATT-L-LK-01")
    ends = centre.today + timedelta(days=14)
    centre.change(Part, battery, made_on=(ends + timedelta(days=1)).replace(year=ends.year - 4))
    found = row(centre)
    assert (found.fit, found.next_due.days_left if found.next_due else None) == (Fit.DUE_SOON, 14)
    centre.change(Part, battery, made_on=None)
    found = row(centre)
    assert found.fit is Fit.HOLD
    assert found.next_due is not None
    assert found.next_due.last_good_day is None


def test_every_place_a_unit_can_be_is_derived_in_turn(centre: Centre) -> None:
    line = centre.keys.line
    centre.change(BookingUnit, line, out_at=centre.ago(0.5), hand_over="kit")
    assert row(centre).where is Where.OUT
    assert row(centre).where_words.startswith("H-7, back ")
    centre.change(BookingUnit, line, received_at=centre.ago(0.4))
    received = row(centre)
    assert (received.where, received.fit) == (Where.RECEIVED, Fit.HOLD)
    ticket = centre.ticket(centre.one, opened_at=centre.ago(0.3))
    assert (row(centre).where, row(centre).open_tickets) == (Where.BENCH, ("2026-001",))
    centre.clean(centre.one, 0.2)
    from fleetbench.records.tickets.tables import Ticket

    centre.change(Ticket, ticket, critical=False)
    assert row(centre).where is Where.SHELF
    bench = centre.add(Place(name="Bench 1", kind="bench"))
    centre.change(Unit, centre.one, place_id=bench)
    assert row(centre).where is Where.BENCH
    centre.add(Absence(unit_id=centre.one, why="yearly service", left_at=centre.ago(0.1)))
    assert (row(centre).where, row(centre).fit) == (Where.AWAY, Fit.HOLD)
    centre.change(Unit, centre.one, retired_on=centre.today)
    assert row(centre).where is Where.RETIRED


def test_a_unit_out_is_judged_through_its_return(centre: Centre) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.5), hand_over="kit")
    battery = centre.part("BATT-L-LK-01")
    ends = centre.today + timedelta(days=1)
    centre.change(Part, battery, made_on=(ends + timedelta(days=1)).replace(year=ends.year - 4))
    assert row(centre).fit is Fit.HOLD  # its hire ends the day after the battery's last good day


def test_the_page_shows_slots_cells_fill_and_history(centre: Centre) -> None:
    fill = centre.pack(1)
    centre.run(centre.one, fill, 0.5, 60)
    centre.hold(unit_id=centre.one, lifted_at=centre.ago(0.5), lifted_by_id=centre.keys.centre.manager)
    page = unit_page(centre.workplace, "LK-01")
    assert [(each.slot, each.depth, each.host) for each in page.fitted][:3] == [
        ("head", 0, None), ("cell 1", 1, "HEAD-L-LK-01"), ("cell 2", 1, "HEAD-L-LK-01")
    ]  # fmt: skip
    assert [each.verdict for each in page.cells] == ["pass", "pass", "pass"]
    assert page.fill is not None
    assert page.fill.used_share == pytest.approx(60 / 180)
    kinds = {line.kind for line in page.history}
    assert {"calibration", "bench test", "fitting", "fill", "hold"} <= kinds
    assert [line.at for line in page.history] == sorted((line.at for line in page.history), reverse=True)
    assert page.holds[0][0].lifted_by == "Jarek Vinthe"


def test_a_tag_that_is_not_recorded_is_told(centre: Centre) -> None:
    with pytest.raises(NotFound, match="unit LK-9: no unit has this tag"):
        unit_page(centre.workplace, "LK-9")


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace, tag in ((centre.workplace, "LK-01"), (sample_workplace, "B-01")):
        with counted(workplace) as listed:
            list_units(workplace)
        with counted(workplace) as opened:
            unit_page(workplace, tag)
        counts.append((len(listed), len(opened)))
    assert counts[0] == counts[1]


def test_the_sample_fleet_has_units_in_most_places_and_all_states_of_fitness(sample_workplace: Workplace) -> None:
    rows = list_units(sample_workplace)
    assert len(rows) == 14
    assert {each.where for each in rows} >= {Where.SHELF, Where.OUT, Where.BENCH}
    assert {each.fit for each in rows} >= {Fit.READY, Fit.HOLD}
    for each in rows:
        assert (each.fit is Fit.HOLD) == bool(each.reasons)
        assert each.hours > 0

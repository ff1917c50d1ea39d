"""Use of units and parts: what counts, from when to when, and the pace that is expected.

Loop minutes count; 10 a dive are added where only dive time is known. The pace is the highest of what is booked, the
trailing 90 days and the same 90 days a year ago. Common practice, no published source.
"""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.parts.life import LimitUnit
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import read_fittings_of
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.parts.lives import book_of
from fleetbench.workshop.units.use import Use, UseBook
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def use_book(centre: Centre, *parts: int) -> UseBook:
    with centre.workplace.database.reading() as connection:
        return book_of(read_life_records(connection), day_of(centre.workplace), read_fittings_of(connection, parts)).use


def test_dive_time_has_ten_minutes_a_dive_added(centre: Centre) -> None:
    fill = centre.pack(10)
    centre.run(centre.one, fill, 9, 50)
    centre.run(centre.one, fill, 8, 40, clock="dive", dives=2)
    assert use_book(centre).of_unit(centre.one) == Use(110.0, 3, 0)


def test_a_hand_back_that_states_more_than_its_runs_counts_with_what_it_states(centre: Centre) -> None:
    line = centre.book(
        centre.one, -9, -6, "H-1", out_at=centre.ago(9), received_at=centre.ago(6), loop_minutes=200.0, dives=4
    )
    fill = centre.pack(9)
    centre.run(centre.one, fill, 8, 60, booking_unit_id=line)
    book = use_book(centre)
    assert book.of_unit(centre.one) == Use(200.0, 4, 1)
    # What no run tells is taken to have happened by the time of the return.
    assert book.of_unit(centre.one, end=centre.ago(7)) == Use(60.0, 1, 1)


def test_a_part_carries_the_use_of_every_unit_in_which_it_sat(centre: Centre) -> None:
    valve, loop = centre.part("mou-LK-01"), centre.part("LOOP-L-LK-01")
    fill = centre.pack(50)
    centre.run(centre.one, fill, 40, 60)
    centre.run(centre.two, fill, 20, 30)
    centre.run(centre.one, fill, 5, 15)
    with centre.act() as act:
        open_fitting = act.session.scalars(select(Fitting).where(Fitting.part_id == loop)).one()
        slot = open_fitting.slot_id
        act.change(open_fitting, removed_at=centre.ago(30), why_removed="moved")
        other = act.session.scalars(select(Fitting).where(Fitting.part_id == centre.part("LOOP-L-LK-02"))).one()
        act.change(other, removed_at=centre.ago(30), why_removed="moved")
        act.add(Fitting(part_id=loop, slot_id=slot, unit_id=centre.two, fitted_at=centre.ago(25)))
        act.change(act.get(Part, other.part_id, "part"), state="stock")
    book = use_book(centre, valve, loop)
    # 60 min in the first unit before it moved, 30 in the second after; the third run was in the first unit again.
    assert book.of_part(valve).minutes == 90.0
    assert book.of_part(loop).minutes == 90.0
    assert book.units_of(valve) == {centre.one, centre.two}


def test_the_moment_of_fitting_counts_and_the_moment_of_removal_does_not(centre: Centre) -> None:
    fill = centre.pack(10)
    centre.run(centre.one, fill, 5, 60)
    centre.run(centre.one, fill, 4, 30)
    assert use_book(centre).of_unit(centre.one, centre.ago(5), centre.ago(4)).minutes == 60.0


def test_the_highest_of_three_paces_is_taken_and_named(centre: Centre) -> None:
    fill = centre.pack(400)
    centre.run(centre.two, fill, 60, 45)
    pace = use_book(centre).pace(centre.two)[LimitUnit.HOURS]
    assert pace.per_day == pytest.approx(0.75 / 90)
    assert "the trailing 90 days, the highest of three" in pace.assumption
    centre.run(centre.two, fill, 330, 90)
    assert "a year ago, the highest" in use_book(centre).pace(centre.two)[LimitUnit.HOURS].assumption
    centre.book(centre.two, 88, 95, "H-9", planned_minutes=120.0)
    booked = use_book(centre).pace(centre.two)[LimitUnit.HOURS]
    # Of the eight days of the hire two lie within the 90 days from today: 4 h.
    assert booked.per_day == pytest.approx(4.0 / 90)
    assert "what is booked, the highest" in booked.assumption


def test_days_of_a_pace_are_the_sites_own(centre: Centre) -> None:
    fill = centre.pack(100)
    with centre.act() as act:
        from fleetbench.records.canisters.tables import Run

        # The site is two hours ahead of UTC in summer: 22:30 UTC is the next day there.
        first = day_of(centre.workplace).midnight(centre.today - timedelta(days=90))
        for at in (first - timedelta(minutes=1), first):
            act.add(Run(fill_id=fill, unit_id=centre.two, started_at=at, minutes=90.0, clock="loop", dives=1))
    assert use_book(centre).pace(centre.two)[LimitUnit.DIVES].per_day == pytest.approx(1 / 90)

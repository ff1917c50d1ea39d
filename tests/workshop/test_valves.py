"""Valves with their last tests. One-way valves stop over 90 days: common practice, no published source."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.errors import NotFound
from fleetbench.records.parts import Fitting
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.valves import ValveRow, list_valves, valve_page
from tests.ready_centre import Centre, counted


@pytest.fixture
def centre(shop: Shop, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(shop, clock)


def row(centre: Centre, slot: str, unit: str = "LK-01") -> ValveRow:
    return next(each for each in list_valves(centre.shop) if (each.unit, each.slot) == (unit, slot))


def test_a_one_way_valve_answers_for_its_own_direction(centre: Centre) -> None:
    centre.test(centre.one, "one-way valve", "inhale", 1, "reject")
    assert row(centre, "inhale one-way valve").test_state == "failed"
    other = row(centre, "exhale one-way valve")
    assert (other.test_state, other.test_last_good_day) == ("fresh", centre.today + timedelta(days=88))


def test_a_test_that_names_a_part_speaks_of_that_part_alone(centre: Centre) -> None:
    centre.test(centre.one, "one-way valve", "inhale", 1, "reject", part_id=centre.part("V-NEW"))
    assert row(centre, "inhale one-way valve").test_state == "fresh"


def test_a_workshop_opening_leaves_a_one_way_valve_untested(centre: Centre) -> None:
    centre.open_loop(centre.one, 1)
    assert row(centre, "inhale one-way valve").test_state == "not tested"


def test_a_valve_fitted_since_its_test_is_not_tested_and_an_old_test_is_stale(centre: Centre) -> None:
    part = row(centre, "mouthpiece valve").part_id
    with centre.shop.database.looking() as session:
        [fitting] = session.scalars(select(Fitting.id).where(Fitting.part_id == part)).all()
    centre.change(Fitting, fitting, fitted_at=centre.ago(1))
    assert row(centre, "mouthpiece valve").test_state == "not tested"
    centre.test(centre.one, "mouthpiece valve", None, 0)
    centre.clock.advance(days=40)
    assert row(centre, "mouthpiece valve").test_state == "due soon"
    centre.clock.advance(days=55)
    assert row(centre, "exhale one-way valve", "LK-02").test_state == "stale"


def test_the_page_shows_tests_newest_first_with_their_trend(centre: Centre) -> None:
    centre.test(centre.one, "one-way valve", "inhale", 1, value=14.0, unit="mL/min")
    slot = row(centre, "inhale one-way valve").slot_id
    page = valve_page(centre.shop, "LK-01", slot)
    assert [test.value for test in page.tests] == [14.0, None]
    assert page.row.trend == ((centre.today - timedelta(days=1), 14.0),)
    assert [limit.basis for limit in page.limits] == ["fitted"]
    with pytest.raises(NotFound):
        valve_page(centre.shop, "LK-01", centre.slot("head"))


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_shop: Shop) -> None:
    counts = []
    for shop in (centre.shop, sample_shop):
        valve = list_valves(shop)[0]
        with counted(shop) as seen:
            list_valves(shop)
            valve_page(shop, valve.unit, valve.slot_id)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_sample_fleets_one_way_valves_all_have_a_test(sample_shop: Shop) -> None:
    one_way = [each for each in list_valves(sample_shop) if each.slot_kind == "one-way valve"]
    assert len(one_way) == 28
    assert all(each.last_test is not None for each in one_way)

"""Valves with their last tests. One-way valves stop over 90 days: common practice, no published source."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.tables import Fitting, PartType
from fleetbench.records.places.tables import Limit
from fleetbench.workshop.bench.offers import bench_plan
from fleetbench.workshop.bench.valves import ValveRow, list_valves, valve_page
from fleetbench.workshop.core.find import find
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.list import part_page
from fleetbench.workshop.units.list import unit_page
from fleetbench.workshop.units.schematic import unit_schematic
from tests.centres.gas_centre import GasCentre
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def row(centre: Centre, slot: str, unit: str = "LK-01") -> ValveRow:
    return next(each for each in list_valves(centre.workplace) if (each.unit, each.slot) == (unit, slot))


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


def test_after_an_opening_no_list_calls_a_valve_or_the_loop_set_good_before_it_was_tested(centre: Centre) -> None:
    loop = ("inhale one-way valve", "exhale one-way valve", "mouthpiece valve", "loop set")

    def said(*, pages: bool = False) -> dict[str, str]:
        found = {}
        for each in unit_page(centre.workplace, "LK-01").fitted:
            if each.slot in loop and each.part_id is not None and each.condition is not None:
                found[each.slot] = str(each.condition.state)
                if pages and each.slot in loop[2:]:
                    hit = find(centre.workplace, each.part or "")[0].detail
                    assert part_page(centre.workplace, each.part_id).condition == each.condition and "not tested" in hit
        return found

    assert set(said().values()) == {"usable"}
    centre.open_loop(centre.one, 0.5)
    assert said(pages=True) == dict.fromkeys(loop, "not tested")
    drawn = {each.slot: each.state for each in unit_schematic(centre.workplace, "LK-01").stations()}
    assert {drawn[slot] for slot in loop[:3]} == {row(centre, slot).test_state for slot in loop[:3]} == {"not tested"}
    for kind, way in (("one-way valve", "inhale"), ("one-way valve", "exhale"), ("loop negative", None)):
        centre.test(centre.one, kind, way, 0.1)
    assert said() == {loop[0]: "usable", loop[1]: "usable", loop[2]: "not tested", loop[3]: "not tested"}
    centre.test(centre.one, "loop positive", None, 0.1)
    centre.test(centre.one, "mouthpiece valve", None, 0.1)
    assert set(said().values()) == {"usable"}


def test_a_valve_fitted_since_its_test_is_not_tested_and_an_old_test_is_stale(centre: Centre) -> None:
    part = row(centre, "mouthpiece valve").part_id
    with centre.workplace.database.read_session() as session:
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
    page = valve_page(centre.workplace, "LK-01", slot)
    assert [test.record.value for test in page.tests] == [14.0, None]
    assert page.row.trend == ((centre.today - timedelta(days=1), 14.0),)
    assert [limit.basis for limit in page.limits] == ["fitted"]
    with pytest.raises(NotFound):
        valve_page(centre.workplace, "LK-01", centre.slot("head"))


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        valve = list_valves(workplace)[0]
        with counted(workplace) as seen:
            list_valves(workplace)
            valve_page(workplace, valve.unit, valve.slot_id)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_sample_fleets_one_way_valves_all_have_a_test(sample_workplace: Workplace) -> None:
    one_way = [each for each in list_valves(sample_workplace) if each.slot_kind == "one-way valve"]
    assert len(one_way) == 28
    assert all(each.last_test is not None for each in one_way)


def test_a_bailout_regulator_is_a_valve_whose_pressure_is_its_own_and_not_the_unit_types(
    sqlite_database: Database, clock: Any
) -> None:
    gas = GasCentre(Workplace(sqlite_database, clock), clock)
    workplace, unit_type = gas.workplace, gas.keys.centre.unit_type
    for name, bar in (("intermediate pressure low", 8.5), ("intermediate pressure high", 10.0)):
        gas.add(Limit(unit_type_id=unit_type, name=name, amount=bar, unit="bar", source="invented manual", maker=True))

    def offered() -> str:
        return next(each.limit for each in bench_plan(workplace, "LK-01").offers if each.slot == "bailout regulator")

    (seen,) = (each for each in list_valves(workplace) if each.slot == "bailout regulator" and each.unit == "LK-01")
    assert (seen.unit, seen.test_state) == ("LK-01", "not tested")
    assert offered().startswith("no limit recorded")
    with workplace.database.reading() as connection:
        kind = connection.scalar(select(PartType.id).where(PartType.kind == "bailout regulator"))
    for name, bar in (("intermediate pressure low", 9.0), ("intermediate pressure high", 10.5)):
        gas.add(Limit(part_type_id=kind, name=name, amount=bar, unit="bar", source="its own manual", maker=True))
    assert offered().startswith("9 to 10.5 bar (its own manual)")

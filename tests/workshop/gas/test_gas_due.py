"""What of gas and the oxygen side stands in the one due list."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.parts.tables import PartTest
from fleetbench.workshop.bench.equipment import add_equipment
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem, DueState, list_due
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.oxygen_side import clean_parts, lose_clean
from tests.centres.gas_centre import GasCentre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    return GasCentre(workplace, clock)


def items(centre: GasCentre, part: str) -> list[DueItem]:
    return [each for each in list_due(centre.workplace) if each.part == part]


def test_tests_visuals_cleaning_and_regulator_service_are_in_the_list(anywhere: GasCentre) -> None:
    centre = anywhere
    found = {each.part: (each.item, each.last_good_day) for each in list_due(centre.workplace) if each.part}
    # Tested 1 September 2025; the last good day is the day before the anniversary.
    assert found["O-1"] == ("oxygen clean", date(2026, 11, 30))
    assert found["D-1"] == ("visual test", date(2028, 2, 29))
    assert found["RB-1"] == ("service", date(2026, 8, 31))
    assert found["O-2"] == ("oxygen clean", date(2026, 11, 30)), "spare cylinders too"


def test_the_hydrostatic_test_stands_there_once_it_ends_first(centre: GasCentre) -> None:
    with centre.act() as act:
        for row in act.session.scalars(select(PartTest).where(PartTest.part_id == centre.cylinders["diluent"])):
            if row.kind == "hydrostatic":
                act.change(row, done_on=date(2021, 6, 1))
    record_test(centre.workplace, [centre.cylinders["diluent"]], "visual", done_by="Test house")
    found = [(each.item, each.last_good_day) for each in items(centre, "D-1")]
    assert found == [("hydrostatic test", date(2026, 5, 31))]


def test_lost_cleanliness_is_past_at_once_and_gone_after_a_cleaning(centre: GasCentre) -> None:
    lose_clean(centre.workplace, [centre.cylinders["oxygen"]], "wrong lubricant")
    lost = items(centre, "O-1")[0]
    assert (lost.item, lost.unit, lost.slot) == ("oxygen clean", "LK-01", "oxygen cylinder")
    assert (lost.last_good_day, lost.state) == (centre.today - timedelta(days=1), DueState.PAST)
    assert lost.why == "oxygen-clean status lost: wrong lubricant"
    centre.later(minutes=5)
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2")
    assert [each.why for each in items(centre, "O-1") if "lost" in each.why] == []


def test_a_spare_that_lost_it_is_told_too(centre: GasCentre) -> None:
    lose_clean(centre.workplace, [centre.spares["oxygen"][0]], "flooded")
    assert [each.unit for each in items(centre, "O-2") if "lost" in each.why] == [None]


def test_an_analysers_calibration_is_in_the_list(centre: GasCentre) -> None:
    centre.change(TestEquipment, centre.keys.centre.analyser, last_good_day=centre.today - timedelta(days=3))
    found = [each for each in list_due(centre.workplace, 0) if each.part and "AN-1" in each.part]
    assert [(each.state, each.days_left) for each in found] == [(DueState.PAST, -3)]


def test_an_analysers_own_cell_is_in_the_list_by_its_last_good_day(centre: GasCentre) -> None:
    manager = centre.workplace.as_person(centre.keys.centre.manager)
    add_equipment(manager, kind="analyser cell", name="Cell of AN-1", serial="AC-7", uncertainty=None, unit=None,
                  last_good_day=centre.today + timedelta(days=5))  # fmt: skip
    found = [each for each in list_due(centre.workplace, 7) if each.part and "AC-7" in each.part]
    assert [(each.state, each.days_left) for each in found] == [(DueState.DUE_SOON, 5)]

"""The due list: every kind of item by its limit, nothing lost or doubled, and sheets calculated apart agree.

Last good days: the day before the anniversary; months from the anchor in one step. Common practice, no published
source, unless a line says otherwise.
"""

from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.parts.life import LimitBasis
from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.reads import read_parts
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType
from fleetbench.records.people.tables import Qualification
from fleetbench.records.units.tables import Unit
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import FORECAST, REJECT, SERVICE_PLAN, DueItem, DueState, list_due
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.cell_story import bench_story
from tests.centres.ready_centre import Centre, counted
from tests.independent.due import Due


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


@cache
def from_the_sheets() -> Due:
    """The sheets calculated apart from the program, once."""
    return Due(shipped("sample_fleet"))


def calculated_apart(workplace: Workplace) -> Due:
    """The same with what the workplace's calibrations gave."""
    calculation = from_the_sheets()
    calculation.seen = calculation.seen or bench_story(workplace)
    return calculation


def of_part(items: tuple[DueItem, ...], part: str) -> list[DueItem]:
    return [item for item in items if item.part == part]


def held(centre: Centre) -> set[str]:
    """The checks that hold the first unit today."""
    answer = assess_unit(centre.workplace, "LK-01", centre.today, centre.today, HandoverKind.KIT)
    return {check.check for check in answer.stops}


def test_a_part_stands_once_with_the_limit_that_ends_first(centre: Centre) -> None:
    cell = centre.part("C-LK-01-1")
    centre.change(Part, cell, made_on=date(2025, 1, 1), made_precision="month", opened_on=date(2025, 8, 31))
    (item,) = of_part(list_due(centre.workplace), "C-LK-01-1")
    # 18 months from January 2025 end on 30 June 2026, 12 months from 31 August 2025 on 30 August 2026.
    assert (item.last_good_day, item.basis) == (date(2026, 6, 30), "made")
    assert (item.unit, item.slot, item.item) == ("LK-01", "cell 1", "replace")
    assert item.days_left == (date(2026, 6, 30) - centre.today).days
    centre.change(Part, cell, opened_on=date(2025, 3, 1))
    (item,) = of_part(list_due(centre.workplace), "C-LK-01-1")
    assert (item.last_good_day, item.basis, item.state) == (date(2026, 2, 28), "opened", DueState.PAST)


def test_the_horizon_is_inclusive_and_what_is_past_or_unknown_is_always_in(centre: Centre) -> None:
    centre.change(Part, centre.part("BATT-L-LK-01"), made_on=date(2022, 6, 4))
    centre.change(Part, centre.part("BATT-L-LK-02"), made_on=None)
    centre.change(Part, centre.part("C-LK-02-1"), opened_on=date(2024, 1, 1))
    left = (date(2026, 6, 3) - centre.today).days
    assert of_part(list_due(centre.workplace, left), "BATT-L-LK-01")
    assert not of_part(list_due(centre.workplace, left - 1), "BATT-L-LK-01")
    now = list_due(centre.workplace, 0)
    assert of_part(now, "C-LK-02-1")[0].state is DueState.PAST
    (unknown,) = of_part(now, "BATT-L-LK-02")
    assert (unknown.last_good_day, unknown.days_left, unknown.state, unknown.basis) == (None, None, "unknown", "made")
    assert now[0].last_good_day is None


def test_a_part_with_one_date_missing_shows_the_known_end_and_the_unknown_one(centre: Centre) -> None:
    centre.change(Part, centre.part("C-LK-01-2"), made_on=None)
    known, unknown = sorted(
        of_part(list_due(centre.workplace), "C-LK-01-2"), key=lambda item: item.last_good_day is None
    )
    assert known.basis == "opened"
    assert (unknown.basis, unknown.state) == ("made", DueState.UNKNOWN)


def test_a_kept_last_good_day_lists_the_same_as_one_calculated_again(centre: Centre) -> None:
    centre.life("MPV-L", "test_interval", 12, "months", "service")
    valve = centre.part("mou-LK-01")
    centre.add(PartTest(part_id=valve, kind="service", done_on=date(2026, 2, 1), passed=True))
    calculated = {(item.part, item.basis, item.item, item.last_good_day) for item in list_due(centre.workplace)}
    with centre.act() as act:
        fitted = act.session.scalars(select(Fitting.part_id).where(Fitting.removed_at.is_(None))).all()
        assert refresh_lives(act, fitted) > 0
    kept = {(item.part, item.basis, item.item, item.last_good_day) for item in list_due(centre.workplace)}
    assert kept == calculated
    assert ("mou-LK-01", "test_interval", "service", date(2027, 1, 31)) in kept
    assert ("mou-LK-02", "test_interval", "service", None) in kept


def test_a_failed_periodic_test_leaves_the_part_without_one(centre: Centre) -> None:
    centre.life("MPV-L", "test_interval", 12, "months", "service")
    valve = centre.part("mou-LK-01")
    centre.add(PartTest(part_id=valve, kind="service", done_on=date(2026, 2, 1), passed=True))
    centre.add(PartTest(part_id=valve, kind="service", done_on=date(2026, 3, 1), passed=False))
    (item,) = of_part(list_due(centre.workplace), "mou-LK-01")
    assert item.state is DueState.UNKNOWN


def test_a_limit_on_use_is_projected_by_the_highest_pace_and_says_so(centre: Centre) -> None:
    centre.life("MPV-L", "hours", 20, "hours")
    fill = centre.pack(30)
    for days in (29, 28, 27):
        centre.run(centre.one, fill, days, 120)
    centre.book(centre.one, 5, 9, "H-2", planned_minutes=240.0)
    (item,) = of_part(list_due(centre.workplace), "mou-LK-01")
    # 6 of 20 h used. Booked: the hire written here plans 4 h on each of 5 days and the fixture's one 1 h on each of
    # 3, so 23 h in 90 days; the trailing 90 days hold 6 h. 14 h at 23/90 h a day last 54.8 days, so 53 whole ones.
    assert item.projected
    assert "what is booked" in item.why
    assert item.last_good_day == centre.today + timedelta(days=53)
    # No use is expected of the other unit, so its valve has no end by use.
    assert not of_part(list_due(centre.workplace), "mou-LK-02")


def test_what_is_used_up_is_past_at_once(centre: Centre) -> None:
    centre.life("MPV-L", "dives", 3, "dives")
    fill = centre.pack(30)
    centre.run(centre.one, fill, 29, 60, dives=3)
    (item,) = of_part(list_due(centre.workplace), "mou-LK-01")
    assert (item.last_good_day, item.projected) == (centre.today - timedelta(days=1), False)


def test_a_rejected_cell_ends_the_day_before_whatever_its_age(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    (item,) = of_part(list_due(centre.workplace, 0), "C-LK-01-2")
    assert (item.basis, item.last_good_day) == (REJECT, centre.today - timedelta(days=2))
    centre.calibrate(centre.one, 0.2)
    assert not of_part(list_due(centre.workplace, 0), "C-LK-01-2")


def test_a_cell_that_a_diver_found_rejected_is_due_at_once_as_long_as_it_holds_the_unit(centre: Centre) -> None:
    centre.calibrate(centre.one, 3, "reject", made="diver")
    assert not of_part(list_due(centre.workplace, 0), "C-LK-01-2"), "the workshop's own of two days ago came after it"
    centre.calibrate(centre.one, 1, "reject", made="diver")
    assert "cell outcome" in held(centre)
    (item,) = of_part(list_due(centre.workplace, 0), "C-LK-01-2")
    assert (item.basis, item.last_good_day) == (REJECT, centre.today - timedelta(days=2))
    centre.calibrate(centre.one, 0.5, "pass", made="diver")
    assert (of_part(list_due(centre.workplace, 0), "C-LK-01-2"), "cell outcome" in held(centre)) == ([], False)
    centre.calibrate(centre.one, 0.4, "reject", made="diver")
    centre.calibrate(centre.one, 0.3)
    assert (of_part(list_due(centre.workplace, 0), "C-LK-01-2"), "cell outcome" in held(centre)) == ([], False)


def test_a_reject_of_the_workshop_is_not_lifted_by_a_divers_pass(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    centre.calibrate(centre.one, 0.5, "pass", made="diver")
    (item,) = of_part(list_due(centre.workplace, 0), "C-LK-01-2")
    assert item.last_good_day == centre.today - timedelta(days=2)
    centre.calibrate(centre.one, 0.2, "reject", made="diver")
    (item,) = of_part(list_due(centre.workplace, 0), "C-LK-01-2")
    assert item.last_good_day == centre.today - timedelta(days=2), "the earlier of the two"
    assert "cell outcome" in held(centre)


def test_calibration_and_release_tests_run_out_as_readiness_counts_them(centre: Centre) -> None:
    items = {item.item: item for item in list_due(centre.workplace) if item.unit == "LK-01" and item.part is None}
    done = centre.today - timedelta(days=2)
    assert items["workshop calibration"].last_good_day == done + timedelta(days=30)
    for kind in ("one-way valve test", "loop negative test", "loop positive test"):
        assert items[kind].last_good_day == done + timedelta(days=90)
    centre.test(centre.one, "loop negative", None, 1, "reject")
    centre.open_loop(centre.one, 1)
    items = {item.item: item for item in list_due(centre.workplace, 0) if item.unit == "LK-01"}
    assert set(items) == {"one-way valve test", "loop negative test", "loop positive test"}
    assert all(item.state is DueState.PAST for item in items.values())


def test_a_unit_without_any_calibration_or_test_is_unknown_not_fine(centre: Centre) -> None:
    with centre.act() as act:
        from fleetbench.records.upkeep.lookups import unit_by_tag

        first = unit_by_tag(act.session, "LK-01")
        same = {"unit_type_id": first.unit_type_id, "owner_id": first.owner_id, "in_service_on": first.in_service_on}
        act.add(Unit(tag="LK-03", serial="S-3", **same))
    unknown = {
        item.item for item in list_due(centre.workplace, 0) if item.unit == "LK-03" and item.basis != SERVICE_PLAN
    }
    assert unknown == {"workshop calibration", "one-way valve test", "loop negative test", "loop positive test"}


def test_absorbent_lots_equipment_and_the_staffs_papers_are_in_it(centre: Centre) -> None:
    centre.change(TestEquipment, centre.keys.centre.analyser, last_good_day=centre.today - timedelta(days=3))
    for person, until in ((centre.keys.centre.manager, 20), (centre.keys.renter, 5)):
        centre.add(
            Qualification(
                person_id=person, kind="technician", seen_on=centre.today, valid_until=centre.today + timedelta(until)
            )
        )
    items = {(item.item, item.part): item for item in list_due(centre.workplace, 30) if item.unit is None}
    assert items["absorbent lot", "lot F-0"].state is DueState.PAST
    assert items["absorbent lot", "lot F-X"].state is DueState.UNKNOWN
    assert items["test equipment check", "AN-1"].days_left == -3
    assert items["technician qualification", "Jarek Vinthe"].days_left == 20
    assert not any(part == "Ines Quell" for _, part in items)


def test_a_spare_cylinder_past_its_test_is_in_it(centre: Centre) -> None:
    kind = centre.add(PartType(code="CYL-L", name="Oxygen cylinder 3 L", kind="oxygen cylinder", source="invented"))
    centre.life("CYL-L", "test_interval", 60, "months", "hydrostatic")
    centre.life("CYL-L", "test_interval", 30, "months", "visual")
    spare = centre.add(Part(part_type_id=kind, serial="CY-1", owner_id=centre.keys.centre.owner, state="stock"))
    centre.add(Cylinder(part_id=spare, role="oxygen", size_l=3.0, working_bar=200.0))
    centre.add(PartTest(part_id=spare, kind="hydrostatic", done_on=date(2023, 1, 18), passed=True))
    (item,) = of_part(list_due(centre.workplace), "CY-1")
    # A hydrostatic test includes the internal visual, so the visual's 30 months run from it.
    assert (item.unit, item.item, item.last_good_day) == (None, "visual test", date(2025, 7, 17))


def test_the_first_booking_that_outlasts_the_part_is_named(centre: Centre) -> None:
    centre.book(centre.one, 20, 25, "H-20")
    centre.book(centre.one, 40, 45, "H-40")
    battery = centre.part("BATT-L-LK-01")
    ends = centre.today + timedelta(days=22)
    centre.change(Part, battery, made_on=(ends + timedelta(days=1)).replace(year=ends.year - 4))
    (item,) = of_part(list_due(centre.workplace), "BATT-L-LK-01")
    assert (item.last_good_day, item.hits) == (ends, "H-20")
    centre.change(Part, battery, made_on=None)
    assert of_part(list_due(centre.workplace), "BATT-L-LK-01")[0].hits == "H-7"


def test_a_retired_unit_is_left_out_and_calculation_from_another_day_moves_what_is_left(centre: Centre) -> None:
    before = list_due(centre.workplace)
    later = list_due(centre.workplace, on=centre.today + timedelta(days=10))
    assert {item.days_left for item in of_part(before, "C-LK-01-1")} == {
        item.days_left + 10 for item in of_part(later, "C-LK-01-1") if item.days_left is not None
    }
    centre.change(Unit, centre.two, retired_on=centre.today)
    assert not [item for item in list_due(centre.workplace) if item.unit == "LK-02"]


def test_the_list_takes_as_many_statements_for_two_units_as_for_the_sample_fleet(
    centre: Centre, sample_workplace: Workplace
) -> None:
    with counted(centre.workplace) as few:
        list_due(centre.workplace)
    with counted(sample_workplace) as many:
        assert len(list_due(sample_workplace)) > 100
    assert len(few) == len(many)


def test_no_part_is_lost_or_doubled(sample_workplace: Workplace) -> None:
    items = [item for item in list_due(sample_workplace) if item.part_id is not None]
    known = [item.part_id for item in items if item.last_good_day is not None]
    assert len(known) == len(set(known))
    governing = calculated_apart(sample_workplace).governing(sample_workplace.today())
    expected = {row["part"] for row in governing if row["last_good_day"]}
    refs = references(sample_workplace)
    assert {refs[item.part_id] for item in items if item.unit is not None and item.last_good_day} == expected


@pytest.mark.parametrize("days", [0, 30, 60, 365])
def test_the_sample_fleet_agrees_with_a_calculation_from_the_sheets(sample_workplace: Workplace, days: int) -> None:
    """Every fitted part within the horizon: the same limit and the same day, as the sheets alone give them."""
    today, refs, calculation = (
        sample_workplace.today(),
        references(sample_workplace),
        calculated_apart(sample_workplace),
    )
    rejected = {row["part"]: row["last_good_day"] for row in calculation.rejected(today)}
    expected = {
        (row["unit"], row["slot"], row["part"]): (row["last_good_day"], row["basis"])
        for row in calculation.within(today, days)
    }
    for row in calculation.rejected(today):
        expected[row["unit"], row["slot"], row["part"]] = (rejected[row["part"]], REJECT)
    found = {
        (item.unit, item.slot, refs[item.part_id]): (item.last_good_day, item.basis)
        for item in list_due(sample_workplace, days)
        if item.part_id is not None and item.unit is not None and item.last_good_day is not None
    }
    assert found == expected
    assert days < 365 or {basis for _, basis in found.values()} >= {FORECAST, REJECT, "made", "opened"}


def test_every_basis_is_a_word_of_a_limit_a_reject_or_a_plan(sample_workplace: Workplace) -> None:
    assert {item.basis for item in list_due(sample_workplace)} <= {*map(str, LimitBasis), REJECT, SERVICE_PLAN}


def test_hires_that_are_back_hit_nothing(centre: Centre) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(1), received_at=centre.ago(0.5))
    assert {item.hits for item in list_due(centre.workplace) if item.unit == "LK-01"} == {None}


def references(workplace: Workplace) -> dict[int | None, str | None]:
    with workplace.database.reading() as connection:
        return {part.part_id: part.ref for part in read_parts(connection)}

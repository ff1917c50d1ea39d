"""Gas, cylinders, oxygen side, bailout and batteries at a hand-over: each broken alone stops it with the right words.

Limits are common practice, no published source, as fleetbench.calc.readiness.judge states them.
"""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.readiness.judge import Assessment, Check, HandoverKind
from fleetbench.records.gas.tables import GasAnalysis
from fleetbench.records.hires.tables import Booking, BookingTerms, BookingUnit
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.fills import FillEntry, enter_certificate, record_fills, record_pressures
from fleetbench.workshop.gas.oxygen_side import clean_parts, lose_clean
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.turn_rounds.handsets import record_batteries
from tests.centres.gas_centre import GasCentre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas, filled, analysed and read."""
    made = GasCentre(Workplace(sqlite_database, clock), clock)
    made.make_ready()
    return made


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    made = GasCentre(workplace, clock)
    made.make_ready()
    return made


def now(centre: GasCentre) -> Assessment:
    """The answer at the hand-over itself, for three days."""
    return assess_unit(centre.workplace, "LK-01", centre.today, centre.last(), HandoverKind.KIT, at_act=True)


def stops(centre: GasCentre) -> dict[str, Check]:
    """What stops the hand-over, by check."""
    return {check.check: check for check in now(centre).stops}


def of(answer: Assessment, check: str) -> Check:
    return next(each for each in answer.checks if each.check == check)


def test_a_sound_unit_with_its_gas_is_ready_without_an_advice_on_the_gas_side(anywhere: GasCentre) -> None:
    centre = anywhere
    answer = now(centre)
    assert answer.verdict == "ready"
    assert {check.check for check in answer.advises} <= {"absorbent sent along", "accessories"}
    assert of(answer, "gas").evidence == "3 cylinders analysed as booked"
    assert not {"gas", "diluent at planned depth", "bailout", "batteries"} & set(answer.left_out)


def test_a_unit_whose_type_has_no_cylinder_leaves_those_checks_out_and_names_them(
    workplace: Workplace, clock: Any
) -> None:
    from tests.centres.ready_centre import Centre

    plain = Centre(workplace, clock)
    answer = assess_unit(plain.workplace, "LK-01", plain.today, plain.today, HandoverKind.KIT)
    assert {"gas", "diluent at planned depth", "cylinder test and oxygen-clean", "bailout"} <= set(answer.left_out)


@pytest.mark.parametrize("role", ["oxygen", "diluent", "bailout"])
def test_a_fill_after_the_analysis_stops(centre: GasCentre, role: str) -> None:
    centre.fill(role)
    found = stops(centre)
    assert set(found) == ({"gas", "diluent at planned depth"} if role == "diluent" else
                          {"gas", "bailout"} if role == "bailout" else {"gas"})  # fmt: skip
    assert f"{role} {role[0].upper()}-1: not analysed since it was filled" in found["gas"].evidence
    assert "analyse the gas" in found["gas"].remedy


def test_ahead_of_the_day_an_analysis_undone_is_work_to_do(centre: GasCentre) -> None:
    centre.fill("oxygen")
    day = centre.today + timedelta(days=1)
    answer = assess_unit(centre.workplace, "LK-01", day, day, HandoverKind.KIT)
    assert answer.verdict == "ready"
    assert of(answer, "gas").evidence.startswith("to do, 5 minutes: oxygen O-1: not analysed")


@pytest.mark.parametrize(
    ("role", "shown", "said"),
    [
        ("diluent", 32.0, "oxygen 32.0% analysed, 21.0% asked"),
        ("oxygen", 32.0, "32.0% oxygen, which is another gas than oxygen"),
        ("bailout", 99.0, "oxygen 99.0% analysed, 21.0% asked"),
    ],
)
def test_a_wrong_gas_stops(centre: GasCentre, role: str, shown: float, said: str) -> None:
    centre.analyse(role, oxygen_percent=shown)
    assert said in stops(centre)["gas"].evidence


def test_a_diver_whose_analysis_differs_stops_it(centre: GasCentre) -> None:
    centre.analyse("diluent", oxygen_percent=21.0, by_diver=True, person_id=centre.diver, signed="on paper")
    centre.later(minutes=1)
    centre.analyse("diluent")
    assert now(centre).verdict == "ready"
    centre.analyse("bailout", oxygen_percent=24.0, by_diver=True, person_id=centre.diver, signed="on paper")
    centre.later(minutes=1)
    centre.analyse("bailout")
    assert "the diver analysed otherwise: oxygen 24.0% analysed" in stops(centre)["gas"].evidence


def test_a_test_that_lapses_before_the_last_day_stops(centre: GasCentre) -> None:
    key = centre.cylinders["diluent"]
    with centre.act() as act:
        for row in act.session.scalars(select(PartTest).where(PartTest.part_id == key, PartTest.kind == "hydrostatic")):
            # 60 months before the second day of the hire, so that the last good day is the first.
            act.change(row, done_on=(centre.today + timedelta(days=1)).replace(year=centre.today.year - 5))
    found = stops(centre)
    assert f"cylinder D-1: last valid day {centre.today}" in found["cylinder test and oxygen-clean"].evidence
    assert "hydrostatic" in found["cylinder test and oxygen-clean"].evidence


def test_a_late_visual_does_not_renew_a_hydrostatic_test_that_lapsed(centre: GasCentre) -> None:
    key = centre.cylinders["diluent"]
    with centre.act() as act:
        for row in act.session.scalars(select(PartTest).where(PartTest.part_id == key, PartTest.kind == "hydrostatic")):
            act.change(row, done_on=centre.today.replace(year=centre.today.year - 5))
    record_test(centre.workplace, [key], "visual", done_by="Test house")
    assert "cylinder test and oxygen-clean" in stops(centre)


def test_a_failed_visual_stops_though_an_older_hydrostatic_test_is_in_date(centre: GasCentre) -> None:
    record_test(centre.workplace, [centre.cylinders["diluent"]], "visual", passed=False, done_by="Test house")
    assert "diluent cylinder D-1: visual not passed" in stops(centre)["holds"].evidence


@pytest.mark.parametrize("why", ["opened off the clean bench", "flooded", "wrong lubricant"])
def test_lost_cleanliness_stops_with_what_ended_it(centre: GasCentre, why: str) -> None:
    lose_clean(centre.workplace, [centre.cylinders["oxygen"]], why)
    found = stops(centre)
    assert set(found) == {"cylinder test and oxygen-clean"}
    check = found["cylinder test and oxygen-clean"]
    assert f"cylinder O-1: oxygen-clean status lost: {why}" in check.evidence
    assert check.remedy == "clean it for oxygen on the clean bench"
    centre.later(minutes=10)
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2")
    assert now(centre).verdict == "ready"


def test_a_cylinder_of_oxygen_never_known_to_be_clean_stops(centre: GasCentre) -> None:
    with centre.act() as act:
        query = select(PartTest).where(PartTest.kind == "oxygen clean")
        for row in act.session.scalars(query):
            act.change(row, kind="visual")
    assert "not known: no cleaning on record" in stops(centre)["cylinder test and oxygen-clean"].evidence


def test_any_other_oxygen_side_part_that_lost_its_status_stops_too(centre: GasCentre) -> None:
    lose_clean(centre.workplace, [centre.part("C-LK-01-1")], "flooded")
    assert "cell 1 C-LK-01-1: oxygen-clean status lost" in stops(centre)["cylinder test and oxygen-clean"].evidence


def test_a_flood_on_the_last_hire_stops_the_oxygen_side(anywhere: GasCentre) -> None:
    centre = anywhere
    line = centre.book(centre.one, -4, -1, "H-9", out_at=centre.ago(4), received_at=centre.ago(0.02))
    centre.change(BookingUnit, line, flooded=True)
    assert "the unit was flooded" in stops(centre)["cylinder test and oxygen-clean"].evidence


def test_a_batch_whose_certificate_fails_stops(centre: GasCentre) -> None:
    """MIL-PRF-27210 as in US Navy Diving Manual Table 4-3: at most 10 ppm carbon dioxide."""
    enter_certificate(
        centre.workplace, batch="B1", gas="oxygen", issued_on=centre.today, values={"carbon dioxide": 40.0}
    )
    assert "batch B1: carbon dioxide 40 ppm" in stops(centre)["gas"].evidence


def test_pressure_over_the_working_pressure_stops_and_a_low_one_advises(centre: GasCentre) -> None:
    key = centre.cylinders["diluent"]
    record_pressures(centre.workplace, {key: 260.0})
    assert "over the working pressure of 232 bar" in stops(centre)["gas"].evidence
    record_pressures(centre.workplace, {key: 120.0})
    assert "under 75% of 232 bar" in of(now(centre), "gas").evidence


def test_what_was_used_since_it_was_filled_has_no_known_pressure_until_a_gauge_is_read(centre: GasCentre) -> None:
    centre.later(days=1)
    centre.book(centre.one, -1, 0, "H-9", out_at=centre.ago(0.5), received_at=centre.ago(0.1))
    centre.clean(centre.one, 0.05)
    check = of(now(centre), "gas")
    assert check.result == "advise"
    assert "diluent D-1: used since it held 216 bar: pressure not known" in check.evidence
    record_pressures(centre.workplace, {key: 0.9 * 200 for key in centre.cylinders.values()})
    assert of(now(centre), "gas").result == "ok"


def test_a_diluent_over_the_limit_at_the_planned_depth_stops(centre: GasCentre) -> None:
    """Oxygen pressure by depth/10 + 1 bar; limit 1.2 bar: common practice, no published source."""
    with centre.act() as act:
        row = act.session.scalars(select(Booking).where(Booking.code == "H-7")).one()
        act.change(row, planned_depth_m=50.0)
    check = stops(centre)["diluent at planned depth"]
    assert check.evidence == "diluent has 1.27 bar oxygen at 50 m, over the limit of 1.2 bar"


def wished(centre: GasCentre, **wish: Any) -> None:
    """Write onto the booking of the first unit what gas it asks for."""
    with centre.act() as act:
        booking = act.session.scalars(select(Booking).where(Booking.code == "H-7")).one()
        act.add(BookingTerms(booking_id=booking.id, **wish))


def test_a_diluent_other_than_the_booking_asks_for_stops_though_it_is_as_it_was_filled(centre: GasCentre) -> None:
    wished(centre, diluent_oxygen=18.0, diluent_helium=45.0)
    evidence = stops(centre)["gas"].evidence
    assert "diluent D-1: oxygen 21.2% analysed, 18.0% asked" in evidence
    assert "diluent D-1: helium 0.0% analysed, 45.0% asked" in evidence


def test_bailout_asked_for_and_not_on_the_hire_is_advised(centre: GasCentre) -> None:
    wished(centre, bailout=True)
    assert of(now(centre), "bailout").result == "ok"
    with centre.act() as act:
        for key in (centre.cylinders["bailout"], centre.regulator):
            sits = act.session.scalars(select(Fitting).where(Fitting.part_id == key)).one()
            act.change(sits, removed_at=act.at, why_removed="moved")
    check = of(now(centre), "bailout")
    assert (check.result, check.evidence) == ("advise", "bailout asked for, none on the hire")


def test_a_bailout_regulator_past_its_service_or_without_one_on_record_stops(centre: GasCentre) -> None:
    with centre.act() as act:
        row = act.session.scalars(select(PartTest).where(PartTest.part_id == centre.regulator)).one()
        act.change(row, done_on=centre.today.replace(year=centre.today.year - 1))
    assert "bailout B-1 regulator service: last valid day" in stops(centre)["bailout"].evidence
    with centre.act() as act:
        sits = act.session.scalars(select(Fitting).where(Fitting.part_id == centre.regulator)).one()
        act.change(sits, removed_at=act.at, why_removed="service")
    assert "bailout B-1 regulator service: no interval on record" in stops(centre)["bailout"].evidence


def test_in_an_assembly_the_regulator_of_the_set_itself_counts(centre: GasCentre) -> None:
    with centre.act() as act:
        kind = act.session.scalars(select(PartType).where(PartType.code == "CYL-B")).one()
        act.change(kind, assembly=True)
        slot = act.add(Slot(assembly_type_id=kind.id, name="regulator", kind="bailout regulator", ordinal=1))
        regulator = act.session.scalars(select(PartType).where(PartType.code == "REG-B")).one()
        owner = centre.keys.centre.owner
        mine = act.add(Part(part_type_id=regulator.id, serial="RB-2", owner_id=owner, state="fitted"))
        act.add(PartTest(part_id=mine.id, kind="service", done_on=centre.today.replace(year=2020), passed=True))
        act.add(Fitting(part_id=mine.id, slot_id=slot.id, host_part_id=centre.cylinders["bailout"], fitted_at=act.at))
    assert "bailout B-1 regulator service: last valid day 2021-05-03" in stops(centre)["bailout"].evidence


def test_a_battery_under_its_replace_voltage_not_read_or_without_a_limit_stops(centre: GasCentre) -> None:
    centre.later(minutes=1)
    record_batteries(centre.workplace, "LK-01", {"handset 1 battery": 3.5})
    assert "handset 1: 3.50 V, replace under 3.60 V" in stops(centre)["batteries"].evidence
    with centre.act() as act:
        from fleetbench.records.places.tables import Limit

        row = act.session.scalars(select(Limit).where(Limit.name == "battery voltage low")).one()
        act.change(row, name="battery voltage of old")
    assert "states no replace voltage" in stops(centre)["batteries"].evidence


def test_an_analysis_from_before_records_began_never_passes_a_fill_that_nobody_wrote_down(centre: GasCentre) -> None:
    key = centre.spares["diluent"][0]
    with centre.act() as act:
        act.add(GasAnalysis(part_id=key, at=centre.ago(3), oxygen_percent=21.0))
        sits = act.session.scalars(select(Fitting).where(Fitting.part_id == centre.cylinders["diluent"])).one()
        act.change(sits, removed_at=act.at, why_removed="moved")
        act.add(Fitting(part_id=key, slot_id=sits.slot_id, unit_id=centre.one, fitted_at=act.at))
    assert "last fill not known" in stops(centre)["gas"].evidence


def test_oxygen_of_a_row_filled_at_once_is_asked_for_cylinder_by_cylinder(centre: GasCentre) -> None:
    keys = [centre.cylinders["oxygen"], *centre.spares["oxygen"]]
    record_fills(centre.workplace, [FillEntry(part_id=key, oxygen_percent=100.0, end_bar=190.0) for key in keys])
    assert set(stops(centre)) == {"gas"}
    centre.later(minutes=20)
    centre.analyse("oxygen")
    assert now(centre).verdict == "ready"

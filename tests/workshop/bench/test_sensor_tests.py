"""Tests of sensors and batteries, offered by slot and asked for where a limit is stated; limits are invented."""

from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.bench.reads import read_bench_readings
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Slot
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.equipment import list_equipment
from fleetbench.workshop.bench.measured import SetUp, Stamped, record_measured
from fleetbench.workshop.bench.offers import Method, unit_offers
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import list_units, unit_page
from tests.centres.ready_centre import Centre

CHECK = "alarms, displays and set-point"


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def said(centre: Centre) -> str:
    checks = unit_page(centre.workplace, "LK-01").assessment.checks
    return next((f"{each.result}: {each.evidence}" for each in checks if each.check == CHECK), "not asked for")


def fit_any_part(centre: Centre, slot: int) -> None:
    """Any part will do to fill a new slot."""
    with centre.act() as act:
        battery = act.get(Part, centre.part("BATT-L-LK-01"), "part")
        spare = act.add(Part(part_type_id=battery.part_type_id, serial="INVENTED-1", owner_id=centre.keys.centre.owner))
        act.add(Fitting(part_id=spare.id, slot_id=slot, unit_id=centre.one, fitted_at=act.at))


def test_a_battery_whose_charges_are_limited_stops_the_unit_until_they_were_read_and_again_over_the_limit(
    centre: Centre,
) -> None:
    key = "one figure / charge cycles / handset 1 battery"
    assert key in {each.key for each in unit_offers(centre.workplace, "LK-01")}
    before = said(centre)
    assert "charge cycles" not in before
    centre.add(Limit(unit_type_id=centre.keys.centre.unit_type, name="charge cycles high", amount=300, unit="cycles",
                     source="invented", maker=True))  # fmt: skip
    assert said(centre).startswith("stop: charge cycles, handset 1 battery: no test on record")
    for count, verdict, words in ((301.0, "reject", "stop: charge cycles, handset 1 battery: failed"),
                                  (299.0, "pass", "ok: charge cycles, handset 1 battery: passed")):  # fmt: skip
        centre.clock.advance(minutes=1)
        done = record_measured(centre.workplace, "LK-01", key, SetUp(), [Stamped(centre.clock(), count)])
        assert done.answer.verdict == verdict
        assert said(centre).startswith(words)
    with centre.workplace.database.reading() as connection:
        (raw,) = read_bench_readings(connection, done.test_id)
    assert (raw.quantity, raw.value, raw.unit) == ("figure", 299.0, "cycles")


def test_a_sensor_is_read_against_its_gas_with_the_gas_and_its_uncertainty_kept(centre: Centre) -> None:
    kind = centre.keys.centre.unit_type
    slot = centre.add(Slot(unit_type_id=kind, name="carbon dioxide sensor", kind="carbon dioxide sensor", ordinal=99))
    assert not [each for each in unit_offers(centre.workplace, "LK-01") if "carbon dioxide" in each.kind]
    fit_any_part(centre, slot)
    with centre.act() as act:
        act.add(Limit(unit_type_id=kind, name="carbon dioxide span tolerance", amount=10, unit="%", source="invented",
                      maker=True))  # fmt: skip
    span = next(each for each in unit_offers(centre.workplace, "LK-01") if each.kind == "carbon dioxide span")
    assert (span.method, span.unit, span.tools, span.limit) == (Method.REFERENCE, "mbar", (), "± 10 % (invented)")
    assert "carbon dioxide span, carbon dioxide sensor: no test on record" in said(centre)
    centre.clock.advance(minutes=1)
    set_up = SetUp(reference=10.0, reference_u=0.2)
    done = record_measured(centre.workplace, "LK-01", span.key, set_up, [Stamped(centre.clock(), 10.3)])
    assert done.answer.sentence.startswith("In limits: 10.3 mbar shown, 10 by the span gas: +0.3 ± 0.2 mbar")
    assert said(centre).startswith("ok: carbon dioxide span, carbon dioxide sensor: passed")
    with centre.workplace.database.reading() as connection:
        raw = {each.quantity: each.value for each in read_bench_readings(connection, done.test_id)}
    assert raw == {"reference": 10.0, "reference, expanded u": 0.2, "shown": 10.3}
    assert verify(centre.workplace.database).first_break is None


def test_a_solenoid_that_was_heard_needs_no_flow_and_one_that_lets_too_little_through_is_rejected(
    sample_workplace: Workplace,
) -> None:
    """Units of type B, whose pulses have limits, had their solenoids listened to and nothing more."""
    assert [each.fit for each in list_units(sample_workplace) if each.tag in ("B-01", "B-04", "B-06")] == ["ready"] * 3
    with sample_workplace.database.read_session() as session:
        manager = session.scalars(select(Person.id).where(Person.role == "manager")).first()
    tools = [each.tool for each in list_equipment(sample_workplace) if each.tool.kind == "flow meter"]
    offer = next(each for each in unit_offers(sample_workplace, "B-01") if each.kind == "solenoid flow")
    at_bench, now = sample_workplace.as_person(manager), sample_workplace.clock()
    found = record_measured(at_bench, "B-01", offer.key, SetUp(counted=10, tools={"flow meter": tools[0].equipment_id}),
                            [Stamped(now, 300.0)])  # fmt: skip
    assert found.answer.verdict == "reject", found.answer.sentence
    assert unit_page(sample_workplace, "B-01").row.fit == "hold"


def test_a_screen_found_broken_holds_the_unit_until_it_was_looked_at_again(centre: Centre) -> None:
    kind = centre.keys.centre.unit_type
    slot = centre.add(Slot(unit_type_id=kind, name="handset 1", kind="handset", ordinal=99))
    fit_any_part(centre, slot)
    before = said(centre)
    for held in (False, None):
        centre.clock.advance(minutes=1)
        record_test(centre.workplace, "LK-01", "handset screen", held=held, slot="handset 1")
        assert said(centre).startswith("stop: ") and "handset screen, handset 1: " in said(centre)
    centre.clock.advance(minutes=1)
    record_test(centre.workplace, "LK-01", "handset screen", held=True, slot="handset 1")
    assert said(centre) == before


def test_a_sensor_read_without_a_limit_to_judge_it_by_holds_its_unit(centre: Centre) -> None:
    kind = centre.keys.centre.unit_type
    slot = centre.add(Slot(unit_type_id=kind, name="carbon dioxide sensor", kind="carbon dioxide sensor", ordinal=99))
    fit_any_part(centre, slot)
    before = said(centre)
    centre.clock.advance(minutes=1)
    key = next(each.key for each in unit_offers(centre.workplace, "LK-01") if each.kind == "carbon dioxide zero")
    set_up = SetUp(reference=0.0, reference_u=0.1)
    done = record_measured(centre.workplace, "LK-01", key, set_up, [Stamped(centre.clock(), 0.4)])
    assert done.answer.verdict == "repeat"
    assert said(centre).startswith("stop: carbon dioxide zero, carbon dioxide sensor:") and said(centre) != before

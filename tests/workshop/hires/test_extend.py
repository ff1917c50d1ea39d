"""A hire made longer while its units are out: a manager may accept an advice, nobody a stop."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Acceptance, Booking, BookingUnit
from fleetbench.records.parts.tables import Fitting, Part, PartType, PartTypeLife
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.edit import extend_hire, look_before_extending
from fleetbench.workshop.hires.handover import Accepting
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> HireCentre:
    """LK-01 is out on H-7, assembled and packed, from today for three days."""
    made = HireCentre(workplace, clock)
    made.make_fit(pack=True)
    with made.workplace.transaction("write", "test") as act:
        act.change(act.session.get(BookingUnit, made.keys.line), out_at=act.at, hand_over="assembled")
    made.clock.advance(hours=20)
    return made


def with_sensor(centre: HireCentre, ends_in_days: int) -> None:
    """A carbon dioxide sensor in LK-01, not critical, that ends so many days from today."""
    keys = centre.keys.centre
    with centre.workplace.transaction("write", "test") as act:
        kind = act.add(PartType(code="CO2-L", name="Carbon dioxide sensor", kind="sensor", assembly=False,
                                stocked_in="piece", source="invented"))  # fmt: skip
        act.add(PartTypeLife(part_type_id=kind.id, basis="fitted", amount=11 + ends_in_days, unit="days",
                             source="invented"))  # fmt: skip
        slot = act.add(Slot(unit_type_id=keys.unit_type, name="carbon dioxide sensor", kind="sensor", critical=False,
                            ordinal=40))  # fmt: skip
        part = act.add(Part(part_type_id=kind.id, serial="CO2-1", owner_id=keys.owner, state="fitted"))
        act.add(Fitting(part_id=part.id, slot_id=slot.id, unit_id=centre.units["LK-01"],
                        fitted_at=centre.clock() - timedelta(days=10), fitted_by_id=keys.technician))  # fmt: skip


def test_an_advice_on_a_later_last_day_is_accepted_by_a_manager_alone(centre: HireCentre) -> None:
    with_sensor(centre, ends_in_days=2)
    before, last = centre.rows(Booking)[0].ends_on, centre.day(3)
    (look,) = look_before_extending(centre.workplace, "H-7", last)
    assert look.to_accept
    with pytest.raises(Refused, match="a manager may accept"):
        extend_hire(centre.workplace, "H-7", last)
    accepting = [Accepting(look.unit, each, last, "the diver was told") for each in look.to_accept]
    with pytest.raises(Refused, match="only an active manager"):
        extend_hire(centre.workplace, "H-7", last, accepting=accepting)
    assert (centre.rows(Booking)[0].ends_on, centre.rows(Acceptance)) == (before, [])
    done = extend_hire(centre.workplace, "H-7", last, accepting=accepting, manager_id=centre.manager, pin="2468")
    assert (done.last, done.units) == (last, ("LK-01",))
    assert centre.rows(Booking)[0].ends_on == last
    assert {row.person_id for row in centre.rows(Acceptance)} == {centre.manager}


def test_a_battery_that_ends_before_the_new_last_day_refuses_it_whoever_asks(centre: HireCentre) -> None:
    before, ends = centre.rows(Booking)[0].ends_on, centre.day(3)
    with centre.workplace.transaction("write", "test") as act:
        battery = next(each for each in centre.rows(Part) if each.serial == "BATT-L-LK-01")
        act.change(act.session.get(Part, battery.id), made_on=(ends + timedelta(days=1)).replace(year=ends.year - 4))
    (look,) = look_before_extending(centre.workplace, "H-7", centre.day(4))
    accepting = [Accepting(look.unit, each, centre.day(4), "the diver was told") for each in look.to_accept]
    with pytest.raises(Refused, match=r"handset 1 battery .*last valid day"):
        extend_hire(centre.workplace, "H-7", centre.day(4), accepting=accepting, manager_id=centre.manager, pin="2468")
    assert centre.rows(Booking)[0].ends_on == before

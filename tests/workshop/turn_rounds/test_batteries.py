"""Voltage readings of a unit's batteries; replace voltages are the maker's figure, here invented."""

from typing import Any

import pytest

from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import PartTypeLife
from fleetbench.workshop.bench.equipment import add_equipment
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.turn_rounds.handsets import battery_lines, record_batteries
from tests.centres.gas_centre import GasCentre

SLOT = "handset 1 battery"


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    return GasCentre(workplace, clock)


@pytest.mark.parametrize(("volts", "verdict"), [(3.9, Verdict.PASS), (3.6, Verdict.PASS), (3.59, Verdict.REJECT)])
def test_a_reading_is_judged_against_the_batterys_own_replace_voltage(
    centre: GasCentre, volts: float, verdict: Verdict
) -> None:
    answer = record_batteries(centre.workplace, "LK-01", {SLOT: volts})[0]
    assert answer.verdict is verdict
    line = battery_lines(centre.workplace, "LK-01")[0]
    assert (line.device, line.volts, line.replace_volts) == ("handset 1", volts, 3.6)
    assert line.read_at == centre.clock()


def test_a_meters_uncertainty_keeps_a_reading_near_the_limit_from_passing(centre: GasCentre) -> None:
    """Guarded acceptance: JCGM 106:2012, 8.3.2."""
    manager = centre.workplace.as_person(centre.keys.centre.manager)
    meter = add_equipment(manager, kind="bench meter", name="Volt meter", serial="VM-1", uncertainty=0.02, unit="V",
                          last_good_day=centre.last())  # fmt: skip
    answer = record_batteries(centre.workplace, "LK-01", {SLOT: 3.62}, equipment_id=meter)[0]
    assert answer.verdict is Verdict.REPEAT
    with pytest.raises(Refused, match="read volts"):
        record_batteries(centre.workplace, "LK-01", {SLOT: 3.9}, equipment_id=centre.keys.centre.barometer)


def test_a_reading_of_the_battery_before_says_nothing_of_the_one_fitted_now(anywhere: GasCentre) -> None:
    centre = anywhere
    record_batteries(centre.workplace, "LK-01", {SLOT: 3.9})
    centre.later(hours=1)
    from sqlalchemy import select

    from fleetbench.records.parts.tables import Fitting

    with centre.act() as act:
        old = act.session.scalars(select(Fitting).where(Fitting.part_id == centre.part("BATT-L-LK-01"))).one()
        act.change(old, removed_at=act.at, why_removed="age")
        owner = centre.keys.centre.owner
        from fleetbench.records.parts.tables import Part

        new = act.add(Part(part_type_id=centre.part_type("BATT-L"), serial="BATT-NEW", owner_id=owner, state="fitted"))
        act.add(Fitting(part_id=new.id, slot_id=old.slot_id, unit_id=centre.one, fitted_at=act.at))
    line = battery_lines(centre.workplace, "LK-01")[0]
    assert (line.part, line.volts, line.read_at) == ("BATT-NEW", None, None)


def test_a_type_with_a_life_from_fitting_says_so(centre: GasCentre) -> None:
    assert battery_lines(centre.workplace, "LK-01")[0].replaced_by_life is False
    centre.add(PartTypeLife(part_type_id=centre.part_type("BATT-L"), basis="fitted", amount=40.0, unit="months",
                            source="invented"))  # fmt: skip
    assert battery_lines(centre.workplace, "LK-01")[0].replaced_by_life is True


def test_figures_and_slots_that_cannot_be_are_refused(centre: GasCentre) -> None:
    wrong = (({}, "^volts: "), ({SLOT: -1.0}, f"^{SLOT}: "), ({"handset 9 battery": 3.9}, "^slot handset 9"))
    for volts, said in wrong:
        with pytest.raises(Refused, match=said):
            record_batteries(centre.workplace, "LK-01", volts)

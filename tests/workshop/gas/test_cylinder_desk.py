"""The list, page and label of cylinders, and what stands ready at the fill station."""

from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from fleetbench.calc.gas.real import Mixture
from fleetbench.records.core.errors import NotFound
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.fills import enter_certificate, record_pressures
from fleetbench.workshop.gas.list import (
    CylinderLine,
    cylinder_label,
    cylinder_page,
    gas_station,
    list_cylinders,
    to_analyse,
    to_fill,
)
from fleetbench.workshop.gas.oxygen_side import clean_parts
from tests.centres.gas_centre import GasCentre
from tests.centres.ready_centre import counted


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


def line(centre: GasCentre, role: str) -> CylinderLine:
    return next(each for each in list_cylinders(centre.workplace) if each.part.part_id == centre.cylinders[role])


def test_contents_are_real_gas_as_coolprop_calculates_it(centre: GasCentre) -> None:
    """CoolProp, Schmidt-Wagner equation for oxygen: free gas at 15 C and 101325 Pa in 3 L at 186 bar and 20 C."""
    found = line(centre, "oxygen")
    full = PropsSI("D", "P", (186.0 + 1.01325) * 1e5, "T", 293.15, "Oxygen")
    free = PropsSI("D", "P", 101325.0, "T", 288.15, "Oxygen")
    assert found.state.now_bar == 186.0
    assert found.content_l == pytest.approx(3.0 * full / free, rel=0.01)


def test_endurance_is_at_a_stated_uptake_with_a_reserve(centre: GasCentre) -> None:
    """1.4 L/min and 500 psig (35 bar): US Navy Diving Manual Rev 4 Change A, p. 17-11; density by CoolProp."""
    found = line(centre, "oxygen")
    assert (found.uptake_l_min, found.reserve_bar) == (1.4, 35.0)
    usable = [PropsSI("D", "P", (bar + 1.01325) * 1e5, "T", 293.15, "Oxygen") for bar in (186.0, 35.0)]
    stpd = PropsSI("D", "P", 101325.0, "T", 273.15, "Oxygen")
    assert found.endurance_min == pytest.approx(3.0 * (usable[0] - usable[1]) / stpd / 1.4, rel=0.01)
    assert line(centre, "diluent").endurance_min is None


def test_the_depth_counts_the_analysers_uncertainty_and_its_density_stands_at_0_c(centre: GasCentre) -> None:
    """Depth by (limit/fraction - 1) * 10 with 21.2 % + 2 * 0.25 %; density of air at 0 C: CoolProp."""
    found = line(centre, "diluent")
    assert found.depths.maximum_depth_m == pytest.approx((1.2 / 0.217 - 1.0) * 10.0)
    bar = 1.0 + found.depths.maximum_depth_m / 10.0
    assert found.depths.density_g_l == pytest.approx(PropsSI("D", "P", bar * 1e5, "T", 273.15, "Air"), rel=0.01)


def test_equivalent_depths_stand_at_the_maximum_depth_and_the_gas_is_thick_before_it(centre: GasCentre) -> None:
    key = centre.cylinders["bailout"]
    line = cylinder_page(centre.workplace, key).line
    oxygen, depth = line.state.gas.oxygen, line.depths.maximum_depth_m
    # (D + 10) * nitrogen/0.79 - 10, US Navy working fraction; narcotic: oxygen counted like nitrogen, common practice.
    assert line.depths.equivalent_m == pytest.approx(((depth + 10) * (1 - oxygen) / 0.79 - 10, depth))
    # Air of 1.276 g/L a bar at 0 C (1.293 at 1.01325 bar, handbook value) is 5.2 g/L at 30.7 m and 6.2 at 38.6 m.
    assert line.depths.dense_at_m == pytest.approx((30.7, 38.6), abs=0.4)


def test_where_and_with_whom(centre: GasCentre) -> None:
    assert (line(centre, "oxygen").unit, line(centre, "oxygen").slot) == ("LK-01", "oxygen cylinder")
    assert line(centre, "oxygen").with_whom is None
    assert line(centre, "oxygen").needed_on == centre.today
    centre.book(centre.one, 0, 2, "H-9", out_at=centre.ago(0.01))
    assert line(centre, "oxygen").with_whom == "Odo Brandt, H-9"


def test_what_was_used_since_shows_no_contents_and_wants_gas(centre: GasCentre) -> None:
    centre.later(days=1)
    centre.book(centre.one, -1, 0, "H-9", out_at=centre.ago(0.5), received_at=centre.ago(0.1))
    found = line(centre, "oxygen")
    assert (found.state.now_bar, found.state.bar, found.content_l, found.wants_gas) == (None, 186.0, None, True)
    record_pressures(centre.workplace, {found.part.part_id: 120.0})
    assert (line(centre, "oxygen").state.now_bar, line(centre, "oxygen").wants_gas) == (120.0, True)


def test_the_station_offers_what_wants_gas_and_puts_what_is_needed_first_in_front(centre: GasCentre) -> None:
    record_pressures(centre.workplace, {centre.cylinders["bailout"]: 100.0})
    offered = to_fill(gas_station(centre.workplace).lines)
    assert offered[0].part.label == "B-1"
    assert {each.part.label for each in offered[1:]} == {f"{letter}-{n}" for letter in "ODB" for n in (2, 3, 4, 5)}
    centre.fill("bailout")
    assert [each.part.label for each in to_analyse(gas_station(centre.workplace).lines)] == ["B-1"]
    station = gas_station(centre.workplace)
    assert station.batch == "B1"
    assert [each.name for each in station.analysers] == ["Bench analyser AN-1"]


def test_the_label_states_the_analysed_gas_only(centre: GasCentre) -> None:
    label = cylinder_label(centre.workplace, centre.cylinders["diluent"])
    assert label.state.gas is not None
    assert (label.state.facts.role, label.state.gas.oxygen, label.breathable) == ("diluent", pytest.approx(0.212), True)
    centre.fill("diluent")
    label = cylinder_label(centre.workplace, centre.cylinders["diluent"])
    assert (label.state.gas, label.depths.maximum_depth_m, label.breathable) == (None, None, None)


def test_lean_gas_is_not_breathable_at_the_surface(centre: GasCentre) -> None:
    """Under 16 % oxygen: common practice, no published source."""
    centre.fill("diluent", oxygen_percent=12.0, helium_percent=60.0)
    centre.later(minutes=20)
    centre.analyse("diluent", oxygen_percent=12.1, helium_percent=60.0)
    found = line(centre, "diluent")
    assert found.state.gas is not None
    assert found.state.gas.fractions == pytest.approx(Mixture(0.121, 0.6).fractions)
    assert cylinder_label(centre.workplace, found.part.part_id).breathable is False


def test_the_page_tells_fills_analyses_tests_limits_and_the_certificate(anywhere: GasCentre) -> None:
    centre = anywhere
    enter_certificate(centre.workplace, batch="B1", gas="oxygen", issued_on=centre.today, values={"oxygen": 99.7})
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2, clean bench")
    page = cylinder_page(centre.workplace, centre.cylinders["oxygen"])
    assert [(fill.end_bar, who) for fill, who in page.fills] == [(186.0, "Tamsin Orrel")]
    assert [seen.oxygen_percent for seen, _ in page.analyses] == [99.6]
    assert page.tests[0][0].kind == "oxygen clean"
    assert page.tests[0][1] == "bath 2, clean bench"
    assert {each.limit.test_kind for each in page.limits} == {"hydrostatic", "visual", "oxygen clean"}
    assert page.certificate_of == "batch B1"
    assert page.certificate[0].field == "oxygen"
    with pytest.raises(NotFound):
        cylinder_page(centre.workplace, centre.regulator)


def test_the_list_takes_as_many_statements_for_seventy_cylinders_as_for_fifteen(
    centre: GasCentre, sample_workplace: Workplace
) -> None:
    with counted(centre.workplace) as few:
        assert len(list_cylinders(centre.workplace)) == 15
    with counted(sample_workplace) as many:
        assert len(list_cylinders(sample_workplace)) == 70
    assert len(few) == len(many)


def test_the_sample_fleet_has_cylinders_analysed_used_since_and_past_their_test(sample_workplace: Workplace) -> None:
    lines = list_cylinders(sample_workplace)
    assert any(each.state.now_bar is not None and each.state.gas is not None for each in lines)
    assert any(each.state.used_at is not None and each.state.now_bar is None for each in lines)
    assert any(each.test_state == "past" for each in lines)
    assert any(each.with_whom is not None for each in lines)

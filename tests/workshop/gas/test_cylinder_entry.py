"""Cylinders taken in with their stamps, and the intervals of a local rule."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from sqlalchemy import func, select

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.parts.tables import Part, PartTest
from fleetbench.records.places.tables import Limit
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import (
    NewCylinder,
    cylinder_choices,
    receive_cylinder,
    role_of,
    set_own_rule,
    specification_of,
)
from fleetbench.workshop.gas.list import cylinder_page
from tests.centres.gas_centre import GasCentre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


NEW = NewCylinder(
    code="CYL-D", serial="D-77", role="diluent", size_l=3.0, working_bar=232.0, material="aluminium",
    made=MarkedDate.parse("2024-03"), hydrostatic=MarkedDate.parse("2024-03"), visual=MarkedDate.parse("2026-02-10"),
)  # fmt: skip


def test_a_cylinder_is_taken_in_with_its_stamps_and_stands_in_test(centre: GasCentre) -> None:
    assert role_of(cylinder_choices(centre.workplace).types[0].kind) in ("oxygen", "diluent", "bailout")
    page = cylinder_page(centre.workplace, receive_cylinder(centre.workplace, NEW))
    # Hydrostatic of March 2024 by 60 months, visual of 10 February 2026 by 30: the day before the anniversary; a
    # stamp of a month counts from its first day. Common practice, no published source.
    assert {each.limit.test_kind: each.day for each in page.limits} == {
        "hydrostatic": date(2029, 2, 28), "visual": date(2028, 8, 9),
    }  # fmt: skip
    assert (page.line.state.facts.owner, page.line.state.facts.material, page.line.state.gas) == (
        "the centre",
        "aluminium",
        None,
    )
    assert {each.done_by for each, _ in page.tests} == {"as stamped"}


def test_a_part_that_is_recorded_already_is_only_entered_as_a_cylinder(centre: GasCentre) -> None:
    with centre.act() as act:
        part = centre._part(act, "CYL-D", "D-77")
    assert receive_cylinder(centre.workplace, NEW) == part
    with pytest.raises(Refused, match="is entered as a cylinder already"):
        receive_cylinder(centre.workplace, NEW)


REFUSED: tuple[tuple[dict[str, Any], str], ...] = (
    ({"serial": " "}, "serial: is empty"),
    ({"working_bar": 2320.0}, "working pressure: 2320 is outside"),
    ({"size_l": 0.0}, "size: 0 is outside"),
    ({"role": "nitrox"}, "role: 'nitrox' is not known"),
    ({"visual": MarkedDate.parse("2031-01")}, "visual: 2031-01 lies ahead"),
    ({"hydrostatic": MarkedDate.parse("2020-01")}, "hydrostatic: 2020-01 lies before it was made, 2024-03"),
)


def test_what_no_cylinder_has_is_refused_before_anything_is_written(centre: GasCentre) -> None:
    def counted() -> list[int | None]:
        with centre.workplace.database.read_session() as session:
            return [session.scalar(select(func.count()).select_from(table)) for table in (Part, Cylinder, PartTest)]

    before = counted()
    for changed, said in REFUSED:
        with pytest.raises(Refused, match=said):
            receive_cylinder(centre.workplace, replace(NEW, **changed))
    assert counted() == before


def test_a_local_rule_is_kept_with_its_name_and_date_and_moves_every_last_good_day(centre: GasCentre) -> None:
    set_own_rule(centre.workplace, "CYL-D", rule="national ordinance, invented", edition="as of 2024-01-01",
                 hydrostatic_months=24, visual_months=12)  # fmt: skip
    page = cylinder_page(centre.workplace, centre.cylinders["diluent"])
    # Tested on 1 September 2025: 24 and 12 months end the day before the anniversary.
    found = {each.limit.test_kind: (each.day, each.limit.source) for each in page.limits}
    assert found["hydrostatic"][0] == date(2027, 8, 31)
    assert found["hydrostatic"][1] == "national ordinance, invented, as of 2024-01-01; entered by the centre"
    assert found["visual"][0] == date(2026, 8, 31)
    with pytest.raises(Refused, match="date of the rule: is empty"):
        set_own_rule(centre.workplace, "CYL-D", rule="x", edition="", hydrostatic_months=24, visual_months=12)
    with pytest.raises(Refused, match="visual months: 30 is outside"):
        set_own_rule(centre.workplace, "CYL-D", rule="x", edition="y", hydrostatic_months=24, visual_months=30)


def test_the_lines_of_a_certificate_stand_with_the_centres_own_limits(centre: GasCentre) -> None:
    with centre.act() as act:
        act.add(Limit(name="oxygen carbon dioxide most", amount=5.0, unit="ppm", source="invented"))
    lines = {each.what: each for each in specification_of(centre.workplace, "oxygen").lines}
    # MIL-PRF-27210 type I, US Navy Diving Manual Table 4-3: oxygen at least 99.5 %, water at most 7 ppm.
    assert (lines["oxygen"].least, lines["water"].most, lines["carbon dioxide"].most) == (99.5, 7.0, 5.0)

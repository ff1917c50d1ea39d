"""The register of test equipment: what it takes, what it refuses, and what out of date means there."""

from datetime import date, timedelta
from typing import Any

import pytest

from fleetbench.calc.core.plausible import Tool
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.bench.equipment import (
    UNITS_OF,
    add_equipment,
    certify_equipment,
    factor_between,
    list_equipment,
    tool_chosen,
    tools_for,
)
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import write_centre

NEW: dict[str, Any] = {
    "kind": "gauge", "name": "New gauge", "serial": "G-77", "uncertainty": 0.05, "unit": "bar",
    "last_good_day": date(2027, 1, 31), "digit": 0.02,
}  # fmt: skip


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> Workplace:
    """The small centre with its manager at the bench."""
    return workplace.as_person(write_centre(workplace.database, clock()).manager)


def row(bench: Workplace, serial: str) -> Any:
    return next(each for each in list_equipment(bench) if each.tool.serial == serial)


def test_a_new_piece_stands_in_the_register_with_its_figures(bench: Workplace) -> None:
    add_equipment(bench, **NEW)
    found = row(bench, "G-77")
    assert (found.tool.kind, found.tool.uncertainty, found.tool.digit, found.state, found.last_used_at) == (
        "gauge",
        0.05,
        0.02,
        "good",
        None,
    )


@pytest.mark.parametrize(("left", "state"), [(31, "good"), (30, "due soon"), (0, "due soon"), (-1, "past")])
def test_the_last_good_day_is_inclusive(bench: Workplace, left: int, state: str) -> None:
    add_equipment(bench, **{**NEW, "last_good_day": bench.today() + timedelta(days=left)})
    assert row(bench, "G-77").state == state
    assert row(bench, "G-77").in_date is (left >= 0)


def test_a_piece_without_a_last_good_day_is_not_known_to_be_in_date(bench: Workplace) -> None:
    add_equipment(bench, **{**NEW, "last_good_day": None})
    assert (row(bench, "G-77").state, row(bench, "G-77").in_date) == ("unknown", None)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"kind": "crystal ball"}, "kind"),
        ({"name": "  "}, "name"),
        ({"serial": ""}, "serial"),
        ({"serial": "AN-1"}, "serial"),
        ({"uncertainty": 0.0}, "uncertainty"),
        ({"uncertainty": -0.1}, "uncertainty"),
        ({"uncertainty": float("nan")}, "uncertainty"),
        ({"digit": 0.0}, "digit"),
        ({"unit": "psi"}, "unit"),
        ({"unit": None}, "unit"),
        ({"unit": "mL/min"}, "unit"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_field(bench: Workplace, changed: dict[str, Any], field: str) -> None:
    before = list_equipment(bench)
    with pytest.raises(Refused, match=f"^{field}: "):
        add_equipment(bench, **{**NEW, **changed})
    assert list_equipment(bench) == before


def test_a_new_certificate_makes_a_piece_good_again(bench: Workplace) -> None:
    key = add_equipment(bench, **{**NEW, "last_good_day": bench.today() - timedelta(days=3)})
    certify_equipment(bench, key, last_good_day=date(2027, 5, 3), uncertainty=0.04, digit=0.02)
    assert (row(bench, "G-77").state, row(bench, "G-77").tool.uncertainty) == ("good", 0.04)


def test_every_kind_has_its_units() -> None:
    assert set(UNITS_OF) == set(Tool)


def test_figures_are_turned_into_the_readings_unit_and_never_into_another_kind_of_unit(bench: Workplace) -> None:
    # SI: 1 bar = 1000 mbar, 1 L = 1000 mL.
    add_equipment(bench, **NEW)
    found = row(bench, "G-77").instrument("mbar")
    assert (found.uncertainty, found.digit) == (pytest.approx(50.0), pytest.approx(20.0))
    assert row(bench, "G-77").instrument("L/min").uncertainty is None
    assert (factor_between("mL/min", "L/min"), factor_between(None, "bar")) == (pytest.approx(1e-3), None)
    # NIST Special Publication 811 (2008), appendix B.8: psi to kPa, and lb to kg, which is exact; from memory.
    assert factor_between("psi", "kPa") == pytest.approx(6.894757, rel=1e-7)
    assert (factor_between("lb", "kg"), factor_between("psi", "g")) == (pytest.approx(0.45359237, rel=1e-12), None)


def test_only_pieces_that_can_read_in_the_tests_unit_are_offered_the_best_first(bench: Workplace) -> None:
    today = bench.today()
    for serial, unit, days in (
        ("L", "L/min", 90), ("M", "mL/min", 90), ("V", "mL", 90), ("N", None, 90), ("O", "mL/min", -1)
    ):  # fmt: skip
        add_equipment(bench, kind="flow meter", name="Meter", serial=serial, unit=unit, uncertainty=1 if unit else None,
                      last_good_day=today + timedelta(days=days))  # fmt: skip
    register = list_equipment(bench)
    flow = tools_for(register, "flow meter", "mL/min")
    assert [each.tool.serial for each in flow] == ["M", "L", "N", "O"]
    volume = tools_for(register, "flow meter", "mL")
    assert [each.tool.serial for each in volume] == ["V", "N"]
    key = {each.tool.serial: each.tool.equipment_id for each in register}
    keys = [each.tool.equipment_id for each in flow]
    assert tool_chosen(keys, (key["V"], key["L"], key["M"])) == key["L"], "the last one used that fits"
    assert tool_chosen(keys, (key["V"],)) is None, "several fit, so it is asked"
    assert tool_chosen(keys[:1], ()) == key["M"], "only one there is"

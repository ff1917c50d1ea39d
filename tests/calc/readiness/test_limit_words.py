"""The limits that the program goes by: their names, which of two is in force, and what is said of an unknown one."""

from dataclasses import dataclass

import pytest

from fleetbench.calc.gas.cylinders import SPECIFICATIONS
from fleetbench.calc.readiness.limits import (
    BY_NAME,
    FRESHNESS,
    LIMITS,
    Scope,
    Stricter,
    in_force,
    is_looser,
    limit_fault,
    not_known,
)


@dataclass(frozen=True)
class Stated:
    name: str
    amount: float
    unit_type_id: int | None = None
    part_type_id: int | None = None


def test_every_name_stands_once_and_has_help() -> None:
    assert len(BY_NAME) == len(LIMITS)
    assert all(each.help and each.scopes and each.units for each in LIMITS)


@pytest.mark.parametrize(
    ("name", "older", "newer", "amount"),
    [
        ("minimum mass", 2300.0, 2000.0, 2300.0),  # less absorbent is looser
        ("minimum mass", 2000.0, 2300.0, 2300.0),
        ("hours since opened", 720.0, 1000.0, 720.0),  # longer is looser
        ("hours since opened", 720.0, 24.0, 24.0),
        ("bench hours a day", 8.0, 4.0, 4.0),  # neither is stricter: the newest
        ("bench hours a day", 4.0, 8.0, 8.0),
    ],
)
def test_of_two_the_stricter_is_in_force_whichever_came_first(
    name: str, older: float, newer: float, amount: float
) -> None:
    (found,) = in_force([Stated(name, older, part_type_id=1), Stated(name, newer, part_type_id=1)])
    assert found.amount == amount


def test_limits_of_other_things_stand_beside_each_other() -> None:
    stated = [Stated("turn-round nights", 1), Stated("turn-round nights", 2, unit_type_id=1), Stated("full mass", 1)]
    assert in_force(stated) == tuple(stated)


def test_every_maximum_is_looser_when_higher_and_every_minimum_when_lower() -> None:
    ends = [each for each in LIMITS if each.name.endswith((" low", " high", " least", " most"))]
    assert len(ends) > 100
    for each in ends:
        upper = each.name.endswith((" high", " most"))
        assert each.stricter is (Stricter.LOWER if upper else Stricter.HIGHER)
        assert is_looser(each.name, 2.0, 1.0) is upper


def test_an_unknown_name_is_answered_with_the_nearest_and_the_list() -> None:
    column, words = limit_fault("cell air minimum", "mV", Scope.PART_TYPE) or ("", "")
    assert column == "name" and "did you mean 'cell air" in words and "oxygen reserve" in words
    assert "did you mean" not in not_known("zzz", ["cell", "head"], "kind")


def test_every_line_of_a_gas_specification_can_be_stated_by_the_centre() -> None:
    lines = [f"{gas} {line.what}" for gas, kind in SPECIFICATIONS.items() for line in kind.lines]
    assert len(lines) > 10
    assert {f"{line} {end}" for line in lines for end in ("least", "most")} <= BY_NAME.keys()


def test_every_age_of_a_check_can_be_stated() -> None:
    assert {name for each in FRESHNESS for name in (each, f"{each} advise")} <= BY_NAME.keys()

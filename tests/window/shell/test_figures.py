"""Which fields of the window take a measured figure is held against the source: none is left out unsaid."""

import ast
from collections.abc import Iterator
from pathlib import Path

import fleetbench.window
from fleetbench.calc.core import plausible
from fleetbench.calc.core.plausible import Quantity, Tool
from fleetbench.calc.tickets.steps import PlanStep, meter_of

NOT_MEASURED = {
    "planned": {"altitude of the dive site", "name", "diluent oxygen", "diluent helium", "water", "depth", "days",
                "bench hours a day"},
    "counted, booked or worked": {"pieces", "price", "Deposit back", "wanted", "counted", "quantity", "least",
                                  "minutes", "years", "a_day", "dives"},
    "stated by a maker, a rule or a certificate": {
        "size_l", "working_bar", "visual_months", "months", "use_within_hours", "amount", "uncertainty", "digit",
        "range_low", "range_high",
        "_name(gas, line)", "f'years of {kind}'",
    },
}  # fmt: skip
"""Fields without a quantity, by what is entered there in place of a reading."""


def bare_fields(source: str) -> Iterator[str]:
    """The names of fields for figures that are given no quantity, as the source says them."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.id if isinstance(node.func, ast.Name) else ""
        is_figure = called == "DecimalField" or (
            called == "Field"
            and any(isinstance(each, ast.Constant) and each.value in ("figure", "whole") for each in node.args)
        )
        if is_figure and not any(each.arg == "quantity" for each in node.keywords):
            name = node.args[0]
            yield str(name.value) if isinstance(name, ast.Constant) else ast.unparse(name)


def test_every_field_for_a_figure_has_its_quantity_or_a_reason_why_nothing_is_measured_there() -> None:
    root = Path(fleetbench.window.__path__[0])
    bare = {name for path in root.rglob("*.py") for name in bare_fields(path.read_text("utf-8"))}
    assert bare == set().union(*NOT_MEASURED.values())


NO_METER = {
    "shown by a handset, a sensor or a reader of the unit; a bench meter beside it is offered by the grid": {
        "AIR_MV", "OXYGEN_MV", "POT_MV", "ZERO_MV", "SHOWN_PO2", "SHOWN_CO2", "STICK", "SHOWN_DEPTH", "FRACTION_SET",
    },
    "told by the diver or the diver's computer of a dive": {
        "LOOP_MINUTES", "HIRE_MINUTES", "DEPTH", "WATER", "SEEN_AT_6M",
    },
    "a time by the clock or from a maker's page": {"CONTACT_MINUTES", "WATCHED"},
    "counted": {"PULSES", "CHARGES"},
    "of a vessel, by its marking": {"TEST_VOLUME"},
    "read with the tool of its bench test, which offers it": {"BACK_LEAK", "OPENING", "PULSED"},
}  # fmt: skip
"""Quantities that no kind of equipment reads by itself, by why."""


def test_every_quantity_is_read_by_a_kind_of_the_register_or_has_a_reason_why_none_does() -> None:
    quantities = {name: each for name, each in vars(plausible).items() if isinstance(each, Quantity)}
    bare = {name for name, each in quantities.items() if not each.read_with}
    assert bare == set().union(*NO_METER.values())
    assert {each.read_with for each in quantities.values() if each.read_with} <= set(Tool)


def test_every_field_that_knows_a_quantity_takes_a_meter_and_nothing_else_of_the_window_reads_figures() -> None:
    """A field is `MeteredField`; a grid's cells are `EntryTable`'s, which asks a meter by the cell's quantity."""
    root, apart, parsed = Path(fleetbench.window.__path__[0]), set(), set()
    for path in root.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef) and any(ast.unparse(each) == "ExpectingField" for each in node.bases):
                apart.add(node.name)
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "written_figure":
                parsed.add(path.relative_to(root).as_posix())
    assert apart == {"MeteredField"}
    planned = {"gas/fill_grid.py"}  # the mix that is asked for
    assert parsed == {"forms/fields.py", "lists/entry_table.py"} | planned


def test_the_figure_of_a_service_step_is_offered_the_meter_that_fits_its_name_or_unit() -> None:
    def of(what: str, unit: str, kind: str = "figure") -> str:
        return meter_of(PlanStep(kind=kind, text="x", source="x", what=what, unit=unit))

    assert {of("Zwischendruck", "bar"), of("supply", "psi"), of("supply", "kPa")} == {"gauge or manometer"}
    assert (of("room pressure", "hPa"), of("supply", "V"), of("water bath", "°C")) == (
        "barometer", "bench meter", "thermometer",
    )  # fmt: skip
    assert (of("helium in diluent", "%"), of("oxygen in bank", "%"), of("travel", "%")) == (
        "helium analyser", "analyser", "",
    )  # fmt: skip
    assert of("pO2 shown by handset 1", "bar") == of("cover screws", "N·m", "torque") == of("wear", "mm") == ""
    told = " or ".join(of(*each) for each in (("a", "bar"), ("a", "g"), ("a", "mL/min"), ("room", "mbar")))
    assert set(told.split(" or ")) <= set(Tool)

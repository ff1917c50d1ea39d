"""Which fields of the window take a measured figure is held against the source: none is left out unsaid."""

import ast
from collections.abc import Iterator
from pathlib import Path

import fleetbench.window

NOT_MEASURED = {
    "planned": {"altitude of the dive site", "name", "diluent oxygen", "diluent helium", "water", "depth", "days",
                "bench hours a day"},
    "counted, booked or worked": {"pieces", "price", "Deposit back", "wanted", "counted", "quantity", "least",
                                  "minutes", "years", "a_day"},
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

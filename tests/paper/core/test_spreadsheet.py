"""What a cell of a saved list is: a number, a day or a text, and never a formula."""

from datetime import date

import pytest

from fleetbench.paper.core.spreadsheet import Cell, shown_cell


@pytest.mark.parametrize(
    ("text", "figure", "cell"),
    [
        ("12", True, 12), ("−0.5", True, -0.5), ("12", False, "12"), ("0012", True, "0012"), ("1,234", True, "1,234"),
        ("10.4 mV", True, "10.4 mV"), ("2026-05-04", False, date(2026, 5, 4)), ("2026-02-31", False, "2026-02-31"),
        ("=1+1", True, "=1+1"), ("", True, ""), ("1e5", True, "1e5"),
    ],
)  # fmt: skip
def test_a_figure_is_a_number_and_a_serial_with_leading_zeros_stays_a_text(text: str, figure: bool, cell: Cell) -> None:
    assert (shown_cell(text, figure), type(shown_cell(text, figure))) == (cell, type(cell))

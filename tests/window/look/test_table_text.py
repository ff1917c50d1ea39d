import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.window.look.words import neutral, tab_separated


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@sum", "\tx", " =1", "\n=1"])
def test_a_cell_that_a_spreadsheet_would_run_gets_an_apostrophe(cell: str) -> None:
    # common practice against formula injection, no published source
    assert neutral(cell).startswith("'")


@pytest.mark.parametrize("cell", ["U-03", "10.4 mV", "cell 1", "", "−3 °C"])
def test_an_ordinary_cell_is_left_alone(cell: str) -> None:
    assert neutral(cell) == cell


@given(st.lists(st.lists(st.text(), min_size=2, max_size=2), max_size=4))
def test_whatever_is_recorded_the_table_keeps_its_lines_and_columns(rows: list[list[str]]) -> None:
    lines = list(csv.reader(io.StringIO(tab_separated(["a", "b"], rows)), delimiter="\t", quoting=csv.QUOTE_NONE))
    assert [len(line) for line in lines] == [2] * (len(rows) + 1)
    assert not [cell for line in lines for cell in line if cell.startswith(("=", "+", "-", "@"))]

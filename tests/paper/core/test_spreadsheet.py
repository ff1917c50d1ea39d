"""What a cell of a saved list is: a number, a day or a text, and never a formula."""

import io
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest

from fleetbench.paper.core.document import Letterhead, PageSize
from fleetbench.paper.core.spreadsheet import Cell, shown_cell, write_xlsx
from fleetbench.records.core.plain_file import Target
from tests.paper.pdf_reader import made
from tests.paper.sample_pages import LETTERHEAD


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


@pytest.mark.parametrize(("size", "code"), [(PageSize.A4, "9"), (PageSize.LETTER, "1")])
def test_a_wide_list_prints_lying_on_its_paper_with_its_titles_on_each_page(size: PageSize, code: str) -> None:
    """Page setup of a sheet, read from the file itself: ECMA-376-1, 18.3.1.63 and 18.18.50 (9: A4, 1: Letter)."""
    rows = [tuple("a rather long text of a cell" for _ in range(20)) for _ in range(200)]
    head = replace(LETTERHEAD, size=size)
    file = zipfile.ZipFile(io.BytesIO(made(write_list, rows, head=head)))
    sheet = file.read("xl/worksheets/sheet1.xml").decode()
    for said in ('orientation="landscape"', f'paperSize="{code}"', 'fitToHeight="0"', 'fitToPage="1"'):
        assert said in sheet
    assert "'List'!$1:$1" in file.read("xl/workbook.xml").decode()


def write_list(rows: Sequence[Sequence[str]], target: Target, *, head: Letterhead) -> None:
    write_xlsx({"List": (tuple(map(str, range(20))), rows)}, target, title="List", head=head)

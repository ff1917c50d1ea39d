"""CSV and XLSX of the due list, read back with the standard library, pandas and openpyxl."""

import csv
import io
import shutil
import subprocess
from datetime import datetime
from pathlib import Path

import openpyxl
import pandas
import pytest

from fleetbench.paper.core.spreadsheet import neutral
from fleetbench.paper.due.exports import write_due_csv, write_due_xlsx
from tests.paper import sample_pages
from tests.paper.pdf_reader import made

_FORMULAE = ["=1+1", "+1", "-cmd", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "=cmd|' /C calc'!A0"]


@pytest.mark.parametrize("text", _FORMULAE)
def test_a_text_that_looks_like_a_formula_is_neutralised(text: str) -> None:
    assert neutral(text).startswith("'")


@pytest.mark.parametrize("text", ["cell 2", "'quoted", "a=b", "", "Łucja"])
def test_other_texts_stay_as_they_are(text: str) -> None:
    assert neutral(text) == text


def test_csv_read_by_pandas_holds_every_item() -> None:
    page = sample_pages.due(24)
    table = pandas.read_csv(io.BytesIO(made(write_due_csv, page)), dtype=str, keep_default_na=False)
    assert list(table["record"]) == [name for _, name in page.named]
    assert table.loc[3, "last valid day"] == "2026-05-10" and table.loc[3, "days left"] == "3"
    assert table.loc[24, "last valid day"] == "not recorded"
    assert table.loc[0, "days left"] == "-6", "a figure of ours stays a figure"


def test_no_cell_of_a_hostile_csv_begins_like_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(made(write_due_csv, sample_pages.due_hostile()).decode("utf-8-sig"))))
    assert len({len(row) for row in rows}) == 1 and len(rows) == 41
    for row in rows[1:]:
        for column, cell in enumerate(row):
            assert column == 1 or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


def test_csv_gives_the_same_bytes_twice() -> None:
    assert made(write_due_csv, sample_pages.due()) == made(write_due_csv, sample_pages.due())


def test_xlsx_reopened_has_dates_figures_and_strings() -> None:
    book = openpyxl.load_workbook(io.BytesIO(made(write_due_xlsx, sample_pages.due())))
    sheet = book["due"]
    assert sheet.max_row == 26 and sheet.freeze_panes == "A2"
    assert sheet["A3"].value == datetime(2026, 5, 4) and sheet["A3"].number_format == "yyyy-mm-dd"
    assert sheet["B2"].value == -6 and sheet["A26"].value == "not recorded"
    assert [cell.value for cell in book["fetch"][2]][:2] == ["oxygen cell, type A", 6]


def test_no_cell_of_a_hostile_xlsx_is_a_formula_and_its_text_is_whole() -> None:
    page = sample_pages.due_hostile()
    book = openpyxl.load_workbook(io.BytesIO(made(write_due_xlsx, page)))
    cells = [cell for row in book["due"].iter_rows(min_row=2) for cell in row]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    item = book["due"]["H2"]
    assert item.data_type == "s" and item.value.startswith("=<b>bold</b>") and item.quotePrefix


def test_a_text_longer_than_a_cell_may_hold_is_cut_not_refused() -> None:
    page = sample_pages.due(0, items=(sample_pages.due_line(1, item="x" * 40_000),))
    book = openpyxl.load_workbook(io.BytesIO(made(write_due_xlsx, page)))
    assert len(book["due"]["H2"].value) == 32_767


@pytest.mark.timeout(180)
@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice Calc is not installed")
def test_the_xlsx_opens_in_libreoffice_calc_with_every_row_and_no_text_taken_for_a_formula(tmp_path: Path) -> None:
    pages = {"plain": sample_pages.due(24), "hostile": sample_pages.due_hostile()}
    for name, page in pages.items():
        (tmp_path / f"{name}.xlsx").write_bytes(made(write_due_xlsx, page))
    # Fields by comma, UTF-8 (76), texts as shown, and -1 for a file a sheet: the CSV filter's own options.
    options = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless", "--convert-to", options,
         "--outdir", str(tmp_path), *(str(tmp_path / f"{name}.xlsx") for name in pages)],
        check=True, capture_output=True, timeout=170,
    )  # fmt: skip
    for name, page in pages.items():
        rows = list(csv.DictReader(io.StringIO((tmp_path / f"{name}-due.csv").read_text("utf-8"))))
        assert [row["record"] for row in rows] == [name for _, name in page.named]
        for row, line in zip(rows, page.items, strict=True):
            day = line.last_good_day
            assert row["last valid day"] == (f"{day:%Y-%m-%d}" if day else "not recorded")
            # Control marks are no part of a cell's text; everything that can be read is, formulae as the text they are.
            assert _readable(row["item"]) == _readable(line.item)
            assert "Err:" not in "".join(row.values()) and "#NAME" not in "".join(row.values())
    assert (tmp_path / "plain-fetch.csv").read_text("utf-8").startswith("part type,wanted")


def _readable(text: str) -> str:
    return "".join(letter for letter in text if letter.isprintable() and letter != " ")

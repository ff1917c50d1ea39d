"""The order list on paper and as CSV."""

import csv
import io
from dataclasses import replace
from datetime import date

from openpyxl import load_workbook

from fleetbench.paper.parts.pages import write_order_list, write_order_table
from fleetbench.workshop.parts.orders import OrderLine
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, texts
from tests.paper.sample_pages import LETTERHEAD

TODAY = date(2026, 5, 7)
ROW = Distinct().row(
    OrderLine, part_type="Oxygen cell A", code="CELL-A", stocked_in="piece", on_hand=10, usable=9, reserved=2,
    expiring=1, need=14.94, safety=2.1, short_on=date(2026, 5, 28), order_on=TODAY, late_by=0, quantity=9, packs=3,
    pack_size=3, lead_days=21, cost=702.0, why=("failures: by the age at which they failed, 36 failed",),
    supplier="Quay Stores",
)  # fmt: skip


def text_of(*rows: OrderLine) -> str:
    pdf = made(write_order_list, rows, on=TODAY, through=date(2026, 8, 5), service_level=0.95)
    return " ".join(texts(pdf))


def test_a_line_says_what_is_there_what_is_needed_and_how_many_packs_to_order() -> None:
    text = text_of(ROW)
    for said in ("Order today, 2026-05-07", "Oxygen cell A", "14.9", "2026-05-28", "9 (3 x 3)", "21 d", "702.00",
                 "36 failed", "chance of 95%"):  # fmt: skip
        assert said in text


def test_absorbent_stands_in_kilograms() -> None:
    lime = replace(ROW, part_type="Absorbent", stocked_in="kg", usable=26.5, quantity=100, packs=5, pack_size=20)
    text = text_of(lime)
    assert "26.5 kg" in text and "100 kg (5 x" in text


def test_days_stand_in_sections_and_what_comes_too_late_is_counted() -> None:
    later = replace(ROW, part_type="Solenoid", order_on=date(2026, 6, 1), late_by=4, cost=None)
    text = text_of(ROW, later)
    assert text.index("Order today") < text.index("Order by 2026-06-01")
    assert "1 too late for the need" in text and "1 without a price" in text and "2026-05-28, late" in text


def test_part_types_with_nothing_to_order_stand_in_the_csv_only() -> None:
    idle = replace(ROW, part_type="Wing", order_on=None, quantity=0, packs=0)
    assert "Wing" not in text_of(ROW, idle)
    assert "Nothing is to order" in text_of(idle)
    rows = list(csv.DictReader(io.StringIO(made(write_order_table, [ROW, idle]).decode("utf-8-sig"))))
    assert [row["order on"] for row in rows] == ["2026-05-07", "nothing to order"]


def test_a_buyer_finds_the_lines_of_a_day_by_supplier_and_the_unknown_supplier_last() -> None:
    mine = [("Hose", None), ("Wing", "Yard & Co"), ("Seal", "Quay Stores")]
    text = text_of(ROW, *(replace(ROW, part_type=name, supplier=whom) for name, whom in mine))
    order = ("from Quay Stores", "Oxygen cell A", "Seal", "from Yard & Co", "Wing", "supplier not recorded", "Hose")
    assert [text.index(each) for each in order] == sorted(text.index(each) for each in order)
    assert text.count("Order today") == 3


def test_the_spreadsheet_holds_figures_and_days_for_an_office_that_writes_a_comma() -> None:
    """Cells of type n and d hold no decimal sign: ECMA-376 part 1, 18.18.11."""
    sheet = load_workbook(io.BytesIO(made(write_order_table, [ROW], xlsx=True))).active
    titles, row = ([cell.value for cell in line] for line in sheet.iter_rows())
    cells = dict(zip(titles, row, strict=True))
    assert cells["cost"] == 702.0 and cells["need"] == 14.94 and cells["order on"].date() == TODAY
    assert cells["supplier"] == "Quay Stores"


def test_no_cell_of_the_csv_is_a_formula() -> None:
    hostile = replace(ROW, part_type="=1+1", code="@x", why=("+cmd()",))
    text = made(write_order_table, [hostile]).decode("utf-8-sig")
    assert next(iter(list(csv.reader(io.StringIO(text)))[1:]))[1:3] == ["'=1+1", "'@x"]


def test_the_cost_is_in_the_centres_currency_and_its_address_stands_at_the_head() -> None:
    head = replace(LETTERHEAD, address="1 Quay Road, Laketown", currency="EUR")
    pdf = made(write_order_list, [ROW], on=TODAY, through=date(2026, 8, 5), service_level=0.95, head=head)
    text = " ".join(texts(pdf))
    assert "cost 702.00 EUR" in text and f"{LETTERHEAD.centre}, 1 Quay Road, Laketown" in text
    assert "cost, EUR" in made(write_order_table, [ROW], head=head).decode("utf-8-sig").splitlines()[0]

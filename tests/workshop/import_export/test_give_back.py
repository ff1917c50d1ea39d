"""What was brought goes out in the same layout, filled in and current, and no text of it is a formula."""

from pathlib import Path

import pytest
from openpyxl import load_workbook

from fleetbench.printing import give_back
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import RowState, bring, examine
from fleetbench.workshop.import_export.spreadsheet import guessed, open_spreadsheet
from fleetbench.workshop.people.acts import enter_person
from fleetbench.workshop.places.accept import answer
from tests.centres.messy_files import Messy, half_unknown, merged_headers, semicolons
from tests.centres.pins import give_pin


@pytest.mark.parametrize("make", [merged_headers, semicolons, half_unknown])
def test_what_is_given_back_is_read_as_unchanged(workplace: Workplace, tmp_path: Path, make: object) -> None:
    messy: Messy = make(tmp_path, 5)  # type: ignore[operator]
    (table,) = open_spreadsheet(messy.path).tables
    layout = guessed(table)
    unknown = {(ask.row, ask.column): "" for ask in examine(workplace, table, layout, {}).asks}
    bring(workplace, table, layout, unknown, name=messy.path.name)
    target = tmp_path / "back.xlsx"
    assert give_back(workplace, messy.path, layout, table.found.names, target) == len(messy.truth)
    (again,) = open_spreadsheet(target).tables
    assert again.found.names == table.found.names
    examined = examine(workplace, again, guessed(again), {})
    assert {*examined.states.values()} <= {RowState.UNCHANGED, RowState.TO_ASK}
    assert len(examined.asks) <= len(unknown)
    assert examined.changes == ()


def test_a_fact_that_was_looked_up_stands_in_the_file_and_other_cells_stay(
    workplace: Workplace, tmp_path: Path
) -> None:
    messy = merged_headers(tmp_path, 5)
    (table,) = open_spreadsheet(messy.path).tables
    layout = guessed(table)
    unknown = {(ask.row, ask.column): "" for ask in examine(workplace, table, layout, {}).asks}
    bring(workplace, table, layout, unknown, name=messy.path.name)
    answer(workplace, {("R7", "cell 3", "made_on"): "2025-11"})
    give_back(workplace, messy.path, layout, table.found.names, tmp_path / "back.xlsx")
    sheet = load_workbook(tmp_path / "back.xlsx").active
    rows = {row[0].value: [cell.value for cell in row] for row in sheet.iter_rows()}
    place = table.found.names.index("Cell 3 Made")
    assert rows["R7"][place] == "2025-11"
    assert rows["R7"][-1] == "=1+1 hose new"
    assert rows["Rebreathers of the centre"][0] == sheet["A1"].value


def test_a_new_unit_is_added_below_and_a_text_is_never_a_formula(workplace: Workplace, tmp_path: Path) -> None:
    path = tmp_path / "fleet.csv"
    path.write_text("Unit,Serial,Place\nR1,101,Shelf\n", encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    layout = guessed(table)
    bring(workplace, table, layout, {}, name="fleet.csv")
    more = tmp_path / "more.csv"
    more.write_text('Unit,Serial,Place\nR2,"=HYPERLINK(""x"")",@here\n', encoding="utf-8")
    (other,) = open_spreadsheet(more).tables
    bring(workplace, other, guessed(other), {}, name="more.csv")
    give_back(workplace, path, layout, table.found.names, tmp_path / "back.xlsx")
    sheet = load_workbook(tmp_path / "back.xlsx").active
    assert [[cell.value for cell in row] for row in sheet.iter_rows()][1:] == [
        ["R1", "101", "Shelf"], ["R2", '=HYPERLINK("x")', "@here"],
    ]  # fmt: skip
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} == {"s"}


def test_a_spreadsheet_is_imported_by_a_manager_with_their_pin_alone(workplace: Workplace, tmp_path: Path) -> None:
    manager = enter_person(workplace, "M1", "manager", "Ada Morn")
    give_pin(workplace, manager, "2468")
    path = tmp_path / "people.csv"
    path.write_text("Code,Name,Role\nT7,Ivo Lant,technician\n", encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    for transaction, pin, words in ((workplace, "", "person"), (workplace.as_person(manager), "1357", "PIN")):
        with pytest.raises(Refused, match=words):
            bring(transaction, table, guessed(table), {}, name=path.name, pin=pin)
    assert bring(workplace.as_person(manager), table, guessed(table), {}, name=path.name, pin="2468").written

"""Three messy spreadsheets imported by keys and clicks, with the count of answers that each took."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from sqlalchemy import select

from fleetbench.calc.import_export.cells import DateOrder
from fleetbench.calc.import_export.columns import Subject
from fleetbench.records.core.database import Database
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.tables import Booking
from fleetbench.records.parts.tables import Fitting, Part, PartTest
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.places.tables import Place as PlaceTable
from fleetbench.records.units.tables import Slot, Unit, UnitType
from fleetbench.records.upkeep.verify import verify
from fleetbench.window.import_export.columns_table import ANSWER, MEANS, READ_AS
from fleetbench.window.import_export.page import BringInPage
from fleetbench.window.import_export.spreadsheet_view import SpreadsheetView
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import Opened
from fleetbench.window.shell.pictures import sign_in
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import RowState
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.acts import enter_person
from fleetbench.workshop.places.register import history_of, register_rows
from fleetbench.workshop.units.list import Fit, list_units
from tests.centres.messy_files import Messy, Truth, bookings, half_unknown, merged_headers, semicolons

SEED = 4


@pytest.fixture
def workplace(sqlite_database: Database) -> Workplace:
    """A database with one manager in it and nothing else."""
    made = Workplace(sqlite_database)
    return made.as_person(enter_person(made, code="M1", role="manager", name="Mara Example"))


@pytest.fixture
def desk(workplace: Workplace, qtbot: Any) -> Iterator[Desk]:
    made = Desk(lambda: Opened(workplace), "light")
    made.window.show()
    qtbot.waitUntil(lambda: made.window.here == PageKey("today"))
    sign_in(made)
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


@pytest.fixture
def drop(desk: Desk, qtbot: Any) -> Callable[[Path], SpreadsheetView]:
    """Drop a file on the window, as a hand does, and wait until it was looked at."""

    def dropped(path: Path) -> SpreadsheetView:
        said = QMimeData()
        said.setUrls([QUrl.fromLocalFile(str(path))])
        event = QDropEvent(
            QPointF(300, 300), Qt.DropAction.CopyAction, said, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
        )
        desk.window.dropEvent(event)
        assert isinstance(desk.window.page, BringInPage)
        settled(desk.window.page.sheet_view, qtbot)
        return desk.window.page.sheet_view

    return dropped


def settled(view: SpreadsheetView, qtbot: Any) -> None:
    qtbot.waitUntil(lambda: view.examined is not None and not view.is_busy, timeout=20_000)


def click(button: Any, view: SpreadsheetView, qtbot: Any) -> None:
    assert button.isVisible() and button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settled(view, qtbot)


def go_to(view: SpreadsheetView, row: int) -> None:
    view.asks.setCurrentIndex(view.asks.rows.index(row, ANSWER))


def type_answer(view: SpreadsheetView, text: str, qtbot: Any) -> None:
    """Enter opens the answer; what is typed replaces what was likely."""
    qtbot.keyClick(view.asks, Qt.Key.Key_Return)
    editor = view.asks.indexWidget(view.asks.currentIndex()) or view.asks.viewport().focusWidget()
    assert editor is not None
    editor.selectAll()  # type: ignore[attr-defined]
    qtbot.keyClicks(editor, text)
    before = len(view.answers)
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: len(view.answers) > before)
    settled(view, qtbot)


def recorded(workplace: Workplace) -> Truth:
    """The fleet as it is recorded, by tag."""
    fitted = (
        select(Unit.tag, Slot.name, Part.serial, Part.lot, Part.made_on, Part.made_precision)
        .join(Fitting, Fitting.unit_id == Unit.id).join(Slot, Slot.id == Fitting.slot_id)
        .join(Part, Part.id == Fitting.part_id)
    )  # fmt: skip
    units = select(
        Unit.tag, UnitType.code, Unit.serial, Unit.in_service_on, Unit.in_service_precision, PlaceTable.name
    ).join(UnitType, UnitType.id == Unit.unit_type_id).outerjoin(PlaceTable)  # fmt: skip
    cut = {"day": 10, "month": 7, "year": 4, None: 10}
    found: Truth = {}
    with workplace.database.reading() as connection:
        for tag, code, serial, since, precision, place in connection.execute(units):
            day = since.isoformat()[: cut[precision]] if since else None
            found[tag] = {"type": None if code == "not known" else code, "serial": serial, "since": day, "place": place}
        for tag, slot, serial, lot, made, precision in connection.execute(fitted):
            day = made.isoformat()[: cut[precision]] if made else None
            found[tag] |= {f"{slot} serial": serial, f"{slot} lot": lot, f"{slot} made": day}
    return found


def as_known(truth: Truth) -> Truth:
    """The truth without the cells of which nothing at all is known: they make no part."""
    return {
        tag: {
            key: text for key, text in said.items()
            if not key.startswith("cell") or any(said[f"{key[:6]} {each}"] for each in ("serial", "lot", "made"))
        }
        for tag, said in truth.items()
    }  # fmt: skip


def finished(workplace: Workplace) -> None:
    assert verify(workplace.database).first_break is None
    assert rebuild_lives(workplace) == []


def test_merged_headers_and_dates_as_text_take_two_answers(
    drop: Callable[[Path], SpreadsheetView], workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = merged_headers(tmp_path, SEED)
    view = drop(messy.path)
    assert view.examined is not None
    assert (view.examined.count(RowState.NEW), len(view.examined.asks)) == (7, messy.unreadable)
    answers = 0
    go_to(view, 0)
    click(view.yes_button, view, qtbot)  # 31 February: only the month can be true
    answers += 1
    click(view.unknown_button, view, qtbot)  # '?? maybe spring'
    answers += 1
    click(view.import_button, view, qtbot)
    assert recorded(workplace) == messy.truth
    assert answers == 2
    assert {unit.fit for unit in list_units(workplace)} == {Fit.HOLD}
    finished(workplace)


def test_semicolons_decimal_commas_and_cp1252_take_one_answer(
    drop: Callable[[Path], SpreadsheetView], workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = semicolons(tmp_path, SEED)
    view = drop(messy.path)
    assert view.examined is not None and len(view.examined.asks) == 1
    go_to(view, 0)
    type_answer(view, "3,0", qtbot)
    click(view.import_button, view, qtbot)
    with workplace.database.reading() as connection:
        query = select(Part.serial, Cylinder.role, Cylinder.size_l, PartTest.done_on, PlaceTable.name)
        query = query.join(Cylinder, Cylinder.part_id == Part.id).join(PartTest, PartTest.part_id == Part.id)
        rows = connection.execute(query.join(PlaceTable, PlaceTable.id == Part.place_id)).all()
    found = {
        serial: {"role": role, "size": str(size), "tested": str(tested), "place": place}
        for serial, role, size, tested, place in rows
    }
    assert found == messy.truth
    finished(workplace)


def test_a_file_of_which_half_is_unknown_takes_no_answer(
    drop: Callable[[Path], SpreadsheetView], workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = half_unknown(tmp_path, SEED)
    view = drop(messy.path)
    assert view.examined is not None and view.examined.asks == ()
    click(view.import_button, view, qtbot)
    assert recorded(workplace) == as_known(messy.truth)
    finished(workplace)


def test_what_cannot_be_read_is_kept_to_finish_and_never_half_a_row(
    drop: Callable[[Path], SpreadsheetView], desk: Desk, workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = merged_headers(tmp_path, SEED)
    view = drop(messy.path)
    click(view.import_button, view, qtbot)
    assert set(messy.truth) - set(recorded(workplace)) == {"R4", "R7"}
    page = desk.window.page
    assert isinstance(page, BringInPage)
    messy.path.unlink()
    page.kept_box.setCurrentIndex(1)
    page.kept_box.activated.emit(1)
    settled(view, qtbot)
    assert view.examined is not None and len(view.examined.asks) == 2
    view.asks.selectAll()
    click(view.unknown_button, view, qtbot)
    click(view.import_button, view, qtbot)
    assert set(recorded(workplace)) == set(messy.truth)
    assert not page.kept_box.isVisible()


def test_the_same_file_again_is_unchanged_and_a_changed_cell_is_a_change_to_accept(
    drop: Callable[[Path], SpreadsheetView], workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = half_unknown(tmp_path, SEED)
    click(drop(messy.path).import_button, drop(messy.path), qtbot)
    tag, said = next((tag, said) for tag, said in messy.truth.items() if said["serial"])
    again = half_unknown(tmp_path / "..", SEED)
    assert drop(again.path).examined is not None
    view = drop(again.path)
    assert view.layout_of is not None and view.layout_of.remembered
    assert not view.import_button.isEnabled()
    spoil(again, said["serial"] or "", "9999-X")
    view = drop(again.path)
    assert view.examined is not None and [each.after for each in view.examined.changes] == ["9999-X"]
    assert not view.import_button.isEnabled()
    view.accepting.box.click()
    settled(view, qtbot)
    assert view.accepting.moves.text() == "If accepted: No last valid day moves."
    click(view.import_button, view, qtbot)  # without a reason nothing is written
    assert recorded(workplace)[tag]["serial"] == said["serial"]
    qtbot.keyClicks(view.accepting.reason, "read again on the frame")
    click(view.import_button, view, qtbot)
    assert recorded(workplace)[tag]["serial"] == "9999-X"
    unit = next(row for row in register_rows(workplace, "units") if row.shown["tag"] == tag)
    assert history_of(workplace, "units", unit.key)[0][3] == "read again on the frame"
    finished(workplace)


def spoil(messy: Messy, before: str, after: str) -> None:
    """Write one text of the file otherwise."""
    import zipfile

    with zipfile.ZipFile(messy.path) as book:
        held = {name: book.read(name) for name in book.namelist()}
    held["content.xml"] = held["content.xml"].replace(before.encode(), after.encode())
    with zipfile.ZipFile(messy.path, "w") as book:
        for name, data in held.items():
            book.writestr(name, data)


def test_a_meaning_and_an_order_of_dates_are_chosen_from_a_list(
    drop: Callable[[Path], SpreadsheetView], tmp_path: Path, qtbot: Any
) -> None:
    path = tmp_path / "few.csv"
    path.write_text("Unit,Bought,Code\nR1,03/04/2024,77\nR2,05/06/2024,78\n", encoding="utf-8")
    view = drop(path)
    assert view.examined is not None and [ask.name for ask in view.examined.asks] == ["Bought", "Bought"]
    choose(view, 1, READ_AS, str(DateOrder.DAY_FIRST), qtbot)
    assert view.examined.asks == ()
    choose(view, 2, MEANS, "Unit serial", qtbot)
    assert view.columns.rows.row_at(2).means == "Unit serial"
    click(view.import_button, view, qtbot)


def choose(view: SpreadsheetView, row: int, column: int, text: str, qtbot: Any) -> None:
    """Open a cell's list with Enter and take one of it with the keyboard."""
    view.columns.setCurrentIndex(view.columns.rows.index(row, column))
    qtbot.keyClick(view.columns, Qt.Key.Key_Return)
    box = view.columns.indexWidget(view.columns.currentIndex()) or view.columns.viewport().focusWidget()
    assert box is not None
    box.setCurrentText(text)  # type: ignore[attr-defined]
    box.activated.emit(box.currentIndex())  # type: ignore[attr-defined]
    qtbot.wait(20)
    settled(view, qtbot)


@pytest.mark.parametrize("ending", [".pdf", ".csv", ".xlsx"])
def test_the_list_to_finish_is_saved(
    drop: Callable[[Path], SpreadsheetView], tmp_path: Path, qtbot: Any, ending: str
) -> None:
    view = drop(merged_headers(tmp_path, SEED).path)
    path = tmp_path / f"list{ending}"
    with qtbot.waitSignal(view.saving.written, timeout=20_000):
        view.saving.write_to(path)
    assert path.stat().st_size > 100


def test_bookings_of_a_messy_file_take_one_answer_and_a_file_of_the_same_form_is_read_as_it_was_said(
    drop: Callable[[Path], SpreadsheetView], workplace: Workplace, tmp_path: Path, qtbot: Any
) -> None:
    messy = bookings(tmp_path, SEED)
    view = drop(messy.path)
    assert view.layout_of is not None and not view.layout_of.remembered
    if view.layout_of.subject is not Subject.BOOKINGS:
        choose_box(view, qtbot)
    choose(view, 4, MEANS, "Unit type", qtbot)
    assert view.examined is not None and [ask.name for ask in view.examined.asks] == ["Bis"]
    go_to(view, 0)
    type_answer(view, messy.truth["Tomé Ruiz"]["to"] or "", qtbot)
    click(view.import_button, view, qtbot)
    query = select(PersonPrivate.name, Booking.starts_on, Booking.ends_on, Booking.units_wanted)
    with workplace.database.reading() as connection:
        rows = connection.execute(query.join(Booking, Booking.renter_id == PersonPrivate.person_id)).all()
    found = {row.name: {"from": str(row[1]), "to": str(row[2]), "units": str(row[3])} for row in rows}
    assert found == messy.truth
    again = drop(bookings(tmp_path, SEED + 1, "buchungen herbst.csv").path)
    assert again.layout_of is not None and again.layout_of.remembered
    assert again.layout_of.subject is Subject.BOOKINGS and again.columns.rows.row_at(4).means == "Unit type"
    finished(workplace)


def choose_box(view: SpreadsheetView, qtbot: Any) -> None:
    """Say that the rows are bookings."""
    view.subjects.setCurrentText(str(Subject.BOOKINGS))
    view.subjects.activated.emit(view.subjects.currentIndex())
    settled(view, qtbot)

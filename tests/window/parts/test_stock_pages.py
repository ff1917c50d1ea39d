"""Stock, kits and places: counts, what is used up, kits filled up, places and owners entered, by keys and clicks."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.database import Database
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActList
from fleetbench.window.look.theme import Theme
from fleetbench.window.parts import counted as kits
from fleetbench.window.parts import places, stock
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.counted import set_kit_content
from fleetbench.workshop.parts.receive import Delivery, receive_lot
from fleetbench.workshop.parts.stock import add_place
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)

PLAIN = Qt.KeyboardModifier.NoModifier


class Desk:
    """The small centre with five pieces of a lot, a van and a shelf, and pages on it."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database) -> None:
        self.qtbot, self.background = qtbot, background
        clock = Clock(NOW)
        self.workplace = Workplace(database, clock, write_centre(database, NOW).manager)
        self.van, self.shelf = add_place(self.workplace, "Van", "van"), add_place(self.workplace, "Shelf A", "shelf")
        receive_lot(self.workplace, "MPV-L", "M1", 5, Delivery(made=MarkedDate.parse("2026-02"), place_id=self.shelf))
        self.context = PageContext(theme, background, self.workplace, BERLIN)

    def show(self, page: ActList[object]) -> None:
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        page.refresh()
        self.settle()

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=10_000)

    def open(
        self, page: ActList[object], key: Qt.Key, kind: type[ActDialog], held: Qt.KeyboardModifier = PLAIN
    ) -> ActDialog:
        page.table.setFocus()
        QTest.keyClick(page.table, key, held)
        assert isinstance(page.dialog, kind)
        self.settle()
        return page.dialog

    def finish(self, dialog: ActDialog) -> None:
        with self.qtbot.waitSignal(dialog.accepted):
            dialog.act()
        self.settle()


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database) -> Desk:
    """A small centre and its pages."""
    return Desk(qtbot, theme, background, sqlite_database)


def choose(page: stock.StockList, code: str) -> None:
    page.choose(str(next(row.part_type_id for row in page.model.rows if row.code == code)))


def test_stock_says_on_hand_usable_reserved_and_for_what(desk: Desk) -> None:
    open_ticket(desk.workplace, "LK-01", cause="failed test", reason="low", tasks=("Replace all cells",))
    page = stock.list_page(desk.context)
    desk.show(page)
    cells = next(row for row in page.model.rows if row.code == "CELL-L")
    assert (cells.on_hand, cells.usable, cells.reserved, stock.state_of(cells)) == (3, 1, 3, stock.SHORT)
    choose(page, "CELL-L")
    assert page.detail.detail is not None
    facts = [fact.value for part in page.detail.detail.parts if part.title == "Reserved for" for fact in part.facts]
    assert facts == [f"2026-001: LK-01, cell {n}" for n in (1, 2, 3)]
    assert "1 short for tickets" in stock.sum_up(page.model.rows)


def test_a_lot_is_counted_and_used_up_from_the_stock_list_by_key(desk: Desk) -> None:
    page = stock.list_page(desk.context)
    desk.show(page)
    choose(page, "MPV-L")
    dialog = desk.open(page, Qt.Key.Key_S, FormDialog, Qt.KeyboardModifier.ShiftModifier)
    assert isinstance(dialog, FormDialog) and dialog["lot"].currentText() == "M1, 5"
    QTest.keyClicks(dialog["counted"], "4")
    QTest.keyClick(dialog["counted"], Qt.Key.Key_Return)
    QTest.keyClicks(dialog["reason"], "yearly count")
    desk.finish(dialog)
    assert "1 fewer than on record" in page.banner.text
    choose(page, "MPV-L")
    dialog = desk.open(page, Qt.Key.Key_U, FormDialog)
    assert isinstance(dialog, FormDialog)
    QTest.keyClicks(dialog["quantity"], "3")
    dialog["reason"].setText("rebuild")
    desk.finish(dialog)
    assert "3 pieces of Mouthpiece valve MPV-L used up" in page.banner.text
    assert next(row for row in page.model.rows if row.code == "MPV-L").usable == 1


def test_more_than_is_there_and_half_a_piece_are_refused_inside_the_dialog(desk: Desk) -> None:
    page = stock.list_page(desk.context)
    desk.show(page)
    choose(page, "MPV-L")
    dialog = desk.open(page, Qt.Key.Key_U, FormDialog)
    assert isinstance(dialog, FormDialog)
    dialog.act()
    assert "quantity: is empty" in dialog.banner.text
    dialog["quantity"].setText("1.5")
    dialog.act()
    assert "not a whole number" in dialog.banner.text
    dialog["quantity"].setText("9")
    dialog["reason"].setText("rebuild")
    dialog.act()
    desk.settle()
    assert "9 asked for, 5 usable" in dialog.banner.text and dialog.isVisible()
    dialog.reject()


def test_receiving_from_stock_begins_with_the_chosen_type_and_offers_owners(desk: Desk) -> None:
    page = stock.list_page(desk.context)
    desk.show(page)
    choose(page, "OWV-L")
    dialog = desk.open(page, Qt.Key.Key_N, FormDialog)
    assert isinstance(dialog, FormDialog)
    desk.settle()
    assert dialog["code"].currentData() == "OWV-L" and dialog["owner_id"].currentText() == "the centre"
    dialog.reject()


def test_a_kit_is_given_contents_and_filled_up_by_key(desk: Desk) -> None:
    page = kits.list_page(desk.context)
    desk.show(page)
    assert not page.model.rows and page.buttons["set"].isEnabled() and not page.buttons["fill"].isEnabled()
    page.buttons["set"].click()
    dialog = page.dialog
    assert isinstance(dialog, FormDialog)
    desk.settle()
    dialog["code"].setCurrentIndex(dialog["code"].findData("MPV-L"))
    QTest.keyClicks(dialog["least"], "2")
    desk.finish(dialog)
    assert kits.state_of(page.model.row_at(0)).word == "2 missing"
    desk.finish(desk.open(page, Qt.Key.Key_F, FormDialog))
    assert kits.state_of(page.model.row_at(0)) == kits.COMPLETE
    assert "In Van now: lot M1, lot M1." in page.banner.text
    assert not page.buttons["fill"].isEnabled()


def test_what_no_shelf_holds_is_said_to_be_short(desk: Desk) -> None:
    set_kit_content(desk.workplace, desk.van, "OWV-L", 3)
    page = kits.list_page(desk.context)
    desk.show(page)
    row = page.model.row_at(0)
    assert row.short == 2 and "1 complete" not in kits.sum_up([row])
    assert page.detail.detail is not None and page.detail.detail.marks[0].word == "3 missing"


def test_places_and_owners_are_entered_and_a_second_of_the_name_is_refused(desk: Desk) -> None:
    page = places.list_page(desk.context)
    desk.show(page)
    for name, taken in (("North jetty", False), ("van", True)):
        dialog = desk.open(page, Qt.Key.Key_N, FormDialog)
        assert isinstance(dialog, FormDialog)
        QTest.keyClicks(dialog["name"], name)
        if taken:
            dialog.act()
            desk.settle()
            assert "is a place already" in dialog.banner.text
            dialog.reject()
        else:
            desk.finish(dialog)
    page.buttons["owner"].click()
    dialog = page.dialog
    assert isinstance(dialog, FormDialog) and "no person's name" in dialog.note.text()
    dialog["name"].setText("On loan from a club")
    dialog["kind"].setCurrentIndex(dialog["kind"].findData("loan"))
    desk.finish(dialog)
    assert {"North jetty", "On loan from a club"} <= {row.name for row in page.model.rows}
    assert places.sum_up(page.model.rows) == "3 places, 2 owners"

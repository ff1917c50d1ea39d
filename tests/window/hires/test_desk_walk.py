"""A day at the hire desk walked by hand: a renter who is new, a name typed without its accents, one unit that stays
here, a renter who does not come, and past bookings found again by a word of theirs.
"""

from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.people.tables import Person
from fleetbench.window.hires.list import record_page
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.hires.list import hire_lines, one_booking
from tests.window.hires.test_hire_desk import Desk, type_over


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    """The hire desk over seven units that are fit."""
    return Desk(qtbot, theme, background, sqlite_database, clock)


def booked(desk: Desk, renter: str, units: str, last: int, *, divers: str = "") -> str:
    """Book from today, the renter picked from the names that are offered; the code."""
    dialog = desk.opened("B")
    QTest.mouseClick(dialog.renter, Qt.MouseButton.LeftButton)
    QTest.keyClicks(dialog.renter, renter)
    popup = next(each.completer.popup() for each in dialog.renter.children() if hasattr(each, "completer"))
    desk.qtbot.waitUntil(popup.isVisible)
    QTest.keyClick(popup, Qt.Key.Key_Down)
    QTest.keyClick(popup, Qt.Key.Key_Return)
    type_over(dialog.last, desk.centre.day(last).isoformat())
    type_over(dialog.units, units)
    if divers:
        type_over(dialog.divers, divers)
    QTest.mouseClick(dialog.leaves.buttons["not for diving"], Qt.MouseButton.LeftButton)
    desk.done(dialog)
    return str(desk.page.banner.text).split()[0]


def spots(desk: Desk) -> list[tuple[int, int]]:
    """Where on the screen the buttons of the page and its first row stand."""
    table = desk.page.table
    buttons = [each.mapToGlobal(QPoint(0, 0)) for each in desk.page.bench.buttons.values() if each.isVisible()]
    row = table.viewport().mapToGlobal(table.visualRect(desk.page.model.index(0, 0)).topLeft())
    return [(each.x(), each.y()) for each in (*buttons, row)]


def test_what_a_message_says_moves_neither_a_button_nor_the_row_under_the_pointer(desk: Desk) -> None:
    """Where it stood, the next press hit another booking, or Cancel in the place of Book."""
    before = spots(desk)
    code = booked(desk, "brandt", "LK-02", 1)
    assert desk.page.banner.isVisible() and desk.page.banner.text.startswith(code)
    assert spots(desk) == before and len(before) > 5
    desk.page.banner.say_refused("stop: LK-02 is on hold. " * 20)
    desk.qtbot.wait(20)
    assert spots(desk) == before
    desk.page.refresh()
    desk.settle()
    assert desk.page.banner.text == "", "a refusal does not outlive what was refused"


def test_a_new_renter_a_name_without_its_accents_a_unit_that_stays_here_and_one_who_does_not_come(desk: Desk) -> None:
    centre = desk.centre
    known = centre.person("R77", "renter", "Søren Ąžuolvit")
    dialog = desk.opened("B")
    QTest.mouseClick(dialog.new_renter, Qt.MouseButton.LeftButton)
    form = dialog.dialog
    desk.qtbot.waitUntil(form.isVisible)
    form.activateWindow()
    QTest.keyClicks(form["code"], "R88")
    form["name"].setText("Żaneta Łąkowa")
    with desk.qtbot.waitSignal(form.done_with, timeout=20_000):
        QTest.mouseClick(form.act_button, Qt.MouseButton.LeftButton)
    assert dialog.renter.text() == "R88"
    new = next(each for each in centre.rows(Person) if each.code == "R88")
    assert new.role == "renter"
    dialog.reject()
    desk.settle()

    code = booked(desk, "SOREN azuol", "LK-02, LK-03", 2)
    assert one_booking(centre.workplace, code).booking.renter_id == known
    assert desk.page.choose(code)
    dialog = desk.opened("H")
    desk.qtbot.waitUntil(lambda: dialog.model.rowCount() == 2, timeout=20_000)
    dialog.model.setData(dialog.model.index(1, 8), "mouthpiece is in the bath")
    desk.qtbot.waitUntil(lambda: [each.unit for each in dialog.looks] == ["LK-02"], timeout=20_000)
    desk.done(dialog)
    assert desk.page.banner.text.startswith(f"{code}: 1 unit handed over.")
    out = {each.unit_id: each.out_at is not None for each in centre.rows(BookingUnit) if each.taken_off_at is None}
    assert (out[centre.units["LK-02"]], out[centre.units["LK-03"]]) == (True, False)
    notes = {each.line.unit: each.note for each in hire_lines(centre.workplace, code)}
    assert notes["LK-03"] == "Waits: mouthpiece is in the bath"

    missed = booked(desk, "lakowa", "LK-04", 0)
    desk.page.choose(missed)
    dialog = desk.opened("X")
    how = dialog["ended_as"]
    how.setCurrentIndex(how.findData("no-show"))
    type_over(dialog["reason"], "did not come, no answer")
    desk.done(dialog)
    assert one_booking(centre.workplace, missed).state == "no-show"

    centre.clock.advance(hours=24 * 40)
    page = record_page(desk.page.bench.context)
    desk.qtbot.addWidget(page)
    page.show()
    with desk.qtbot.waitSignal(page.rows_shown, timeout=20_000):
        page.refresh()
    for word, found in (("no-show", missed), ("łąkowa", missed), ("lk-04 no-show", missed), ("LK-02", code)):
        page.filter_field.setText(word)
        assert [page.model.row_at(n).booking.code for n in range(page.model.rowCount())] == [found]
    page.close()

"""The question of a sale asked at the desk: the answer while it is typed, the way booked, and taken back."""

from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingTerms
from fleetbench.records.parts.tables import Part
from fleetbench.records.tickets.tables import Task
from fleetbench.window.hires.list import list_page
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people
from tests.centres.hire_centre import HireCentre


def opened(
    qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any
) -> tuple[HireCentre, Any]:
    centre = HireCentre(Workplace(database, clock), clock, units=3)
    centre.make_fit()
    page = list_page(PageContext(theme, background, centre.workplace, ZoneInfo("Europe/Berlin")))
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    page.activateWindow()
    with qtbot.waitSignal(page.rows_shown):
        page.refresh()
    return centre, page


def test_the_question_is_answered_as_it_is_typed_and_the_way_is_booked(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    centre, page = opened(qtbot, theme, background, sqlite_database, clock)
    page.bench.start("sell")
    qtbot.waitUntil(lambda: page.bench.dialog is not None)
    dialog: Any = page.bench.dialog
    for name, text in (("first", centre.day(6).isoformat()), ("last", centre.day(7).isoformat()), ("wanted", "4")):
        dialog[name].setText(text)
        dialog[name].editingFinished.emit()
    qtbot.waitUntil(lambda: "4 wanted" in dialog["told"].text(), timeout=20_000)
    assert "3 can go as they are" in dialog["told"].text()
    assert "1 missing" in dialog["told"].text()
    renter = next(each for each in list_people(centre.workplace) if each.person_id == centre.keys.other)
    dialog["renter"].setText(renter.code)
    dialog["price_terms"].setText("deposit 200")
    with qtbot.waitSignal(dialog.done_with, timeout=20_000):
        dialog.act()
    booking, terms = centre.rows(Booking)[-1], centre.rows(BookingTerms)[-1]
    assert (booking.units_wanted, terms.price_terms) == (3, "deposit 200")
    qtbot.waitUntil(lambda: booking.code in page.banner.text, timeout=20_000)


def test_a_booking_that_asks_for_more_than_can_go_is_answered_in_its_dialog_and_booked_without_retyping(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    centre, page = opened(qtbot, theme, background, sqlite_database, clock)
    with centre.workplace.transaction("write", "test") as act:
        cell = next(each for each in centre.rows(Part) if each.serial == "C-LK-03-2")
        outcome = next(each for each in centre.rows(CalibrationOutcome) if each.part_id == cell.id)
        act.change(act.session.get(CalibrationOutcome, outcome.id), verdict="reject")
    page.bench.start("book")
    qtbot.waitUntil(lambda: page.bench.dialog is not None)
    dialog: Any = page.bench.dialog
    qtbot.waitUntil(lambda: dialog.unit_type.count() > 0, timeout=20_000)
    codes = {each.person_id: each.code for each in list_people(centre.workplace)}
    dialog.leaves.show_given("kit")
    dialog.renter.setText(codes[centre.keys.other])
    dialog.divers.setText(", ".join(codes[each] for each in (centre.keys.other, centre.keys.renter)))
    dialog.planned_depth.setText("18")
    dialog.price_terms.setText("deposit 200")
    for field, text in (
        (dialog.first, centre.day(6).isoformat()), (dialog.last, centre.day(7).isoformat()), (dialog.spares, "1"),
    ):  # fmt: skip
        field.setText(text)
        field.editingFinished.emit()
    qtbot.waitUntil(lambda: "3 wanted: 2 can go as they are" in dialog.answer.text(), timeout=20_000)
    said = dialog.answer.text()
    assert dialog.rect().contains(dialog.act_button.geometry()), "the answer scrolls, the act stays in sight"
    assert "Ready: LK-01, LK-02." in said and "LK-03: replace cell 2" in said and "min, by" in said
    assert dialog.other_way.isVisible()
    QTest.mouseClick(dialog.other_way, Qt.MouseButton.LeftButton)
    ways = dialog.dialog
    qtbot.waitUntil(lambda: ways["sale"].currentData() is not None, timeout=20_000)
    assert (ways["wanted"].text(), ways["first"].text(), ways["renter"].text()) == (
        "3", centre.day(6).isoformat(), codes[centre.keys.other],
    )  # fmt: skip
    with qtbot.waitSignal(dialog.done_with, timeout=20_000):
        ways.act()
    booking, terms = centre.rows(Booking)[-1], centre.rows(BookingTerms)[-1]
    assert (booking.units_wanted, booking.planned_depth_m, terms.price_terms, terms.spares) == (
        3, 18.0, "deposit 200", 1,
    )  # fmt: skip
    assert [each.text for each in centre.rows(Task)] == ["Replace cell 2"]
    qtbot.waitUntil(lambda: booking.code in page.banner.text and "are open" in page.banner.text, timeout=20_000)

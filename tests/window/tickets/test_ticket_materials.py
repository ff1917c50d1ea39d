"""Lubricant and seal-kit lots are written on the ticket by keys, and what is not oxygen-compatible has its effect."""

from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.tickets.work import TicketWorkPage
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import unit_gas
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.gas_centre import GasCentre
from tests.window.bench_keys import CountedKeys


def test_a_lubricant_with_its_lot_stands_on_the_ticket_and_ends_the_status_of_its_part(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Any, clock: Any
) -> None:
    centre = GasCentre(Workplace(sqlite_database, clock), clock)
    open_ticket(centre.workplace, "LK-01", cause="failed test", reason="Yearly service")
    centre.later(minutes=5)
    page = TicketWorkPage(theme, background, centre.workplace, ZoneInfo("Europe/Berlin"))
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    with qtbot.waitSignal(page.opened):
        page.open_number("2026-001")
    dialog = page.use_material()
    qtbot.waitUntil(lambda: dialog["part"].count() > 1, timeout=10_000)
    qtbot.waitActive(dialog)
    dialog["kind"].setFocus()
    CountedKeys().press("1", *"Grease W", "Enter", *"G-9", "Enter", "n")
    at = next(at for at in range(dialog["part"].count()) if dialog["part"].itemText(at).startswith("oxygen cylinder"))
    dialog["part"].setCurrentIndex(at)
    with qtbot.waitSignal(dialog.accepted):
        QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not background.is_busy)
    QApplication.processEvents()
    said = "lubricant Grease W, lot G-9, not oxygen-compatible, on O-1"
    assert ticket_page(centre.workplace, "2026-001").materials == (said,)
    side = next(each for each in unit_gas(centre.workplace, "LK-01").oxygen_side if each.slot == "oxygen cylinder")
    assert side.status.words == "lost: lubricant Grease W, lot G-9, not oxygen-compatible"

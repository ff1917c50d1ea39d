"""The plan driven by keys: made off the window's thread, ticked, accepted in one act, and called off."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.units.tables import Hold
from fleetbench.window.hires.plan import PlanView, list_page
from fleetbench.window.hires.plan_changes import ChangesModel
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.hires.plan import PlanChange
from tests.centres.hire_centre import HireCentre
from tests.paper.pdf_reader import texts


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """Three units fit to leave, H-7 on LK-01 and two hires without a unit."""
    made = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    made.make_fit()
    for first in (3, 8):
        book(
            made.workplace,
            BookingEntry(
                kind="hire",
                unit_type="TYPE-L",
                first=made.day(first),
                last=made.day(first + 2),
                renter_id=made.keys.other,
            ),
        )
    return made


@pytest.fixture
def page(qtbot: QtBot, theme: Theme, background: Background, centre: HireCentre) -> PlanView:
    """The page, shown."""
    made = list_page(PageContext(theme, background, centre.workplace, ZoneInfo("Europe/Berlin")))
    made.seconds = 3.0
    qtbot.addWidget(made)
    made.resize(1088, 748)
    with qtbot.waitExposed(made):
        made.show()
    made.activateWindow()
    made.refresh()
    return made


def made_plan(qtbot: QtBot, page: PlanView) -> None:
    QTest.keyClick(page.make_button, Qt.Key.Key_F5, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: page.page is not None and not page.work.is_busy, timeout=20_000)


def test_a_plan_is_made_ticked_and_accepted_by_keys(
    qtbot: QtBot, page: PlanView, centre: HireCentre, tmp_path: Path
) -> None:
    before = len(centre.rows(BookingUnit))
    made_plan(qtbot, page)
    assert page.summary == "3 of 3 bookings met; none unmet"
    assert [change.from_tag for change in page.model.chosen()] == [None, None]
    QTest.keyClick(page.table, Qt.Key.Key_Space)
    assert (len(page.model.chosen()), page.accept_button.text()) == (1, "Accept 1 change")
    QTest.keyClick(page.table, Qt.Key.Key_A)
    QTest.mouseClick(page.accept_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "2 bookings changed" in page.banner.text, timeout=20_000)
    assert len(centre.rows(BookingUnit)) == before + 2
    assert page.model.rowCount() == 0
    qtbot.waitUntil(page.undo_button.isEnabled, timeout=20_000)
    page.exports.write_to(tmp_path / "bench-day.pdf")
    qtbot.waitUntil(lambda: page.banner.text.startswith("Written to"), timeout=20_000)
    assert "Bench day" in " ".join(texts((tmp_path / "bench-day.pdf").read_bytes()))
    assert page.undo_button.text() == "Undo plan P-2026-001"
    QTest.mouseClick(page.undo_button, Qt.MouseButton.LeftButton)
    dialog = page.dialog
    assert dialog is not None
    QTest.keyClicks(dialog["reason"], "the course fell through")
    QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.banner.text.startswith("P-2026-001 is undone."), timeout=20_000)
    assert [each.booking_id for each in centre.rows(BookingUnit) if each.taken_off_at is None] == [
        each.booking_id for each in centre.rows(BookingUnit)[:before]
    ]
    qtbot.waitUntil(lambda: not page.undo_button.isEnabled(), timeout=20_000)


def test_a_plan_that_is_called_off_changes_nothing(qtbot: QtBot, page: PlanView, centre: HireCentre) -> None:
    page.make()
    page.work.cancel()
    qtbot.waitUntil(lambda: not page.work.is_busy, timeout=20_000)
    assert page.page is None or page.banner.text == ""
    assert page.make_button.isVisible()


def test_a_figure_that_makes_no_sense_is_named(page: PlanView) -> None:
    page.days_field.setText("a few")
    page.make()
    assert page.banner.text.startswith("days: 'a few'; enter a whole number")


def test_what_waits_for_something_else_cannot_be_ticked(centre: HireCentre) -> None:
    model = ChangesModel()
    QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    days = (centre.day(0), centre.day(1), "somebody")
    free = PlanChange("H-7", "LK-01", "LK-02", *days)
    waits = PlanChange("H-8", None, "LK-01", *days, waits_for="H-9 gives up LK-01")
    model.show_changes([free, waits])
    model.tick_all(True)
    assert model.chosen() == (free,)
    assert model.index(1, 1).data() == "LK-01, waits"
    assert "once H-9 gives up LK-01" in model.index(1, 1).data(Qt.ItemDataRole.ToolTipRole)
    assert model.setData(model.index(0, 0), Qt.CheckState.Unchecked.value, Qt.ItemDataRole.CheckStateRole)
    assert model.chosen() == ()


def test_a_plan_that_promises_an_unfit_unit_says_so_before_and_asks_a_manager(
    qtbot: QtBot, page: PlanView, centre: HireCentre
) -> None:
    before = len(centre.rows(BookingUnit))
    made_plan(qtbot, page)
    held = page.model.chosen()[0].to_tag
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units[held], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
    QTest.mouseClick(page.accept_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.dialog is not None and page.dialog["manager"].count() > 1, timeout=20_000)
    dialog = page.dialog
    assert dialog is not None
    said = " ".join(each.text() for each in dialog.findChildren(QLabel))
    assert f"unit {held}: manual hold" in said and "strap torn" in said
    QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "a manager books them with a reason" in dialog.banner.text, timeout=20_000)
    assert len(centre.rows(BookingUnit)) == before
    dialog["manager"].setCurrentIndex(1)
    QTest.keyClicks(dialog["pin"], "2468")
    QTest.keyClicks(dialog["reason"], "sewn on Friday")
    QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "2 bookings changed" in page.banner.text, timeout=20_000)
    assert len(centre.rows(BookingUnit)) == before + 2
    assert "unmet, named beside" in page.banner.text

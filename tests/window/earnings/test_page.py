"""Use and cost by keys: judged off the window's thread, looked at, its figures stated, cancelled, and saved."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QDate, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QLineEdit
from pytestqt.qtbot import QtBot
from python_calamine import CalamineWorkbook

from fleetbench.calc.earnings.days import OwnFigures
from fleetbench.records.core.database import Database
from fleetbench.window.earnings.page import EarningsPage, list_page
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.earnings.report import stated_figures
from fleetbench.workshop.units.holds import place_hold
from tests.centres.hire_centre import HireCentre

TYPE = "Back-mounted unit, type L"


def shown(qtbot: QtBot, theme: Theme, background: Background, centre: HireCentre) -> EarningsPage:
    manager = centre.workplace.as_person(centre.manager)
    made = list_page(PageContext(theme, background, manager, ZoneInfo("Europe/Berlin"), "EUR"))
    qtbot.addWidget(made)
    made.resize(1088, 748)
    with qtbot.waitExposed(made):
        made.show()
    made.activateWindow()
    made.refresh()
    return made


def test_days_are_judged_told_and_saved_and_the_figures_of_a_type_are_stated(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any, tmp_path: Path
) -> None:
    centre = HireCentre(Workplace(sqlite_database, clock), clock)
    centre.make_fit()
    place_hold(centre.workplace, "LK-02", "smells of caustic")
    clock.advance(days=3)
    page = shown(qtbot, theme, background, centre)
    on = centre.today
    page.first_field.setDate(QDate(on.year, on.month, on.day).addDays(-2))
    page.last_field.setDate(QDate(on.year, on.month, on.day))
    page.judge_button.setFocus()
    QTest.keyClick(page.judge_button, Qt.Key.Key_Space)
    assert not page.work.cancel_button.isHidden()
    qtbot.waitUntil(lambda: page.report is not None and page.model.total == 4, timeout=20_000)
    assert page.told_best.text() == "No single repair or spare would have saved a day, as far as the records go."
    assert [row.line.name for row in page.model.rows] == ["All units", TYPE, "LK-01", "LK-02"]
    assert page.choose("LK-02")
    detail = page.detail.detail
    assert detail is not None
    told = {fact.label: fact.value for each in detail.parts for fact in getattr(each, "facts", ())}
    assert (told["Lost"], told["Verdict"]) == ("3 days", "not stated")

    page.exports.write_to(tmp_path / "use.xlsx")
    qtbot.waitUntil((tmp_path / "use.xlsx").exists, timeout=20_000)
    page.bench.start("figures")
    qtbot.waitUntil(lambda: bool(page.findChildren(QDialog)) or bool(page.window().findChildren(QDialog)), timeout=5000)
    dialog = next(each for each in page.window().findChildren(QDialog) if each.isVisible())
    qtbot.waitUntil(lambda: bool(dialog.fields["unit_type"].currentData()), timeout=5000)  # type: ignore[attr-defined]
    for name, typed in (("price", "6000"), ("years", "6"), ("a_day", "55")):
        field = dialog.fields[name]  # type: ignore[attr-defined]
        assert isinstance(field, QLineEdit)
        QTest.keyClicks(field, typed)
    QTest.keyClick(dialog.fields["a_day"], Qt.Key.Key_Return)  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: stated_figures(centre.workplace)[TYPE] == OwnFigures(6000.0, 6.0, 55.0), timeout=10_000)
    qtbot.waitUntil(lambda: not page.work.is_busy and page.report is not None and bool(page.report.own[TYPE].price),
                    timeout=20_000)  # fmt: skip
    book = CalamineWorkbook.from_path(tmp_path / "use.xlsx")
    assert len(book.get_sheet_by_name("Days").to_python()) == 7


def test_judging_can_be_cancelled_and_a_wrong_span_is_told(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    centre = HireCentre(Workplace(sqlite_database, clock), clock)
    page = shown(qtbot, theme, background, centre)
    page.judge()
    page.work.cancel()
    qtbot.waitUntil(lambda: not page.work.is_busy, timeout=20_000)
    assert page.report is None
    page.last_field.setDate(page.first_field.date().addDays(-1))
    page.judge()
    qtbot.waitUntil(lambda: "give first and last day in order" in page.banner.text, timeout=10_000)

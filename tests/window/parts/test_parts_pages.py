"""Shelf, part page, orders, due, what to fetch and notices: acts where the eye is, horizons, groups and files."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.calc.notices.scope import Covered, NoticeFacts
from fleetbench.records.core.database import Database
from fleetbench.records.parts.tables import Part, PartEvent
from fleetbench.records.places.tables import Place as PlaceRow
from fleetbench.window.detail.export_row import HorizonRow
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.due import page as due
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.notices import list as notices
from fleetbench.window.parts import fetch, orders, shelf
from fleetbench.window.parts import page as parts
from fleetbench.window.parts.page import LifeTimeline, spoken
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.notices.acts import record_notice
from fleetbench.workshop.parts.acts import quarantine_part
from fleetbench.workshop.parts.list import part_story
from tests.centres.bench_centre import Keys, write_centre
from tests.conftest import Clock

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


class Desk:
    """The small centre with places, and pages on it."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database) -> None:
        self.qtbot, self.background = qtbot, background
        self.clock = Clock(NOW)
        self.keys: Keys = write_centre(database, NOW)
        self.workplace = Workplace(database, self.clock, self.keys.manager)
        with self.workplace.as_person(None).transaction("enter", "places") as act:
            for name, kind in (("Shelf A", "shelf"), ("Van", "van"), ("Red box", "quarantine")):
                act.add(PlaceRow(name=name, kind=kind))
        self.context = PageContext(theme, background, self.workplace, BERLIN)

    def show(self, page: Page, key: str | None = None) -> None:
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        if key is None:
            page.refresh()
        else:
            assert isinstance(page, RecordPage)
            page.show_key(key)
        self.settle()

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=10_000)

    def finish(self, dialog: ActDialog | None, kind: type[ActDialog]) -> None:
        assert isinstance(dialog, kind)
        self.settle()
        with self.qtbot.waitSignal(dialog.accepted):
            dialog.act()
        self.settle()

    def part(self, serial: str) -> Part:
        with self.workplace.database.read_session() as session:
            row = session.scalars(select(Part).where(Part.serial == serial)).one()
            session.expunge(row)
            return row

    def events(self, serial: str) -> list[str]:
        with self.workplace.database.read_session() as session:
            query = select(PartEvent.kind).join(Part, Part.id == PartEvent.part_id).where(Part.serial == serial)
            return list(session.scalars(query.order_by(PartEvent.id)))


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database) -> Desk:
    """A small centre and its pages."""
    return Desk(qtbot, theme, background, sqlite_database)


@pytest.fixture
def shelf_page(desk: Desk) -> shelf.ShelfList:
    """The shelf with a manager at the bench."""
    page = shelf.list_page(desk.context)
    desk.show(page)
    return page


def test_the_shelf_says_of_each_part_whether_it_may_be_fitted_and_why_not(shelf_page: shelf.ShelfList) -> None:
    states = {row.part.label: shelf.state_of(row).word for row in shelf_page.model.rows}
    assert states["C-NEW"] == "usable"
    assert states["C-OLD"] == "past"
    assert states["C-UNDATED"] == "date not known"


def test_parts_are_received_by_scanning_serials_from_the_shelf_by_key(desk: Desk, shelf_page: shelf.ShelfList) -> None:
    shelf_page.table.setFocus()
    QTest.keyClick(shelf_page.table, Qt.Key.Key_N)
    dialog = shelf_page.desk.dialog
    assert isinstance(dialog, FormDialog)
    desk.settle()
    dialog["code"].setCurrentIndex(dialog["code"].findData("CELL-L"))
    for serial in ("C-501", "C-502"):
        QTest.keyClicks(dialog["serials"].serial, serial)
        QTest.keyClick(dialog["serials"].serial, Qt.Key.Key_Return)
    dialog["made"].setText("2026-03")
    desk.finish(dialog, FormDialog)
    assert desk.part("C-502").made_precision == "month"
    assert "2 parts received" in shelf_page.banner.text
    assert {"C-501", "C-502"} <= {row.part.label for row in shelf_page.model.rows}


def test_a_serial_twice_and_an_odd_date_are_refused_inside_the_dialog(desk: Desk, shelf_page: shelf.ShelfList) -> None:
    shelf_page.desk.start("receive")
    dialog = shelf_page.desk.dialog
    assert isinstance(dialog, FormDialog)
    desk.settle()
    for _ in range(2):
        QTest.keyClicks(dialog["serials"].serial, "C-501")
        QTest.keyClick(dialog["serials"].serial, Qt.Key.Key_Return)
    assert "in the list already" in dialog.banner.text and dialog["serials"].scanned() == ("C-501",)
    dialog["made"].setText("spring")
    dialog.act()
    assert "made:" in dialog.banner.text and "not a date" in dialog.banner.text
    dialog.reject()


def test_open_move_set_aside_and_undo_are_done_on_the_chosen_part(desk: Desk, shelf_page: shelf.ShelfList) -> None:
    key = str(desk.part("C-NEW").id)
    for name, kind in (("open_part", FormDialog), ("move_parts", FormDialog)):
        shelf_page.choose(key)
        shelf_page.desk.buttons[name].click()
        desk.finish(shelf_page.desk.dialog, kind)
    for name in ("quarantine_part", "undo_last"):
        shelf_page.choose(key)
        shelf_page.desk.buttons[name].click()
        dialog = shelf_page.desk.dialog
        assert isinstance(dialog, FormDialog)
        dialog["reason"].setText("pin bent")
        desk.finish(dialog, FormDialog)
    assert desk.events("C-NEW") == ["opened", "moved", "quarantine", "undone"]
    assert desk.part("C-NEW").state == "stock"


def test_a_service_of_an_assembly_is_recorded_on_its_page_and_one_not_passed_holds_it(desk: Desk) -> None:
    page = parts.record_page(desk.context)
    desk.show(page, str(desk.part("HEAD-L-LK-01").id))
    for passed in (True, False):
        page.desk.buttons["record_test"].click()
        dialog = page.desk.dialog
        assert isinstance(dialog, FormDialog) and dialog["kind"].currentData() == "service"
        dialog["done_by"].setText("the bench")
        dialog["passed"].setCurrentIndex(0 if passed else 1)
        desk.finish(dialog, FormDialog)
    assert page.detail is not None
    table = next(part for part in page.detail.parts if part.title == "Tests and services")
    assert [line.cells for line in table.lines] == [  # type: ignore[union-attr]
        ("2026-05-04", "service", "failed", "the bench"), ("2026-05-04", "service", "pass", "the bench"),
    ]  # fmt: skip
    assert [mark.word for mark in page.detail.marks] == ["rejected", "hold: service not passed on 2026-05-04"]


def test_a_refusal_stays_in_the_dialog_with_what_was_typed(desk: Desk, shelf_page: shelf.ShelfList) -> None:
    shelf_page.choose(str(desk.part("C-NEW").id))
    shelf_page.desk.start("scrap_part")
    dialog = shelf_page.desk.dialog
    assert isinstance(dialog, FormDialog)
    dialog.act()
    desk.settle()
    assert "reason: is empty" in dialog.banner.text and dialog.isVisible()
    dialog.reject()


def test_only_acts_that_the_state_allows_can_be_pressed(desk: Desk, shelf_page: shelf.ShelfList) -> None:
    quarantine_part(desk.workplace, desk.part("C-NEW").id, "pin bent")
    shelf_page.refresh()
    desk.settle()
    shelf_page.choose(str(desk.part("C-NEW").id))
    buttons = shelf_page.desk.buttons
    assert buttons["release_part"].isEnabled() and not buttons["move_parts"].isEnabled()
    assert not buttons["take_back"].isVisible()


def test_a_part_page_draws_the_whole_life_and_offers_its_acts(desk: Desk, qtbot: QtBot) -> None:
    page = parts.record_page(desk.context)
    desk.show(page, str(desk.part("C-LK-01-1").id))
    story = page.line.story
    assert story is not None and [stay.where for stay in story.stays] == ["HEAD-L-LK-01, cell 1"]
    assert not page.desk.buttons["scrap_part"].isEnabled(), "it sits in a slot"
    assert page.detail is not None
    table = next(part for part in page.detail.parts if part.title == "Its whole life")
    assert "fitted: HEAD-L-LK-01, cell 1" in {line.cells[1] for line in table.lines}  # type: ignore[union-attr]
    assert spoken(story) == (
        "From 2026-03-05 to today, 2026-05-04: sat in 1 place, 0 readings, last valid day 2027-03-04."
    )


@pytest.mark.parametrize("serial", ["C-LK-01-1", "C-NEW", "C-UNDATED", "CAN-SPARE"])
def test_the_line_of_any_life_paints_in_light_and_dark_at_any_width(desk: Desk, theme: Theme, serial: str) -> None:
    line = LifeTimeline(theme, BERLIN)
    desk.qtbot.addWidget(line)
    line.show_story(part_story(desk.workplace, desk.part(serial).id))
    for dark in (False, True):
        theme.set_dark(dark)
        for width in (120, 400, 1600):
            line.resize(width, line.height())
            assert not line.grab().isNull()


def test_the_slider_asks_once_when_it_rests_and_the_date_follows(qtbot: QtBot, theme: Theme) -> None:
    row = HorizonRow(theme, date(2026, 5, 4), None)
    qtbot.addWidget(row)
    asked: list[int | None] = []
    row.chosen.connect(asked.append)
    with qtbot.waitSignal(row.chosen):
        for days in (10, 20, 30):
            row.slider.setValue(days)
    assert asked == [30]
    assert row.date.date().toPython() == date(2026, 6, 3)
    with qtbot.waitSignal(row.chosen):
        row.date.setDate(row.date.date().addDays(5))
    assert (row.days, row.slider.value()) == (35, 35)
    row.everything.click()
    assert asked[-1] is None


def test_a_horizon_and_a_group_narrow_and_gather_the_due_list(desk: Desk) -> None:
    page = due.list_page(desk.context)
    desk.show(page)
    everything = len(page.model.rows)
    page.horizon.choose(20)
    desk.settle()
    assert len(page.model.rows) < everything
    assert all(row.days_left is None or row.days_left <= 20 for row in page.model.rows)
    page.horizon.choose(None)
    page.group_by("unit")
    desk.settle()
    units = [row.unit for row in page.model.rows]
    assert units == sorted(units, key=lambda unit: unit or "in no unit")
    first = page.model.rows[0]
    assert page.group_words(first) == f"{first.unit}, {units.count(first.unit)} items"


@pytest.mark.parametrize("ending", [".pdf", ".csv", ".xlsx", ".ics"])
def test_what_the_due_page_shows_is_written_into_each_kind_of_file(desk: Desk, tmp_path: Path, ending: str) -> None:
    page = due.list_page(desk.context)
    desk.show(page)
    path = tmp_path / f"list{ending}"
    with desk.qtbot.waitSignal(page.exports.written, timeout=20_000):
        page.exports.write_to(path)
    assert path.stat().st_size > 500
    assert str(path) in page.banner.text


def test_a_file_that_cannot_be_written_is_said_in_the_page_and_a_csv_names_the_spreadsheet_beside_it(
    desk: Desk, tmp_path: Path
) -> None:
    page = orders.list_page(desk.context)
    desk.show(page)
    with desk.qtbot.waitSignal(page.exports.refused):
        page.exports.write_to(tmp_path / "orders.txt")
    assert "end the name in .pdf, .csv, .xlsx" in page.banner.text
    with desk.qtbot.waitSignal(page.exports.written):
        page.exports.write_to(tmp_path / "orders.csv")
    assert "written with a comma, take the XLSX" in page.banner.text
    with desk.qtbot.waitSignal(page.exports.written):
        page.exports.write_to(tmp_path / "orders.xlsx")
    assert (tmp_path / "orders.xlsx").exists() and "comma" not in page.banner.text


def test_orders_tell_state_and_reason_of_each_part_type(desk: Desk) -> None:
    page = orders.list_page(desk.context)
    desk.show(page)
    assert {row.code for row in page.model.rows} >= {"CELL-L", "OWV-L", "HEAD-L"}
    page.choose(str(next(row.part_type_id for row in page.model.rows if row.code == "CELL-L")))
    detail = page.detail.detail
    assert detail is not None and any(part.title == "What it rests on" for part in detail.parts)


def test_what_to_fetch_follows_the_horizon_and_is_printed(desk: Desk, tmp_path: Path) -> None:
    desk.clock.now = NOW + timedelta(days=280)
    page = fetch.list_page(desk.context)
    desk.show(page)
    assert not page.model.rows
    page.horizon.choose(60)
    desk.settle()
    cells = next(row for row in page.model.rows if row.code == "CELL-L")
    assert (cells.wanted, [piece.part.label for piece in cells.take]) == (6, ["C-NEW"])
    assert fetch.state_of(cells).word == "short 5"
    with desk.qtbot.waitSignal(page.exports.written, timeout=20_000):
        page.exports.write_to(tmp_path / "fetch.pdf")
    assert (tmp_path / "fetch.pdf").read_bytes().startswith(b"%PDF")


def test_a_lot_is_recalled_from_its_page_and_done_unit_by_unit(desk: Desk) -> None:
    page = notices.list_page(desk.context)
    desk.show(page)
    page.buttons["recall"].click()
    dialog = page.dialog
    assert isinstance(dialog, FormDialog)
    QTest.keyClicks(dialog["lot"], "L1")
    QTest.keyClick(dialog["lot"], Qt.Key.Key_Return)
    desk.settle()
    assert dialog.act_button.text() == "Recall lot and hold 2 units and 2 parts"
    assert dialog["preview"].text().splitlines()[0] == "On hold: LK-01 (1 in it now), LK-02 (1 in it now)."
    for key in ("9", Qt.Key.Key_Backspace):  # of another lot nothing stands there, and nothing is done before it does
        QTest.keyClick(dialog["lot"], key)
        assert (dialog["preview"].text(), dialog.act_button.text()) == ("", "Show what it touches")
    dialog.act()
    desk.settle()
    assert dialog.isVisible() and dialog.act_button.text() == "Recall lot and hold 2 units and 2 parts"
    dialog["reason"].setText("drift")
    with desk.qtbot.waitSignal(page.place_requested) as gone:
        desk.finish(dialog, FormDialog)
    assert gone.args[0].key == "RECALL L1"
    page.refresh()
    desk.settle()
    assert notices.state_of(page.model.row_at(0)).word == "2 not done"
    page.buttons["done"].click()
    desk.finish(page.dialog, FormDialog)
    assert page.model.row_at(0).not_done == ("LK-02",)


def test_a_notice_page_lists_what_it_touched_and_prints_it(desk: Desk, tmp_path: Path) -> None:
    listed = notices.list_page(desk.context)
    desk.show(listed)
    listed.start("recall")
    dialog = listed.dialog
    assert isinstance(dialog, FormDialog)
    dialog["lot"].setText("L1")
    dialog.act()
    desk.settle()
    dialog["reason"].setText("drift")
    desk.finish(dialog, FormDialog)
    page = notices.record_page(desk.context)
    desk.show(page, "RECALL L1")
    assert page.detail is not None and page.detail.marks[0].word == "stops units and parts"
    assert [line.cells[0] for line in page.part("Units").lines] == ["LK-01", "LK-02"]  # type: ignore[attr-defined]
    assert isinstance(page, notices.NoticeRecordPage)
    with desk.qtbot.waitSignal(page.exports.written, timeout=20_000):
        page.exports.write_to(tmp_path / "notice.pdf")


def test_a_notice_is_entered_with_several_scopes_and_its_units_are_done_one_by_one(desk: Desk) -> None:
    page = notices.list_page(desk.context)
    desk.show(page)
    page.buttons["enter"].click()
    dialog = page.dialog
    assert isinstance(dialog, FormDialog)
    desk.settle()
    for field, text in ((dialog["number"], "N-7"), (dialog["title"], "One-way valves"), (dialog["text"], "may stick"),
                        (dialog["action"], "look at both valves"), (dialog["by_when"], "spring")):  # fmt: skip
        field.setText(text)
    dialog.act()
    assert "by when: 'spring' is not a date" in dialog.banner.text
    dialog["by_when"].setText("2026-06-30")
    dialog.act()
    desk.settle()
    assert "scope: covers nothing" in dialog.banner.text
    dialog["scopes"].covers.setCurrentText("part type")
    dialog["scopes"].kind.setCurrentIndex(dialog["scopes"].kind.findData("OWV-L"))
    dialog["scopes"].add_button.click()
    dialog["scopes"].covers.setCurrentText("serials")
    QTest.keyClicks(dialog["scopes"].first, "V-1")
    QTest.keyClick(dialog["scopes"].first, Qt.Key.Key_Return)
    QTest.keyClicks(dialog["scopes"].last, "V-9")
    QTest.keyClick(dialog["scopes"].last, Qt.Key.Key_Return)
    assert [dialog["scopes"].listed.item(n).text() for n in range(2)] == ["part type OWV-L", "serials V-1 to V-9"]
    dialog["hold"].setChecked(True)
    dialog.act()
    desk.settle()
    assert dialog.act_button.text() == "Save notice and hold 2 units and 5 parts"
    assert dialog["preview"].text().startswith("On hold: LK-01 (2 in it now), LK-02 (2 in it now).")
    assert page.model.rowCount() == 0  # nothing is recorded before that was read
    with desk.qtbot.waitSignal(page.place_requested) as gone:
        desk.finish(dialog, FormDialog)
    assert gone.args[0].key == "N-7" and "2 units" in page.banner.text and "placed" in page.banner.text
    page.buttons["done"].click()
    done = page.dialog
    assert isinstance(done, FormDialog)
    done["note"].setText("both sound")
    desk.finish(done, FormDialog)
    told = notices.record_page(desk.context)
    desk.show(told, "N-7")
    states = [line.cells[:2] for line in told.part("Units").lines]  # type: ignore[attr-defined]
    assert states == [("LK-01", "done"), ("LK-02", "in it now")]
    assert told.detail is not None and "both sound" in told.detail.parts[0].facts[-1].note


def test_what_a_notice_touches_is_held_later_from_the_list_and_only_once(desk: Desk) -> None:
    facts = NoticeFacts(number="N-8", issued_on=date(2026, 5, 1), title="Cells", text="drift", action="look",
                        weight="advise")  # fmt: skip
    record_notice(desk.workplace, facts, (Covered("part type", "CELL-L"),))
    page = notices.list_page(desk.context)
    desk.show(page)
    page.buttons["hold"].click()
    desk.finish(page.dialog, FormDialog)
    assert "holds placed" in page.banner.text
    page.start("hold")
    dialog = page.dialog
    assert isinstance(dialog, FormDialog)
    dialog.act()
    desk.settle()
    assert "on hold for it already" in dialog.banner.text
    dialog.reject()


def make_pages() -> list[Callable[[PageContext], Page]]:
    return [module.list_page for module in (due, fetch, notices, orders, shelf)]


@pytest.mark.parametrize("make", make_pages(), ids=lambda make: make.__module__.rpartition(".")[2])
def test_every_list_stands_empty_with_words_before_anything_is_recorded(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, make: Callable[[PageContext], Any]
) -> None:
    page = make(PageContext(theme, background, Workplace(sqlite_database, Clock(NOW)), BERLIN))
    qtbot.addWidget(page)
    page.refresh()
    qtbot.waitUntil(lambda: not background.is_busy)
    assert page.is_loaded and not page.model.rows

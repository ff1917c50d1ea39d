"""The whole window on an empty database: opening, going about by key, refusals, faults, and what is left behind."""

import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QKeySequence
from PySide6.QtWidgets import QApplication, QPushButton

from fleetbench import __version__
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.places.tables import Owner
from fleetbench.settings import SETTINGS, Settings, write_settings
from fleetbench.window.detail.detail import Table
from fleetbench.window.shell import app
from fleetbench.window.shell.actions import ACTIONS, KEYS_IN_A_LIST, KEYS_ON_THE_TIME_LINE, shortcut_detail
from fleetbench.window.shell.app import Desk, display_missing
from fleetbench.window.shell.background import ProgramFault
from fleetbench.window.shell.fault_report import FaultReport, report_text
from fleetbench.window.shell.opening import NoneThere, Opened, open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace, wall_clock
from tests.records.few_rows import write_few_rows

WITH_RECORDS = [spec for spec in (*PAGES, *BESIDE_THE_RAIL) if spec.has_record]
MakeDesk = Callable[[Callable[..., Opened | NoneThere]], Desk]


@pytest.fixture
def make_desk(qtbot: Any) -> Iterator[MakeDesk]:
    made: list[Desk] = []

    def make(open_workplace: Callable[..., Opened | NoneThere]) -> Desk:
        desk = Desk(open_workplace, "light")
        made.append(desk)
        desk.window.show()
        desk.window.activateWindow()
        qtbot.waitUntil(lambda: QApplication.activeWindow() is not None)
        return desk

    yield make
    for desk in made:
        desk.close()
        desk.window.deleteLater()
        desk.deleteLater()
    qtbot.wait(1)


@pytest.fixture
def desk(make_desk: MakeDesk, sqlite_database: Database, qtbot: Any) -> Desk:
    made = make_desk(lambda: Opened(Workplace(sqlite_database), "Harbour bench"))
    qtbot.waitUntil(lambda: made.window.here == PageKey("today"))
    return made


def go(desk: Desk, name: str, qtbot: Any) -> None:
    qtbot.mouseClick(desk.window.rail.button(name), Qt.MouseButton.LeftButton)
    assert desk.window.here == PageKey(name)


def test_the_window_opens_on_today_with_the_name_of_the_centre(desk: Desk) -> None:
    title = desk.window.windowTitle()
    assert title.startswith("Harbour bench – ") and title.endswith(" – fleetbench") and "fleet.db in " in title
    assert desk.window.rail.button("today").isChecked()


@pytest.mark.parametrize("spec", PAGES, ids=lambda spec: spec.name)
def test_every_page_of_the_rail_opens_by_its_keys(desk: Desk, spec: Any, qtbot: Any) -> None:
    keys = QKeySequence(spec.keys)[0]
    qtbot.keyClick(desk.window, keys.key(), keys.keyboardModifiers())
    assert desk.window.here == PageKey(spec.name)
    qtbot.waitUntil(lambda: not desk.background.is_busy)


def test_f1_opens_help_on_the_page_one_stands_on_and_back_returns_to_it(desk: Desk, qtbot: Any) -> None:
    go(desk, "due", qtbot)
    qtbot.keyClick(desk.window, Qt.Key.Key_F1)
    assert (desk.window.here, desk.window.page.title) == (PageKey("help", "due"), "Due")
    qtbot.keyClick(desk.window, Qt.Key.Key_F1)
    assert (desk.window.here, desk.window.page.title) == (PageKey("help"), "Help")
    qtbot.keyClick(desk.window, Qt.Key.Key_F1, Qt.KeyboardModifier.ShiftModifier)
    assert desk.window.page.title == "Keys"
    for _ in range(3):
        qtbot.keyClick(desk.window, Qt.Key.Key_Left, Qt.KeyboardModifier.AltModifier)
    assert desk.window.here == PageKey("due")


def test_help_read_before_the_records_are_open_leads_back_to_what_is_asked(make_desk: MakeDesk, qtbot: Any) -> None:
    desk = make_desk(lambda: NoneThere("nowhere.sqlite"))
    qtbot.waitUntil(lambda: not desk.background.is_busy)
    qtbot.keyClick(desk.window, Qt.Key.Key_F1)
    assert desk.window.page.title == "Start"
    qtbot.keyClick(desk.window, Qt.Key.Key_Left, Qt.KeyboardModifier.AltModifier)
    assert desk.window.here == PageKey("start")


@pytest.mark.parametrize("spec", WITH_RECORDS, ids=lambda spec: spec.name)
def test_what_is_asked_for_and_not_recorded_is_refused_in_one_line(desk: Desk, spec: Any, qtbot: Any) -> None:
    desk.window.go(PageKey(spec.name, "99999 U-99" if spec.name == "valves" else "99999"))
    qtbot.waitUntil(lambda: bool(desk.window.page.banner.text))
    assert "\n" not in desk.window.page.banner.text


def test_the_head_is_kept_elsewhere_once_a_day_and_at_closing_and_a_missing_folder_is_told_once(
    desk: Desk, qtbot: Any, tmp_path: Path
) -> None:
    assert desk.window.context is not None
    write_few_rows(desk.window.context.workplace.database, wall_clock())
    data, share = tmp_path / "data", tmp_path / "share"
    for each in (data, share):
        each.mkdir()
    write_settings(data / SETTINGS, Settings({"witness_folders": f"{share};{tmp_path / 'gone'}"}))
    for _ in range(2):
        app.witness(desk, data)
        qtbot.waitUntil(lambda: not desk.background.is_busy)
    assert desk.window.page.banner.text.startswith(f"The journal's head could not be kept in {tmp_path / 'gone'}")
    (file,) = share.glob("heads-*.jsonl")
    assert len(file.read_text().splitlines()) == 1
    with desk.window.context.workplace.transaction("write", "test") as act:
        act.add(Owner(name="another", kind="loan"))
    app.witness_at_closing(desk, data)
    assert len(file.read_text().splitlines()) == 2


def test_back_returns_the_way_one_came(desk: Desk, qtbot: Any) -> None:
    assert not desk.window.back_button.isEnabled()
    go(desk, "units", qtbot)
    go(desk, "due", qtbot)
    qtbot.keyClick(desk.window, Qt.Key.Key_Left, Qt.KeyboardModifier.AltModifier)
    assert desk.window.here == PageKey("units")
    qtbot.mouseClick(desk.window.back_button, Qt.MouseButton.LeftButton)
    assert desk.window.here == PageKey("today")


def test_escape_returns_too(desk: Desk, qtbot: Any) -> None:
    go(desk, "units", qtbot)
    qtbot.waitUntil(lambda: not desk.background.is_busy)
    qtbot.keyClick(desk.window.page, Qt.Key.Key_Escape)
    assert desk.window.here == PageKey("today")


def test_an_empty_list_leads_to_the_three_ways_to_begin(desk: Desk, qtbot: Any) -> None:
    go(desk, "units", qtbot)
    qtbot.waitUntil(desk.window.page.empty_state.isVisible)
    qtbot.mouseClick(desk.window.page.empty_state.button, Qt.MouseButton.LeftButton)
    assert desk.window.here == PageKey("first")
    qtbot.waitUntil(lambda: not desk.background.is_busy)


def test_a_text_that_is_not_recorded_is_said_to_be_so(desk: Desk, qtbot: Any) -> None:
    qtbot.keyClick(desk.window, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(desk.window.find_box, "U-77")
    qtbot.keyClick(desk.window.find_box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: desk.window.here == PageKey("found"))
    assert desk.window.page.summary == "nothing for “U-77”"


def test_the_arrow_keys_move_along_the_rail(desk: Desk, qtbot: Any) -> None:
    first = desk.window.rail.button("today")
    first.setFocus()
    qtbot.keyClick(first, Qt.Key.Key_Down)
    assert desk.window.rail.button("units").hasFocus()


def test_a_database_that_cannot_be_opened_is_said_so_and_can_be_tried_again(
    make_desk: MakeDesk, sqlite_database: Database, qtbot: Any
) -> None:
    answers: list[object] = [Refused("the disk is full; free some space"), Opened(Workplace(sqlite_database))]

    def open_workplace() -> Opened:
        answer = answers.pop(0)
        if isinstance(answer, Refused):
            raise answer
        assert isinstance(answer, Opened)
        return answer

    desk = make_desk(open_workplace)
    start = desk.window.page
    qtbot.waitUntil(lambda: start.state.words[1] == "the disk is full; free some space")
    qtbot.mouseClick(start.state.button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: desk.window.here == PageKey("today"))


def test_a_fault_of_ours_is_reported_and_the_report_can_be_copied(make_desk: MakeDesk, qtbot: Any) -> None:
    about = "Zelda Quinesson"

    def broken() -> Opened:
        raise ZeroDivisionError(about)

    desk = make_desk(broken)
    qtbot.waitUntil(lambda: bool(desk.window.findChildren(FaultReport)))
    report = desk.window.findChildren(FaultReport)[0]
    copy = next(button for button in report.findChildren(QPushButton) if button.text() == "Copy the report")
    qtbot.mouseClick(copy, Qt.MouseButton.LeftButton)
    assert "ZeroDivisionError\n" in QGuiApplication.clipboard().text()
    assert about not in QGuiApplication.clipboard().text()
    report.accept()
    qtbot.waitUntil(lambda: not desk.window.findChildren(FaultReport))


def test_an_error_in_any_thread_reaches_the_report(desk: Desk, qtbot: Any) -> None:
    with qtbot.waitSignal(desk.catcher.caught):
        sys.excepthook(ValueError, ValueError("main"), None)
    with qtbot.waitSignal(desk.catcher.caught) as said:
        thread = threading.Thread(target=lambda: int("x"))
        thread.start()
        thread.join()
    assert said.args[0].line == "ValueError"
    for report in desk.window.findChildren(FaultReport):
        report.accept()


def test_every_action_of_the_table_stands_in_the_menus_and_on_the_page_of_keys(desk: Desk) -> None:
    menus = desk.window.menuBar().actions()
    texts = {action.text() for menu in menus for action in menu.menu().actions()}
    assert {spec.text for spec in ACTIONS} <= texts
    everywhere, in_lists, _acts, on_time_line = shortcut_detail(ACTIONS, PAGES).parts
    assert isinstance(everywhere, Table)
    assert len(everywhere.lines) == len(ACTIONS) + len(PAGES)
    assert len(in_lists.lines) == len(KEYS_IN_A_LIST)
    assert len(on_time_line.lines) == len(KEYS_ON_THE_TIME_LINE)


def test_no_two_actions_share_a_key() -> None:
    keys = [key for spec in ACTIONS for key in spec.keys] + [spec.keys for spec in PAGES]
    assert len(keys) == len(set(keys))


def test_list_actions_can_be_run_only_on_a_list(desk: Desk, qtbot: Any) -> None:
    copy = desk.window.actions_at_hand.action("copy_table")
    assert not copy.isEnabled()
    go(desk, "due", qtbot)
    assert copy.isEnabled()


def test_light_and_dark_can_change_while_the_window_is_open(desk: Desk, qtbot: Any) -> None:
    go(desk, "units", qtbot)
    before = desk.window.grab().toImage().pixelColor(600, 700)
    desk.theme.set_dark(True)
    after = desk.window.grab().toImage().pixelColor(600, 700)
    assert before.lightness() > 2 * after.lightness()


def test_no_display_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app.sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    line = display_missing()
    assert line is not None
    assert "\n" not in line
    monkeypatch.setenv("DISPLAY", ":0")
    assert display_missing() is None


def test_opening_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("not a database, but long enough to be looked at by whoever opens it")
    with pytest.raises(Refused):
        open_records(str(path))


def test_opening_a_new_place_gives_an_empty_workshop_without_a_name(tmp_path: Path) -> None:
    place = tmp_path / "new.sqlite"
    assert open_records(str(place)) == NoneThere(str(place))
    assert not place.exists()
    opened = open_records(str(place), create=True)
    assert isinstance(opened, Opened)
    opened.workplace.database.close()
    assert opened.centre == ""


def test_a_report_names_the_versions_and_the_trace() -> None:
    text = report_text(ProgramFault("ValueError: x", "Traceback: here"))
    assert __version__ in text
    assert "Traceback: here" in text


def test_where_no_database_is_the_window_asks_before_it_starts_a_centre(
    make_desk: MakeDesk, tmp_path: Path, qtbot: Any
) -> None:
    place = tmp_path / "fleet.sqlite"
    kept = tmp_path / "fleet.sqlite.20260504T080000Z.replaced"
    kept.write_bytes(b"what was there")
    made = make_desk(partial(open_records, str(place)))
    start = made.window._start
    qtbot.waitUntil(start.new_button.isVisible)
    assert kept.name in start.state.words[1] and "restore" in start.state.words[1]
    assert not place.exists()
    qtbot.mouseClick(start.new_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: made.window.here == PageKey("first"))
    assert place.exists()
    qtbot.waitUntil(lambda: not made.background.is_busy)

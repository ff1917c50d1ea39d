"""The window for other eyes and hands: names, reach by keyboard, sizes of targets, room on a small screen.

Sources: W3C, Web Content Accessibility Guidelines (WCAG) 2.2: 2.1.2 no keyboard trap; 2.4.11 focus not obscured;
4.1.3 status messages. What holds for every scene is in test_scenes.py.
"""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QSettings, QSize, Qt
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QAccessibleEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QLabel,
    QScrollArea,
    QWidget,
)

from fleetbench.window.lists.entry_table import EntryTable
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import text_width
from fleetbench.window.shell.app import GEOMETRY, Desk, place_window
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import PageKey
from tests.gallery.checks import is_hidden, name_of
from tests.gallery.scenes import SCENES


@pytest.fixture(scope="module")
def database(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copy(sample_of_today, tmp_path_factory.mktemp("access") / "fleet.sqlite"))


@pytest.fixture
def desk(database: Path, qtbot: Any) -> Iterator[Desk]:
    made = Desk(partial(open_records, str(database)), "light")
    made.window.show()
    wait_until(lambda: made.window.here.page != "start")
    sign_in(made)
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


HAS_GRIDS = ("hires_hand_over", "hires_receive", "hires_details")


@pytest.mark.parametrize("name", HAS_GRIDS)
def test_tab_leaves_a_grid_of_entries(name: str, desk: Desk) -> None:
    dialog = next(scene for scene in SCENES if scene.name == name).arrange(desk)
    grids = [each for each in dialog.findChildren(EntryTable) if each.isVisible()]
    for grid in grids:
        for key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            grid.setFocus()
            if grid.model().rowCount():
                grid.setCurrentIndex(grid.model().index(0, grid.model().columnCount() - 1))
            QTest.keyClick(grid, key)
            assert dialog.focusWidget() is not grid
    dialog.close()
    assert grids or name != "hires_hand_over"


def test_a_refusal_is_said_at_once_and_a_note_in_its_turn(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[tuple[str, QAccessible.AnnouncementPoliteness]] = []

    def listen(event: QAccessibleEvent) -> None:
        if isinstance(event, QAccessibleAnnouncementEvent):
            said.append((event.message(), event.politeness()))

    monkeypatch.setattr(QAccessible, "isActive", lambda: True)
    monkeypatch.setattr(QAccessible, "updateAccessibility", listen)
    banner, politeness = desk.window.page.banner, QAccessible.AnnouncementPoliteness
    banner.say_refused("The unit is out; receive it first.")
    banner.say_note("The settings are kept.")
    assert said == [
        ("The unit is out; receive it first.", politeness.Assertive),
        ("The settings are kept.", politeness.Polite),
    ]
    assert name_of(banner) == "Message"
    assert name_of(banner, QAccessible.Text.Description) == "The settings are kept."


def test_what_lies_below_comes_on_screen_with_the_keyboard_and_stays_under_a_pointer(desk: Desk) -> None:
    desk.window.go(PageKey("help", "units"))
    page = desk.window.page
    area = page.findChild(QScrollArea)
    last = [each for each in page.findChildren(LinesView) if each.isVisible()][-1]
    assert is_hidden(last)
    last.setFocus()
    assert not is_hidden(last)
    before = area.verticalScrollBar().value()
    assert before > 0
    last.selectRow(last.model().rowCount() - 1)
    assert area.verticalScrollBar().value() > before


def test_a_window_comes_back_to_its_place_and_never_off_the_screen(desk: Desk, tmp_path: Path) -> None:
    kept = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    screen = desk.window.screen().availableGeometry()
    desk.window.resize(700, 600)
    desk.window.move(40, 50)
    kept.setValue(GEOMETRY, desk.window.saveGeometry())
    desk.window.setGeometry(screen.right() + 900, 60, 1280, 800)
    place_window(desk.window, kept)
    assert (desk.window.x(), desk.window.y(), desk.window.height()) == (40, 50, 600)
    kept.remove(GEOMETRY)
    desk.window.setGeometry(screen.right() + 900, 60, 1280, 800)
    place_window(desk.window, kept)
    assert screen.contains(desk.window.geometry()) or desk.window.width() > screen.width()


@pytest.mark.parametrize(("room", "lines"), [(600, 1), (270, 2), (90, 5)])
def test_a_bar_goes_on_in_the_next_line(room: int, lines: int, qtbot: Any) -> None:
    whole = QWidget()
    qtbot.addWidget(whole)
    flow = FlowLayout(whole, gap=10)
    for number in range(5):
        part = QWidget()
        part.setFixedSize(80, 30)
        if number == 3:
            flow.add_break()
        flow.addWidget(part)
    whole.resize(room, flow.heightForWidth(room))
    assert flow.heightForWidth(room) == lines * 40 - 10
    assert flow.minimumSize() == QSize(80, 30)
    if lines == 1:
        flow.setGeometry(whole.rect())
        last = flow.itemAt(4)
        assert last is not None
        assert last.geometry().right() == room - 1


def test_text_grows_and_shrinks_by_keys_in_lists_and_labels_at_once(desk: Desk) -> None:
    desk.window.go(PageKey("units"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, ListPage)
    before = _sizes(page)
    for _ in range(3):
        QTest.keyClick(desk.window, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)
    assert desk.theme.zoom == 1.5
    assert _sizes(page) == pytest.approx([1.5 * each for each in before], abs=1)
    assert page.table.columnWidth(0) >= text_width(page.model.data(page.model.index(0, 0)), "body")
    QTest.keyClick(desk.window, Qt.Key.Key_Minus, Qt.KeyboardModifier.ControlModifier)
    assert desk.theme.zoom == 1.3
    QTest.keyClick(desk.window, Qt.Key.Key_0, Qt.KeyboardModifier.ControlModifier)
    assert _sizes(page) == before


def _sizes(page: ListPage[Any]) -> list[int]:
    title = next(label for label in page.findChildren(QLabel) if label.text() == page.title)
    return [title.font().pixelSize(), page.copy_button.font().pixelSize(), page.table.rowHeight(0)]


def test_tab_goes_through_a_page_as_it_is_read(desk: Desk) -> None:
    # WCAG 2.2, 2.4.3 focus order: an order that keeps meaning; a page is read line by line
    for name in ("earnings", "hires", "plan", "due"):
        desk.window.go(PageKey(name))
        settle(desk)
        page, lines = desk.window.page, []
        first = page.nextInFocusChain()
        while first is not None and first is not page and page.isAncestorOf(first):
            if first.isVisible() and first.focusPolicy() & Qt.FocusPolicy.TabFocus and first.parent() is page:
                lines.append((first.mapTo(page, first.rect().center()).y() // 44, first.mapTo(page, first.pos()).x()))
            first = first.nextInFocusChain()
        assert len(lines) > 5, name
        assert [line for line, _ in lines] == sorted(line for line, _ in lines), (name, lines)

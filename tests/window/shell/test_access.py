"""The window for other eyes and hands: names, reach by keyboard, sizes of targets, room on a small screen.

Sources: W3C, Web Content Accessibility Guidelines (WCAG) 2.2: 4.1.2 name, role, value; 2.1.2 no keyboard trap;
2.5.8 target size (minimum), 24 by 24 px; 1.4.10 reflow; 4.1.3 status messages.
"""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QSettings, QSize, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QSlider,
    QTextEdit,
    QToolButton,
    QWidget,
)

from fleetbench.window.lists.entry_table import EntryTable
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import text_width
from fleetbench.window.shell.app import GEOMETRY, Desk, place_window
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import Place
from tests.gallery.scenes import SCENES, Scene

CONTROLS = (
    QAbstractButton, QLineEdit, QComboBox, QAbstractItemView, QAbstractSpinBox, QPlainTextEdit, QTextEdit, QSlider,
)  # fmt: skip
NARROW = QSize(960, 540)
"""What a screen of 1920 x 1080 px has at 200 %."""


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


def controls(shown: QWidget) -> list[QWidget]:
    """What can be pressed, typed in or chosen from, Qt's own inner parts left out."""
    found = shown.findChildren(QWidget)
    return [each for each in found if each.isVisible() and isinstance(each, CONTROLS) and not _inner(each)]


def _inner(widget: QWidget) -> bool:
    return widget.objectName().startswith("qt_")


def name_of(widget: QWidget) -> str:
    told = QAccessible.queryAccessibleInterface(widget)
    return told.text(QAccessible.Text.Name) if told is not None else ""


def too_small(widget: QWidget) -> bool:
    # Empties a field that Backspace empties too: 2.5.8 lets what has an equal be small.
    if isinstance(widget, QToolButton) and isinstance(widget.parent(), QLineEdit):
        return False
    pressed = isinstance(widget, (QAbstractButton, QLineEdit, QComboBox, QSlider))
    return pressed and (widget.width() < 24 or widget.height() < 24)


@pytest.mark.parametrize("part", range(4))
def test_every_control_has_a_name_and_a_size_and_fits_half_a_screen(part: int, desk: Desk) -> None:
    unnamed, small, wide = [], [], []
    for scene in SCENES[part::4]:
        shown = _shown(scene, desk)
        for control in controls(shown):
            told = f"{scene.name}: {type(control).__name__} in {type(control.parent()).__name__}"
            unnamed += [told] if not name_of(control) else []
            small += [f"{told} {control.size().toTuple()}"] if too_small(control) else []
        least = desk.window.minimumSizeHint().width()
        wide += [f"{scene.name}: {least}"] if least > NARROW.width() else []
        if isinstance(shown, QDialog):
            shown.close()
    assert not unnamed
    assert not small
    assert not wide


def _shown(scene: Scene, desk: Desk) -> QWidget:
    widget = scene.arrange(desk)
    return widget if isinstance(widget, QDialog) else desk.window


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


def test_a_refusal_is_told_to_a_screen_reader(desk: Desk) -> None:
    banner = desk.window.page.banner
    banner.say_refused("The unit is out; receive it first.")
    told = QAccessible.queryAccessibleInterface(banner)
    assert told.text(QAccessible.Text.Name) == "Message"
    assert told.text(QAccessible.Text.Description) == "The unit is out; receive it first."


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
    desk.window.go(Place("units"))
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

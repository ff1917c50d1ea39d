"""What of a shown window or dialog is cut off because its words need more room than they have.

Sources: W3C, Web Content Accessibility Guidelines (WCAG) 2.2: 1.4.4 resize text, no loss of content; 1.4.10 reflow.
"""

import html
import re
from collections.abc import Iterator
from functools import singledispatch

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QRect, QSize, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QApplication,
    QComboBox,
    QGroupBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QListView,
    QScrollArea,
    QStyle,
    QStyleOptionComboBox,
    QStyleOptionFrame,
    QTabBar,
    QTableView,
    QToolButton,
    QWidget,
)

from fleetbench.calc.core.languages import worded
from fleetbench.window.lists.lines_view import HiddenColumns
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.lists.rows import MARK_ROLE, TREND_ROLE
from fleetbench.window.look.state_delegate import SHAPE_SIDE, StateDelegate
from fleetbench.window.look.theme import APART, CLOSE, measure_of, row_height

SCREENS = (QSize(1024, 768), QSize(1280, 800))
"""Sizes of the window at which nothing may be cut off."""
WIDEST = 1000
"""What a view or dialog may need of a screen of 1024 px at most."""
ROWS_LOOKED_AT = 30


def faults_of_width(scene: str, shown: QWidget) -> list[str]:
    """Texts without the room they need that no tool tip has whole, and views that are too wide for a screen."""
    for _ in range(3):  # what was said last is laid out, and what that makes room for
        QApplication.processEvents()
    found = []
    for widget in shown.findChildren(QWidget):
        if is_on_view(widget):
            kind = type(widget).__name__
            found += [f"{scene}: {kind} {each!r} is wider than its place" for each in cut_in(widget)]
            found += [f"{scene}: {kind} {each}" for each in out_of_reach(widget)]
    least = max(shown.window().minimumSizeHint().width(), shown.window().minimumWidth())
    return found + ([f"{scene}: is at least {least} px wide"] if least > WIDEST else [])


def faults_on_screens(scene: str, widget: QWidget, window: QWidget) -> list[str]:
    """The same at every size of the window at which nothing may be cut off; a dialog has its own."""
    if widget is not window:
        return faults_of_width(scene, widget)
    before, found = window.size(), []
    for size in SCREENS:
        window.resize(size)
        found += faults_of_width(f"{scene} at {size.width()}", window)
    window.resize(before)
    QApplication.processEvents()
    return found


def is_on_view(widget: QWidget) -> bool:
    """Whether a widget is shown at all; what has no more than a pixel was closed by hand, such as a splitter's side."""
    is_inner = widget.objectName().startswith("qt_")
    return widget.isVisible() and not is_inner and min(widget.width(), widget.height()) > 1


def told_by(tip: str, text: str) -> bool:
    """Whether a tool tip has every word of a text."""
    told = html.unescape(re.sub("<[^>]*>", " ", tip))
    return text in told or set(text.split()) <= set(told.split())


def widest_word(widget: QWidget, text: str) -> int:
    """Width of the longest word of a text, which no line can be narrower than."""
    words = re.split(r"\s+|(?<=-)", re.sub("<[^>]*>", " ", text))
    return max((widget.fontMetrics().horizontalAdvance(each) for each in words), default=0)


@singledispatch
def cut_in(_widget: QWidget) -> Iterator[str]:
    """The texts of a widget that are cut off or shortened, each as it is told nowhere else."""
    yield from ()


@cut_in.register
def _(label: QLabel) -> Iterator[str]:
    text, room = label.text(), label.contentsRect()
    if not text or told_by(label.toolTip(), text):
        return
    if label.wordWrap():
        is_cut = widest_word(label, text) > room.width() or label.heightForWidth(label.width()) > label.height() + 1
    else:
        is_cut = label.sizeHint().width() > label.width() or label.fontMetrics().height() > label.height() + 1
    if is_cut or runs_out(label):
        yield text


@cut_in.register
def _(button: QAbstractButton) -> Iterator[str]:
    text = button.text().replace("&", "")
    if text and not told_by(button.toolTip(), text):
        narrow = button.minimumSizeHint() if isinstance(button, QToolButton) else button.sizeHint()
        if narrow.width() > button.width() or button.fontMetrics().height() > button.height() or runs_out(button):
            yield text


@cut_in.register
def _(box: QComboBox) -> Iterator[str]:
    option = QStyleOptionComboBox()
    box.initStyleOption(option)
    part = QStyle.SubControl.SC_ComboBoxEditField
    room = box.style().subControlRect(QStyle.ComplexControl.CC_ComboBox, option, part, box).width()
    text, wide = box.currentText(), box.fontMetrics().horizontalAdvance(box.currentText())
    if text and wide > room and not told_by(box.toolTip(), text):
        yield text


@cut_in.register
def _(line: QLineEdit) -> Iterator[str]:
    option = QStyleOptionFrame()
    line.initStyleOption(option)
    room = line.style().subElementRect(QStyle.SubElement.SE_LineEditContents, option, line).width() - 4
    room -= sum(each.width() for each in line.findChildren(QToolButton) if each.isVisible())
    text = line.placeholderText()
    wide = line.fontMetrics().horizontalAdvance(text)
    if text and not line.text() and wide > room and not told_by(line.toolTip(), text):
        yield text


@cut_in.register
def _(group: QGroupBox) -> Iterator[str]:
    if group.fontMetrics().horizontalAdvance(group.title()) > group.width():
        yield group.title()


@cut_in.register
def _(tabs: QTabBar) -> Iterator[str]:
    for at in range(tabs.count()):
        if tabs.tabRect(at).width() < tabs.fontMetrics().horizontalAdvance(tabs.tabText(at)):
            yield tabs.tabText(at)


@cut_in.register
def _(head: QHeaderView) -> Iterator[str]:
    model = head.model()
    if model is None or head.orientation() is not Qt.Orientation.Horizontal:
        return
    for column in range(head.count()):
        text = str(model.headerData(column, Qt.Orientation.Horizontal) or "")
        if head.isSectionHidden(column) or not text:
            continue
        tip = str(model.headerData(column, Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole) or "")
        flags = model.headerData(column, Qt.Orientation.Horizontal, Qt.ItemDataRole.TextAlignmentRole) or 0
        wraps = bool(int(flags) & Qt.TextFlag.TextWordWrap.value)
        whole = widest_word(head, text) if wraps else head.fontMetrics().horizontalAdvance(text)
        if whole > head.sectionSize(column) and not told_by(tip, text):
            yield text


@cut_in.register
def _(table: QTableView) -> Iterator[str]:
    model = table.model()
    if model is None or not isinstance(table.itemDelegate(), StateDelegate):
        return
    for column in range(model.columnCount(QModelIndex())):
        if not table.isColumnHidden(column):
            yield from _cut_cells(table, model, column)


def _cut_cells(table: QTableView, model: QAbstractItemModel, column: int) -> Iterator[str]:
    for row in range(min(model.rowCount(QModelIndex()), ROWS_LOOKED_AT)):
        index = model.index(row, column)
        text = str(index.data() or "")
        if (
            not text
            or index.data(TREND_ROLE) is not None
            or told_by(str(index.data(Qt.ItemDataRole.ToolTipRole)), text)
        ):
            continue
        mark = SHAPE_SIDE + CLOSE if index.data(MARK_ROLE) is not None else 0
        measure = measure_of("strong" if mark else "body")
        box = QRect(0, 0, table.columnWidth(column) - 2 * APART - mark + 1, table.rowHeight(row))
        flag = Qt.TextFlag.TextSingleLine if box.height() <= row_height() else Qt.TextFlag.TextWordWrap
        needed = measure.boundingRect(QRect(0, 0, box.width(), 10_000), flag, text)
        if needed.width() > box.width() or needed.height() > box.height():
            yield text


@cut_in.register
def _(view: QListView) -> Iterator[str]:
    model = view.model()
    if model is None or view.horizontalScrollBarPolicy() is not Qt.ScrollBarPolicy.ScrollBarAlwaysOff:
        return
    for row in range(min(model.rowCount(QModelIndex()), ROWS_LOOKED_AT)):
        index = model.index(row, 0)
        if view.sizeHintForIndex(index).width() > view.viewport().width():
            yield str(index.data() or "")


def runs_out(widget: QWidget) -> bool:
    """Whether a widget lies partly outside what holds it, where nothing scrolls it into view."""
    place, around = widget.geometry(), widget.parentWidget()
    while around is not None and not _scrolls(around):
        if not around.rect().contains(place):
            return True
        if around.isWindow():
            return False
        place, around = QRect(around.mapToParent(place.topLeft()), place.size()), around.parentWidget()
    return False


def _scrolls(widget: QWidget) -> bool:
    area = widget.parentWidget()
    return isinstance(area, QAbstractScrollArea) and area.viewport() is widget


def out_of_reach(widget: QWidget) -> Iterator[str]:
    """What no scroll bar leads to, what scrolls sideways, and columns out of view that nothing tells of."""
    body = widget.widget() if isinstance(widget, QScrollArea) else None
    if isinstance(widget, QScrollArea) and body is not None and body.width() > widget.viewport().width():
        if widget.verticalScrollBarPolicy() is Qt.ScrollBarPolicy.ScrollBarAlwaysOff:
            return  # a drawing, which is made to be scrolled sideways (1.4.10 leaves it out)
        off = widget.horizontalScrollBarPolicy() is Qt.ScrollBarPolicy.ScrollBarAlwaysOff
        yield f"{'cannot be scrolled' if off else 'scrolls'} sideways by {body.width() - widget.viewport().width()} px"
    if isinstance(widget, QTableView) and widget.horizontalScrollBar().maximum() > 0 and not _tells_hidden(widget):
        yield f"{widget.accessibleName()!r} does not tell how many columns are out of view"


def _tells_hidden(table: QTableView) -> bool:
    if any(each.isVisible() for each in table.findChildren(HiddenColumns)):
        return True
    around = table.parentWidget()
    while around is not None and not isinstance(around, ListPage):
        around = around.parentWidget()
    return around is not None and around.table is table and around.columns_button.text() != worded("Columns")

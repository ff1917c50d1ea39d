"""What is wrong in a shown window or dialog for other eyes and hands: a list of sentences, empty where all is well.

Sources: W3C, Web Content Accessibility Guidelines (WCAG) 2.2: 4.1.2 name, role, value; 2.4.7 focus visible;
2.4.11 focus not obscured; 2.5.8 target size (minimum), 24 by 24 px; 1.4.10 reflow.
"""

import re
from collections.abc import Iterator

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPoint, QRect, QSize, Qt
from PySide6.QtGui import QAccessible, QImage
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDialog,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QSlider,
    QStyle,
    QTextEdit,
    QToolButton,
    QWidget,
)

from fleetbench.calc.core.languages import worded
from fleetbench.calc.core.plausible import Likely
from fleetbench.window.forms.metered import ExpectingField

CONTROLS = (
    QAbstractButton, QLineEdit, QComboBox, QAbstractItemView, QAbstractSpinBox, QPlainTextEdit, QTextEdit, QSlider,
)  # fmt: skip
NARROW = QSize(960, 540)
"""What a screen of 1920 x 1080 px has at 200 %."""


def controls(shown: QWidget) -> list[QWidget]:
    """What can be pressed, typed in or chosen from, Qt's own inner parts left out."""
    found = shown.findChildren(QWidget)
    return [each for each in found if each.isVisible() and isinstance(each, CONTROLS) and not _inner(each)]


def _inner(widget: QWidget) -> bool:
    return widget.objectName().startswith("qt_")


def name_of(widget: QWidget, text: QAccessible.Text = QAccessible.Text.Name) -> str:
    told = QAccessible.queryAccessibleInterface(widget)
    return told.text(text) if told is not None else ""


def role_of(widget: QWidget) -> QAccessible.Role:
    told = QAccessible.queryAccessibleInterface(widget)
    return told.role() if told is not None else QAccessible.Role.NoRole


def reached(shown: QWidget) -> list[QWidget]:
    """What Tab leads to."""
    found = [each for each in shown.findChildren(QWidget) if each.isVisible() and each.isEnabled()]
    return [each for each in found if each.focusPolicy() & Qt.FocusPolicy.TabFocus and not _inner(each)]


def seen_of(widget: QWidget) -> QSize:
    """How much of a widget its window shows."""
    top = widget.window()
    seen = QRect(widget.mapTo(top, QPoint()), widget.size())
    around = widget.parentWidget()
    while around is not None:
        seen &= QRect(around.mapTo(top, QPoint()), around.size())
        around = around.parentWidget() if around is not top else None
    return seen.size()


def is_hidden(widget: QWidget) -> bool:
    """Whether less of it is seen than a line, or than all of it where it is smaller."""
    seen = seen_of(widget)
    return seen.height() < min(24, widget.height()) or seen.width() < min(24, widget.width())


def kind_of(widget: QWidget) -> str:
    """What decides how its focus is drawn: its class and its role in the style sheet."""
    return f"{type(widget).__name__} {widget.property('role')} {widget.property('bench')}"


def shows_focus(widget: QWidget) -> bool:
    """Looked at up to three times: what a page does by itself meanwhile may hide it for a moment."""
    for _ in range(3):
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        QApplication.processEvents()
        with_focus = widget.window().grab().toImage()
        widget.clearFocus()
        if widget.window().grab().toImage() != with_focus:
            return True
    return False


def too_small(widget: QWidget) -> bool:
    # Empties a field that Backspace empties too: 2.5.8 lets what has an equal be small.
    if isinstance(widget, QToolButton) and isinstance(widget.parent(), QLineEdit):
        return False
    pressed = isinstance(widget, (QAbstractButton, QLineEdit, QComboBox, QSlider))
    return pressed and (widget.width() < 24 or widget.height() < 24)


ROLES = {
    QAbstractButton: {"Button", "ButtonMenu", "CheckBox", "RadioButton"}, QLineEdit: {"EditableText"},
    QComboBox: {"ComboBox"}, QAbstractItemView: {"Table", "List"}, QAbstractSpinBox: {"SpinBox"},
    QPlainTextEdit: {"EditableText"}, QTextEdit: {"EditableText"}, QSlider: {"Slider"},
}  # fmt: skip
"""What a screen reader may call a control of each class."""
FOCUS_SEEN: dict[str, bool] = {}
"""Whether focus is seen on each kind of control, looked at once."""


def wrong_role(control: QWidget) -> bool:
    if isinstance(control, QHeaderView):  # a screen reader reads it as part of its table
        return False
    return any(isinstance(control, kind) and role_of(control).name not in roles for kind, roles in ROLES.items())


def says_not_why(control: QWidget) -> bool:
    """Greyed for the signed-in user with a tip that says so, and without the same words for a screen reader."""
    tip = control.toolTip()
    return bool(tip) and not control.isEnabled() and not name_of(control, QAccessible.Text.Description)


def faults_of_focus(scene: str, shown: QWidget) -> list[str]:
    """What is wrong where Tab leads: no name, off the screen, or focus that cannot be told."""
    found = []
    for widget in reached(shown):
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        QApplication.processEvents()
        if QApplication.focusWidget() is not widget:
            continue
        told, kind = f"{scene}: {kind_of(widget)} {name_of(widget)!r}", kind_of(widget)
        if kind not in FOCUS_SEEN and not is_hidden(widget):
            FOCUS_SEEN[kind] = shows_focus(widget)
        found += [f"{told} without name"] if not name_of(widget) else []
        found += [f"{told} off the screen"] if is_hidden(widget) else []
        found += [f"{told} shows no focus"] if not FOCUS_SEEN.get(kind, True) else []
    return found


def faults_of_controls(scene: str, shown: QWidget) -> list[str]:
    """Controls without a name, with a role that is not theirs, greyed without a reason, or too small to hit."""
    found = []
    for control in controls(shown):
        told = f"{scene}: {type(control).__name__} in {type(control.parent()).__name__}"
        found += [f"{told} without name"] if not name_of(control) else []
        found += [f"{told} {role_of(control)}"] if wrong_role(control) or says_not_why(control) else []
        found += [f"{told} {control.size().toTuple()}"] if too_small(control) else []
    return found


BAND = re.compile(r"(\S+) (-?[\d.]+) \S+ (-?[\d.]+)$")
"""What a field says is usual or possible, in any language: a word, the least, a word, the most."""


def faults_of_figures(scene: str, shown: QWidget) -> list[str]:
    """Fields of measured figures that do not say beside them what was read last and what is plausible, or not truly."""
    found = []
    for field in shown.findChildren(ExpectingField):
        if field.quantity is None or not field.isVisible():
            continue
        told, line = f"{scene}: {field.accessibleName()!r}", field.beside
        if line is None or not line.isVisible():
            found.append(f"{told} says nothing beside it")
            continue
        band = BAND.search(line.text())
        if band is None:
            found.append(f"{told} names no band: {line.text()!r}")
            continue
        low, high = float(band[2]), float(band[3])
        if (
            field.judged((low + high) / 2.0).likely is not Likely.FINE
            or field.judged(high * 1.02 + 0.1).likely is Likely.FINE
        ):
            found.append(f"{told} takes another band than {line.text()!r}")
        before = (
            field.last
            if field.last is None or field.quantity.measure is None
            else field.quantity.measure.shown(field.last)
        )
        last = worded("not recorded") if before is None else f"{float(f'{before:.4g}'):g}"
        if field.known_as and last not in line.text():
            found.append(f"{told} does not tell the last figure: {line.text()!r}")
        if line.width() < line.fontMetrics().horizontalAdvance(line.text()):
            found.append(f"{told} is cut off: {line.text()!r}")
    return found


MARKUP = "<s>"
"""A tag that Qt knows; what was recorded with it in it must be shown with it in it."""
ROWS_LOOKED_AT = 30


def faults_of_text(scene: str, shown: QWidget) -> list[str]:
    """Labels and tool tips, of widgets, headings and cells, that would take recorded text for markup."""
    labels = [each for each in shown.findChildren(QLabel) if MARKUP in each.text()]
    loose = {each.text() for each in labels if each.textFormat() is not Qt.TextFormat.PlainText}
    widgets = [shown, *shown.findChildren(QWidget)]
    tips = {each.toolTip() for each in widgets} | {tip for view in widgets for tip in _tips_of(view)}
    return [f"{scene}: takes {each!r} for markup" for each in sorted(loose | {tip for tip in tips if MARKUP in tip})]


def _tips_of(view: QWidget) -> Iterator[str]:
    model = view.model() if isinstance(view, QAbstractItemView) and not isinstance(view, QHeaderView) else None
    if model is None:
        return
    columns = 1 if isinstance(model, QAbstractListModel) else model.columnCount(QModelIndex())
    for column in range(columns):
        yield str(model.headerData(column, Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole) or "")
        for row in range(min(model.rowCount(QModelIndex()), ROWS_LOOKED_AT)):
            yield str(model.index(row, column).data(Qt.ItemDataRole.ToolTipRole) or "")


SMALLEST = QRect(0, 0, 1024, 768)
"""What a small screen has for its windows."""


def cut_off(dialog: QDialog) -> list[str]:
    """What of a dialog's edges and feet lies outside the screen, or outside the dialog itself."""
    frame = dialog.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight)
    seen = SMALLEST.adjusted(0, frame, 0, 0)
    feet = [getattr(dialog, name, None) for name in ("act_button", "leave_button", "close_button")]
    buttons = [each for each in feet if each is not None] or dialog.findChildren(QPushButton)
    placed = [(each, QRect(each.mapToGlobal(QPoint(0, 0)), each.size())) for each in buttons if each.isVisible()]
    within = QRect(dialog.mapToGlobal(QPoint(0, 0)), dialog.size())
    out = [each.text() for each, place in placed if not (seen.contains(place) and within.contains(place))]
    return out + ([] if SMALLEST.contains(within) else [f"the dialog at {within}"])


def is_blank(picture: QImage) -> bool:
    """Whether hardly anything is drawn on it."""
    return len({picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)}) <= 8

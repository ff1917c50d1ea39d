"""The one place that decides how the window looks: colours, type, spacing, icons, style sheet.

Signals:
    changed: another scheme is in force, or another text size; what was painted with either is painted again.
    text_size_changed: text is shown larger or smaller; whoever measured a text measures again.
"""

import importlib.util
import weakref
from dataclasses import asdict
from functools import cache, partial
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

import shiboken6
from PySide6.QtCore import QByteArray, QCoreApplication, QObject, QPoint, QRectF, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QFontMetrics,
    QGuiApplication,
    QIcon,
    QPainter,
    QPalette,
    QPixmap,
)
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QScrollArea, QTableView, QWidget

from fleetbench.calc.core.languages import say
from fleetbench.shipped import shipped
from fleetbench.window.look.marks import HIGH_LIGHT, LIGHT, SCHEMES, Colours, Mark, shape_path

if TYPE_CHECKING:
    from collections.abc import Callable

GRID = 4
"""Spacing unit in device-independent pixels; every gap is a multiple of it."""

TIGHT, CLOSE, APART, BLOCK, SECTION, PAGE = (GRID * n for n in (1, 2, 3, 4, 6, 8))

CONTROL_HEIGHT = 9 * GRID
BENCH_HEIGHT = 13 * GRID
"""Height of what is pressed with wet hands."""

TEXT_SCALE = "text_scale"
"""Property of the application: how many times its usual size text has."""

ZOOMS = (0.9, 1.0, 1.15, 1.3, 1.5, 1.75, 2.0)
"""Steps of the user's own text size, beside the system's; WCAG 2.2, 1.4.4 asks for 200 %."""

FACE = "Roboto"
TYPE_SCALE: dict[str, tuple[int, QFont.Weight]] = {
    "small": (12, QFont.Weight.Normal),
    "label": (12, QFont.Weight.Medium),
    "body": (14, QFont.Weight.Normal),
    "strong": (14, QFont.Weight.Medium),
    "heading": (17, QFont.Weight.Medium),
    "title": (26, QFont.Weight.Normal),
    "reading": (24, QFont.Weight.Medium),
}
"""Roles of text: size in px where text has its usual size, and weight."""

_IN_FORCE = say("look in force")
_ICON_SIDES = (20, 32)
_FACE = "face"
_TONE = "tone"
_USUAL_POINTS = {"windows": 9.0, "cocoa": 13.0}
_USUAL_DENSITY = {"cocoa": 72.0}


class Theme(QObject):
    """Colours in force, fonts and icons; follows the system, its wish for contrast too, until told otherwise."""

    changed = Signal()
    text_size_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._follow_system = True
        self._look = system_look()
        self._dressed: list[tuple[weakref.ref[QAbstractButton], Callable[[], QIcon]]] = []
        self._icons: dict[tuple[str, str, str], QIcon] = {}
        self._mark_icons: dict[tuple[Mark, str], QIcon] = {}
        self.zoom = 1.0
        load_faces()
        QTimer.singleShot(0, self, load_other_faces)
        hints = QGuiApplication.styleHints()
        hints.colorSchemeChanged.connect(self._on_system_changed)
        hints.accessibility().contrastPreferenceChanged.connect(self._on_system_changed)
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._on_focus)

    @property
    def colours(self) -> Colours:
        """The scheme in force."""
        return SCHEMES[self._look]

    @property
    def is_dark(self) -> bool:
        """True when a dark scheme is in force."""
        return self._look.endswith("dark")

    def colour(self, name: str) -> QColor:
        """The colour of that meaning in the scheme in force; raises AttributeError for a name that has none."""
        return QColor(getattr(self.colours, name))

    def icon(self, name: str, tone: str = "ink") -> QIcon:
        """The line icon of that name, tinted; raises FileNotFoundError for a name without a drawing."""
        key = (name, tone, self._look)
        if key not in self._icons:
            self._icons[key] = _tinted_icon(name, self.colour(tone), self.colour("faint"))
        return self._icons[key]

    def dress(self, button: QAbstractButton, icon: str, tone: str = "ink") -> None:
        """Put a tinted icon on a button and keep it right when the scheme changes."""
        self._dressed.append((weakref.ref(button), partial(self.icon, icon, tone)))
        button.setIcon(self.icon(icon, tone))

    def dress_with_mark(self, button: QAbstractButton, mark: Mark) -> None:
        """Put a mark's shape in its colour on a button and keep it right when the scheme changes."""
        self._dressed.append((weakref.ref(button), partial(self.mark_icon, mark)))
        button.setIcon(self.mark_icon(mark))

    def mark_icon(self, mark: Mark) -> QIcon:
        """A mark's shape in its colour as an icon."""
        key = (mark, self._look)
        if key not in self._mark_icons:
            self._mark_icons[key] = self._drawn(mark)
        return self._mark_icons[key]

    def _drawn(self, mark: Mark) -> QIcon:
        icon = QIcon()
        for ratio in (1, 2):
            pixmap = _clear_pixmap(16, ratio)
            painter = QPainter(pixmap)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.fillPath(shape_path(mark.shape, QRectF(1.5, 1.5, 13, 13)), self.colour(mark.tone))
            painter.end()
            icon.addPixmap(pixmap)
        return icon

    def apply(self, app: QApplication) -> None:
        """Give the application the base style, palette, face and style sheet of the scheme in force.

        Nothing is done where it has them: every open widget is worked out again for a style.
        """
        scale = self.zoom * system_text_scale()
        wanted = [self._look, scale]
        if app.property(_IN_FORCE) == wanted:
            return
        app.setProperty(_IN_FORCE, wanted)
        app.setProperty(TEXT_SCALE, scale)
        app.setStyle("Fusion")
        app.setFont(font("body"))
        app.setPalette(palette(self.colours))
        app.setStyleSheet(style_sheet(self.colours))

    def set_zoom(self, zoom: float) -> None:
        """Show text so many times as large as the system has it, at once and in every open page."""
        self.zoom = min(max(zoom, ZOOMS[0]), ZOOMS[-1])
        app = QApplication.instance()
        if isinstance(app, QApplication):
            self.apply(app)
            for widget in app.allWidgets():
                _size_again(widget)
        self.text_size_changed.emit()
        self.changed.emit()

    def zoom_by(self, steps: int) -> None:
        """Go so many steps up or down in text size."""
        nearest = min(range(len(ZOOMS)), key=lambda at: abs(ZOOMS[at] - self.zoom))
        self.set_zoom(ZOOMS[min(max(nearest + steps, 0), len(ZOOMS) - 1)])

    def set_dark(self, dark: bool) -> None:
        """Choose light or dark by hand; the system's is no longer followed."""
        self.set_look("dark" if dark else "light")

    def set_look(self, look: str) -> None:
        """Choose a look of SCHEMES by hand, or "system" to follow the system; raises KeyError for any other."""
        self._follow_system = look == "system"
        self._switch(system_look() if self._follow_system else look)

    def _switch(self, look: str) -> None:
        if look == self._look:
            return
        SCHEMES[look]
        self._look = look
        app = QApplication.instance()
        if isinstance(app, QApplication):
            self.apply(app)
        self._dress_again()
        self.changed.emit()

    def _dress_again(self) -> None:
        living = []
        for ref, make_icon in self._dressed:
            button = ref()
            if button is not None and shiboken6.isValid(button):
                button.setIcon(make_icon())
                living.append((ref, make_icon))
        self._dressed = living

    @Slot(QWidget, QWidget)
    def _on_focus(self, _before: QWidget | None, now: QWidget | None) -> None:
        # What a pointer is pressed on stays under it until it is let go.
        if now is not None and QGuiApplication.mouseButtons() == Qt.MouseButton.NoButton:
            bring_into_view(now)

    @Slot()
    def _on_system_changed(self) -> None:
        if self._follow_system:
            self._switch(system_look())


def bring_into_view(widget: QWidget) -> None:
    """Scroll every area around a widget so that it is seen; of a table the current row, of what is high its top."""
    part = widget.rect()
    if isinstance(widget, QAbstractItemView) and widget.currentIndex().isValid():
        part = widget.visualRect(widget.currentIndex()).translated(widget.viewport().pos())
        part.setWidth(min(part.width(), row_height()))
    area = widget.parentWidget()
    while area is not None:
        body = area.widget() if isinstance(area, QScrollArea) else None
        if isinstance(area, QScrollArea) and body is not None and body.isAncestorOf(widget):
            seen = area.viewport().size()
            half = QSize(min(part.width(), seen.width()) // 2, min(part.height(), seen.height()) // 2)
            middle = widget.mapTo(body, part.topLeft()) + QPoint(half.width(), half.height())
            area.ensureVisible(middle.x(), middle.y(), half.width(), min(half.height() + APART, seen.height() // 2))
        area = area.parentWidget()


def font(role: str) -> QFont:
    """The font of a role in the type scale; raises KeyError for a role that is not in it."""
    size, weight = TYPE_SCALE[role]
    return QFont(_face(scaled(size), weight))


@cache
def _face(pixels: int, weight: QFont.Weight) -> QFont:
    """Found in the machine's fonts once: every cell that is painted and every text that is measured asks for one."""
    face = QFont(FACE)
    face.setPixelSize(pixels)
    face.setWeight(weight)
    face.setVariableAxis(QFont.Tag("wght"), weight)  # a face of all weights draws Chinese signs
    return face


def put_font(widget: QWidget, role: str) -> None:
    """Give a widget the font of a role, which follows the text size."""
    widget.setProperty(_FACE, role)
    widget.setFont(font(role))


def put_tone(widget: QWidget, tone: str) -> None:
    """Write the words of a label in the colour of that meaning, in whatever scheme is in force.

    By the one sheet of the application: a sheet of its own costs a label more than all else that it needs.
    """
    if widget.property(_TONE) == tone:
        return
    widget.setProperty(_TONE, tone)
    if widget.testAttribute(Qt.WidgetAttribute.WA_WState_Polished):
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def scaled(length: int) -> int:
    """A length in px that grows and shrinks with the text."""
    app = QCoreApplication.instance()
    scale = app.property(TEXT_SCALE) if app is not None else None
    return round(length * scale) if scale else length


def row_height() -> int:
    """Height of a row of a list in px."""
    return scaled(9 * GRID)


def head_height() -> int:
    """Height of the headings of a list in px."""
    return scaled(8 * GRID)


def system_text_scale() -> float:
    """How much larger than usual the system shows text, never below 1: on screen small print is no gain."""
    points = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont).pointSizeF()
    screen = QGuiApplication.primaryScreen()
    density = screen.logicalDotsPerInch() / _USUAL_DENSITY.get(QGuiApplication.platformName(), 96.0)
    return max(1.0, points * density / _USUAL_POINTS.get(QGuiApplication.platformName(), 11.0))


def _size_again(widget: QWidget) -> None:
    role = widget.property(_FACE)
    if role:
        widget.setFont(font(role))
    if isinstance(widget, QTableView):
        widget.verticalHeader().setDefaultSectionSize(row_height())
        widget.horizontalHeader().setFixedHeight(head_height())
    widget.updateGeometry()


def text_width(text: str, role: str = "body") -> int:
    """Width of a text in pixels as it will be painted."""
    return measure_of(role).horizontalAdvance(text)


def measure_of(role: str) -> QFontMetrics:
    """Measures of the font of a role, at the text size in force."""
    size, weight = TYPE_SCALE[role]
    return _measures(scaled(size), weight)


@cache
def _measures(pixels: int, weight: QFont.Weight) -> QFontMetrics:
    return QFontMetrics(_face(pixels, weight))


def palette(colours: Colours) -> QPalette:
    """The palette for what the style sheet does not reach."""
    made = QPalette()
    role = QPalette.ColorRole
    for which, name in (
        (role.Window, "surface"), (role.WindowText, "ink"), (role.Base, "raised"), (role.AlternateBase, "sunken"),
        (role.Text, "ink"), (role.Button, "raised"), (role.ButtonText, "ink"), (role.BrightText, "on_accent"),
        (role.ToolTipBase, "raised"), (role.ToolTipText, "ink"), (role.PlaceholderText, "muted"),
        (role.Highlight, "chosen"), (role.HighlightedText, "ink"), (role.Link, "accent"), (role.Accent, "accent"),
        (role.LinkVisited, "accent"), (role.Light, "raised"), (role.Mid, "line"), (role.Dark, "edge"),
    ):  # fmt: skip
        made.setColor(which, QColor(getattr(colours, name)))
    for which in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, which, QColor(colours.faint))
    return made


def style_sheet(colours: Colours) -> str:
    """The style sheet with every token filled in; raises KeyError when the sheet names a token that does not exist."""
    sizes = {f"size_{role}": f"{scaled(size)}px" for role, (size, _weight) in TYPE_SCALE.items()}
    heights = {"control_height": f"{scaled(CONTROL_HEIGHT) - 2}px", "bench_height": f"{scaled(BENCH_HEIGHT) - 2}px"}
    gaps = {"tight": TIGHT, "close": CLOSE, "apart": APART, "block": BLOCK, "section": SECTION, "page": PAGE}
    look = "light" if colours in (LIGHT, HIGH_LIGHT) else "dark"
    drawn = {name: (shipped("resources") / "style" / f"{name}_{look}.svg").as_posix() for name in ("tick", "arrow")}
    tones = (f'QLabel[{_TONE}="{name}"] {{ color: {colour}; }}' for name, colour in asdict(colours).items())
    filled = _sheet_template().substitute(
        asdict(colours), **drawn, **sizes, **heights, **{name: f"{gap}px" for name, gap in gaps.items()}
    )
    return "\n".join((filled, *tones))


@cache
def _sheet_template() -> Template:
    return Template((shipped("resources") / "style" / "window.qss").read_text(encoding="utf-8"))


def load_faces() -> None:
    """Make the program's own face known to Qt, so that every machine shows the same figures in the same widths."""
    if FACE in QFontDatabase.families():
        return
    found = importlib.util.find_spec("font_roboto")
    if found is None or found.origin is None:
        return
    for style in ("Regular", "Medium", "Bold", "Italic"):
        QFontDatabase.addApplicationFont(str(Path(found.origin).parent / "files" / f"Roboto-{style}.ttf"))


def load_other_faces() -> None:
    """Make the faces of other scripts known once the window is shown: no name is a row of boxes on a bare machine.

    The large ones for Chinese, Japanese and Korean only where the machine has none of its own.
    """
    if _OTHER_FACE in QFontDatabase.families():
        return
    large = () if QFontDatabase.families(QFontDatabase.WritingSystem.Japanese) else ("manimgx_fonts_cjk",)
    for package in ("manimgx_fonts", *large):
        found = importlib.util.find_spec(package)
        folder = Path(found.origin or "").parent if found is not None else None
        for path in sorted(folder.glob("NotoSans?*.tt[fc]")) if folder is not None else ():
            if not path.name.startswith(_NOT_NEEDED):
                QFontDatabase.addApplicationFont(str(path))


_OTHER_FACE = "Noto Sans Arabic"
_NOT_NEEDED = ("NotoSans[", "NotoSans-", "NotoSansSymbols")
"""Latin is in the program's own face, and signs that are no letters look as they always did."""


def system_look() -> str:
    """The look of SCHEMES that the system asks for, by its scheme and its wish for contrast."""
    hints = QGuiApplication.styleHints()
    look = "dark" if hints.colorScheme() == Qt.ColorScheme.Dark else "light"
    high = hints.accessibility().contrastPreference() == Qt.ContrastPreference.HighContrast
    return say("high contrast {look}", look=look) if high else look


@cache
def _icon_source(name: str) -> str:
    return (shipped("resources") / "icons" / f"{name}.svg").read_text(encoding="utf-8")


def _tinted_icon(name: str, colour: QColor, disabled: QColor) -> QIcon:
    icon = QIcon()
    for side in _ICON_SIDES:
        for ratio in (1, 2):
            icon.addPixmap(_tinted_pixmap(name, colour, side, ratio))
            icon.addPixmap(_tinted_pixmap(name, disabled, side, ratio), QIcon.Mode.Disabled)
    return icon


def _tinted_pixmap(name: str, colour: QColor, side: int, ratio: int) -> QPixmap:
    source = _icon_source(name).replace("currentColor", colour.name())
    pixmap = _clear_pixmap(side, ratio)
    painter = QPainter(pixmap)
    QSvgRenderer(QByteArray(source.encode())).render(painter, QRectF(0, 0, side, side))
    painter.end()
    return pixmap


def _clear_pixmap(side: int, ratio: int) -> QPixmap:
    pixmap = QPixmap(QSize(side, side) * ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    pixmap.setDevicePixelRatio(ratio)
    return pixmap

"""The one place that decides how the window looks: colours, type, spacing, icons, style sheet.

Signals:
    changed: another scheme is in force, or another text size; whoever painted with either paints again.
    text_size_changed: text is shown larger or smaller; whoever measured a text measures again.

Colours named for what they mean, light and dark, plain and in high contrast, and which of them may stand on which.
"""

import importlib.util
import weakref
from dataclasses import asdict, dataclass, fields
from functools import cache, partial
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

import shiboken6
from PySide6.QtCore import QByteArray, QCoreApplication, QObject, QRectF, QSize, Qt, Signal, Slot
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
from PySide6.QtWidgets import QAbstractButton, QApplication, QTableView, QWidget

from fleetbench.shipped import shipped
from fleetbench.window.look.marks import Mark, shape_path

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True, slots=True)
class Colours:
    """One scheme: each field is an sRGB colour as #rrggbb, named for its meaning."""

    # grounds, from the back to the front
    rail: str
    surface: str
    raised: str
    sunken: str
    chosen: str
    # ink
    ink: str
    muted: str
    faint: str
    line: str
    edge: str
    # what can be acted on
    accent: str
    accent_pressed: str
    on_accent: str
    # how fit a unit is
    state_ready: str
    state_due_soon: str
    state_hold: str
    state_unknown: str
    # answer of a measurement
    verdict_pass: str
    verdict_watch: str
    verdict_repeat: str
    verdict_reject: str
    # answer of a readiness check
    check_ok: str
    check_advise: str
    check_stop: str
    # grounds for a line that speaks inside a page
    ground_note: str
    ground_refused: str


LIGHT = Colours(
    rail="#d9e0de",
    surface="#eef1ef",
    raised="#fcfdfc",
    sunken="#e4e9e7",
    chosen="#dbe4f3",
    ink="#16211f",
    muted="#4b5957",
    faint="#6f7c7a",
    line="#d3dad7",
    edge="#77847f",
    accent="#2c4f8c",
    accent_pressed="#213c6b",
    on_accent="#ffffff",
    state_ready="#0b6150",
    state_due_soon="#7d4e00",
    state_hold="#a3133f",
    state_unknown="#535f66",
    verdict_pass="#0b6150",
    verdict_watch="#7d4e00",
    verdict_repeat="#5a3c98",
    verdict_reject="#a3133f",
    check_ok="#0b6150",
    check_advise="#7d4e00",
    check_stop="#a3133f",
    ground_note="#e3e9f4",
    ground_refused="#f6e2e6",
)

DARK = Colours(
    rail="#0f1516",
    surface="#161d1e",
    raised="#1e2728",
    sunken="#253031",
    chosen="#2c3b58",
    ink="#e7edeb",
    muted="#a9b6b3",
    faint="#8b9895",
    line="#324041",
    edge="#7d8b89",
    accent="#a5bcf2",
    accent_pressed="#c3d2f7",
    on_accent="#0f1a33",
    state_ready="#62cbb0",
    state_due_soon="#e6b454",
    state_hold="#f792aa",
    state_unknown="#a9b5bb",
    verdict_pass="#62cbb0",
    verdict_watch="#e6b454",
    verdict_repeat="#c3aef7",
    verdict_reject="#f792aa",
    check_ok="#62cbb0",
    check_advise="#e6b454",
    check_stop="#f792aa",
    ground_note="#24304a",
    ground_refused="#42232b",
)

HIGH_LIGHT = Colours(
    rail="#ebebeb",
    surface="#ffffff",
    raised="#ffffff",
    sunken="#f2f2f2",
    chosen="#d9e6ff",
    ink="#000000",
    muted="#262626",
    faint="#4f4f4f",
    line="#6e6e6e",
    edge="#000000",
    accent="#00207a",
    accent_pressed="#001450",
    on_accent="#ffffff",
    state_ready="#003d30",
    state_due_soon="#4f3000",
    state_hold="#73002a",
    state_unknown="#2a3238",
    verdict_pass="#003d30",
    verdict_watch="#4f3000",
    verdict_repeat="#3a1c78",
    verdict_reject="#73002a",
    check_ok="#003d30",
    check_advise="#4f3000",
    check_stop="#73002a",
    ground_note="#d9e6ff",
    ground_refused="#ffe0e6",
)

HIGH_DARK = Colours(
    rail="#161616",
    surface="#000000",
    raised="#000000",
    sunken="#161616",
    chosen="#002a66",
    ink="#ffffff",
    muted="#e6e6e6",
    faint="#b8b8b8",
    line="#949494",
    edge="#ffffff",
    accent="#a8d4ff",
    accent_pressed="#d6ebff",
    on_accent="#000000",
    state_ready="#66f2cc",
    state_due_soon="#ffd24d",
    state_hold="#ffb0c4",
    state_unknown="#d5dde2",
    verdict_pass="#66f2cc",
    verdict_watch="#ffd24d",
    verdict_repeat="#dccbff",
    verdict_reject="#ffb0c4",
    check_ok="#66f2cc",
    check_advise="#ffd24d",
    check_stop="#ffb0c4",
    ground_note="#002152",
    ground_refused="#4d0016",
)

SCHEMES = {"light": LIGHT, "dark": DARK, "high contrast light": HIGH_LIGHT, "high contrast dark": HIGH_DARK}
"""Every scheme by the look that shows it; "system" follows what the system asks for."""

GROUNDS = ("rail", "surface", "raised", "sunken", "chosen")
INKS = ("ink", "muted")
TONES = tuple(field.name for field in fields(Colours) if field.name.startswith(("state_", "verdict_", "check_")))

TEXT_PAIRS: tuple[tuple[str, str], ...] = (
    *((ink, ground) for ink in INKS for ground in GROUNDS),
    *((tone, ground) for tone in TONES for ground in ("surface", "raised", "sunken", "chosen")),
    *(("accent", ground) for ground in ("surface", "raised", "sunken", "chosen", "ground_note")),
    ("on_accent", "accent"),
    ("on_accent", "accent_pressed"),
    ("ink", "ground_note"),
    ("ink", "ground_refused"),
    ("check_stop", "ground_refused"),
)
"""Every (text, ground) that the window paints; each must reach 4.5:1 (WCAG 2.2, 1.4.3), 7:1 in high contrast (1.4.6)."""

MARK_PAIRS: tuple[tuple[str, str], ...] = (
    *(("edge", ground) for ground in ("surface", "raised", "sunken")),
    *(("faint", ground) for ground in ("surface", "raised", "sunken", "chosen")),
    *(("accent", ground) for ground in GROUNDS),
    *((tone, ground) for tone in TONES for ground in GROUNDS),
)
"""Every (mark, ground): shapes, frames of fields, focus rings; each must reach 3:1 (WCAG 2.2, 1.4.11)."""

HIGH_PAIRS: tuple[tuple[str, str], ...] = (
    *(("line", ground) for ground in GROUNDS),
    *(("edge", ground) for ground in GROUNDS),
)
"""What high contrast adds to the marks: the frames of cards, lists and buttons that are not chosen."""


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

_ICON_SIDES = (20, 32)
_FACE = "face"
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
        self.zoom = 1.0
        load_faces()
        hints = QGuiApplication.styleHints()
        hints.colorSchemeChanged.connect(self._on_system_changed)
        hints.accessibility().contrastPreferenceChanged.connect(self._on_system_changed)

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
        """Give the application the base style, palette, face and style sheet of the scheme in force."""
        app.setProperty(TEXT_SCALE, self.zoom * system_text_scale())
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

    @Slot()
    def _on_system_changed(self) -> None:
        if self._follow_system:
            self._switch(system_look())


def font(role: str) -> QFont:
    """The font of a role in the type scale; raises KeyError for a role that is not in it."""
    size, weight = TYPE_SCALE[role]
    face = QFont(FACE)
    face.setPixelSize(scaled(size))
    face.setWeight(weight)
    return face


def put_font(widget: QWidget, role: str) -> None:
    """Give a widget the font of a role, which follows the text size."""
    widget.setProperty(_FACE, role)
    widget.setFont(font(role))


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
    return QFontMetrics(font(role)).horizontalAdvance(text)


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
    return _sheet_template().substitute(
        asdict(colours), **drawn, **sizes, **heights, **{name: f"{gap}px" for name, gap in gaps.items()}
    )


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


def system_look() -> str:
    """The look of SCHEMES that the system asks for, by its scheme and its wish for contrast."""
    hints = QGuiApplication.styleHints()
    look = "dark" if hints.colorScheme() == Qt.ColorScheme.Dark else "light"
    high = hints.accessibility().contrastPreference() == Qt.ContrastPreference.HighContrast
    return f"high contrast {look}" if high else look


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

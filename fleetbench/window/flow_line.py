"""The breathing loop and gas side of a unit as one plain line from left to right, each slot in its place."""

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QToolButton, QVBoxLayout, QWidget

from fleetbench.window.buttons import text_label
from fleetbench.window.marks import Mark
from fleetbench.window.place import Place
from fleetbench.window.rows import as_plain_tip
from fleetbench.window.state_delegate import SHAPE_SIDE, paint_shape
from fleetbench.window.theme import APART, GRID, TIGHT, Theme, font

STATION_WIDTH = 26 * GRID
STATION_HEIGHT = 22 * GRID
_LINE_AT = 5 * GRID


@dataclass(frozen=True, slots=True)
class Station:
    """One slot on the line: its name, what is said of it, its state, whether oxygen flows there, where it leads."""

    name: str
    words: str
    mark: Mark
    oxygen_side: bool = False
    leads_to: Place | None = None


class StationButton(QToolButton):
    """One slot, drawn on its piece of the line; a doubled line is the oxygen side.

    Signals:
        place_requested: the Place it leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, station: Station, ends: tuple[bool, bool], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self.station, self._ends = theme, station, ends
        self.setFixedSize(STATION_WIDTH, STATION_HEIGHT)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(f"{station.name}: {station.mark.word}, {station.words}")
        self.setToolTip(as_plain_tip(f"{station.name}: {station.mark.word}. {station.words}"))
        if station.leads_to is not None:
            self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.clicked.connect(self._on_clicked)

    @Slot()
    def _on_clicked(self) -> None:
        if self.station.leads_to is not None:
            self.place_requested.emit(self.station.leads_to)

    # Qt overrides

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_line(painter)
        box = QRectF((self.width() - SHAPE_SIDE) / 2, _LINE_AT - SHAPE_SIDE / 2, SHAPE_SIDE, SHAPE_SIDE)
        painter.fillRect(box.adjusted(-4, -4, 4, 4), self._theme.colour("raised"))
        paint_shape(painter, self._theme, self.station.mark, box)
        self._paint_words(painter)
        if self.hasFocus() or self.underMouse():
            painter.setPen(QPen(self._theme.colour("accent"), 2 if self.hasFocus() else 1))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(2, 2, -2, -2), 4, 4)
        painter.end()

    def _paint_line(self, painter: QPainter) -> None:
        painter.setPen(QPen(self._theme.colour("faint"), 2))
        left = self.width() / 2 if self._ends[0] else 0
        right = self.width() / 2 if self._ends[1] else self.width()
        for offset in (-2.5, 2.5) if self.station.oxygen_side else (0,):
            painter.drawLine(QPointF(left, _LINE_AT + offset), QPointF(right, _LINE_AT + offset))

    def _paint_words(self, painter: QPainter) -> None:
        centred = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop
        wrapped = centred | Qt.TextFlag.TextWordWrap
        painter.setFont(font("label"))
        painter.setPen(self._theme.colour("ink"))
        painter.drawText(QRectF(TIGHT, 9 * GRID, self.width() - 2 * TIGHT, 8 * GRID), wrapped, self.station.name)
        painter.setFont(font("small"))
        painter.setPen(self._theme.colour(self.station.mark.tone))
        text = painter.fontMetrics().elidedText(
            self.station.mark.word, Qt.TextElideMode.ElideRight, self.width() - 2 * TIGHT
        )
        painter.drawText(QRectF(TIGHT, 17 * GRID, self.width() - 2 * TIGHT, 4 * GRID), centred, text)


class FlowLine(QFrame):
    """The whole line with its caption; scrolls sideways where the window is narrow.

    Signals:
        place_requested: the Place of a slot that was pressed.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, stations: tuple[Station, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        caption = "Breathing loop and gas side, from left to right; oxygen flows where the line is doubled."
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, TIGHT)
        layout.setSpacing(TIGHT)
        layout.addWidget(text_label(caption, "small", self))
        layout.addWidget(self._scrolled(theme, stations))

    @property
    def buttons(self) -> list[StationButton]:
        """The slots from left to right."""
        return self.findChildren(StationButton)

    def _scrolled(self, theme: Theme, stations: tuple[Station, ...]) -> QScrollArea:
        body = QWidget()
        body.setObjectName("flow")
        line = QHBoxLayout(body)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(0)
        for number, station in enumerate(stations):
            button = StationButton(theme, station, (number == 0, number == len(stations) - 1), body)
            button.place_requested.connect(self.place_requested)
            line.addWidget(button)
        line.addStretch(1)
        area = QScrollArea(self)
        area.setObjectName("flow")
        area.setWidgetResizable(True)
        area.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setFixedHeight(STATION_HEIGHT + APART)
        area.setWidget(body)
        return area

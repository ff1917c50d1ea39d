"""The breathing loop and gas side of a unit as one plain line from left to right, each slot in its place.

Signals:
    place_requested: the Place of a slot that was pressed.
"""

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QSizePolicy, QToolButton, QWidget

from fleetbench.window.marks import Mark
from fleetbench.window.place import Place
from fleetbench.window.rows import as_plain_tip
from fleetbench.window.state_delegate import SHAPE_SIDE, paint_shape
from fleetbench.window.theme import APART, CLOSE, GRID, TIGHT, Theme, font

STATION_WIDTH = 28 * GRID
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


class FlowLine(QScrollArea):
    """The whole line; scrolls sideways where the window is narrow.

    Signals:
        place_requested: the Place of a slot that was pressed.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setWidgetResizable(True)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFixedHeight(STATION_HEIGHT + 2 * CLOSE + APART)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        theme.changed.connect(self.update)

    @property
    def buttons(self) -> list[StationButton]:
        """The slots from left to right."""
        return self.findChildren(StationButton)

    def show_stations(self, stations: tuple[Station, ...]) -> None:
        """Show these slots; the line hides when there are none."""
        body = QWidget()
        body.setObjectName("flow")
        layout = QHBoxLayout(body)
        layout.setContentsMargins(CLOSE, CLOSE, CLOSE, CLOSE)
        layout.setSpacing(0)
        for number, station in enumerate(stations):
            ends = (number == 0, number == len(stations) - 1)
            button = StationButton(self._theme, station, ends, body)
            button.place_requested.connect(self.place_requested)
            layout.addWidget(button)
        layout.addStretch(1)
        self.setWidget(body)
        self.setVisible(bool(stations))

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(200 * GRID, self.height())

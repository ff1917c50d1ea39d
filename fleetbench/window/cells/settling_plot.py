"""The flush as it goes: mV of each cell over time, growing with every stamped reading.

Cells are told apart by the shape of their points and the name at the line's end, not by colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme, font, put_font

SYMBOLS = ("o", "s", "t", "d", "+")
_LEAST_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class SettlingSeries:
    """One cell on one reader: its name, seconds since the flush began, and mV."""

    name: str
    times_s: tuple[float, ...]
    mv: tuple[float, ...]


class SettlingPlot(QWidget):
    """Plots the stamped readings of a flush; pyqtgraph is loaded with the first one shown."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._plot: Any = None
        self._series: tuple[SettlingSeries, ...] = ()
        self._expected_s: float | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._waiting = text_label("The plot grows with each stamped reading.", "small", self)
        self._waiting.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._layout.addWidget(self._waiting)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        theme.changed.connect(self._draw)

    @property
    def series(self) -> tuple[SettlingSeries, ...]:
        """What is drawn."""
        return self._series

    def show_series(self, series: Sequence[SettlingSeries], expected_s: float | None) -> None:
        """Draw these, with the time when the flush is expected to be done."""
        self._series, self._expected_s = tuple(series), expected_s
        self._draw()

    def _made(self) -> Any:
        if self._plot is None:
            # pyqtgraph is slow to import, and only a flush needs it
            import pyqtgraph

            pyqtgraph.setConfigOptions(antialias=True)
            self._plot = pyqtgraph.PlotWidget(self)
            self._plot.setMenuEnabled(False)
            self._plot.setMouseEnabled(False, False)
            self._plot.hideButtons()
            self._plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._layout.addWidget(self._plot)
            self._waiting.hide()
        return self._plot

    @Slot()
    def _draw(self) -> None:
        if self._plot is None and not self._series:
            return
        import pyqtgraph

        plot = self._made()
        ink, muted, accent = (self._theme.colour(name) for name in ("ink", "muted", "accent"))
        plot.setBackground(self._theme.colour("raised"))
        plot.clear()
        for name, label in (("left", "mV"), ("bottom", "seconds since the flush began")):
            axis = plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
            # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
            axis.setLabel(label, color=muted.name(), siPrefixEnableRanges=())
        reach = max(
            [_LEAST_SECONDS, self._expected_s or 0.0, *(time for each in self._series for time in each.times_s)]
        )
        if self._expected_s is not None:
            pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
            line = pyqtgraph.InfiniteLine(pos=self._expected_s, angle=90, pen=pen, label="flush expected to be done",
                                          labelOpts={"position": 0.06, "color": accent, "rotateAxis": (1, 0),
                                                     "anchors": [(0, 0), (0, 0)]})  # fmt: skip
            plot.addItem(line)
        for number, each in enumerate(self._series):
            plot.plot(
                list(each.times_s), list(each.mv), pen=pyqtgraph.mkPen(muted, width=1.5), symbol=SYMBOLS[number % 5],
                symbolSize=9, symbolPen=ink, symbolBrush=ink if number % 2 == 0 else self._theme.colour("raised"),
            )  # fmt: skip
        self._name_ends(plot, ink)
        plot.setXRange(0.0, reach * 1.18, padding=0.02)
        values = [mv for each in self._series for mv in each.mv]
        if values:
            low, high = min(values), max(values)
            spread = max(high - low, 2.0)
            plot.setYRange(low - 0.15 * spread, high + 0.15 * spread, padding=0)

    def _name_ends(self, plot: Any, ink: Any) -> None:
        """Names beside the last points, spread where they would lie on one another."""
        import pyqtgraph

        ends = sorted((each.mv[-1], each.times_s[-1], each.name) for each in self._series if each.mv)
        values = [mv for each in self._series for mv in each.mv]
        step = 0.075 * max(max(values) - min(values), 2.0) if values else 0.0
        lowest = -1e9
        for mv, seconds, name in ends:
            height = max(mv, lowest + step)
            lowest = height
            label = pyqtgraph.TextItem(f"  {name}", color=ink, anchor=(0, 0.5))
            put_font(label, "small")
            label.setPos(seconds, height)
            plot.addItem(label)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(110 * GRID, 66 * GRID)

"""The readings of a measured test as they come in: over time, or trial after trial, with the limits in force."""

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetbench.window.look.theme import GRID, Theme, font

_LEAST_MINUTES = 1.0


@dataclass(frozen=True, slots=True)
class PlotFacts:
    """What is drawn: (minutes since the first, figure) or (number, figure), the unit, limits, minutes to be watched."""

    points: tuple[tuple[float, float], ...]
    unit: str
    over_time: bool
    low: float | None = None
    high: float | None = None
    until_minutes: float | None = None


class BenchPlot(QWidget):
    """Plots the readings of one test; pyqtgraph is loaded with the first reading."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._plot: Any = None
        self.facts: PlotFacts | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        theme.changed.connect(self._draw)

    def show_facts(self, facts: PlotFacts) -> None:
        """Draw these."""
        self.facts = facts
        self._draw()

    @Slot()
    def _draw(self) -> None:
        facts = self.facts
        if facts is None or (self._plot is None and not facts.points):
            return
        # pyqtgraph is slow to import, and only a measured test needs it
        import pyqtgraph

        if self._plot is None:
            pyqtgraph.setConfigOptions(antialias=True)
            self._plot = pyqtgraph.PlotWidget(self)
            self._plot.setMenuEnabled(False)
            self._plot.setMouseEnabled(False, False)
            self._plot.hideButtons()
            self._plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._layout.addWidget(self._plot)
        plot = self._plot
        plot.setBackground(self._theme.colour("raised"))
        plot.clear()
        self._dress(plot, facts)
        ink, muted = self._theme.colour("ink"), self._theme.colour("muted")
        plot.plot(
            [x for x, _y in facts.points], [y for _x, y in facts.points],
            pen=pyqtgraph.mkPen(muted, width=1.5) if facts.over_time else None,
            symbol="o", symbolSize=10, symbolPen=ink, symbolBrush=ink,
        )  # fmt: skip
        self._draw_limits(pyqtgraph, plot, facts)
        self._set_ranges(plot, facts)

    def _dress(self, plot: Any, facts: PlotFacts) -> None:
        muted = self._theme.colour("muted")
        bottom = "minutes since the first reading" if facts.over_time else "reading"
        for name, label in (("left", facts.unit), ("bottom", bottom)):
            axis = plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
            # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
            axis.setLabel(label, color=muted.name(), siPrefixEnableRanges=())
        ticks = None if facts.over_time else [[(x, f"{x:g}") for x, _y in facts.points]]
        plot.getAxis("bottom").setTicks(ticks)

    def _draw_limits(self, pyqtgraph: Any, plot: Any, facts: PlotFacts) -> None:
        accent = self._theme.colour("accent")
        pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
        for word, value in (("least", facts.low), ("most", facts.high)):
            if value is not None:
                plot.addItem(pyqtgraph.InfiniteLine(
                    pos=value, angle=0, pen=pen, label=f"{word} {value:.4g} {facts.unit}",
                    labelOpts={"position": 0.02, "color": accent, "anchors": [(0, 1), (0, 1)]},
                ))  # fmt: skip
        if facts.over_time and facts.until_minutes is not None:
            plot.addItem(pyqtgraph.InfiniteLine(
                pos=facts.until_minutes, angle=90, pen=pen, label="watch until here",
                labelOpts={"position": 0.06, "color": accent, "rotateAxis": (1, 0), "anchors": [(0, 0), (0, 0)]},
            ))  # fmt: skip

    def _set_ranges(self, plot: Any, facts: PlotFacts) -> None:
        last = max((x for x, _y in facts.points), default=0.0)
        if facts.over_time:
            plot.setXRange(0.0, 1.1 * max(_LEAST_MINUTES, last, facts.until_minutes or 0.0), padding=0.02)
        else:
            plot.setXRange(0.5, max(3.5, last + 0.5), padding=0.02)
        values = [y for _x, y in facts.points] + [each for each in (facts.low, facts.high) if each is not None]
        if values:
            spread = max(max(values) - min(values), 0.02 * abs(max(values)), 1e-3)
            plot.setYRange(min(values) - 0.15 * spread, max(values) + 0.2 * spread, padding=0)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(90 * GRID, 58 * GRID)

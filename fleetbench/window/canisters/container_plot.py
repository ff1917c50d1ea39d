"""Use of absorbent by month and lot: a bar a month, its parts the lots, told apart by shade and by their names."""

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme, font
from fleetbench.workshop.canisters.containers import UseMonth

SHADES = (0.95, 0.7, 0.48, 0.3)
_LEAST_NAMED_SHARE = 0.1


class UsePlot(QWidget):
    """Plots the kilograms packed a month; pyqtgraph is loaded with the first use shown."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._plot: Any = None
        self._use: tuple[UseMonth, ...] = ()
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(0)
        self.summary = text_label("", "small", self)
        self.summary.setWordWrap(True)
        self._layout.addWidget(self.summary)
        self.setFixedHeight(46 * GRID)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        theme.changed.connect(self._draw)

    @property
    def use(self) -> tuple[UseMonth, ...]:
        """What is drawn."""
        return self._use

    def show_use(self, use: Sequence[UseMonth]) -> None:
        """Draw this use, oldest month first."""
        self._use = tuple(use)
        self.summary.setText(use_words(self._use))
        self._draw()

    def _made(self) -> Any:
        if self._plot is None:
            # pyqtgraph is slow to import, and only this page draws it
            import pyqtgraph

            pyqtgraph.setConfigOptions(antialias=True)
            self._plot = pyqtgraph.PlotWidget(self)
            self._plot.setMenuEnabled(False)
            self._plot.setMouseEnabled(False, False)
            self._plot.hideButtons()
            self._plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._layout.addWidget(self._plot, 1)
        return self._plot

    @Slot()
    def _draw(self) -> None:
        if not self._use:
            return
        import pyqtgraph

        plot = self._made()
        ink, muted, ground = (self._theme.colour(name) for name in ("ink", "muted", "raised"))
        plot.setBackground(ground)
        plot.clear()
        months = sorted({each.month for each in self._use})
        lots = sorted({each.lot for each in self._use})
        heights = dict.fromkeys(months, 0.0)
        tallest = max(sum(each.kg for each in self._use if each.month == month) for month in months)
        for number, lot in enumerate(lots):
            mine = [each for each in self._use if each.lot == lot]
            places = [months.index(each.month) for each in mine]
            feet = [heights[each.month] for each in mine]
            brush = shade(self._theme.colour("accent"), ground, SHADES[number % len(SHADES)])
            plot.addItem(
                pyqtgraph.BarGraphItem(
                    x=places, y0=feet, height=[each.kg for each in mine], width=0.72, brush=brush, pen=ground
                )
            )
            for each, place, foot in zip(mine, places, feet, strict=True):
                heights[each.month] = foot + each.kg
                if each.kg >= _LEAST_NAMED_SHARE * tallest:
                    name = pyqtgraph.TextItem(lot, color=readable_on(brush, ink, ground), anchor=(0.5, 0.5))
                    name.setFont(font("small"))
                    name.setPos(place, foot + each.kg / 2)
                    plot.addItem(name)
        bottom = plot.getAxis("bottom")
        bottom.setTicks([list(enumerate(months))])
        for name in ("bottom", "left"):
            axis = plot.getAxis(name)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
        # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
        plot.getAxis("left").setLabel("kg packed", siPrefixEnableRanges=())
        plot.setYRange(0, tallest * 1.08, padding=0)
        plot.setXRange(-0.6, max(len(months), 6) - 0.4, padding=0)


def use_words(use: Sequence[UseMonth]) -> str:
    """The sum in words, with what was not weighed said."""
    if not use:
        return "Nothing was packed yet: use by month and lot is plotted here."
    kg, packings = sum(each.kg for each in use), sum(each.packings for each in use)
    unweighed = sum(each.unweighed for each in use)
    words = f"Use by month and lot, {use[0].month} to {use[-1].month}: {kg:.1f} kg in {packings} fills"
    return f"{words}; {unweighed} were not weighed and count as full ones." if unweighed else f"{words}."


def shade(colour: QColor, ground: QColor, share: float) -> QColor:
    """The colour thinned towards its ground."""
    return QColor(
        *(round(share * mine + (1 - share) * under) for mine, under in zip(_parts(colour), _parts(ground), strict=True))
    )


def readable_on(brush: QColor, ink: QColor, ground: QColor) -> QColor:
    """Of ink and ground the one that differs more in lightness from what it stands on."""
    return max((ink, ground), key=lambda each: abs(each.lightness() - brush.lightness()))


def _parts(colour: QColor) -> tuple[int, int, int]:
    return colour.red(), colour.green(), colour.blue()

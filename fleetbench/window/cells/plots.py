"""Plots of one cell: its drift with limits and forecast, and the life of its lot and part type.

Kinds of line are told apart by dash and by name, kinds of point by shape; colour only tells limits from the rest.

The page of one cell: its drift, its flushes and the life of its kind above the cards.
"""

from abc import abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.cells.drift import Forecast
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.window.cells.flush import SettlingPlot, SettlingSeries
from fleetbench.window.detail.detail import Detail
from fleetbench.window.detail.record_page import RecordPage, with_photographs
from fleetbench.window.look.buttons import plain_button, still_plot, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme, font, put_font
from fleetbench.window.look.words import moment
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.cells.cell_lives import LifeLine
from fleetbench.workshop.cells.list import CellPage, SettlingRun, cell_page

VERDICT_SYMBOLS = {"pass": "o", "watch": "t", "repeat": "d", "reject": "x"}
_DASHES = (Qt.PenStyle.SolidLine, Qt.PenStyle.DashLine, Qt.PenStyle.DotLine)
_HEIGHT = 60 * GRID
_SECONDS_A_DAY = 86_400.0
_MOST_TICKS = 7


class PlotCard(QFrame):
    """A card with a title, a sentence, and a plot; pyqtgraph is loaded with the first one drawn."""

    def __init__(self, theme: Theme, title: str, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self._theme = theme
        self._plot: Any = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(APART, CLOSE, APART, APART)
        self._layout.setSpacing(CLOSE)
        self._layout.addWidget(text_label(title, "strong", self))
        self.words = text_label(words, "small", self)
        self.words.setWordWrap(True)
        self._layout.addWidget(self.words)
        self.setAccessibleName(shown(strung(": ", (title, words))))
        theme.changed.connect(self._draw)

    @Slot()
    @abstractmethod
    def _draw(self) -> None:
        """Draw it anew in the colours of the look."""

    def _cleared(self, left: str, bottom: str) -> Any:
        # pyqtgraph is slow to import, and only the page of one cell needs it

        if self._plot is None:
            self._plot = still_plot(self)
            self._plot.setFixedHeight(_HEIGHT)
            self._layout.addWidget(self._plot)
        muted = self._theme.colour("muted")
        self._plot.setBackground(self._theme.colour("raised"))
        self._plot.clear()
        for name, label in (("left", left), ("bottom", bottom)):
            axis = self._plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
            # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
            axis.setLabel(shown(label), color=muted.name(), siPrefixEnableRanges=())
        return self._plot

    def _named(self, text: str, x: float, y: float, colour: str = "ink") -> None:
        import pyqtgraph

        label = pyqtgraph.TextItem(f"  {shown(text)}", color=self._theme.colour(colour), anchor=(0, 0.5))
        put_font(label, "small")
        label.setPos(x, y)
        self._plot.addItem(label)


@dataclass(frozen=True, slots=True)
class Followed:
    """One measure of a cell over the calendar: its limits with how they are written, the forecast, and its points.

    points: those with a value. value, half: what a point shows, and its expanded uncertainty where that is kept.
    """

    title: str
    axis: str
    unit: str
    low: float
    high: float
    ahead: Forecast
    points: tuple[OutcomeRecord, ...]
    value: Callable[[OutcomeRecord], float]
    half: Callable[[OutcomeRecord], float]

    @property
    def room(self) -> float:
        """How far the axis reaches beyond the limits, so that their names have room."""
        return 0.18 * (self.high - self.low)


def followed(page: CellPage) -> tuple[Followed, Followed]:
    """Linearity, and output in air: the two measures that are forecast."""
    bounds, outlook = page.bounds, page.outlook
    linear = tuple(each for each in page.drift if each.linearity is not None)
    in_air = tuple(each for each in page.drift if each.air_mv is not None)
    return (
        Followed(
            say("Drift of linearity"), axis="linearity, %", unit="%", low=bounds.linearity_low,
            high=bounds.linearity_high,
                ahead=outlook.linearity,
            points=linear, value=lambda point: point.linearity or 0.0, half=lambda point: point.expanded_u or 0.0,
        ),
        Followed(
            say("Drift of output in air"), axis=say("air, mV"), unit="mV", low=bounds.air_low_mv,
            high=bounds.air_high_mv, ahead=outlook.air,
                points=in_air,
            value=lambda point: point.air_mv or 0.0, half=lambda _point: 0.0,
        ),
    )  # fmt: skip


class DriftCard(PlotCard):
    """One measure over the calendar: a point a calibration with its U, the limits, and the forecast's band."""

    def __init__(
        self, theme: Theme, page: CellPage, zone: ZoneInfo, parent: QWidget | None = None, *, in_air: bool = False
    ) -> None:
        self.shows = followed(page)[1 if in_air else 0]
        words = air_words(self.shows) if in_air else drift_words(page)
        super().__init__(theme, self.shows.title, words, parent)
        self._zone = zone
        self.points = self.shows.points
        self._draw()

    @Slot()
    def _draw(self) -> None:
        if not self.points:
            return
        import numpy as np
        import pyqtgraph

        shows = self.shows
        plot = self._cleared(shows.axis, "")
        ink, muted, raised = (self._theme.colour(name) for name in ("ink", "muted", "raised"))
        days = [each.at.timestamp() / _SECONDS_A_DAY for each in self.points]
        values = [shows.value(each) for each in self.points]
        heights = np.array([2.0 * shows.half(each) for each in self.points])
        plot.addItem(pyqtgraph.ErrorBarItem(x=np.array(days), y=np.array(values), height=heights, beam=0.0, pen=muted))
        for made, brush in (("workshop", ink), ("diver", raised)):
            for verdict, symbol in VERDICT_SYMBOLS.items():
                mine = [n for n, each in enumerate(self.points) if (each.made, each.verdict) == (made, verdict)]
                plot.plot(
                    [days[n] for n in mine], [values[n] for n in mine], pen=None, symbol=symbol, symbolSize=9,
                    symbolPen=ink, symbolBrush=brush,
                )  # fmt: skip
        band = self._draw_band(pyqtgraph)
        self._draw_limits(pyqtgraph)
        last = max([*days, *(_day_number(row[0], self._zone) for row in band)])
        plot.getAxis("bottom").setTicks([self._ticks(days[0], last)])
        plot.setXRange(days[0], last, padding=0.03)
        plot.setYRange(min([*values, shows.low]) - shows.room, max([*values, shows.high]) + shows.room, padding=0)

    def _draw_limits(self, pyqtgraph: Any) -> None:
        """Both limits, and the day on which the lower bound meets the lower one last, where it is in sight."""
        shows, accent = self.shows, self._theme.colour("accent")
        pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
        for word, value in ((say("least"), shows.low), (say("most"), shows.high)):
            self._plot.addItem(
                pyqtgraph.InfiniteLine(
                    pos=value, angle=0, pen=pen, label=shown(strung(" ", (say(word), f"{value:g}", str(shows.unit)))),
                    labelOpts={"position": 0.02, "color": accent, "anchors": [(0, 1), (0, 1)]},
                )
            )  # fmt: skip
        day, band = shows.ahead.last_good_day, shows.ahead.band
        if day is not None and band and day <= band[-1][0]:
            self._plot.addItem(
                pyqtgraph.InfiniteLine(
                    pos=_day_number(day, self._zone), angle=90, pen=pen, label=shown(say("forecast {day}", day=day)),
                    labelOpts={"position": 0.96, "color": accent, "anchors": [(1, 0.5), (1, 0.5)]},
                )
            )  # fmt: skip

    def _draw_band(self, pyqtgraph: Any) -> Sequence[tuple[date, float, float, float]]:
        """The forecast's lower bound, middle and upper bound beyond the last calibration."""
        band = self.shows.ahead.band
        if not band:
            return ()
        on = [_day_number(row[0], self._zone) for row in band]
        muted = self._theme.colour("muted")
        edges = [
            self._plot.plot(on, [row[place] for row in band], pen=pyqtgraph.mkPen(muted, width=1.2, style=dash))
            for place, dash in ((1, _DASHES[2]), (2, _DASHES[0]), (3, _DASHES[2]))
        ]
        shade = self._theme.colour("muted")
        shade.setAlpha(40)
        self._plot.addItem(pyqtgraph.FillBetweenItem(edges[0], edges[2], brush=shade))
        return band

    def _ticks(self, first: float, last: float) -> list[tuple[float, str]]:
        step = max(1.0, (last - first) / _MOST_TICKS)
        places = [first + step * n for n in range(_MOST_TICKS)]
        return [(at, f"{datetime.fromtimestamp(at * _SECONDS_A_DAY, self._zone):%Y-%m-%d}") for at in places]


class LifeCard(PlotCard):
    """Kaplan-Meier curves over days in use, each with its 95 % interval, and where this cell stands."""

    def __init__(
        self, theme: Theme, lines: Sequence[LifeLine], served: float | None, parent: QWidget | None = None
    ) -> None:
        words = strung(" ", (strung(": ", (each.name, life_words(each))) for each in lines))
        words = words or say("No life of its kind was watched yet.")
        super().__init__(theme, say("Life of its part type and lot"), words, parent)
        self.lines = tuple(each for each in lines if each.curve is not None)
        self._served = served
        self._draw()

    @Slot()
    def _draw(self) -> None:
        if not self.lines:
            return
        import pyqtgraph

        plot = self._cleared(say("share still serving"), say("days in use"))
        ink, muted = self._theme.colour("ink"), self._theme.colour("muted")
        reach = max(each.curve.longest_days for each in self.lines if each.curve is not None)
        for number, each in enumerate(self.lines):
            if each.curve is None:
                continue
            for place, pen in (
                (0, pyqtgraph.mkPen(ink, width=2, style=_DASHES[number % 3])),
                (1, pyqtgraph.mkPen(muted, width=1, style=_DASHES[number % 3])),
                (2, pyqtgraph.mkPen(muted, width=1, style=_DASHES[number % 3])),
            ):
                xs, ys = stepped(each, place)
                plot.plot(xs, ys, pen=pen)
            xs, ys = stepped(each, 0)
            self._named(each.name, xs[-1], ys[-1])
        if self._served is not None:
            pen = pyqtgraph.mkPen(self._theme.colour("accent"), style=Qt.PenStyle.DashLine)
            plot.addItem(
                pyqtgraph.InfiniteLine(
                    pos=self._served, angle=90, pen=pen, label=worded("this cell today"),
                    labelOpts={"position": 0.06, "color": self._theme.colour("accent")},
                )
            )  # fmt: skip
        plot.setXRange(0.0, reach * 1.2, padding=0.02)
        plot.setYRange(0.0, 1.05, padding=0)


class PastFlushCard(QFrame):
    """The stamped readings of each flush, one at a time, the newest first; two buttons lead to the others."""

    def __init__(
        self, theme: Theme, runs: Sequence[SettlingRun], zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self.runs, self._zone, self.place = tuple(runs), zone, 0
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, CLOSE, APART, APART)
        line = QHBoxLayout()
        self.title = text_label("", "strong", self)
        self.older = plain_button(theme, "Older flush", parent=self)
        self.newer = plain_button(theme, "Newer flush", parent=self)
        line.addWidget(self.title, 1)
        line.addWidget(self.older)
        line.addWidget(self.newer)
        layout.addLayout(line)
        self.plot = SettlingPlot(theme, self)
        self.plot.setFixedHeight(_HEIGHT)
        layout.addWidget(self.plot)
        self.older.clicked.connect(self._on_older)
        self.newer.clicked.connect(self._on_newer)
        self._show()

    def _show(self) -> None:
        run = self.runs[self.place]
        which = say(", {place} of {count}", place=self.place + 1, count=len(self.runs)) if len(self.runs) > 1 else ""
        self.title.setText(
            worded(say("Settling in the flush of {at}{which}", at=moment(run.at, self._zone), which=which))
        )
        self.setAccessibleName(self.title.text())
        self.older.setEnabled(self.place + 1 < len(self.runs))
        self.newer.setEnabled(self.place > 0)
        for each in (self.older, self.newer):
            each.setVisible(len(self.runs) > 1)
        self.plot.show_series([SettlingSeries(name, times, mv) for name, times, mv in run.readers], None)

    @Slot()
    def _on_older(self) -> None:
        self._step(1)

    @Slot()
    def _on_newer(self) -> None:
        self._step(-1)

    def _step(self, by: int) -> None:
        self.place = min(max(self.place + by, 0), len(self.runs) - 1)
        self._show()
        # At either end the button that was pressed gives up, and the keys must not fall to nobody.
        if not self.older.isEnabled():
            self.newer.setFocus()
        elif not self.newer.isEnabled():
            self.older.setFocus()


def cards_of(theme: Theme, page: CellPage, zone: ZoneInfo, served: float | None, parent: QWidget) -> list[QFrame]:
    """The plots of a cell's page, in order: drift of linearity and of output in air, its flushes, lives."""
    cards: list[QFrame] = [DriftCard(theme, page, zone, parent)]
    if followed(page)[1].points:
        cards.append(DriftCard(theme, page, zone, parent, in_air=True))
    if page.flushes:
        cards.append(PastFlushCard(theme, page.flushes, zone, parent))
    return [*cards, LifeCard(theme, page.lives, served, parent)]


def stepped(line: LifeLine, which: int) -> tuple[list[float], list[float]]:
    """The curve's corners: 0 the share, 1 the interval's lower end, 2 its upper end."""
    xs, ys = [0.0], [1.0]
    if line.curve is None:
        return xs, ys
    for step in line.curve.steps:
        value = (step.survival, step.low, step.high)[which]
        xs += [step.days, step.days]
        ys += [ys[-1], value]
    return [*xs, line.curve.longest_days], [*ys, ys[-1]]


def life_words(line: LifeLine) -> str:
    """How many were watched and failed, and what share still serves at the asked ages with its interval."""
    shares = [
        say(
            "{what:.0f} % still serve after {days} days ({what_2:.0f} to {what_3:.0f} %)",
            what=100 * share,
            days=days,
            what_2=100 * low,
            what_3=100 * high,
        )
        for days, share, low, high in line.shares
    ]
    return strung(" ", [line.words, *(strung("", (each, ".")) for each in shares)])


def drift_words(page: CellPage) -> str:
    """The drift in words, for those who do not see the plot too."""
    points: list[OutcomeRecord] = [each for each in page.drift if each.linearity is not None]
    if not points:
        return say("No calibration with a linearity yet: the plot begins with the first.")
    words = [page.outlook.linearity.sentence, page.outlook.sudden or ""]
    words.append(say("Filled: workshop, hollow: diver; circle pass, triangle watch, diamond repeat, cross reject."))
    return strung(" ", (word for word in words if word))


def air_words(shows: Followed) -> str:
    """What output in air says, with the state in which its mV are given."""
    return say("{value} Normalised to dry air at 1013.25 mbar.", value=shows.ahead.sentence)


def _day_number(day: date, zone: ZoneInfo) -> float:
    return datetime.combine(day, time(12), zone).timestamp() / _SECONDS_A_DAY


class CellRecord(RecordPage):
    """The record page with a cell's drift below its marks, and its flushes and lives below the cards."""

    def __init__(
        self,
        context: PageContext,
        detail_of: Callable[[CellPage, ZoneInfo, date], Detail],
        parent: QWidget | None = None,
    ) -> None:
        workplace, zone = context.workplace, context.zone
        self._zone = zone
        self.cards: list[QFrame] = []

        def load(key: str) -> Detail:
            page = cell_page(workplace, int(key))
            detail = detail_of(page, zone, workplace.today())
            detail = with_photographs(detail, workplace, zone, part_id=int(key))
            return replace(detail, source=(page, days_served(page, workplace.clock())))

        super().__init__(context.theme, context.background, load, parent)

    def _lay_out(self, detail: Detail) -> None:
        super()._lay_out(detail)
        body = self._scroll.widget()
        whole = body.layout() if body is not None else None
        if body is None or detail.source is None or not isinstance(whole, QVBoxLayout):
            return

        page, served = detail.source
        self.cards = cards_of(self.theme, page, self._zone, served, body)
        for place, card in enumerate(self.cards):
            whole.insertWidget(place if isinstance(card, DriftCard) else whole.count() - 1, card)


def days_served(page: CellPage, now: datetime) -> float | None:
    """Days in use in all its fittings until now, None for a cell that was never fitted."""
    if not page.fittings:
        return None
    return sum(((each.removed_at or now) - each.fitted_at).total_seconds() for each in page.fittings) / 86_400.0

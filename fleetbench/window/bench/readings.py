"""What the bench shows of its readings: as plots over time or trial after trial, and in words.

Measured values of a valve or regulator over time, with their uncertainty and the limits in force.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QSize, Qt, Slot
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from fleetbench.calc.bench.measured import Measured
from fleetbench.calc.core.languages import reworded, say, shown, strung, worded
from fleetbench.calc.core.measures import BAR, CELSIUS, Measure, in_unit, measured_in, result_in
from fleetbench.calc.core.verdict import DueState, Verdict
from fleetbench.window.look.buttons import still_plot, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme, font, put_font
from fleetbench.window.look.words import MINUS, figure
from fleetbench.workshop.bench.equipment import EquipmentRow
from fleetbench.workshop.bench.measured import Stamped
from fleetbench.workshop.bench.offers import BenchPlan, Method, TestOffer
from fleetbench.workshop.bench.tests import RecordedTest
from fleetbench.workshop.bench.valves import TrendSeries

if TYPE_CHECKING:
    from datetime import datetime


READING_WORDS = {
    Method.LOOP: say("Pressure over or under the room's"),
    Method.BACK_LEAK_DECAY: "Suction",
    Method.BACK_LEAK_FLOW: say("Back-leak"),
    Method.OPENING: say("Opened at"),
    Method.LOCK_UP: say("Intermediate pressure"),
    Method.INJECTOR: "Flow",
    Method.PULSES: say("Gas let through"),
    Method.REFERENCE: "Shown",
    Method.FIGURE: "Figure",
}
"""What each reading of a test is called on the page."""

ASKED_ONCE: dict[Method, tuple[tuple[str, str, str | Measure], ...]] = {
    Method.LOOP: (("ambient_mbar", say("Room pressure"), "mbar"), ("volume_l", say("Loop volume"), "L")),
    Method.BACK_LEAK_DECAY: (("ambient_mbar", say("Room pressure"), "mbar"), ("volume_l", say("Test volume"), "L")),
    Method.BACK_LEAK_FLOW: (("suction_mbar", say("Suction held"), "mbar"),),
    Method.OPENING: (),
    Method.LOCK_UP: (("supply_bar", say("Supply pressure"), BAR),),
    Method.INJECTOR: (("ambient_mbar", say("Room pressure"), "mbar"), ("upstream_bar", say("Intermediate pressure"),
        BAR),
                      ("temperature_c", say("Gas temperature"), CELSIUS)),
    Method.PULSES: (("counted", say("Pulses counted"), ""),),
    Method.REFERENCE: (("reference", "Reference", ""), ("reference_u", say("Its uncertainty, k = 2"), "")),
    Method.FIGURE: (),
}  # fmt: skip
"""What is entered once for each test: field of the set-up, label, unit."""


def asked_once(offer: TestOffer) -> tuple[tuple[str, str, str | Measure], ...]:
    """The same of one test, with the unit of a reference; how certain it is, is asked where no tool states it."""
    asked = ASKED_ONCE[offer.method]
    if offer.method is not Method.REFERENCE:
        return asked
    return tuple((name, label, offer.unit) for name, label, _unit in asked if name == "reference" or not offer.tools)


def offer_words(offer: TestOffer) -> str:
    """A test in the list of a unit's tests."""
    if offer.method is Method.BREATH:
        return say("One-way valves and loop")
    if offer.method in (Method.LOOP, Method.WORKS) and offer.slot is None:
        kind = reworded(offer.kind.capitalize(), offer.kind)
        return strung(", ", (kind, say("by manometer"))) if offer.method is Method.LOOP else kind
    if offer.limits.sensor is not None:
        kind = reworded(offer.kind.capitalize(), offer.kind)
        return strung(": ", (kind, offer.slot or "")) if offer.kind != offer.slot else kind
    name = reworded((offer.slot or offer.kind).capitalize(), offer.slot or offer.kind)
    return strung(": ", (name, say("function check") if offer.method is Method.WORKS else say(offer.method)))


def group_words(offer: TestOffer) -> str:
    """Under which heading a test stands."""
    if offer.method is Method.BREATH:
        return say("By breath and by eye")
    return say("Function check") if offer.method is Method.WORKS else say("Measured")


def wanting_words(plan: BenchPlan, zone: ZoneInfo) -> str:
    """What a unit still needs since its loop was last opened in the workshop, and what holds it whatever is tested."""
    held = say(" On hold: {held}.", held=strung("; ", plan.held)) if plan.held else ""
    if plan.opened_at is None:
        return say("No workshop opening is recorded.{held}", held=held)
    when = f"{plan.opened_at.astimezone(zone):%Y-%m-%d %H:%M}"
    if not plan.wanting:
        return say("Opened in the workshop {when}; valves and loop have passed since.{held}", when=when, held=held)
    return say(
        "On hold: opened in the workshop {when}; not passed since: {wanting}.{held}",
        when=when,
        wanting=strung(", ", plan.wanting),
        held=held,
    )


def value_words(measured: Measured) -> str:
    """The figure ± U, or that there is none yet."""
    if measured.value is None:
        return ""
    shown = result_in(measured.value, measured.expanded_u, measured.unit).replace("-", MINUS)
    if measured.expanded_u is None:
        return say("{shown}, U not known", shown=shown)
    if measured.unit == "mL/min" and measured.value < measured.expanded_u:
        return say(
            "below {measured:.2g} {unit}", measured=max(measured.value, 0.0) + measured.expanded_u, unit=measured.unit
        )
    return f"{shown} (k = 2)"


def time_left_words(measured: Measured, since_first: float | None, at_last: float | None) -> str:
    """How much longer to watch, counted on from the last reading; empty where time is not what it wants."""
    if measured.seconds_left is None:
        return ""
    gone = 0.0 if since_first is None or at_last is None else since_first - at_last
    left = max(0.0, measured.seconds_left - gone)
    begun = (
        ""
        if since_first is None
        else say("Since the first reading {since_first}. ", since_first=clock_words(since_first))
    )
    if since_first is None:
        return say("To be watched {left}.", left=clock_words(left))
    more = (
        say("Watch {left} more.", left=clock_words(left))
        if left > 0
        else say("Long enough: read once more and record.")
    )
    return strung("", (begun, more))


def clock_words(seconds: float) -> str:
    """Minutes and seconds as 1:42."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def reading_cells(readings: tuple[Stamped, ...], unit: str | Measure, zone: ZoneInfo) -> list[tuple[str, ...]]:
    """Readings as lines of a table: time of day, time since the first, the figure, the gas temperature."""
    first: datetime | None = readings[0].at if readings else None
    return [
        (
            f"{each.at.astimezone(zone):%H:%M:%S}",
            clock_words((each.at - first).total_seconds()) if first is not None else "",
            in_unit(each.value, unit),
            figure(each.temperature_c, CELSIUS, None, say("not read")),
        )
        for each in readings
    ]


def tool_words(row: EquipmentRow) -> str:
    """One piece of equipment to choose, with what weakens a result made with it."""
    lacks = {DueState.PAST: say("out of date"), DueState.UNKNOWN: say("not known to be in date")}.get(row.state, "")
    unit = (row.tool.unit or "").replace("C", "°C")
    u = say("uncertainty not recorded") if row.tool.uncertainty is None else f"u {row.tool.uncertainty:g} {unit}"
    return strung(", ", filter(None, (strung(" ", (row.tool.name, row.tool.serial)), u, lacks)))


def recorded_words(tests: tuple[RecordedTest, ...]) -> str:
    """What was recorded, and which lines of tickets it ticked."""
    verdicts = strung(", ", (say(test.answer.verdict) for test in tests))
    ticked = [line for test in tests for line in test.ticked]
    rejects = [test.answer.sentence for test in tests if test.answer.verdict is Verdict.REJECT]
    verdicts += say(". Rejected: {what}", what=" ".join(rejects).rstrip(".")) if rejects else ""
    told = say("Recorded: {verdicts}.", verdicts=verdicts)
    return strung(" ", (told, say("Ticked on the ticket: {lines}.", lines=strung("; ", ticked)))) if ticked else told


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


def facts_in(unit: str | Measure, facts: PlotFacts) -> PlotFacts:
    """The same with stored figures in the unit in use."""
    if not isinstance(unit, Measure):
        return facts
    low, high = (None if end is None else unit.shown(end) for end in (facts.low, facts.high))
    return replace(facts, points=tuple((x, unit.shown(y)) for x, y in facts.points), unit=str(unit), low=low, high=high)


def series_in(series: TrendSeries) -> TrendSeries:
    """The same with stored figures in the unit in use."""
    unit = measured_in(series.unit)
    if not isinstance(unit, Measure):
        return series
    low, high = (None if end is None else unit.shown(end) for end in (series.low, series.high))
    apart = unit.difference
    points = tuple((at, unit.shown(value), None if u is None else apart.shown(u)) for at, value, u in series.points)
    return replace(series, points=points, unit=str(unit), low=low, high=high)


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
            self._plot = still_plot(self)
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
        bottom = say("minutes since the first reading") if facts.over_time else "reading"
        for name, label in (("left", facts.unit), ("bottom", bottom)):
            axis = plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
            # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
            axis.setLabel(shown(label), color=muted.name(), siPrefixEnableRanges=())
        ticks = None if facts.over_time else [[(x, f"{x:g}") for x, _y in facts.points]]
        plot.getAxis("bottom").setTicks(ticks)

    def _draw_limits(self, pyqtgraph: Any, plot: Any, facts: PlotFacts) -> None:
        accent = self._theme.colour("accent")
        pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
        for word, value in ((say("least"), facts.low), (say("most"), facts.high)):
            if value is not None:
                plot.addItem(pyqtgraph.InfiniteLine(
                    pos=value, angle=0, pen=pen, label=shown(strung(" ", (say(word), f"{value:.4g}", str(facts.unit)))),
                    labelOpts={"position": 0.02, "color": accent, "anchors": [(0, 1), (0, 1)]},
                ))  # fmt: skip
        if facts.over_time and facts.until_minutes is not None:
            plot.addItem(pyqtgraph.InfiniteLine(
                pos=facts.until_minutes, angle=90, pen=pen, label=worded("watch until here"),
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


SYMBOLS = ("o", "s", "t", "d")
_PLOT_HEIGHT = 56 * GRID
_MOST_TICKS = 7
_SECONDS_A_DAY = 86_400.0


class TrendCard(QFrame):
    """A plot for each unit of measurement, its series told apart by the shape of their points and by name."""

    def __init__(
        self, theme: Theme, series: Sequence[TrendSeries], zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        self.plots: list[TrendPlot] = []
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, CLOSE, APART, APART)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(say("Measured over time"), "heading", self))
        listed = sorted(map(series_in, series), key=lambda one: one.unit)
        for unit, each in groupby(listed, key=lambda one: one.unit):
            plot = TrendPlot(theme, tuple(each), unit, zone, self)
            self.plots.append(plot)
            layout.addWidget(plot)


class TrendPlot(QWidget):
    """Series of one unit over the calendar; bars show U (k = 2) where it was recorded, dashed lines the limits."""

    def __init__(
        self, theme: Theme, series: tuple[TrendSeries, ...], unit: str, zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme, self.series, self._unit, self._zone = theme, series, unit, zone
        self._plot: Any = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self.setFixedHeight(_PLOT_HEIGHT)
        self.setAccessibleName(shown(strung("; ", (series_words(each, zone) for each in series))))
        theme.changed.connect(self._draw)
        self._draw()

    @Slot()
    def _draw(self) -> None:
        # pyqtgraph is slow to import, and only the page of one valve needs it
        import pyqtgraph

        if self._plot is None:
            self._plot = still_plot(self)
            self._layout.addWidget(self._plot)
        self._plot.setBackground(self._theme.colour("raised"))
        self._plot.clear()
        self._dress_axes()
        for number, each in enumerate(self.series):
            self._draw_series(pyqtgraph, each, number)
        self._name_ends(pyqtgraph)
        self._draw_limits(pyqtgraph)

    def _dress_axes(self) -> None:
        muted = self._theme.colour("muted")
        for name in ("left", "bottom"):
            axis = self._plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
        # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
        self._plot.getAxis("left").setLabel(self._unit, color=muted.name(), siPrefixEnableRanges=())
        self._plot.getAxis("bottom").setTicks([self._ticks()])

    def _ticks(self) -> list[tuple[float, str]]:
        """Days on which something was measured, as many as stand apart; the last one always."""
        moments = sorted({point[0] for each in self.series for point in each.points})
        days = [(at.timestamp() / _SECONDS_A_DAY, f"{at.astimezone(self._zone):%Y-%m-%d}") for at in moments]
        apart = max(1.0, days[-1][0] - days[0][0]) / _MOST_TICKS
        kept = [days[-1]]
        for tick in reversed(days):
            if kept[-1][0] - tick[0] >= apart:
                kept.append(tick)
        return kept

    def _name_ends(self, pyqtgraph: Any) -> None:
        """Names beside the last points, spread where they would lie on one another."""
        values = [value for each in self.series for _at, value, _u in each.points]
        step = 0.11 * max(max(values) - min(values), 0.05 * abs(max(values)), 1e-3)
        lowest = float("-inf")
        for value, at, name in sorted((e.points[-1][1], e.points[-1][0], e.name) for e in self.series):
            lowest = max(value, lowest + step)
            label = pyqtgraph.TextItem(f"  {shown(name)}", color=self._theme.colour("ink"), anchor=(0, 0.5))
            put_font(label, "small")
            label.setPos(at.timestamp() / _SECONDS_A_DAY, lowest)
            self._plot.addItem(label)

    def _draw_series(self, pyqtgraph: Any, series: TrendSeries, number: int) -> None:
        ink, raised = self._theme.colour("ink"), self._theme.colour("raised")
        days = [at.timestamp() / _SECONDS_A_DAY for at, _value, _u in series.points]
        values = [value for _at, value, _u in series.points]
        if any(u is not None for _at, _value, u in series.points):
            import numpy as np

            heights = np.array([2.0 * (u or 0.0) for _at, _value, u in series.points])
            self._plot.addItem(
                pyqtgraph.ErrorBarItem(x=np.array(days), y=np.array(values), height=heights, beam=0.0, pen=ink)
            )
        self._plot.plot(
            days, values, pen=pyqtgraph.mkPen(self._theme.colour("muted"), width=1.5), symbol=SYMBOLS[number % 4],
            symbolSize=9, symbolPen=ink, symbolBrush=ink if number % 2 == 0 else raised,
        )  # fmt: skip
        first = min(point[0] for each in self.series for point in each.points).timestamp() / _SECONDS_A_DAY
        last = max(point[0] for each in self.series for point in each.points).timestamp() / _SECONDS_A_DAY
        # Room at the right for the names beside the last points.
        self._plot.setXRange(first, last + max(1.0, 0.22 * (last - first)), padding=0.03)

    def _draw_limits(self, pyqtgraph: Any) -> None:
        accent = self._theme.colour("accent")
        lines = {(word, value) for each in self.series for word, value in (("least", each.low), ("most", each.high))
                 if value is not None}  # fmt: skip
        for word, value in sorted(lines):
            pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
            self._plot.addItem(
                pyqtgraph.InfiniteLine(pos=value, angle=0, pen=pen,
                                       label=shown(strung(" ", (say(word), f"{value:.5g}", str(self._unit)))),
                                       labelOpts={"position": 0.02, "color": accent, "anchors": [(0, 1), (0, 1)]})
            )  # fmt: skip
        values = [value for each in self.series for _at, value, _u in each.points] + [value for _word, value in lines]
        spread = max(max(values) - min(values), 0.05 * abs(max(values)), 1e-3)
        self._plot.setYRange(min(values) - 0.15 * spread, max(values) + 0.2 * spread, padding=0)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(120 * GRID, _PLOT_HEIGHT)


def series_words(series: TrendSeries, zone: ZoneInfo) -> str:
    """A series in words, for those who do not see the plot."""
    (first, start, _u), (last, end, _v) = series.points[0], series.points[-1]
    return say(
        "{series}: {start:.5g} {unit} on {zone:%Y-%m-%d} to {end:.5g} {unit} on {zone_2:%Y-%m-%d} in {count}",
        series=series.name,
        start=start,
        unit=series.unit,
        zone=first.astimezone(zone),
        end=end,
        zone_2=last.astimezone(zone),
        count=len(series.points),
    )

"""The fourth step: the flush, stamped as it goes, and whether every cell has settled.

The flush as it goes: mV of each cell over time, growing with every stamped reading.

Cells are told apart by the shape of their points and the name at the line's end, not by colour.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from PySide6.QtCore import QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.window.cells.grid import Key, ReadingGrid, RowEnd
from fleetbench.window.cells.words import clock_words, flush_words, settling_line, settling_mark
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.figure import oxygen_rule
from fleetbench.window.look.buttons import (
    choice_button,
    for_bench,
    lead_button,
    name_ends,
    plain_button,
    quiet_button,
    still_plot,
    text_label,
)
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme, font
from fleetbench.workshop.cells.entry import ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan, CellSettling

FOLLOW_WORDS = say("Follow the meter")
STAMP_EVERY_S = 5.0
"""Twelve readings in a minute: as many as a judgement by regression asks for (`calc/cells/settling.py`)."""
SAME_KEY = "+"
NEW_KEY = "*"
START_WORDS = say("Start the flush   {new_key}", new_key=NEW_KEY)


class FlushCard(StepCard):
    """A clock, a stamp for each reading, two keys, and the settled state of each cell in words and as a plot.

    Signals:
        stamped: a reading was stamped.
        early_chosen: the oxygen point is to be taken before every cell has settled.
        started: the flush began.
        asked: a line that asks about a figure; empty once settled.
    """

    stamped = Signal()
    early_chosen = Signal()
    started = Signal()
    asked = Signal(str)

    def __init__(
        self, theme: Theme, held: CalibrationPlan, clock: Callable[[], datetime], parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, say("4  Flush with oxygen"), parent)
        self._held, self._clock = held, clock
        self.started_at: datetime | None = None
        self._stamps: list[ReadingEntry] = []
        self._live: list[tuple[float, float]] = []
        self._found: tuple[CellSettling, ...] = ()
        self._tick = QTimer(self)
        self._tick.setInterval(1000)
        self._build()
        self._connect()
        self._show_state()

    def _build(self) -> None:
        self.note.setText(shown(flush_words(self._held.flush)))
        self.start_button = for_bench(lead_button(self.theme, START_WORDS, "", self))
        self.clock_label = text_label("0:00", "reading", self)
        self.same_button = for_bench(
            plain_button(self.theme, say("No digit changed   {same_key}", same_key=SAME_KEY), "", self)
        )
        self.new_button = for_bench(plain_button(self.theme, say("New figures   {new_key}", new_key=NEW_KEY), "", self))
        self.follow_button = choice_button(self.theme, FOLLOW_WORDS, self)
        self.follow_button.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # pressed, it leaves the keyboard on its cell
        self.follow_button.hide()
        self.early_button = quiet_button(self.theme, "Take oxygen now, recorded as repeat", "", self)
        self.words = text_label("", "strong", self)
        self.words.setWordWrap(True)
        self.plot = SettlingPlot(self.theme, self)
        self._readers = QButtonGroup(self)
        self.reader_buttons: dict[int, QPushButton] = {}
        self._grids: dict[int, ReadingGrid] = {}
        clock = QHBoxLayout()
        clock.setSpacing(APART)
        clock.addWidget(self.start_button)
        clock.addWidget(self.clock_label)
        clock.addStretch(1)
        self._reader_line = QHBoxLayout()
        self._reader_line.setSpacing(CLOSE)
        self._reader_line.addWidget(text_label(say("Stamp on"), "label", self))
        left = QVBoxLayout()
        left.setSpacing(CLOSE)
        left.addLayout(clock)
        left.addLayout(self._reader_line)
        self._add_readers(left)
        self._reader_line.addStretch(1)
        keys = QHBoxLayout()
        keys.setSpacing(CLOSE)
        keys.addWidget(self.same_button)
        keys.addWidget(self.new_button)
        keys.addWidget(self.follow_button)
        keys.addStretch(1)
        left.addLayout(keys)
        left.addWidget(self.words)
        left.addWidget(self.early_button, 0, Qt.AlignmentFlag.AlignLeft)
        left.addStretch(1)
        columns = QHBoxLayout()
        columns.setSpacing(SECTION)
        columns.addLayout(left, 1)
        columns.addWidget(self.plot, 1)
        self.body.addLayout(columns)

    def _add_readers(self, column: QVBoxLayout) -> None:
        in_mv = {reader.reader_id for _, reader, _ in self._held.in_mv()}
        for reader in (each for each in self._held.readers if each.reader_id in in_mv):
            button = choice_button(self.theme, reader.name, self)
            self._readers.addButton(button, reader.reader_id)
            self.reader_buttons[reader.reader_id] = button
            self._reader_line.addWidget(button)
            grid = ReadingGrid(
                self.theme, self._held, "settling", oxygen_rule,
                readers=(reader.reader_id,), end_title=say("Settled?"), parent=self,
            )  # fmt: skip
            grid.entered.connect(self._on_entered)
            grid.completed.connect(self.same_button.setFocus)
            grid.asked.connect(self.asked)
            for field in grid.fields.values():
                field.meter.offered.connect(self._offer_following)
                field.meter.following.connect(self.follow_button.setChecked)
            grid.hide()
            self._grids[reader.reader_id] = grid
            column.addWidget(grid)
        if self._grids:
            first = next(iter(self._grids))
            self.reader_buttons[first].setChecked(True)
            self._grids[first].show()

    def _connect(self) -> None:
        self.start_button.clicked.connect(self.start)
        self.same_button.clicked.connect(self.stamp_same)
        self.new_button.clicked.connect(self.stamp_new)
        self.early_button.clicked.connect(self.early_chosen)
        self.follow_button.clicked.connect(self.follow)
        self._readers.idClicked.connect(self.choose_reader)
        self._tick.timeout.connect(self._show_clock)

    @property
    def reader_id(self) -> int:
        """The reader that is stamped."""
        return self._readers.checkedId()

    @property
    def grid(self) -> ReadingGrid:
        """The fields of the reader that is stamped."""
        return self._grids[self.reader_id]

    @property
    def stamps(self) -> tuple[ReadingEntry, ...]:
        """Every stamped reading so far, in the order of time."""
        return tuple(self._stamps)

    @property
    def found(self) -> tuple[CellSettling, ...]:
        """The settled state last shown."""
        return self._found

    def last_figures(self) -> dict[Key, float | None]:
        """The newest stamped figure of each cell on each reader."""
        return {(each.slot_id, each.reader_id): each.mv for each in self._stamps}

    @Slot()
    def start(self) -> None:
        """Begin the flush, or begin it anew: what was stamped before is another flush's."""
        self.started_at = self._clock()
        self._stamps.clear()
        self._live.clear()
        self._found = ()
        for grid in self._grids.values():
            grid.show_figures({})
            grid.clear_ends()
        self._show_state()
        self.started.emit()
        self.grid.focus_first()

    def focus_first(self) -> None:
        """Put the keyboard where the flush goes on."""
        if self.started_at is None:
            self.start_button.setFocus()
        elif not self.grid.focus_next_empty():
            self.same_button.setFocus()

    def restore(self, started_at: datetime | None, stamps: Sequence[ReadingEntry]) -> None:
        """Go on with a flush that was left."""
        self.started_at, self._stamps = started_at, list(stamps)
        last = self.last_figures()
        for reader_id, grid in self._grids.items():
            grid.show_figures({key: mv for key, mv in last.items() if key[1] == reader_id})
        stamped = [each.reader_id for each in stamps]
        if stamped and stamped[-1] in self._grids:
            self.choose_reader(stamped[-1])
        self._show_state()

    @Slot(int)
    def choose_reader(self, reader_id: int) -> None:
        """Stamp another reader from here on."""
        self.reader_buttons[reader_id].setChecked(True)
        self._unfollow()
        for each, grid in self._grids.items():
            grid.setVisible(each == reader_id)
        self._show_state()
        if self.started_at is not None:
            self.grid.focus_next_empty()

    @Slot(bool)
    def follow(self, wanted: bool) -> None:
        """Take reading after reading of the meter into the cell that has the keyboard, or no more.

        All of them are drawn; one every five seconds is stamped, by which the cell is judged as by typed ones.
        """
        self._unfollow()
        if wanted and self.started_at is None:
            self.start()
        aimed, keys = self.grid.focusWidget(), self.grid.fields
        key = next((each for each, field in keys.items() if field is aimed), next(iter(keys)))
        if wanted:
            keys[key].meter.follow(partial(self._on_given, key))
        self.follow_button.setChecked(any(field.meter.is_following for field in keys.values()))

    def _unfollow(self) -> None:
        for field in (each for grid in self._grids.values() for each in grid.fields.values()):
            field.meter.unfollow()

    def _on_given(self, key: Key, value: Metered) -> None:
        field, quantity = self.grid.fields[key], self.grid.fields[key].rule.quantity
        seconds = (value.source.at - self.started_at).total_seconds() if self.started_at is not None else -1.0
        if field.is_open or seconds < 0.0 or not quantity.low <= value <= quantity.high:
            field.meter.unfollow()
            self.asked.emit(
                worded(
                    say(
                        "{field}: {value:g} {unit} was not taken; type it, or follow the meter again.",
                        field=field.name,
                        value=value,
                        unit=quantity.unit,
                    )
                )
            )
            return
        field.give(value)
        self._live.append((seconds, float(value)))
        stamped = [each.seconds or 0.0 for each in self._stamps if (each.slot_id, each.reader_id) == key]
        if not stamped or seconds - stamped[-1] >= STAMP_EVERY_S:
            self._add(key, value, seconds)
            self.stamped.emit()
        self._show_plot()

    @Slot()
    def _offer_following(self) -> None:
        fields = self.grid.fields.values() if self._grids else ()
        self.follow_button.setVisible(any(field.meter.tools() for field in fields))

    @Slot()
    def stamp_same(self) -> None:
        """Stamp the figures that stand there once more: no digit changed."""
        if not self.can_stamp_same:
            self.asked.emit(worded("Type the figures of every cell once, then stamp that no digit changed."))
            return
        seconds = self._seconds()
        last = self.last_figures()
        for key in self.grid.fields:
            value = last.get(key)
            if value is not None:
                self._add(key, float(value), seconds)  # seen by a person: no reading of a meter counts twice
        self.stamped.emit()
        self.same_button.setFocus()

    @Slot()
    def stamp_new(self) -> None:
        """Clear the fields for new figures; each is stamped when it is typed."""
        if self.started_at is None:
            self.start()
            return
        self.grid.show_figures({})
        self.grid.focus_first()

    @property
    def is_typing(self) -> bool:
        """True while new figures are being typed."""
        return self.started_at is not None and bool(self._grids) and (self.grid.is_open or not self.grid.is_complete)

    @property
    def can_stamp_same(self) -> bool:
        """True once every cell has a figure on the reader that is stamped."""
        return (
            self.started_at is not None
            and self.grid.is_complete
            and any(key[1] == self.reader_id for key in self.last_figures())
        )

    def show_settling(self, found: Sequence[CellSettling], settled: bool) -> None:
        """Show the settled state of each cell, the whole in one line, and the plot."""
        self._found = tuple(found)
        for grid in self._grids.values():
            grid.clear_ends()
        for each in found:
            if each.reader_id in self._grids:
                end = RowEnd(settling_mark(each), settling_line(each))
                self._grids[each.reader_id].show_end(each.slot_id, end)
        self._show_plot()
        self.early_button.setVisible(not settled)
        if settled:
            self.words.setText(worded("Every cell has settled: take the oxygen point."))
        elif found:
            waiting = [each.state.seconds_left for each in found if each.state.seconds_left]
            wait = say(", about {waiting:.0f} s to go", waiting=max(waiting)) if waiting else ""
            self.words.setText(worded(say("Not every cell has settled{wait}. Stamp again.", wait=wait)))
        else:
            self.words.setText("")

    def set_usable(self, usable: bool, why_not: str = "") -> None:
        """Let the flush be stamped, or say why it cannot be."""
        for widget in (self.start_button, self.same_button, self.new_button, self.early_button):
            widget.setEnabled(usable)
        for grid in self._grids.values():
            grid.setEnabled(usable and self.started_at is not None)
        if why_not:
            self.words.setText(shown(why_not))

    def _show_plot(self) -> None:
        several = len({each.reader_id for each in self._found}) > 1
        names = {position.slot_id: position.name for position in self._held.positions}
        readers = {reader.reader_id: reader.name for reader in self._held.readers}
        series = [
            SettlingSeries(
                strung(", ", (names[each.slot_id], readers[each.reader_id])) if several else names[each.slot_id],
                each.times_s,
                each.mv,
            )
            for each in self._found
        ]
        self.plot.live = tuple(self._live)
        self.plot.show_series(series, self._held.flush.expected_s if self._held.flush is not None else None)

    def _show_state(self) -> None:
        running = self.started_at is not None
        self.start_button.setText(worded("Start the flush again") if running else START_WORDS)
        for grid in self._grids.values():
            grid.setEnabled(running)
        self.same_button.setEnabled(running)
        self.new_button.setEnabled(running)
        self._offer_following()
        self._show_clock()
        if running and self.isVisible():
            self._tick.start()

    @Slot()
    def _show_clock(self) -> None:
        self.clock_label.setText(clock_words(self._seconds()) if self.started_at is not None else "0:00")

    def _seconds(self) -> float:
        return (self._clock() - self.started_at).total_seconds() if self.started_at is not None else 0.0

    def _add(self, key: Key, value: float, seconds: float) -> None:
        earlier = [each.seconds or 0.0 for each in self._stamps if (each.slot_id, each.reader_id) == key]
        latest = max(earlier, default=-1.0)
        if seconds <= latest:
            # Two stamps within one tick of the clock are one reading: the newer stands.
            self._stamps = [
                each for each in self._stamps if (each.slot_id, each.reader_id, each.seconds) != (*key, latest)
            ]
            seconds = latest
        self._stamps.append(
            ReadingEntry(slot_id=key[0], reader_id=key[1], point="settling", mv=value, seconds=round(seconds, 1))
        )

    @Slot(int, int)
    def _on_entered(self, slot_id: int, reader_id: int) -> None:
        value = self.grid.fields[slot_id, reader_id].value
        if value is not None and not self.grid.shows_bar((slot_id, reader_id)):
            self._add((slot_id, reader_id), value, self._seconds())
            self.stamped.emit()

    @property
    def clock_buttons(self) -> tuple[QPushButton, ...]:
        """The buttons that start or stamp the clock: by their keys, a press or Space, never by a habitual Enter."""
        return self.start_button, self.same_button, self.new_button

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.started_at is not None:
            self._tick.start()

    def hideEvent(self, event: QHideEvent) -> None:
        self._tick.stop()
        self._unfollow()
        super().hideEvent(event)


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
        self.live: tuple[tuple[float, float], ...] = ()
        self._expected_s: float | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._waiting = text_label(say("The plot grows with each stamped reading."), "small", self)
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
            self._plot = still_plot(self)
            self._layout.addWidget(self._plot)
            self._waiting.hide()
        return self._plot

    @Slot()
    def _draw(self) -> None:
        if self._plot is None and not self._series and not self.live:
            return
        import pyqtgraph

        plot = self._made()
        ink, muted, accent = (self._theme.colour(name) for name in ("ink", "muted", "accent"))
        plot.setBackground(self._theme.colour("raised"))
        plot.clear()
        for name, label in (("left", "mV"), ("bottom", say("seconds since the flush began"))):
            axis = plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
            # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
            axis.setLabel(shown(label), color=muted.name(), siPrefixEnableRanges=())
        reach = max(
            [
                _LEAST_SECONDS,
                self._expected_s or 0.0,
                *(time for each in self._series for time in each.times_s),
                *(time for time, _mv in self.live),
            ]
        )
        if self._expected_s is not None:
            pen = pyqtgraph.mkPen(accent, style=Qt.PenStyle.DashLine)
            line = pyqtgraph.InfiniteLine(pos=self._expected_s, angle=90, pen=pen,
                label=worded("flush expected to be done"),
                                          labelOpts={"position": 0.06, "color": accent, "rotateAxis": (1, 0),
                                                     "anchors": [(0, 0), (0, 0)]})  # fmt: skip
            plot.addItem(line)
        if self.live:
            plot.plot(*map(list, zip(*self.live, strict=True)), pen=pyqtgraph.mkPen(accent, width=1.5))
        for number, each in enumerate(self._series):
            plot.plot(
                list(each.times_s), list(each.mv), pen=pyqtgraph.mkPen(muted, width=1.5), symbol=SYMBOLS[number % 5],
                symbolSize=9, symbolPen=ink, symbolBrush=ink if number % 2 == 0 else self._theme.colour("raised"),
            )  # fmt: skip
        plot.setXRange(0.0, reach * 1.18, padding=0.02)
        values = [*(mv for each in self._series for mv in each.mv), *(mv for _time, mv in self.live)]
        if values:
            low, high = min(values), max(values)
            spread = max(high - low, 2.0)
            name_ends(plot, ink, [(each.mv[-1], each.times_s[-1], each.name) for each in self._series], spread)
            plot.setYRange(low - 0.15 * spread, high + 0.15 * spread, padding=0)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(110 * GRID, 66 * GRID)

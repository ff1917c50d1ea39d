"""How far ahead to look: a slider in days, or a date, each following the other."""

from datetime import date, timedelta

from PySide6.QtCore import QDate, Qt, QTimerEvent, Signal, Slot
from PySide6.QtWidgets import QDateEdit, QHBoxLayout, QSlider, QWidget

from fleetbench.window.look.buttons import choice_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.look.words import counted

MOST_DAYS = 365
SETTLE_MS = 150
"""A moving slider asks once it rests, not at each step."""


class HorizonRow(QWidget):
    """Days ahead; everything while no horizon is chosen.

    Signals:
        chosen: the days ahead, or None for everything.
    """

    chosen = Signal(object)

    def __init__(self, theme: Theme, today: date, days: int | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._today = today
        self.days: int | None = days
        self.everything = choice_button(theme, "everything", self)
        self.slider = QSlider(Qt.Orientation.Horizontal, self)
        self.slider.setRange(0, MOST_DAYS)
        self.slider.setPageStep(30)
        self.slider.setAccessibleName("days ahead")
        self.slider.setMinimumWidth(60 * GRID)
        self.date = QDateEdit(self)
        self.date.setDisplayFormat("yyyy-MM-dd")
        self.date.setCalendarPopup(True)
        self.date.setAccessibleName("through")
        self.date.setDateRange(_qdate(today), _qdate(today + timedelta(days=MOST_DAYS)))
        self.words = text_label("", "small", self)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        line.addWidget(text_label("Ends within", "label", self))
        line.addWidget(self.everything)
        line.addWidget(self.slider, 1)
        line.addWidget(text_label("through", "label", self))
        line.addWidget(self.date)
        line.addWidget(self.words)
        self._resting = 0
        self._show()
        self.slider.valueChanged.connect(self._on_slider)
        self.date.dateChanged.connect(self._on_date)
        self.everything.clicked.connect(self._on_everything)

    def choose(self, days: int | None) -> None:
        """Look so many days ahead, or at everything."""
        self.days = None if days is None else max(0, min(days, MOST_DAYS))
        self._show()
        self._stop_waiting()
        self.chosen.emit(self.days)

    def _show(self) -> None:
        days = MOST_DAYS if self.days is None else self.days
        for widget in (self.slider, self.date):
            widget.blockSignals(True)
        self.slider.setValue(days)
        self.date.setDate(_qdate(self._today + timedelta(days=days)))
        for widget in (self.slider, self.date):
            widget.blockSignals(False)
        self.everything.setChecked(self.days is None)
        self.words.setText("" if self.days is None else counted(self.days, "day"))

    @Slot(int)
    def _on_slider(self, days: int) -> None:
        self.days = days
        self._show()
        self._wait()

    @Slot(QDate)
    def _on_date(self, day: QDate) -> None:
        self.days = _qdate(self._today).daysTo(day)
        self._show()
        self._wait()

    @Slot()
    def _on_everything(self) -> None:
        self.choose(None)

    def _wait(self) -> None:
        self._stop_waiting()
        self._resting = self.startTimer(SETTLE_MS)

    def _stop_waiting(self) -> None:
        if self._resting:
            self.killTimer(self._resting)
            self._resting = 0

    # Qt overrides

    def timerEvent(self, _event: QTimerEvent) -> None:
        self._stop_waiting()
        self.chosen.emit(self.days)


def _qdate(day: date) -> QDate:
    return QDate(day.year, day.month, day.day)

"""Buttons that print what a page shows, or write it into a file of a kind that the page offers.

How far ahead to look: a slider in days, or a date, each following the other.
"""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from PySide6.QtCore import QDate, Qt, QTimerEvent, Signal, Slot
from PySide6.QtWidgets import QDateEdit, QFileDialog, QHBoxLayout, QPushButton, QSlider, QWidget

from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import refuse_existing
from fleetbench.window.look.buttons import choice_button, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background

KINDS = {
    ".pdf": (say("Save as PDF…"), "", "PDF (*.pdf)"),
    ".csv": ("CSV", "", "CSV (*.csv)"),
    ".xlsx": ("XLSX", "", "Spreadsheet (*.xlsx)"),
    ".ics": ("iCalendar", "", "iCalendar (*.ics)"),
}
COMMA = say("Where figures are written with a comma, take the XLSX.")


class ExportRow(QWidget):
    """A button for each kind of file; writing happens off the GUI thread.

    Signals:
        written: where the file is, in a sentence.
        refused: why nothing was written.
    """

    written = Signal(str)
    refused = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, name: str, endings: Sequence[str],
        write: Callable[[], Callable[[Path], object]], parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        """name: of the file that is offered.

        write: called in the GUI thread for what is shown now; what it returns writes a path off it.
        """
        super().__init__(parent)
        self._background, self.name, self._write = background, name, write
        self.buttons: dict[str, QPushButton] = {}
        line = FlowLayout(self)
        if ".pdf" in endings:
            self.buttons["print"] = quiet_button(theme, "Print…", "print", self)
            self.buttons["print"].clicked.connect(self.print_pages)
            line.addWidget(self.buttons["print"])
        for ending in endings:
            words, icon, _ = KINDS[ending]
            button = quiet_button(theme, words, icon, self)
            button.clicked.connect(partial(self.ask, ending))
            self.buttons[ending] = button
            line.addWidget(button)

    def ask(self, ending: str, _checked: bool = False) -> None:
        """Ask where to write, then write."""
        path, _ = QFileDialog.getSaveFileName(self.window(), worded("Save"), f"{self.name}{ending}", KINDS[ending][2])
        if not path:
            return
        asked = path.lower().endswith(ending)  # the dialog asked whether the file of that name may be overwritten
        try:
            self.write_to(refuse_existing(Path(path if asked else f"{path}{ending}"), overwrite=asked))
        except Refused as refusal:
            self.refused.emit(str(refusal))

    def write_to(self, path: Path) -> None:
        """Write what is shown now into this file."""
        write = self._write()
        job = self._background.run(partial(_written, write, path), self)
        job.succeeded.connect(self._on_written)
        job.refused.connect(self.refused)

    @Slot()
    def print_pages(self) -> None:
        """Print all pages of what is shown now on a printer that is chosen."""
        job = self._background.run(partial(_pdf_of, self._write()), self)
        job.succeeded.connect(self._on_printable)
        job.refused.connect(self.refused)

    @Slot(object)
    def _on_printable(self, pdf: bytes) -> None:
        # drawing pages is loaded by the user who prints
        from fleetbench.window.shell.pictures import print_pages

        if print_pages([pdf], self.window()):
            self.written.emit(worded("Sent to the printer."))

    def _on_written(self, path: object) -> None:
        told = worded(say("Written to {path}.", path=path))
        if str(path).lower().endswith(".csv") and ".xlsx" in self.buttons:
            told += " " + worded(COMMA)
        self.written.emit(told)


def _pdf_of(write: Callable[[Path], object]) -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "page.pdf"
        write(path)
        return path.read_bytes()


def _written(write: Callable[[Path], object], path: Path) -> Path:
    write(path)
    return path


MOST_DAYS = 365
SETTLE_MS = 150
"""A moving slider asks once it rests, not at each step."""


class DayField(QDateEdit):
    """A day as people write it in records, 2026-05-04, with a calendar to choose from."""

    def __init__(self, name: str, on: date, parent: QWidget) -> None:
        super().__init__(QDate(on.year, on.month, on.day), parent)
        self.setDisplayFormat("yyyy-MM-dd")
        self.setCalendarPopup(True)
        self.setAccessibleName(worded(name))

    @property
    def day(self) -> date:
        """The day that is chosen."""
        on = self.date()
        return date(on.year(), on.month(), on.day())


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
        self.slider.setAccessibleName(worded("days ahead"))
        self.slider.setMinimumSize(60 * GRID, 6 * GRID)
        self.date = DayField("through", today, self)
        self.date.setDateRange(_qdate(today), _qdate(today + timedelta(days=MOST_DAYS)))
        self.words = text_label("", "small", self)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        line.addWidget(text_label(say("Ends within"), "label", self))
        line.addWidget(self.everything)
        line.addWidget(self.slider, 1)
        line.addWidget(text_label(say("through"), "label", self))
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
        self.words.setText("" if self.days is None else shown(counted(self.days, "day")))

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

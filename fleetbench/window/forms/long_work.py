"""A long piece of work on a page: how far it is, what is being done, and Cancel; shown only while it runs."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QWidget

from fleetbench.calc.core.languages import shown, worded
from fleetbench.window.look.buttons import Banner, plain_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.shell.background import Background, Job, Progress


class LongWork(QWidget):
    """One piece of work at a time, with progress; what is refused, and that it was cancelled, stands in the banner.

    Signals:
        changed: it began or ended.
    """

    changed = Signal()

    def __init__(
        self,
        theme: Theme,
        background: Background,
        banner: Banner,
        parent: QWidget,
        *,
        cancelled: str = "Cancelled. Nothing was changed.",
    ) -> None:
        super().__init__(parent)
        self._background, self._banner, self._cancelled = background, banner, cancelled
        self._job: Job | None = None
        self.cancel_button = plain_button(theme, "Cancel", "close", self)
        self.bar = QProgressBar(self)
        self.bar.setTextVisible(False)
        self.bar.setMinimumWidth(20 * GRID)
        self.bar.setAccessibleName(worded("How far it is"))
        self.step = text_label("", "small", self)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        line.addWidget(self.cancel_button)
        line.addWidget(self.bar, 1)
        line.addWidget(self.step)
        self.cancel_button.clicked.connect(self.cancel)
        self.hide()

    @property
    def is_busy(self) -> bool:
        """Whether work is on its way."""
        return self._job is not None

    def start(self, work: Callable[[Progress], object], then: Callable[[Any], None]) -> None:
        """Begin the work, and give its value to `then`; nothing where other work is on its way."""
        if self._job is not None:
            return
        self._job = self._background.run_long(work, self)
        self._job.succeeded.connect(then)
        self._job.refused.connect(self._banner.say_refused)
        self._job.called_off.connect(self._on_called_off)
        self._job.progressed.connect(self._on_progressed)
        self._job.ended.connect(self._on_ended)
        self._show()

    @Slot()
    def cancel(self) -> None:
        """Ask the work to stop at its next step."""
        if self._job is not None:
            self._job.cancel()
            self.step.setText(worded("Stopping at the next step …"))

    @Slot(int, int, str)
    def _on_progressed(self, done: int, total: int, what: str) -> None:
        self.bar.setMaximum(total)
        self.bar.setValue(done)
        self.step.setText(shown(what))

    @Slot()
    def _on_called_off(self) -> None:
        self._banner.say_note(self._cancelled)

    @Slot()
    def _on_ended(self) -> None:
        self._job = None
        self._show()

    def _show(self) -> None:
        self.bar.setValue(0)
        self.step.setText("")
        self.setVisible(self.is_busy)
        self.changed.emit()

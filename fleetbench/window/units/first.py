"""The first page of an empty database: add the first unit, import a spreadsheet, or look at the sample."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QProgressBar, QVBoxLayout, QWidget

from fleetbench.records.core.errors import NotFound
from fleetbench.settings import data_folder
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.buttons import lead_button, plain_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID
from fleetbench.window.shell.background import Job, Progress, Refresher
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.setting_up import first_unit_form
from fleetbench.workshop.core.workplace import Workplace, read_centre

WIDE = 150 * GRID
"""Width of a card, in px."""


def list_page(context: PageContext) -> "FirstPage":
    """The page with which an empty database opens."""
    return FirstPage(context)


class FirstPage(Page):
    """Three ways to begin, each one button; nothing is written before one of them is finished.

    Signals:
        records_wanted: the path of other records to open in this window.
    """

    records_wanted = Signal(str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, "Begin", parent)
        self.context = context
        self.dialog: FormDialog | None = None
        self._job: Job | None = None
        self._has_centre = False
        self._centre = Refresher(context.background, self)
        self._centre.loaded.connect(self._on_centre)
        self._centre.refused.connect(self.banner.say_refused)
        self.add_button = lead_button(self.theme, "Add my first unit", "add", self)
        self.import_button = plain_button(self.theme, "Import my spreadsheet", "bring_in", self)
        self.sample_button = plain_button(self.theme, "Look at the sample", "open", self)
        self.cancel_button = plain_button(self.theme, "Cancel", "close", self)
        self._progress = QProgressBar(self)
        self._progress.setAccessibleName("How far the sample is built")
        self._progress.setTextVisible(False)
        self._doing = text_label("", "small", self)
        self._lay_out()
        self.add_button.clicked.connect(self.add_unit)
        self.import_button.clicked.connect(partial(self.action_requested.emit, "bring_in"))
        self.sample_button.clicked.connect(self.build_sample)
        self.cancel_button.clicked.connect(self._on_cancel)
        self._show_busy(False)

    def _lay_out(self) -> None:
        path = self.context.workplace.database.path
        self.set_summary(f"No unit is recorded in {path}" if path is not None else "No unit is recorded on the server")
        add = "A few fields for one unit with its slots, cells and handsets; more units like it take one line each."
        file = "Lists that you keep already. They are checked first, and nothing is taken by half."
        sample = "An invented centre with fourteen units, in a folder of its own. Your own records stay as they are."
        column = QVBoxLayout()
        column.setSpacing(BLOCK)
        column.addWidget(self._card("One unit at a time", add, self.add_button))
        column.addWidget(self._card("From a file", file, self.import_button))
        card = self._card("Only looking", sample, self.sample_button)
        for widget in (self._progress, self._doing):
            card.layout().addWidget(widget)  # type: ignore[union-attr]
        card.layout().addWidget(self.cancel_button, 0, Qt.AlignmentFlag.AlignLeft)  # type: ignore[union-attr,call-arg]
        column.addWidget(card)
        column.addStretch(1)
        self.content.addLayout(column, 1)

    def _card(self, title: str, words: str, button: QWidget) -> QFrame:
        card = QFrame(self)
        card.setProperty("role", "card")
        card.setMaximumWidth(WIDE)
        layout = QVBoxLayout(card)
        layout.setContentsMargins(BLOCK, APART, BLOCK, BLOCK)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(title, "heading", card))
        said = text_label(words, "body", card)
        said.setWordWrap(True)
        layout.addWidget(said)
        layout.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return card

    def refresh(self) -> None:
        """Ask whether the centre itself is entered already."""
        self._centre.ask(partial(_has_centre, self.context.workplace))

    def focus_first(self) -> None:
        """Put the keyboard on the first way."""
        self.add_button.setFocus()

    @Slot()
    def add_unit(self) -> None:
        """Open the guided form."""
        has_people = bool(self.context.signed_in.offered)
        form = first_unit_form(self.context.workplace, has_centre=self._has_centre, has_people=has_people)
        self.dialog = FormDialog(self.theme, self.context.background, form, self.window())
        self.dialog.done_with.connect(self._on_added)
        self.dialog.open()

    @Slot()
    def build_sample(self) -> None:
        """Build the sample and open it in this window."""
        if self._job is not None:
            return
        self._job = self.context.background.run_long(_sample(data_folder()), self)
        self._job.succeeded.connect(self._on_built)
        self._job.refused.connect(self.banner.say_refused)
        self._job.progressed.connect(self._on_progressed)
        self._job.ended.connect(self._on_ended)
        self._show_busy(True)

    def _show_busy(self, busy: bool) -> None:
        for widget in (self._progress, self._doing, self.cancel_button):
            widget.setVisible(busy)
        for button in (self.add_button, self.import_button, self.sample_button):
            button.setEnabled(not busy)

    @Slot(object)
    def _on_centre(self, known: bool) -> None:
        self._has_centre, self.is_loaded = known, True

    @Slot(object)
    def _on_added(self, _words: str) -> None:
        for name in ("first_user", "records_changed"):
            self.action_requested.emit(name)
        self.place_requested.emit(PageKey("units"))

    @Slot(object)
    def _on_built(self, path: Path) -> None:
        self.records_wanted.emit(str(path))

    @Slot(int, int, str)
    def _on_progressed(self, done: int, total: int, what: str) -> None:
        self._progress.setMaximum(total)
        self._progress.setValue(done)
        self._doing.setText(what)

    @Slot()
    def _on_cancel(self) -> None:
        if self._job is not None:
            self._job.cancel()

    @Slot()
    def _on_ended(self) -> None:
        self._job = None
        self._show_busy(False)


def _has_centre(workplace: Workplace) -> bool:
    try:
        read_centre(workplace)
    except NotFound:
        return False
    return True


def _sample(data: Path) -> Callable[[Progress], Path]:
    def build(progress: Progress) -> Path:
        # It reads the files with pandas, which takes longer to import than the window takes to open.
        from fleetbench.workshop.places.sample import build_sample

        return build_sample(data, lambda what, part: progress(round(1000 * part), 1000, what))

    return build

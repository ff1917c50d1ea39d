"""The first page of an empty database: add the first unit, import a spreadsheet, or look at the sample."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import NotFound
from fleetbench.settings import data_folder
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.look.buttons import lead_button, plain_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID
from fleetbench.window.shell.background import Progress, Refresher
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
        records_wanted: the path of other records to open in this window, and what to say of them.
    """

    records_wanted = Signal(str, str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, "Begin", parent)
        self.context = context
        self.dialog: FormDialog | None = None
        self._has_centre = False
        self._centre = Refresher(context.background, self)
        self._centre.loaded.connect(self._on_centre)
        self._centre.refused.connect(self.banner.say_refused)
        self.add_button = lead_button(self.theme, "Add my first unit", "add", self)
        self.import_button = plain_button(self.theme, "Import my spreadsheet", "bring_in", self)
        self.sample_button = plain_button(self.theme, "Look at the sample", "open", self)
        self.work = LongWork(self.theme, context.background, self.banner, self)
        self._lay_out()
        self.add_button.clicked.connect(self.add_unit)
        self.import_button.clicked.connect(partial(self.action_requested.emit, "bring_in"))
        self.sample_button.clicked.connect(self.build_sample)
        self.work.changed.connect(self._show_busy)

    def _lay_out(self) -> None:
        path = self.context.workplace.database.path
        self.set_summary(
            say("No unit is recorded in {path}", path=path)
            if path is not None
            else say("No unit is recorded on the server")
        )
        add = say(
            "A few fields for one unit with its slots, cells and handsets; more units like it take one line each."
        )
        file = say("Lists that you keep already. They are checked first, and nothing is taken by half.")
        sample = say(
            "An invented centre with fourteen units, in a folder of its own. Your own records stay as they are."
        )
        column = QVBoxLayout()
        column.setSpacing(BLOCK)
        column.addWidget(self._card(say("One unit at a time"), add, self.add_button))
        column.addWidget(self._card(say("From a file"), file, self.import_button))
        card = self._card(say("Only looking"), sample, self.sample_button)
        card.layout().addWidget(self.work)  # type: ignore[union-attr]
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
        self.work.start(_sample(data_folder()), self._on_built)

    @Slot()
    def _show_busy(self) -> None:
        for button in (self.add_button, self.import_button, self.sample_button):
            button.setEnabled(not self.work.is_busy)

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
        self.records_wanted.emit(str(path), "")


def _has_centre(workplace: Workplace) -> bool:
    try:
        read_centre(workplace)
    except NotFound:
        return False
    return True


def _sample(data: Path) -> Callable[[Progress], Path]:
    def build(progress: Progress) -> Path:
        # What reads sheets takes longer to import than the window takes to open.
        from fleetbench.workshop.places.sample import build_sample

        return build_sample(data, lambda what, part: progress(round(1000 * part), 1000, what))

    return build

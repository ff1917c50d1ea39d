"""Availability: units by days as a time line, promised against fit units, and what is known of a chosen day."""

from collections.abc import Sequence
from datetime import date
from functools import partial

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.hires.acts import booked_words
from fleetbench.window.hires.availability_rows import ChartRow, place_of
from fleetbench.window.hires.chart import AvailabilityChart
from fleetbench.window.hires.dialogs import BookingDialog
from fleetbench.window.hires.list import SIBLINGS
from fleetbench.window.hires.sell import move_form
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import (
    ChoiceBox,
    ElidedLabel,
    EmptyState,
    PlaceButton,
    choice_button,
    nothing_recorded,
    plain_button,
    quiet_button,
    text_label,
)
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, measure_of, scaled
from fleetbench.window.look.words import counted, in_short, weekday
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import Page, PageContext, offer_siblings
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.hires.availability import (
    Availability,
    Move,
    availability_at_once,
    move_promise,
    moved_words,
    read_availability,
)
from fleetbench.workshop.hires.booking import OR_A_MANAGER, Booked

EMPTY = nothing_recorded("No units are recorded", "units", "Each unit has a line of days here.")
HINT = say(
    "M picks a booking up, arrows move it, Enter drops it, Escape returns it; Shift with "
    "arrows marks days, Enter books them or opens what lies there; + and − make days wider "
    "and narrower, T is today"
)
LONGEST_NAME = 26
MOST_TYPES = 5
"""So many unit types have a button each; more of them would push the rest out of a small window."""


def list_page(context: PageContext) -> "AvailabilityPage":
    """The time line of the whole fleet."""
    return AvailabilityPage(context)


class AvailabilityPage(Page):
    """The time line with its tools above and what is known of the cursor's day below."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, "Availability", parent)
        self._context, self._workplace = context, context.workplace
        self.dialog: BookingDialog | None = None
        self.move_dialog: FormDialog | None = None
        self.chart = AvailabilityChart(context.theme, self)
        self.ways: list[PlaceButton] = []
        self._types = QButtonGroup(self)
        self.type_buttons: dict[str | None, QWidget] = {}
        self._offered: dict[str, str] = {}
        self._loader = Refresher(context.background, self)
        offer_siblings(self, "Availability", SIBLINGS)
        self._build()
        self._connect()

    def _build(self) -> None:
        self._tools = QHBoxLayout()
        self._tools.setSpacing(CLOSE)
        self._type_row = QHBoxLayout()
        self._type_row.setSpacing(TIGHT)
        self._tools.addLayout(self._type_row)
        self.type_box = ChoiceBox(self)
        self.type_box.setAccessibleName(worded("unit type"))
        self.type_box.setMaximumWidth(60 * GRID)
        self.type_box.hide()
        self._tools.addWidget(self.type_box)
        self._tools.addStretch(1)
        for words, slot, tip in (
            (say("Today   T"), self.chart.go_to_today, say("Bring today into view")),
            ("−", self.chart.narrow, say("Narrower days")),
            ("+", self.chart.widen, say("Wider days")),
        ):
            button = quiet_button(self.theme, words, "", self)
            button.setToolTip(worded(tip))
            button.setAccessibleName(worded(tip))
            button.clicked.connect(slot)
            self._tools.addWidget(button)
        self.empty_state = EmptyState(self.theme, EMPTY, self)
        self._body = QStackedWidget(self)
        self._body.addWidget(self.chart)
        self._body.addWidget(self.empty_state)
        self.content.addLayout(self._tools)
        self.content.addWidget(self._body, 1)
        self.content.addWidget(self._made_pane())

    def _made_pane(self) -> QWidget:
        self.pane = QFrame(self)
        self.pane.setProperty("role", "card")
        self.title_line = text_label("", "strong", self.pane)
        self.why_line = text_label("", "body", self.pane)
        self.why_line.setWordWrap(True)
        self.why_line.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.count_line = text_label("", "small", self.pane)
        hint = ElidedLabel("small", self.pane)
        hint.setProperty("role", "small")
        hint.setText(worded(HINT))
        hint.setToolTip(worded(HINT))
        self.act_button = plain_button(self.theme, "Book", "", self.pane)
        words = QVBoxLayout()
        words.setSpacing(TIGHT)
        for line in (self.title_line, self.why_line, self.count_line, hint):
            words.addWidget(line)
        self._ways = QVBoxLayout()
        self._ways.addWidget(self.act_button)
        self._ways.addStretch(1)
        row = QHBoxLayout(self.pane)
        row.setContentsMargins(APART, CLOSE, APART, CLOSE)
        row.setSpacing(APART)
        row.addLayout(words, 1)
        row.addLayout(self._ways)
        self._size_pane()
        self.theme.text_size_changed.connect(self._size_pane)
        return self.pane

    @Slot()
    def _size_pane(self) -> None:
        self.why_line.setFixedHeight(2 * measure_of("body").lineSpacing())
        self.pane.setFixedHeight(scaled(31 * GRID))

    def _connect(self) -> None:
        self._loader.at_once.connect(self._on_loaded)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self._on_refused)
        self.chart.cell_chosen.connect(self._tell_cell)
        self.chart.told.connect(self._on_told)
        self.chart.booking_wanted.connect(self.book)
        self.chart.opening_wanted.connect(self.open_here)
        self.chart.move_wanted.connect(self._on_move)
        self.empty_state.action_requested.connect(self.action_requested)
        self.act_button.clicked.connect(self.chart.act_here)
        self.type_box.activated.connect(self._on_type_chosen)

    # what a page can do

    def refresh(self) -> None:
        """Load the time line again."""
        workplace = self._workplace
        self._loader.ask(partial(read_availability, workplace), partial(availability_at_once, workplace))

    def focus_first(self) -> None:
        """Put the keyboard on the time line."""
        self.chart.setFocus()

    @Slot(object, object, object)
    def book(self, row: ChartRow, first: date, last: date) -> None:
        """Ask for a booking of a row's unit on these days."""
        dialog = BookingDialog(self.theme, self._context.background, self._workplace, self.window())
        dialog.prefill(row.unit_type, first, last, (row.tag,) if row.tag else ())
        dialog.done_with.connect(self._on_booked)
        dialog.finished.connect(self._on_dialog_left)
        self.dialog = dialog
        dialog.open()

    @Slot()
    def open_here(self) -> None:
        """Go to the record under the cursor."""
        found = self._place_here()
        if found is not None:
            self.place_requested.emit(found[1])

    def _place_here(self) -> tuple[str, PageKey] | None:
        row = self.chart.row
        return place_of(self.chart.strip_here(), row.tag) if row is not None else None

    # what was loaded and done

    @Slot(object)
    def _on_loaded(self, shown: Availability) -> None:
        self._offer_types(shown)
        self._body.setCurrentIndex(0 if shown.units else 1)
        self.pane.setVisible(bool(shown.units))
        self.chart.show_availability(shown)
        self.set_summary(sum_up(shown) if shown.units else "")
        self.is_loaded = True
        self._tell_cell()
        self._loader.go_on(shown)

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self.banner.say_refused(line)

    def _offer_types(self, shown: Availability) -> None:
        names = {each.code: each.name for each in shown.types}
        wanted: Sequence[str | None] = (None, *names) if 1 < len(names) <= MOST_TYPES else (None,)
        if self._offered == names:
            return
        self._offered = names
        for button in self.type_buttons.values():
            button.hide()
            button.deleteLater()
        self.type_buttons = {}
        self.type_box.setVisible(len(names) > MOST_TYPES)
        self.type_box.clear()
        self.type_box.addItem(worded("all types"), None)
        for code, name in names.items():
            self.type_box.addItem(name, code)
        for kind in wanted if len(wanted) > 1 else ():
            words = "all" if kind is None else names[kind]
            button = choice_button(self.theme, shortened(words), self)
            button.setToolTip(as_plain_tip(words))
            button.setChecked(kind is None)
            button.clicked.connect(partial(self.show_type, kind))
            self._types.addButton(button)
            self._type_row.addWidget(button)
            self.type_buttons[kind] = button

    def show_type(self, code: str | None, _checked: bool = False) -> None:
        """Show one unit type, None for all."""
        self.chart.show_type(code)
        self.chart.setFocus()

    @Slot(int)
    def _on_type_chosen(self, _index: int) -> None:
        self.show_type(self.type_box.currentData())

    @Slot()
    def _tell_cell(self) -> None:
        row, day = self.chart.row, self.chart.day
        if row is None or day is None:
            return
        unit = row.tag or row.label or say("unit to be chosen")
        self.title_line.setText(shown(strung(", ", (unit, weekday(day)))))
        words = self.chart.words_here()
        self.why_line.setText(shown(say("{findings}.", findings=in_short(words))))
        self.why_line.setToolTip(as_plain_tip(shown(strung("\n", words))))
        self.count_line.setText(shown(self.chart.count_words_here()))
        shown_now = self.chart.shown
        judged = shown_now is not None and not shown_now.pending and day >= shown_now.today
        free = judged and row.strip_on(day) is None
        self.act_button.setText(worded("Book   Enter") if free and row.tag else worded("Open   Enter"))
        bands = row.bands_on(day)
        leads = (place_of(bands[0] if bands else None, row.tag), place_of(None, row.tag))
        self._show_ways([each for each in dict.fromkeys(leads) if each is not None])

    def _show_ways(self, leads: Sequence[tuple[str, PageKey]]) -> None:
        """The ways to what keeps the unit in, and to the unit."""
        for button in self.ways:
            button.hide()
            button.deleteLater()
        self.ways = [PlaceButton(words, place, self.pane) for words, place in leads]
        for at, button in enumerate(self.ways, 1):
            button.place_requested.connect(self.place_requested)
            self._ways.insertWidget(at, button)

    @Slot(str, bool)
    def _on_told(self, line: str, refused: bool) -> None:
        if not line:
            self._tell_cell()
            return
        self.title_line.setText(
            worded("Cannot be") if refused else worded("Moving") if self.chart.taken is not None else worded("Booking")
        )
        self.why_line.setText(shown(line))
        held = self.chart.taken is not None or self.chart.marked is not None
        self.count_line.setText(worded("Escape puts it back") if held else "")

    @Slot(object)
    def _on_move(self, move: Move) -> None:
        workplace = self._workplace
        job = self._context.background.run(lambda: move_promise(workplace, move), self)
        job.succeeded.connect(partial(self._on_moved, move))
        job.refused.connect(partial(self._on_move_refused, move))

    def _ask_manager(self, move: Move, why: str) -> None:
        """A move onto what is not fit is a manager's decision."""
        form = move_form(self._workplace, move, why)
        dialog = FormDialog(self.theme, self._context.background, form, self.window())
        dialog.done_with.connect(partial(self._on_moved, move))
        dialog.rejected.connect(self.refresh)
        dialog.finished.connect(self._on_dialog_left)
        self.move_dialog = dialog
        dialog.open()

    def _on_moved(self, move: Move, _nothing: object) -> None:
        self.banner.say_note(moved_words(move))
        self.refresh()

    def _on_move_refused(self, move: Move, line: str) -> None:
        if OR_A_MANAGER in line:
            self._ask_manager(move, line)
            return
        self.banner.say_refused(line)
        self.refresh()

    @Slot(object)
    def _on_booked(self, booked: Booked) -> None:
        self.banner.say_note(booked_words(booked))
        self.refresh()

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self.chart.setFocus()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and not self.chart.hasFocus():
            self.chart.setFocus()
            return
        super().keyPressEvent(event)


def shortened(name: str) -> str:
    """A name as a button has room for it."""
    return name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1].rstrip() + "…"


def sum_up(shown: Availability) -> str:
    """'14 units; 3 days of the next 30 are short'."""
    if shown.pending:
        return strung(": ", (counted(len(shown.units), "unit"), say("being calculated")))
    today = (shown.today - shown.first).days
    short = sum(any(kind.days[at].short for kind in shown.types) for at in range(today, min(today + 30, shown.length)))
    wanting = sum(each.lacking for kind in shown.types for each in kind.wanting)
    tail = say("; {wanting} still to be chosen", wanting=counted(wanting, "unit")) if wanting else ""
    return say(
        "{count}; {short} of the next 30 days are short{tail}",
        count=counted(len(shown.units), "unit"),
        short=short,
        tail=tail,
    )

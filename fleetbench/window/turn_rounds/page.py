"""Turn-rounds: the card of one unit as a work sheet."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from io import BytesIO
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas.acts import battery_form
from fleetbench.window.gas.unit import battery_words
from fleetbench.window.lists.act_bar import ActSpec, key_of, withhold
from fleetbench.window.look.buttons import plain_button, quiet_button
from fleetbench.window.look.marks import STOP
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, CLOSE, Theme
from fleetbench.window.look.words import moment, said
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.window.shell.place import HALF_DONE, PageKey
from fleetbench.window.turn_rounds.acts import BathDialog, finish_form, firmware_form
from fleetbench.window.turn_rounds.cards import (
    BesideCard,
    CardLines,
    FindingCard,
    FinishCard,
    NextLineCard,
    left_out_words,
    show_drying,
    show_handsets,
    show_service,
)
from fleetbench.window.turn_rounds.list import TurnRoundList, bathed_words
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import UnitGas, unit_gas
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.tickets.service_plan import due_tasks, open_service_ticket
from fleetbench.workshop.turn_rounds.baths import Bathed, BegunBath, mark_dry
from fleetbench.workshop.turn_rounds.card import (
    card_finding,
    correct_line,
    flood_found,
    leave_out,
    line_done,
    open_card,
)
from fleetbench.workshop.turn_rounds.page import CardLine, TurnRoundDesk, turn_round_desk


def list_page(context: PageContext) -> "TurnRoundList":
    """The units whose card is open."""
    return TurnRoundList(context)


def record_page(context: PageContext) -> "TurnRoundPage":
    """The card of one unit."""
    return TurnRoundPage(context.theme, context.background, context.workplace, context.zone)


ACTS = (
    ActSpec("bath", "Bath…", "Ctrl+B", "disinfection bath", "disinfect loops"),
    ActSpec("finding", "Finding", "Shift+F", act="turn-round finding"),
    ActSpec("flood", "Flooded", "Z", "record as spoiled", "flood found"),
    ActSpec("open_one", "Open a card", "O", "open", "open turn-round"),
    ActSpec("service", "Open a ticket for what is due", "N", "add", "open ticket"),
    ActSpec("sign", "Sign the card", "F9", "sign", "finish turn-round"),
    ActSpec("print", "Print…", "Ctrl+P", "print"),
    ActSpec("correct", "Correct", "F4", act="correct turn-round line"),
)
"""Everything that is done on a card beside answering its lines."""
SPECS = {spec.name: spec for spec in ACTS}


class TurnRoundPage(Page):
    """One unit's card: the next line large on top, the lines in bench order, and what stands beside them.

    Signals:
        opened: tag of a unit whose card stands on the page.
        changed: tag of a unit on whose card something was recorded.
        finished: tag of a unit whose card was signed.
    """

    opened = Signal(str)
    changed = Signal(str)
    finished = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, say("Turn-round"), parent)
        self._background, self._workplace, self._zone = background, workplace, zone
        self.desk: TurnRoundDesk | None = None
        self.tag: str | None = None
        self._chosen: int | None = None
        self._last: int | None = None
        self._loader = Refresher(background, self)
        self._build()
        self._connect()

    def _build(self) -> None:
        self.print_button = quiet_button(self.theme, SPECS["print"].text, "print", self)
        self.flood_button = quiet_button(self.theme, SPECS["flood"].text, "", self)
        self.open_button = plain_button(self.theme, SPECS["open_one"].text, "add", self)
        self.correct_button = quiet_button(self.theme, SPECS["correct"].text, "", self)
        for widget in (self.open_button, self.correct_button, self.flood_button, self.print_button):
            self.heading.addWidget(widget)
        self._flooded = QHBoxLayout()
        self.content.addLayout(self._flooded)
        self.next = NextLineCard(self.theme, self)
        self.content.addWidget(self.next)
        body = QWidget()
        body.setObjectName("scrolled")
        self.lines = CardLines(self.theme, self._zone, body)
        self.drying = BesideCard(self.theme, say("Disinfection and drying"), SPECS["bath"].text, body)
        self.handsets = BesideCard(self.theme, "Handsets", say("Other firmware…"), body)
        self.service = BesideCard(self.theme, say("Service plan"), SPECS["service"].text, body)
        self.finding = FindingCard(self.theme, body)
        self.finish = FinishCard(self.theme, self._zone, body)
        columns_ = QHBoxLayout(body)
        columns_.setContentsMargins(0, 0, CLOSE, 0)
        columns_.setSpacing(APART)
        beside = (self.finish, self.finding, self.drying, self.handsets, self.service)
        for cards, share in (((self.lines,), 3), (beside, 2)):
            column = QVBoxLayout()
            column.setSpacing(APART)
            for card in cards:
                column.addWidget(card)
            column.addStretch(1)
            columns_.addLayout(column, share)
        scroll = self._scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(body)
        self.content.addWidget(scroll, 1)

    def _connect(self) -> None:
        self.next.answered.connect(self._on_answered)
        self.next.left_out.connect(self._on_left_out)
        self.next.form_wanted.connect(self._on_form)
        self.next.place_requested.connect(self.place_requested)
        self.lines.chosen.connect(self._on_chosen)
        self.drying.wanted.connect(self.bath)
        self.handsets.wanted.connect(self.firmware)
        self.service.wanted.connect(self.service_ticket)
        self.finding.found.connect(self._on_found)
        self.finish.sign_wanted.connect(self.sign)
        self.print_button.clicked.connect(self.print_card)
        self.flood_button.clicked.connect(self.flood)
        self.open_button.clicked.connect(self.open_one)
        self.correct_button.clicked.connect(self.correct)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self._on_refused)

    def show_key(self, key: str) -> None:
        """Show the card of the unit with this tag."""
        if key != self.tag:
            self._chosen, self._last = None, None
            self.banner.clear()
        self.tag = key
        self.refresh()

    def begin_at(self, place: PageKey) -> None:
        """Take up the bath in which the loop of the unit lies; other places lead away."""
        if place.page != HALF_DONE:
            super().begin_at(place)
        elif self.tag is not None:
            self.bath()

    def refresh(self) -> None:
        """Load the card again."""
        tag, workplace = self.tag, self._workplace
        if tag is not None:
            self._loader.ask(lambda: turn_round_desk(workplace, tag))

    def focus_first(self) -> None:
        """Put the keyboard on the next line."""
        self.next.setFocus()

    @Slot(object)
    def _on_loaded(self, desk: TurnRoundDesk) -> None:
        first = self.desk is None or self.desk.unit != desk.unit
        self.desk, card = desk, desk.card
        self.set_title(say("Turn-round of {unit}", unit=desk.unit))
        self.set_summary(self._summary_of(desk))
        self._show_flood(card.record.flooded_at if card is not None else None)
        self.open_button.setVisible(not desk.is_open)
        self.flood_button.setVisible(card is None or not desk.is_open or card.record.flooded_at is None)
        self.correct_button.setVisible(desk.is_open and self._last is not None)
        self.print_button.setEnabled(card is not None)
        self._grey()
        for working in (self.next, self.finding):
            working.setVisible(desk.is_open)
        for told in (self.lines, self.finish):
            told.setVisible(card is not None)
        if card is not None:
            lines = {line.line.line_id: line for line in card.lines if line.state == WorkState.TO_DO}
            line = lines.get(self._chosen or -1, card.next) if desk.is_open else None
            self._show_next(desk, line)
            self.lines.show_card(card, desk.is_open)
            QTimer.singleShot(0, self._bring_up)
        show_drying(self.drying, card.drying if card is not None else None, self._zone, desk.reference)
        waits = (line.step is Step.DISINFECT and line.state == WorkState.TO_DO for line in (card.lines if card else ()))
        self.drying.button.setVisible(desk.is_open and any(waits))
        show_handsets(self.handsets, desk, self._zone)
        show_service(self.service, desk)
        self.finish.show_desk(desk)
        self.is_loaded = True
        if first or self.next.isVisible():
            self.focus_first()
        if first:
            self.opened.emit(desk.unit)

    @Slot()
    def _grey(self) -> None:
        given = {
            "bath": self.drying.button, "flood": self.flood_button, "open_one": self.open_button,
            "service": self.service.button, "sign": self.finish.button, "correct": self.correct_button,
        }  # fmt: skip
        for name, button in given.items():
            withhold(button, SPECS[name].act, self._background.signed_in.role)

    def _show_next(self, desk: TurnRoundDesk, line: CardLine | None) -> None:
        drying = desk.card.drying if desk.card is not None else None
        early = line is not None and line.step is Step.DRY and drying is not None and drying.early
        hint = self._hint(desk, line.step if line is not None else None)
        self.next.show_line(line, desk.unit, hint, against=desk.against, early=early)

    def _hint(self, desk: TurnRoundDesk, step: Step | None) -> str:
        """What is known now of the line that comes next."""
        drying = desk.card.drying if desk.card is not None else None
        if step is not Step.DRY or drying is None:
            return ""
        since = say("Found damp {damp_at}. ", damp_at=moment(drying.damp_at, self._zone)) if drying.damp_at else ""
        first, last = moment(drying.dry_from, self._zone), moment(drying.dry_by, self._zone)
        return say(
            "{since}Disinfected {disinfected_at}: hangs until {first} to {last}.",
            since=since,
            disinfected_at=moment(drying.disinfected_at, self._zone),
            first=first,
            last=last,
        )

    @Slot()
    def _bring_up(self) -> None:
        """Bring the line that comes next into view, with what was done just before it."""
        ahead = [row for row in self.lines.rows if row.line.state == WorkState.TO_DO]
        if ahead and self.desk is not None and self.desk.is_open:
            self._scroll.ensureWidgetVisible(ahead[0], 0, 120)

    def _summary_of(self, desk: TurnRoundDesk) -> str:
        card = desk.card
        if card is None:
            return say("{unit_type}; no card was ever opened", unit_type=desk.unit_type)
        booking = say(", back from {booking}", booking=card.record.booking) if card.record.booking else ""
        opened = say(
            "opened {opened_at} by {opened_by}",
            opened_at=moment(card.record.opened_at, self._zone),
            opened_by=said(card.record.opened_by),
        )
        return say("{unit_type}, card {number}{booking}, {opened}", unit_type=desk.unit_type,
            number=card.record.number, booking=booking, opened=opened) if desk.is_open else (
            say("{unit_type}; its last card, {number}, is finished", unit_type=desk.unit_type,
                number=card.record.number)
        )  # fmt: skip

    def _show_flood(self, at: datetime | None) -> None:
        while (item := self._flooded.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.deleteLater()
        if at is not None:
            path = say("cells out, all opened that the maker's manual names, calibrations on two different days")
            words = say("flooded, found {at}: {path}", at=moment(at, self._zone), path=path)
            self._flooded.addWidget(MarkLabel(self.theme, STOP.worded(words), "strong", self), 1)

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self.banner.say_refused(line)

    # acts

    def _act(self, work: Callable[[], object], note: str = "") -> None:
        """Do it off the GUI thread, then show the card anew; a refusal is said in the page."""
        job = self._background.run(work, self)
        job.succeeded.connect(partial(self._on_acted, note))
        job.refused.connect(self.banner.say_refused)

    def _on_acted(self, note: str, _value: object) -> None:
        self.banner.clear()
        if note:
            self.banner.say_note(note)
        self._chosen = None
        self.refresh()
        if self.tag is not None:
            self.changed.emit(self.tag)

    @property
    def _card_id(self) -> int:
        assert self.desk is not None and self.desk.card is not None, "a card stands on the page"
        return self.desk.card.record.card_id

    @Slot(int, str)
    def _on_answered(self, line_id: int, note: str) -> None:
        workplace, tag, line = self._workplace, self.tag or "", self.next.line
        if line is not None and line.step is Step.DRY and note == "damp":
            self._act(
                lambda: mark_dry(workplace, [tag], dry=False),
                say("Found damp: it hangs on, and its hours begin again."),
            )
            return
        self._last = line_id
        self._act(lambda: line_done(workplace, line_id, note))

    @Slot(int, str)
    def _on_left_out(self, line_id: int, reason: str) -> None:
        workplace = self._workplace
        self._last = line_id
        self._act(lambda: leave_out(workplace, line_id, reason))

    @Slot(int)
    def _on_chosen(self, line_id: int) -> None:
        """Bring a line up that is done out of its turn."""
        self._chosen = line_id
        if self.desk is not None and self.desk.card is not None:
            line = next(each for each in self.desk.card.lines if each.line.line_id == line_id)
            self._show_next(self.desk, line)
            self.focus_first()

    @Slot(str)
    def _on_found(self, text: str) -> None:
        workplace, card = self._workplace, self._card_id
        self.finding.field.clear()
        self._act(
            lambda: card_finding(workplace, card, text),
            say("It stands on a ticket, which holds the unit until signed."),
        )

    @Slot()
    def correct(self) -> None:
        """Open the line again that was ticked last."""
        workplace, line = self._workplace, self._last
        if line is not None:
            self._last = None
            self._act(lambda: correct_line(workplace, line))

    @Slot()
    def open_one(self) -> None:
        """Open a card for a unit that is here."""
        workplace, tag = self._workplace, self.tag
        if tag is not None and self.desk is not None and not self.desk.is_open:
            self._act(lambda: open_card(workplace, tag))

    @Slot()
    def flood(self) -> None:
        """Say that a flood was found."""
        workplace, tag = self._workplace, self.tag
        if tag is not None and not self.flood_button.isHidden():
            self._act(lambda: flood_found(workplace, tag), say("Flooded: the card has the flood's lines now."))

    @Slot()
    def service_ticket(self) -> None:
        """Open a ticket with what is due of the plan and waits nowhere yet."""
        if self.desk is None:
            return
        workplace, tag = self._workplace, self.desk.unit
        job = self._background.run(
            lambda: number_of(workplace, open_service_ticket(workplace, tag, due_tasks(workplace, tag))), self
        )
        job.succeeded.connect(self._on_service_ticket)
        job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_service_ticket(self, number: str) -> None:
        """Go to the ticket that was opened with what is due."""
        self._on_acted(say("Ticket {number} is open with what is due of the service plan.", number=number), number)
        self.place_requested.emit(PageKey("ticket_work", number))

    # dialogs

    @Slot()
    def bath(self) -> BathDialog:
        """Ask for the bath in which this unit's loop lay."""
        dialog = BathDialog(self.theme, self._background, self._workplace, self._zone, self.tag or "", self)
        dialog.done_with.connect(self._on_bathed)
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()
        return dialog

    @Slot(object)
    def _on_form(self, step: Step) -> None:
        """Open the form of a line that is recorded here."""
        if step is Step.DISINFECT:
            self.bath()
        else:
            self.batteries()

    def batteries(self) -> None:
        """Ask what each battery reads, once the unit's devices are known."""
        workplace, tag = self._workplace, self.tag or ""
        job = self._background.run(lambda: unit_gas(workplace, tag), self)
        job.succeeded.connect(self._ask_batteries)
        job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _ask_batteries(self, side: UnitGas) -> None:
        dialog = FormDialog(self.theme, self._background, battery_form(self._workplace, side), self)
        dialog.done_with.connect(self._on_batteries)
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()

    @Slot(object)
    def _on_batteries(self, answers: object) -> None:
        self._on_acted(battery_words(answers), answers)

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self.focus_first()

    @Slot(object)
    def _on_bathed(self, done: Bathed | BegunBath) -> None:
        self._on_acted(bathed_words(done, self._zone), done)

    @Slot()
    def firmware(self) -> FormDialog:
        """Ask what firmware each handset shows."""
        assert self.desk is not None, "a unit stands on the page"
        dialog = FormDialog(self.theme, self._background, firmware_form(self._workplace, self.desk.handsets), self)
        dialog.done_with.connect(
            partial(self._on_acted, say("Firmware recorded: calibrate, and test the alarms, again."))
        )
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()
        return dialog

    @Slot()
    def sign(self) -> FormDialog | None:
        """Ask for the signature, once nothing is in the way."""
        desk = self.desk
        if desk is None or not desk.is_open or desk.against:
            self.banner.say_refused(
                say("card: {against}", against=strung("; ", desk.against) if desk is not None else say("none is open"))
            )
            return None
        title = say("Finish the turn-round of {unit}", unit=desk.unit)
        form = finish_form(
            self._workplace, (self._card_id,), title, desk.signers, needs_second=desk.needs_second,
            says=left_out_words(desk),
        )  # fmt: skip
        dialog = FormDialog(self.theme, self._background, form, self)
        dialog.done_with.connect(self._on_signed)
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()
        return dialog

    @Slot(object)
    def _on_signed(self, digest: object) -> None:
        self._on_acted(
            say("The card is signed and the hold lifted; journal hash {digest}.", digest=str(digest)[:16]), digest
        )
        if self.tag is not None:
            self.finished.emit(self.tag)

    @Slot()
    def print_card(self) -> None:
        """Show the card as it prints, to print or save."""
        workplace, tag = self._workplace, self.tag or ""

        def made() -> bytes:
            # reportlab is slow to import; only the user who prints waits for it
            from fleetbench.printing import print_turn_round

            stream = BytesIO()
            print_turn_round(workplace, tag, stream)
            return stream.getvalue()

        dialog = LabelDialog(
            self.theme, self._background, workplace, 0, None, self,
            make=made, title=say("Turn-round card of {tag}", tag=tag), is_label=False,
        )  # fmt: skip
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if isinstance(self.focusWidget(), QLineEdit):
            super().keyPressEvent(event)
            return
        acts: dict[str, Callable[[], object]] = {
            "bath": self.bath, "finding": self.finding.field.setFocus, "flood": self.flood, "open_one": self.open_one,
            "service": self.service.button.click, "sign": self.sign, "print": self.print_card,
            "correct": self.correct,
        }  # fmt: skip
        name = next((spec.name for spec in ACTS if spec.key == key_of(event)), None)
        if name is not None and self.desk is not None:
            acts[name]()
        else:
            super().keyPressEvent(event)

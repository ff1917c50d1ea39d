"""The page where a ticket is opened, worked on and signed; what is refused is said inside the page."""

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QBoxLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.calc.tickets.steps import StepKind
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.window.bench.dialog import release_form
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.forms.form import Form
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import key_of
from fleetbench.window.look.buttons import plain_button, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme
from fleetbench.window.look.words import moment, spaced
from fleetbench.window.parts.fit import FitDialog
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.window.shell.place import PageKey, known_of
from fleetbench.window.tickets.cards import FindingsCard, PartsCard, SignCard, TasksCard, TestsCard, signature_words
from fleetbench.window.tickets.kept import MaterialsCard, PhotographsCard, material_form
from fleetbench.window.tickets.next import KEYS, NewTicket, NewTicketCard, NextTaskCard
from fleetbench.window.tickets.sign import ticket_form
from fleetbench.window.tickets.steps import AT_ONCE, leave_out_form, next_step, step_form
from fleetbench.workshop.bench.steps import correct_step, settle_step
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import Fitted
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.page import (
    TicketDesk,
    add_minutes,
    correct_finding,
    correct_minutes,
    correct_task,
    number_of,
    start_work,
    stop_work,
    ticket_desk,
)
from fleetbench.workshop.tickets.photographs import add_photograph, pictures_of
from fleetbench.workshop.tickets.work import add_finding, add_task, open_ticket, put_off_task, task_done

WIDE_FROM = 240 * GRID
"""Under this width the cards stand in one column."""


class TicketWorkPage(Page):
    """One ticket from opening to signature.

    Signals:
        opened: number of a ticket that stands on the page.
        changed: number of a ticket on which something was recorded.
        signed: number of a ticket that was signed.
    """

    opened = Signal(str)
    changed = Signal(str)
    signed = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, "Ticket", parent)
        self._background, self._workplace, self._zone = background, workplace, zone
        self.desk: TicketDesk | None = None
        self._number: str | None = None
        self._loader = Refresher(background, self)
        self._build()
        self._connect()

    def _build(self) -> None:
        self.exports = ExportRow(self.theme, self._background, "ticket", (".pdf",), self._writer, self)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)
        self.exports.hide()
        self.heading.addWidget(self.exports)
        self.correct_button = plain_button(self.theme, "Correct in a new ticket", "", self)
        self.correct_button.hide()
        self.heading.addWidget(self.correct_button)
        self._about = text_label("", "body", self)
        self._about.setWordWrap(True)
        self.content.addWidget(self._about)
        body = QWidget()
        body.setObjectName("scrolled")
        self.new = NewTicketCard(self.theme, body)
        self.tasks = TasksCard(self.theme, body)
        self.findings = FindingsCard(self.theme, self._zone, body)
        self.parts = PartsCard(self.theme, self._zone, body)
        self.materials = MaterialsCard(self.theme, body)
        self.tests = TestsCard(self.theme, self._zone, body)
        self.sign = SignCard(self.theme, self._zone, body)
        self.next = NextTaskCard(self.theme, body)
        self.photographs = PhotographsCard(self.theme, self._zone, body)
        self._work = QWidget(body)
        whole = QVBoxLayout(self._work)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(APART)
        columns = self._columns = QHBoxLayout()
        columns.setSpacing(APART)
        whole.addWidget(self.next)
        whole.addLayout(columns)
        for cards, share in (
            ((self.tasks, self.findings, self.photographs), 3),
            ((self.parts, self.materials, self.tests, self.sign), 2),
        ):
            column = QVBoxLayout()
            column.setSpacing(APART)
            for card in cards:
                column.addWidget(card)
            column.addStretch(1)
            columns.addLayout(column, share)
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 0, CLOSE, 0)
        layout.setSpacing(APART)
        layout.addWidget(self.new)
        layout.addWidget(self._work)
        layout.addStretch(1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        scroll.setWidget(body)
        self.content.addWidget(scroll, 1)
        self._work.hide()

    def _connect(self) -> None:
        self.new.given.connect(self._on_new)
        self.tasks.done.connect(self._on_done)
        self.tasks.put_off.connect(self._on_put_off)
        self.tasks.step_wanted.connect(self.record_step)
        self.tasks.step_left_out.connect(self.leave_out)
        self.tasks.added.connect(self._on_task)
        self.findings.added.connect(self._on_finding)
        self.parts.fit_wanted.connect(self.fit_part)
        self.parts.take_out_wanted.connect(self.take_part_out)
        self.materials.use_wanted.connect(self.use_material)
        self.tests.test_wanted.connect(self.test_valves)
        self.tests.elsewhere_wanted.connect(self._on_elsewhere)
        self.sign.minutes_added.connect(self._on_minutes)
        self.sign.minutes_corrected.connect(self._on_minutes_corrected)
        self.sign.sign_wanted.connect(self.sign_off)
        self.next.wanted.connect(self._on_wanted)
        self.findings.corrected.connect(self._on_finding_corrected)
        self.photographs.chosen.connect(self._on_photograph)
        self.correct_button.clicked.connect(self.correct_by_new)
        for card in (self.new, self.tasks, self.sign):
            card.refused.connect(self.banner.say_refused)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self.banner.say_refused)
        self._background.signed_in.changed.connect(self._on_user)

    def new_ticket(
        self, tag: str = "", reason: str = "", cause: str | None = None, refers_to: tuple[int, str] | None = None,
        plan: bool = False,
    ) -> None:  # fmt: skip
        """Begin a new ticket with what is known already; refers_to: key and number of one that it puts right.

        plan: it carries what is due of the unit's service plan.
        """
        self._number, self.desk = None, None
        self.banner.clear()
        self.set_title(say("New ticket"))
        self._about.hide()
        self._work.hide()
        self.new.show()
        self.is_loaded = True
        self.correct_button.hide()
        self.exports.hide()
        self.new.begin(tag, reason, cause, refers_to, plan)

    def show_key(self, key: str) -> None:
        """Show the ticket with this number, or begin the new one that the key speaks of."""
        known = known_of(key)
        if known is not None:
            self.new_ticket(*known)
        else:
            self.open_number(key)

    def open_number(self, number: str) -> None:
        """Load and show the ticket with this number, as printed."""
        self._number = number
        self.banner.clear()
        self.refresh()

    @Slot()
    def _on_user(self) -> None:
        """Show at once what another signed-in user may do; a new ticket that is half written stays."""
        if self.desk is not None:
            self.refresh()

    def refresh(self) -> None:
        """Load the ticket again, or begin a new one where none stands here."""
        number, workplace = self._number, self._workplace
        if number is None:
            self.new_ticket()
        else:
            known = frozenset(self.photographs.pictures)
            self._loader.ask(lambda: _loaded(workplace, number, known))

    def holds_entries(self) -> bool:
        """Whether a new ticket is being written, or a card of the shown one holds words."""
        return self.desk is None or super().holds_entries()

    def focus_first(self) -> None:
        """Put the keyboard where the work goes on."""
        if self.desk is None:
            self.new.focus_missing()
            return
        waiting = [row for row in self.tasks.rows if row.task.state == WorkState.TO_DO]
        (waiting[0].done_button if waiting and self.desk.is_open else self.findings.new).setFocus()

    @Slot(object)
    def _on_loaded(self, loaded: tuple[TicketDesk, dict[str, QImage]]) -> None:
        desk, pictures = loaded
        held, in_task = self._holds_keyboard(), self.tasks.holds_keyboard()
        self.photographs.pictures.update(pictures)
        first = self.desk is None or self.desk.page.row.number != desk.page.row.number
        self.desk, row = desk, desk.page.row
        holds = say("holds the unit while it is open") if row.ticket.critical else say("does not hold the unit")
        self.set_title(say("Ticket {number}, {unit}", number=row.number, unit=row.ticket.unit))
        opened = say(
            "opened {opened_at} by {opened_by}",
            opened_at=moment(row.ticket.opened_at, self._zone),
            opened_by=row.ticket.opened_by,
        )
        self.set_summary(strung(", ", (spaced(row.ticket.cause), holds)))
        self.exports.name = plain_name(f"ticket-{row.number}-{row.ticket.unit}", "")
        self._about.setText(shown(say("{reason}; {opened}.", reason=row.ticket.reason.rstrip("."), opened=opened)))
        self._about.show()
        self.new.hide()
        self.tasks.show_tasks(desk.page, desk.is_open)
        self.findings.show_findings(desk.page.findings, desk.is_open)
        self.parts.show_moves(desk.page.moves, desk.is_open)
        self.materials.show_materials(desk.page.materials, desk.is_open)
        self.tests.show_tests(desk.page.tests, desk.is_open)
        self.sign.show_desk(desk)
        self.next.show_desk(desk)
        self.photographs.show_photographs(desk.page.photographs, desk.is_open)
        self._show_references(desk)
        self.exports.show()
        self._work.show()
        self.is_loaded = True
        if first or in_task or (held and not self._holds_keyboard()):
            self.focus_first()
        if first:
            self.opened.emit(row.number)

    def _holds_keyboard(self) -> bool:
        """Whether a widget of the page has the keyboard and can use it."""
        focused = QApplication.focusWidget()
        return focused is not None and self.isAncestorOf(focused) and focused.isEnabled() and focused.isVisible()

    def _show_references(self, desk: TicketDesk) -> None:
        row = desk.page.row
        self.correct_button.setVisible(not desk.is_open)
        said = [say("refers to {refers_to}", refers_to=row.refers_to)] if row.refers_to else []
        said += [say("is corrected by {number}", number=number) for number in desk.page.corrected_by]
        if said:
            self._about.setText(worded(say("{text} It {said}.", text=self._about.text(), said=strung(" and ", said))))

    def _writer(self) -> Callable[[Path], object]:
        return ticket_writer(self._workplace, self._number or "")

    # acts

    def _act(self, work: Callable[[], object]) -> None:
        """Do it off the GUI thread, then show the ticket anew; a refusal is said in the page."""
        job = self._background.run(work, self)
        job.succeeded.connect(self._on_acted)
        job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_acted(self, _value: object) -> None:
        self.banner.clear()
        self.refresh()
        if self._number is not None:
            self.changed.emit(self._number)

    @property
    def _ticket_id(self) -> int:
        assert self.desk is not None, "a ticket stands on the page"
        return self.desk.page.row.ticket.ticket_id

    @Slot(object)
    def _on_new(self, form: NewTicket) -> None:
        workplace = self._workplace

        def work() -> str:
            key = open_ticket(
                workplace,
                form.tag,
                cause=form.cause,
                reason=form.reason,
                critical=form.critical,
                tasks=form.tasks,
                refers_to=form.refers_to,
                plan_due=form.plan,
            )
            return number_of(workplace, key)

        job = self._background.run(work, self)
        job.succeeded.connect(self.open_number)
        job.refused.connect(self.banner.say_refused)

    @Slot(int, object)
    def _on_done(self, task_id: int, minutes: float | None) -> None:
        workplace = self._workplace
        self._act(lambda: task_done(workplace, task_id, minutes=minutes))

    @Slot(int, str)
    def _on_put_off(self, task_id: int, reason: str) -> None:
        workplace = self._workplace
        self._act(lambda: put_off_task(workplace, task_id, reason))

    @Slot(str, bool)
    def _on_task(self, text: str, second: bool) -> None:
        workplace, key = self._workplace, self._ticket_id
        self._act(lambda: add_task(workplace, key, text, second_person=second))

    @Slot(str)
    def _on_finding(self, text: str) -> None:
        workplace, key = self._workplace, self._ticket_id
        self._act(lambda: add_finding(workplace, key, text))

    @Slot(float)
    def _on_minutes(self, minutes: float) -> None:
        workplace, key = self._workplace, self._ticket_id
        self._act(lambda: add_minutes(workplace, key, minutes))

    @Slot(int, float)
    def _on_minutes_corrected(self, time_id: int, minutes: float) -> None:
        workplace = self._workplace
        self._act(lambda: correct_minutes(workplace, time_id, minutes))

    @Slot(int, str)
    def _on_finding_corrected(self, finding_id: int, text: str) -> None:
        workplace = self._workplace
        self._act(lambda: correct_finding(workplace, finding_id, text))

    @Slot(object, str)
    def _on_photograph(self, path: Path, caption: str) -> None:
        """Add a photograph; where the next step asks for one, it settles the step."""
        workplace, key = self._workplace, self._ticket_id
        self.photographs.caption.clear()
        step = next_step(self.desk.page) if self.desk is not None else None

        def work() -> None:
            digest = add_photograph(workplace, key, path, caption)
            if step is not None and step.plan.kind == StepKind.PHOTOGRAPH:
                settle_step(workplace, step.step_result_id, photograph=digest)

        self._act(work)

    @Slot(str)
    def _on_wanted(self, word: str) -> None:
        """Do what a button of the first card, or its key, asks for."""
        if self.desk is None or not self.next.buttons[word].isEnabled():
            return
        ways: dict[str, Callable[[], object]] = {
            "done": self.next_done,
            "leave_out": self.leave_out,
            "fit": self.fit_part,
            "test": self.test_valves,
            "clock": self.turn_clock,
            "correct": self.correct,
            "photograph": self.photographs.choose,
            "sign": self.sign_off,
        }
        ways[word]()

    @Slot(str)
    def _on_elsewhere(self, page: str) -> None:
        """Go where other tests are taken; what is recorded there belongs to the ticket."""
        if self.desk is not None:
            self.place_requested.emit(PageKey(page, self.desk.page.row.ticket.unit))

    def next_done(self) -> None:
        """Record the next step, or mark the next task as done with the minutes that stand beside it."""
        step = next_step(self.desk.page) if self.desk is not None else None
        if step is not None:
            self.record_step(step)
            return
        for row in self.tasks.rows:
            if row.task.state == WorkState.TO_DO:
                row.done_button.click()
                return

    @Slot(object)
    def record_step(self, step: TicketStep) -> None:
        """Ask for what settles a step, or settle it at once where nothing is typed for it."""
        assert self.desk is not None, "a ticket stands on the page"
        workplace, page = self._workplace, self.desk.page
        if step.plan.kind not in AT_ONCE:
            self._ask(step_form(workplace, step, self.desk), self._on_stepped)
            return
        free = {each.sha256 for each in page.photographs if each.ticket_id is not None}
        free -= {each.photograph for each in page.steps if each.photograph is not None}
        if step.plan.kind == StepKind.PHOTOGRAPH and not free:
            self.photographs.choose()
            return
        job = self._background.run(lambda: settle_step(workplace, step.step_result_id), self)
        job.succeeded.connect(self._on_stepped)
        job.refused.connect(self.banner.say_refused)

    @Slot()
    def leave_out(self, step: TicketStep | None = None) -> None:
        """Ask why a step is left out, the next one where none is named."""
        wanted = step or (next_step(self.desk.page) if self.desk is not None else None)
        if wanted is not None:
            self._ask(leave_out_form(self._workplace, wanted), self._on_acted)

    def _ask(self, form: Form, done: Callable[[object], None]) -> FormDialog:
        dialog = FormDialog(self.theme, self._background, form, self)
        dialog.done_with.connect(done)
        dialog.open()
        return dialog

    @Slot(object)
    def _on_stepped(self, lots: object) -> None:
        self._on_acted(lots)
        if isinstance(lots, tuple) and lots:
            self.banner.say_note(say("Taken from stock: {lots}.", lots=strung(", ", dict.fromkeys(lots))))

    def turn_clock(self) -> None:
        """Start the clock of whoever is at the bench, or stop it with the minutes that stand in the field."""
        assert self.desk is not None, "a ticket stands on the page"
        workplace, key, mine = self._workplace, self._ticket_id, self._workplace.person_id
        if not any(each.person_id == mine and each.minutes is None for each in self.desk.page.times):
            self._act(lambda: start_work(workplace, key))
            return
        try:
            minutes = self.sign.minutes.value()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self._act(lambda: stop_work(workplace, key, minutes=minutes))

    def correct(self) -> None:
        """Put right what was entered last: words and minutes are entered anew, a task is to do again."""
        entered, workplace = self.desk.correctable if self.desk is not None else None, self._workplace
        if entered is None:
            self.banner.say_refused(say("correction: you entered nothing here in the last ten minutes"))
        elif entered.kind == "finding":
            self.findings.begin_correcting(entered.key, entered.said)
        elif entered.kind == "minutes":
            self.sign.begin_correcting(entered.key, entered.said)
        else:
            key, act = entered.key, correct_step if entered.kind == "step" else correct_task
            self._act(lambda: act(workplace, key))

    @Slot()
    def correct_by_new(self) -> None:
        """Begin a ticket that refers to the signed one on the page."""
        assert self.desk is not None, "a ticket stands on the page"
        row = self.desk.page.row
        self.new_ticket(
            row.ticket.unit,
            say("Corrects {number}: ", number=row.number),
            say("by hand"),
            (row.ticket.ticket_id, row.number),
        )
        self.new.reason.setFocus()

    # dialogs

    @Slot()
    def fit_part(self) -> FitDialog:
        """Ask for a part and a slot."""
        return self._ask_fit(take_out=False)

    @Slot()
    def take_part_out(self) -> FitDialog:
        """Ask for a slot to be emptied."""
        return self._ask_fit(take_out=True)

    def _ask_fit(self, *, take_out: bool) -> FitDialog:
        assert self.desk is not None, "a ticket stands on the page"
        dialog = FitDialog(
            self.theme, self._background, self._workplace, self.desk.page.row.ticket.unit, self.desk.slots,
            ticket_id=self._ticket_id, take_out=take_out, parent=self,
        )  # fmt: skip
        dialog.done_with.connect(self._on_fitted)
        dialog.open()
        return dialog

    @Slot()
    def use_material(self) -> FormDialog:
        """Ask which lubricant or seal kit was used."""
        assert self.desk is not None, "a ticket stands on the page"
        form = material_form(self._workplace, self._ticket_id, self.desk.page.row.ticket.unit)
        return self._ask(form, self._on_acted)

    @Slot()
    def test_valves(self) -> FormDialog:
        """Ask what valves and loop did."""
        assert self.desk is not None, "a ticket stands on the page"
        tag = self.desk.page.row.ticket.unit
        return self._ask(release_form(self._workplace, tag, ticket_id=self._ticket_id), self._on_acted)

    @Slot()
    def sign_off(self) -> FormDialog:
        """Ask for the signature."""
        assert self.desk is not None, "a ticket stands on the page"
        page = self.desk.page
        form = ticket_form(
            self._workplace, (self._ticket_id,), say("Sign ticket {number}", number=page.row.number),
            self.desk.signers, as_of=page.as_of, needs_second=page.needs_second, says=signature_words(self.desk),
        )  # fmt: skip
        return self._ask(form, self._on_signed)

    @Slot(object)
    def _on_fitted(self, done: object) -> None:
        self._on_acted(done)
        if isinstance(done, Fitted):
            tests = say(" The release tests must follow.") if done.opening == OpeningKind.WORKSHOP else ""
            unknown = say(" Not known: {warnings}.", warnings=strung("; ", done.warnings)) if done.warnings else ""
            self.banner.say_note(
                say(
                    "{part} sits in {slot}.{tests}{unknown}",
                    part=done.part,
                    slot=done.slot,
                    tests=tests,
                    unknown=unknown,
                )
            )

    @Slot(object)
    def _on_signed(self, digest: object) -> None:
        self._on_acted(digest)
        if self._number is not None:
            self.signed.emit(self._number)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wide = event.size().width() >= WIDE_FROM
        self._columns.setDirection(QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.TopToBottom)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        focused = self.focusWidget()
        if event.key() in ENTER and isinstance(focused, QPushButton):
            focused.click()
            return
        word = KEYS.get(key_of(event), KEYS.get(event.text())) if self.desk is not None and self.desk.is_open else None
        if word in ("bench", "calibrate"):
            self._on_elsewhere(word)
            return
        if word is not None:
            self._on_wanted(word)
            return
        super().keyPressEvent(event)


def _loaded(workplace: Workplace, number: str, known: frozenset[str]) -> tuple[TicketDesk, dict[str, QImage]]:
    """The ticket, and its photographs that are not known yet, decoded off the GUI thread."""
    desk = ticket_desk(workplace, number)
    wanted = [each.sha256 for each in desk.page.photographs if each.sha256 not in known]
    return desk, {digest: QImage.fromData(data) for digest, data in pictures_of(workplace, wanted).items()}


def ticket_writer(workplace: Workplace, number: str) -> Callable[[Path], object]:
    """What writes a ticket as PDF into a file."""

    def write(path: Path) -> None:
        # reportlab is slow to import; only printing waits for it
        from fleetbench.printing import print_ticket

        print_ticket(workplace, ticket_page(workplace, number), path)

    return write


def list_page(context: PageContext) -> TicketWorkPage:
    """The page that opens a new ticket."""
    return TicketWorkPage(context.theme, context.background, context.workplace, context.zone)


def record_page(context: PageContext) -> TicketWorkPage:
    """The page on which one ticket is worked."""
    return list_page(context)

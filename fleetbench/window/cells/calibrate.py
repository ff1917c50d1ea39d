"""The page on which the cells of one unit are calibrated: steps from top to bottom, by keyboard alone if wanted."""

from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.bench.half_done import SESSION_LASTS
from fleetbench.calc.cells.readings import CellPoint
from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.core.errors import Refused
from fleetbench.window.cells.flush import NEW_KEY, SAME_KEY
from fleetbench.window.cells.session import SessionForm
from fleetbench.window.cells.sheet import WAITING, CalibrationSheet
from fleetbench.window.cells.words import unit_words
from fleetbench.window.forms.fields import settle_all
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.forms.form import KEEP
from fleetbench.window.forms.photographs import PHOTOGRAPH_KEY, PHOTOGRAPH_WORDS, PhotographBeside
from fleetbench.window.lists.act_bar import ActSpec
from fleetbench.window.look.buttons import Banner, plain_button, put_hint, quiet_button, text_label
from fleetbench.window.look.theme import APART, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page, PageContext, drafts_of
from fleetbench.window.shell.place import HALF_DONE, PageKey
from fleetbench.workshop.bench.sessions import (
    PRESSURE_MOVES_MBAR,
    Equipment,
    LastConditions,
    SessionFacts,
    bench_equipment,
    end_session,
    last_conditions,
    open_session,
    past_session,
)
from fleetbench.workshop.cells.calibrate import Preview, Recorded, correct, plan, preview, record, recorded_entry
from fleetbench.workshop.cells.calibration_log import read_log, read_table
from fleetbench.workshop.cells.entry import CalibrationEntry, as_content, from_content
from fleetbench.workshop.cells.plan import CalibrationPlan
from fleetbench.workshop.core.drafts import Draft, Drafts
from fleetbench.workshop.core.workplace import Workplace

READ_FIRST = say("Read the outcome, then record it.")
FLUSH_KEYS = say(
    "Key {new_key} starts the flush or clears for new figures, {same_key} stamps that no digit changed.",
    new_key=NEW_KEY,
    same_key=SAME_KEY,
)
TORN_DRAFT = say("draft: cannot be read; discard it and start again")


Entered = tuple[CalibrationEntry, datetime | None, bool]
"""What was entered, when the flush began, and whether oxygen is taken before every cell has settled."""


@dataclass(frozen=True, slots=True)
class CalibrationStart:
    """What the page loads of a unit. read_under: the conditions in which the readings of its draft were taken."""

    held: CalibrationPlan
    equipment: tuple[Equipment, ...]
    draft: Draft | None
    last: LastConditions
    read_under: SessionFacts | None = None


ACTS = (
    ActSpec("record", "Record", "Ctrl+Return", "record", "calibrate"),
    ActSpec("correct", "Correct", "F4", act="correct calibration"),
    ActSpec("flush", "Start the flush, or clear for new figures", NEW_KEY),
    ActSpec("same", "No digit has changed", SAME_KEY),
    ActSpec("photograph", PHOTOGRAPH_WORDS, PHOTOGRAPH_KEY, act="add photograph"),
    ActSpec("paste", "Paste a photograph", "Ctrl+V", act="add photograph"),
)
"""What has a key of its own on this page."""


class CalibratePage(Page):
    """Takes a calibration from conditions to the record.

    Signals:
        finished: tag of the unit whose calibration was recorded.
        ticket_wanted: tag and reason, when a ticket is asked for after a cell holds the unit.
        previewed: the outcome of what stands on the page was worked out.
        opened: the unit's facts stand on the page.
    """

    finished = Signal(str)
    ticket_wanted = Signal(str, str)
    previewed = Signal()
    opened = Signal()

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        drafts: Drafts,
        zone: ZoneInfo,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, "Calibrate", parent)
        self._background, self._workplace, self._drafts, self._zone = background, workplace, drafts, zone
        self.sheet: CalibrationSheet | None = None
        self.recorded: Recorded | None = None
        self._draft: Draft | None = None
        self._correcting: int | None = None
        self._shown: CalibrationEntry | None = None
        self._misplaced: tuple[str, ...] = ()
        self._kept_places: CalibrationEntry | None = None
        self._wants_outcome = self._takes_up = False
        self._read_under: SessionFacts | None = None
        self._of_draft: SessionFacts | None = None
        self._loader, self._previewer, self._keeper = (Refresher(background, self) for _ in range(3))
        self._build()
        self._connect()

    def _build(self) -> None:
        self.tag_field = QLineEdit(self)
        put_hint(self.tag_field, worded("Unit: tag or scan"), whole=True)
        self.tag_field.setAccessibleName(worded("unit"))
        self.tag_field.setMaximumWidth(80 * GRID)
        self.photograph = PhotographBeside(self, self._background, self._workplace)
        self.heading.addWidget(self.tag_field)
        self._offer = QWidget(self)
        self._offer_words = text_label("", "body", self._offer)
        self.go_on_button = plain_button(self.theme, "Continue draft", "", self._offer)
        self.throw_button = quiet_button(self.theme, "Discard draft", "", self._offer)
        offer = QHBoxLayout(self._offer)
        offer.setContentsMargins(0, 0, 0, 0)
        offer.setSpacing(APART)
        for widget in (self._offer_words, self.go_on_button, self.throw_button):
            offer.addWidget(widget)
        offer.addStretch(1)
        self._offer.hide()
        self.question = Banner(self.theme, self)
        self._empty = text_label(say("Scan or type the tag of the unit to calibrate."), "body", self)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._body = QVBoxLayout()
        self._body.addWidget(self._empty, 1)
        self.content.addWidget(self._offer)
        self.content.addLayout(self._body, 1)
        self.content.addWidget(self.question)

    def _connect(self) -> None:
        self.tag_field.returnPressed.connect(self._on_tag)
        self.go_on_button.clicked.connect(self._on_go_on)
        self.throw_button.clicked.connect(self._on_throw)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self.banner.say_refused)
        self._previewer.loaded.connect(self._on_previewed)
        self._previewer.refused.connect(self._on_not_previewed)
        self._keeper.refused.connect(self.banner.say_refused)
        self.photograph.changed.connect(self._keep_draft)
        self._background.signed_in.changed.connect(self.refresh)  # a session is one person's

    def show_key(self, key: str) -> None:
        """Go on with the unit of that tag, in the conditions that hold now, or begin it."""
        if self.sheet is None or self.sheet.held.tag != key or self.recorded is not None:
            self.open_tag(key)
        elif self._correcting is None:
            self.refresh()

    def begin_at(self, place: PageKey) -> None:
        """Take up what was left half-done of the unit that is shown or on its way; other places lead away."""
        if place.page != HALF_DONE:
            super().begin_at(place)
        elif self._loader.is_loading:
            self._takes_up = True
        else:
            self._on_go_on()

    def open_tag(self, tag: str) -> None:
        """Load the unit with this tag and begin."""
        self._drop_sheet()
        self.recorded, self._correcting, self._read_under, self._takes_up = None, None, None, False
        self.photograph.offer()
        self.banner.clear()
        self.question.clear()
        self._load(tag)

    def refresh(self) -> None:
        """Load the unit's facts again; what was entered stays."""
        if self.sheet is not None:
            self._load(self.sheet.held.tag)

    def holds_entries(self) -> bool:
        """Whether readings stand on the page that are not recorded yet."""
        entered = self._entered() if self.sheet is not None and self.recorded is None else None
        begun = entered is not None and (bool(entered[0].figures) or entered[1] is not None)
        begun = begun or (self.recorded is None and bool(self.photograph.held))
        return begun or self._correcting is not None or super().holds_entries()

    def follow(self) -> None:
        """Load again since another desk wrote; what was just recorded stays in view."""
        if self.recorded is None:
            super().follow()

    def call_off(self) -> None:
        """Load nothing that was not begun; what was entered is on disk as a draft before the page is left."""
        self._loader.call_off()
        self._previewer.call_off()
        try:
            self._drafts.write()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))

    def focus_first(self) -> None:
        """Put the keyboard where the work goes on."""
        if self.sheet is None:
            self.tag_field.setFocus()
        else:
            self.sheet.go_on()

    # loading

    def _load(self, tag: str) -> None:
        workplace, drafts = self._workplace, self._drafts

        def load() -> CalibrationStart:
            held = plan(workplace, tag)
            draft = drafts.load(held.tag)
            under = _session_of(draft)
            return CalibrationStart(
                held, equipment=bench_equipment(workplace), draft=draft, last=last_conditions(workplace),
                read_under=past_session(workplace, under) if under is not None else None,
            )  # fmt: skip

        self._loader.ask(load)

    @Slot(object)
    def _on_loaded(self, opened: CalibrationStart) -> None:
        kept = self._entered() if self.recorded is None else None
        if kept is not None and self.sheet is not None:
            kept = self._still_valid(kept, self.sheet.held.session or self._read_under, opened.held.session)
        self._read_under = opened.held.session or (self._read_under if kept is not None else None)
        self._drop_sheet()
        self._empty.hide()
        self.set_title(say("Calibrate {tag}", tag=opened.held.tag))
        self.set_summary(unit_words(opened.held, self._zone))
        self.tag_field.clear()
        self.sheet = CalibrationSheet(
            self.theme, opened.held, opened.equipment, self._workplace.clock, self._zone, self
        )
        self.sheet.session.expect(opened.last)
        self._body.addWidget(self.sheet, 1)
        self._wire(self.sheet)
        if self.recorded is None and self._correcting is None:
            self.photograph.expect(self.photograph.held)
        if kept is not None:
            self.sheet.show_entry(*kept[:2], early=kept[2])
        else:
            self._of_draft = opened.read_under
            self._offer_draft(opened.draft)
        self.sheet.show()
        self.sheet.go_on()
        if self._takes_up:
            self._on_go_on()
        self._ask_preview()
        self.is_loaded = True
        self.opened.emit()

    def _still_valid(self, kept: Entered, before: SessionFacts | None, now: SessionFacts | None) -> Entered:
        """What was entered without the readings that were taken on another gas, at another pressure or too long ago."""
        entry = kept[0]
        if before is None or now is None or before.session_id == now.session_id or not entry.figures:
            return kept
        if now.started_at - before.holds_until >= SESSION_LASTS:
            when = f"{before.started_at.astimezone(self._zone):%Y-%m-%d %H:%M}"
            self.question.say_note(
                say("These readings belong to the conditions of {when}: take all of them again.", when=when)
            )
            return replace(entry, figures=()), None, False
        if abs(before.pressure_mbar - now.pressure_mbar) >= PRESSURE_MOVES_MBAR:
            self.question.say_note(say("The pressure moved: take all readings of this head again."))
            return replace(entry, figures=()), None, False
        if before.oxygen_shown_percent != now.oxygen_shown_percent:
            self.question.say_note(say("The gas changed: flush and take the oxygen point again."))
            return replace(entry, figures=entry.at_point("zero") + entry.at_point("air")), None, False
        return kept

    def _wire(self, sheet: CalibrationSheet) -> None:
        sheet.changed.connect(self._on_changed)
        sheet.said.connect(self._on_said)
        sheet.refused.connect(self.banner.say_refused)
        sheet.paste_wanted.connect(self._on_paste)
        sheet.log_wanted.connect(self._on_choose_log)
        sheet.session.open_requested.connect(self._on_open_session)
        sheet.session.end_button.clicked.connect(self._on_end_session)
        sheet.outcome.record_requested.connect(self.record)
        sheet.outcome.correct_requested.connect(self.correct)
        sheet.outcome.ticket_requested.connect(self._on_ticket)
        sheet.outcome.step_requested.connect(partial(self.action_requested.emit, "next_step"))
        sheet.outcome.next_requested.connect(self.tag_field.setFocus)

    def _drop_sheet(self) -> None:
        self._shown = None
        if self.sheet is not None:
            self._body.removeWidget(self.sheet)
            self.sheet.hide()
            self.sheet.deleteLater()
            self.sheet = None

    def _entered(self) -> Entered | None:
        """What was entered, to be shown again after a load."""
        if self.sheet is None:
            return None
        try:
            return self.sheet.entry(), self.sheet.flush.started_at, self.sheet.early
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return None

    # drafts

    def _offer_draft(self, draft: Draft | None) -> None:
        self._draft = draft
        self._offer.setVisible(draft is not None)
        if draft is not None:
            when = f"{draft.saved_at.astimezone(self._zone):%Y-%m-%d %H:%M}"
            self._offer_words.setText(
                worded(say("A calibration of this unit was left half-done on {when}.", when=when))
            )

    @Slot()
    def _on_go_on(self) -> None:
        draft, self._draft, self._takes_up = self._draft, None, False
        self._offer.hide()
        if draft is None or self.sheet is None:
            return
        try:
            entry = from_content(draft.content["entry"])
            started = draft.content.get("flush_started")
            begun = datetime.fromisoformat(started) if started else None
        except (Refused, KeyError, TypeError, ValueError):
            self.banner.say_refused(TORN_DRAFT)
            return
        taken = entry, begun, bool(draft.content.get("early"))
        self._read_under = self.sheet.held.session or self._of_draft
        self.photograph.expect((*self.photograph.held, *draft.content.get("photographs", ())))
        entry, begun, early = self._still_valid(taken, self._of_draft, self.sheet.held.session)
        self.sheet.show_entry(entry, begun, early=early)
        self._on_changed()
        self.sheet.go_on()

    @Slot()
    def _on_throw(self) -> None:
        self._draft = None
        self._offer.hide()
        self._drop_draft()
        self.focus_first()

    def _drop_draft(self) -> None:
        if self.sheet is not None:
            self._drafts.later(self.sheet.held.tag, None, self._workplace.clock())
            self._keeper.ask(self._drafts.write)

    def _keep_draft(self) -> None:
        # While a draft waits to be taken up, nothing may be written over it; and a correction is no draft.
        free = self.recorded is None and self._draft is None and self._correcting is None
        entered = self._entered() if free else None
        if entered is None:
            return
        entry, started, early = entered
        assert self.sheet is not None, "what was entered stands on it"
        content = {
            "entry": as_content(entry),
            "flush_started": started.isoformat() if started is not None else None,
            "early": early,
            "photographs": list(self.photograph.held),
            **self.sheet.flush_content(),
        }
        self._drafts.later(entry.tag, content, self._workplace.clock())
        self._keeper.ask(self._drafts.write)

    # session

    @Slot()
    def _on_end_session(self) -> None:
        bench = self.sheet.held.session if self.sheet is not None else None
        if bench is not None:
            job = self._background.run(partial(end_session, self._workplace, bench.session_id), self)
            job.succeeded.connect(self._on_session_opened)
            job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_open_session(self, form: SessionForm) -> None:
        workplace = self._workplace

        def work() -> int:
            return open_session(
                workplace,
                pressure_mbar=form.pressure_mbar,
                temperature_c=form.temperature_c,
                humidity_percent=form.humidity_percent,
                oxygen_shown_percent=form.oxygen_shown_percent,
                analyser_id=form.analyser_id,
                barometer_id=form.barometer_id,
                hygrometer_id=form.hygrometer_id,
            )

        job = self._background.run(work, self)
        job.succeeded.connect(self._on_session_opened)
        job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_session_opened(self, _session_id: object) -> None:
        self.banner.clear()
        if self.sheet is not None:
            self.sheet.paper = None
        self.refresh()

    # judging

    @Slot()
    def _on_changed(self) -> None:
        if self._shown is not None and self.sheet is not None:
            now = self._entered()
            if now is None or _judged_part(now[0]) != self._shown:
                self._shown = None
                self.sheet.show_unjudged()
        self._keep_draft()
        self._ask_preview()

    @Slot(str)
    def _on_said(self, line: str) -> None:
        if line:
            self.question.say_note(line)
        else:
            self.question.clear()

    def _ask_preview(self) -> None:
        if self.sheet is None or not self.sheet.can_be_judged:
            if self.sheet is not None:
                self.sheet.outcome.say_waiting(WAITING)
            return
        entered = self._entered()
        if entered is not None:
            workplace, entry = self._workplace, entered[0]
            self._previewer.ask(lambda: (entry, preview(workplace, entry)))

    @Slot(object)
    def _on_previewed(self, found: tuple[CalibrationEntry, Preview]) -> None:
        entry, seen = found
        if self.sheet is None or self.sheet.held.tag != entry.tag:
            return
        now = self._entered()
        if now is None or _judged_part(now[0]) != _judged_part(entry):
            # What was judged is not what stands on the page any more; the newer readings are on their way.
            self._ask_preview()
            return
        if self._correcting is not None:
            self.banner.take_back_refusal()
        elif self.recorded is None:
            self.banner.clear()
        shown = self.sheet.show_preview(seen, whole=self._wants_outcome)
        self._shown = _judged_part(entry) if shown else None
        self._misplaced = seen.misplaced
        if self.sheet.flush.started_at is not None:
            self._keep_draft()  # whether every cell has settled is told while the page is left
        if self._shown is not None and self._wants_outcome:
            self.banner.say_note(READ_FIRST)
        self._wants_outcome = False
        self.previewed.emit()

    @Slot(str)
    def _on_not_previewed(self, line: str) -> None:
        self.banner.say_refused(line)
        if self.sheet is not None:
            self.sheet.outcome.say_waiting(line)
        self.previewed.emit()

    # recording

    @Slot()
    def record(self) -> None:
        """Record what stands on the page, or correct the recorded one with it.

        Only what was judged with its outcome on the page is recorded; else the outcome is shown first.
        """
        sheet = self.sheet
        if sheet is None or (self.recorded is not None and self._correcting is None):
            return
        why_not = sheet.why_not_recordable()
        if why_not:
            self.banner.say_refused(why_not)
            return
        try:
            self.photograph.require_settled()
            settle_all(sheet)
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        entered = self._entered()
        if entered is None:
            return
        workplace, entry, correcting = self._workplace, entered[0], self._correcting
        if _judged_part(entry) != self._shown:
            self._wants_outcome = True
            self._ask_preview()
            return
        if self._misplaced and correcting is None and self._kept_places != self._shown:
            self._kept_places = self._shown
            self.banner.say_refused(strung(" ", (*self._misplaced, KEEP)))
            return
        sheet.outcome.record_button.setEnabled(False)
        if correcting is None:
            job = self._background.run(partial(record, workplace, entry, self.photograph.held), self)
        else:
            job = self._background.run(lambda: correct(workplace, correcting, entry), self)
        job.succeeded.connect(self._on_recorded)
        job.refused.connect(self.banner.say_refused)
        job.ended.connect(self._on_record_ended)

    @Slot(object)
    def _on_recorded(self, done: Recorded) -> None:
        sheet = self.sheet
        self.recorded, self._correcting = done, None
        if sheet is None:
            return
        self._drop_draft()
        sheet.lock(True)
        sheet.outcome.show_outcome(done.outcome)
        sheet.outcome.show_recorded(True, done.ticket_reason is not None)
        self.photograph.offer("calibration", done.calibration_id)
        until = f"{done.correct_until.astimezone(self._zone):%H:%M}"
        holds = say("A cell holds the unit until it is calibrated again. ") if done.ticket_reason is not None else ""
        words = say(
            "Recorded: {value}. {holds}F4 corrects a typing error until {until}.",
            value=done.outcome.worst.value,
            holds=holds,
            until=until,
        )
        self.banner.say_recorded(words, rejected=done.outcome.worst is Verdict.REJECT)
        sheet.show_outcome_step()
        self.finished.emit(done.tag)

    @Slot()
    def _on_record_ended(self) -> None:
        if self.sheet is not None:
            self.sheet.outcome.record_button.setEnabled(True)

    @Slot()
    def correct(self) -> None:
        """Open what was just recorded for a correction, or what was recorded of this unit within ten minutes."""
        if self.sheet is None or self._correcting is not None:
            return
        workplace, last = self._workplace, self.sheet.held.last_id
        if self.recorded is not None:
            self._begin_correction(self.recorded.calibration_id)
        elif last is None:
            self.banner.say_refused(say("calibration: none of this unit is recorded; there is nothing to correct"))
        else:
            job = self._background.run(lambda: (last, recorded_entry(workplace, last)), self)
            job.succeeded.connect(self._on_reopened)
            job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_reopened(self, found: tuple[int, CalibrationEntry]) -> None:
        calibration_id, entry = found
        if self.sheet is None or self.sheet.held.tag != entry.tag:
            return
        if entry.session_id is None:
            self.banner.say_refused(say("calibration: it was entered from a paper record; enter that again"))
            return
        self.sheet.show_entry(entry, None, early=entry.settled == "no")
        self._begin_correction(calibration_id)
        # What is judged for the first time leads the keyboard on to the outcome.
        self.previewed.connect(self._to_oxygen, Qt.ConnectionType.SingleShotConnection)
        self._on_changed()

    def _begin_correction(self, calibration_id: int) -> None:
        assert self.sheet is not None, "a unit stands on the page"
        self._correcting = calibration_id
        self.photograph.offer("calibration", calibration_id)
        self.sheet.lock(False)
        self.sheet.outcome.show_recorded(False, False)
        self.banner.say_note(say("Change what was mistyped, then record: the new record replaces the old one."))
        self._to_oxygen()

    def _to_oxygen(self) -> None:
        """Put the keyboard where a correction most often begins."""
        first = self.sheet.first_oxygen_field() if self.sheet is not None else None
        if first is not None:
            first.setFocus()

    @Slot()
    def _on_ticket(self) -> None:
        if self.recorded is not None and self.recorded.ticket_reason is not None:
            self.ticket_wanted.emit(self.recorded.tag, self.recorded.ticket_reason)

    @Slot()
    def _on_tag(self) -> None:
        tag = self.tag_field.text().strip()
        if tag:
            self.open_tag(tag)

    # readings that are not typed

    @Slot(str)
    def _on_paste(self, point: str) -> None:
        sheet = self.sheet
        if sheet is None:
            return
        if QGuiApplication.clipboard().mimeData().hasImage():
            self.photograph.paste()
            return
        if not (sheet.air if point == CellPoint.AIR else sheet.oxygen).isEnabled():
            self.banner.say_refused(say("table: this step is not open yet; finish the steps above it first"))
            return
        try:
            sheet.take_table(point, read_table(sheet.held, point, QGuiApplication.clipboard().text()))
        except Refused as refusal:
            self.banner.say_refused(str(refusal))

    @Slot()
    def _on_choose_log(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, worded("Read a log"), "", "Logs (*.csv *.txt);;All files (*)")
        if chosen:
            self.read_log_file(Path(chosen))

    def read_log_file(self, path: Path) -> None:
        """Take a logger's file with the columns time, handset, cell, mV."""
        sheet = self.sheet
        if sheet is None:
            return
        try:
            sheet.take_log(read_log(sheet.held, path.read_text(encoding="utf-8-sig")), self._workplace.clock())
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
        except (OSError, UnicodeDecodeError) as fault:
            kind = type(fault).__name__
            self.banner.say_refused(
                say("log: {path} cannot be read as text ({kind}); choose another", path=path.name, kind=kind)
            )

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        flush = self.sheet.flush if self.sheet is not None else None
        if flush is not None and event.text() == SAME_KEY and flush.same_button.isEnabled():
            flush.stamp_same()
        elif flush is not None and event.text() == NEW_KEY and flush.start_button.isEnabled():
            flush.stamp_new()
        elif event.key() == Qt.Key.Key_F4:
            self.correct()
        elif event.key() in ENTER and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.record()
        elif event.key() in ENTER and isinstance(self.focusWidget(), QPushButton):
            self._on_enter(self.focusWidget(), again=event.isAutoRepeat())
        else:
            super().keyPressEvent(event)

    def _on_enter(self, button: QWidget, *, again: bool) -> None:
        """Enter presses the button, but starts no clock, and records no outcome that nobody can have read yet."""
        assert isinstance(button, QPushButton)
        sheet = self.sheet
        if again:
            return
        if sheet is not None and button in sheet.flush.clock_buttons:
            self.question.say_note(FLUSH_KEYS)
        elif sheet is not None and button is sheet.outcome.record_button and sheet.outcome.is_fresh:
            self.question.say_note(READ_FIRST)
        else:
            button.click()


def _judged_part(entry: CalibrationEntry) -> CalibrationEntry:
    """What an outcome is worked out of: everything but the note and what was set in the handsets themselves."""
    return replace(entry, note=None, handsets=())


def _session_of(draft: Draft | None) -> int | None:
    """The session in which the readings of a draft were taken; None of a paper record, or where it is torn."""
    entry = draft.content.get("entry") if draft is not None else None
    found = entry.get("session_id") if isinstance(entry, dict) else None
    return found if isinstance(found, int) else None


def list_page(context: PageContext) -> CalibratePage:
    """The page that asks which unit to calibrate; half-done work is kept beside the records or the settings."""
    return CalibratePage(
        context.theme, context.background, context.workplace, drafts_of(context.workplace), context.zone
    )


def record_page(context: PageContext) -> CalibratePage:
    """The page that calibrates one unit."""
    return list_page(context)

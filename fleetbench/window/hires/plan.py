"""Plan: which unit serves which booking, and when each goes to the bench, as changes to accept or leave."""

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QSplitter, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, say_count, strung, worded
from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.export_row import DayField, ExportRow
from fleetbench.window.detail.view import DetailView
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.hires.list import SIBLINGS
from fleetbench.window.hires.plan_changes import ChangesModel, ChangesTable
from fleetbench.window.hires.sell import accept_form, accepted, undo_plan_form, undone_words
from fleetbench.window.lists.act_bar import ActSpec
from fleetbench.window.look.buttons import lead_button, put_hint, quiet_button, text_label
from fleetbench.window.look.marks import ADVISE, OK, STOP, mark_for
from fleetbench.window.look.theme import CLOSE, GRID, text_width
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Progress, Refresher
from fleetbench.window.shell.pages import Page, PageContext, offer_siblings
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.hires.plan import (
    HORIZON,
    BenchVisit,
    PlanPage,
    make_plan,
    set_bench_hours,
)
from fleetbench.workshop.hires.sold import AcceptedPlan, Undone, last_plan, look_before_accepting

HOW = say(
    "The plan gives units to bookings and work to bench days: first as few unmet as can be, "
    "then least late, then least remaining life lost, then fewest changes. It is never worse "
    "than first come, first served. Nothing is changed before you accept it."
)
WAYS_TOLD = 6
"""So many ways to cure an unmet booking are told; the best stand first."""


def list_page(context: PageContext) -> "PlanView":
    """The page that makes a plan."""
    return PlanView(context)


ACTS = (ActSpec("make", "Make the plan", "Shift+F5"), ActSpec("undo", "Undo plan", act="undo plan"))
"""What has a key of its own on this page."""


class PlanView(Page):
    """Makes a plan off the GUI thread, shows it as changes to tick, and accepts what is ticked in one act."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, "Plan", parent)
        self._background, self._workplace = context.background, context.workplace
        self.page: PlanPage | None = None
        self.dialog: FormDialog | None = None
        self.is_loaded = True
        self.seconds = 20.0
        offer_siblings(self, "Plan", SIBLINGS)
        self.exports = ExportRow(context.theme, context.background, "bench-day", (".pdf",), self._bench_day, self)
        self._build()
        self._last = Refresher(context.background, self)
        self._last.loaded.connect(self._on_last)
        self._plan_code: str | None = None
        self._connect()
        self._show_state()

    def refresh(self) -> None:
        """Ask whether a plan can be undone; the plan on the page stays."""
        workplace = self._workplace
        self._last.ask(lambda: last_plan(workplace))

    def _build(self) -> None:
        self.days_field, self.hours_field = DecimalField("days", self), DecimalField("bench hours a day", self)
        self.days_field.setText(str(HORIZON))
        put_hint(self.hours_field, worded("the centre's"))
        self.hours_field.setMaximumWidth(text_width("the centre's") + 8 * GRID)
        self.make_button = lead_button(self.theme, ACTS[0].text, "", self)
        self.keep_button = quiet_button(self.theme, "Save bench hours", "", self)
        self.keep_button.setToolTip(worded("The centre's bench hours a day, for every later plan"))
        self.work = LongWork(self.theme, self._background, self.banner, self)
        tools = QHBoxLayout()
        tools.setSpacing(CLOSE)
        for words, field in ((say("Days"), self.days_field), (say("Bench hours a day"), self.hours_field)):
            tools.addWidget(text_label(worded(words), "label", self))
            tools.addWidget(field)
        for widget in (self.keep_button, self.make_button, self.work):
            tools.addWidget(widget)
        tools.addStretch(1)
        self.content.addLayout(tools)
        self.day_field = DayField(say("bench day"), self._workplace.today(), self)
        paper = QHBoxLayout()
        paper.setSpacing(CLOSE)
        paper.addWidget(text_label(say("Bench day by technician"), "label", self))
        paper.addWidget(self.day_field)
        paper.addWidget(self.exports, 1)
        self.content.addLayout(paper)
        self.content.addWidget(self._made_body(), 1)

    def _made_body(self) -> QWidget:
        self.model = ChangesModel(self)
        self.table = ChangesTable(self.model, self)
        self.accept_button = lead_button(self.theme, "Accept", "", self)
        self.undo_button = quiet_button(self.theme, ACTS[1].text, "", self)
        self.undo_button.setToolTip(worded("Take back the plan that was accepted last, in one act"))
        left = QWidget(self)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(CLOSE)
        column.addWidget(text_label(say("Changes to bookings: Space ticks, A all, N none"), "label", left))
        column.addWidget(self.table, 1)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        feet.addWidget(self.accept_button)
        feet.addWidget(self.undo_button)
        feet.addStretch(1)
        column.addLayout(feet)
        self.detail = DetailView(self.theme, HOW, self)
        body = QSplitter(Qt.Orientation.Horizontal, self)
        body.addWidget(left)
        body.addWidget(self.detail)
        body.setChildrenCollapsible(False)
        body.setHandleWidth(CLOSE)
        body.setSizes([600, 500])
        return body

    def _connect(self) -> None:
        self.make_button.clicked.connect(self.make)
        self.work.changed.connect(self._show_state)
        self.accept_button.clicked.connect(self.accept)
        self.undo_button.clicked.connect(self.undo)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)
        self.keep_button.clicked.connect(self.keep_hours)
        self.model.ticked.connect(self._on_ticked)
        self.detail.place_requested.connect(self.place_requested)
        shortcut = QShortcut(QKeySequence(ACTS[0].key), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(self.make)

    # what a page can do

    def focus_first(self) -> None:
        """Put the keyboard on the act."""
        (self.table if self.page is not None else self.make_button).setFocus()

    @Slot()
    def make(self) -> None:
        """Make the plan, with progress; it can be called off."""
        try:
            days, hours = _whole("days", self.days_field), self.hours_field.value()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        workplace, seconds = self._workplace, self.seconds

        def work(progress: Progress) -> PlanPage:
            return make_plan(workplace, days=days, bench_hours=hours, seconds=seconds, told=progress.share)

        self.work.start(work, self._on_made)

    @Slot()
    def accept(self) -> None:
        """Accept what is ticked, in one act; what is not fit of it is told first, and a manager decides."""
        workplace, changes, visits = self._workplace, self.model.chosen(), self._visits()
        self.accept_button.setEnabled(False)
        job = self._background.run(lambda: look_before_accepting(workplace, changes, visits), self)
        job.succeeded.connect(self._on_looked)
        job.refused.connect(self.banner.say_refused)
        job.ended.connect(self._show_state)

    @Slot(object)
    def _on_looked(self, look: tuple[str, ...]) -> None:
        workplace, changes, visits = self._workplace, self.model.chosen(), self._visits()
        days = self.page.days if self.page is not None else HORIZON
        if look:
            form = accept_form(workplace, changes, visits, days, look)
            self.dialog = FormDialog(self.theme, self._background, form, self.window())
            self.dialog.done_with.connect(self._on_accepted)
            self.dialog.open()
            return
        job = self._background.run(lambda: accepted(workplace, changes, visits, days), self)
        job.succeeded.connect(self._on_accepted)
        job.refused.connect(self.banner.say_refused)
        job.ended.connect(self._show_state)

    def _bench_day(self) -> Callable[[Path], object]:
        workplace, on = self._workplace, self.day_field.day

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.printing import print_bench_day

            print_bench_day(workplace, on, path)

        return write

    def _visits(self) -> tuple[BenchVisit, ...]:
        return self.page.visits if self.page is not None else ()

    @Slot()
    def undo(self) -> None:
        """Ask why the plan that was accepted last is taken back, and take it back in one act."""
        if self._plan_code is None:
            return
        form = undo_plan_form(self._workplace, self._plan_code)
        self.dialog = FormDialog(self.theme, self._background, form, self.window())
        self.dialog.done_with.connect(self._on_undone)
        self.dialog.open()

    @Slot()
    def keep_hours(self) -> None:
        """Keep the bench hours for every later plan."""
        try:
            hours = self.hours_field.value()
            if hours is None:
                raise Refused(say("bench hours a day: is empty; enter the working hours a day"))
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        workplace = self._workplace
        job = self._background.run(lambda: set_bench_hours(workplace, hours), self)
        job.succeeded.connect(self._on_kept)
        job.refused.connect(self.banner.say_refused)

    # what came of it

    @Slot(object)
    def _on_made(self, page: PlanPage) -> None:
        self.page = page
        self.table.hint = no_changes_words(page)
        self.model.show_changes(page.changes)
        self.detail.show_detail(plan_detail(page))
        self.set_summary(sum_up(page))
        self.table.setFocus()
        if page.changes:
            self.table.setCurrentIndex(self.model.index(0, 0))

    @Slot(object)
    def _on_accepted(self, done: tuple[AcceptedPlan, tuple[str, ...]]) -> None:
        codes, tickets, unmet = done[0].codes, done[0].tickets, done[1]
        left = (
            say("{count} unmet, named beside.", count=counted(len(unmet), "promise"))
            if unmet
            else say("Nothing is unmet.")
        )
        changed = (
            say("{count} changed: {codes}.", count=counted(len(codes), "booking"), codes=strung(", ", codes))
            if codes
            else say("No booking changed.")
        )
        opened = say("Tickets {tickets} are open.", tickets=strung(", ", tickets)) if tickets else ""
        ordered = say("On order: {ordered}.", ordered=strung("; ", done[0].ordered)) if done[0].ordered else ""
        self.banner.say_note(strung(" ", filter(None, (changed, opened, ordered, left))))
        self.refresh()
        self.table.hint = say("Accepted. Make the plan again to see what is left.")
        self.model.show_changes(())
        self.page = None
        self.detail.show_detail(accepted_detail(codes, unmet))
        self.set_summary(say("accepted; make it again to see what is left"))

    @Slot(object)
    def _on_undone(self, done: Undone) -> None:
        self.banner.say_note(undone_words(None, done))
        self.table.hint = say("Undone. Make the plan again.")
        self.page = None
        self.model.show_changes(())
        self.detail.show_nothing()
        self.refresh()

    @Slot(object)
    def _on_last(self, code: str | None) -> None:
        self._plan_code = code
        self._show_state()

    @Slot(object)
    def _on_kept(self, _nothing: object) -> None:
        self.banner.say_note(say("Saved as the centre's bench hours a day."))

    @Slot(int)
    def _on_ticked(self, _count: int) -> None:
        self._show_state()

    @Slot()
    def _show_state(self) -> None:
        busy = self.work.is_busy
        chosen = len(self.model.chosen())
        self.make_button.setVisible(not busy)
        if busy and not self.table.hasFocus():
            self.work.cancel_button.setFocus()
        alone = say("Accept bench work") if self._visits() else say("Accept")
        self.accept_button.setText(
            worded(say("Accept {chosen}", chosen=counted(chosen, "change"))) if chosen else worded(alone)
        )
        self.accept_button.setEnabled((chosen > 0 or bool(self._visits())) and not busy)
        self.undo_button.setText(
            worded(say("Undo plan {plan_code}", plan_code=self._plan_code)) if self._plan_code else worded(ACTS[1].text)
        )
        self.undo_button.setEnabled(self._plan_code is not None and not busy)


def _whole(name: str, field: QLineEdit) -> int:
    text = field.text().strip()
    if not text.isdecimal():
        raise Refused(say("{name}: {text!r}; enter a whole number", name=name, text=text))
    return int(text)


def no_changes_words(page: PlanPage) -> str:
    """What an empty list of changes means: with bookings unmet, that no change of units cures them."""
    if not page.unmet:
        return say("No changes: every booking has its units as it is promised now.")
    unmet = strung(", ", (each.code for each in page.unmet))
    return say("No changes of units help. Unmet: {unmet}. What would cure it stands beside.", unmet=unmet)


def sum_up(page: PlanPage) -> str:
    """'17 of 22 bookings met; 8 units unmet, and no plan has fewer'."""
    unmet, bound = page.plan.score.unmet, page.plan.bound
    if not unmet:
        tail = say("none unmet")
    elif unmet == bound.unmet:
        tail = say("{unmet} unmet, and no plan has fewer", unmet=counted(unmet, "unit"))
    else:
        tail = say("{unmet} unmet, no plan has fewer than {unmet_2}", unmet=counted(unmet, "unit"), unmet_2=bound.unmet)
    return say(
        "{bookings_met} of {bookings} bookings met; {tail}",
        bookings_met=page.bookings_met,
        bookings=page.bookings,
        tail=tail,
    )


def plan_detail(page: PlanPage) -> Detail:
    """What is unmet and why, the bench days, what to order, and the figures beside first come, first served."""
    return Detail(
        say("Plan for {days} days from {today}", days=page.days, today=page.today),
        say(
            "{bench_hours:g} h at the bench a day ({bench_source})",
            bench_hours=page.bench_hours,
            bench_source=page.bench_source,
        ),
        (STOP.worded(say_count("{count} booking unmet", "{count} bookings unmet", len(page.unmet))),)
        if page.unmet
        else (OK.worded("all met"),),
        (_unmet(page), _visits(page), *_notes(page), _figures(page)),
    )


def accepted_detail(codes: Sequence[str], unmet: Sequence[str]) -> Detail:
    """What is unmet after the accepted changes, each booking in words."""
    facts = tuple(Fact("", each) for each in unmet) or (Fact("", say("Every booking has fit units.")),)
    mark = (
        STOP.worded(say_count("{count} promise unmet", "{count} promises unmet", len(unmet)))
        if unmet
        else OK.worded("all met")
    )
    return Detail(
        "Accepted", say("{count} changed", count=counted(len(codes), "booking")), (mark,), (Section("Unmet", facts),)
    )


def _unmet(page: PlanPage) -> Table:
    lines = []
    for each in page.unmet:
        lacks = say("lacks {missing} from {first}", missing=counted(each.missing, "unit"), first=each.first.isoformat())
        lines.append(Line((each.code, lacks), STOP, PageKey("hires", each.code)))
        lines += [Line(("", way)) for way in each.ways[:WAYS_TOLD]]
    return Table(
        "Unmet, and what would cure it",
        ("Booking", "Each line is a way by itself, the best first"),
        tuple(lines),
        "Every booking has its units.",
        mark_column=0,
        column=0,
    )


def _visits(page: PlanPage) -> Table:
    return Table(
        "Bench days",
        ("Ready by", "Unit", "Minutes", "Work"),
        tuple(
            Line(
                (
                    each.ready_on.isoformat(),
                    each.tag,
                    f"{each.minutes:.0f}",
                    _work_words(each),
                ),
                ADVISE if each.late else mark_for("ready"),
                PageKey("units", each.tag),
            )
            for each in page.visits
        ),
        "No unit needs the bench.",
        mark_column=1,
        column=0,
    )


def _work_words(visit: BenchVisit) -> str:
    late = (say("{late} late", late=counted(visit.late, "day")),) if visit.late else ()
    parts = (say("parts to pick: {parts}", parts=strung(", ", visit.parts)),) if visit.parts else ()
    return strung("; ", (strung(", ", visit.work), *parts, *late))


def _notes(page: PlanPage) -> tuple[Section, ...]:
    listed = (
        (say("Order today"), page.orders),
        (say("Would have to give up a unit"), page.gives_up),
        (say("Left out"), page.left_out),
    )
    return tuple(Section(title, tuple(Fact("", each) for each in lines)) for title, lines in listed if lines)


def _figures(page: PlanPage) -> Table:
    made, first = page.plan.score, page.plan.first_come
    bound = str(page.plan.bound.unmet)
    bound = bound if page.plan.bound.proved else say("{bound}, by counting only", bound=bound)
    rows = (
        (say("Units unmet; no plan has fewer than {bound}", bound=bound), made.unmet, first.unmet),
        (say("Days late, all work"), made.late, first.late),
        (say("Remaining life lost (days)"), made.thrown, first.thrown),
        (say("Promises changed"), made.changes, first.changes),
    )
    return Table(
        "Beside first come, first served",
        ("What", "This plan", "First come"),
        tuple(Line((name, str(one), str(other))) for name, one, other in rows),
        column=0,
    )

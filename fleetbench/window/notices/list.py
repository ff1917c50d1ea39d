"""Notices: each with the units on which it is not done; a lot recalled in one act; one notice with all it touched."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QDialog, QPushButton, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Weight
from fleetbench.window.detail.detail import ACROSS, Detail, Fact, Line, Section, Table
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.due.page import SIBLINGS
from fleetbench.window.forms.form import Form
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.marks import ADVISE, HOLD, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.words import NONE, counted, day, said
from fleetbench.window.notices.acts import done_form, hold_form, notice_form, recall_form
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.notices.acts import (
    DoneLine,
    NoticeAnswer,
    NoticePage,
    NoticeRow,
    list_notices,
    notice_page,
)
from fleetbench.workshop.notices.touched import TouchedHire

EMPTY = Emptiness(
    "No notice is recorded",
    "A lot can be recalled here when a maker, or your own readings, speak against it.",
    "fault",
    "enter",
    "Enter a notice",
)


def list_page(context: PageContext) -> "NoticeList":
    """The list of notices."""
    return NoticeList(context)


def record_page(context: PageContext) -> RecordPage:
    """The page of one notice, by its number."""
    return NoticeRecordPage(context)


def held_words(_row: object, answer: NoticeAnswer) -> str:
    """'Notice N-7 touches 3 units and 9 parts; 12 holds were placed.'."""
    units, parts, holds = len(answer.touched.units), len(answer.touched.parts), len(answer.holds)
    placed = say("; {holds} placed", holds=counted(holds, "hold")) if holds else ""
    told = len(answer.touched.units_before)
    before = say(" {told} carried it before: listed, not stopped.", told=counted(told, "unit")) if told else ""
    return say(
        "Notice {number} touches {units} and {parts}{placed}.{before}",
        number=answer.number,
        units=counted(units, "unit"),
        parts=counted(parts, "part"),
        placed=placed,
        before=before,
    )


def _leading_to_it(bar: ActBar, form: Form) -> QDialog:
    dialog = FormDialog(bar.context.theme, bar.context.background, form, bar.window())
    dialog.done_with.connect(partial(_go_to, bar))
    return dialog


def _go_to(bar: ActBar, answer: NoticeAnswer) -> None:
    bar.place_requested.emit(PageKey("notices", answer.number))


def _enter(bar: ActBar, _row: object) -> QDialog:
    return _leading_to_it(
        bar, notice_form(bar.workplace, bar.context.theme, bar.workplace.clock().astimezone(bar.context.zone).date())
    )


ACTS = (
    ActSpec("enter", "Enter a notice", "N", "add", "record notice", at_any_time, _enter, held_words),
    ActSpec("recall", "Recall a lot", "Shift+H", "recall", "record notice", at_any_time,
            lambda bar, _row: _leading_to_it(bar, recall_form(bar.workplace)), held_words),
    ActSpec("done", "Done on a unit", "F8", "done", "notice done", lambda row: row is not None and bool(row.not_done),
            lambda bar, row: done_form(bar.workplace, row.notice.number, row.notice.action, row.not_done),
            lambda row, _keys: say("Notice {number} is done on that unit.", number=row.notice.number)),
    ActSpec("hold", "Hold what it touches", "Q", "hold", "hold for notice",
            form=lambda bar, row: hold_form(bar.workplace, row.notice.number), said=held_words),
)  # fmt: skip


class NoticeList(ActList[NoticeRow]):
    """The list page with its acts above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)
        self.exports = ExportRow(context.theme, context.background, "notices", (".pdf",), self._writer, self)
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    def _writer(self) -> Callable[[Path], object]:
        workplace = self.context.workplace

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.printing import print_notices

            print_notices(workplace, path)

        return write


class NoticeRecordPage(RecordPage):
    """One notice with everything that it touched, and the page of it to print."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        def load(key: str) -> Detail:
            return notice_detail(notice_page(context.workplace, key), context.zone)

        super().__init__(context.theme, context.background, load, parent)
        self._workplace = context.workplace
        self.exports = ExportRow(context.theme, context.background, "notice", (".pdf",), self._writer, self)
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    @property
    def print_button(self) -> QPushButton:
        """The button that prints it."""
        return self.exports.buttons["print"]

    def _writer(self) -> Callable[[Path], object]:
        workplace, number = self._workplace, self.key or ""

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.printing import print_recall

            print_recall(workplace, number, path)

        return write


STATE_WORDS = {"quarantine": say("set aside")}


def state_of(row: NoticeRow) -> Mark:
    """Whether something is left to do, by weight."""
    if not row.not_done:
        return mark_for("done") if row.units else UNKNOWN.worded("no unit named")
    return (STOP if row.notice.weight == Weight.STOP else ADVISE).worded(
        say("{count} not done", count=len(row.not_done))
    )


def sum_up(rows: Sequence[NoticeRow]) -> str:
    """'3 notices, 2 with units on which they are not done'."""
    return say(
        "{count}, {not_done} with units not done",
        count=counted(len(rows), "notice"),
        not_done=sum(bool(row.not_done) for row in rows),
    )


def describe(row: NoticeRow) -> Detail:
    """What the list's own row says of a notice."""
    return Detail(
        row.notice.title,
        row.notice.number,
        (state_of(row),),
        (
            Section(
                "What to do",
                (
                    Fact("Action", row.notice.action),
                    Fact("By", day(row.notice.by_when, say("at once"))),
                    Fact(
                        "Severity", say("stops the unit") if row.notice.weight == Weight.STOP else say("recommendation")
                    ),
                    Fact("Issued", day(row.notice.issued_on)),
                    Fact("Named in stock", counted(row.in_stock, "part")),
                ),
            ),
            Section(
                "Not done on",
                tuple(Fact("", tag, leads_to=PageKey("units", tag)) for tag in row.not_done),
                "Done on every unit that it names, as far as the records go.",
            ),
        ),
    )


def notice_detail(notice: NoticePage, zone: ZoneInfo) -> Detail:
    """Everything on one notice's page."""
    touched, done = notice.touched, {each.unit: each for each in notice.done}
    stops = notice.notice.weight == Weight.STOP
    return Detail(
        notice.notice.title,
        say("{number}, issued {issued_on}", number=notice.notice.number, issued_on=notice.notice.issued_on),
        ((STOP if stops else ADVISE).worded("stops units and parts" if stops else "recommendation"),),
        (
            Section(
                "What it says",
                (
                    Fact("Text", notice.notice.text),
                    Fact("To do", notice.notice.action),
                    Fact("By", day(notice.notice.by_when, say("at once"))),
                    Fact("Covers", strung("; ", notice.scopes)),
                    Fact("Not done on", strung(", ", notice.not_done) or NONE, note=done_words(notice.done, zone)),
                ),
                column=ACROSS,
            ),
            _hires(touched.hires),
            Table(
                "Units",
                ("Unit", "State", "Place", "What is named"),
                tuple(
                    Line(
                        (each.unit, mark.word, said(each.place), strung("; ", each.why)),
                        mark,
                        PageKey("units", each.unit),
                    )
                    for each in touched.units
                    for mark in (unit_mark(each.unit in done, each.now),)
                ),
                "No unit holds or held it.",
                mark_column=1,
                column=0,
            ),
            Table(
                "Parts and containers",
                ("Part", "Part type", "State", "Where"),
                (
                    *(
                        Line(
                            (
                                each.part,
                                each.part_type,
                                STATE_WORDS.get(each.state, each.state),
                                strung(", ", filter(None, (each.unit, each.slot))) or said(each.place),
                            ),
                            leads_to=PageKey("parts", str(each.part_id)),
                        )
                        for each in touched.parts
                    ),
                    *(
                        Line(
                            (
                                say("lot {lot}", lot=each.lot),
                                each.part_type,
                                say("{left_kg} left", left_kg=KILOGRAM.words(each.left_kg)),
                                said(each.place),
                            )
                        )
                        for each in touched.containers
                    ),
                ),
                "None is recorded.",
            ),
        ),
    )


def unit_mark(done: bool, now: bool) -> Mark:
    """How a touched unit stands."""
    if done:
        return mark_for("done")
    return HOLD.worded("in it now") if now else UNKNOWN.worded("was in it")


def done_words(done: Sequence[DoneLine], zone: ZoneInfo) -> str:
    """'done on B-03, 2026-05-04 by Tamsin Orrel: valve changed; ...'."""
    said_of = (
        strung(
            ": ",
            filter(
                None,
                (
                    say(
                        "{unit}, {day} by {person}",
                        unit=each.unit,
                        day=day(each.at.astimezone(zone).date()),
                        person=said(each.person),
                    ),
                    each.note,
                ),
            ),
        )
        for each in done
    )
    return say("done on {said_of}", said_of=strung("; ", said_of)) if done else ""


def _hires(hires: Sequence[TouchedHire]) -> Table:
    marks = {
        HireState.OUT: STOP.worded("out now: ring"),
        HireState.TO_COME: ADVISE.worded("to come"),
        HireState.BACK: mark_for(HireState.BACK),
    }
    return Table(
        "Hires and courses, those that are out first",
        ("Booking", "State", "Unit", "Diver or renter", "Dives with it", "From", "To"),
        tuple(
            Line((strung(", ", (each.booking, say(each.kind))), marks[each.state].word, each.unit,
                  said(each.diver or each.renter, NONE), each.exposed, day(each.starts_on), day(each.ends_on)),
                 marks[each.state])
            for each in hires
        ),
        "No hire had it.",
        mark_column=1,
    )  # fmt: skip


def _spec(context: PageContext) -> ListSpec[NoticeRow]:
    return ListSpec(
        "Notices",
        COLUMNS,
        key=lambda row: row.notice.number,
        load=partial(list_notices, context.workplace),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("notices", row.notice.number),
        choices=(
            QuickFilter("not done", lambda row: bool(row.not_done), STOP),
            QuickFilter("stops", lambda row: row.notice.weight == Weight.STOP),
        ),
        siblings=SIBLINGS,
        sort_column="state",
    )


COLUMNS: tuple[Column[NoticeRow], ...] = (
    Column("number", "Number", lambda row: row.notice.number),
    Column("title", "What", lambda row: row.notice.title, gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: (-state_of(row).rank, row.notice.number),
           state=state_of),
    Column("by", "By", lambda row: day(row.notice.by_when, say("at once")), lambda row: row.notice.by_when),
    Column("units", "Units named", lambda row: str(row.units), lambda row: row.units, True, shown=False),
    Column("left", "Not done on", lambda row: strung(", ", row.not_done) or NONE, gives_way=True),
    Column("stock", "In stock", lambda row: str(row.in_stock), lambda row: row.in_stock, align_right=True),
    Column("issued", "Issued", lambda row: day(row.notice.issued_on), lambda row: row.notice.issued_on, shown=False),
    Column("weight", "Severity", lambda row: say(row.notice.weight), shown=False),
)  # fmt: skip

"""Notices: each with the units on which it is not done; a lot recalled in one act; one notice with all it touched."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import shiboken6
from PySide6.QtCore import QModelIndex, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QPushButton, QWidget

from fleetbench.records.errors import Refused
from fleetbench.window.background import Background
from fleetbench.window.bench_person import BenchPerson
from fleetbench.window.buttons import plain_button
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.detail import ACROSS, Detail, Fact, Line, Section, Table
from fleetbench.window.due import SIBLINGS
from fleetbench.window.empty_state import Emptiness
from fleetbench.window.export_row import ExportRow
from fleetbench.window.list_page import Choice, ListPage, ListSpec
from fleetbench.window.marks import ADVISE, HOLD, OK, STOP, UNKNOWN, Mark
from fleetbench.window.pages import PageContext
from fleetbench.window.part_dialogs import labelled, line_field
from fleetbench.window.place import Place
from fleetbench.window.record_page import RecordPage
from fleetbench.window.rows import Column
from fleetbench.window.theme import CLOSE, Theme
from fleetbench.window.words import NONE, counted, day, said
from fleetbench.workshop.notice_acts import (
    NoticeAnswer,
    NoticePage,
    NoticeRow,
    list_notices,
    notice_done,
    notice_page,
    recall_lot,
)
from fleetbench.workshop.notice_touch import TouchedHire
from fleetbench.workshop.people import list_people
from fleetbench.workshop.shop import Shop

EMPTY = Emptiness(
    "No notice is recorded",
    "A lot can be recalled here when a maker, or your own readings, speak against it.",
    "fault",
)


def list_page(context: PageContext) -> "NoticeList":
    """The list of notices."""
    return NoticeList(context)


def record_page(context: PageContext) -> RecordPage:
    """The page of one notice, by its number."""
    return NoticeRecord(context)


class RecallDialog(ActDialog):
    """Recalls a lot: everything it touched is put on hold in one act.

    Signals:
        done_with: the NoticeAnswer.
    """

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, "Recall a lot", "Recall it and hold everything", parent)
        self._shop = shop
        self.note.setText(
            "Every part of the lot, every unit that holds or held one, and every canister packed from it goes on hold "
            "in one act. Hires that are out stand first in the list that follows."
        )
        self.lot = line_field("lot", self, "as it is marked")
        self.reason = line_field("reason", self, "what is wrong with it")
        self.number = line_field("number of the maker's notice", self, "empty where there is none")
        for words, field in (("Lot", self.lot), ("Reason", self.reason), ("Maker's notice", self.number)):
            self.body.addLayout(labelled(words, field, self))
        self.lot.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.number.setFocus)
        self.number.returnPressed.connect(self.act)
        self.lot.setFocus()

    def work(self) -> Callable[[], object]:
        """The recall."""
        shop, lot, reason, number = self._shop, self.lot.text(), self.reason.text(), self.number.text()
        return lambda: recall_lot(shop, lot, reason, number=number)


class DoneDialog(ActDialog):
    """Says that a notice's action was done on a unit.

    Signals:
        done_with: keys of the holds that were lifted.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: NoticeRow, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Notice {row.number}: done on a unit", "Done", parent)
        self._shop, self._number = shop, row.number
        self.note.setText(f"{row.action}. The notice's hold on the unit is lifted; holds on parts stay.")
        self.unit = QComboBox(self)
        self.unit.setAccessibleName("unit")
        self.unit.addItems(list(row.not_done))
        self.words = line_field("note", self, "what was done")
        self.body.addLayout(labelled("Unit", self.unit, self))
        self.body.addLayout(labelled("Note", self.words, self))
        self.words.returnPressed.connect(self.act)
        self.words.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording it."""
        shop, number, tag, note = self._shop, self._number, self.unit.currentText(), self.words.text()
        if not tag:
            raise Refused("unit: the notice is done on every unit that it names")
        return lambda: notice_done(shop, number, tag, note)


class NoticeList(ListPage[NoticeRow]):
    """The list page with its acts above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._context, self._shop = context, context.shop
        self._dialog: ActDialog | None = None
        self._people_asked = False
        super().__init__(context.theme, context.background, _spec(context), parent)
        self.recall_button = plain_button(context.theme, "Recall a lot", "", self)
        self.done_button = plain_button(context.theme, "Done on a unit", "", self)
        self.person = BenchPerson(self)
        acts = QWidget(self)
        line = QHBoxLayout(acts)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for widget in (self.recall_button, self.done_button):
            line.addWidget(widget)
        line.addStretch(1)
        line.addWidget(self.person)
        self.content.insertWidget(2, acts)
        self.exports = ExportRow(context.theme, context.background, "notices", (".pdf",), self._writer, self)
        self.heading.addWidget(self.exports)
        self.recall_button.clicked.connect(self.recall)
        self.done_button.clicked.connect(self.say_done)
        self.person.chosen.connect(self.set_person)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().currentRowChanged.connect(self._on_row)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    @property
    def chosen(self) -> NoticeRow | None:
        """The notice that is chosen."""
        current = self.table.currentIndex()
        return self.model.row_at(current.row()) if current.isValid() else None

    @Slot(object)
    def set_person(self, person_id: int | None) -> None:
        """Say who is at the bench."""
        self._shop = self._shop.as_person(person_id)

    @Slot()
    def recall(self) -> None:
        """Recall a lot."""
        dialog = RecallDialog(self.theme, self._context.background, self._shop, self.window())
        self._open(dialog, self._on_recalled)

    @Slot()
    def say_done(self) -> None:
        """Say that the chosen notice is done on a unit."""
        row = self.chosen
        if row is not None:
            dialog = DoneDialog(self.theme, self._context.background, self._shop, row, self.window())
            self._open(dialog, partial(self._on_done, row.number))

    def _open(self, dialog: ActDialog, then: Callable[[object], None]) -> None:
        self._dialog = dialog
        dialog.done_with.connect(then)
        dialog.finished.connect(self._on_left)
        dialog.open()

    def _on_recalled(self, answer: object) -> None:
        assert isinstance(answer, NoticeAnswer)
        self.place_requested.emit(Place("notices", answer.number))

    def _on_done(self, number: str, _lifted: object) -> None:
        self.banner.say_note(f"Notice {number} is done on that unit.")
        self.refresh()

    def _writer(self) -> Callable[[Path], object]:
        shop = self._shop

        def write(path: Path) -> None:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.printing import print_notices

            print_notices(shop, path)

        return write

    @Slot(int)
    def _on_left(self, _result: int) -> None:
        self.window().activateWindow()
        self.table.setFocus()

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self._allow()
        if not self._people_asked:
            self._people_asked = True
            shop = self._shop
            job = self._context.background.run(lambda: list_people(shop), self)
            job.succeeded.connect(self._show_people)
            job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _show_people(self, people: object) -> None:
        assert isinstance(people, tuple)
        self.person.show_people(people, self._shop.person_id)

    @Slot(QModelIndex, QModelIndex)
    def _on_row(self, _now: QModelIndex, _before: QModelIndex) -> None:
        self._allow()

    def _allow(self) -> None:
        row = self.chosen
        self.done_button.setEnabled(row is not None and bool(row.not_done))


class NoticeRecord(RecordPage):
    """One notice with everything that it touched, and the page of it to print."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        def load(key: str) -> Detail:
            return notice_detail(notice_page(context.shop, key))

        super().__init__(context.theme, context.background, load, parent)
        self._shop = context.shop
        self.exports = ExportRow(context.theme, context.background, "notice", (".pdf",), self._writer, self)
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    @property
    def print_button(self) -> QPushButton:
        """The button that prints it."""
        return self.exports.buttons[".pdf"]

    def _writer(self) -> Callable[[Path], object]:
        shop, number = self._shop, self.key or ""

        def write(path: Path) -> None:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.printing import print_recall

            print_recall(shop, number, path)

        return write


def state_of(row: NoticeRow) -> Mark:
    """Whether something is left to do, by weight."""
    if not row.not_done:
        return OK.worded("done") if row.units else UNKNOWN.worded("no unit named")
    return (STOP if row.weight == "stop" else ADVISE).worded(f"{len(row.not_done)} not done")


def sum_up(rows: Sequence[NoticeRow]) -> str:
    """'3 notices, 2 with units on which they are not done'."""
    return f"{counted(len(rows), 'notice')}, {sum(bool(row.not_done) for row in rows)} with units not done"


def describe(row: NoticeRow) -> Detail:
    """What the list's own row says of a notice."""
    return Detail(
        row.title,
        row.number,
        (state_of(row),),
        (
            Section(
                "What to do",
                (
                    Fact("Action", row.action),
                    Fact("By", day(row.by_when, "at once")),
                    Fact("Weight", "stops the unit" if row.weight == "stop" else "advice"),
                    Fact("Issued", day(row.issued_on)),
                    Fact("Named in stock", counted(row.in_stock, "part")),
                ),
            ),
            Section(
                "Not done on",
                tuple(Fact("", tag, leads_to=Place("units", tag)) for tag in row.not_done),
                "Done on every unit that it names, as far as the records go.",
            ),
        ),
    )


def notice_detail(notice: NoticePage) -> Detail:
    """Everything on one notice's page."""
    touched = notice.touched
    stops = notice.weight == "stop"
    return Detail(
        notice.title,
        f"{notice.number}, issued {notice.issued_on}",
        ((STOP if stops else ADVISE).worded("stops units and parts" if stops else "advice"),),
        (
            Section(
                "What it says",
                (
                    Fact("Text", notice.text),
                    Fact("To do", notice.action),
                    Fact("By", day(notice.by_when, "at once")),
                    Fact("Covers", "; ".join(notice.scopes)),
                ),
                column=ACROSS,
            ),
            _hires(touched.hires),
            Table(
                "Units",
                ("Unit", "State", "Place", "What is named"),
                tuple(
                    Line((each.unit, "in it now" if each.now else "was in it", said(each.place), "; ".join(each.why)),
                         HOLD.worded("in it now") if each.now else UNKNOWN.worded("was in it"),
                         Place("units", each.unit))
                    for each in touched.units
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
                        Line((each.part, each.part_type, each.state, ", ".join(filter(None, (each.unit, each.slot))) or
                              said(each.place)), leads_to=Place("parts", str(each.part_id)))
                        for each in touched.parts
                    ),
                    *(
                        Line((f"lot {each.lot}", each.part_type, f"{each.left_kg:g} kg left", said(each.place)))
                        for each in touched.containers
                    ),
                ),
                "None is recorded.",
            ),
        ),
    )  # fmt: skip


def _hires(hires: Sequence[TouchedHire]) -> Table:
    marks = {"out now": STOP.worded("out now: ring"), "to come": ADVISE.worded("to come"), "back": OK.worded("back")}
    return Table(
        "Hires and courses, those that are out first",
        ("Booking", "State", "Unit", "Diver or renter", "From", "To"),
        tuple(
            Line((f"{each.booking}, {each.kind}", marks[each.state].word, each.unit,
                  said(each.diver or each.renter, NONE), day(each.starts_on), day(each.ends_on)), marks[each.state])
            for each in hires
        ),
        "No hire had it.",
        mark_column=1,
    )  # fmt: skip


def _spec(context: PageContext) -> ListSpec[NoticeRow]:
    return ListSpec(
        "Notices",
        COLUMNS,
        key=lambda row: row.number,
        load=partial(list_notices, context.shop),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: Place("notices", row.number),
        choices=(
            Choice("not done", lambda row: bool(row.not_done), STOP),
            Choice("stops", lambda row: row.weight == "stop"),
        ),
        siblings=SIBLINGS,
        sort_column="state",
    )


COLUMNS: tuple[Column[NoticeRow], ...] = (
    Column("number", "Number", lambda row: row.number),
    Column("title", "What", lambda row: row.title, gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: (-state_of(row).rank, row.number),
           state=state_of),
    Column("by", "By", lambda row: day(row.by_when, "at once"), lambda row: row.by_when),
    Column("units", "Units named", lambda row: str(row.units), lambda row: row.units, True, shown=False),
    Column("left", "Not done on", lambda row: ", ".join(row.not_done) or NONE, gives_way=True),
    Column("stock", "In stock", lambda row: str(row.in_stock), lambda row: row.in_stock, align_right=True),
    Column("issued", "Issued", lambda row: day(row.issued_on), lambda row: row.issued_on, shown=False),
    Column("weight", "Weight", lambda row: row.weight, shown=False),
)  # fmt: skip

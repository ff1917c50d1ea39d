"""Dialogs of notices: one entered with what it covers, a lot recalled, what it touches held, and done on a unit."""

from abc import abstractmethod
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from itertools import pairwise
from typing import TypeVar

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QListWidget, QListWidgetItem, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Covered, Covers, NoticeFacts, Weight
from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.form import ACT_WORDS, ActDialog, Field, Form, day_of, keep_on_screen
from fleetbench.window.look.buttons import plain_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.parts.dialogs import chooser, labelled, line_field
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.notices.acts import (
    hold_for_notice,
    notice_done,
    recall_lot,
    record_notice,
    scope_choices,
    what_lot_touched,
    what_notice_touches,
    what_scopes_touch,
)
from fleetbench.workshop.notices.touched import Touched, exposed_words

T = TypeVar("T")
MOST_TOLD = 8
"""So many people and units that carried a lot are named in a dialog; all stand on the notice's page."""

DAY_HINT = say("such as 2026-03-14")


class _PreviewDialog(ActDialog):
    """An act that holds units and parts: it is done only once what goes on hold, and who dived it, stands there."""

    def _build_preview(self) -> None:
        self._shown: object = None
        self._asked: object = None
        self.preview = text_label("", "body", self)
        self.preview.setWordWrap(True)
        self.preview.setTextFormat(Qt.TextFormat.PlainText)
        self.body.addWidget(self.preview)
        self._looker = Refresher(self._background, self)
        self._looker.loaded.connect(self.show_touched)
        self._looker.refused.connect(self._on_not_found)

    @abstractmethod
    def act_words(self, touched: Touched | None) -> str:
        """What the act's button says, before anything is shown and then."""

    def _ask_touched(self, about: object, look: Callable[[], Touched]) -> None:
        if about != self._shown:
            self._asked = about
            self._looker.ask(look)

    @Slot(object)
    def show_touched(self, touched: Touched) -> None:
        """Show what will be held, and who will only be told."""
        self._shown = self._asked
        self.banner.take_back_refusal()
        self.preview.setText(shown(preview_words(touched)))
        keep_on_screen(self)
        self.act_button.setText(shown(self.act_words(touched)))

    @Slot()
    def forget_shown(self) -> None:
        """What is shown is no longer what would be held: it is looked at again before the act."""
        self._shown = None
        self.preview.setText("")
        self.act_button.setText(shown(self.act_words(None)))

    @Slot(str)
    def _on_not_found(self, words: str) -> None:
        self.forget_shown()
        self.banner.say_refused(words)


class NoticeDialog(_PreviewDialog):
    """Enters a notice with what it covers; everything it touches may be put on hold in the same act, once it is shown.

    Signals:
        done_with: the NoticeAnswer.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, today: date, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("New notice"), say("Save notice"), parent)
        self.setMinimumWidth(200 * GRID)
        self._workplace = workplace
        self.scopes: list[Covered] = []
        self._names: dict[str, list[tuple[str, str]]] = {}
        self.note.setText(
            worded(
                "A unit or part that any line under 'Covers' names is covered; a span takes in both "
                "ends. Copy text and action from the notice itself: what its issuer wrote stands above "
                "what is entered here."
            )
        )
        self._build(today)
        self._build_preview()
        self._wire()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_types)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: scope_choices(workplace))
        self.number.setFocus()

    def _build(self, today: date) -> None:
        self.number, self.title = line_field("number", self), line_field("title", self, say("what it is about"))
        self.issued, self.by_when = (
            line_field(say("issued on"), self, DAY_HINT),
            line_field(say("by when"), self, say("empty: at once")),
        )
        self.issued.setText(f"{today:%Y-%m-%d}")
        self.text = line_field("text", self, say("what it says"))
        self.action = line_field("action", self, say("what is to be done on each unit"))
        self.weight = chooser("weight", self)
        for word, value in ((say("stops what it covers"), Weight.STOP), (say("recommendation"), Weight.ADVISE)):
            self.weight.addItem(worded(word), value)
        self.covers, self.kind = chooser("covers", self), chooser(say("type covered"), self)
        for each in Covers:
            self.covers.addItem(worded(each), each.value)
        self.first, self.last = line_field("first", self), line_field("last", self, say("empty: just this one"))
        self.add_button = plain_button(self.theme, "Add", "", self)
        self.listed = QListWidget(self)
        self.listed.setAccessibleName(worded("what it covers; Enter removes one"))
        self.listed.setMaximumHeight(22 * GRID)
        self.hold = QCheckBox(worded("Put every part and unit that carries it now on hold in the same act"), self)
        for fields in (
            (("Number", self.number, 1), ("Title", self.title, 3)),
            ((say("Issued on"), self.issued, 1), (say("To do by"), self.by_when, 1), ("Severity", self.weight, 1)),
            (("Text", self.text, 1),),
            ((say("To do"), self.action, 1),),
            (("Covers", self.covers, 1), ("Type", self.kind, 2), ("From", self.first, 1), ("To", self.last, 1),
             ("", self.add_button, 0)),
            ((say("Covered, one line each"), self.listed, 1),),
        ):  # fmt: skip
            row = QHBoxLayout()
            row.setSpacing(CLOSE)
            for words, field, stretch in fields:
                row.addLayout(labelled(words, field, self), stretch)
            self.body.addLayout(row)
        self.body.addWidget(self.hold)

    def _wire(self) -> None:
        order = (self.number, self.title, self.issued, self.by_when, self.text, self.action)
        for before, after in pairwise(order):
            before.returnPressed.connect(after.setFocus)
        self.action.returnPressed.connect(self.covers.setFocus)
        self.first.returnPressed.connect(self.last.setFocus)
        self.last.returnPressed.connect(self.add_scope)
        self.add_button.clicked.connect(self.add_scope)
        self.covers.currentIndexChanged.connect(self._on_covers)
        self.listed.itemActivated.connect(self._on_taken_out)
        self.hold.toggled.connect(self.forget_shown)
        self._on_covers()

    @Slot(object)
    def show_types(self, types: Sequence[tuple[str, str, str]]) -> None:
        """Offer these unit types and part types."""
        for what, code, name in types:
            self._names.setdefault(what, []).append((code, name))
        self._on_covers()

    @Slot()
    def add_scope(self) -> None:
        """Add what stands in the fields to what the notice covers."""
        covers = str(self.covers.currentData())
        by_type = covers.endswith("type")
        first = str(self.kind.currentData() or "") if by_type else self.first.text().strip()
        last = "" if by_type else self.last.text().strip()
        if not first:
            self.banner.say_refused(say("{covers}: is empty; enter what is marked, or choose a type", covers=covers))
            return
        scope = Covered(covers, first, last or None)
        if scope not in self.scopes:
            self.scopes.append(scope)
            words = say("{covers} {first} to {last}", covers=say(covers), first=first, last=last)
            self.listed.addItem(shown(words if last else strung(" ", (say(covers), first))))
            self.forget_shown()
        self.first.clear()
        self.last.clear()
        (self.kind if by_type else self.first).setFocus()

    def act_words(self, touched: Touched | None) -> str:
        """Saving it, and what goes on hold with it."""
        if not self.hold.isChecked():
            return say("Save notice")
        return (
            say("Save notice and hold {touched}", touched=hold_words(touched))
            if touched is not None
            else say("Show what it touches")
        )

    def act(self) -> None:
        """Save it; where it is to hold what it touches, that is shown first."""
        self._add_typed()
        scopes = tuple(self.scopes)
        if self.hold.isChecked() and scopes and scopes != self._shown:
            self._ask_touched(scopes, partial(what_scopes_touch, self._workplace, scopes))
        else:
            super().act()

    def _add_typed(self) -> None:
        if not str(self.covers.currentData()).endswith("type") and self.first.text().strip():
            self.add_scope()

    def work(self) -> Callable[[], object]:
        """Entering it; what still stands in the fields was taken along."""
        issued = day_of(self.issued.text(), say("issued on"))
        if issued is None:
            raise Refused(say("issued on: is empty; enter the day that stands on the notice"))
        notice = NoticeFacts(
            number=self.number.text(), issued_on=issued, title=self.title.text(), text=self.text.text(),
            action=self.action.text(), by_when=day_of(self.by_when.text(), say("by when")),
            weight=str(self.weight.currentData()),
        )  # fmt: skip
        workplace, scopes, hold = self._workplace, tuple(self.scopes), self.hold.isChecked()
        return lambda: record_notice(workplace, notice, scopes, hold=hold)

    @Slot()
    def _on_covers(self) -> None:
        covers = str(self.covers.currentData())
        by_type = covers.endswith("type")
        self.kind.clear()
        for code, name in self._names.get(covers, ()):
            self.kind.addItem(f"{name}, {code}", code)
        self.kind.setEnabled(by_type)
        self.first.setEnabled(not by_type)
        self.last.setEnabled(not by_type)

    @Slot(QListWidgetItem)
    def _on_taken_out(self, item: QListWidgetItem) -> None:
        number = self.listed.row(item)
        self.listed.takeItem(number)
        del self.scopes[number]
        self.forget_shown()


class RecallDialog(_PreviewDialog):
    """Recalls a lot: what carries it now is put on hold in one act, once it was shown what that is.

    Signals:
        done_with: the NoticeAnswer.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("Recall a lot"), say("Show what it touches"), parent)
        self._workplace = workplace
        self.note.setText(
            worded(
                "Every part of the lot, every unit that carries one now, and every canister packed from "
                "it goes on hold in one act. Units that carried one before are listed, with their days "
                "and divers, and are not stopped."
            )
        )
        self.lot = line_field("lot", self, say("as it is marked"))
        self.reason = line_field("reason", self, say("what is wrong with it"))
        self.number = line_field(say("number of the maker's notice"), self, say("empty where there is none"))
        for words, field in (("Lot", self.lot), ("Reason", self.reason), (say("Maker's notice"), self.number)):
            self.body.addLayout(labelled(words, field, self))
        self.lot.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.number.setFocus)
        self.number.returnPressed.connect(self.act)
        self._build_preview()
        self.lot.returnPressed.connect(self._ask)
        self.lot.editingFinished.connect(self._ask)
        self.lot.textEdited.connect(self.forget_shown)
        self.lot.setFocus()

    def act_words(self, touched: Touched | None) -> str:
        """Recalling it, and what goes on hold with it."""
        return (
            say("Recall lot and hold {touched}", touched=hold_words(touched))
            if touched is not None
            else say("Show what it touches")
        )

    def act(self) -> None:
        """Show what the lot touches first; recall it once that stands there."""
        if self._shown and self._shown == self.lot.text().strip():
            super().act()
        else:
            self._ask()

    def work(self) -> Callable[[], object]:
        """The recall."""
        return partial(recall_lot, self._workplace, self.lot.text(), self.reason.text(), number=self.number.text())

    @Slot()
    def _ask(self) -> None:
        lot = self.lot.text().strip()
        if lot:
            self._ask_touched(lot, partial(what_lot_touched, self._workplace, lot))


def hold_words(touched: Touched) -> str:
    """'1 unit and 5 parts', the numbers that go on hold."""
    units, parts = len(touched.units_now), len(touched.parts_here)
    return say("{units} and {parts}", units=counted(units, "unit"), parts=counted(parts, "part"))


def preview_words(touched: Touched) -> str:
    """What goes on hold and what is only told, a line each."""
    stock = sum(part.state == PartState.STOCK for part in touched.parts)
    now = [say("{unit} ({count} in it now)", unit=each.unit, count=len(each.why)) for each in touched.units_now]
    lines = [say("On hold: {value}.", value=strung(", ", now) or say("no unit carries it now"))]
    lines.append(say("Parts on hold: {count}, of these {stock} in stock.", count=len(touched.parts_here), stock=stock))
    out = [
        say("{who} with {unit}", who=each.who, unit=each.unit) for each in touched.hires if each.state is HireState.OUT
    ]
    lines += [say("Out now, ring: {out}.", out=strung(", ", out))] if out else []
    lines += _first(touched.exposed, "people", lambda each: say("To tell: {each}.", each=exposed_words(each)))
    lines += _first(touched.units_before, say("units that carried it"), lambda each:
                    say("Listed, not stopped: {unit}: {why}.", unit=each.unit, why=strung("; ", each.why)))  # fmt: skip
    return strung("\n", lines)


def _first(rows: Sequence[T], what: str, words: Callable[[T], str]) -> list[str]:
    """A line a row, and how many more stand on the notice's page."""
    more = len(rows) - MOST_TOLD
    last = [say("And {more} more {what}, on the notice's page.", more=more, what=what)] if more > 0 else []
    return [*(words(each) for each in rows[:MOST_TOLD]), *last]


def done_form(workplace: Workplace, number: str, action: str, units: Sequence[str]) -> Form:
    """Says that a notice's action was done on a unit."""
    return Form(
        say("Notice {number}: done on a unit", number=number),
        act_words="Save as done",
        note=say("{what}. The notice's hold on the unit is lifted; holds on parts stay.", what=action.rstrip('.')),
        fields=(
            Field("tag", "Unit", "choice", choices=[(tag, tag) for tag in units],
                  wants="the notice is done on every unit that it names"),
            Field("note", "Note", hint="what was done"),
        ),
        act=partial(notice_done, workplace, number),
        first="note",
    )  # fmt: skip


def hold_form(workplace: Workplace, number: str) -> Form:
    """Puts everything on hold that a recorded notice touches, once it was shown what that is."""

    def touched() -> Mapping[str, str]:
        found = what_notice_touches(workplace, number)
        return {"preview": preview_words(found), ACT_WORDS: say("Hold {found}", found=hold_words(found))}

    return Form(
        say("Notice {number}: hold what it touches", number=number),
        act_words="Hold units and parts",
        note="Every part that it names and every unit that carries one now goes on hold in one act, but for what it "
        "holds already. Units that carried one before are listed, and are not stopped.",
        fields=(Field("preview", kind="told"),),
        act=partial(hold_for_notice, workplace, number),
        load=touched,
    )

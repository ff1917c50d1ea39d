"""Dialogs of notices: one entered with what it covers, a lot recalled, what it touches held, and done on a unit."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any, TypeVar

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Covered, Covers, NoticeFacts, Weight
from fleetbench.calc.parts.kinds import PartState
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ACT_WORDS, Field, Form, Shown
from fleetbench.window.look.buttons import ChoiceBox, plain_button, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.notices.acts import (
    NoticeAnswer,
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


class ScopesField(QWidget):
    """What a notice covers, added line by line; Enter on a line removes it.

    Signals:
        changed: a line was added or removed.
        refused: why a line cannot be added.
    """

    changed, refused = Signal(), Signal(str)

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.scopes: list[Covered] = []
        self._names: dict[str, list[tuple[str, str]]] = {}
        self.covers, self.kind = ChoiceBox(self), ChoiceBox(self)
        for each in Covers:
            self.covers.addItem(worded(each), each.value)
        self.first, self.last = QLineEdit(self), QLineEdit(self)
        self.add_button = plain_button(theme, "Add", "", self)
        self.listed = QListWidget(self)
        for field, name in (
            (self.covers, say("covers")), (self.kind, say("type covered")), (self.first, say("first")),
            (self.last, say("last")),
            (self.listed, say("what it covers; Enter removes one")),
        ):  # fmt: skip
            field.setAccessibleName(worded(name))
        self.last.setAccessibleDescription(worded("empty: just this one"))
        self.listed.setMaximumHeight(22 * GRID)
        self.setFocusProxy(self.covers)
        lines = QVBoxLayout(self)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(APART)
        rows: tuple[tuple[tuple[str, QWidget, int], ...], ...] = (
            (("Covers", self.covers, 1), ("Type", self.kind, 2), ("From", self.first, 1), ("To", self.last, 1),
             ("", self.add_button, 0)),
            ((say("Covered, one line each"), self.listed, 1),),
        )  # fmt: skip
        for fields in rows:
            row = QHBoxLayout()
            row.setSpacing(CLOSE)
            for words, widget, share in fields:
                column = labelled(widget, words, self)
                if widget is self.last:
                    column.addWidget(text_label(widget.accessibleDescription(), "small", self))
                column.addStretch(1)
                row.addLayout(column, share)
            lines.addLayout(row)
        self.first.returnPressed.connect(self.last.setFocus)
        self.last.returnPressed.connect(self.add_scope)
        self.add_button.clicked.connect(self.add_scope)
        self.covers.currentIndexChanged.connect(self._on_covers)
        self.listed.itemActivated.connect(self._on_taken_out)
        self._on_covers()

    def offer(self, types: Sequence[tuple[str, str, str]]) -> None:
        """Offer these unit types and part types."""
        for what, code, name in types:
            self._names.setdefault(what, []).append((code, name))
        self._on_covers()

    def taken(self) -> tuple[Covered, ...]:
        """What the notice covers, with what still stands in the fields."""
        typed = () if self._by_type or not self.first.text().strip() else (self._typed(),)
        return tuple(dict.fromkeys((*self.scopes, *typed)))

    @property
    def _by_type(self) -> bool:
        return str(self.covers.currentData()).endswith("type")

    def _typed(self) -> Covered:
        if self._by_type:
            return Covered(str(self.covers.currentData()), str(self.kind.currentData() or ""), None)
        return Covered(str(self.covers.currentData()), self.first.text().strip(), self.last.text().strip() or None)

    @Slot()
    def add_scope(self) -> None:
        """Add what stands in the fields to what the notice covers."""
        scope = self._typed()
        if not scope.first:
            self.refused.emit(say("{covers}: is empty; enter what is marked, or choose a type", covers=scope.covers))
            return
        if scope not in self.scopes:
            self.scopes.append(scope)
            covers, first, last = say(scope.covers), scope.first, scope.last
            words = say("{covers} {first} to {last}", covers=covers, first=first, last=last)
            self.listed.addItem(shown(words if last else strung(" ", (covers, first))))
        self.first.clear()
        self.last.clear()
        (self.kind if self._by_type else self.first).setFocus()
        self.changed.emit()

    @Slot()
    def _on_covers(self) -> None:
        self.kind.clear()
        for code, name in self._names.get(str(self.covers.currentData()), ()):
            self.kind.addItem(f"{name}, {code}", code)
        self.kind.setEnabled(self._by_type)
        self.first.setEnabled(not self._by_type)
        self.last.setEnabled(not self._by_type)

    @Slot(QListWidgetItem)
    def _on_taken_out(self, item: QListWidgetItem) -> None:
        number = self.listed.row(item)
        self.listed.takeItem(number)
        del self.scopes[number]
        self.changed.emit()


SAVE, SHOW = say("Save notice"), say("Show what it touches")


def notice_form(workplace: Workplace, theme: Theme, today: date) -> Form:
    """Enters a notice with what it covers; all that it touches may go on hold in the same act, once it was shown."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        if not found["hold"] or not found["scopes"]:
            return {"preview": "", ACT_WORDS: SHOW if found["hold"] else SAVE}
        touched = what_scopes_touch(workplace, found["scopes"])
        words = say("Save notice and hold {touched}", touched=hold_words(touched))
        return {"preview": preview_words(touched), ACT_WORDS: words}

    def record(scopes: tuple[Covered, ...], hold: bool, **notice: Any) -> NoticeAnswer:
        return record_notice(workplace, NoticeFacts(**notice), scopes, hold=hold)

    return Form(
        say("New notice"),
        act_words=SAVE,
        note="A unit or part that any line under 'Covers' names is covered; a span takes in both "
        "ends. Copy text and action from the notice itself: what its issuer wrote stands above "
        "what is entered here.",
        fields=(
            Field("number", "Number"),
            Field("title", "Title", hint="what it is about", share=3, beside=True),
            Field("issued_on", "Issued on", "day", DAY_HINT, default=today.isoformat(), spoken="issued on",
                  wants="is empty; enter the day that stands on the notice"),
            Field("by_when", "To do by", "day", "empty: at once", spoken="by when", beside=True),
            Field("weight", "Severity", "choice", spoken="weight", beside=True,
                  choices=((say("stops what it covers"), Weight.STOP.value),
                           (say("recommendation"), Weight.ADVISE.value))),
            Field("text", "Text", hint="what it says"),
            Field("action", "To do", hint="what is to be done on each unit", spoken="action"),
            Field("scopes", kind="own", made=partial(ScopesField, theme), read=ScopesField.taken, spoken="covers"),
            Field("hold", "Put every part and unit that carries it now on hold in the same act", "tick"),
            Field("preview", kind="told"),
        ),
        act=record,
        load=lambda: {"scopes": scope_choices(workplace)},
        look=look,
        wide=200,
        shown_first=("scopes", "hold"),
    )  # fmt: skip


def recall_form(workplace: Workplace) -> Form:
    """Recalls a lot: what carries it now is put on hold in one act, once it was shown what that is."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        if not found["lot"].strip():
            return {"preview": "", ACT_WORDS: SHOW}
        touched = what_lot_touched(workplace, found["lot"])
        words = say("Recall lot and hold {touched}", touched=hold_words(touched))
        return {"preview": preview_words(touched), ACT_WORDS: words}

    return Form(
        say("Recall a lot"),
        act_words=SHOW,
        note="Every part of the lot, every unit that carries one now, and every canister packed from "
        "it goes on hold in one act. Units that carried one before are listed, with their days "
        "and divers, and are not stopped.",
        fields=(
            Field("lot", "Lot", hint="as it is marked"),
            Field("reason", "Reason", hint="what is wrong with it"),
            Field("number", "Maker's notice", hint="empty where there is none", spoken="number of the maker's notice"),
            Field("preview", kind="told"),
        ),
        act=partial(recall_lot, workplace),
        look=look,
        shown_first=("lot",),
    )


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

"""The row of acts on what sits in a unit: fit, take out, move to another unit, and take a fitting back.

Fitting a part: scan the part, then the slot; the old part asks only why it comes out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import shiboken6
from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QComboBox, QCompleter, QHBoxLayout, QLineEdit, QPushButton, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.fields import AnswerKey, Question, with_unit
from fleetbench.window.forms.form import ENTER, ActDialog
from fleetbench.window.look.buttons import plain_button, quiet_button, text_label, typed_choice
from fleetbench.window.look.theme import BLOCK, CLOSE, GRID, Theme
from fleetbench.window.parts.part_dialogs import labelled, line_field
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.fit import (
    WHY_OUT,
    Fitted,
    SlotLine,
    StockPart,
    fit_part,
    remove_part,
    slot_lines,
    stock_of_kind,
)
from fleetbench.workshop.parts.refit import TakenBack, latest_change, move_fitted, service_tags, undo_fitting

ACTS = (
    ("Fit a part", "fit"),
    ("Take out", "take_out"),
    ("Move to another unit", "move"),
    ("Undo a fitting", "undo"),
)


@dataclass(frozen=True, slots=True)
class UnitSlots:
    """The slots of a unit with what sits in each, the tags of all units in service, and the slot changed last."""

    tag: str
    slots: tuple[SlotLine, ...]
    tags: tuple[str, ...]
    latest: str = ""


def unit_slots(shop: Shop, tag: str) -> UnitSlots:
    """What the dialogs ask of a unit."""
    return UnitSlots(tag, slot_lines(shop, tag), service_tags(shop), latest_change(shop, tag))


def slot_box(slots: Sequence[SlotLine], parent: QWidget) -> QComboBox:
    """A box of slots with what each holds."""
    box = QComboBox(parent)
    box.setAccessibleName("slot")
    show_slots(box, slots)
    return box


def show_slots(box: QComboBox, slots: Sequence[SlotLine]) -> None:
    """Offer these slots instead of what was offered."""
    box.clear()
    for line in slots:
        box.addItem(f"{'   ' * line.depth}{line.slot}   ({line.part or 'empty'})", line.slot)


class MoveFittedDialog(ActDialog):
    """A fitted part goes straight into a slot of another unit, or into another slot.

    Signals:
        done_with: what was fitted.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, unit: UnitSlots, slot: str = "",
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"Move a part of {unit.tag}", "Move it", parent)
        self._shop, self._unit = shop, unit
        self._there: dict[str, SlotLine] = {}
        self.note.setText(
            "It comes out here and goes in there in one act, with all that sits in it; both units must be tested again "
            "where that opens the loop."
        )
        self.slot = slot_box([line for line in unit.slots if line.part is not None], self)
        self.slot.setCurrentIndex(max(0, self.slot.findData(slot)))
        self.to_unit, self.to_slot = QComboBox(self), slot_box((), self)
        self.to_unit.setAccessibleName("to unit")
        self.to_slot.setAccessibleName("to slot")
        self.to_unit.addItems([tag for tag in unit.tags if tag != unit.tag] + [unit.tag])
        self.why = Question(self.theme, "Why does the part there come out?", REASONS, self)
        for words, field in (("Out of", self.slot), ("To unit", self.to_unit), ("Into", self.to_slot)):
            self.body.addLayout(labelled(words, field, self))
        self.body.addWidget(self.why)
        self.setMinimumWidth(self.why.sizeHint().width() + 2 * BLOCK)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_other)
        self._loader.refused.connect(self.banner.say_refused)
        self.slot.activated.connect(self._ask_other)
        self.to_unit.activated.connect(self._ask_other)
        self.to_slot.activated.connect(self._show_why)
        self.why.answered.connect(self._on_why)
        self._ask_other()
        self.to_unit.setFocus()

    @Slot(object)
    def show_other(self, slots: Sequence[SlotLine]) -> None:
        """Offer the slots of the other unit that take this kind of part; the one of the same name first."""
        here = self._here()
        kind = here.kind if here is not None else ""
        same_unit = self.to_unit.currentText() == self._unit.tag
        offered = [line for line in slots if line.kind == kind and not (same_unit and here and line.slot == here.slot)]
        self._there = {line.slot: line for line in offered}
        show_slots(self.to_slot, offered)
        self.to_slot.setCurrentIndex(max(0, self.to_slot.findData(here.slot if here else "")))
        if here is not None and not offered:
            self.banner.say_refused(f"unit {self.to_unit.currentText()}: has no slot for a {kind}")
        else:
            self.banner.take_back_refusal()
        self._show_why()

    def work(self) -> Callable[[], object]:
        """The move."""
        there, slot, other = self._there.get(str(self.to_slot.currentData())), self.slot.currentData(), self.to_unit
        if slot is None or there is None:
            raise Refused("slot: choose what comes out and where it goes")
        why = self.why.given if there.part is not None else None
        if there.part is not None and why is None:
            raise Refused(f"reason: say why {there.part} comes out of {there.slot}")
        shop, tag, to_tag, to_slot = self._shop, self._unit.tag, other.currentText(), there.slot
        return lambda: move_fitted(shop, tag, slot, to_tag, to_slot, why_old=why)

    def _here(self) -> SlotLine | None:
        return next((line for line in self._unit.slots if line.slot == self.slot.currentData()), None)

    @Slot()
    def _ask_other(self) -> None:
        shop, tag = self._shop, self.to_unit.currentText()
        if tag:
            self._loader.ask(lambda: slot_lines(shop, tag))

    @Slot()
    def _show_why(self) -> None:
        there = self._there.get(str(self.to_slot.currentData()))
        self.why.setVisible(there is not None and there.part is not None)

    @Slot(str)
    def _on_why(self, _why: str) -> None:
        self.act_button.setFocus()


class UndoDialog(ActDialog):
    """Takes the last change of a slot back.

    Signals:
        done_with: what was put right.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, unit: UnitSlots, slot: str = "",
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"Undo a fitting on {unit.tag}", "Take it back", parent)
        self._shop, self._tag = shop, unit.tag
        self.note.setText(
            "What went in last comes out as the wrong part, and what sat there before sits there again. Both acts stay "
            "on record. Not once the part was calibrated there, or used elsewhere."
        )
        self.slot = slot_box(unit.slots, self)
        self.slot.setCurrentIndex(max(0, self.slot.findData(slot)))
        self.reason = line_field("reason", self, "wrong slot scanned, wrong unit, ...")
        self.body.addLayout(labelled("Slot", self.slot, self))
        self.body.addLayout(labelled("Reason", self.reason, self))
        self.reason.returnPressed.connect(self.act)
        self.reason.setFocus()

    def work(self) -> Callable[[], object]:
        """Taking it back."""
        slot = self.slot.currentData()
        if slot is None:
            raise Refused("slot: this unit has none")
        shop, tag, reason = self._shop, self._tag, self.reason.text()
        return lambda: undo_fitting(shop, tag, slot, reason)


class FitDesk(QWidget):
    """Buttons for the acts on one unit's slots.

    Signals:
        changed: what was done, in a sentence.
        refused: why something was not done.
        left: a dialog was closed.
    """

    changed = Signal(str)
    refused = Signal(str)
    left = Signal()

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, *, title: str = "",
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._theme, self._background, self._shop = theme, background, shop
        self._tag, self._slot, self._wanted = "", "", ""
        self.asks_unit: Callable[[], str] = str
        self._dialog: ActDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        if title:
            line.addWidget(text_label(title, "label", self))
        for word, name in ACTS:
            button = (quiet_button if name == "undo" else plain_button)(theme, word, "", self)
            button.clicked.connect(partial(self.start, name))
            self.buttons[name] = button
            line.addWidget(button)
        line.addStretch(1)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self._open)
        self._loader.refused.connect(self.refused)

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def show_unit(self, tag: str, slot: str = "") -> None:
        """Say which unit the acts are for, and which slot is meant at first."""
        self._tag, self._slot = tag, slot
        for button in self.buttons.values():
            button.setEnabled(bool(tag))

    def start(self, name: str, _checked: bool = False) -> None:
        """Look at the unit's slots, then open the dialog of an act."""
        shop, tag, self._wanted = self._shop, self._tag or self.asks_unit(), name
        if tag:
            self._loader.ask(lambda: unit_slots(shop, tag))

    @Slot(object)
    def _open(self, unit: UnitSlots) -> None:
        common, name, parent = (self._theme, self._background, self._shop), self._wanted, self.window()
        if name in ("fit", "take_out"):
            dialog: ActDialog = FitDialog(*common, unit.tag, unit.slots, take_out=name == "take_out", parent=parent)
            if self._slot and isinstance(dialog, FitDialog):
                dialog.choose_slot(self._slot)
        elif name == "move":
            dialog = MoveFittedDialog(*common, unit, self._slot, parent)
        else:
            dialog = UndoDialog(*common, unit, self._slot or unit.latest, parent)
        self._dialog = dialog
        dialog.done_with.connect(self._on_done)
        dialog.finished.connect(self._on_left)
        dialog.open()

    @Slot(object)
    def _on_done(self, value: Any) -> None:
        self.changed.emit(done_words(value))

    @Slot(int)
    def _on_left(self, _result: int) -> None:
        self.window().activateWindow()
        self.left.emit()


class FittingOnPage(QObject):
    """Joins the acts on slots to the page of one unit: they stand under its other acts, and are for what it shows."""

    def __init__(self, page: RecordPage, context: PageContext, at: int) -> None:
        super().__init__(page)
        self._page = page
        self.desk = FitDesk(context.theme, context.background, context.shop, title="Fitted parts", parent=page)
        page.content.insertWidget(at, self.desk)
        self.desk.asks_unit = self._tag
        self.desk.changed.connect(self._on_changed)
        self.desk.refused.connect(page.banner.say_refused)
        self.desk.left.connect(page.focus_first)

    def _tag(self) -> str:
        return self._page.key or ""

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self._page.refresh()
        self._page.banner.say_note(words)


def done_words(value: object) -> str:
    """What an act on a slot did, in a sentence or two."""
    if isinstance(value, Fitted):
        out = f" {value.old_part} came out." if value.old_part else ""
        tests = " The release tests must follow." if value.opening == "workshop" else ""
        unknown = f" Not known: {'; '.join(value.warnings)}." if value.warnings else ""
        told = f" Note: {'; '.join(value.told)}." if value.told else ""
        test = " It is there to be tested only and stops the unit meanwhile." if value.to_test else ""
        return f"{value.part} sits in {value.slot}.{out}{tests}{test}{unknown}{told}"
    if isinstance(value, TakenBack):
        out = (
            f"{value.out} left the slot" + (f", back to {value.out_to}. " if value.out_to else ". ")
            if value.out
            else ""
        )
        return f"{out}{f'{value.back_in} sits there again.' if value.back_in else ''}".strip()
    return f"{value} came out."


REASONS = tuple(AnswerKey(str(number), why, why) for number, why in enumerate(WHY_OUT, start=1))


class FitDialog(ActDialog):
    """A part goes in and the old one comes out, or, with `take_out`, the old one comes out and the slot stays empty.

    Signals:
        done_with: what was fitted, or the name of what came out.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        tag: str,
        slots: Sequence[SlotLine],
        *,
        ticket_id: int | None = None,
        take_out: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        title = f"Take a part out of {tag}" if take_out else f"Fit a part to {tag}"
        super().__init__(theme, background, title, "Take it out" if take_out else "Fit it", parent)
        self._shop, self._tag, self._ticket_id, self._take_out = shop, tag, ticket_id, take_out
        self._slots = {line.slot.casefold(): line for line in slots}
        self._known: dict[str, int] = {}
        self._stock = Refresher(background, self)
        self._build(slots)
        self.setMinimumWidth(self.why.sizeHint().width() + 2 * BLOCK)
        self._stock.loaded.connect(self._on_stock)
        self._stock.refused.connect(self.banner.say_refused)
        self.part.returnPressed.connect(self._on_part)
        self.slot.activated.connect(self._on_slot_chosen)
        self.why.answered.connect(self._on_why)
        self._show_slot()
        (self._slot_edit if take_out else self.part).setFocus()

    def _build(self, slots: Sequence[SlotLine]) -> None:
        self.part = QLineEdit(self)
        self.part.setAccessibleName("part")
        self.part.setPlaceholderText("serial, scanned or typed")
        self.part.setMinimumWidth(80 * GRID)
        self.slot = typed_choice("slot", self)
        for line in slots:
            held = line.part if line.part is not None else "empty"
            self.slot.addItem(f"{'   ' * line.depth}{line.slot}   ({held})", line.slot)
        self.slot.setCurrentIndex(-1)
        edit = self.slot.lineEdit()
        assert edit is not None, "an editable box has one"
        self._slot_edit = edit
        # A name is never finished for the hand: a scan of one slot must not end as another that begins alike.
        self.slot.setCompleter(None)  # type: ignore[arg-type]
        self.slot.installEventFilter(self)
        self._holds = text_label("", "body", self)
        self._holds.setWordWrap(True)
        self.why = Question(self.theme, "Why does the old part come out?", REASONS, self)
        self.to_test = QCheckBox("Only to test it: a rejected or set-aside cell goes in to be calibrated", self)
        self.to_test.setVisible(False)
        if not self._take_out:
            self.body.addLayout(with_unit(self.part, "Part", "", self))
        else:
            self.part.hide()
        self.body.addWidget(text_label("Slot", "label", self))
        self.body.addWidget(self.slot)
        self.body.addWidget(self._holds)
        self.body.addWidget(self.why)
        self.body.addWidget(self.to_test)
        self.note.setText(
            "The slot stays empty, which stops a hire where the slot is critical."
            if self._take_out
            else "Only a part in stock that the slot takes goes in: in its life, neither rejected nor set aside, and "
            "under no hold or stopping notice."
        )

    @property
    def slot_line(self) -> SlotLine | None:
        """The slot that is chosen, or named in the field."""
        text = self._slot_edit.text().strip().casefold()
        index = self.slot.findText(self._slot_edit.text(), Qt.MatchFlag.MatchFixedString)
        name = str(self.slot.itemData(index)).casefold() if index >= 0 else text
        return self._slots.get(name)

    def choose_slot(self, name: str) -> None:
        """Choose the slot beforehand."""
        self.slot.setCurrentIndex(self.slot.findData(name))
        self._show_slot()

    def work(self) -> Callable[[], object]:
        """The fitting, or the removal; Refused names the field that is missing."""
        line = self.slot_line
        if line is None:
            raise Refused("slot: choose one of the unit's slots")
        serial, why = self.part.text().strip(), self.why.given
        shop, tag, ticket_id = self._shop, self._tag, self._ticket_id
        if self._take_out:
            if why is None:
                raise Refused("reason: say why it comes out")
            return lambda: remove_part(shop, tag, line.slot, why=why, ticket_id=ticket_id)
        if not serial:
            raise Refused("part: scan it, or type its serial")
        why_old = why if line.part is not None else None
        if line.part is not None and why_old is None:
            raise Refused("reason: say why the old part comes out")
        part: int | str = self._known.get(serial, serial)
        to_test = line.kind == "cell" and self.to_test.isChecked()
        return partial(fit_part, shop, part, tag, line.slot, why_old=why_old, ticket_id=ticket_id, to_test=to_test)

    def _show_slot(self) -> None:
        line = self.slot_line
        occupied = line is not None and line.part is not None
        self.why.setVisible(occupied)
        self.to_test.setVisible(line is not None and line.kind == "cell" and not self._take_out)
        if line is None:
            self._holds.setText("")
        elif line.part is None:
            self._holds.setText(f"The slot is empty; it takes a {line.kind}.")
        else:
            self._holds.setText(f"{line.part} comes out ({line.part_type}).")
        if line is not None and not self._take_out:
            shop, kind = self._shop, line.kind
            self._stock.ask(lambda: stock_of_kind(shop, kind))

    @Slot(object)
    def _on_stock(self, parts: Sequence[StockPart]) -> None:
        self._known = {each.part: each.part_id for each in parts}
        completer = QCompleter([each.part for each in parts], self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.part.setCompleter(completer)

    @Slot()
    def _on_part(self) -> None:
        if self.slot_line is None:
            self._slot_edit.setFocus()
            self._slot_edit.selectAll()
        else:
            self._on_slot()

    @Slot(int)
    def _on_slot_chosen(self, _index: int) -> None:
        self._on_slot()

    @Slot()
    def _on_slot(self) -> None:
        self._show_slot()
        line = self.slot_line
        if line is None:
            self.banner.say_refused("slot: this unit has none of that name; choose one from the list")
        elif not self._take_out and not self.part.text().strip():
            self.part.setFocus()
        elif line.part is not None:
            self.why.setFocus()
        elif not self._take_out:
            self.act()

    @Slot(str)
    def _on_why(self, _why: str) -> None:
        self.act()

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        # An editable box passes Enter on to its dialog, which would do the act while the reason is still to be said.
        if watched is self.slot and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in ENTER:
                self._on_slot()
                return True
            return False
        return super().eventFilter(watched, event)

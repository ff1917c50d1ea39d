"""Fitting a part: scan the part, then the slot; the old part asks only why it comes out."""

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QEvent, QObject, Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QCompleter, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, QuestionField, with_unit
from fleetbench.window.forms.form import ENTER, ActDialog
from fleetbench.window.look.buttons import put_hint, text_label, typed_choice
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import WHY_OUT, SlotLine, fit_part, remove_part, stock_of_kind

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
        workplace: Workplace,
        tag: str,
        slots: Sequence[SlotLine],
        *,
        ticket_id: int | None = None,
        take_out: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        title = say("Remove a part of {tag}", tag=tag) if take_out else say("Fit a part to {tag}", tag=tag)
        super().__init__(theme, background, title, say("Remove part") if take_out else say("Fit part"), parent)
        self._workplace, self._tag, self._ticket_id, self._take_out = workplace, tag, ticket_id, take_out
        self._slots = {line.slot.casefold(): line for line in slots}
        self._known: dict[str, int] = {}
        self._stock = Refresher(background, self)
        self._build(slots)
        self.setMinimumWidth(self.why.sizeHint().width() + 6 * BLOCK)  # and the bar that scrolls it
        self._stock.loaded.connect(self._on_stock)
        self._stock.refused.connect(self.banner.say_refused)
        self.part.returnPressed.connect(self._on_part)
        self.slot.activated.connect(self._on_slot_chosen)
        self.why.answered.connect(self._on_why)
        self._show_slot()
        (self._slot_edit if take_out else self.part).setFocus()

    def _build(self, slots: Sequence[SlotLine]) -> None:
        self.part = QLineEdit(self)
        self.part.setAccessibleName(worded("part"))
        put_hint(self.part, worded("serial, scanned or typed"))
        self.part.setMinimumWidth(80 * GRID)
        self.slot = typed_choice("slot", self)
        for line in slots:
            held = line.part if line.part is not None else "empty"
            self.slot.addItem(strung("", ("   " * line.depth, line.slot, "   (", held, ")")), line.slot)
        self.slot.setCurrentIndex(-1)
        edit = self.slot.lineEdit()
        assert edit is not None, "an editable box has one"
        self._slot_edit = edit
        # A name is never finished for the hand: a scan of one slot must not end as another that begins alike.
        self.slot.setCompleter(None)  # type: ignore[arg-type]
        self.slot.installEventFilter(self)
        self._holds = text_label("", "body", self)
        self._holds.setWordWrap(True)
        self.why = QuestionField(self.theme, "Why is the old part removed?", REASONS, self)
        self.to_test = QCheckBox(worded("Only to test it: a rejected or set-aside cell goes in to be calibrated"), self)
        self.to_test.setVisible(False)
        if not self._take_out:
            self.body.addLayout(with_unit(self.part, "Part", "", self))
        else:
            self.part.hide()
        self.body.addWidget(text_label(say("Slot"), "label", self))
        self.body.addWidget(self.slot)
        self.body.addWidget(self._holds)
        self.body.addWidget(self.why)
        self.body.addWidget(self.to_test)
        self.note.setText(
            worded("The slot stays empty, which stops a hire where the slot is critical.")
            if self._take_out
            else worded(
                "Only a part in stock that the slot takes goes in: in its life, neither rejected nor set "
                "aside, and under no hold or stopping notice."
            )
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

    def propose(self, serial: str) -> None:
        """Say which part to take; it is scanned all the same, since what is scanned is what is recorded."""
        self.note.setText(
            worded(say("Proposed: {serial}. Scan the part that you take; it need not be this one.", serial=serial))
        )

    def work(self) -> Callable[[], object]:
        """The fitting, or the removal; Refused names the field that is missing."""
        line = self.slot_line
        if line is None:
            raise Refused(say("slot: choose one of the unit's slots"))
        serial, why = self.part.text().strip(), self.why.given
        workplace, tag, ticket_id = self._workplace, self._tag, self._ticket_id
        if self._take_out:
            if why is None:
                raise Refused(say("reason: say why it is removed"))
            return lambda: remove_part(workplace, tag, line.slot, why=why, ticket_id=ticket_id)
        if not serial:
            raise Refused(say("part: scan it, or type its serial"))
        why_old = why if line.part is not None else None
        if line.part is not None and why_old is None:
            raise Refused(say("reason: say why the old part is removed"))
        part: int | str = self._known.get(serial, serial)
        to_test = line.kind == "cell" and self.to_test.isChecked()
        return partial(fit_part, workplace, part, tag, line.slot, why_old=why_old, ticket_id=ticket_id, to_test=to_test)

    def _show_slot(self) -> None:
        line = self.slot_line
        occupied = line is not None and line.part is not None
        self.why.setVisible(occupied)
        self.to_test.setVisible(line is not None and line.kind == "cell" and not self._take_out)
        if line is None:
            self._holds.setText("")
        elif line.part is None:
            self._holds.setText(worded(say("The slot is empty; it takes a {kind}.", kind=line.kind)))
        else:
            self._holds.setText(
                worded(say("{part} is removed ({part_type}).", part=line.part, part_type=line.part_type))
            )
        if line is not None and not self._take_out:
            workplace, kind = self._workplace, line.kind
            self._stock.ask(lambda: stock_of_kind(workplace, kind))

    @Slot(object)
    def _on_stock(self, parts: Sequence[tuple[str, int]]) -> None:
        self._known = dict(parts)
        completer = QCompleter([name for name, _key in parts], self)
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
            self.banner.say_refused(say("slot: this unit has none of that name; choose one from the list"))
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

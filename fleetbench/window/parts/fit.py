"""The acts on what sits in a unit: fit, remove, move to another unit, and undo a fitting; and what they ask."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtCore import QEvent, QObject, Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QCompleter, QDialog, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.fields import AnswerKey, QuestionField, with_unit
from fleetbench.window.forms.form import ENTER, ActDialog, Choices, Field, Form, Shown
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.buttons import put_hint, text_label, typed_choice
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import WHY_OUT, Fitted, SlotLine, fit_part, remove_part, slot_lines, stock_of_kind
from fleetbench.workshop.parts.refit import TakenBack, latest_change, move_fitted, service_tags, undo_fitting

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


FIT = "fit"
"""Where a proposed part is fitted: no page, but the form on the page of its unit."""


@dataclass(frozen=True, slots=True)
class UnitSlots:
    """The slots of a unit with what sits in each, the tags of all units in service, and the slot changed last."""

    tag: str
    slots: tuple[SlotLine, ...]
    tags: tuple[str, ...]
    latest: str = ""


def unit_slots(workplace: Workplace, tag: str) -> UnitSlots:
    """What the forms ask of a unit."""
    return UnitSlots(tag, slot_lines(workplace, tag), service_tags(workplace), latest_change(workplace, tag))


def slot_choices(slots: Sequence[SlotLine]) -> Choices:
    """Slots with what each holds."""
    empty = say("empty")
    return [(strung("", ("   " * line.depth, line.slot, "   (", line.part or empty, ")")), line.slot) for line in slots]


def move_form(workplace: Workplace, unit: UnitSlots, slot: str) -> Form:
    """A fitted part goes straight into a slot of another unit, or into another slot."""
    here = {line.slot: line for line in unit.slots if line.part is not None}

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        line = here[found["slot"]]
        offered = [
            each
            for each in slot_lines(workplace, found["to_tag"])
            if each.kind == line.kind and (found["to_tag"], each.slot) != (unit.tag, line.slot)
        ]
        offered.sort(key=lambda each: each.slot != line.slot)
        there = next((each for each in offered if each.slot == found["to_slot"]), next(iter(offered), None))
        return {"to_slot": slot_choices(offered), "why_old": there is not None and there.part is not None}

    def move(slot: str, to_tag: str, to_slot: str, why_old: str | None) -> Fitted:
        return move_fitted(workplace, unit.tag, slot, to_tag, to_slot, why_old=why_old)

    others = [tag for tag in unit.tags if tag != unit.tag]
    return Form(
        say("Move a part of {tag}", tag=unit.tag),
        act_words="Move part",
        note="It is removed here and fitted there in one act, with all that sits in it; both units must be tested "
        "again where that opens the loop.",
        fields=(
            Field("slot", "Out of", "choice", default=slot, choices=slot_choices(list(here.values())), spoken="slot"),
            Field("to_tag", "To unit", "choice", choices=[(tag, tag) for tag in (*others, unit.tag)]),
            Field("to_slot", "Into", "choice", spoken="slot", wants="choose where it goes",
                  nothing="unit: has no slot for a part of this kind; choose another"),
            Field("why_old", "Why is the part there removed?", "question", spoken="reason", hidden=True,
                  choices=[(each.word, each.value) for each in REASONS], wants="say why the part there is removed"),
        ),
        act=move,
        look=look,
        first="to_tag",
        wide=220,
    )  # fmt: skip


def undo_form(workplace: Workplace, unit: UnitSlots, slot: str) -> Form:
    """Undoes the last change of a slot."""
    return Form(
        say("Undo a fitting on {tag}", tag=unit.tag),
        act_words="Undo fitting",
        note="The part fitted last is removed as the wrong part, and what was fitted before is fitted again. Both acts "
        "stay on record. Not once the part was calibrated there, or used elsewhere.",
        fields=(
            Field("slot", "Slot", "choice", default=slot or unit.latest, choices=slot_choices(unit.slots),
                  wants="this unit has none"),
            Field("reason", "Reason", hint="for instance: wrong slot scanned, wrong unit"),
        ),
        act=partial(undo_fitting, workplace, unit.tag),
        first="reason",
    )  # fmt: skip


class AtSlot(NamedTuple):
    """The unit that the acts are for, empty for none, and the slot that is meant at first."""

    tag: str
    slot: str = ""


class FitDesk(ActBar):
    """Buttons for the acts on one unit's slots; where no unit is chosen they are for the one that its page shows."""

    def __init__(self, context: PageContext, *, title: str = "", parent: QWidget | None = None) -> None:
        self.asks_unit: Callable[[], str] = str
        super().__init__(context, ACTS, None, parent)
        if title:
            self.line.insert_widget(0, text_label(title, "label", self))

    def show_unit(self, tag: str, slot: str = "") -> None:
        """Say which unit the acts are for, and which slot is meant at first."""
        self.choose(AtSlot(tag, slot))

    def can(self, spec: ActSpec) -> bool:
        """Whether there is a unit to act on."""
        return self.row is None or bool(self.row.tag)

    def ask(self, make: Callable[["FitDesk", UnitSlots, str], Form | QDialog]) -> None:
        """Look at the unit's slots, then open the form of an act."""
        workplace, at = self.workplace, self.row or AtSlot(self.asks_unit())
        if at.tag:
            self.run(partial(unit_slots, workplace, at.tag), partial(self._open, make, at.slot))

    def begin(self, slot: str, proposed: str) -> None:
        """Ask for the part that goes into a slot; proposed: the serial of the one to take."""
        self.ask(partial(_fit_proposed, proposed=proposed, at=slot))

    def _open(self, make: Callable[["FitDesk", UnitSlots, str], Form | QDialog], slot: str, unit: UnitSlots) -> None:
        asked = make(self, unit, slot)
        if isinstance(asked, Form):
            asked = FormDialog(self.context.theme, self.context.background, asked, self.window())
        self.open(asked, done_words)


def _fit(bar: FitDesk, unit: UnitSlots, slot: str, *, take_out: bool = False) -> QDialog:
    common = (bar.context.theme, bar.context.background, bar.workplace)
    dialog = FitDialog(*common, unit.tag, unit.slots, take_out=take_out, parent=bar.window())
    if slot:
        dialog.choose_slot(slot)
    return dialog


def _fit_proposed(bar: FitDesk, unit: UnitSlots, _slot: str, *, proposed: str, at: str) -> QDialog:
    dialog = _fit(bar, unit, at)
    assert isinstance(dialog, FitDialog)
    dialog.propose(proposed)
    return dialog


def _spec(name: str, words: str, act: str, make: Callable[..., Form | QDialog], *, quiet: bool = False) -> ActSpec:
    return ActSpec(name, words, act=act, needs=at_any_time, form=lambda bar, _row: bar.ask(make), quiet=quiet)


ACTS = (
    _spec("fit", "Fit a part", "fit part", _fit),
    _spec("take_out", "Remove", "remove part", partial(_fit, take_out=True)),
    _spec(
        "move", "Move to another unit", "move fitted part", lambda bar, unit, slot: move_form(bar.workplace, unit, slot)
    ),
    _spec(
        "undo",
        "Undo a fitting",
        "undo fitting",
        lambda bar, unit, slot: undo_form(bar.workplace, unit, slot),
        quiet=True,
    ),
)


class FittingOnPage(QObject):
    """Joins the acts on slots to the page of one unit: they stand under its other acts, and are for what it shows."""

    def __init__(self, page: RecordPage, context: PageContext, at: int) -> None:
        super().__init__(page)
        self._page = page
        self.desk = FitDesk(context, title=say("Fitted parts"), parent=page)
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
        out = say(" {old_part} was removed.", old_part=value.old_part) if value.old_part else ""
        tests = say(" The release tests must follow.") if value.opening == OpeningKind.WORKSHOP else ""
        unknown = say(" Not known: {warnings}.", warnings=strung("; ", value.warnings)) if value.warnings else ""
        told = say(" Note: {told}.", told=strung("; ", value.told)) if value.told else ""
        test = say(" It is there to be tested only and stops the unit meanwhile.") if value.to_test else ""
        return say(
            "{part} sits in {slot}.{out}{tests}{test}{unknown}{told}",
            part=value.part,
            slot=value.slot,
            out=out,
            tests=tests,
            test=test,
            unknown=unknown,
            told=told,
        )
    if isinstance(value, TakenBack):
        parts = []
        if value.out and value.out_to:
            parts.append(say("{part} left the slot, back to {place}.", part=value.out, place=value.out_to))
        elif value.out:
            parts.append(say("{part} left the slot.", part=value.out))
        if value.back_in:
            parts.append(say("{part} sits there again.", part=value.back_in))
        return strung(" ", parts)
    return say("{value} was removed.", value=value)

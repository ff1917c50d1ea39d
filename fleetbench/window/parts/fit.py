"""The row of acts on what sits in a unit: fit, remove, move to another unit, and undo a fitting."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtCore import QObject, Slot
from PySide6.QtWidgets import QDialog, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import Choices, Field, Form, Shown
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.buttons import text_label
from fleetbench.window.parts.fit_dialog import REASONS, FitDialog
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import Fitted, SlotLine, slot_lines
from fleetbench.workshop.parts.refit import TakenBack, latest_change, move_fitted, service_tags, undo_fitting

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
        tests = say(" The release tests must follow.") if value.opening == "workshop" else ""
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

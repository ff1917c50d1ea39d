"""The page of one unit with what is done to it as a whole: hold, lift, near miss, incident, evidence.

Forms that hold, freeze and free a unit: a hold by hand, a near miss, an incident, and lifting; and the one that gathers
a unit's records over some days in a folder.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name
from fleetbench.window.bench.dialog import leak_form
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.detail.detail import Detail, Section
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import Choices, Field, Form
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.parts.fit import FIT, FitDesk
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.turn_rounds.acts import blank_dialog
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.units.holds import LIFTED_HERE, Frozen, freeze_unit, lift_hold, note_near_miss, place_hold
from fleetbench.workshop.units.list import unit_page

FREEZES = say(
    "People first: emergency services and the diving emergency line before this. The unit, "
    "all that sits in it, its fill and whatever was filled from the same batch are frozen: "
    "notes may be added and nothing else, until a manager lifts it."
)
SURE = say("Freeze it; what is on it must be kept as it is")
NEXT_STEPS = say("Next steps")
"""What is open on the unit, in bench order."""


@dataclass(frozen=True, slots=True)
class Incident:
    """What was frozen, and the sheet that was written, or why it was not."""

    frozen: Frozen
    sheet: str


def hold_form(workplace: Workplace, tag: str) -> Form:
    """Asks why a unit is held."""
    return Form(
        say("Hold {tag}", tag=tag),
        act_words="Hold unit",
        note="It may not go out until the hold is lifted.",
        fields=(Field("reason", "Why, in a sentence", "words"),),
        act=partial(place_hold, workplace, tag),
    )


def near_miss_form(workplace: Workplace, tag: str) -> Form:
    """Asks what nearly happened."""

    def note(words: str) -> str:
        number = number_of(workplace, note_near_miss(workplace, tag, words))
        return say("Ticket {number} holds the unit until what is learned is written under it.", number=number)

    return Form(
        say("Near miss with {tag}", tag=tag),
        act_words="Save near miss",
        note="A ticket is opened that holds the unit until what is learned is written down and two people have signed "
        "it. Nothing is frozen. A person is hurt, or unwell? Then it is an incident.",
        fields=(Field("words", "What happened, and what kept it from being worse", "words"),),
        act=note,
    )


def lift_form(workplace: Workplace, tag: str) -> Form:
    """Lifts one of the holds that are in force, with a reason."""

    def holds() -> Mapping[str, Choices]:
        return {
            "hold_id": [
                (strung(": ", filter(None, (say(hold.kind), part, hold.reason[:100]))), hold.hold_id)
                for hold, part in unit_page(workplace, tag).holds
                if hold.lifted_at is None and hold.kind in LIFTED_HERE
            ]
        }

    return Form(
        say("Lift a hold of {tag}", tag=tag),
        act_words="Lift hold",
        note="A hold after an incident is lifted by a manager only. The hold of a return is lifted by its turn-round, "
        "a notice's by its action.",
        fields=(
            Field("hold_id", "Hold", "choice", wants="none stands that a person lifts; do what it asks for"),
            Field("reason", "What was done, in a sentence", "words"),
        ),
        act=partial(lift_hold, workplace),
        load=holds,
        first="reason",
        wide=160,
    )


def incident_form(workplace: Workplace, tags: Sequence[str]) -> Form:
    """Freezes a unit after an incident and writes the sheet of what to preserve; tags: the units of which it is one."""

    def freeze(words: str, sure: bool, sheet: Path, tag: str = tags[0]) -> Incident:
        assert sure, "the form wants it ticked"
        frozen = freeze_unit(workplace, tag, words)
        # reportlab is slow to import; only the user who prints waits for it
        from fleetbench.paper.units.evidence import print_incident

        try:
            print_incident(workplace, frozen.unit, sheet)
        except (OSError, Refused) as fault:
            return Incident(
                frozen, say("The sheet was not written ({fault}); print it from the unit's page.", fault=fault)
            )
        return Incident(frozen, say("What to preserve is written to {sheet}.", sheet=sheet))

    one = len(tags) == 1
    return Form(
        say("Incident with {tags}", tags=tags[0]) if one else "Incident",
        act_words="Freeze unit",
        note=FREEZES,
        fields=(
            *(() if one else (Field("tag", "Unit", "choice", choices=[(tag, tag) for tag in tags]),)),
            Field("words", "What is known, without names", "words"),
            Field("sure", SURE, "tick", spoken="freeze", wants="tick that it is meant; only a manager can undo it"),
            Field("sheet", "Incident sheet: what to preserve", "file", spoken="incident sheet",
                  default=Path.home() / plain_name(f"incident-{tags[0]}" if one else "incident", ".pdf"),
                  wants="name the file"),
        ),
        act=freeze,
        first="words",
    )  # fmt: skip


USUAL_DAYS = 90


def evidence_form(workplace: Workplace, tag: str, today: date) -> Form:
    """Gathers a unit's records over some days in a folder."""

    def gather(first: date, last: date, folder: Path) -> str:
        # reportlab is slow to import; only the user who prints waits for it
        from fleetbench.paper.units.evidence import write_evidence

        try:
            files = write_evidence(workplace, tag, first, last, folder)
        except OSError as fault:
            raise Refused(
                say("folder: cannot be written ({strerror}); choose another place", strerror=fault.strerror)
            ) from fault
        return say("{count} files are in {folder}.", count=len(files), folder=folder)

    enter = say("is missing; enter 2028-01-31")
    return Form(
        say("Evidence of {tag}", tag=tag),
        act_words="Save evidence",
        note="A new folder with a page to read, every reading as CSV, photographs, a manifest of SHA-256, and the "
        "journal's head. It names people who worked on the unit; keep it where only those see it who may.",
        fields=(
            Field("first", "First day", "day", default=today - timedelta(days=USUAL_DAYS), wants=enter),
            Field("last", "Last day, inclusive", "day", default=today, spoken="last day", wants=enter, beside=True),
            Field("folder", "New folder", "folder", default=Path.home() / f"evidence-{tag}-{today}", spoken="folder",
                  wants="name it"),
        ),
        act=gather,
    )  # fmt: skip


def tag_label_pdf(workplace: Workplace, tag: str) -> bytes:
    """The label that a unit carries, as PDF."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.canisters.labels import TagLabelFacts, write_tag_labels

    centre, row, stream = read_centre(workplace), unit_page(workplace, tag).row, BytesIO()
    label = TagLabelFacts(
        centre=centre.name, telephone=centre.telephone, unit=row.tag, unit_type=row.unit_type, unit_serial=row.serial
    )
    write_tag_labels([label], stream)
    return stream.getvalue()


class ShownUnit(NamedTuple):
    """The unit on the page, and the kinds of holds that are in force on it."""

    tag: str
    holds: tuple[str, ...]


def _is_held(unit: ShownUnit | None) -> bool:
    return unit is not None and bool(unit.holds)


def _is_frozen(unit: ShownUnit | None) -> bool:
    return unit is not None and "incident" in unit.holds


def _told(_unit: object, value: object) -> str:
    return (
        say("{unit} is frozen. {sheet}", unit=value.frozen.unit, sheet=value.sheet)
        if isinstance(value, Incident)
        else str(value)
    )


def _save_sheet(bar: ActBar, unit: ShownUnit) -> None:
    path, _kind = QFileDialog.getSaveFileName(
        bar, worded("Incident sheet"), plain_name(f"incident-{unit.tag}", ".pdf"), "PDF (*.pdf)"
    )
    if path:
        write_sheet(bar, unit.tag, Path(path))


def write_sheet(bar: ActBar, tag: str, path: Path) -> None:
    """Write the incident sheet of a frozen unit."""

    def write() -> str:
        # reportlab is slow to import; only printing waits for it
        from fleetbench.paper.units.evidence import print_incident

        print_incident(bar.workplace, tag, path)
        return say("Written to {path}.", path=path)

    bar.run(write, bar.changed.emit)


def _label(bar: ActBar, unit: ShownUnit) -> QDialog:
    return LabelDialog(
        bar.context.theme, bar.context.background, bar.workplace, 0, None, bar.window(),
        make=partial(tag_label_pdf, bar.workplace, unit.tag), title=say("Label of {tag}", tag=unit.tag),
    )  # fmt: skip


def _evidence(bar: ActBar, unit: ShownUnit) -> Form:
    return evidence_form(bar.workplace, unit.tag, bar.workplace.clock().astimezone(bar.context.zone).date())


ACTS = (
    ActSpec("hold", "Hold…", act="place hold", form=lambda bar, unit: hold_form(bar.workplace, unit.tag),
            said="The unit is held.", quiet=True),
    ActSpec("lift", "Lift a hold…", act="lift hold", needs=_is_held, said="The hold is lifted.", quiet=True,
            form=lambda bar, unit: lift_form(bar.workplace, unit.tag)),
    ActSpec("leak", "Leak found…", act="note leak", said=_told, quiet=True,
            form=lambda bar, unit: leak_form(bar.workplace, unit.tag)),
    ActSpec("near_miss", "Near miss…", act="near miss", said=_told, quiet=True,
            form=lambda bar, unit: near_miss_form(bar.workplace, unit.tag)),
    ActSpec("incident", "Incident…", act="place hold", said=_told, quiet=True,
            form=lambda bar, unit: incident_form(bar.workplace, (unit.tag,))),
    ActSpec("sheet", "Incident sheet…", needs=_is_frozen, form=_save_sheet, quiet=True),
    ActSpec("evidence", "Evidence…", form=_evidence, said=_told, quiet=True),
    ActSpec("label", "Tag label…", form=_label, quiet=True),
    ActSpec("blank_log", "Blank daily log…", form=lambda bar, unit: blank_dialog(bar, "log", unit.tag), rare=True),
    ActSpec("blank_card", "Blank turn-round card…", form=lambda bar, unit: blank_dialog(bar, "card", unit.tag),
            rare=True),
    ActSpec("blank_service", "Blank service card…", form=lambda bar, unit: blank_dialog(bar, "service", unit.tag),
            rare=True),
)  # fmt: skip


class UnitRecordPage(RecordPage):
    """A unit's page with a row of acts under its states."""

    def __init__(self, context: PageContext, load: Callable[[str], Detail], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, load, parent)
        self.fitting: FitDesk | None = None
        self.bar = ActBar(context, ACTS, None, self, hides=True)
        self.buttons = self.bar.buttons
        self.content.insertWidget(3, self.bar)
        self.bar.changed.connect(self._on_changed)
        self.bar.refused.connect(self.banner.say_refused)

    def begin_at(self, place: PageKey) -> None:
        """Begin a step: the proposed part is fitted here, anything else is done at its own place."""
        if place.page == FIT and self.fitting is not None:
            self.fitting.begin(*json.loads(place.key or ""))
        else:
            super().begin_at(place)

    def focus_first(self) -> None:
        """Put the keyboard on the next step, so that Enter starts it; at the head of the page where none is open."""
        self.focus_first_table(NEXT_STEPS)

    def show_detail(self, detail: Detail) -> None:
        """Show this unit, and offer only what there is to lift or to print; the keyboard stays on what is next."""
        focus = self.window().focusWidget()
        held = focus is not None and self._scroll.isAncestorOf(focus)
        super().show_detail(detail)
        if held:
            self.focus_first()
        kinds = [
            fact.mark.word
            for part in detail.parts
            if isinstance(part, Section) and part.title == "Holds placed"
            for fact in part.facts
            if fact.mark is not None
        ]
        self.bar.choose(ShownUnit(detail.title, tuple(kinds)))

    def ask(self, word: str) -> Any:
        """Open the form of a button."""
        self.bar.start(word)
        return self.bar.dialog

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.refresh()
        self.banner.say_note(words)

"""The page of one unit with what is done to it as a whole: hold, lift, near miss, incident, evidence.

Dialogs that hold, freeze and free a unit: a hold by hand, a near miss, an incident, and lifting.

The dialog that gathers a unit's records over some days into a folder.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QDialog, QFileDialog, QLineEdit, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.detail.detail import Detail, Section
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.fields import labelled, with_unit
from fleetbench.window.forms.form import ActDialog, Choices, Field, Form, day_of, words_field
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.look.buttons import quiet_button
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Shop, read_centre
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.units.holds import LIFTED_HERE, Frozen, freeze_unit, lift_hold, note_near_miss, place_hold
from fleetbench.workshop.units.list import unit_page

FREEZES = (
    "People first: emergency services and the diving emergency line before this. "
    "The unit, all that sits in it, its fill and whatever was filled from the same batch are frozen: "
    "notes may be added and nothing else, until a manager lifts it."
)
SURE = "Freeze it; what is on it must be kept as it is"


@dataclass(frozen=True, slots=True)
class Incident:
    """What was frozen, and the sheet that was written, or why it was not."""

    frozen: Frozen
    sheet: str


def hold_form(shop: Shop, tag: str) -> Form:
    """Asks why a unit is held."""
    return Form(
        f"Hold {tag}",
        "Hold unit",
        "It may not go out until the hold is lifted.",
        (Field("reason", "Why, in a sentence", "words"),),
        partial(place_hold, shop, tag),
    )


def near_miss_form(shop: Shop, tag: str) -> Form:
    """Asks what nearly happened."""

    def note(words: str) -> str:
        number = number_of(shop, note_near_miss(shop, tag, words))
        return f"Ticket {number} holds the unit until what is learned is written under it."

    return Form(
        f"Near miss with {tag}",
        "Save near miss",
        "A ticket is opened that holds the unit until what is learned is written down and two people have signed it. "
        "Nothing is frozen. A person is hurt, or unwell? Then it is an incident.",
        (Field("words", "What happened, and what kept it from being worse", "words"),),
        note,
    )


def lift_form(shop: Shop, tag: str) -> Form:
    """Lifts one of the holds that are in force, with a reason."""

    def holds() -> Mapping[str, Choices]:
        return {
            "hold_id": [
                (f"{hold.kind}: {f'{hold.part}: ' if hold.part else ''}{hold.reason}"[:120], hold.hold_id)
                for hold in unit_page(shop, tag).holds
                if hold.lifted_at is None and hold.kind in LIFTED_HERE
            ]
        }

    return Form(
        f"Lift a hold of {tag}",
        "Lift hold",
        "A hold after an incident is lifted by a manager only. The hold of a return is lifted by its turn-round, a "
        "notice's by its action.",
        (
            Field("hold_id", "Hold", "choice", wants="none stands that a person lifts; do what it asks for"),
            Field("reason", "What was done, in a sentence", "words"),
        ),
        partial(lift_hold, shop),
        load=holds,
        first="reason",
        wide=160,
    )


class IncidentDialog(ActDialog):
    """Freezes a unit after an incident and writes the sheet of what to preserve.

    Signals:
        done_with: an Incident.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tags: Sequence[str], parent: QWidget | None
    ) -> None:
        """tags: the unit, or the units of a booking of which one is chosen."""
        title = f"Incident with {tags[0]}" if len(tags) == 1 else "Incident"
        super().__init__(theme, background, title, "Freeze unit", parent)
        self._shop = shop
        self.note.setText(FREEZES)
        self.words = words_field(self)
        self.words.setAccessibleName("what is known, without names")
        self.body.addLayout(labelled(self.words, "What is known, without names", self))
        self.unit = QComboBox(self)
        self.unit.setAccessibleName("unit")
        self.unit.addItems(list(tags))
        self.unit.setVisible(len(tags) > 1)
        self.body.insertWidget(0, self.unit)
        self.sure = QCheckBox(SURE, self)
        self.sheet = QLineEdit(str(Path.home() / f"incident-{tags[0] if len(tags) == 1 else 'unit'}.pdf"), self)
        self.sheet.setAccessibleName("file of the incident sheet")
        self.choose_button = quiet_button(theme, "Choose another file…", "", self)
        self.choose_button.clicked.connect(self._on_choose)
        self.body.addWidget(self.sure)
        self.body.addLayout(labelled(self.sheet, "Incident sheet: what to preserve", self))
        self.body.addWidget(self.choose_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.words.setFocus()

    def work(self) -> Callable[[], object]:
        """The freezing, then the sheet."""
        if not self.sure.isChecked():
            raise Refused("freeze: tick that it is meant; only a manager can undo it")
        return partial(self._freeze, self.unit.currentText(), self.words.toPlainText(), Path(self.sheet.text()))

    def _freeze(self, tag: str, words: str, path: Path) -> Incident:
        frozen = freeze_unit(self._shop, tag, words)
        # reportlab is slow to import; only whoever prints waits for it
        from fleetbench.paper.units.evidence import print_incident

        try:
            print_incident(self._shop, frozen.unit, path)
        except (OSError, Refused) as fault:
            return Incident(frozen, f"The sheet was not written ({fault}); print it from the unit's page.")
        return Incident(frozen, f"What to preserve is written to {path}.")

    @Slot()
    def _on_choose(self) -> None:
        path, _kind = QFileDialog.getSaveFileName(self, "Incident sheet", self.sheet.text(), "PDF (*.pdf)")
        if path:
            self.sheet.setText(path if path.lower().endswith(".pdf") else f"{path}.pdf")


USUAL_DAYS = 90


class EvidenceDialog(ActDialog):
    """Asks for the days and the folder.

    Signals:
        done_with: where the folder is and how many files are in it, in a sentence.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tag: str, today: date, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Evidence of {tag}", "Save evidence", parent)
        self._shop, self._tag = shop, tag
        self.note.setText(
            "A new folder with a page to read, every reading as CSV, photographs, a manifest of SHA-256, and the "
            "journal's head. It names people who worked on the unit; keep it where only those see it who may."
        )
        self.first = QLineEdit((today - timedelta(days=USUAL_DAYS)).isoformat(), self)
        self.last = QLineEdit(today.isoformat(), self)
        self.folder = QLineEdit(str(Path.home() / f"evidence-{tag}-{today.isoformat()}"), self)
        for field, name in ((self.first, "first day"), (self.last, "last day"), (self.folder, "folder")):
            field.setAccessibleName(name)
        self.choose_button = quiet_button(theme, "Choose where…", "", self)
        self.choose_button.clicked.connect(self._on_choose)
        self.body.addLayout(with_unit(self.first, "First day", "", self))
        self.body.addLayout(with_unit(self.last, "Last day", "inclusive", self))
        self.body.addLayout(labelled(self.folder, "New folder", self))
        self.body.addWidget(self.choose_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.first.returnPressed.connect(self.last.setFocus)
        self.last.returnPressed.connect(self.folder.setFocus)
        self.folder.returnPressed.connect(self.act)

    def work(self) -> Callable[[], object]:
        """The gathering."""
        first, last = day_of(self.first.text(), "first day"), day_of(self.last.text(), "last day")
        if first is None or last is None:
            raise Refused("first day, last day: enter both, as 2028-01-31")
        shop, tag, folder = self._shop, self._tag, Path(self.folder.text().strip())

        def gather() -> str:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.paper.units.evidence import write_evidence

            try:
                files = write_evidence(shop, tag, first, last, folder)
            except OSError as fault:
                raise Refused(f"folder: cannot be written ({fault.strerror}); choose another place") from fault
            return f"{len(files)} files are in {folder}."

        return gather

    @Slot()
    def _on_choose(self) -> None:
        parent = QFileDialog.getExistingDirectory(self, "Where the new folder goes", str(Path.home()))
        if parent:
            self.folder.setText(str(Path(parent) / Path(self.folder.text()).name))


def tag_label_pdf(shop: Shop, tag: str) -> bytes:
    """The label that a unit carries, as PDF."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.canisters.labels import TagLabelFacts, write_tag_labels

    centre, row, stream = read_centre(shop), unit_page(shop, tag).row, BytesIO()
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
    return f"{value.frozen.unit} is frozen. {value.sheet}" if isinstance(value, Incident) else str(value)


def _save_sheet(bar: ActBar, unit: ShownUnit) -> None:
    path, _kind = QFileDialog.getSaveFileName(bar, "Incident sheet", f"incident-{unit.tag}.pdf", "PDF (*.pdf)")
    if path:
        write_sheet(bar, unit.tag, Path(path))


def write_sheet(bar: ActBar, tag: str, path: Path) -> None:
    """Write the incident sheet of a frozen unit."""

    def write() -> str:
        # reportlab is slow to import; only whoever prints waits for it
        from fleetbench.paper.units.evidence import print_incident

        print_incident(bar.shop, tag, path)
        return f"Written to {path}."

    bar.run(write, bar.changed.emit)


def _label(bar: ActBar, unit: ShownUnit) -> QDialog:
    return LabelDialog(
        bar.context.theme, bar.context.background, bar.shop, 0, None, bar.window(),
        make=partial(tag_label_pdf, bar.shop, unit.tag), title=f"Label of {unit.tag}",
    )  # fmt: skip


def _evidence(bar: ActBar, unit: ShownUnit) -> QDialog:
    return bar.made(EvidenceDialog, unit.tag, bar.shop.clock().astimezone(bar.context.zone).date())


ACTS = (
    ActSpec("hold", "Hold…", act="place hold", form=lambda bar, unit: hold_form(bar.shop, unit.tag),
            said="The unit is held.", quiet=True),
    ActSpec("lift", "Lift a hold…", act="lift hold", needs=_is_held, said="The hold is lifted.", quiet=True,
            form=lambda bar, unit: lift_form(bar.shop, unit.tag)),
    ActSpec("near_miss", "Near miss…", act="near miss", said=_told, quiet=True,
            form=lambda bar, unit: near_miss_form(bar.shop, unit.tag)),
    ActSpec("incident", "Incident…", act="place hold", said=_told, quiet=True,
            form=lambda bar, unit: bar.made(IncidentDialog, (unit.tag,))),
    ActSpec("sheet", "Incident sheet…", needs=_is_frozen, form=_save_sheet, quiet=True),
    ActSpec("evidence", "Evidence…", form=_evidence, said=_told, quiet=True),
    ActSpec("label", "Tag label…", form=_label, quiet=True),
)  # fmt: skip


class UnitRecordPage(RecordPage):
    """A unit's page with a row of acts under its states."""

    def __init__(self, context: PageContext, load: Callable[[str], Detail], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, load, parent)
        self.bar = ActBar(context, ACTS, None, self, hides=True)
        self.buttons = self.bar.buttons
        self.content.insertWidget(3, self.bar)
        self.bar.changed.connect(self._on_changed)
        self.bar.refused.connect(self.banner.say_refused)

    def show_detail(self, detail: Detail) -> None:
        """Show this unit, and offer only what there is to lift or to print."""
        super().show_detail(detail)
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

"""Everything that is done to a canister, each on a button and a letter; both its list and its page offer it.

The label of a fill: its picture, and printing or saving it.
"""

from collections.abc import Callable, Mapping
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import QSize, QSizeF, Qt, Slot
from PySide6.QtGui import QPageSize, QPixmap
from PySide6.QtWidgets import QDialog, QFileDialog, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import GRAM, KILOGRAM
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name, save_pdf
from fleetbench.window.canisters.pack import PackDialog, hire_words
from fleetbench.window.canisters.runs import run_form
from fleetbench.window.forms.form import REFUSED, Choices, Field, Form
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.look.buttons import Banner, lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pictures import lacking_words, picture_of, print_pages
from fleetbench.workshop.canisters.history import fill_label
from fleetbench.workshop.canisters.packing import (
    WHY_DISCARDED,
    Packed,
    close_up,
    discard_fill,
    give_fill,
    mark_flooded,
    pack_choices,
)
from fleetbench.workshop.canisters.runs import RunChoices, run_choices
from fleetbench.workshop.core.workplace import Workplace, read_centre

_WIDE = 245


def discard_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Discards a fill with its reason on one key, or written out."""

    def discard(why: str | None, words: str) -> object:
        reason = words.strip() or why or ""
        if not reason:
            raise Refused(say("reason: is missing; press 1 to {count}, or write it", count=len(WHY_DISCARDED)))
        return discard_fill(workplace, part_id, reason)

    return Form(
        say("Discard the fill of {name}", name=name),
        act_words="Discard fill",
        note="Used absorbent is never poured back, packed again or passed on.",
        fields=(
            Field("why", "Why", "question", choices=[(why, why) for why in WHY_DISCARDED]),
            Field("words", "Other reason", hint="or in your own words", spoken="reason in your own words"),
        ),
        act=discard,
        wide=_WIDE,
    )


def give_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Says for which hire of its unit a fill is, the next one first."""

    def hires() -> Mapping[str, Choices | str]:
        found = pack_choices(workplace, part_id)
        where = say("unit {unit} has no hire to come", unit=found.unit) if found.unit else say("it sits in no unit")
        return {
            "line_id": [(hire_words(each), each.line_id) for each in found.hires],
            REFUSED: "" if found.hires else say("hire: {where}; the first run says whose the fill is", where=where),
        }

    return Form(
        say("For whom is {name}?", name=name),
        act_words="Save hire",
        note="A fill serves one diver and one hire. A used one stays with its diver.",
        fields=(
            Field("line_id", "Hire", "choice", spoken="hire", wants="is missing; the first run says whose the fill is"),
        ),
        act=partial(give_fill, workplace, part_id),
        load=hires,
    )


def flooded_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Asks before a fill is recorded as flooded, which spends it."""
    return Form(
        say("{name} was flooded", name=name),
        act_words="Record flood",
        note="Flooded, or wetted beyond breath: the fill is spent at once. Wet absorbent is caustic: gloves, glasses "
        "and the maker's data sheet.",
        fields=(Field("note", "Remark", hint="for instance how much water", spoken="remark"),),
        act=partial(mark_flooded, workplace, part_id),
    )


_SHOWN, _PAGE_SHOWN = QSize(496, 232), QSize(424, 560)
LABEL_MM = QSizeF(62, 29)


def label_pdf(workplace: Workplace, part_id: int, fill_id: int | None) -> bytes:
    """The label as PDF."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.canisters.labels import write_fill_labels

    stream = BytesIO()
    write_fill_labels([fill_label(workplace, part_id, fill_id)], stream, centre=read_centre(workplace).name)
    return stream.getvalue()


class LabelDialog(QDialog):
    """Shows a label or page to print or save: of a fill, the newest where none is named, or what is made instead."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        part_id: int,
        fill_id: int | None = None,
        parent: QWidget | None = None,
        *,
        make: Callable[[], bytes] | None = None,
        title: str = say("Label of the fill"),
        is_label: bool = True,
    ) -> None:
        """make: what gives another label's PDF, called off the GUI thread; is_label: else it is a whole page."""
        super().__init__(parent)
        self._is_label, self._title = is_label, title
        self.setWindowTitle(shown(title))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.pdf = b""
        self.banner = Banner(theme, self)
        self.picture = QLabel(self)
        self.picture.setFixedSize(_SHOWN if is_label else _PAGE_SHOWN)
        self.picture.setAccessibleName(worded("the page as it prints"))
        self.print_button = lead_button(theme, "Print", "print", self)
        self.save_button = plain_button(theme, "Save as PDF…", "", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        for button in (self.print_button, self.save_button, self.leave_button):
            feet.addWidget(button)
        feet.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(say("{title}, 62 × 29 mm", title=title) if is_label else title, "heading", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.picture)
        layout.addLayout(feet)
        for button in (self.print_button, self.save_button):
            button.setEnabled(False)
        self.print_button.clicked.connect(self.print_label)
        self.save_button.clicked.connect(self._on_save)
        self.leave_button.clicked.connect(self.reject)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_pdf)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(make or (lambda: label_pdf(workplace, part_id, fill_id)))

    @Slot(object)
    def show_pdf(self, pdf: bytes) -> None:
        """Show this label and let it be printed."""
        self.pdf = pdf
        self.picture.setPixmap(QPixmap.fromImage(picture_of(pdf, self.picture.size())))
        for button in (self.print_button, self.save_button):
            button.setEnabled(True)
        if lacking := lacking_words(pdf):
            self.banner.say_refused(lacking)
        self.print_button.setFocus()

    @Slot()
    def print_label(self) -> None:
        """Print on a printer that is chosen."""
        label = QPageSize(LABEL_MM, QPageSize.Unit.Millimeter, "label") if self._is_label else None
        if print_pages([self.pdf], self, label):
            self.accept()

    def save_to(self, path: str) -> None:
        """Write the label to a file; says so where it cannot be written."""
        try:
            save_pdf(self.pdf, Path(path))
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.say_note(say("Saved as {path}.", path=path))

    @Slot()
    def _on_save(self) -> None:
        name = plain_name(self._title.lower(), ".pdf")
        path, _ = QFileDialog.getSaveFileName(self, worded("Save as PDF"), name, "PDF (*.pdf)")
        if path:
            self.save_to(path)


class ChosenCanister(NamedTuple):
    """The canister that is acted on, and whether a fill is in it."""

    part_id: int
    name: str
    has_fill: bool


def _filled(row: ChosenCanister | None) -> bool:
    return row is not None and row.has_fill


def _said(words: str, row: ChosenCanister, _value: object) -> str:
    return say(str(words), canister=row.name)


def _run(bar: ActBar, row: ChosenCanister, *, correcting: bool) -> None:
    words = say("The last run of {canister} was corrected.") if correcting else say("A run of {canister} was logged.")

    def opened(choices: RunChoices) -> None:
        form = run_form(bar.workplace, bar.context.zone, choices, correcting=correcting)
        dialog = FormDialog(bar.context.theme, bar.context.background, form, bar.window())
        bar.open(dialog, partial(_said, words, row))

    bar.run(partial(run_choices, bar.workplace, row.part_id), opened)


def _pack(bar: ActBar, row: ChosenCanister) -> QDialog:
    dialog = PackDialog(bar.context.theme, bar.context.background, bar.workplace, row.part_id, bar.window())
    dialog.done_with.connect(partial(_show_its_label, bar, row))
    return dialog


def _show_its_label(bar: ActBar, row: ChosenCanister, packed: Packed) -> None:
    bar.open(bar.made(LabelDialog, row.part_id, packed.fill_id), str)


def packed_words(_row: object, packed: Packed) -> str:
    """What was packed, and what is left in the container."""
    mass = GRAM.words(packed.mass_g) if packed.mass_g is not None else say("not weighed")
    left = KILOGRAM.words(packed.left_kg, 2)
    words = say(
        "{canister} packed: {mass} of lot {lot}, {left} left in the container.",
        canister=packed.canister,
        mass=mass,
        lot=packed.lot,
        left=left,
    )
    return strung(" ", (words, *packed.warnings))


def _close_up(bar: ActBar, row: ChosenCanister) -> None:
    bar.run(
        partial(close_up, bar.workplace, row.part_id),
        partial(bar.say, partial(_said, say("{canister} was closed up."), row)),
    )


ACTS = (
    ActSpec("pack", "Pack", "P", act="pack canister", form=_pack, said=packed_words),
    ActSpec("log_run", "Log a run", "J", act="log run", needs=_filled, form=partial(_run, correcting=False)),
    ActSpec("correct", "Correct", "F4", act="correct run", needs=_filled, form=partial(_run, correcting=True)),
    ActSpec("give", "For whom", "W", act="give fill", needs=_filled,
            form=lambda bar, row: give_form(bar.workplace, row.part_id, row.name),
            said=partial(_said, say("Whose fill {canister} holds was recorded."))),
    ActSpec("close_up", "Close up", "K", act="close up canister", needs=_filled, form=_close_up),
    ActSpec("flooded", "Flooded", "Z", "record as spoiled", "canister flooded", _filled,
            lambda bar, row: flooded_form(bar.workplace, row.part_id, row.name),
            partial(_said, say("{canister} was flooded: its fill is spent."))),
    ActSpec("discard", "Discard", "X", "end for good", "discard fill", _filled,
            lambda bar, row: discard_form(bar.workplace, row.part_id, row.name),
            partial(_said, say("The fill of {canister} was discarded.")), destroys=True),
    ActSpec("label", "Label", "L", needs=_filled, form=lambda bar, row: bar.made(LabelDialog, row.part_id, None)),
)  # fmt: skip

"""Packing a canister at the bench: mass, one tap for seal, seat, spacer and spring, and Enter.

Eight keys: P on the list, four digits, Enter, 1, Enter. Everything else stands ready and can be changed.
"""

from collections.abc import Callable

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QStandardItem, QStandardItemModel
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QWidget

from fleetbench.calc.canisters.packing import LEAST_ODD_SHARE, shown_to_hold
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import GRAM, KILOGRAM
from fleetbench.calc.core.plausible import EMPTY_MASS, FILLED_MASS, Quantity
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import ChoiceBox, text_label
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import BLOCK, Theme
from fleetbench.window.look.words import day
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.canisters.packing import (
    ContainerChoice,
    HireChoice,
    PackChoices,
    ScaleChoice,
    pack_canister,
    pack_choices,
)
from fleetbench.workshop.core.workplace import Workplace

LOOKED_AT = (AnswerKey("1", "looked at, all four", "yes"), AnswerKey("2", "not looked at", "no"))
HINT = say("Key / in the mass: not weighed. A scale set to zero with the empty canister on it: empty 0.")


class PackDialog(ActDialog):
    """Packs one canister.

    Signals:
        done_with: a Packed.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, part_id: int, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("Pack a canister"), "Pack", parent)
        self._workplace, self._part_id = workplace, part_id
        self.choices: PackChoices | None = None
        self._mark: MarkLabel | None = None
        self._build()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self.filled.returnPressed.connect(self._on_filled)
        self.tare.returnPressed.connect(self.looked_at.setFocus)
        self.filled.textChanged.connect(self._weigh)
        self.tare.textChanged.connect(self._weigh)
        self.scale.currentIndexChanged.connect(self._weigh)
        self._loader.ask(lambda: pack_choices(workplace, part_id))
        self.filled.setFocus()

    def _build(self) -> None:
        self.filled = _bench_field(say("filled mass"), self, FILLED_MASS)
        self.tare = _bench_field(say("empty mass"), self, EMPTY_MASS)
        masses = QHBoxLayout()
        masses.setSpacing(BLOCK)
        masses.addLayout(with_unit(self.filled, "Filled canister", GRAM, self))
        masses.addLayout(with_unit(self.tare, "Empty canister", GRAM, self))
        masses.addStretch(1)
        self._net = QHBoxLayout()  # a line of its own: what it says is longer than a figure
        self._net.setSpacing(BLOCK)
        self._net.addWidget(text_label(say("Absorbent"), "label", self))
        self.looked_at = QuestionField(self.theme, "Seal, seat, spacer and spring", LOOKED_AT, self)
        self.container = _chooser(say("from the container"), self)
        self.hire = _chooser(say("for the hire"), self)
        self.scale = _chooser(say("weighed on the scale"), self)
        for field in (self.filled, self.tare):
            field.meter.chosen_in(self.scale)
        self.body.addLayout(masses)
        self.body.addLayout(self._net)
        hint = text_label(HINT, "small", self)
        hint.setWordWrap(True)
        self.body.addWidget(hint)
        self.body.addWidget(self.looked_at)
        for words, box in ((say("From"), self.container), (say("For"), self.hire), (say("Scale"), self.scale)):
            line = QHBoxLayout()
            line.addWidget(_fixed(text_label(worded(words), "label", self)))
            line.addWidget(box, 1)
            self.body.addLayout(line)
        self._weigh()

    @Slot(object)
    def show_choices(self, choices: PackChoices) -> None:
        """Show what stands ready; what was typed meanwhile stays."""
        self.choices = choices
        self.heading.setText(worded(say("Pack {canister}", canister=choices.canister)))
        where = say("in {unit}", unit=choices.unit) if choices.unit else say("in no unit")
        least = (
            say("least {min_mass_g}", min_mass_g=GRAM.words(choices.min_mass_g))
            if choices.min_mass_g is not None
            else say("no least mass recorded")
        )
        full = (
            say("full {full_mass_g}", full_mass_g=GRAM.words(choices.full_mass_g))
            if choices.full_mass_g is not None
            else ""
        )
        masses = strung(", ", filter(None, (least, full)))
        self.note.setText(shown(strung("; ", (strung(", ", (choices.part_type, where)), masses))))
        if not self.tare.is_said:
            self.tare.show_value(choices.tare_g, 0)
        self.tare.expect(last=choices.tare_g)
        self.filled.expect(last=choices.filled_g)
        self._fill_containers(choices)
        self.scale.clear()
        self.scale.addItem(worded("not named"), None)
        for scale in choices.scales:
            self.scale.addItem(shown(scale_words(scale)), scale.equipment_id)
        self.scale.setCurrentIndex(max(0, self.scale.findData(choices.scale_id)))
        self.hire.clear()
        self.hire.addItem(worded("nobody yet"), None)
        for hire in choices.hires:
            self.hire.addItem(worded(hire_words(hire)), hire.line_id)
        self.hire.setCurrentIndex(max(0, self.hire.findData(choices.line_id)) if choices.line_id is not None else 0)
        if choices.holds is not None:
            self.banner.say_refused(
                say(
                    "{canister} still holds {holds}: discard that first, key X.",
                    canister=choices.canister,
                    holds=choices.holds,
                )
            )
        elif choices.container_id is None:
            self.banner.say_refused(say("No container may be packed from: receive one, or look at why below."))
        self._weigh()

    def work(self) -> Callable[[], object]:
        """Packing with what stands in the fields."""
        if self.choices is None:
            raise Refused(say("canister: is still being looked up; a moment"))
        filled, tare = self.filled.value(), self.tare.value()
        if not self.filled.is_said:
            self.filled.setFocus()
            raise Refused(say("filled mass: is missing; weigh it, or press / for not weighed"))
        if filled is not None and tare is None:
            self.tare.setFocus()
            raise Refused(say("empty mass: is missing; weigh it, or enter 0 where the scale was set to zero with it"))
        container = self.container.currentData()
        if container is None:
            raise Refused(say("container: is missing; receive one, or look at why none may be used"))
        looked_at = {"yes": True, "no": False, None: None}[self.looked_at.given]
        workplace, part_id, line = self._workplace, self._part_id, self.hire.currentData()
        scale = self.scale.currentData() if filled is not None else None
        return lambda: pack_canister(
            workplace,
            part_id,
            int(container),
            tare_g=tare if filled is not None else None,
            filled_g=filled,
            looked_at=looked_at,
            line_id=line,
            scale_id=scale,
        )

    def net_mark(self) -> Mark:
        """The absorbent's mass with its state against the type's least and full mass."""
        try:
            filled, tare = self.filled.value(), self.tare.value()
        except Refused:
            return UNKNOWN.worded("not a figure")
        if filled is None and self.filled.is_said:
            return UNKNOWN.worded("not weighed")
        if filled is None or tare is None:
            return UNKNOWN.worded("to weigh")
        return self._against(filled - tare)

    def _against(self, mass: float) -> Mark:
        least, full = (self.choices.min_mass_g, self.choices.full_mass_g) if self.choices is not None else (None, None)
        if least is not None and mass < least:
            return STOP.worded(say("{mass}, under the least", mass=GRAM.words(mass)))
        if not shown_to_hold(mass, self._net_u_g(), least):
            return STOP.worded(say("{mass}, too near the least", mass=GRAM.within(mass, self._net_u_g() or 0.0)))
        if full is not None and mass > LEAST_ODD_SHARE * full:
            return STOP.worded(say("{mass}: with the canister?", mass=GRAM.words(mass)))
        return OK.worded(GRAM.words(mass))

    def _net_u_g(self) -> float | None:
        scales = self.choices.scales if self.choices is not None else ()
        return next((each.net_u_g for each in scales if each.equipment_id == self.scale.currentData()), None)

    @Slot()
    def _weigh(self) -> None:
        mark = self.net_mark()
        if self._mark is not None and self._mark.mark == mark:
            return
        if self._mark is not None:
            self._net.removeWidget(self._mark)
            self._mark.hide()
            self._mark.deleteLater()
        self._mark = MarkLabel(self.theme, mark, "reading", self)
        self._net.addWidget(self._mark, 1)

    @Slot()
    def _on_filled(self) -> None:
        if self.tare.is_said or self.filled.value() is None:
            self.looked_at.setFocus()
        else:
            self.tare.setFocus()

    def _fill_containers(self, choices: PackChoices) -> None:
        self.container.clear()
        model = self.container.model()
        assert isinstance(model, QStandardItemModel)
        for each in choices.containers:
            item = QStandardItem(container_words(each))
            item.setData(each.container.container_id, Qt.ItemDataRole.UserRole)
            item.setEnabled(not each.why_not)
            model.appendRow(item)
        self.container.setCurrentIndex(self.container.findData(choices.container_id))


def container_words(each: ContainerChoice) -> str:
    """A container in one line: lot, what is left, until when; and why it may not be packed from."""
    found = each.container
    opened = say("opened") if found.opened_at is not None else say("sealed")
    words = say(
        "lot {lot}, {left_kg}, {opened}, last valid day {last_good_day}",
        lot=found.lot,
        left_kg=KILOGRAM.words(found.left_kg, 2),
        opened=opened,
        last_good_day=day(found.last_good_day),
    )
    return strung(": ", (words, each.why_not)) if each.why_not else words


def hire_words(each: HireChoice) -> str:
    """For whom a fill may be: the diver, the booking and its days."""
    return say(
        "{diver}, {booking}, {starts_on} to {ends_on}",
        diver=each.diver, booking=each.booking, starts_on=day(each.starts_on), ends_on=day(each.ends_on),
    )  # fmt: skip


def scale_words(each: ScaleChoice) -> str:
    """A scale in one line, with what weakens a mass weighed on it."""
    u = (
        say("± {net_u_g} {gram} a canister", net_u_g=GRAM.spread(each.net_u_g), gram=GRAM)
        if each.net_u_g is not None
        else say("uncertainty not recorded")
    )
    lacks = {False: say("out of date"), None: say("not known to be in date")}.get(each.in_date, "")
    return strung(", ", filter(None, (each.name, u, lacks)))


def _bench_field(name: str, parent: QWidget, quantity: Quantity) -> DecimalField:
    field = DecimalField(name, parent, quantity=quantity)
    field.setProperty("bench", True)
    return field


def _chooser(name: str, parent: QWidget) -> QComboBox:
    box = ChoiceBox(parent)
    box.setAccessibleName(worded(name))
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setMinimumContentsLength(40)
    return box


def _fixed(label: QLabel) -> QLabel:
    label.setFixedWidth(44)
    return label

"""A cylinder taken in with its stamps, and the rule by which cylinders of a part type are tested.

A supplier's certificate of a batch of gas, typed line by line beside what the specification asks.
"""

from collections.abc import Callable, Sequence
from datetime import date
from itertools import pairwise

from PySide6.QtCore import QTimer, Slot
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLayout, QWidget

from fleetbench.calc.gas.cylinders import PurityLimit, Specification
from fleetbench.calc.parts.intervals import CylinderRule
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, labelled, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, CLOSE, GRID, Theme
from fleetbench.window.parts.part_dialogs import MARK_HINT, line_field, marked_of
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.entry import (
    ROLES,
    VISUAL_MONTHS,
    CylinderChoices,
    NewCylinder,
    cylinder_choices,
    receive_cylinder,
    role_of,
    set_own_rule,
    set_test_rule,
    specification_of,
)
from fleetbench.workshop.gas.fills import enter_certificate

OWN_RULE = "a rule that is not listed"


class EnterDialog(ActDialog):
    """A cylinder as stamped: type, serial, role, size, working pressure, marking, owner, place, and its last tests.

    Signals:
        done_with: the key of the part.
    """

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, "New cylinder", "Take it in", parent)
        self._shop = shop
        self._kinds: dict[str, str] = {}
        self.setMinimumWidth(190 * GRID)
        self.note.setText(
            "As stamped on it. A test whose date is not known stays empty, and nothing is filled until it is known. "
            "Oxygen-clean is not taken over from a seller's word: record its cleaning."
        )
        self._build()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: cylinder_choices(shop))
        self.kind.currentIndexChanged.connect(self._on_kind)
        self.serial.setFocus()

    def _build(self) -> None:
        self.kind, self.role, self.owner, self.place = (
            _box(name, self) for name in ("part type", "role", "owner", "place")
        )
        for role in ROLES:
            self.role.addItem(role, role)
        self.serial, self.material, self.marking = (
            line_field(name, self, hint)
            for name, hint in (("serial", "scan or type"), ("material", "steel ..."), ("marking", "as stamped"))
        )
        self.water_size, self.working = DecimalField("size", self), DecimalField("working pressure", self)
        self.made, self.hydrostatic, self.visual = (
            line_field(name, self, MARK_HINT) for name in ("made", "hydrostatic", "visual")
        )
        _lay(self, (labelled(self.kind, "Part type", self), labelled(self.serial, "Serial", self),
                    labelled(self.role, "Role", self)))  # fmt: skip
        _lay(self, (with_unit(self.water_size, "Size", "L of water", self),
                    with_unit(self.working, "Working pressure", "bar at 15 °C", self),
                    labelled(self.material, "Material", self), labelled(self.marking, "Marking", self)))  # fmt: skip
        _lay(self, (labelled(self.made, "Made", self), labelled(self.hydrostatic, "Hydrostatic test", self),
                    labelled(self.visual, "Internal visual", self)))  # fmt: skip
        _lay(self, (labelled(self.owner, "Owner", self), labelled(self.place, "Place", self)))
        fields = (self.serial, self.water_size, self.working, self.material, self.marking, self.made, self.hydrostatic,
                  self.visual)  # fmt: skip
        for before, after in pairwise(fields):
            before.returnPressed.connect(after.setFocus)
        self.visual.returnPressed.connect(self.act_button.setFocus)

    @Slot(object)
    def show_choices(self, choices: CylinderChoices) -> None:
        """Offer part types, owners and places."""
        self._kinds = {each.code: each.kind for each in choices.types}
        for each in choices.types:
            self.kind.addItem(each.name, each.code)
        for key, name in choices.owners:
            self.owner.addItem(name, key)
        self.place.addItem("not said", None)
        for place in choices.places:
            self.place.addItem(place.name, place.place_id)
        if not choices.types:
            self.banner.say_refused("No part type of a cylinder is recorded; bring in the centre's sheets first.")

    @Slot()
    def _on_kind(self) -> None:
        self.role.setCurrentText(role_of(self._kinds.get(self.kind.currentData() or "", "")))

    def work(self) -> Callable[[], object]:
        """Taking it in as it stands in the fields."""
        size, working = self.water_size.value(), self.working.value()
        if self.kind.currentData() is None:
            raise Refused("part type: choose what kind of cylinder it is")
        if size is None or working is None:
            raise Refused("size: and working pressure are needed; enter them as stamped")
        entry = NewCylinder(
            code=self.kind.currentData(), serial=self.serial.text(), role=self.role.currentData(), size_l=size,
            working_bar=working, material=self.material.text(), marking=self.marking.text(),
            made=marked_of(self.made), hydrostatic=marked_of(self.hydrostatic), visual=marked_of(self.visual),
            place_id=self.place.currentData(), owner_id=self.owner.currentData(),
        )  # fmt: skip
        shop = self._shop
        return lambda: receive_cylinder(shop, entry)


class RuleDialog(ActDialog):
    """The rule by which cylinders of a part type are tested, with its date; every last good day follows it.

    Signals:
        done_with: nothing.
    """

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, "Rule of periodic tests", "Set the rule", parent)
        self._shop = shop
        self._choices: CylinderChoices | None = None
        self.setMinimumWidth(190 * GRID)
        self.note.setText(
            "Local law stands above every rule listed here. A longer period is for a centre that meets the rule's "
            "conditions; visuals further apart than a year need the local rule or the risk assessment in words."
        )
        self.kind, self.rule, self.years = (_box(name, self) for name in ("part type", "rule", "years"))
        self.named, self.dated = line_field("rule's name", self), line_field("date of the rule", self, "edition or day")
        self.months, self.visual = DecimalField("hydrostatic months", self), DecimalField("visual months", self)
        self.visual.setText(str(VISUAL_MONTHS))
        self.local = line_field("local rule", self, "where visuals are further apart")
        self._own = [self.named, self.dated, self.months]
        _lay(self, (labelled(self.kind, "Part type", self), labelled(self.rule, "Rule and specification", self)))
        self.stands = text_label("", "small", self)
        self.stands.setWordWrap(True)
        self.body.addWidget(self.stands)
        _lay(self, (labelled(self.years, "Hydrostatic test every, years", self),
                    with_unit(self.visual, "Internal visual every", "months", self),
                    labelled(self.local, "By which local rule or assessment", self)))  # fmt: skip
        self.own_row = QWidget(self)
        row = QHBoxLayout(self.own_row)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(BLOCK)
        row.addLayout(labelled(self.named, "Name of the rule", self.own_row), 2)
        row.addLayout(labelled(self.dated, "Its date or edition", self.own_row), 1)
        row.addLayout(with_unit(self.months, "Hydrostatic test every", "months", self.own_row))
        self.body.addWidget(self.own_row)
        self.kind.currentIndexChanged.connect(self._show_standing)
        self.rule.currentIndexChanged.connect(self._on_rule)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: cylinder_choices(shop))
        self.kind.setFocus()

    @Slot(object)
    def show_choices(self, choices: CylinderChoices) -> None:
        """Offer part types and rules."""
        self._choices = choices
        for rule in choices.rules:
            self.rule.addItem(f"{rule.rule}, {rule.specification}", rule)
        self.rule.addItem(OWN_RULE, None)
        for each in choices.types:
            self.kind.addItem(f"{each.name}, {each.code}", each.code)

    @Slot()
    def _show_standing(self) -> None:
        code = self.kind.currentData()
        found = next((each for each in self._choices.types if each.code == code), None) if self._choices else None
        if found is None or self._choices is None:
            return
        told = [
            f"{test} every {months:g} months ({source})"
            for (key, test), (months, source) in self._choices.intervals.items()
            if key == found.part_type_id and test in ("hydrostatic", "visual")
        ]
        self.stands.setText(f"Now: {'; '.join(told) or 'no interval is set'}.")

    @Slot()
    def _on_rule(self) -> None:
        rule = self.rule.currentData()
        own = not isinstance(rule, CylinderRule)
        self.own_row.setVisible(own)
        self.years.setEnabled(not own)
        self.local.setEnabled(not own)
        self.years.clear()
        for years in () if own else rule.years:
            self.years.addItem(f"{years}", years)
        self.adjustSize()

    def work(self) -> Callable[[], object]:
        """Setting the rule as it stands in the fields."""
        shop, code, rule = self._shop, self.kind.currentData(), self.rule.currentData()
        visual = _whole("visual months", self.visual)
        if code is None:
            raise Refused("part type: choose the cylinders that the rule is for")
        if isinstance(rule, CylinderRule):
            years, local = self.years.currentData(), self.local.text()
            return lambda: set_test_rule(
                shop, code, rule=rule.rule, specification=rule.specification, years=years, visual_months=visual,
                local_rule=local,
            )  # fmt: skip
        named, dated, months = self.named.text(), self.dated.text(), _whole("hydrostatic months", self.months)
        return lambda: set_own_rule(
            shop, code, rule=named, edition=dated, hydrostatic_months=months, visual_months=visual
        )


def _lay(dialog: ActDialog, columns: Sequence[QLayout]) -> None:
    row = QHBoxLayout()
    row.setSpacing(BLOCK)
    for column in columns:
        row.addLayout(column, 1)
    dialog.body.addLayout(row)


def _whole(name: str, field: DecimalField) -> int:
    value = field.value()
    if value is None or value != int(value):
        raise Refused(f"{name}: enter a whole number of months")
    return int(value)


def _box(name: str, parent: QWidget) -> QComboBox:
    box = QComboBox(parent)
    box.setAccessibleName(name)
    box.setMinimumWidth(40 * GRID)
    return box


GASES = ("oxygen", "air")


class CertificateDialog(ActDialog):
    """What a certificate states; what it does not state stays empty and is told as not stated.

    Signals:
        done_with: the findings, one a line of the specification.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, batches: Sequence[str], parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, "Gas certificate", "Keep the certificate", parent)
        self._shop = shop
        self.setMinimumWidth(190 * GRID)
        self.note.setText(
            "A figure outside its limit stops every cylinder filled from the batch. What is not stated stays empty. "
            f"{OXYGEN_CAUTION}"
        )
        self.gas = QComboBox(self)
        self.gas.setAccessibleName("gas")
        self.gas.addItems(GASES)
        self.batch = line_field("batch", self, "as on the bank or cylinder")
        self.batch.setText(next(iter(batches), ""))
        self.supplier, self.issued = line_field("supplier", self), line_field("issued on", self, "2026-05-04")
        head = QHBoxLayout()
        head.setSpacing(BLOCK)
        for words, field in (("Gas", self.gas), ("Batch", self.batch), ("Supplier or laboratory", self.supplier),
                             ("Issued on", self.issued)):  # fmt: skip
            head.addLayout(labelled(field, words, self), 1)
        self.body.addLayout(head)
        self.held = text_label("", "small", self)
        self.held.setWordWrap(True)
        self.body.addWidget(self.held)
        self.fields: dict[str, DecimalField] = {}
        self._lines = QWidget(self)
        self.body.addWidget(self._lines)
        for before, after in pairwise((self.batch, self.supplier, self.issued)):
            before.returnPressed.connect(after.setFocus)
        self.issued.returnPressed.connect(self._on_head_done)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_specification)
        self._loader.refused.connect(self.banner.say_refused)
        self.gas.currentTextChanged.connect(self._on_gas)
        self._on_gas(self.gas.currentText())
        (self.supplier if self.batch.text() else self.batch).setFocus()

    @Slot(str)
    def _on_gas(self, gas: str) -> None:
        shop = self._shop
        self._loader.ask(lambda: specification_of(shop, gas))

    @Slot(object)
    def show_specification(self, specification: Specification) -> None:
        """Ask for each line of this specification."""
        self.held.setText(f"Held against {specification.name}: {specification.source}.")
        lines = QWidget(self)
        grid = QGridLayout(lines)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(CLOSE)
        grid.setVerticalSpacing(CLOSE)
        self.fields = {}
        rows = -(-len(specification.lines) // 2)
        for number, line in enumerate(specification.lines):
            field = DecimalField(line.what, lines)
            self.fields[line.what] = field
            row, left = number % rows, 5 * (number // rows)
            grid.addWidget(text_label(line.what.capitalize(), "label", lines), row, left)
            grid.addWidget(field, row, left + 1)
            grid.addWidget(text_label(line.unit, "small", lines), row, left + 2)
            grid.addWidget(text_label(asked_words(line), "small", lines), row, left + 3)
            grid.setColumnMinimumWidth(left + 4, BLOCK)
        grid.setColumnStretch(9, 1)
        for before, after in pairwise(self.fields.values()):
            before.returnPressed.connect(after.setFocus)
        list(self.fields.values())[-1].returnPressed.connect(self.act_button.setFocus)
        for field in self.fields.values():
            field.installEventFilter(self)
        self.body.replaceWidget(self._lines, lines)
        self._lines.hide()
        self._lines.deleteLater()
        self._lines = lines
        # The new fields know their height only once the style has dressed them.
        QTimer.singleShot(0, self, self.adjustSize)

    @Slot()
    def _on_head_done(self) -> None:
        next(iter(self.fields.values()), self.act_button).setFocus()

    def work(self) -> Callable[[], object]:
        """Keeping what was typed."""
        values = {what: value for what, field in self.fields.items() if (value := field.value()) is not None}
        text = self.issued.text().strip()
        try:
            issued = date.fromisoformat(text)
        except ValueError:
            raise Refused(f"issued on: {text!r} is no date; enter it as 2026-05-04") from None
        shop, gas, batch, supplier = self._shop, self.gas.currentText(), self.batch.text(), self.supplier.text()
        return lambda: enter_certificate(shop, batch=batch, gas=gas, issued_on=issued, values=values, supplier=supplier)


def asked_words(line: PurityLimit) -> str:
    """'at least 99.5' or '20 to 22' or 'at most 10'."""
    if line.least is not None and line.most is not None:
        return f"{line.least:g} to {line.most:g}"
    return f"at least {line.least:g}" if line.least is not None else f"at most {line.most:g}"
